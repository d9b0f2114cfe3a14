//! From accesses to paths: every chain of names, members and constant subscripts that the outside knows becomes one
//! name, spelt like the path, and an input.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Literal, Name, Names, Sources, Span,
    tree::{Argument, ArgumentKind, Call, Expression, ExpressionKind, TypePrefix, UnaryOperator},
};

use super::{Outside, Probe, ProbeKind, Wanted, calls};

/// Longest path that is asked for, in bytes.
const PATH_BYTES: usize = 1024;

/// Something outside that is read.
pub(super) struct Input {
    pub(super) path: String,
    /// The same, as the name of a variable.
    pub(super) name: Name,
    pub(super) kind: ProbeKind,
}

/// An enumeration of the outside.
pub(super) struct KnownEnumeration {
    pub(super) name: Name,
    pub(super) kind: ProbeKind,
}

/// An expression in which paths are names.
pub(super) struct Rewritten {
    pub(super) expression: Expression,
    /// Numbers of the inputs with the places where they are named, in textual order.
    pub(super) uses: Vec<(usize, Span)>,
    /// Nothing was reported about it.
    pub(super) sound: bool,
}

/// All expressions and what they need.
#[derive(Default)]
pub(super) struct Collected {
    pub(super) probes: Vec<Rewritten>,
    pub(super) inputs: Vec<Input>,
    pub(super) by_name: BTreeMap<Name, usize>,
    pub(super) enumerations: Vec<KnownEnumeration>,
    /// What to say of accesses that the outside does not know, unless they turn out to be values of an enumeration.
    pub(super) unknown: BTreeMap<Span, Unknown>,
    pub(super) diagnostics: Vec<Diagnostic>,
}

/// An access that the outside does not know.
pub(super) enum Unknown {
    /// Nothing has this name.
    Nothing { path: String },
    /// Something has it, but cannot be read: why.
    Refused { path: String, why: String },
    /// An element of an array, by a subscript that is not constant.
    Subscript { array: Span, subscript: Span },
}

/// Goes through all expressions.
pub(super) fn collect(
    probes: &[Probe<'_>],
    outside: &dyn Outside,
    sources: &Sources,
    names: &mut Names,
) -> Collected {
    let mut collector =
        Collector { outside, sources, names, collected: Collected::default(), uses: Vec::new() };
    for probe in probes {
        let before = collector.collected.diagnostics.len();
        let expression = collector.expression(probe.expression);
        if let Wanted::Value { kind, .. } = &probe.wanted {
            collector.enumeration(kind);
        }
        let mut uses = std::mem::take(&mut collector.uses);
        uses.sort_by_key(|(_, span)| *span);
        let sound = collector.collected.diagnostics.len() == before;
        collector.collected.probes.push(Rewritten { expression, uses, sound });
    }
    collector.collected
}

struct Collector<'a> {
    outside: &'a dyn Outside,
    sources: &'a Sources,
    names: &'a mut Names,
    collected: Collected,
    uses: Vec<(usize, Span)>,
}

impl Collector<'_> {
    /// The parser limits how deep expressions nest, so this recursion does too.
    fn expression(&mut self, written: &Expression) -> Expression {
        let span = written.span;
        let kind = match &written.kind {
            ExpressionKind::Name(_)
            | ExpressionKind::Direct(_)
            | ExpressionKind::Member { .. }
            | ExpressionKind::Index { .. }
            | ExpressionKind::Dereference(_)
            | ExpressionKind::Partial { .. }
            | ExpressionKind::This
            | ExpressionKind::Super => return self.access(written),
            ExpressionKind::Unary { operator, operator_span, operand } => ExpressionKind::Unary {
                operator: *operator,
                operator_span: *operator_span,
                operand: Box::new(self.expression(operand)),
            },
            ExpressionKind::Binary { operator, operator_span, left, right } => ExpressionKind::Binary {
                operator: *operator,
                operator_span: *operator_span,
                left: Box::new(self.expression(left)),
                right: Box::new(self.expression(right)),
            },
            ExpressionKind::Parenthesized(inner) => {
                ExpressionKind::Parenthesized(Box::new(self.expression(inner)))
            }
            ExpressionKind::Call(call) => ExpressionKind::Call(Box::new(self.call(call))),
            ExpressionKind::QualifiedValue { .. }
            | ExpressionKind::Literal(_)
            | ExpressionKind::TypedLiteral { .. }
            | ExpressionKind::Null => written.kind.clone(),
        };
        Expression { kind, span }
    }

    fn call(&mut self, call: &Call) -> Call {
        let instance = !matches!(&call.callee.kind, ExpressionKind::Name(_));
        let known = |path: &str| !matches!(self.outside.kind(path), Ok(None));
        if let Some(problem) = calls::problem(call, instance, &known, self.sources) {
            self.collected.diagnostics.push(problem);
            return call.clone();
        }
        let arguments = call.arguments.iter().map(|argument| {
            let kind = match &argument.kind {
                ArgumentKind::Positional(value) => ArgumentKind::Positional(self.expression(value)),
                ArgumentKind::Input { name, value } => {
                    ArgumentKind::Input { name: *name, value: self.expression(value) }
                }
                other => other.clone(),
            };
            Argument { kind, span: argument.span }
        });
        let arguments = arguments.collect();
        Call { callee: call.callee.clone(), arguments, span: call.span }
    }

    /// An access: the longest beginning of it that the outside knows is an input, what follows is done with its value.
    fn access(&mut self, written: &Expression) -> Expression {
        let mut way = Vec::new();
        let mut root = written;
        while let ExpressionKind::Member { base, .. }
        | ExpressionKind::Index { base, .. }
        | ExpressionKind::Dereference(base)
        | ExpressionKind::Partial { base, .. } = &root.kind
        {
            way.push(root);
            root = base;
        }
        way.reverse();
        let path = match &root.kind {
            ExpressionKind::Name(_) => self.sources.text(root.span).to_owned(),
            ExpressionKind::Direct(_) => self.sources.text(root.span).to_ascii_uppercase(),
            ExpressionKind::This | ExpressionKind::Super => {
                let text = self.sources.text(root.span).to_owned();
                let why = "stands in methods and bodies of function blocks only".to_owned();
                self.unknown(written.span, Unknown::Refused { path: text, why });
                return written.clone();
            }
            // The value of a call or of an expression in parentheses.
            _ => {
                let start = self.expression(root);
                return self.steps(start, &way);
            }
        };
        let mut paths = vec![path];
        let mut subscript = None;
        for part in &way {
            let Some(last) = paths.last() else { break };
            let next = match &part.kind {
                ExpressionKind::Member { member, .. } => {
                    format!("{last}.{}", self.sources.text(member.span))
                }
                ExpressionKind::Index { subscripts, .. } => match constants(subscripts) {
                    Ok(numbers) => format!("{last}[{numbers}]"),
                    Err(place) => {
                        subscript = Some(place);
                        break;
                    }
                },
                _ => break,
            };
            if next.len() > PATH_BYTES {
                break;
            }
            paths.push(next);
        }
        let mut refused = None;
        for (length, path) in paths.iter().enumerate().rev() {
            match self.kind(path) {
                Ok(Some(kind)) => {
                    let last = length.checked_sub(1).and_then(|last| way.get(last));
                    let start = self.input(path, kind, last.map_or(root.span, |part| part.span));
                    return self.steps(start, way.get(length..).unwrap_or_default());
                }
                Ok(None) => {}
                Err(why) => refused = refused.or(Some((length, path.clone(), why))),
            }
        }
        let whole = paths.len() - 1;
        let problem = match (refused, subscript) {
            // An array, and the subscript behind its name is the problem.
            (Some((length, ..)), Some(subscript)) if length == whole => {
                let array = way.get(..length).and_then(<[_]>::last).map_or(root.span, |part| part.span);
                Unknown::Subscript { array, subscript }
            }
            (Some((length, path, why)), _) if length == whole => Unknown::Refused { path, why },
            _ => Unknown::Nothing { path: paths.pop().unwrap_or_default() },
        };
        self.unknown(written.span, problem);
        written.clone()
    }

    /// The type of what a path names, asked once of what there is.
    fn kind(&self, path: &str) -> Result<Option<ProbeKind>, String> {
        let known = self.names.find(path).and_then(|name| self.collected.by_name.get(&name));
        match known.and_then(|number| self.collected.inputs.get(*number)) {
            Some(input) => Ok(Some(input.kind.clone())),
            None => self.outside.kind(path),
        }
    }

    fn unknown(&mut self, span: Span, problem: Unknown) {
        self.collected.unknown.insert(span, problem);
    }

    /// What is done with a value: parts of bit strings, characters of strings.
    fn steps(&mut self, start: Expression, way: &[&Expression]) -> Expression {
        let mut value = start;
        for part in way {
            let base = Box::new(value);
            let kind = match &part.kind {
                ExpressionKind::Member { member, .. } => ExpressionKind::Member { base, member: *member },
                ExpressionKind::Index { subscripts, .. } => {
                    let subscripts = subscripts.iter().map(|subscript| self.expression(subscript)).collect();
                    ExpressionKind::Index { base, subscripts }
                }
                ExpressionKind::Partial { size, index, access, .. } => {
                    ExpressionKind::Partial { base, size: *size, index: *index, access: *access }
                }
                _ => ExpressionKind::Dereference(base),
            };
            value = Expression { kind, span: part.span };
        }
        value
    }

    fn input(&mut self, path: &str, kind: ProbeKind, span: Span) -> Expression {
        self.enumeration(&kind);
        let name = self.names.intern(path);
        let inputs = &mut self.collected.inputs;
        let number = *self.collected.by_name.entry(name).or_insert_with(|| {
            inputs.push(Input { path: path.to_owned(), name, kind });
            inputs.len() - 1
        });
        self.uses.push((number, span));
        Expression { kind: ExpressionKind::Name(name), span }
    }

    /// Notes an enumeration, each once.
    fn enumeration(&mut self, kind: &ProbeKind) {
        let ProbeKind::Enumeration { name, values } = kind else { return };
        let name = self.names.intern(&enumeration_name(name, values));
        if self.collected.enumerations.iter().all(|known| known.name != name) {
            self.collected.enumerations.push(KnownEnumeration { name, kind: kind.clone() });
        }
    }
}

/// The name of an enumeration; one without is called by its values, as in the messages about programs.
pub(super) fn enumeration_name(name: &str, values: &[(String, i32)]) -> String {
    if !name.is_empty() {
        return name.to_owned();
    }
    let all: Vec<&str> = values.iter().map(|(name, _)| name.as_str()).collect();
    format!("({})", all.join(", "))
}

/// The subscripts in one pair of brackets as numbers, or the place of the first that is no constant.
fn constants(subscripts: &[Expression]) -> Result<String, Span> {
    let numbers = subscripts
        .iter()
        .map(|subscript| constant(subscript).map(|number| number.to_string()).ok_or(subscript.span));
    let numbers: Result<Vec<String>, Span> = numbers.collect();
    Ok(numbers?.join(","))
}

/// The value of an integer literal with its sign.
fn constant(written: &Expression) -> Option<i128> {
    match &written.kind {
        ExpressionKind::Literal(Literal::Integer(value)) => Some(i128::from(*value)),
        ExpressionKind::TypedLiteral {
            prefix: TypePrefix::Elementary(_),
            negative,
            literal: Literal::Integer(value),
        } => Some(if *negative { -i128::from(*value) } else { i128::from(*value) }),
        ExpressionKind::Unary { operator: UnaryOperator::Negate, operand, .. } => {
            constant(operand).map(|value| -value)
        }
        ExpressionKind::Unary { operator: UnaryOperator::Plus, operand, .. }
        | ExpressionKind::Parenthesized(operand) => constant(operand),
        _ => None,
    }
}

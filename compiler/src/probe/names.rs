//! What the outside does not know: values of enumerations, or mistakes.
//!
//! Which enumerations there are is known when all paths have been asked for.

use latchwork_grammar::{
    Diagnostic, Name, Names, Sources, Span,
    tree::{Argument, ArgumentKind, Expression, ExpressionKind, Ident, QualifiedName},
};

use super::{
    Outside, ProbeKind,
    paths::{Collected, Unknown},
};
use crate::nearest::nearest;

/// Resolves or reports every access that is no input. The expressions that get a report are no longer sound.
pub(super) fn settle(
    collected: &mut Collected,
    outside: &dyn Outside,
    sources: &Sources,
    names: &mut Names,
) -> Vec<Diagnostic> {
    let mut diagnostics = std::mem::take(&mut collected.diagnostics);
    let mut probes = std::mem::take(&mut collected.probes);
    for probe in probes.iter_mut().filter(|probe| probe.sound) {
        let before = diagnostics.len();
        let mut settler = Settler { collected, outside, sources, names, diagnostics: &mut diagnostics };
        settler.expression(&mut probe.expression);
        probe.sound = diagnostics.len() == before;
    }
    collected.probes = probes;
    diagnostics
}

struct Settler<'a> {
    collected: &'a Collected,
    outside: &'a dyn Outside,
    sources: &'a Sources,
    names: &'a mut Names,
    diagnostics: &'a mut Vec<Diagnostic>,
}

impl Settler<'_> {
    fn expression(&mut self, expression: &mut Expression) {
        let span = expression.span;
        match &mut expression.kind {
            ExpressionKind::Name(name) if self.collected.by_name.contains_key(name) => {}
            ExpressionKind::Name(name) => {
                let refused = matches!(self.collected.unknown.get(&span), Some(Unknown::Refused { .. }));
                if refused || !self.is_value(*name) {
                    self.report(span);
                }
            }
            ExpressionKind::Direct(_) | ExpressionKind::This | ExpressionKind::Super => self.report(span),
            ExpressionKind::Member { base, .. }
            | ExpressionKind::Dereference(base)
            | ExpressionKind::Partial { base, .. } => {
                if self.is_unknown(span, base) {
                    self.report(span);
                } else if !self.is_type(base) {
                    self.expression(base);
                }
            }
            ExpressionKind::Index { base, subscripts } => {
                if self.is_unknown(span, base) {
                    self.report(span);
                } else {
                    self.expression(base);
                    subscripts.iter_mut().for_each(|subscript| self.expression(subscript));
                }
            }
            ExpressionKind::Unary { operand, .. } => self.expression(operand),
            ExpressionKind::Binary { left, right, .. } => {
                self.expression(left);
                self.expression(right);
            }
            ExpressionKind::Parenthesized(inner) => self.expression(inner),
            ExpressionKind::Call(call) => {
                for Argument { kind, .. } in &mut call.arguments {
                    if let ArgumentKind::Positional(value) | ArgumentKind::Input { value, .. } = kind {
                        self.expression(value);
                    }
                }
            }
            ExpressionKind::QualifiedValue { type_name, .. } => self.qualified(type_name),
            ExpressionKind::Literal(_) | ExpressionKind::TypedLiteral { .. } | ExpressionKind::Null => {}
        }
    }

    /// Whether an access was not known as a whole. That of `Colour.Red` is left to the checker, which knows `#`.
    fn is_unknown(&self, span: Span, base: &Expression) -> bool {
        self.collected.unknown.contains_key(&span) && !self.is_type(base)
    }

    fn is_type(&self, base: &Expression) -> bool {
        matches!(&base.kind, ExpressionKind::Name(name)
            if self.collected.enumerations.iter().any(|known| known.name == *name))
    }

    fn values(&self) -> impl Iterator<Item = &str> {
        self.collected
            .enumerations
            .iter()
            .flat_map(|known| match &known.kind {
                ProbeKind::Enumeration { values, .. } => values.as_slice(),
                _ => &[],
            })
            .map(|(name, _)| name.as_str())
    }

    fn is_value(&self, name: Name) -> bool {
        let spelling = self.names.spelling(name);
        self.values().any(|value| value.eq_ignore_ascii_case(spelling))
    }

    /// `Plant.Colour#Red`, `Colour#Red`: the type by its full name, or by its last one where no other has it.
    fn qualified(&mut self, type_name: &mut QualifiedName) {
        let path = type_name.path.iter().chain([&type_name.name]);
        let written: Vec<&str> = path.map(|ident| self.sources.text(ident.span)).collect();
        let written = written.join(".");
        let spelling = |name: Name| self.names.spelling(name).to_owned();
        let known: Vec<(Name, String)> =
            self.collected.enumerations.iter().map(|known| (known.name, spelling(known.name))).collect();
        let exact = known.iter().find(|(_, name)| name.eq_ignore_ascii_case(&written));
        let ends = |name: &str| {
            let last = name.len().checked_sub(written.len()).and_then(|start| name.get(start..));
            let point =
                name.len().checked_sub(written.len() + 1).and_then(|start| name.as_bytes().get(start));
            last.is_some_and(|last| last.eq_ignore_ascii_case(&written)) && point == Some(&b'.')
        };
        let mut ending = known.iter().filter(|(_, name)| ends(name));
        let found = exact.or_else(|| ending.next().filter(|_| ending.next().is_none()));
        match found {
            Some((name, _)) => {
                *type_name = QualifiedName {
                    span: type_name.span,
                    ..QualifiedName::plain(Ident { name: *name, span: type_name.span })
                };
            }
            None => {
                let near = nearest(&written, known.iter().map(|(_, name)| name.as_str()));
                let error = Diagnostic::error(
                    "condition-name",
                    type_name.span,
                    format!(
                        "there is no enumeration `{written}` among the types of what the conditions read"
                    ),
                );
                self.diagnostics.push(match near {
                    Some(near) => error
                        .label("unknown name")
                        .note(format!("the nearest known name is `{near}`"))
                        .fix(format!("write `{near}`"), type_name.span, near),
                    None => error.label("unknown name").note(
                        "a condition compares a value of an enumeration with a variable of that enumeration",
                    ),
                });
            }
        }
    }

    fn report(&mut self, span: Span) {
        let diagnostic = match self.collected.unknown.get(&span) {
            Some(Unknown::Refused { path, why }) => {
                Diagnostic::error("condition-name", span, format!("`{path}` cannot be read here"))
                    .label(why.clone())
            }
            Some(Unknown::Subscript { array, subscript }) => {
                let array = self.sources.text(*array);
                Diagnostic::error(
                    "condition-subscript",
                    *subscript,
                    format!("a subscript of `{array}` must be a constant here"),
                )
                .label("known only while the program runs")
                .note("write the number of the element, or let the program copy the element to a variable")
            }
            Some(Unknown::Nothing { path }) => self.nothing(path, span),
            None => self.nothing(self.sources.text(span), span),
        };
        self.diagnostics.push(diagnostic);
    }

    fn nothing(&self, path: &str, span: Span) -> Diagnostic {
        if path.starts_with('%') {
            let message = format!("the program does not use `{path}`");
            let error = Diagnostic::error("condition-name", span, message).label("unknown address");
            return error.note(
                "an address has a value where a variable is declared there, or where it is read or written",
            );
        }
        let error = Diagnostic::error("condition-name", span, format!("nothing here is called `{path}`"));
        let mut near = self.outside.nearest(path);
        if near.is_empty() {
            near.extend(nearest(path, self.values()).map(str::to_owned));
        }
        match near.as_slice() {
            [] => error.label("unknown name").note(
                "a condition names devices, loads, addresses, variables of the program, and values of its enumerations",
            ),
            [only] => error
                .label("unknown name")
                .note(format!("the nearest known name is `{only}`"))
                .fix(format!("write `{only}`"), span, only.clone()),
            several => {
                let all: Vec<String> = several.iter().map(|name| format!("`{name}`")).collect();
                error.label("unknown name").note(format!("near names are {}", all.join(", ")))
            }
        }
    }
}

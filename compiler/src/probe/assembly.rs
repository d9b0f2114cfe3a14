//! The program of the probes in the typed tree, and its places once it is an image.
//!
//! Inputs, results and parts are global variables, so that the programs, two a probe, have none of their own and share
//! what they read.

use latchwork_grammar::{
    Name, Names, Sources, Span,
    tree::{SectionKind, UnitKind},
};
use latchwork_vm::{Image, Resolved, ResolvedKind, Section, TypeDescription};

use super::{
    ProbeInput, ProbePart, ProbePlan,
    parts::{Part, Parts, parts, whole_variable},
    paths::Collected,
};
use crate::{
    typed::{
        Expression, ExpressionKind, GlobalId, ObjectPart, Root, Statement, StatementKind, Step, TypedProgram,
        TypedUnit, Variable,
    },
    types::TypeId,
};

/// Everything but the places.
pub(super) struct Assembled {
    pub(super) program: TypedProgram,
    probes: Vec<Outline>,
}

/// The variables of one probe.
struct Outline {
    result: GlobalId,
    parts: Vec<Part>,
}

/// Makes two programs of each value of the only unit of a checked program.
pub(super) fn assemble(
    checked: TypedProgram,
    values: Vec<Option<Expression>>,
    sources: &Sources,
    names: &mut Names,
) -> Assembled {
    let TypedProgram { types, units, .. } = checked;
    let (title, variables) = match units.into_iter().next() {
        Some(unit) => (unit.name, unit.variables),
        None => (names.intern("a condition"), Vec::new()),
    };
    let mut globals: Vec<Variable> =
        variables.into_iter().map(|variable| Variable { section: SectionKind::Global, ..variable }).collect();
    let mut units = Vec::with_capacity(2 * values.len());
    let mut probes = Vec::with_capacity(values.len());
    // Every value is there where nothing was reported.
    for mut value in values.into_iter().flatten() {
        globalise(&mut value);
        let mut make = |ty: TypeId, span: Span| {
            let global = GlobalId(globals.len() as u32);
            let name = names.intern(&format!("value {}", global.0));
            globals.push(Variable::plain(Some(name), ty, SectionKind::Global, span));
            global
        };
        let result = make(value.ty, value.span);
        let Parts { parts, mut statements, whole } = parts(&value, sources, &mut make);
        let store = |value: Expression| Statement {
            span: value.span,
            kind: StatementKind::Assign { target: whole_variable(result, value.ty, value.span), value },
        };
        statements.push(store(whole));
        let span = value.span;
        units.push(unit(title, vec![store(value)], span));
        units.push(unit(title, statements, span));
        probes.push(Outline { result, parts });
    }
    let program =
        TypedProgram { types, units, globals, configuration: None, dispatch: Vec::new(), fits: Vec::new() };
    Assembled { program, probes }
}

fn unit(name: Name, body: Vec<Statement>, span: Span) -> TypedUnit {
    TypedUnit {
        name,
        kind: UnitKind::Program,
        object: ObjectPart::default(),
        variables: Vec::new(),
        result: None,
        body,
        labels: 0,
        may_use_addresses: true,
        span,
    }
}

/// Makes the variables of the unit in an expression globals, which have the same numbers. The checker limits how deep
/// expressions nest, so this recursion does too.
fn globalise(value: &mut Expression) {
    match &mut value.kind {
        ExpressionKind::Convert(inner) | ExpressionKind::CheckRange(inner) => globalise(inner),
        ExpressionKind::Standard { arguments, .. } => arguments.iter_mut().for_each(globalise),
        ExpressionKind::Access(access) => {
            if let Root::Variable(id) = access.root {
                access.root = Root::Global(GlobalId(id.0));
            }
            for step in &mut access.steps {
                match step {
                    Step::Index(subscripts) => subscripts.iter_mut().for_each(globalise),
                    Step::Character(subscript) => globalise(subscript),
                    _ => {}
                }
            }
        }
        // Nothing else is left in a condition.
        _ => {}
    }
}

impl Assembled {
    /// The plans for the image made of this program.
    pub(super) fn plans(&self, collected: &Collected, image: &Image) -> Vec<ProbePlan> {
        // Programs run in the order of their units.
        let numbers = (0..).step_by(2);
        self.probes
            .iter()
            .zip(&collected.probes)
            .zip(numbers)
            .filter_map(|((outline, rewritten), call)| {
                let mut inputs: Vec<(usize, ProbeInput)> = Vec::new();
                for (number, span) in &rewritten.uses {
                    if let Some((_, known)) = inputs.iter_mut().find(|(known, _)| known == number) {
                        known.spans.push(*span);
                        continue;
                    }
                    let input = collected.inputs.get(*number)?;
                    let place = resolved(image, GlobalId(*number as u32), &input.path)?;
                    let (path, kind) = (input.path.clone(), input.kind.clone());
                    inputs.push((*number, ProbeInput { path, kind, spans: vec![*span], place }));
                }
                let parts = outline.parts.iter().map(|part| {
                    Some(ProbePart {
                        span: part.span,
                        text: part.text.clone(),
                        place: resolved(image, part.global, &part.text)?,
                        depth: part.depth,
                        is_input: part.is_input,
                    })
                });
                Some(ProbePlan {
                    call,
                    explain: call + 1,
                    inputs: inputs.into_iter().map(|(_, input)| input).collect(),
                    result: resolved(image, outline.result, "result")?,
                    parts: parts.collect::<Option<_>>()?,
                })
            })
            .collect()
    }
}

/// The place of a global variable. All of them have names, so the debug tables begin with them, in their order.
fn resolved(image: &Image, global: GlobalId, name: &str) -> Option<Resolved> {
    let root = image.debug.roots.get(global.0 as usize)?;
    let kind = match image.debug.kind(root.kind)? {
        TypeDescription::Elementary(kind) => ResolvedKind::Elementary(*kind),
        TypeDescription::String { wide, capacity } => {
            ResolvedKind::String { wide: *wide, capacity: *capacity }
        }
        TypeDescription::Enumeration { .. } => ResolvedKind::Enumeration(root.kind),
        _ => return None,
    };
    Some(Resolved {
        address: root.address,
        kind,
        name: name.to_owned(),
        section: Section::Global,
        location: None,
        constant: false,
        mirror: None,
    })
}

//! The tree of a program in which the expressions stand: the enumerations, one variable an input, and the expressions
//! as its body.
//!
//! Nothing of it but the expressions has a place in the sources; a label that would point there is left out.

use latchwork_grammar::{
    Diagnostic, FileId, Literal, Names, Span,
    tree::{
        Body, Declaration, EnumerationValue, Expression, ExpressionKind, Ident, ProgramUnit, QualifiedName,
        SectionKind, Statement, StatementKind, SyntaxTree, TypeDeclaration, TypeSection, TypeSpecification,
        TypeSpecificationKind, UnaryOperator, UnitKind, VariableDeclaration, VariableSection,
    },
};
use latchwork_vm::ElementaryType as E;

use super::{
    Probe, ProbeKind, Wanted,
    keywords::keyword,
    paths::{Collected, enumeration_name},
};
use crate::{check::values::Demand, typed::VariableId};

/// What the program is called in faults. No name of a variable has a space.
const TITLE: &str = "a condition";

/// A place in none of the texts.
const fn nowhere(file: FileId) -> Span {
    Span { file, start: u32::MAX, end: u32::MAX }
}

/// A diagnostic without the labels that point to declarations made here; one about such a declaration itself, which
/// only an outside that contradicts itself can cause, is told of the first expression.
pub(super) fn without_nowhere(mut diagnostic: Diagnostic, first: Span) -> Diagnostic {
    diagnostic.secondary.retain(|label| label.span.start != u32::MAX);
    if diagnostic.primary.span.start == u32::MAX {
        diagnostic.primary.span = first;
    }
    diagnostic
}

/// The tree, and what is demanded of each statement of its body. An expression that is not sound is left out.
pub(super) fn synthesise(
    collected: &Collected,
    probes: &[Probe<'_>],
    names: &mut Names,
) -> (SyntaxTree, Vec<Option<Demand>>) {
    let file = probes.first().map_or(FileId(0), |probe| probe.expression.span.file);
    let place = nowhere(file);
    let ident = |name| Ident { name, span: place };
    let mut maker = Maker { place, names };
    let types = collected.enumerations.iter().map(|known| TypeDeclaration {
        name: ident(known.name),
        specification: maker.enumeration(&known.kind),
        initial: None,
        span: place,
    });
    let types = TypeSection { types: types.collect(), span: place };
    let mut variables: Vec<VariableDeclaration> =
        collected.inputs.iter().map(|input| maker.variable(ident(input.name), &input.kind)).collect();
    let mut demands = Vec::with_capacity(probes.len());
    let mut statements = Vec::with_capacity(probes.len());
    for (number, (probe, rewritten)) in probes.iter().zip(&collected.probes).enumerate() {
        let demand = match &probe.wanted {
            Wanted::Bool => Demand::Condition,
            Wanted::Measure => Demand::Measure,
            Wanted::Any => Demand::Any,
            Wanted::Value { kind, target } => {
                let name = maker.names.intern(&format!("target {number}"));
                let variable = VariableId(variables.len() as u32);
                variables.push(maker.variable(ident(name), kind));
                Demand::Stored { variable, place: *target }
            }
        };
        demands.push(rewritten.sound.then_some(demand));
        let expression = rewritten.expression.clone();
        statements.push(Statement { span: expression.span, kind: StatementKind::Expression(expression) });
    }
    let section = VariableSection {
        kind: SectionKind::Var,
        qualifiers: Vec::new(),
        variables,
        keyword: place,
        span: place,
    };
    let unit = ProgramUnit {
        kind: UnitKind::Program,
        name: ident(maker.names.intern(TITLE)),
        modifiers: Vec::new(),
        access: None,
        using: Vec::new(),
        extends: None,
        implements: Vec::new(),
        result: None,
        sections: vec![section],
        access_paths: Vec::new(),
        methods: Vec::new(),
        body: Body::StructuredText(statements),
        damaged: false,
        span: place,
    };
    let declarations = vec![Declaration::Types(types), Declaration::Unit(Box::new(unit))];
    (SyntaxTree { file, declarations, trivia: Vec::new() }, demands)
}

struct Maker<'a> {
    place: Span,
    names: &'a mut Names,
}

impl Maker<'_> {
    fn variable(&mut self, name: Ident, kind: &ProbeKind) -> VariableDeclaration {
        VariableDeclaration {
            names: vec![name],
            location: None,
            relative: None,
            specification: self.specification(kind),
            edge: None,
            initial: None,
            span: self.place,
        }
    }

    fn specification(&mut self, kind: &ProbeKind) -> TypeSpecification {
        let kind = match kind {
            ProbeKind::Elementary(kind) => match keyword(*kind) {
                Some(kind) => TypeSpecificationKind::Elementary(kind),
                None => TypeSpecificationKind::String { wide: *kind == E::Wstring, length: None },
            },
            ProbeKind::String { wide, capacity } => TypeSpecificationKind::String {
                wide: *wide,
                length: Some(Box::new(number_at(i128::from(*capacity), self.place))),
            },
            ProbeKind::Enumeration { name, values } => {
                let name = self.names.intern(&enumeration_name(name, values));
                TypeSpecificationKind::Named(QualifiedName::plain(Ident { name, span: self.place }))
            }
        };
        TypeSpecification { kind, span: self.place }
    }

    /// A plain enumeration; one whose numbers do not count up from 0 has named values of the same size.
    fn enumeration(&mut self, kind: &ProbeKind) -> TypeSpecification {
        let place = self.place;
        let values = match kind {
            ProbeKind::Enumeration { values, .. } => values.as_slice(),
            _ => &[],
        };
        let plain = values.iter().zip(0..).all(|((_, number), position)| *number == position);
        let base = (!plain).then(|| Box::new(self.specification(&ProbeKind::Elementary(E::Dint))));
        let values = values.iter().map(|(name, number)| EnumerationValue {
            name: Ident { name: self.names.intern(name), span: place },
            value: (!plain).then(|| number_at(i128::from(*number), place)),
        });
        let values = values.collect();
        TypeSpecification { kind: TypeSpecificationKind::Enumeration { base, values }, span: place }
    }
}

fn number_at(value: i128, span: Span) -> Expression {
    let digits = u64::try_from(value.unsigned_abs()).unwrap_or(u64::MAX);
    let literal = Expression { kind: ExpressionKind::Literal(Literal::Integer(digits)), span };
    if value >= 0 {
        return literal;
    }
    let operand = Box::new(literal);
    let kind = ExpressionKind::Unary { operator: UnaryOperator::Negate, operator_span: span, operand };
    Expression { kind, span }
}

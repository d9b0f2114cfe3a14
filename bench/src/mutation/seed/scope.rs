//! What the names in a body stand for, as far as the declarations of its text tell: no more is needed to know where a
//! fault can be seeded. What it gets wrong does not compile and is dropped.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{
    Literal, Names, Sources,
    names::Name,
    tree::{
        AddressSize, Area, BinaryOperator, Body, Declaration, ElementaryType, Expression, ExpressionKind,
        ProgramUnit, SectionKind, TypePrefix, TypeSpecification, TypeSpecificationKind, UnaryOperator,
        VariableSection,
    },
};

/// Outputs of standard function blocks that are of type BOOL (IEC 61131-3:2013, tables 43 to 46).
const BOOLEAN_OUTPUTS: [&str; 4] = ["Q", "Q1", "QU", "QD"];

/// What holds for all units of a program.
#[derive(Default)]
pub(super) struct Surroundings {
    /// The Boolean variables of each unit, to be known behind a point.
    booleans: BTreeMap<Name, BTreeSet<Name>>,
    /// For each value of an enumeration the next one of the same.
    next_value: BTreeMap<Name, Name>,
    /// Variables of all units together, which hide such values.
    globals: Vec<Variable>,
}

/// A variable as it is declared.
#[derive(Clone)]
struct Variable {
    name: Name,
    /// Its type as it is written, in capital letters and without blanks.
    kind: String,
    area: Option<Area>,
    section: SectionKind,
    constant: bool,
}

/// The names in one unit.
pub(super) struct Scope<'a> {
    surroundings: &'a Surroundings,
    variables: BTreeMap<Name, Variable>,
    /// In the order of the text.
    order: Vec<Name>,
    names: &'a Names,
}

impl Surroundings {
    /// Looks through the declarations of a program.
    pub(super) fn read<'t>(trees: impl Iterator<Item = &'t Declaration>, sources: &Sources) -> Surroundings {
        let mut found = Surroundings::default();
        for declaration in trees {
            found.declaration(declaration, sources);
        }
        found
    }

    fn declaration(&mut self, declaration: &Declaration, sources: &Sources) {
        match declaration {
            Declaration::Types(section) => {
                for declared in &section.types {
                    self.values(&declared.specification);
                }
            }
            Declaration::Globals(section) => self.globals(section, sources),
            Declaration::Configuration(configuration) => {
                configuration.globals.iter().for_each(|section| self.globals(section, sources));
                let resources = configuration.resources.iter().flat_map(|resource| &resource.globals);
                resources.for_each(|section| self.globals(section, sources));
            }
            Declaration::Unit(unit) => {
                let variables = unit.sections.iter().flat_map(|section| declared(section, sources));
                let booleans = variables.filter(|variable| variable.kind == "BOOL");
                self.booleans
                    .entry(unit.name.name)
                    .or_default()
                    .extend(booleans.map(|variable| variable.name));
                for variable in unit.sections.iter().flat_map(|section| &section.variables) {
                    self.values(&variable.specification);
                }
            }
            Declaration::Namespace(namespace) => {
                namespace.declarations.iter().for_each(|inner| self.declaration(inner, sources));
            }
            Declaration::Interface(_) | Declaration::Using(_) => {}
        }
    }

    fn globals(&mut self, section: &VariableSection, sources: &Sources) {
        self.globals.extend(declared(section, sources));
    }

    fn values(&mut self, specification: &TypeSpecification) {
        if let TypeSpecificationKind::Enumeration { values, .. } = &specification.kind {
            let others = values.iter().skip(1).chain(values.first());
            let pairs = values.iter().zip(others).filter(|(value, next)| value.name.name != next.name.name);
            self.next_value.extend(pairs.map(|(value, next)| (value.name.name, next.name.name)));
        }
    }
}

impl<'a> Scope<'a> {
    /// The names of a unit, or of a method within one.
    pub(super) fn new(
        surroundings: &'a Surroundings,
        units: &[&ProgramUnit],
        sources: &Sources,
        names: &'a Names,
    ) -> Scope<'a> {
        let own = units.iter().flat_map(|unit| &unit.sections).flat_map(|section| declared(section, sources));
        let mut scope = Scope { surroundings, variables: BTreeMap::new(), order: Vec::new(), names };
        for variable in surroundings.globals.iter().cloned().chain(own) {
            scope.order.push(variable.name);
            scope.variables.insert(variable.name, variable);
        }
        for chart in units.iter().filter_map(|unit| match &unit.body {
            Body::SequentialFunctionChart(chart) => Some(chart),
            _ => None,
        }) {
            // Hides a value of an enumeration.
            let kind = "STEP".to_owned();
            scope.variables.extend(chart.steps.iter().map(|step| {
                let name = step.name.name;
                let variable = Variable {
                    name,
                    kind: kind.clone(),
                    area: None,
                    section: SectionKind::Var,
                    constant: true,
                };
                (name, variable)
            }));
        }
        scope
    }

    /// The type of a variable as it is written, in capital letters.
    pub(super) fn kind_of(&self, name: Name) -> Option<&str> {
        self.variables.get(&name).map(|variable| variable.kind.as_str())
    }

    /// Another output of the same type as this one: the next one in the text, from the last the first.
    pub(super) fn other_output(&self, name: Name) -> Option<&str> {
        self.other(name, |variable| {
            variable.area == Some(Area::Output) || variable.section == SectionKind::Output
        })
    }

    /// Another input of the same type as this one.
    pub(super) fn other_input(&self, name: Name) -> Option<&str> {
        self.other(name, |variable| {
            variable.area == Some(Area::Input) || variable.section == SectionKind::Input
        })
    }

    fn other(&self, name: Name, is_one: impl Fn(&Variable) -> bool) -> Option<&str> {
        let own = self.variables.get(&name).filter(|variable| is_one(variable))?;
        let place = self.order.iter().position(|other| *other == name)?;
        let (before, from) = self.order.split_at(place);
        let mut others = from.iter().skip(1).chain(before).filter_map(|other| self.variables.get(other));
        let other = others.find(|other| {
            is_one(other)
                && other.kind == own.kind
                && other.section == own.section
                && other.constant == own.constant
                && other.name != name
        })?;
        Some(self.names.spelling(other.name))
    }

    /// The next value of the enumeration that a name is a value of.
    pub(super) fn next_value(&self, name: Name) -> Option<&str> {
        if self.variables.contains_key(&name) {
            return None;
        }
        self.surroundings.next_value.get(&name).map(|next| self.names.spelling(*next))
    }

    /// Whether an expression is of type BOOL, as far as that is seen.
    pub(super) fn is_boolean(&self, expression: &Expression) -> bool {
        use BinaryOperator as B;
        match &expression.kind {
            ExpressionKind::Literal(Literal::Boolean(_)) => true,
            ExpressionKind::TypedLiteral { prefix, .. } => {
                *prefix == TypePrefix::Elementary(ElementaryType::Bool)
            }
            ExpressionKind::Direct(address) => address.size == AddressSize::Bit,
            ExpressionKind::Partial { size, .. } => *size == AddressSize::Bit,
            ExpressionKind::Name(name) => self.kind_of(*name) == Some("BOOL"),
            ExpressionKind::Index { base, .. } => {
                matches!(&base.kind, ExpressionKind::Name(name)
                    if self.kind_of(*name).is_some_and(|kind| kind.starts_with("ARRAY") && kind.ends_with("OFBOOL")))
            }
            ExpressionKind::Member { base, member } => {
                let ExpressionKind::Name(base) = base.kind else { return false };
                let Some(kind) = self.kind_of(base) else { return false };
                let spelling = self.names.spelling(member.name).to_ascii_uppercase();
                match self.names.find(kind).and_then(|kind| self.surroundings.booleans.get(&kind)) {
                    Some(own) => own.contains(&member.name),
                    None if kind == "STEP" => spelling == "X",
                    None => is_standard_block(kind) && BOOLEAN_OUTPUTS.contains(&spelling.as_str()),
                }
            }
            ExpressionKind::Parenthesized(inner) => self.is_boolean(inner),
            ExpressionKind::Unary { operator: UnaryOperator::Not, operand, .. } => self.is_boolean(operand),
            ExpressionKind::Binary { operator, left, .. } => match operator {
                B::Less | B::Greater | B::LessOrEqual | B::GreaterOrEqual | B::Equal | B::NotEqual => true,
                B::And | B::Or | B::Xor => self.is_boolean(left),
                _ => false,
            },
            _ => false,
        }
    }
}

/// Whether a type is a standard function block with Boolean outputs.
pub(super) fn is_standard_block(kind: &str) -> bool {
    ["SR", "RS", "R_TRIG", "F_TRIG", "TON", "TOF", "TP"].contains(&kind)
        || ["CTUD", "CTU", "CTD", "TON", "TOF", "TP"]
            .iter()
            .any(|stem| kind == *stem || kind.strip_prefix(stem).is_some_and(|rest| rest.starts_with('_')))
}

fn declared<'s>(section: &'s VariableSection, sources: &'s Sources) -> impl Iterator<Item = Variable> + 's {
    let constant = section
        .qualifiers
        .iter()
        .any(|(qualifier, _)| *qualifier == latchwork_grammar::tree::Qualifier::Constant);
    section.variables.iter().flat_map(move |declaration| {
        let kind: String = sources
            .text(declaration.specification.span)
            .chars()
            .filter(|character| !character.is_whitespace())
            .map(|character| character.to_ascii_uppercase())
            .collect();
        let area = declaration.location.as_ref().map(|address| address.area);
        declaration.names.iter().map(move |name| Variable {
            name: name.name,
            kind: kind.clone(),
            area,
            section: section.kind,
            constant,
        })
    })
}

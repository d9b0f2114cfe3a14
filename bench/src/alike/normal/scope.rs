//! What the names of one unit stand for.

use std::{borrow::Cow, collections::HashMap};

use latchwork_grammar::{
    Name,
    tree::{
        Expression, ExpressionKind, Initializer, ProgramUnit, Qualifier, SectionKind, VariableDeclaration,
    },
};

use super::kinds::{Declared, FOLLOWED_MAX, Kind, Variable, address};

/// The variables of a unit.
pub(in crate::alike) struct Scope<'t> {
    variables: HashMap<Name, Variable<'t>>,
    /// The unit itself: its name is its result.
    unit: Option<&'t ProgramUnit>,
    /// The type that a method belongs to.
    owner: Option<&'t ProgramUnit>,
}

/// What a name stands for.
pub(super) enum Meaning<'t> {
    /// A variable whose word tells which it is.
    Known(Cow<'static, str>),
    /// A constant with a plain value.
    Constant(&'t Expression),
    /// A variable of which only the word tells what it is.
    Variable(Cow<'static, str>),
    /// A function, method, value or the like: no variable.
    Other(Cow<'static, str>),
}

impl<'t> Scope<'t> {
    /// A scope without variables: of text outside of units.
    pub(in crate::alike) fn none() -> Self {
        Scope { variables: HashMap::new(), unit: None, owner: None }
    }

    /// What a body of a unit sees.
    pub(in crate::alike) fn of(
        unit: &'t ProgramUnit,
        owner: Option<&'t ProgramUnit>,
        declared: &Declared<'t>,
    ) -> Self {
        let mut variables = HashMap::new();
        for unit in [Some(unit), owner].into_iter().flatten() {
            for unit in with_bases(unit, declared) {
                for section in &unit.sections {
                    for declaration in &section.variables {
                        for name in &declaration.names {
                            variables.entry(name.name).or_insert(Variable { declaration, section });
                        }
                    }
                }
            }
        }
        Scope { variables, unit: Some(unit), owner }
    }

    fn variable(&self, name: Name, declared: &Declared<'t>) -> Option<Variable<'t>> {
        match self.variables.get(&name) {
            Some(variable) if variable.section.kind == SectionKind::External => {
                Some(declared.global(name).unwrap_or(*variable))
            }
            Some(variable) => Some(*variable),
            None => declared.global(name),
        }
    }

    /// What a name stands for.
    pub(super) fn meaning(&self, name: Name, declared: &Declared<'t>) -> Meaning<'t> {
        if let Some(variable) = self.variable(name, declared) {
            if let Some(place) = variable.declaration.location.as_deref().and_then(address) {
                return Meaning::Known(place.into());
            }
            if let Some(word) = declared.demanded(name) {
                return Meaning::Known(word.to_owned().into());
            }
            let constant = variable.section.qualifiers.iter().any(|(it, _)| *it == Qualifier::Constant);
            if let (true, Some(Initializer::Expression(value))) = (constant, &variable.declaration.initial)
                && is_plain(value)
            {
                return Meaning::Constant(value);
            }
            return Meaning::Variable(declared.kind(&variable.declaration.specification).word(declared));
        }
        if let Some(unit) = self.unit.filter(|unit| unit.name.name == name) {
            let word = unit.result.as_ref().map_or("name".into(), |it| declared.kind(it).word(declared));
            return Meaning::Variable(word);
        }
        Meaning::Other(if self.is_method(name) {
            "own method".into()
        } else if declared.is_value(name) {
            "value".into()
        } else if declared.unit(name).is_some() {
            "own function".into()
        } else {
            match latchwork_stdlib::function(declared.names.spelling(name)) {
                Some(_) => declared.names.spelling(name).to_ascii_uppercase().into(),
                None => "name".into(),
            }
        })
    }

    fn is_method(&self, name: Name) -> bool {
        let units = [self.unit, self.owner].into_iter().flatten();
        units.flat_map(|unit| &unit.methods).any(|method| method.name.name == name)
    }

    /// What an access is.
    pub(super) fn kind(&self, access: &Expression, declared: &Declared<'t>) -> Kind<'t> {
        match &access.kind {
            ExpressionKind::Name(name) => self
                .variable(*name, declared)
                .map_or(Kind::Unknown, |variable| declared.kind(&variable.declaration.specification)),
            ExpressionKind::Member { base, member } => {
                member_of(self.kind(base, declared), member.name, declared)
            }
            ExpressionKind::Index { base, .. } => match self.kind(base, declared) {
                Kind::Array(element) => declared.kind(element),
                _ => Kind::Unknown,
            },
            ExpressionKind::Dereference(base) => match self.kind(base, declared) {
                Kind::Reference(target) => declared.kind(target),
                _ => Kind::Unknown,
            },
            ExpressionKind::Parenthesized(inner) => self.kind(inner, declared),
            ExpressionKind::This | ExpressionKind::Super => {
                self.owner.or(self.unit).map_or(Kind::Unknown, Kind::Unit)
            }
            _ => Kind::Unknown,
        }
    }
}

/// What a member of something is.
pub(super) fn member_of<'t>(base: Kind<'t>, member: Name, declared: &Declared<'t>) -> Kind<'t> {
    let found = match base {
        Kind::Standard(block) => {
            let members = block.member_index(declared.names.spelling(member));
            let found = members.and_then(|index| block.members.get(index));
            return found.map_or(Kind::Unknown, |member| Kind::Elementary(member.ty.name()));
        }
        Kind::Structure(members) => find(members, member),
        Kind::Unit(unit) => with_bases(unit, declared)
            .flat_map(|unit| &unit.sections)
            .find_map(|section| find(&section.variables, member)),
        _ => None,
    };
    found.map_or(Kind::Unknown, |member| declared.kind(&member.specification))
}

fn find(members: &[VariableDeclaration], name: Name) -> Option<&VariableDeclaration> {
    members.iter().find(|member| member.names.iter().any(|own| own.name == name))
}

/// A unit and those it is derived from.
fn with_bases<'t>(unit: &'t ProgramUnit, declared: &Declared<'t>) -> impl Iterator<Item = &'t ProgramUnit> {
    std::iter::successors(Some(unit), |unit| declared.unit(unit.extends.as_ref()?.name.name))
        .take(FOLLOWED_MAX)
}

/// A literal, with or without a sign.
fn is_plain(value: &Expression) -> bool {
    match &value.kind {
        ExpressionKind::Literal(_) | ExpressionKind::TypedLiteral { .. } => true,
        ExpressionKind::Unary { operand, .. } => matches!(operand.kind, ExpressionKind::Literal(_)),
        _ => false,
    }
}

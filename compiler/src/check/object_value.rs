//! Instances, references and interfaces as values: what may become the value of an interface variable or of a
//! reference to a base type.
//!
//! Source: IEC 61131-3:2013, 6.4.4.10, 6.6.6.4, 6.6.8, tables 12 and 51. Our choice: an instance that came in as
//! VAR_IN_OUT or VAR_INPUT does not become the value of an interface variable, which may outlive the call.

use latchwork_grammar::Diagnostic;

use super::{Checker, conversion::Goal};
use crate::{
    object_scope::{derives_from, implemented, is_interface_incomplete, may_implement_more, with_extended},
    typed::{Expression, ExpressionKind, Root, Step},
    types::{Type, TypeId},
};

impl Checker<'_> {
    /// Whether instances, references or interfaces of one type may stand where another is wanted.
    pub(super) fn object_converts(&self, from: TypeId, to: TypeId) -> bool {
        let (from, to) = (self.types.underlying(from), self.types.underlying(to));
        match (self.types.get(from), self.types.get(to)) {
            (Type::Null, Type::Interface(_)) => true,
            (Type::Interface(from), Type::Interface(to)) => {
                with_extended(&self.interface_scopes, [*from]).contains(to)
                    || is_interface_incomplete(&self.interface_scopes, *from)
            }
            (Type::Unit(unit), Type::Interface(interface)) => {
                implemented(&self.units, &self.interface_scopes, *unit).contains(interface)
                    || may_implement_more(&self.units, &self.interface_scopes, *unit)
            }
            (Type::Reference(from), Type::Reference(to)) => {
                let (from, to) = (self.types.underlying(*from), self.types.underlying(*to));
                match (self.types.get(from), self.types.get(to)) {
                    (Type::Unit(from), Type::Unit(to)) => derives_from(&self.units, *from, *to),
                    _ => from == to,
                }
            }
            _ => false,
        }
    }

    /// An instance where the value of an interface variable is wanted: its address. `None` for everything else
    /// and for instances that do not fit.
    pub(super) fn instance_as_interface(&mut self, value: &Expression, to: TypeId) -> Option<Expression> {
        let target = self.types.underlying(to);
        let from = self.types.underlying(value.ty);
        let (Type::Unit(_), Type::Interface(_)) = (self.types.get(from), self.types.get(target)) else {
            return None;
        };
        if !self.object_converts(from, target) {
            return None;
        }
        let ExpressionKind::Access(access) = &value.kind else { return None };
        let lent = match (&access.root, self.unit) {
            (Root::Variable(id), Some(unit)) => {
                let variable = &self.units[unit.0 as usize].variables[id.0 as usize];
                let followed = access.steps.iter().any(|step| matches!(step, Step::Dereference));
                let lent = matches!(
                    variable.section,
                    latchwork_grammar::tree::SectionKind::InOut | latchwork_grammar::tree::SectionKind::Input
                );
                (lent && !followed)
                    .then_some((super::describe::section_keyword(variable.section), variable.span))
            }
            _ => None,
        };
        if let Some((keyword, place)) = lent {
            let (spelling, type_name) = (self.text(value.span), self.type_name(to));
            self.report(
                Diagnostic::error(
                    "reference-target",
                    value.span,
                    format!("`{spelling}` is a {keyword} and cannot become the value of an interface variable"),
                )
                .label(format!("{keyword} stands for an instance during the call only"))
                .also(place, "declared here")
                .note(format!(
                    "an interface variable may live longer than the call; take the parameter as VAR_INPUT of type {type_name} instead"
                )),
            );
            return Some(self.unknown(value.span));
        }
        let kind = ExpressionKind::Reference(Box::new(access.clone()));
        Some(Expression { kind, ty: to, span: value.span })
    }

    /// What to say where an instance, reference or interface does not fit.
    pub(super) fn object_notes(&self, from: TypeId, to: TypeId, goal: &Goal) -> Option<Vec<String>> {
        let (from, to) = (self.types.underlying(from), self.types.underlying(to));
        let (source, target) = (self.type_name(from), self.type_name(to));
        let assigned = matches!(goal, Goal::Assignment { .. });
        let attempt = |notes: &mut Vec<String>| {
            if assigned {
                notes.push(
                    "`?=` tries it at run time: the variable gets the instance if it fits, else NULL"
                        .to_owned(),
                );
            }
        };
        let mut notes = Vec::new();
        match (self.types.get(from), self.types.get(to)) {
            (Type::Unit(_), Type::Interface(_)) => {
                notes.push(format!(
                    "{source} does not implement {target}: write `IMPLEMENTS {target}` in its heading"
                ));
            }
            (Type::StandardBlock(_), Type::Interface(_)) => {
                notes.push("a standard function block implements no interface".to_owned());
            }
            (Type::Interface(_), Type::Interface(_)) => {
                notes.push(format!("{source} does not extend {target}"));
                attempt(&mut notes);
            }
            (Type::Interface(_), Type::Reference(_)) if self.static_type(to).is_some() => {
                notes.push("which type the instance has is known at run time only".to_owned());
                attempt(&mut notes);
            }
            (Type::Reference(_), Type::Interface(_)) => {
                notes.push("an interface variable takes the instance itself: `reference^`".to_owned());
            }
            (Type::Reference(_), Type::Reference(_))
                if self.static_type(from).is_some() && self.static_type(to).is_some() =>
            {
                notes.push(
                    "a reference to a base type can refer to a derived instance, not the other way round"
                        .to_owned(),
                );
                attempt(&mut notes);
            }
            (_, Type::Interface(_)) => {
                notes.push("an interface variable takes an instance that implements it, or NULL".to_owned());
            }
            (Type::Interface(_), _) => {
                notes.push("an interface variable has no value of its own; call its methods".to_owned());
            }
            _ => return None,
        }
        Some(notes)
    }
}

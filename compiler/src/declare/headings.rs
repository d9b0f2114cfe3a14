//! Whether the headings of two methods are the same, as far as a caller can see.
//!
//! Source: IEC 61131-3:2013, 6.6.5.6 and 6.6.6.3. Our choice: the initial values of inputs belong to it, since a caller
//! that leaves one out need not know which method runs.

use latchwork_grammar::tree::SectionKind;

use crate::{
    check::{Checker, describe::section_keyword},
    typed::{InitialValue, Root},
    types::UnitId,
};

impl Checker<'_> {
    /// How the headings of two methods differ, if they do; the first is `this one`.
    pub(crate) fn heading_difference(&mut self, own: UnitId, other: UnitId) -> Option<String> {
        let result = |checker: &Self, unit: UnitId| {
            let scope = &checker.units[unit.0 as usize];
            scope.result.map(|id| scope.variables[id.0 as usize].kind)
        };
        let unlike = |checker: &Self, one, another| {
            one != another && !checker.is_unknown(one) && !checker.is_unknown(another)
        };
        match (result(self, own), result(self, other)) {
            (Some(own), Some(other)) if unlike(self, own, other) => {
                let (own, other) = (self.type_name(own), self.type_name(other));
                return Some(format!("this one gives back {own}, the other one {other}"));
            }
            (Some(own), None) => {
                let own = self.type_name(own);
                return Some(format!("this one gives back {own}, the other one nothing"));
            }
            (None, Some(other)) => {
                let other = self.type_name(other);
                return Some(format!("this one gives back nothing, the other one {other}"));
            }
            _ => {}
        }
        let (own_interface, other_interface) =
            (self.unit_interface(own, None), self.unit_interface(other, None));
        let (ours, theirs) = (&own_interface.parameters, &other_interface.parameters);
        for (ours, theirs) in ours.iter().zip(theirs.iter()) {
            if !ours.name.eq_ignore_ascii_case(&theirs.name) {
                return Some(format!(
                    "where this one has `{}`, the other one has `{}`",
                    ours.name, theirs.name
                ));
            }
            if ours.section != theirs.section {
                return Some(format!(
                    "`{}` is {} here and {} there",
                    ours.name,
                    section_keyword(ours.section),
                    section_keyword(theirs.section)
                ));
            }
            if unlike(self, ours.ty, theirs.ty) {
                let (here, there) = (self.type_name(ours.ty), self.type_name(theirs.ty));
                return Some(format!("`{}` is {here} here and {there} there", ours.name));
            }
            let initial = |unit: UnitId, index: u32| {
                let variable = self.units[unit.0 as usize].variables.get(index as usize)?;
                variable.initial.clone()
            };
            let (here, there) = (initial(own, ours.index), initial(other, theirs.index));
            if ours.section == SectionKind::Input && !same_value(here.as_ref(), there.as_ref()) {
                return Some(format!("`{}` has another initial value there", ours.name));
            }
        }
        // ENO is in every call and no parameter, but a method that sets it is called in another way.
        let sets_eno = |checker: &Self, unit: UnitId| {
            let variables = &checker.units[unit.0 as usize].variables;
            variables.iter().any(|variable| {
                let name = variable.name.map_or("", |name| checker.spelling(name));
                variable.section == SectionKind::Output && name.eq_ignore_ascii_case("ENO")
            })
        };
        if sets_eno(self, own) != sets_eno(self, other) {
            return Some("ENO is declared in one of them only".to_owned());
        }
        let (extra, side) = match ours.len().cmp(&theirs.len()) {
            std::cmp::Ordering::Greater => (ours.get(theirs.len())?, "this one"),
            std::cmp::Ordering::Less => (theirs.get(ours.len())?, "the other one"),
            std::cmp::Ordering::Equal => return None,
        };
        Some(format!("`{}` is a parameter of {side} only", extra.name))
    }
}

/// Whether two written initial values are the same.
fn same_value(one: Option<&InitialValue>, other: Option<&InitialValue>) -> bool {
    match (one, other) {
        (None, None) => true,
        (Some(InitialValue::Constant(one)), Some(InitialValue::Constant(other))) => one == other,
        (Some(InitialValue::Array(ones)), Some(InitialValue::Array(others))) => {
            ones.len() == others.len()
                && ones.iter().zip(others).all(|(one, other)| same_value(one.as_ref(), other.as_ref()))
        }
        (Some(InitialValue::Members(ones)), Some(InitialValue::Members(others))) => {
            ones.len() == others.len()
                && ones.iter().zip(others).all(|((index, one), (other_index, other))| {
                    index == other_index && same_value(Some(one), Some(other))
                })
        }
        // Globals; the variables of two methods are not the same.
        (Some(InitialValue::Reference(one)), Some(InitialValue::Reference(other))) => {
            matches!(one.root, Root::Global(_))
                && one.root == other.root
                && one.steps.is_empty()
                && other.steps.is_empty()
        }
        _ => false,
    }
}

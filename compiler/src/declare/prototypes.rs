//! Methods against the prototypes of interfaces: one prototype under each name, a method for every prototype.
//!
//! Source: IEC 61131-3:2013, 6.6.6.2 and 6.6.6.3, table 51. Our choice: a method that implements a prototype may be
//! INTERNAL.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{Diagnostic, Name};

use super::methods::LISTED_MAX;
use crate::{
    check::Checker,
    object_scope::{Visibility, implemented, method_of, with_extended},
    types::{InterfaceId, UnitId},
};

impl Checker<'_> {
    /// One prototype under each name, also among the interfaces it extends. What a list of several brings together is
    /// looked at once, wherever it stands again.
    pub(super) fn check_interface(&mut self, interface: InterfaceId, lists: &mut BTreeSet<Vec<InterfaceId>>) {
        let own: Vec<(Name, UnitId)> = self.prototypes(interface);
        let extended = with_extended(&self.interface_scopes, [interface]);
        let inherited = extended.get(1..).unwrap_or_default();
        for (name, method) in own {
            for from in inherited {
                let other = self.interface_scopes[from.0 as usize].methods.get(&name).copied();
                let Some(difference) = other.and_then(|other| self.heading_difference(method, other)) else {
                    continue;
                };
                self.report_two_prototypes(interface, name, (method, other), &difference);
            }
        }
        let mut list = self.interface_scopes[interface.0 as usize].extends.clone();
        list.sort_unstable();
        if list.len() < 2 || !lists.insert(list) {
            return;
        }
        let mut known: BTreeMap<Name, UnitId> = BTreeMap::new();
        for from in inherited {
            for (name, method) in self.prototypes(*from) {
                let first = *known.entry(name).or_insert(method);
                let replaced = self.interface_scopes[interface.0 as usize].methods.contains_key(&name);
                if first == method || replaced {
                    continue;
                }
                if let Some(difference) = self.heading_difference(first, method) {
                    self.report_two_prototypes(interface, name, (first, Some(method)), &difference);
                }
            }
        }
    }

    fn prototypes(&self, interface: InterfaceId) -> Vec<(Name, UnitId)> {
        let methods = &self.interface_scopes[interface.0 as usize].methods;
        methods.iter().map(|(name, id)| (*name, *id)).collect()
    }

    fn report_two_prototypes(
        &mut self,
        interface: InterfaceId,
        name: Name,
        (first, second): (UnitId, Option<UnitId>),
        difference: &str,
    ) {
        let here = self.interface_scopes[interface.0 as usize].tree.name;
        let own = self.interface_scopes[interface.0 as usize].methods.get(&name) == Some(&first);
        let place = |unit: UnitId| self.units[unit.0 as usize].tree.name.span;
        let span = if own { place(first) } else { here.span };
        let mut diagnostic = Diagnostic::error(
            "signature-differs",
            span,
            format!(
                "the interface `{}` would have two different methods `{}`",
                self.spelling(here.name),
                self.spelling(name)
            ),
        )
        .label(if own { "differs from the one it inherits" } else { "inherits both" });
        if !own {
            diagnostic = diagnostic.also(place(first), "one of them");
        }
        if let Some(second) = second {
            diagnostic = diagnostic.also(place(second), "the other one");
        }
        self.report(diagnostic.note(difference));
    }

    /// Every method of the interfaces of a type, with the same heading; the prototypes without a method.
    pub(super) fn check_interfaces(&mut self, unit: UnitId) -> Vec<UnitId> {
        let mut missing = Vec::new();
        let base = self.units[unit.0 as usize].object.base;
        let done =
            base.map(|base| implemented(&self.units, &self.interface_scopes, base)).unwrap_or_default();
        let complete = base.is_none_or(|base| !self.units[base.0 as usize].object.is_abstract);
        for interface in implemented(&self.units, &self.interface_scopes, unit) {
            // The base has all of them, and what overrides them has the same heading.
            if complete && done.contains(&interface) {
                continue;
            }
            let prototypes: Vec<(Name, UnitId)> = self.interface_scopes[interface.0 as usize]
                .methods
                .iter()
                .map(|(name, id)| (*name, *id))
                .collect();
            for (name, prototype) in prototypes {
                let Some(method) = method_of(&self.units, unit, name) else {
                    missing.push(prototype);
                    if missing.len() > LISTED_MAX {
                        return missing;
                    }
                    continue;
                };
                self.check_implementation(unit, method, prototype);
            }
        }
        missing
    }

    fn check_implementation(&mut self, unit: UnitId, method: UnitId, prototype: UnitId) {
        let visibility = self.units[method.0 as usize].object.visibility;
        let spelling = self.text(self.units[method.0 as usize].tree.name.span);
        let interface = self.owner_name(prototype);
        let own = self.units[unit.0 as usize].object.methods.values().any(|own| *own == method);
        let method_place = self.units[method.0 as usize].tree.name.span;
        let span = if own { method_place } else { self.units[unit.0 as usize].tree.name.span };
        let place = self.units[prototype.0 as usize].tree.name.span;
        if !matches!(visibility, Visibility::Public | Visibility::Internal) {
            let word = visibility.keyword();
            self.report(
                Diagnostic::error(
                    "signature-differs",
                    span,
                    format!("`{spelling}` is {word}, but the interface `{interface}` asks for it"),
                )
                .label(word)
                .also(place, "asked for here")
                .note("a method of an interface is called from outside: write `METHOD PUBLIC`"),
            );
            return;
        }
        let Some(difference) = self.heading_difference(method, prototype) else { return };
        let mut diagnostic = Diagnostic::error(
            "signature-differs",
            span,
            format!("`{spelling}` does not have the heading that the interface `{interface}` asks for"),
        )
        .label("a caller through the interface must see no difference");
        if !own {
            diagnostic = diagnostic.also(method_place, "the inherited method");
        }
        self.report(diagnostic.also(place, "the prototype").note(difference));
    }
}

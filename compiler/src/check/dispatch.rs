//! Calls whose target depends on the instance: when they do, the prototype that takes their arguments, and the
//! tables of what runs for which type.
//!
//! Source: IEC 61131-3:2013, 6.6.5.6 and 6.6.8 (dynamic binding). The whole program is known, so a method that
//! nothing overrides is called directly. Frames are static and the caller does not know whose frame it is, so the
//! arguments of a dispatched call go into the frame of a prototype that never runs, and each target has an entry
//! that takes them from there.

use std::collections::{BTreeMap, BTreeSet, btree_map::Entry};

use latchwork_grammar::{
    Name,
    tree::{SectionKind, UnitKind},
};
use latchwork_vm::limits;

use super::Checker;
use crate::{
    object_scope::{
        ObjectScope, Visibility, implemented, is_interface_incomplete, may_implement_more, method_of,
    },
    scope::UnitScope,
    typed::{Access, Dispatch, Forward, ObjectPart, Root, Step, TypedUnit, VariableId},
    types::{InterfaceId, Type, UnitId},
};

/// The type of an instance as far as the checker knows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum StaticType {
    /// A class or function block, or what derives from it.
    Unit(UnitId),
    /// Whatever implements an interface.
    Interface(InterfaceId),
}

/// What a table is for.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Slot {
    /// A method by its name and the unit that takes the arguments.
    Method { of: StaticType, name: Name, prototype: UnitId },
    /// The body of a function block.
    Body(UnitId),
}

/// The tables that calls and assignment attempts have asked for so far.
#[derive(Default)]
pub(crate) struct DispatchScope {
    slots: Vec<Slot>,
    known: BTreeMap<Slot, u32>,
    /// The unit that takes the arguments of a method and of all that override it.
    prototypes: BTreeMap<UnitId, UnitId>,
    /// Whether something derived has a method of its own under a name.
    overridden: BTreeMap<(UnitId, Name), bool>,
    /// The concrete types that implement each interface.
    implementers: Option<BTreeMap<InterfaceId, Vec<UnitId>>>,
    /// Which unit asks for which table.
    callers: BTreeSet<(UnitId, u32)>,
    fits: Vec<Vec<UnitId>>,
    fits_known: BTreeMap<Vec<UnitId>, u32>,
}

impl Checker<'_> {
    /// Whether the instance an access reaches may be of a type derived from the one it is declared with: what
    /// stands behind a reference, an in-out variable or an input, and the instance of running code.
    pub(super) fn is_polymorphic(&self, access: &Access) -> bool {
        match access.steps.last() {
            Some(step) => matches!(step, Step::Dereference),
            None => match access.root {
                Root::This => true,
                Root::Variable(id) => self.unit.is_some_and(|unit| {
                    let variable = &self.units[unit.0 as usize].variables[id.0 as usize];
                    matches!(variable.section, SectionKind::InOut | SectionKind::Input)
                }),
                Root::Global(_) | Root::Direct(_) => false,
            },
        }
    }

    /// The types of which there can be instances, among those a static type stands for, in textual order.
    pub(super) fn concrete_types(&mut self, of: StaticType) -> Vec<UnitId> {
        match of {
            StaticType::Unit(unit) => {
                let mut found = Vec::new();
                let mut waiting = vec![unit];
                while let Some(unit) = waiting.pop() {
                    let object = &self.units[unit.0 as usize].object;
                    waiting.extend(&object.derived);
                    if !object.is_abstract {
                        found.push(unit);
                    }
                }
                found.sort_unstable();
                found
            }
            StaticType::Interface(interface) => {
                let all = match &self.dispatch.implementers {
                    Some(known) => known,
                    None => {
                        let all = self.all_implementers();
                        self.dispatch.implementers.insert(all)
                    }
                };
                all.get(&interface).cloned().unwrap_or_default()
            }
        }
    }

    fn all_implementers(&self) -> BTreeMap<InterfaceId, Vec<UnitId>> {
        let mut all: BTreeMap<InterfaceId, Vec<UnitId>> = BTreeMap::new();
        for (scope, index) in self.units.iter().zip(0..) {
            let object_type = matches!(scope.kind, UnitKind::Class | UnitKind::FunctionBlock);
            if object_type && !scope.object.is_abstract {
                for interface in implemented(&self.units, &self.interface_scopes, UnitId(index)) {
                    all.entry(interface).or_default().push(UnitId(index));
                }
            }
        }
        all
    }

    /// Whether a type derived from another one has a method of its own under a name.
    fn is_overridden_below(&mut self, unit: UnitId, name: Name) -> bool {
        if let Some(known) = self.dispatch.overridden.get(&(unit, name)) {
            return *known;
        }
        let mut found = false;
        let mut waiting = self.units[unit.0 as usize].object.derived.clone();
        while let Some(derived) = waiting.pop() {
            let object = &self.units[derived.0 as usize].object;
            found = object.methods.contains_key(&name);
            if found {
                break;
            }
            waiting.extend(&object.derived);
        }
        self.dispatch.overridden.insert((unit, name), found);
        found
    }

    /// The table of a method call and the unit that takes the arguments; `None` where only one method can run.
    pub(super) fn dispatched_method(&mut self, of: StaticType, method: UnitId) -> Option<(u32, UnitId)> {
        let scope = &self.units[method.0 as usize];
        let (name, object) = (scope.tree.name.name, &scope.object);
        let prototype = match of {
            StaticType::Interface(_) => method,
            StaticType::Unit(_) if object.visibility == Visibility::Private || object.is_final => {
                return None;
            }
            StaticType::Unit(unit) => {
                let is_abstract = object.is_abstract;
                if !is_abstract && !self.is_overridden_below(unit, name) {
                    return None;
                }
                self.prototype_of(method)
            }
        };
        Some((self.slot(Slot::Method { of, name, prototype }), prototype))
    }

    /// The table for the body of a function block; `None` where only one body can run.
    pub(super) fn dispatched_body(&mut self, unit: UnitId) -> Option<u32> {
        let object = &self.units[unit.0 as usize].object;
        if object.derived.is_empty() && !object.is_abstract {
            return None;
        }
        Some(self.slot(Slot::Body(unit)))
    }

    fn slot(&mut self, slot: Slot) -> u32 {
        let next = self.dispatch.slots.len() as u32;
        let number = match self.dispatch.known.entry(slot) {
            Entry::Occupied(known) => *known.get(),
            Entry::Vacant(entry) => {
                self.dispatch.slots.push(slot);
                *entry.insert(next)
            }
        };
        if let Some(caller) = self.unit {
            self.dispatch.callers.insert((caller, number));
        }
        number
    }

    /// The unit that takes the arguments of a method of a class or function block: the topmost method it
    /// overrides, if that has no body, else a unit made for it.
    fn prototype_of(&mut self, method: UnitId) -> UnitId {
        let mut root = method;
        // Each step goes one type up; circles have been broken.
        while let Some(overridden) = self.units[root.0 as usize].object.overridden {
            root = overridden;
        }
        if self.units[root.0 as usize].object.is_abstract {
            return root;
        }
        if let Some(known) = self.dispatch.prototypes.get(&root) {
            return *known;
        }
        let title = format!("{} (arguments)", self.spelling(self.units[root.0 as usize].name));
        let name = self.names.intern(&title);
        let from = &self.units[root.0 as usize];
        let object = ObjectScope { made: true, is_abstract: true, ..ObjectScope::default() };
        let mut made = UnitScope::new(from.tree, name, object);
        for (variable, index) in from.variables.iter().zip(0..) {
            let is_result = from.result == Some(VariableId(index));
            let parameter = !variable.hidden
                && matches!(variable.section, SectionKind::Input | SectionKind::Output | SectionKind::InOut);
            if !is_result && !parameter {
                continue;
            }
            let id = VariableId(made.variables.len() as u32);
            if is_result {
                made.result = Some(id);
            }
            if let Some(name) = variable.name {
                made.by_name.insert(name, id);
            }
            made.variables.push(variable.clone());
        }
        let id = UnitId(self.units.len() as u32);
        self.units.push(made);
        self.dispatch.prototypes.insert(root, id);
        id
    }

    /// The table of the types that an assignment attempt lets through.
    pub(super) fn fits_table(&mut self, units: Vec<UnitId>) -> u32 {
        let next = self.dispatch.fits.len() as u32;
        match self.dispatch.fits_known.entry(units) {
            Entry::Occupied(known) => *known.get(),
            Entry::Vacant(entry) => {
                self.dispatch.fits.push(entry.key().clone());
                *entry.insert(next)
            }
        }
    }

    /// The static type of an instance, reference target or interface.
    pub(super) fn static_type(&self, ty: crate::types::TypeId) -> Option<StaticType> {
        match self.types.get(self.types.underlying(ty)) {
            Type::Unit(unit) => Some(StaticType::Unit(*unit)),
            Type::Interface(interface) => Some(StaticType::Interface(*interface)),
            Type::Reference(target) => match self.types.get(self.types.underlying(*target)) {
                Type::Unit(unit) => Some(StaticType::Unit(*unit)),
                _ => None,
            },
            _ => None,
        }
    }

    /// Whether a wrong EXTENDS or IMPLEMENTS keeps from knowing all that a type has.
    pub(super) fn is_partly_known(&self, of: StaticType) -> bool {
        match of {
            StaticType::Unit(unit) => may_implement_more(&self.units, &self.interface_scopes, unit),
            StaticType::Interface(interface) => is_interface_incomplete(&self.interface_scopes, interface),
        }
    }

    /// Whether the instances of a type begin with a tag: classes, and function blocks with something that asks
    /// for it.
    pub(crate) fn is_tagged(&self, unit: UnitId) -> bool {
        let scope = &self.units[unit.0 as usize];
        let object = &scope.object;
        match scope.kind {
            UnitKind::Class => true,
            UnitKind::FunctionBlock => {
                object.base.is_some()
                    || !object.derived.is_empty()
                    || !object.methods.is_empty()
                    || !object.interfaces.is_empty()
                    || object.is_abstract
            }
            _ => false,
        }
    }

    /// Who may run whom through the tables, and whose methods and base belong to a type: together with the direct
    /// calls, everything that may run.
    pub(crate) fn object_edges(&mut self) -> Vec<(UnitId, UnitId)> {
        let mut edges = Vec::new();
        for (scope, index) in self.units.iter().zip(0..) {
            let parts = scope.object.methods.values().copied().chain(scope.object.base);
            edges.extend(parts.map(|part| (UnitId(index), part)));
        }
        for (caller, number) in self.dispatch.callers.clone() {
            let Some(slot) = self.dispatch.slots.get(number as usize) else { continue };
            let of = match slot {
                Slot::Method { of, .. } => *of,
                Slot::Body(unit) => StaticType::Unit(*unit),
            };
            let types = self.concrete_types(of);
            edges.extend(types.into_iter().map(|target| (caller, target)));
            // The lowering refuses a program with so many rows of tables.
            if edges.len() > limits::DISPATCH_TARGETS {
                break;
            }
        }
        edges
    }

    /// The tables, and the entries of dispatched methods, which become units behind the `first` others.
    pub(super) fn dispatch_tables(
        &mut self,
        first: usize,
    ) -> (Vec<Dispatch>, Vec<Vec<UnitId>>, Vec<TypedUnit>) {
        let mut tables = Vec::new();
        let mut made: Vec<TypedUnit> = Vec::new();
        let mut entries: BTreeMap<(UnitId, UnitId), UnitId> = BTreeMap::new();
        let mut rows = 0;
        for slot in std::mem::take(&mut self.dispatch.slots) {
            let (of, method) = match slot {
                Slot::Method { of, name, prototype } => (of, Some((name, prototype))),
                Slot::Body(unit) => (StaticType::Unit(unit), None),
            };
            let types = self.concrete_types(of);
            rows += types.len();
            let mut targets = Vec::with_capacity(types.len());
            for unit in types {
                let Some((name, prototype)) = method else {
                    targets.push((unit, unit));
                    continue;
                };
                // Every concrete type has the method, or an error was reported.
                let Some(method) = method_of(&self.units, unit, name) else { continue };
                let next = UnitId((first + made.len()) as u32);
                let entry = *entries.entry((prototype, method)).or_insert(next);
                if entry == next {
                    made.push(self.entry_unit(prototype, method));
                }
                targets.push((unit, entry));
            }
            tables.push(Dispatch { prototype: method.map(|(_, prototype)| prototype), targets });
            // The lowering refuses a program with so many rows; no more are needed for that.
            if rows > limits::DISPATCH_TARGETS {
                break;
            }
        }
        (tables, std::mem::take(&mut self.dispatch.fits), made)
    }

    fn entry_unit(&self, prototype: UnitId, method: UnitId) -> TypedUnit {
        let scope = &self.units[method.0 as usize];
        TypedUnit {
            name: scope.name,
            kind: UnitKind::Method,
            object: ObjectPart {
                owner: self.owner_of(method),
                forward: Some(Forward { prototype, method }),
                ..ObjectPart::default()
            },
            variables: Vec::new(),
            result: None,
            body: Vec::new(),
            labels: 0,
            may_use_addresses: true,
            span: scope.tree.name.span,
        }
    }

    /// What the typed tree keeps of the heading of a unit.
    pub(super) fn object_part(&self, unit: UnitId) -> ObjectPart {
        let object = &self.units[unit.0 as usize].object;
        ObjectPart {
            tagged: self.is_tagged(unit),
            base: object.base,
            inherited: object.inherited as u32,
            owner: self.owner_of(unit),
            forward: None,
        }
    }
}

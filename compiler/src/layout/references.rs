//! References in initial values: the addresses they hold once every variable has its place.
//!
//! [`super::initial`] writes the bytes of initial values and knows no places; what refers to a variable is put
//! over them here. A reference to a variable of the unit that declares it belongs to each instance of that
//! unit. Implements IEC 61131-3:2013, 6.4.4.10 and table 14.

use std::{cell::RefCell, collections::BTreeMap};

use latchwork_grammar::tree::SectionKind;

use super::{
    Base, Spot,
    sizes::{elements, is_indirect},
    storage::ProgramStorage,
};
use crate::{
    typed::{Access, Constant, Expression, ExpressionKind, InitialValue, Root, Step, TypedProgram, Variable},
    types::{Type, TypeId, UnitId},
};

/// The unit a value was declared in and where its instance is, if that is known.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scope {
    /// The unit.
    pub unit: UnitId,
    /// The address of its instance.
    pub instance: Option<u32>,
}

/// Finds the references in initial values.
pub(crate) struct References<'a> {
    program: &'a TypedProgram,
    storage: &'a ProgramStorage<'a>,
    /// Whether the default of a type holds one.
    holds: RefCell<BTreeMap<TypeId, bool>>,
}

impl<'a> References<'a> {
    /// Nothing looked at yet.
    pub(crate) fn new(program: &'a TypedProgram, storage: &'a ProgramStorage<'a>) -> Self {
        References { program, storage, holds: RefCell::default() }
    }

    /// Tells each place with a reference in a variable at an address, and the address to put there.
    pub(crate) fn variable(
        &self,
        variable: &Variable,
        address: u32,
        scope: Option<Scope>,
        put: &mut dyn FnMut(u32, u32),
    ) {
        if is_indirect(self.program, variable) {
            return;
        }
        self.default(variable.kind, address, put);
        if let Some(initial) = &variable.initial {
            self.value(variable.kind, initial, address, scope, put);
        }
    }

    /// The same for the default of a type.
    pub(crate) fn default(&self, id: TypeId, address: u32, put: &mut dyn FnMut(u32, u32)) {
        if !self.holds(id) {
            return;
        }
        let types = &self.program.types;
        let sizes = &self.storage.sizes;
        match types.get(id) {
            Type::Derived { base, .. } => self.default(*base, address, put),
            Type::Array { element, bounds } => {
                let size = sizes.size(*element);
                let count = u32::try_from(elements(bounds)).unwrap_or(u32::MAX);
                for index in 0..count {
                    self.default(*element, address.saturating_add(index.saturating_mul(size)), put);
                }
            }
            Type::Structure(structure) => {
                for (member, index) in types.structure(*structure).members.iter().zip(0..) {
                    let at = address.saturating_add(sizes.member(*structure, index));
                    self.default(member.kind, at, put);
                    if let Some(initial) = &member.initial {
                        self.value(member.kind, initial, at, None, put);
                    }
                }
            }
            Type::Unit(unit) => self.instance(*unit, address, put),
            _ => {}
        }
        if let Some(default) = types.defaults.get(&id) {
            self.value(id, default, address, None, put);
        }
    }

    /// The same for an instance of a program or function block.
    pub(crate) fn instance(&self, id: UnitId, address: u32, put: &mut dyn FnMut(u32, u32)) {
        let Some(unit) = self.program.units.get(id.0 as usize) else { return };
        let instance = self.storage.sizes.instance(id);
        if let Some(base) = unit.object.base {
            self.instance(base, address, put);
        }
        let scope = Scope { unit: id, instance: Some(address) };
        let own = unit.variables.iter().zip(&instance.offsets).skip(unit.object.inherited as usize);
        for (variable, offset) in own {
            if let (Some(offset), false) = (offset, variable.section == SectionKind::InOut) {
                self.variable(variable, address.saturating_add(*offset), Some(scope), put);
            }
        }
    }

    /// The same for a value laid over the default of its type.
    pub(crate) fn value(
        &self,
        id: TypeId,
        value: &InitialValue,
        address: u32,
        scope: Option<Scope>,
        put: &mut dyn FnMut(u32, u32),
    ) {
        let types = &self.program.types;
        let kind = types.get(types.underlying(id));
        match (value, kind) {
            (InitialValue::Reference(access), _) => {
                if let Some(target) = self.target(access, scope) {
                    put(address, target);
                }
            }
            // It may stand over a reference that the type has by default.
            (InitialValue::Constant(Constant::Null), _) => put(address, 0),
            (InitialValue::Array(values), Type::Array { element, bounds }) => {
                let size = self.storage.sizes.size(*element);
                let count = usize::try_from(elements(bounds)).unwrap_or(usize::MAX);
                for (value, index) in values.iter().take(count).zip(0u32..) {
                    if let Some(value) = value {
                        let at = address.saturating_add(index.saturating_mul(size));
                        self.value(*element, value, at, scope, put);
                    }
                }
            }
            (InitialValue::Members(members), _) => {
                for (index, value) in members {
                    if let Some((offset, member)) = self.member(kind, *index) {
                        self.value(member, value, address.saturating_add(offset), scope, put);
                    }
                }
            }
            _ => {}
        }
    }

    /// The address of a variable; `None` while the place of its instance is not known.
    fn target(&self, access: &Access, scope: Option<Scope>) -> Option<u32> {
        let spot = self.spot(access, scope.map(|scope| scope.unit))?;
        match spot.base {
            Base::Data => Some(spot.offset),
            Base::Instance => Some(scope?.instance?.saturating_add(spot.offset)),
            Base::Frame(_) | Base::Constants => None,
        }
    }

    /// The place of a variable that a value declared in a unit refers to.
    fn spot(&self, access: &Access, unit: Option<UnitId>) -> Option<Spot> {
        let program = self.program;
        let (mut spot, mut kind) = match access.root {
            Root::Variable(id) => {
                let unit = unit?.0 as usize;
                let storage = self.storage.units.get(unit)?.variables.get(id.0 as usize)?;
                let variable = program.units.get(unit)?.variables.get(id.0 as usize)?;
                (storage.spot, variable.kind)
            }
            Root::Global(id) => {
                (*self.storage.globals.get(id.0 as usize)?, program.globals.get(id.0 as usize)?.kind)
            }
            Root::This | Root::Direct(_) => return None,
        };
        for step in &access.steps {
            let types = &program.types;
            match (step, types.get(types.underlying(kind))) {
                (Step::Member(index), Type::StandardBlock(block)) => {
                    // An elementary member has no parts.
                    let member = types.standard_block(*block).members.get(*index as usize)?;
                    return Some(spot.plus(member.offset));
                }
                (Step::Member(index), whole) => {
                    let (offset, member) = self.member(whole, *index)?;
                    (spot, kind) = (spot.plus(offset), member);
                }
                (Step::Index(subscripts), Type::Array { bounds, element }) => {
                    let mut position = 0u64;
                    for (subscript, bound) in subscripts.iter().zip(bounds) {
                        let distance = u64::try_from(known(subscript)? - i128::from(bound.0)).ok()?;
                        position = position.saturating_mul(elements(&[*bound])).saturating_add(distance);
                    }
                    let bytes = position.saturating_mul(u64::from(self.storage.sizes.size(*element)));
                    (spot, kind) = (spot.plus(u32::try_from(bytes).ok()?), *element);
                }
                _ => return None,
            }
        }
        Some(spot)
    }

    /// Offset and type of a member of a structure or instance.
    fn member(&self, kind: &Type, index: u32) -> Option<(u32, TypeId)> {
        match kind {
            Type::Structure(id) => {
                let member = self.program.types.structure(*id).members.get(index as usize)?;
                Some((self.storage.sizes.member(*id, index), member.kind))
            }
            Type::Unit(id) => {
                let variable = self.program.units.get(id.0 as usize)?.variables.get(index as usize)?;
                let offset =
                    self.storage.sizes.instance(*id).offsets.get(index as usize).copied().flatten()?;
                Some((offset, variable.kind))
            }
            _ => None,
        }
    }

    /// Whether the default of a type holds a reference; nesting is limited by the sizes, checked before.
    fn holds(&self, id: TypeId) -> bool {
        if let Some(known) = self.holds.borrow().get(&id) {
            return *known;
        }
        let types = &self.program.types;
        let inside = match types.get(id) {
            Type::Derived { base, .. } => self.holds(*base),
            Type::Array { element, .. } => self.holds(*element),
            Type::Structure(structure) => types
                .structure(*structure)
                .members
                .iter()
                .any(|member| self.holds(member.kind) || member.initial.as_ref().is_some_and(refers)),
            Type::Unit(unit) => self.program.units.get(unit.0 as usize).is_some_and(|unit| {
                unit.variables.iter().any(|variable| {
                    !is_indirect(self.program, variable)
                        && (self.holds(variable.kind) || variable.initial.as_ref().is_some_and(refers))
                })
            }),
            _ => false,
        };
        let holds = inside || types.defaults.get(&id).is_some_and(refers);
        self.holds.borrow_mut().insert(id, holds);
        holds
    }
}

/// Whether a value holds a reference.
pub(crate) fn refers(value: &InitialValue) -> bool {
    match value {
        InitialValue::Reference(_) => true,
        InitialValue::Constant(_) => false,
        InitialValue::Array(values) => values.iter().flatten().any(refers),
        InitialValue::Members(members) => members.iter().any(|(_, value)| refers(value)),
    }
}

fn known(subscript: &Expression) -> Option<i128> {
    match &subscript.kind {
        ExpressionKind::Constant(Constant::Integer(value)) => Some(*value),
        _ => None,
    }
}

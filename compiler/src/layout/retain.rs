//! The parts of the data image that a warm restart keeps.
//!
//! Implements RETAIN of IEC 61131-3:2013, 6.5.6: it holds for all of a structure or instance; inside a
//! function block type the qualifier holds for its variables in every instance. Knows places and types only.

use latchwork_vm::Region;

use super::sizes::{Sizes, elements};
use crate::{
    typed::{TypedProgram, Variable},
    types::{Type, TypeId, UnitId},
};

/// Collects retained regions.
pub(crate) struct Retained<'a> {
    program: &'a TypedProgram,
    sizes: &'a Sizes<'a>,
    regions: Vec<Region>,
    limit: usize,
}

impl<'a> Retained<'a> {
    /// Nothing yet; at most `limit` regions are collected.
    pub(crate) fn new(program: &'a TypedProgram, sizes: &'a Sizes<'a>, limit: usize) -> Self {
        Retained { program, sizes, regions: Vec::new(), limit }
    }

    /// Adds what a variable at an address retains.
    pub(crate) fn variable(&mut self, variable: &Variable, address: u32) {
        if variable.retain {
            self.add(address, self.sizes.size(variable.kind));
        } else {
            self.inside(variable.kind, address);
        }
    }

    /// Adds what the variables of an instance at an address retain.
    pub(crate) fn instance(&mut self, id: UnitId, address: u32) {
        let Some(unit) = self.program.units.get(id.0 as usize) else { return };
        let instance = self.sizes.instance(id);
        if let Some(base) = unit.object.base {
            self.instance(base, address);
        }
        let own = unit.variables.iter().zip(&instance.offsets).skip(unit.object.inherited as usize);
        for (variable, offset) in own {
            if let Some(offset) = offset
                && !super::sizes::is_indirect(self.program, variable)
            {
                self.variable(variable, address.saturating_add(*offset));
            }
        }
        // The remembered edge of a retained input belongs to it.
        for edge in &instance.edges {
            if unit.variables.get(edge.variable as usize).is_some_and(|variable| variable.retain) {
                self.add(address.saturating_add(edge.memory), 1);
            }
        }
    }

    fn inside(&mut self, id: TypeId, address: u32) {
        let types = &self.program.types;
        match types.get(types.underlying(id)) {
            Type::Unit(unit) => self.instance(*unit, address),
            Type::Structure(structure) => {
                for (member, index) in types.structure(*structure).members.iter().zip(0..) {
                    if types.open_members.contains_key(&(*structure, index)) {
                        continue;
                    }
                    self.inside(member.kind, address.saturating_add(self.sizes.member(*structure, index)));
                }
            }
            Type::Array { bounds, element } => {
                // One element tells whether there is anything to find; most arrays hold plain values.
                let before = self.regions.len();
                let last = self.regions.last().copied();
                self.inside(*element, address);
                if self.regions.len() == before && self.regions.last().copied() == last {
                    return;
                }
                let stride = self.sizes.size(*element);
                let count = u32::try_from(elements(bounds)).unwrap_or(u32::MAX);
                for index in 1..count {
                    if self.regions.len() > self.limit {
                        return;
                    }
                    self.inside(*element, address.saturating_add(index.saturating_mul(stride)));
                }
            }
            _ => {}
        }
    }

    fn add(&mut self, start: u32, size: u32) {
        if size == 0 {
            return;
        }
        match self.regions.last_mut() {
            Some(last) if last.start.saturating_add(last.size) == start => last.size += size,
            _ => self.regions.push(Region { start, size }),
        }
    }

    /// The regions in the order of their addresses, neighbours joined; `None` if there are too many.
    pub(crate) fn finish(mut self) -> Option<Vec<Region>> {
        if self.regions.len() > self.limit {
            return None;
        }
        self.regions.sort_by_key(|region| region.start);
        let mut joined: Vec<Region> = Vec::new();
        for region in self.regions {
            match joined.last_mut() {
                Some(last) if region.start <= last.start + last.size => {
                    let end = (region.start + region.size).max(last.start + last.size);
                    last.size = end - last.start;
                }
                _ => joined.push(region),
            }
        }
        Some(joined)
    }
}

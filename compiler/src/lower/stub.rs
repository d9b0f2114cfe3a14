//! Function block instances that run under a task of their own.
//!
//! The body works on a copy of the instance. Only when it is done do its variables go back, each block of them in one
//! instruction, which no other task can interrupt; the inputs stay as other tasks have set them meanwhile. Implements
//! the data consistency of IEC 61131-3:2013, 6.8.2.

use latchwork_grammar::tree::SectionKind;
use latchwork_vm::{Family, Scalar};

use super::{code::Argument, unit::Lowering};
use crate::{
    layout::sizes::is_indirect,
    types::{Type, UnitId},
};

impl Lowering<'_> {
    /// What a stub does for a function block instance with a task of its own; nothing in any other unit.
    pub(super) fn tasked_block(&mut self) {
        let context = self.context;
        let stubs = context.program.configuration.as_ref().map(|configuration| &configuration.stubs);
        let block = stubs.and_then(|stubs| stubs.get(&self.id)).and_then(|stub| stub.block.as_ref());
        let Some(block) = block else { return };
        let instance = self.whole(&block.instance);
        let types = &context.program.types;
        match (types.get(types.underlying(block.instance.ty)), block.copy) {
            (Type::Unit(unit), Some(copy)) => {
                let Some(copy) = context.storage.globals.get(copy.0 as usize).copied() else { return };
                let size = self.size(block.instance.ty);
                let place = super::access::Location::Spot(copy);
                self.copy_block(place, instance, size);
                self.emit(Family::CallBlock, Scalar::U8, &[Argument::Unit(*unit), copy.into()]);
                self.code.calls.push((*unit, self.span));
                for (start, end) in self.changed_ranges(*unit) {
                    self.copy_block(instance.plus(start), place.plus(start), end - start);
                }
            }
            (Type::StandardBlock(index), _) => {
                self.block_operation(types.standard_block(*index).operation, instance);
            }
            _ => self.internal("a task can run a function block instance only"),
        }
    }

    /// The parts of an instance that its body changes: all but its inputs, neighbours together.
    fn changed_ranges(&self, unit: UnitId) -> Vec<(u32, u32)> {
        let context = self.context;
        let instance = context.storage.sizes.instance(unit);
        let Some(declared) = context.program.units.get(unit.0 as usize) else { return Vec::new() };
        let mut parts: Vec<(u32, u32, bool)> = Vec::new();
        for (variable, offset) in declared.variables.iter().zip(&instance.offsets) {
            let Some(offset) = *offset else { continue };
            let size = if is_indirect(context.program, variable) { 4 } else { self.size(variable.kind) };
            parts.push((offset, offset.saturating_add(size), variable.section == SectionKind::Input));
        }
        for edge in &instance.edges {
            parts.extend([edge.memory, edge.pulse].map(|offset| (offset, offset.saturating_add(1), false)));
        }
        parts.sort_unstable();
        let mut ranges: Vec<(u32, u32)> = Vec::new();
        let mut after_input = true;
        for (start, end, input) in parts {
            match ranges.last_mut() {
                _ if input => {}
                Some(last) if !after_input => last.1 = last.1.max(end),
                _ => ranges.push((start, end)),
            }
            after_input = input;
        }
        ranges
    }
}

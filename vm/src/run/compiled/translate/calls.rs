//! Calls of units. Small units are put into the code of their callers, also where a dispatch table chooses among few.
//!
//! What is put in keeps its instructions: it counts as they do, looks at the budget where they do, and whatever is rare
//! in it runs in the machine at its own instruction and with its own instance.

use super::super::Entry;
use super::super::support;
use super::facts::Facts;
use super::places::Spot;
use super::unit::{Body, Caller, MEMORY, Translation};
use super::unit_signature;
use crate::instruction::Opcode;
use crate::run::dispatch::Target;
use crate::types::Scalar;
use cranelift_codegen::ir::{Block, InstBuilder, Value, condcodes::IntCC, types};
use cranelift_module::Module;

/// Most units that are put into one another.
const DEEPEST: u32 = 8;

/// Most targets of a dispatch table that are told apart in the code.
const TARGETS: usize = 4;

/// The instance that a unit is called with.
#[derive(Clone, Copy)]
pub(super) struct InstanceBase {
    pub(super) pointer: Value,
    pub(super) spot: Spot,
}

impl Translation<'_> {
    /// The instance of the running unit.
    pub(super) const fn own_instance(&self) -> InstanceBase {
        InstanceBase { pointer: self.body.base, spot: self.body.instance }
    }

    /// The instance at a place.
    pub(super) fn instance_at(&mut self, word: u32) -> InstanceBase {
        InstanceBase { pointer: self.place_pointer(word), spot: self.spot(word) }
    }

    /// The instance at the address that a place holds, with its size.
    pub(super) fn instance_through(
        &mut self,
        word: u32,
        bytes: u32,
        opcode: Opcode,
        operands: &[u32; 4],
    ) -> InstanceBase {
        let pointer = self.through(word, 0, bytes, opcode, operands);
        let inside = self.known_address(word).and_then(|address| address.inside);
        let spot = match inside {
            Some((spot, 0)) => spot,
            _ => {
                let within = inside.map(|(spot, reach)| (spot, reach.saturating_add(bytes)));
                self.instance(pointer, within)
            }
        };
        InstanceBase { pointer, spot }
    }

    /// Calls a known unit.
    pub(super) fn call_unit(&mut self, unit: u32, instance: InstanceBase) {
        let executed = self.counted();
        let depth = self.body.caller.as_ref().map_or(0, |caller| caller.depth);
        let Some(called) = self.shared.image.units.get(unit as usize) else { return };
        let small = self.shared.small.get(unit as usize).copied().unwrap_or(false);
        let fits = called.instruction_count <= self.room && !self.is_too_large();
        if small && depth < DEEPEST && fits {
            self.room -= called.instruction_count;
            self.set_count(executed, called.first_instruction);
            self.put_in(unit, depth + 1, instance);
            return;
        }
        let Some(function) = self.shared.functions.get(unit as usize) else { return };
        self.called.push(unit);
        let function = self.module.declare_func_in_func(*function, self.builder.func);
        let prefix = self.prefix(called.first_instruction);
        let count = self.builder.ins().iadd_imm(executed, -prefix);
        let call = self.builder.ins().call(function, &[self.data, instance.pointer, count, self.context]);
        self.behind_call(call);
    }

    /// Translates a unit in the place of its call.
    fn put_in(&mut self, unit: u32, depth: u32, InstanceBase { pointer, spot }: InstanceBase) {
        let Some(called) = self.shared.image.units.get(unit as usize) else { return };
        // Each write to an instance of which nothing is known would have all of these read again.
        let open = self.is_open(spot);
        let kept = self.kept.clone();
        if open {
            let mut frames = std::mem::take(&mut self.kept);
            frames.retain(|kept| self.in_frame(kept.spot));
            self.kept = frames;
        }
        let block = self.builder.create_block();
        let caller = Caller { index: self.index + 1, block, arrival: None, depth };
        let mut body = Body::new(pointer);
        (body.instance, body.instance_bytes, body.caller) = (spot, called.instance_bytes, Some(caller));
        let (index, body) = (self.index, std::mem::replace(&mut self.body, body));
        self.straight_pieces(called);
        self.index = index;
        let body = std::mem::replace(&mut self.body, body);
        self.facts = body.caller.and_then(|caller| caller.arrival).unwrap_or_default();
        self.builder.switch_to_block(block);
        self.open = true;
        if open {
            for kept in &kept {
                if !self.in_frame(kept.spot) {
                    self.read_kept(kept);
                }
            }
            self.kept = kept;
        }
    }

    /// Goes back to the calling unit.
    pub(super) fn return_to_caller(&mut self) {
        let executed = self.final_count();
        let Some(Caller { index, block, .. }) = self.body.caller else {
            self.builder.ins().return_(&[executed]);
            self.open = false;
            return;
        };
        self.set_count(executed, index);
        if let Some(caller) = &mut self.body.caller {
            self.facts.arrive(&mut caller.arrival);
        }
        self.builder.ins().jump(block, &[]);
        self.open = false;
    }

    /// A call through a dispatch table.
    pub(super) fn call_method(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        let [table, address, ..] = *operands;
        let table = self.shared.code.dispatch.get(table as usize);
        let targets: Vec<Target> =
            table.map(|table| table.targets().take(TARGETS + 1).collect()).unwrap_or_default();
        if targets.len() > TARGETS {
            self.call_through_table(opcode, operands);
            return;
        }
        let pointer = self.through(address, 0, 4, opcode, operands);
        let tag = match self.exact(address) {
            Some(spot) => self.get_spot(spot, 4, types::I32),
            None => self.builder.ins().load(types::I32, MEMORY, pointer, 0),
        };
        let known = self.constant_value(tag);
        let end = self.builder.create_block();
        let mut arrival = None;
        for target in
            targets.into_iter().filter(|target| known.is_none_or(|known| known == i64::from(target.tag)))
        {
            let before = self.facts.clone();
            let others = known.is_none().then(|| self.unless_tag(tag, target.tag));
            let instance = self.instance_through(address, target.instance_bytes, opcode, operands);
            self.note_tag(instance, target.tag);
            self.call_unit(target.unit, instance);
            self.facts.arrive(&mut arrival);
            self.builder.ins().jump(end, &[]);
            self.open = false;
            if let Some(others) = others {
                self.facts = before;
                self.builder.switch_to_block(others);
                self.open = true;
            }
        }
        if self.open {
            self.fault(opcode, operands);
        }
        self.facts = arrival.unwrap_or_default();
        self.builder.switch_to_block(end);
        self.open = true;
    }

    /// Goes on where an instance has a tag. The result is the block where it has another.
    fn unless_tag(&mut self, tag: Value, wanted: u32) -> Block {
        let [own, others] = [self.builder.create_block(), self.builder.create_block()];
        let same = self.builder.ins().icmp_imm(IntCC::Equal, tag, i64::from(wanted));
        self.builder.ins().brif(same, own, &[], others, &[]);
        self.builder.switch_to_block(own);
        others
    }

    /// Notes the tag of an instance, for calls of its own methods.
    fn note_tag(&mut self, instance: InstanceBase, tag: u32) {
        let (spot, bytes) = (instance.spot, 4);
        let value = self.number32(tag);
        self.facts.known.retain(|known| known.spot != spot || known.bytes != bytes);
        self.note(spot, value);
    }

    /// A call through a dispatch table with many targets.
    fn call_through_table(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        let [table, address, ..] = *operands;
        if let Some(table) = self.shared.code.dispatch.get(table as usize) {
            self.called.extend(table.targets().map(|target| target.unit));
        }
        let address = self.get(address, Scalar::U32);
        let table = self.number32(table);
        let function = support::enter as unsafe extern "C" fn(_, _, _) -> _ as usize;
        let context = self.context;
        let kinds = [types::I64, types::I32, types::I32];
        let entry = self.call(function, &kinds, Some(types::I64), &[context, table, address]);
        let missing = self.builder.ins().icmp_imm(IntCC::Equal, entry, 0);
        self.check(missing, opcode, operands);
        let executed = self.counted();
        let function = self.builder.ins().load(types::I64, MEMORY, entry, Entry::FUNCTION);
        let prefix = self.builder.ins().load(types::I64, MEMORY, entry, Entry::PREFIX);
        let count = self.builder.ins().isub(executed, prefix);
        let address = self.builder.ins().uextend(types::I64, address);
        let base = self.builder.ins().iadd(self.data, address);
        let signature = self.builder.import_signature(unit_signature(self.shared.convention));
        let call = self.builder.ins().call_indirect(signature, function, &[self.data, base, count, context]);
        self.behind_call(call);
    }

    /// Goes on behind a call of a function of its own.
    fn behind_call(&mut self, call: cranelift_codegen::ir::Inst) {
        let executed = self.builder.inst_results(call).first().copied();
        self.end_if_stopped();
        if let Some(executed) = executed {
            self.set_count(executed, self.index + 1);
        }
        self.facts = Facts::default();
        self.read_all_kept();
    }
}

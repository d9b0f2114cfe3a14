//! Standard function blocks without timers: bistables, edge triggers, counters; and the instances of all blocks.
//!
//! What they do is told in `run::handlers::blocks`. Here it is code without branches, whose inputs are mostly in
//! registers, where the instructions before have put them.

use super::places::{Spot, kind};
use super::unit::{MEMORY, Translation};
use crate::block::{BistableLayout, CounterLayout, TriggerLayout, UpDownLayout};
use crate::instruction::{Family, Opcode, OperandKind};
use crate::types::Scalar;
use cranelift_codegen::ir::{InstBuilder, Type, Value, condcodes::IntCC};

/// The instance that an instruction works on, with all of its bytes inside the data image.
#[derive(Clone, Copy)]
pub(super) struct Instance {
    /// Where it lies, if that is known.
    spot: Option<Spot>,
    pointer: Value,
    offset: i32,
    bytes: u32,
}

/// What an instance of a block is; `None` for other instructions.
const fn instance_kind(family: Family) -> Option<OperandKind> {
    Some(match family {
        Family::SetDominant | Family::SetDominantAt | Family::ResetDominant | Family::ResetDominantAt => {
            OperandKind::Bistable
        }
        Family::RisingEdge | Family::RisingEdgeAt | Family::FallingEdge | Family::FallingEdgeAt => {
            OperandKind::Trigger
        }
        Family::CountUp
        | Family::CountUpAt
        | Family::CountDown
        | Family::CountDownAt
        | Family::LoadCount
        | Family::LoadCountAt => OperandKind::Counter,
        Family::CountUpDown | Family::CountUpDownAt | Family::CompareCount | Family::CompareCountAt => {
            OperandKind::UpDownCounter
        }
        Family::Pulse
        | Family::PulseAt
        | Family::OnDelay
        | Family::OnDelayAt
        | Family::OffDelay
        | Family::OffDelayAt => OperandKind::Timer,
        _ => return None,
    })
}

/// Whether an instruction is a block on an instance at an address, which may be any.
pub(super) fn at_address(opcode: Opcode) -> bool {
    instance_kind(opcode.family()).is_some() && opcode.operands() == [OperandKind::Address]
}

/// Least and greatest value of a counter, as bits.
const fn limits(scalar: Scalar) -> (u64, u64) {
    let bits = 8 * scalar.size();
    match scalar {
        Scalar::U8 | Scalar::U16 | Scalar::U32 | Scalar::U64 => (0, u64::MAX >> (64 - bits)),
        _ => (1 << (bits - 1), u64::MAX >> (65 - bits)),
    }
}

impl Translation<'_> {
    /// Translates the standard function blocks; tells whether the instruction was one of these.
    pub(super) fn block_run(&mut self, opcode: Opcode, operands: &[u32; 4]) -> bool {
        let (family, scalar) = (opcode.family(), opcode.scalar());
        let Some(bytes) = instance_kind(family).and_then(|kind| kind.instance_bytes(scalar)) else {
            return false;
        };
        let [at, ..] = *operands;
        let instance = if at_address(opcode) {
            let pointer = self.through(at, 0, bytes, opcode, operands);
            Instance { spot: self.exact(at), pointer, offset: 0, bytes }
        } else {
            let spot = self.spot(at);
            let (pointer, offset) = self.pointer(spot);
            Instance { spot: Some(spot), pointer, offset, bytes }
        };
        match family {
            Family::SetDominant | Family::SetDominantAt => self.bistable(instance, true),
            Family::ResetDominant | Family::ResetDominantAt => self.bistable(instance, false),
            Family::RisingEdge | Family::RisingEdgeAt => self.trigger(instance, true),
            Family::FallingEdge | Family::FallingEdgeAt => self.trigger(instance, false),
            Family::CountUp | Family::CountUpAt => self.count_up(instance, scalar),
            Family::CountDown | Family::CountDownAt => self.count_down(instance, scalar),
            Family::LoadCount | Family::LoadCountAt => {
                let layout = CounterLayout::of_width(scalar.size());
                let preset = self.member(instance, layout.pv, scalar);
                self.counted_down(instance, scalar, preset);
            }
            Family::CountUpDown | Family::CountUpDownAt => self.count_both_ways(instance, scalar),
            Family::CompareCount | Family::CompareCountAt => {
                let layout = UpDownLayout::of_width(scalar.size());
                let count = self.member(instance, layout.cv, scalar);
                let preset = self.member(instance, layout.pv, scalar);
                self.counted_both_ways(instance, scalar, (count, preset));
            }
            Family::Pulse | Family::PulseAt => self.pulse(instance),
            Family::OnDelay | Family::OnDelayAt => self.on_delay(instance),
            _ => self.off_delay(instance),
        }
        true
    }

    /// A member of an instance; not in a block that the code behind the instruction does not always come from.
    pub(super) fn member(&mut self, instance: Instance, offset: u32, scalar: Scalar) -> Value {
        match instance.spot {
            Some(spot) => self.get_spot(spot.behind(offset), scalar.size(), kind(scalar)),
            None => self.load_member(instance, offset, kind(scalar)),
        }
    }

    /// A BOOL member of an instance as 0 or 1; where [`Translation::member`] may be used.
    pub(super) fn level(&mut self, instance: Instance, offset: u32) -> Value {
        let value = self.member(instance, offset, Scalar::U8);
        self.builder.ins().icmp_imm(IntCC::NotEqual, value, 0)
    }

    /// Reads a member itself.
    pub(super) fn load_member(&mut self, instance: Instance, offset: u32, kind: Type) -> Value {
        // Instances are far smaller than 2^31 bytes, and so is the data image.
        self.builder.ins().load(kind, MEMORY, instance.pointer, instance.offset + offset as i32)
    }

    /// Writes a member. What is known of the instance is not right any more until [`Translation::written`].
    pub(super) fn store_member(&mut self, instance: Instance, offset: u32, value: Value) {
        self.builder.ins().store(MEMORY, value, instance.pointer, instance.offset + offset as i32);
    }

    /// Forgets what was known of an instance, and notes values of members.
    pub(super) fn written(&mut self, instance: Instance, members: &[(u32, Value)]) {
        let Some(spot) = instance.spot else { return self.forget_reachable() };
        self.forget_span((spot, instance.bytes));
        for (offset, value) in members {
            self.note(spot.behind(*offset), *value);
        }
    }

    /// Whether a level has become TRUE since the last call; keeps it in the memory at an offset.
    pub(super) fn rising(&mut self, instance: Instance, now: Value, memory: u32) -> Value {
        let before = self.member(instance, memory, Scalar::U8);
        let low = self.builder.ins().icmp_imm(IntCC::Equal, before, 0);
        self.store_member(instance, memory, now);
        self.builder.ins().band(now, low)
    }

    fn bistable(&mut self, instance: Instance, set_dominant: bool) {
        let set = self.level(instance, BistableLayout::SET);
        let reset = self.level(instance, BistableLayout::RESET);
        let state = self.level(instance, BistableLayout::Q1);
        let stays = self.builder.ins().bxor_imm(reset, 1);
        let state = if set_dominant {
            let held = self.builder.ins().band(stays, state);
            self.builder.ins().bor(set, held)
        } else {
            let either = self.builder.ins().bor(set, state);
            self.builder.ins().band(stays, either)
        };
        self.store_member(instance, BistableLayout::Q1, state);
        self.written(instance, &[(BistableLayout::Q1, state)]);
    }

    fn trigger(&mut self, instance: Instance, rising: bool) {
        let clock = self.member(instance, TriggerLayout::CLK, Scalar::U8);
        let condition = if rising { IntCC::NotEqual } else { IntCC::Equal };
        let now = self.builder.ins().icmp_imm(condition, clock, 0);
        let edge = self.rising(instance, now, TriggerLayout::MEMORY);
        self.store_member(instance, TriggerLayout::Q, edge);
        self.written(instance, &[(TriggerLayout::Q, edge), (TriggerLayout::MEMORY, now)]);
    }

    /// A limit of a counter.
    fn limit(&mut self, bits: u64, scalar: Scalar) -> Value {
        self.builder.ins().iconst(kind(scalar), bits as i64)
    }

    /// 1 where a counter is to step and has not come to its limit, otherwise 0; as wide as the counter.
    fn stepped(&mut self, edge: Value, count: Value, limit: u64, scalar: Scalar) -> Value {
        let limit = self.limit(limit, scalar);
        let room = self.builder.ins().icmp(IntCC::NotEqual, count, limit);
        let step = self.builder.ins().band(edge, room);
        self.builder.ins().uextend(kind(scalar), step)
    }

    fn count_up(&mut self, instance: Instance, scalar: Scalar) {
        let layout = CounterLayout::of_width(scalar.size());
        let now = self.level(instance, layout.count);
        let edge = self.rising(instance, now, layout.memory);
        let reset = self.level(instance, layout.level);
        let (preset, count) =
            (self.member(instance, layout.pv, scalar), self.member(instance, layout.cv, scalar));
        let step = self.stepped(edge, count, limits(scalar).1, scalar);
        let counted = self.builder.ins().iadd(count, step);
        let zero = self.limit(0, scalar);
        let count = self.builder.ins().select(reset, zero, counted);
        let reached = self.compared(Family::LessOrEqual, scalar, preset, count);
        self.store_member(instance, layout.cv, count);
        self.store_member(instance, layout.q, reached);
        self.written(instance, &[(layout.cv, count), (layout.q, reached)]);
    }

    fn count_down(&mut self, instance: Instance, scalar: Scalar) {
        let layout = CounterLayout::of_width(scalar.size());
        let now = self.level(instance, layout.count);
        let edge = self.rising(instance, now, layout.memory);
        let load = self.level(instance, layout.level);
        let (preset, count) =
            (self.member(instance, layout.pv, scalar), self.member(instance, layout.cv, scalar));
        let step = self.stepped(edge, count, limits(scalar).0, scalar);
        let counted = self.builder.ins().isub(count, step);
        let count = self.builder.ins().select(load, preset, counted);
        self.counted_down(instance, scalar, count);
    }

    /// The outputs of CTD.
    fn counted_down(&mut self, instance: Instance, scalar: Scalar, count: Value) {
        let layout = CounterLayout::of_width(scalar.size());
        let zero = self.limit(0, scalar);
        let done = self.compared(Family::LessOrEqual, scalar, count, zero);
        self.store_member(instance, layout.cv, count);
        self.store_member(instance, layout.q, done);
        self.written(instance, &[(layout.cv, count), (layout.q, done)]);
    }

    fn count_both_ways(&mut self, instance: Instance, scalar: Scalar) {
        let layout = UpDownLayout::of_width(scalar.size());
        let (up, down) = (self.level(instance, layout.up), self.level(instance, layout.down));
        let (reset, load) = (self.level(instance, layout.reset), self.level(instance, layout.load));
        let up = self.rising(instance, up, layout.up_memory);
        let down = self.rising(instance, down, layout.down_memory);
        let (preset, count) =
            (self.member(instance, layout.pv, scalar), self.member(instance, layout.cv, scalar));
        // Edges of both inputs at once count for nothing.
        let (only_up, only_down) =
            (self.builder.ins().band_not(up, down), self.builder.ins().band_not(down, up));
        let (least, greatest) = limits(scalar);
        let upwards = self.stepped(only_up, count, greatest, scalar);
        let downwards = self.stepped(only_down, count, least, scalar);
        let counted = self.builder.ins().iadd(count, upwards);
        let counted = self.builder.ins().isub(counted, downwards);
        let count = self.builder.ins().select(load, preset, counted);
        let zero = self.limit(0, scalar);
        let count = self.builder.ins().select(reset, zero, count);
        self.store_member(instance, layout.cv, count);
        self.counted_both_ways(instance, scalar, (count, preset));
    }

    /// The outputs of CTUD besides CV.
    fn counted_both_ways(&mut self, instance: Instance, scalar: Scalar, (count, preset): (Value, Value)) {
        let layout = UpDownLayout::of_width(scalar.size());
        let zero = self.limit(0, scalar);
        let upper = self.compared(Family::LessOrEqual, scalar, preset, count);
        let lower = self.compared(Family::LessOrEqual, scalar, count, zero);
        self.store_member(instance, layout.qu, upper);
        self.store_member(instance, layout.qd, lower);
        self.written(instance, &[(layout.cv, count), (layout.qu, upper), (layout.qd, lower)]);
    }
}

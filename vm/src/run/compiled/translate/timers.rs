//! The timers TP, TON and TOF, whose usual ways are a few instructions each.
//!
//! What they do is told in `run::handlers::blocks`. A state that is none of the three is kept, as there.

use super::super::support::Context;
use super::blocks::Instance;
use super::unit::{MEMORY, Translation};
use crate::block::TimerLayout;
use crate::types::Scalar;
use cranelift_codegen::ir::{Block, InstBuilder, Type, Value, condcodes::IntCC, types};

const IDLE: i64 = TimerLayout::IDLE as i64;
const RUNNING: i64 = TimerLayout::RUNNING as i64;
const ELAPSED: i64 = TimerLayout::ELAPSED as i64;

impl Translation<'_> {
    fn now(&mut self) -> Value {
        self.builder.ins().load(types::I64, MEMORY, self.context, Context::NOW)
    }

    fn small(&mut self, number: i64) -> Value {
        self.builder.ins().iconst(types::I8, number)
    }

    fn pieces<const COUNT: usize>(&mut self) -> [Block; COUNT] {
        [(); COUNT].map(|()| self.builder.create_block())
    }

    /// A block with parameters, to which the ways that lead there give values.
    fn meeting<const COUNT: usize>(&mut self, kinds: [Type; COUNT]) -> (Block, [Value; COUNT]) {
        let block = self.builder.create_block();
        (block, kinds.map(|kind| self.builder.append_block_param(block, kind)))
    }

    /// Goes on at one block where a state is the given one, otherwise at another.
    fn go_where(&mut self, state: Value, wanted: i64, there: Block, otherwise: Block) {
        let same = self.builder.ins().icmp_imm(IntCC::Equal, state, wanted);
        self.builder.ins().brif(same, there, &[], otherwise, &[]);
    }

    /// PT, and 0 where it is negative; where [`Translation::member`] may be used.
    fn preset(&mut self, instance: Instance) -> Value {
        let preset = self.member(instance, TimerLayout::PT, Scalar::I64);
        let zero = self.number(0);
        let negative = self.builder.ins().icmp_imm(IntCC::SignedLessThan, preset, 0);
        self.builder.ins().select(negative, zero, preset)
    }

    /// Lets a running delay or pulse that began at a time go on: to its end at PT, otherwise ET follows the time. The
    /// result is the state, and whether it has just come to its end.
    fn advance(&mut self, instance: Instance, preset: Value, begin: Value) -> (Value, Value) {
        let now = self.now();
        let (difference, outside) = self.builder.ins().ssub_overflow(now, begin);
        let (next, [elapsed]) = self.meeting([types::I64]);
        let beyond = self.cold();
        self.builder.ins().brif(outside, beyond, &[], next, &[difference.into()]);
        self.builder.switch_to_block(beyond);
        let negative = self.builder.ins().icmp_imm(IntCC::SignedLessThan, now, 0);
        let (least, greatest) = (self.number(i64::MIN), self.number(i64::MAX));
        let limit = self.builder.ins().select(negative, least, greatest);
        self.builder.ins().jump(next, &[limit.into()]);
        self.builder.switch_to_block(next);
        let over = self.builder.ins().icmp(IntCC::SignedGreaterThanOrEqual, elapsed, preset);
        let shown = self.builder.ins().select(over, preset, elapsed);
        self.store_member(instance, TimerLayout::ET, shown);
        // One more than a running one.
        let running = self.small(RUNNING);
        let state = self.builder.ins().iadd(running, over);
        (state, over)
    }

    /// Goes on at a block with the time at which a running timer has begun.
    fn since(&mut self, instance: Instance, going: Block) {
        let begin = self.load_member(instance, TimerLayout::START, types::I64);
        self.builder.ins().jump(going, &[begin.into()]);
    }

    /// Begins a delay or pulse now, and goes on at a block with the time.
    fn start(&mut self, instance: Instance, going: Block) {
        let now = self.now();
        self.store_member(instance, TimerLayout::START, now);
        self.builder.ins().jump(going, &[now.into()]);
    }

    pub(super) fn on_delay(&mut self, instance: Instance) {
        let input = self.level(instance, TimerLayout::IN);
        let preset = self.preset(instance);
        let [on, off, runs, rests, begins, held] = self.pieces();
        let (going, [begin]) = self.meeting([types::I64]);
        let (end, [output]) = self.meeting([types::I8]);
        self.builder.ins().brif(input, on, &[], off, &[]);

        self.builder.switch_to_block(off);
        let (low, none) = (self.small(0), self.number(0));
        self.store_member(instance, TimerLayout::Q, low);
        self.store_member(instance, TimerLayout::STATE, low);
        self.store_member(instance, TimerLayout::ET, none);
        self.builder.ins().jump(end, &[low.into()]);

        self.builder.switch_to_block(on);
        let state = self.load_member(instance, TimerLayout::STATE, types::I8);
        self.go_where(state, RUNNING, runs, rests);
        self.builder.switch_to_block(runs);
        self.since(instance, going);
        self.builder.switch_to_block(rests);
        self.go_where(state, IDLE, begins, held);
        self.builder.switch_to_block(begins);
        self.start(instance, going);

        self.builder.switch_to_block(going);
        let (state, over) = self.advance(instance, preset, begin);
        self.store_member(instance, TimerLayout::STATE, state);
        self.store_member(instance, TimerLayout::Q, over);
        self.builder.ins().jump(end, &[over.into()]);

        self.builder.switch_to_block(held);
        let before = self.load_member(instance, TimerLayout::Q, types::I8);
        self.builder.ins().jump(end, &[before.into()]);

        self.builder.switch_to_block(end);
        self.written(instance, &[(TimerLayout::Q, output)]);
    }

    pub(super) fn off_delay(&mut self, instance: Instance) {
        let input = self.level(instance, TimerLayout::IN);
        let before = self.member(instance, TimerLayout::MEMORY, Scalar::U8);
        let preset = self.preset(instance);
        let [on, off, begins, rests, runs, held] = self.pieces();
        let (going, [begin]) = self.meeting([types::I64]);
        let (end, [output]) = self.meeting([types::I8]);
        self.store_member(instance, TimerLayout::MEMORY, input);
        self.builder.ins().brif(input, on, &[], off, &[]);

        self.builder.switch_to_block(on);
        let (high, idle, none) = (self.small(1), self.small(IDLE), self.number(0));
        self.store_member(instance, TimerLayout::Q, high);
        self.store_member(instance, TimerLayout::STATE, idle);
        self.store_member(instance, TimerLayout::ET, none);
        self.builder.ins().jump(end, &[high.into()]);

        self.builder.switch_to_block(off);
        self.builder.ins().brif(before, begins, &[], rests, &[]);
        self.builder.switch_to_block(begins);
        self.start(instance, going);
        self.builder.switch_to_block(rests);
        let state = self.load_member(instance, TimerLayout::STATE, types::I8);
        self.go_where(state, RUNNING, runs, held);
        self.builder.switch_to_block(runs);
        self.since(instance, going);

        self.builder.switch_to_block(going);
        let (state, over) = self.advance(instance, preset, begin);
        self.store_member(instance, TimerLayout::STATE, state);
        let shown = self.load_member(instance, TimerLayout::Q, types::I8);
        let low = self.small(0);
        let shown = self.builder.ins().select(over, low, shown);
        self.store_member(instance, TimerLayout::Q, shown);
        self.builder.ins().jump(end, &[shown.into()]);

        self.builder.switch_to_block(held);
        let shown = self.load_member(instance, TimerLayout::Q, types::I8);
        self.builder.ins().jump(end, &[shown.into()]);

        self.builder.switch_to_block(end);
        self.written(instance, &[(TimerLayout::Q, output), (TimerLayout::MEMORY, input)]);
    }

    pub(super) fn pulse(&mut self, instance: Instance) {
        let input = self.level(instance, TimerLayout::IN);
        let edge = self.rising(instance, input, TimerLayout::MEMORY);
        let preset = self.preset(instance);
        let [runs, ends, done, rests, begins, ready] = self.pieces();
        let (advanced, [state]) = self.meeting([types::I8]);
        let (end, [left]) = self.meeting([types::I8]);
        let before = self.load_member(instance, TimerLayout::STATE, types::I8);
        let running = self.builder.ins().icmp_imm(IntCC::Equal, before, RUNNING);
        self.builder.ins().brif(running, runs, &[], advanced, &[before.into()]);

        self.builder.switch_to_block(runs);
        let begin = self.load_member(instance, TimerLayout::START, types::I64);
        let (after, _) = self.advance(instance, preset, begin);
        self.builder.ins().jump(advanced, &[after.into()]);

        // A pulse that is over ends where IN allows a new start.
        self.builder.switch_to_block(advanced);
        self.go_where(state, ELAPSED, ends, rests);
        self.builder.switch_to_block(ends);
        let falls = self.builder.ins().bxor_imm(input, 1);
        let allowed = self.builder.ins().bor(falls, edge);
        self.builder.ins().brif(allowed, done, &[], end, &[state.into()]);
        self.builder.switch_to_block(done);
        let (none, idle) = (self.number(0), self.small(IDLE));
        self.store_member(instance, TimerLayout::ET, none);
        self.builder.ins().brif(edge, begins, &[], end, &[idle.into()]);

        self.builder.switch_to_block(rests);
        self.builder.ins().brif(edge, ready, &[], end, &[state.into()]);
        self.builder.switch_to_block(ready);
        let idle = self.builder.ins().icmp_imm(IntCC::Equal, state, IDLE);
        self.builder.ins().brif(idle, begins, &[], end, &[state.into()]);

        // No time has passed since its beginning, so that ET is 0 in any case.
        self.builder.switch_to_block(begins);
        let (now, none) = (self.now(), self.number(0));
        self.store_member(instance, TimerLayout::START, now);
        self.store_member(instance, TimerLayout::ET, none);
        let empty = self.builder.ins().icmp_imm(IntCC::Equal, preset, 0);
        let running = self.small(RUNNING);
        let begun = self.builder.ins().iadd(running, empty);
        self.builder.ins().jump(end, &[begun.into()]);

        self.builder.switch_to_block(end);
        let output = self.builder.ins().icmp_imm(IntCC::Equal, left, RUNNING);
        self.store_member(instance, TimerLayout::STATE, left);
        self.store_member(instance, TimerLayout::Q, output);
        self.written(instance, &[(TimerLayout::Q, output), (TimerLayout::MEMORY, input)]);
    }
}

//! Jumps and loops.

use super::super::support::Context;
use super::arithmetic::is_signed;
use super::places::kind;
use super::unit::{MEMORY, Translation};
use crate::instruction::{Family, Opcode};
use crate::types::Scalar;
use cranelift_codegen::ir::{InstBuilder, Value, condcodes::IntCC, types};

impl Translation<'_> {
    /// Translates what decides how it goes on; tells whether the instruction was one of these.
    pub(super) fn controlled(&mut self, opcode: Opcode, operands: &[u32; 4]) -> bool {
        let [a, b, c, d] = *operands;
        match opcode.family() {
            Family::Jump => self.jump(self.index.wrapping_add(a)),
            Family::JumpIf | Family::JumpUnless => {
                let condition = self.get(a, Scalar::U8);
                self.branch(condition, opcode.family() == Family::JumpIf, self.index.wrapping_add(b));
            }
            Family::ForEnter => self.enter_loop(opcode, operands, self.index.wrapping_add(d)),
            Family::ForNext => self.next_pass(opcode, [a, b, c], self.index.wrapping_add(d)),
            Family::Return => self.return_to_caller(),
            Family::Call => {
                let instance = self.own_instance();
                self.call_unit(self.called_unit(a), instance);
            }
            Family::CallBlock => {
                let instance = self.instance_at(b);
                self.call_unit(self.called_unit(a), instance);
            }
            Family::CallBlockAt => {
                // The decoder puts the size of the instance behind the operands.
                let instance = self.instance_through(b, c, opcode, operands);
                self.call_unit(self.called_unit(a), instance);
            }
            Family::CallMethod => self.call_method(opcode, operands),
            Family::Now => {
                let now = self.builder.ins().load(types::I64, MEMORY, self.context, Context::NOW);
                self.set(a, now);
            }
            _ => return false,
        }
        true
    }

    /// The unit that begins so far from the current instruction.
    fn called_unit(&self, distance: u32) -> u32 {
        self.shared.code.units.of(self.index.wrapping_add(distance))
    }

    /// Goes on at the target where the condition is `when`, otherwise behind the instruction.
    fn branch(&mut self, condition: Value, when: bool, target: u32) {
        let taken = self.builder.create_block();
        let Some(next) = self.block(self.index + 1) else { return };
        self.arrive(self.index + 1);
        if when {
            self.builder.ins().brif(condition, taken, &[], next, &[]);
        } else {
            self.builder.ins().brif(condition, next, &[], taken, &[]);
        }
        self.builder.switch_to_block(taken);
        self.jump(target);
    }

    /// Whether a control variable has passed the final value of its loop.
    fn beyond(&mut self, scalar: Scalar, value: Value, limit: Value, step: (u32, Value)) -> Value {
        let above = self.compared(Family::Less, scalar, limit, value);
        let ascending = match self.known_integer(step.0, scalar) {
            Some(number) => {
                return if number > 0 { above } else { self.compared(Family::Less, scalar, value, limit) };
            }
            // A step of 0 goes downwards, as in the plain instruction.
            None if !is_signed(scalar) => self.builder.ins().icmp_imm(IntCC::NotEqual, step.1, 0),
            None => self.builder.ins().icmp_imm(IntCC::SignedGreaterThan, step.1, 0),
        };
        let below = self.compared(Family::Less, scalar, value, limit);
        self.builder.ins().select(ascending, above, below)
    }

    fn enter_loop(&mut self, opcode: Opcode, operands: &[u32; 4], exit: u32) {
        let scalar = opcode.scalar();
        let [control, limit, step, _] = *operands;
        let (value, last, by) = (self.get(control, scalar), self.get(limit, scalar), self.get(step, scalar));
        if self.known_integer(step, scalar).is_none_or(|step| step == 0) {
            let [slow, next] = [self.cold(), self.builder.create_block()];
            let zero = self.builder.ins().icmp_imm(IntCC::Equal, by, 0);
            self.builder.ins().brif(zero, slow, &[], next, &[]);
            self.builder.switch_to_block(slow);
            self.write_operands_for_step(opcode, operands);
            // The event of a step of 0; then the loop is left out.
            self.run_plain();
            self.jump(exit);
            self.builder.switch_to_block(next);
            self.open = true;
        }
        let beyond = self.beyond(scalar, value, last, (step, by));
        self.branch(beyond, true, exit);
    }

    fn next_pass(&mut self, opcode: Opcode, [control, limit, step]: [u32; 3], back: u32) {
        let scalar = opcode.scalar();
        if let (Some(last), Some(by @ 1..), Some(greatest)) =
            (self.known_integer(limit, scalar), self.known_integer(step, scalar), greatest(scalar))
            && last - by > -greatest
        {
            self.counted_pass(scalar, control, (last, by, greatest), back);
            return;
        }
        let (value, last, by) = (self.get(control, scalar), self.get(limit, scalar), self.get(step, scalar));
        let (next, wrapped) = self.integer(Family::Add, scalar, value, by);
        // Where the next value does not exist in the type the loop has passed its limit, and the value stays.
        let kept = self.builder.ins().select(wrapped, value, next);
        let beyond = self.beyond(scalar, next, last, (step, by));
        self.set(control, kept);
        let over = self.builder.ins().bor(wrapped, beyond);
        self.branch(over, false, back);
    }

    /// The end of a loop with constant limit and step: one comparison decides.
    fn counted_pass(
        &mut self,
        scalar: Scalar,
        control: u32,
        (last, by, greatest): (i64, i64, i64),
        back: u32,
    ) {
        let value = self.get(control, scalar);
        let next = self.builder.ins().iadd_imm(value, by);
        let bound = self.builder.ins().iconst(kind(scalar), last - by);
        // The other way round the code of a pass would not lie in one piece.
        let beyond = self.compared(Family::Less, scalar, bound, value);
        let (again, over) = (self.builder.create_block(), self.builder.create_block());
        self.builder.ins().brif(beyond, over, &[], again, &[]);
        self.builder.switch_to_block(over);
        // Where the next value does not exist in the type the value stays.
        let bound = self.builder.ins().iconst(kind(scalar), greatest - by);
        let exists = self.compared(Family::LessOrEqual, scalar, value, bound);
        let left = self.builder.ins().select(exists, next, value);
        let facts = self.facts.clone();
        self.set(control, left);
        if let Some(behind) = self.block(self.index + 1) {
            self.arrive(self.index + 1);
            self.builder.ins().jump(behind, &[]);
        }
        self.builder.switch_to_block(again);
        self.facts = facts;
        self.set(control, next);
        self.jump(back);
    }
}

/// The greatest value of the scalars that loops mostly count in.
const fn greatest(scalar: Scalar) -> Option<i64> {
    match scalar {
        Scalar::I8 => Some(0x7f),
        Scalar::I16 => Some(0x7fff),
        Scalar::I32 => Some(0x7fff_ffff),
        _ => None,
    }
}

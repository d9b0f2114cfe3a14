//! Bits and Booleans.

use super::places::kind;
use super::unit::Translation;
use crate::instruction::{Family, Opcode};
use crate::types::Scalar;
use cranelift_codegen::ir::{InstBuilder, condcodes::IntCC};

impl Translation<'_> {
    /// Translates what combines bits; tells whether the instruction was one of these.
    pub(super) fn combined(&mut self, opcode: Opcode, operands: &[u32; 4]) -> bool {
        let [to, left, right, _] = *operands;
        let scalar = opcode.scalar();
        let result = match opcode.family() {
            Family::Complement => {
                let value = self.get(left, scalar);
                self.builder.ins().bnot(value)
            }
            Family::Not => {
                let value = self.get(left, scalar);
                self.builder.ins().bxor_imm(value, 1)
            }
            Family::ShiftLeft | Family::ShiftRight | Family::RotateLeft | Family::RotateRight => {
                return self.shifted(opcode, operands);
            }
            family => {
                let known = matches!(
                    family,
                    Family::And
                        | Family::Or
                        | Family::Xor
                        | Family::BoolAnd
                        | Family::BoolOr
                        | Family::BoolXor
                        | Family::BoolEqual
                        | Family::AndNot
                        | Family::OrNot
                );
                if !known {
                    return false;
                }
                let (a, b) = (self.get(left, scalar), self.get(right, scalar));
                match family {
                    Family::And | Family::BoolAnd => self.builder.ins().band(a, b),
                    Family::Or | Family::BoolOr => self.builder.ins().bor(a, b),
                    Family::Xor | Family::BoolXor => self.builder.ins().bxor(a, b),
                    Family::BoolEqual => {
                        let differ = self.builder.ins().bxor(a, b);
                        self.builder.ins().bxor_imm(differ, 1)
                    }
                    Family::AndNot => {
                        let b = self.builder.ins().bxor_imm(b, 1);
                        self.builder.ins().band(a, b)
                    }
                    _ => {
                        let b = self.builder.ins().bxor_imm(b, 1);
                        self.builder.ins().bor(a, b)
                    }
                }
            }
        };
        self.set(to, result);
        true
    }

    /// Shifts and rotations. A negative count is left to the plain instruction.
    fn shifted(&mut self, opcode: Opcode, operands: &[u32; 4]) -> bool {
        let [to, left, right, _] = *operands;
        let scalar = opcode.scalar();
        let bits = i64::from(8 * scalar.size());
        let value = self.get(left, scalar);
        let count = self.get(right, Scalar::I64);
        let shifts = matches!(opcode.family(), Family::ShiftLeft | Family::ShiftRight);
        let moved = match opcode.family() {
            Family::ShiftLeft => self.builder.ins().ishl(value, count),
            Family::ShiftRight => self.builder.ins().ushr(value, count),
            Family::RotateLeft => self.builder.ins().rotl(value, count),
            _ => self.builder.ins().rotr(value, count),
        };
        let known = self.known_integer(right, Scalar::I64);
        let result = if !shifts || known.is_some_and(|count| (0..bits).contains(&count)) {
            moved
        } else {
            // The processor takes the count modulo the width.
            let zero = self.builder.ins().iconst(kind(scalar), 0);
            let all = self.builder.ins().icmp_imm(IntCC::UnsignedGreaterThanOrEqual, count, bits);
            self.builder.ins().select(all, zero, moved)
        };
        if known.is_some_and(|count| count >= 0) {
            self.set(to, result);
        } else {
            let negative = self.builder.ins().icmp_imm(IntCC::SignedLessThan, count, 0);
            self.result(negative, result, opcode, operands);
        }
        true
    }
}

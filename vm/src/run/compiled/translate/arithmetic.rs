//! Arithmetic, comparison and selection.

use super::places::kind;
use super::unit::Translation;
use crate::instruction::{Family, Opcode};
use crate::types::Scalar;
use cranelift_codegen::ir::{
    InstBuilder, MemFlags, Value,
    condcodes::{FloatCC, IntCC},
    types,
};

/// Whether a scalar is a real.
pub(super) const fn is_real(scalar: Scalar) -> bool {
    matches!(scalar, Scalar::F32 | Scalar::F64)
}

/// Whether a scalar is an integer with a sign.
pub(super) const fn is_signed(scalar: Scalar) -> bool {
    matches!(scalar, Scalar::I8 | Scalar::I16 | Scalar::I32 | Scalar::I64)
}

impl Translation<'_> {
    /// Translates what calculates and compares; tells whether the instruction was one of these.
    pub(super) fn calculated(&mut self, opcode: Opcode, operands: &[u32; 4]) -> bool {
        let [to, left, right, third] = *operands;
        let scalar = opcode.scalar();
        match opcode.family() {
            Family::Add | Family::Subtract | Family::Multiply | Family::Divide if is_real(scalar) => {
                self.note_operands(opcode, operands);
                let (a, b) = (self.get(left, scalar), self.get(right, scalar));
                let result = match opcode.family() {
                    Family::Add => self.builder.ins().fadd(a, b),
                    Family::Subtract => self.builder.ins().fsub(a, b),
                    Family::Multiply => self.builder.ins().fmul(a, b),
                    _ => self.builder.ins().fdiv(a, b),
                };
                self.real_result(result, opcode, operands);
            }
            Family::Add | Family::Subtract | Family::Multiply => {
                let (a, b) = (self.get(left, scalar), self.get(right, scalar));
                let (result, rare) = self.integer(opcode.family(), scalar, a, b);
                self.result(rare, result, opcode, operands);
            }
            Family::Divide | Family::Modulo => self.quotient(opcode, operands),
            Family::Negate if is_real(scalar) => {
                self.note_operands(opcode, operands);
                let value = self.get(left, scalar);
                let result = self.builder.ins().fneg(value);
                self.real_result(result, opcode, operands);
            }
            Family::Absolute if is_real(scalar) => {
                let value = self.get(left, scalar);
                let result = self.builder.ins().fabs(value);
                let rare = self.not_finite(result);
                self.result(rare, result, opcode, operands);
            }
            Family::Negate | Family::Absolute => {
                let value = self.get(left, scalar);
                let negated = self.builder.ins().ineg(value);
                let least = self.builder.ins().icmp(IntCC::Equal, value, negated);
                let zero = self.builder.ins().icmp_imm(IntCC::Equal, value, 0);
                // Only 0 and the least value are their own negatives.
                let rare = self.builder.ins().band_not(least, zero);
                let result = if opcode.family() == Family::Negate {
                    negated
                } else {
                    let negative = self.builder.ins().icmp_imm(IntCC::SignedLessThan, value, 0);
                    self.builder.ins().select(negative, negated, value)
                };
                self.result(rare, result, opcode, operands);
            }
            Family::Equal | Family::NotEqual | Family::Less | Family::LessOrEqual => {
                let (a, b) = (self.get(left, scalar), self.get(right, scalar));
                let result = self.compared(opcode.family(), scalar, a, b);
                self.set(to, result);
            }
            Family::Select => {
                let choice = self.get(left, Scalar::U8);
                let (low, high) = (self.get(right, scalar), self.get(third, scalar));
                let result = self.builder.ins().select(choice, high, low);
                self.set(to, result);
            }
            Family::Minimum | Family::Maximum => self.extreme(opcode, operands),
            Family::CheckRange => {
                let (value, low, high) =
                    (self.get(to, scalar), self.get(left, scalar), self.get(right, scalar));
                let below = self.compared(Family::Less, scalar, value, low);
                let above = self.compared(Family::Less, scalar, high, value);
                let outside = self.builder.ins().bor(below, above);
                self.check(outside, opcode, operands);
            }
            _ => return false,
        }
        true
    }

    /// Stores a result, or what the plain instruction makes of it.
    pub(super) fn result(&mut self, rare: Value, result: Value, opcode: Opcode, operands: &[u32; 4]) {
        let to = operands[0];
        let scalar = opcode.scalar();
        let value = self.unless_rare(rare, result, (opcode, operands), (to, scalar));
        self.set(to, value);
    }

    /// Stores the result of an operation on reals, and looks at it unless that can wait.
    fn real_result(&mut self, result: Value, opcode: Opcode, operands: &[u32; 4]) {
        if self.can_wait(self.index) {
            self.set(operands[0], result);
            return;
        }
        let rare = self.not_finite(result);
        self.result(rare, result, opcode, operands);
        self.nothing_waits();
    }

    /// Whether a real is infinite or no number: then its difference from itself is no number.
    pub(super) fn not_finite(&mut self, value: Value) -> Value {
        let nothing = self.builder.ins().fsub(value, value);
        self.builder.ins().fcmp(FloatCC::Unordered, nothing, nothing)
    }

    /// Sum, difference or product of integers, and whether it has wrapped.
    pub(super) fn integer(&mut self, family: Family, scalar: Scalar, a: Value, b: Value) -> (Value, Value) {
        if scalar.size() == 8 {
            return match (family, is_signed(scalar)) {
                (Family::Add, true) => self.builder.ins().sadd_overflow(a, b),
                (Family::Add, false) => self.builder.ins().uadd_overflow(a, b),
                (Family::Subtract, true) => self.builder.ins().ssub_overflow(a, b),
                (Family::Subtract, false) => self.builder.ins().usub_overflow(a, b),
                (_, true) => self.builder.ins().smul_overflow(a, b),
                (_, false) => self.builder.ins().umul_overflow(a, b),
            };
        }
        // Exact in 64 bits.
        let (a, b) = (self.extended(a, scalar), self.extended(b, scalar));
        let exact = match family {
            Family::Add => self.builder.ins().iadd(a, b),
            Family::Subtract => self.builder.ins().isub(a, b),
            _ => self.builder.ins().imul(a, b),
        };
        let result = self.builder.ins().ireduce(kind(scalar), exact);
        let again = self.extended(result, scalar);
        let wrapped = self.builder.ins().icmp(IntCC::NotEqual, again, exact);
        (result, wrapped)
    }

    /// Integer quotient or remainder. Division by 0 and by -1 is left to the plain instruction.
    fn quotient(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        let [to, left, right, _] = *operands;
        let scalar = opcode.scalar();
        let divisor = self.known_integer(right, scalar);
        let (a, b) = (self.get(left, scalar), self.get(right, scalar));
        let rare = |translation: &mut Self| {
            let zero = translation.builder.ins().icmp_imm(IntCC::Equal, b, 0);
            if !is_signed(scalar) {
                return zero;
            }
            let ones = translation.builder.ins().iconst(kind(scalar), mask(scalar));
            let minus = translation.builder.ins().icmp(IntCC::Equal, b, ones);
            translation.builder.ins().bor(zero, minus)
        };
        let next = match divisor {
            Some(1.. | ..=-2) => None,
            _ => Some(rare(self)),
        };
        let value = match next {
            None => self.divided(opcode.family(), scalar, a, b),
            Some(rare) => {
                // The processor must not divide by 0, so that the division has a block of its own.
                let [slow, fast, done] =
                    [self.cold(), self.builder.create_block(), self.builder.create_block()];
                let result = self.builder.append_block_param(done, kind(scalar));
                self.builder.ins().brif(rare, slow, &[], fast, &[]);
                self.builder.switch_to_block(slow);
                self.plain_result(opcode, operands, (to, scalar), done);
                self.builder.switch_to_block(fast);
                let quotient = self.divided(opcode.family(), scalar, a, b);
                self.builder.ins().jump(done, &[quotient.into()]);
                self.builder.switch_to_block(done);
                result
            }
        };
        self.set(to, value);
    }

    fn divided(&mut self, family: Family, scalar: Scalar, a: Value, b: Value) -> Value {
        // Narrow integers in 32 bits, where processors are quick.
        let narrow = scalar.size() < 4;
        let wide = |translation: &mut Self, value| match (narrow, is_signed(scalar)) {
            (false, _) => value,
            (true, true) => translation.builder.ins().sextend(types::I32, value),
            (true, false) => translation.builder.ins().uextend(types::I32, value),
        };
        let (a, b) = (wide(self, a), wide(self, b));
        let result = match (family, is_signed(scalar)) {
            (Family::Divide, true) => self.builder.ins().sdiv(a, b),
            (Family::Divide, false) => self.builder.ins().udiv(a, b),
            (_, true) => self.builder.ins().srem(a, b),
            (_, false) => self.builder.ins().urem(a, b),
        };
        if narrow { self.builder.ins().ireduce(kind(scalar), result) } else { result }
    }

    /// A comparison of two numbers as a BOOL.
    pub(super) fn compared(&mut self, family: Family, scalar: Scalar, a: Value, b: Value) -> Value {
        if is_real(scalar) {
            let condition = match family {
                Family::Equal => FloatCC::Equal,
                Family::NotEqual => FloatCC::NotEqual,
                Family::Less => FloatCC::LessThan,
                _ => FloatCC::LessThanOrEqual,
            };
            return self.builder.ins().fcmp(condition, a, b);
        }
        let condition = match (family, is_signed(scalar)) {
            (Family::Equal, _) => IntCC::Equal,
            (Family::NotEqual, _) => IntCC::NotEqual,
            (Family::Less, true) => IntCC::SignedLessThan,
            (Family::Less, false) => IntCC::UnsignedLessThan,
            (_, true) => IntCC::SignedLessThanOrEqual,
            (_, false) => IntCC::UnsignedLessThanOrEqual,
        };
        self.builder.ins().icmp(condition, a, b)
    }

    /// The smaller or larger of two. Values that are no number and zeros of different sign are left to the plain
    /// instruction.
    fn extreme(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        let [to, left, right, _] = *operands;
        let scalar = opcode.scalar();
        let (a, b) = (self.get(left, scalar), self.get(right, scalar));
        let less = self.compared(Family::Less, scalar, a, b);
        let result = if opcode.family() == Family::Minimum {
            self.builder.ins().select(less, a, b)
        } else {
            self.builder.ins().select(less, b, a)
        };
        if !is_real(scalar) {
            self.set(to, result);
            return;
        }
        let unordered = self.builder.ins().fcmp(FloatCC::Unordered, a, b);
        let equal = self.builder.ins().fcmp(FloatCC::Equal, a, b);
        let bits = if scalar == Scalar::F32 { types::I32 } else { types::I64 };
        let (x, y) = (
            self.builder.ins().bitcast(bits, MemFlags::new(), a),
            self.builder.ins().bitcast(bits, MemFlags::new(), b),
        );
        let differ = self.builder.ins().icmp(IntCC::NotEqual, x, y);
        let zeros = self.builder.ins().band(equal, differ);
        let rare = self.builder.ins().bor(unordered, zeros);
        self.result(rare, result, opcode, operands);
    }
}

/// The bits of a scalar.
const fn mask(scalar: Scalar) -> i64 {
    match scalar.size() {
        8 => -1,
        bytes => (1 << (8 * bytes)) - 1,
    }
}

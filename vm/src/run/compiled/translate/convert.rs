//! Conversions between scalars.

use super::arithmetic::{is_real, is_signed};
use super::places::kind;
use super::unit::Translation;
use crate::instruction::{Family, Opcode};
use crate::types::Scalar;
use cranelift_codegen::ir::{
    InstBuilder, Value,
    condcodes::{FloatCC, IntCC},
    types,
};

/// What a conversion gives, and whether it truncates.
fn target(family: Family) -> Option<(Scalar, bool)> {
    Some(match family {
        Family::ToI8 => (Scalar::I8, false),
        Family::ToI16 => (Scalar::I16, false),
        Family::ToI32 => (Scalar::I32, false),
        Family::ToI64 => (Scalar::I64, false),
        Family::ToU8 => (Scalar::U8, false),
        Family::ToU16 => (Scalar::U16, false),
        Family::ToU32 => (Scalar::U32, false),
        Family::ToU64 => (Scalar::U64, false),
        Family::ToF32 => (Scalar::F32, false),
        Family::ToF64 => (Scalar::F64, false),
        Family::TruncateI8 => (Scalar::I8, true),
        Family::TruncateI16 => (Scalar::I16, true),
        Family::TruncateI32 => (Scalar::I32, true),
        Family::TruncateU8 => (Scalar::U8, true),
        Family::TruncateU16 => (Scalar::U16, true),
        Family::TruncateU32 => (Scalar::U32, true),
        _ => return None,
    })
}

/// Least and greatest value of an integer of up to 32 bits.
const fn bounds(scalar: Scalar) -> (i64, i64) {
    match scalar {
        Scalar::I8 => (-0x80, 0x7f),
        Scalar::I16 => (-0x8000, 0x7fff),
        Scalar::I32 => (-0x8000_0000, 0x7fff_ffff),
        Scalar::U8 => (0, 0xff),
        Scalar::U16 => (0, 0xffff),
        _ => (0, 0xffff_ffff),
    }
}

impl Translation<'_> {
    /// Translates conversions; tells whether the instruction was one of these.
    pub(super) fn converted(&mut self, opcode: Opcode, operands: &[u32; 4]) -> bool {
        let Some((to, truncates)) = target(opcode.family()) else { return false };
        let from = opcode.scalar();
        match (is_real(from), is_real(to)) {
            (false, false) => self.between_integers(to, opcode, operands),
            (false, true) => {
                self.note_operands(opcode, operands);
                self.real_of_integer(to, operands, from);
            }
            (true, true) => self.between_reals(to, opcode, operands),
            (true, false) if to.size() == 8 => return false,
            (true, false) => self.integer_of_real(to, truncates, opcode, operands),
        }
        true
    }

    fn stored(&mut self, rare: Value, result: Value, to: Scalar, opcode: Opcode, operands: &[u32; 4]) {
        let value = self.unless_rare(rare, result, (opcode, operands), (operands[0], to));
        self.set(operands[0], value);
    }

    fn between_integers(&mut self, to: Scalar, opcode: Opcode, operands: &[u32; 4]) {
        let from = opcode.scalar();
        let value = self.get(operands[1], from);
        let wide = self.extended(value, from);
        let result = if to.size() == 8 { wide } else { self.builder.ins().ireduce(kind(to), wide) };
        if to.size() == 8 || from.size() == 8 {
            // In 64 bits only the sign tells the two kinds apart.
            let rare = if to.size() < 8 {
                let again = self.extended(result, to);
                let changed = self.builder.ins().icmp(IntCC::NotEqual, again, wide);
                if from == Scalar::U64 {
                    let negative = self.builder.ins().icmp_imm(IntCC::SignedLessThan, wide, 0);
                    self.builder.ins().bor(changed, negative)
                } else {
                    changed
                }
            } else if is_signed(from) == is_signed(to) || (from.size() < 8 && !is_signed(from)) {
                self.set(operands[0], result);
                return;
            } else {
                self.builder.ins().icmp_imm(IntCC::SignedLessThan, wide, 0)
            };
            self.stored(rare, result, to, opcode, operands);
            return;
        }
        let ((least, greatest), (low, high)) = (bounds(from), bounds(to));
        if least >= low && greatest <= high {
            self.set(operands[0], result);
            return;
        }
        let again = self.extended(result, to);
        let changed = self.builder.ins().icmp(IntCC::NotEqual, again, wide);
        self.stored(changed, result, to, opcode, operands);
    }

    fn real_of_integer(&mut self, to: Scalar, operands: &[u32; 4], from: Scalar) {
        let value = self.get(operands[1], from);
        let wide = self.extended(value, from);
        // Everything but 64 bits without a sign is a number with a sign in 64 bits.
        let result = if from == Scalar::U64 {
            self.builder.ins().fcvt_from_uint(kind(to), wide)
        } else {
            self.builder.ins().fcvt_from_sint(kind(to), wide)
        };
        self.set(operands[0], result);
    }

    fn between_reals(&mut self, to: Scalar, opcode: Opcode, operands: &[u32; 4]) {
        let from = opcode.scalar();
        let value = self.get(operands[1], from);
        let result = match (from, to) {
            (Scalar::F32, Scalar::F64) => self.builder.ins().fpromote(types::F64, value),
            (Scalar::F64, Scalar::F32) => self.builder.ins().fdemote(types::F32, value),
            _ => value,
        };
        let rare = self.not_finite(result);
        self.stored(rare, result, to, opcode, operands);
    }

    /// Values that do not fit surely are left to the plain instruction.
    fn integer_of_real(&mut self, to: Scalar, truncates: bool, opcode: Opcode, operands: &[u32; 4]) {
        let from = opcode.scalar();
        let value = self.get(operands[1], from);
        let whole = if truncates { value } else { self.builder.ins().nearest(value) };
        let (least, greatest) = bounds(to);
        // Both are powers of two or 0, so they are exact in either type.
        let (low, high) = (least as f64, (greatest + 1) as f64);
        let (low, high) = if from == Scalar::F32 {
            (self.builder.ins().f32const(low as f32), self.builder.ins().f32const(high as f32))
        } else {
            (self.builder.ins().f64const(low), self.builder.ins().f64const(high))
        };
        let below = self.builder.ins().fcmp(FloatCC::UnorderedOrLessThan, whole, low);
        let above = self.builder.ins().fcmp(FloatCC::UnorderedOrGreaterThanOrEqual, whole, high);
        let rare = self.builder.ins().bor(below, above);
        // In a block of its own, where it fits: the short form of the conversion takes nothing else.
        let [slow, fast, done] = [self.cold(), self.builder.create_block(), self.builder.create_block()];
        let result = self.builder.append_block_param(done, kind(to));
        self.builder.ins().brif(rare, slow, &[], fast, &[]);
        self.builder.switch_to_block(slow);
        self.plain_result(opcode, operands, (operands[0], to), done);
        self.builder.switch_to_block(fast);
        let number = self.builder.ins().fcvt_to_sint(types::I64, whole);
        let number = self.builder.ins().ireduce(kind(to), number);
        self.builder.ins().jump(done, &[number.into()]);
        self.builder.switch_to_block(done);
        self.set(operands[0], result);
    }
}

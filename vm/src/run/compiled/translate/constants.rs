//! Constants of the program as operands.

use super::unit::Translation;
use crate::types::Scalar;
use cranelift_codegen::ir::{self, InstBuilder, InstructionData, Value, types};

impl Translation<'_> {
    /// The value of a constant.
    pub(super) fn constant(&mut self, word: u32, scalar: Scalar) -> Option<Value> {
        let constants = &self.shared.constants;
        Some(match scalar {
            Scalar::I8 | Scalar::U8 => {
                let number = i8::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().iconst(types::I8, i64::from(number as u8))
            }
            Scalar::I16 | Scalar::U16 => {
                let number = u16::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().iconst(types::I16, i64::from(number))
            }
            Scalar::I32 | Scalar::U32 => {
                let number = u32::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().iconst(types::I32, i64::from(number))
            }
            Scalar::I64 | Scalar::U64 => {
                let number = i64::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().iconst(types::I64, number)
            }
            Scalar::F32 => {
                let number = f32::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().f32const(number)
            }
            Scalar::F64 => {
                let number = f64::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().f64const(number)
            }
        })
    }

    /// An integer constant of the program.
    pub(super) fn known_integer(&self, word: u32, scalar: Scalar) -> Option<i64> {
        let constants = &self.shared.constants;
        Some(match scalar {
            Scalar::I8 => i64::from(i8::from_le_bytes(constants.bytes(word)?)),
            Scalar::U8 => i64::from(u8::from_le_bytes(constants.bytes(word)?)),
            Scalar::I16 => i64::from(i16::from_le_bytes(constants.bytes(word)?)),
            Scalar::U16 => i64::from(u16::from_le_bytes(constants.bytes(word)?)),
            Scalar::I32 => i64::from(i32::from_le_bytes(constants.bytes(word)?)),
            Scalar::U32 => i64::from(u32::from_le_bytes(constants.bytes(word)?)),
            Scalar::I64 => i64::from_le_bytes(constants.bytes(word)?),
            _ => return None,
        })
    }

    /// The number that a value is, where it is one of the program's text and not calculated.
    pub(super) fn constant_value(&self, value: Value) -> Option<i64> {
        let instruction = self.builder.func.dfg.value_def(value).inst()?;
        match self.builder.func.dfg.insts[instruction] {
            InstructionData::UnaryImm { opcode: ir::Opcode::Iconst, imm } => Some(imm.bits()),
            _ => None,
        }
    }
}

//! The compact byte form of an instruction: family, scalar, then each operand as LEB128 (little endian, base 128).
//!
//! A place is written as `offset * 2 + relative`, so that small offsets of both kinds stay short.

use super::{Family, Instruction, Opcode, OperandKind};
use crate::types::Scalar;
use std::fmt;

/// Why bytes are no instruction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CodeError {
    /// The bytes end inside an instruction.
    Truncated,
    /// No family has this code.
    UnknownFamily(u8),
    /// The family does not exist for the scalar with this code.
    UnknownScalar(Family, u8),
    /// An operand is longer than a 32-bit number, or not in its shortest form.
    OperandTooLong,
}

impl fmt::Display for CodeError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Truncated => formatter.write_str("the code ends inside an instruction"),
            Self::UnknownFamily(code) => write!(formatter, "no instruction has the code {code}"),
            Self::UnknownScalar(family, code) => {
                write!(formatter, "`{}` does not exist for scalar code {code}", family.description().mnemonic)
            }
            Self::OperandTooLong => {
                formatter.write_str("an operand is not a 32-bit number in its shortest form")
            }
        }
    }
}

impl std::error::Error for CodeError {}

/// Appends the byte form of an instruction.
pub fn encode_instruction(instruction: &Instruction, code: &mut Vec<u8>) {
    code.push(instruction.opcode.family().code());
    code.push(instruction.opcode.scalar() as u8);
    for (kind, word) in instruction.opcode.operands().iter().zip(instruction.operands) {
        let mut rest = if kind.is_place() { word.rotate_left(1) } else { word };
        loop {
            // The mask keeps seven bits, so the cast cannot lose any.
            let low = (rest & 0x7f) as u8;
            rest >>= 7;
            if rest == 0 {
                code.push(low);
                break;
            }
            code.push(low | 0x80);
        }
    }
}

/// Reads the instruction at the start of `code`; the second value is the number of bytes it takes.
///
/// # Errors
/// [`CodeError`] when the bytes are no instruction.
pub fn decode_instruction(code: &[u8]) -> Result<(Instruction, usize), CodeError> {
    let mut bytes = code.iter().copied();
    let mut next = || bytes.next().ok_or(CodeError::Truncated);
    let family_code = next()?;
    let family = Family::from_code(family_code).ok_or(CodeError::UnknownFamily(family_code))?;
    let scalar_code = next()?;
    let opcode = Scalar::from_code(scalar_code)
        .and_then(|scalar| Opcode::new(family, scalar).filter(|opcode| opcode.scalar() == scalar))
        .ok_or(CodeError::UnknownScalar(family, scalar_code))?;
    let mut operands = [0u32; 4];
    for (slot, kind) in operands.iter_mut().zip(opcode.operands()) {
        let word = read_number(&mut next)?;
        *slot = if OperandKind::is_place(*kind) { word.rotate_right(1) } else { word };
    }
    let used = code.len() - bytes.len();
    Ok((Instruction { opcode, operands }, used))
}

fn read_number(next: &mut impl FnMut() -> Result<u8, CodeError>) -> Result<u32, CodeError> {
    let mut value = 0u64;
    for index in 0..5u32 {
        let byte = next()?;
        value |= u64::from(byte & 0x7f) << (7 * index);
        if byte & 0x80 == 0 {
            // One byte form a number: a longer form with leading zeros would make equal programs differ.
            if byte == 0 && index > 0 {
                return Err(CodeError::OperandTooLong);
            }
            return u32::try_from(value).map_err(|_| CodeError::OperandTooLong);
        }
    }
    Err(CodeError::OperandTooLong)
}

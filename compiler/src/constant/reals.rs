//! Real constants: which results the run would tell of, the one NaN, and the extreme one of two.
//!
//! Source: IEEE 754-2019, 7.2 to 7.4 (exceptions) and 9.6 (maximumNumber and minimumNumber, our choice for MAX and MIN).

use latchwork_vm::Family;

use super::FoldError;
use crate::typed::Constant;

/// A result of real operands: an error where the run would tell of it (a NaN of numbers, an infinity of finite
/// operands), NaN as the one that the machine has.
pub(super) fn real(value: f32, operands: &[f32]) -> Result<Constant, FoldError> {
    let operands: Vec<f64> = operands.iter().map(|operand| f64::from(*operand)).collect();
    expected(f64::from(value), &operands)?;
    Ok(Constant::Real(if value.is_nan() { f32::from_bits(0x7FC0_0000) } else { value }))
}

/// As [`real`], in 64 bits.
pub(super) fn long_real(value: f64, operands: &[f64]) -> Result<Constant, FoldError> {
    expected(value, operands)?;
    Ok(Constant::Lreal(if value.is_nan() { f64::from_bits(0x7FF8_0000_0000_0000) } else { value }))
}

fn expected(value: f64, operands: &[f64]) -> Result<(), FoldError> {
    let invalid = value.is_nan() && !operands.iter().any(|operand| operand.is_nan());
    let unbounded = value.is_infinite() && operands.iter().all(|operand| operand.is_finite());
    if invalid || unbounded { Err(FoldError::Overflow) } else { Ok(()) }
}

/// Which of two reals is the extreme one: of a number and NaN the number, of two zeros the positive one is greater.
pub(super) fn takes_left(family: Family, left: f64, right: f64) -> bool {
    match (left.is_nan(), right.is_nan()) {
        (true, _) => false,
        (false, true) => true,
        (false, false) if family == Family::Maximum => left.total_cmp(&right).is_ge(),
        (false, false) => left.total_cmp(&right).is_le(),
    }
}

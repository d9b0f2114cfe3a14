//! Constants to texts and texts to constants, as the running program converts them.
//!
//! Source: IEC 61131-3:2013, Tables 22 and 27.

use latchwork_stdlib::value_of_text;
use latchwork_vm::{ElementaryType as E, Value};

use super::FoldError;
use crate::typed::Constant;

/// A constant as a text, or a text as a constant; `None` where there is no such conversion, or only the running
/// program has the value.
pub(super) fn convert(value: &Constant, from: E, to: E) -> Option<Result<Constant, FoldError>> {
    let codes: Vec<u16> = match value {
        Constant::String(text) => text.iter().copied().map(u16::from).collect(),
        Constant::WideString(text) => text.clone(),
        // Characters are integers among the constants.
        Constant::Integer(code) if from.is_char() => vec![*code as u16],
        _ => Value::from_bits(bits(value)?, from)?.to_string().encode_utf16().collect(),
    };
    Some(match to {
        E::Wstring => Ok(Constant::WideString(codes)),
        E::String => {
            let narrow: Result<Vec<u8>, _> = codes.into_iter().map(u8::try_from).collect();
            narrow.map(Constant::String).map_err(|_| FoldError::Conversion)
        }
        E::Char | E::Wchar => {
            let greatest = if to == E::Char { 0xFF } else { 0xFFFF };
            match codes.first() {
                Some(code) if *code <= greatest => Ok(Constant::Integer(i128::from(*code))),
                _ => Err(FoldError::Conversion),
            }
        }
        _ => match value_of_text(codes, to) {
            Some(bits) => Ok(constant(&Value::from_bits(bits, to)?)?),
            None => Err(FoldError::Conversion),
        },
    })
}

/// The bits of a constant.
fn bits(value: &Constant) -> Option<u64> {
    Some(match value {
        Constant::Bool(value) => u64::from(*value),
        // The low 64 bits: those of the value.
        Constant::Integer(value) => *value as u64,
        Constant::Real(value) => u64::from(value.to_bits()),
        Constant::Lreal(value) => value.to_bits(),
        Constant::Time(value) => *value as u64,
        _ => return None,
    })
}

/// A value as a constant. Infinities and NaN are no constants: the running program makes them.
fn constant(value: &Value) -> Option<Constant> {
    Some(match value {
        Value::Bool(value) => Constant::Bool(*value),
        Value::Signed(value, _) => Constant::Integer(i128::from(*value)),
        Value::Unsigned(value, _) | Value::Bits(value, _) => Constant::Integer(i128::from(*value)),
        Value::Real(value) if value.is_finite() => Constant::Real(*value),
        Value::Lreal(value) if value.is_finite() => Constant::Lreal(*value),
        Value::Duration(value, _)
        | Value::Date(value, _)
        | Value::TimeOfDay(value, _)
        | Value::DateAndTime(value, _) => Constant::Time(*value),
        _ => return None,
    })
}

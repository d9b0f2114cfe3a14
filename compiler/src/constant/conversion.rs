//! Constants in other types.

use latchwork_vm::{ElementaryType, ElementaryType as E};

use super::{
    FoldError, bit_width, in_range, integer_range,
    reals::{long_real, real},
    text,
};
use crate::typed::Constant;

/// A constant in another elementary type, by the rules of the conversion functions (Tables 22 to 27); every
/// implicit conversion is one of them.
pub(crate) fn convert(
    value: &Constant,
    from: ElementaryType,
    to: ElementaryType,
    truncate: bool,
) -> Option<Result<Constant, FoldError>> {
    if from == to {
        return Some(Ok(value.clone()));
    }
    if from.is_string() || to.is_string() {
        return text::convert(value, from, to);
    }
    let is_bits = |kind| bit_width(kind).is_some() || matches!(kind, E::Char | E::Wchar);
    Some(match (value, to) {
        (Constant::Bool(value), _) => match to {
            E::Real => Ok(Constant::Real(f32::from(u8::from(*value)))),
            E::Lreal => Ok(Constant::Lreal(f64::from(u8::from(*value)))),
            _ if integer_range(to).is_some() => Ok(Constant::Integer(i128::from(*value))),
            _ => return None,
        },
        (Constant::Integer(value), E::Bool) => Ok(Constant::Bool(value & 1 == 1)),
        (Constant::Integer(value), E::Real) if from == E::Dword => {
            Ok(Constant::Real(f32::from_bits(*value as u32)))
        }
        (Constant::Integer(value), E::Lreal) if from == E::Lword => {
            Ok(Constant::Lreal(f64::from_bits(*value as u64)))
        }
        (Constant::Integer(_), E::Real | E::Lreal) if is_bits(from) => return None,
        (Constant::Integer(value), E::Real) => Ok(Constant::Real(*value as f32)),
        (Constant::Integer(value), E::Lreal) => Ok(Constant::Lreal(*value as f64)),
        (Constant::Integer(value), _) => {
            let (lower, upper) = integer_range(to)?;
            if is_bits(from) || is_bits(to) {
                // A binary transfer of the rightmost bits; a wider target is filled with zeros.
                let mask = |(lower, upper): (i128, i128)| upper - lower;
                let bits = value & mask(integer_range(from)?) & mask((lower, upper));
                Ok(Constant::Integer(if bits > upper { bits - (upper - lower + 1) } else { bits }))
            } else if *value < lower || *value > upper {
                Err(FoldError::Conversion)
            } else {
                Ok(Constant::Integer(*value))
            }
        }
        (Constant::Real(value), E::Lreal) => long_real(f64::from(*value), &[f64::from(*value)]),
        (Constant::Lreal(value), E::Real) => {
            let nearest = *value as f32;
            if nearest.is_infinite() && value.is_finite() {
                return Some(Err(FoldError::Overflow));
            }
            real(nearest, &[nearest])
        }
        (Constant::Real(value), E::Dword) => Ok(Constant::Integer(i128::from(value.to_bits()))),
        (Constant::Lreal(value), E::Lword) => Ok(Constant::Integer(i128::from(value.to_bits()))),
        (Constant::Real(value), _) => return real_to_integer(f64::from(*value), to, truncate),
        (Constant::Lreal(value), _) => return real_to_integer(*value, to, truncate),
        (Constant::Time(value), E::Ltime | E::Ldate | E::LtimeOfDay | E::LdateAndTime)
        | (Constant::Time(value), E::Time | E::Date | E::TimeOfDay | E::DateAndTime) => {
            const DAY: i64 = 86_400_000_000_000;
            Ok(Constant::Time(match (from, to) {
                (E::DateAndTime | E::LdateAndTime, E::Date | E::Ldate) => {
                    // As at run time: the first day of the range starts before it.
                    value.checked_sub(value.rem_euclid(DAY)).unwrap_or(i64::MIN)
                }
                (E::DateAndTime | E::LdateAndTime, E::TimeOfDay | E::LtimeOfDay) => value.rem_euclid(DAY),
                _ => *value,
            }))
        }
        _ => return None,
    })
}

fn real_to_integer(value: f64, to: ElementaryType, truncate: bool) -> Option<Result<Constant, FoldError>> {
    let (lower, upper) = integer_range(to)?;
    if bit_width(to).is_some() {
        return None;
    }
    let whole = if truncate { value.trunc() } else { value.round_ties_even() };
    if !whole.is_finite() || whole < lower as f64 || whole >= upper as f64 + 1.0 {
        return Some(Err(FoldError::Conversion));
    }
    Some(in_range(whole as i128, to))
}

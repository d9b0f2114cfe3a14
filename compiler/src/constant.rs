//! Evaluation of constant expressions with the arithmetic of the running program: integers of the width of
//! their type, REAL in 32 bits, durations in nanoseconds. What is an event or a fault at run time (overflow,
//! division by zero) is an error here, because it is certain.
//!
//! Source: IEC 61131-3:2013, 6.6.2.5 (standard functions), Tables 28 to 35. Knows no names and no trees.

mod conversion;
mod order;
mod reals;
mod text;

use latchwork_stdlib::{FunctionDefinition, Lowering};
use latchwork_vm::{ElementaryType, ElementaryType as E, Family};

use crate::{
    typed::{Constant, InitialValue},
    types::{Type, TypeId, Types},
};

pub(crate) use conversion::convert;
use order::{compare, extreme};
use reals::{long_real, real};

/// Why a constant expression has no value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum FoldError {
    /// Division by zero.
    DivisionByZero,
    /// The result is outside its type.
    Overflow,
    /// A value that the conversion's target type does not have.
    Conversion,
    /// MUX with a selector outside its inputs.
    Selector,
    /// A negative shift count.
    ShiftCount,
}

/// Smallest and largest value of the types whose constants are [`Constant::Integer`].
pub(crate) fn integer_range(kind: ElementaryType) -> Option<(i128, i128)> {
    let signed = |bits: u32| (-(1i128 << (bits - 1)), (1i128 << (bits - 1)) - 1);
    let unsigned = |bits: u32| (0, (1i128 << bits) - 1);
    Some(match kind {
        E::Sint => signed(8),
        E::Int => signed(16),
        E::Dint => signed(32),
        E::Lint => signed(64),
        E::Usint | E::Byte | E::Char => unsigned(8),
        E::Uint | E::Word | E::Wchar => unsigned(16),
        E::Udint | E::Dword => unsigned(32),
        E::Ulint | E::Lword => unsigned(64),
        _ => return None,
    })
}

/// Number of bits of a bit string type (BOOL counts as one bit).
pub(crate) fn bit_width(kind: ElementaryType) -> Option<u32> {
    Some(match kind {
        E::Bool => 1,
        E::Byte => 8,
        E::Word => 16,
        E::Dword => 32,
        E::Lword => 64,
        _ => return None,
    })
}

/// The initial value a variable of a scalar type has when none is written (table 10; the first value of an
/// enumeration, the lower bound of a subrange). `None` for strings, arrays, structures and instances.
pub fn default_constant(types: &Types, id: TypeId) -> Option<Constant> {
    let mut id = id;
    loop {
        match types.defaults.get(&id) {
            Some(InitialValue::Constant(value)) => return Some(value.clone()),
            Some(_) => return None,
            None => {}
        }
        match types.get(id) {
            Type::Derived { base, .. } => id = *base,
            Type::Elementary(kind) => return zero(*kind),
            Type::Subrange { lower, .. } => return Some(Constant::Integer(*lower)),
            Type::Enumeration(derived) | Type::NamedValues { id: derived, .. } => {
                let (_, first) = types.enumeration(*derived).values.first()?;
                return Some(Constant::Integer(*first));
            }
            Type::Reference(_) | Type::Interface(_) | Type::Null => return Some(Constant::Null),
            Type::String { wide: false, .. } => return Some(Constant::String(Vec::new())),
            Type::String { wide: true, .. } => return Some(Constant::WideString(Vec::new())),
            Type::Unknown
            | Type::UntypedInteger
            | Type::UntypedReal
            | Type::Array { .. }
            | Type::OpenArray { .. }
            | Type::Structure(_)
            | Type::Unit(_)
            | Type::StandardBlock(_) => return None,
        }
    }
}

/// The default of an elementary type.
fn zero(kind: ElementaryType) -> Option<Constant> {
    Some(match kind {
        E::Bool => Constant::Bool(false),
        E::Real => Constant::Real(0.0),
        E::Lreal => Constant::Lreal(0.0),
        E::String => Constant::String(Vec::new()),
        E::Wstring => Constant::WideString(Vec::new()),
        E::Time
        | E::Ltime
        | E::Date
        | E::Ldate
        | E::TimeOfDay
        | E::LtimeOfDay
        | E::DateAndTime
        | E::LdateAndTime => Constant::Time(0),
        _ => Constant::Integer(0),
    })
}

/// The value of a standard function of constants; `None` if it is not evaluated at compile time. `on` is the
/// type the function works on, `result` the type of its result.
pub(crate) fn fold(
    function: &FunctionDefinition,
    on: Option<ElementaryType>,
    result: Option<ElementaryType>,
    arguments: &[Constant],
) -> Option<Result<Constant, FoldError>> {
    if let (Some(scaled), [Constant::Time(duration), factor]) = (scaling(function.name), arguments) {
        return scale(scaled, *duration, factor);
    }
    let lowering = match function.lowering {
        Lowering::Overloaded => function.overloads.first()?.lowering,
        other => other,
    };
    match (lowering, arguments) {
        (Lowering::Move, [value]) => Some(Ok(value.clone())),
        (Lowering::Comparison(kind), [_, _, ..]) => {
            let mut holds = true;
            for pair in arguments.windows(2) {
                // Windows of two have two elements.
                holds &= compare(kind, &pair[0], &pair[1])?;
            }
            Some(Ok(Constant::Bool(holds)))
        }
        (Lowering::ByteOrder { swap }, [value]) => {
            Some(Ok(if swap { swapped(value, on?)? } else { value.clone() }))
        }
        (Lowering::Not, [value]) => Some(Ok(complement(value, on?)?)),
        (Lowering::Select, [Constant::Bool(choice), if_false, if_true]) => {
            Some(Ok(if *choice { if_true.clone() } else { if_false.clone() }))
        }
        (Lowering::Multiplexer, [Constant::Integer(selector), inputs @ ..]) => {
            let chosen = usize::try_from(*selector).ok().and_then(|index| inputs.get(index));
            Some(chosen.cloned().ok_or(FoldError::Selector))
        }
        (Lowering::Limit, [least, value, most]) => {
            // Crossed limits are told by an event, so the call is left to the run.
            if extreme(Family::Maximum, least, most)? != *most {
                return None;
            }
            let raised = extreme(Family::Maximum, value, least)?;
            Some(Ok(extreme(Family::Minimum, &raised, most)?))
        }
        (Lowering::Shift(family), [value, Constant::Integer(count)]) => shift(family, value, *count, on?),
        (Lowering::Convert { truncate }, [value]) => convert(value, on?, result?, truncate),
        (Lowering::Family(Family::Negate), [value]) => negate(value, on?),
        (Lowering::Family(Family::Absolute), [value]) => absolute(value, on?),
        (Lowering::Family(family @ (Family::Maximum | Family::Minimum)), [first, rest @ ..]) => {
            let mut best = first.clone();
            for value in rest {
                best = extreme(family, &best, value)?;
            }
            Some(Ok(best))
        }
        (Lowering::Family(family), [first, rest @ ..]) if !rest.is_empty() => {
            let mut total = first.clone();
            for value in rest {
                match arithmetic(family, &total, value, on.or(result)?)? {
                    Ok(value) => total = value,
                    Err(error) => return Some(Err(error)),
                }
            }
            Some(Ok(total))
        }
        _ => None,
    }
}

/// The bytes of a value turned round. Left to the run where the result is a NaN, whose bits a constant need not keep.
fn swapped(value: &Constant, kind: ElementaryType) -> Option<Constant> {
    Some(match value {
        Constant::Integer(number) => {
            // A value of its type, and so is what the bytes are the other way round.
            let bytes = kind.size()? as usize;
            let mut turned = number.to_le_bytes();
            turned.get_mut(..bytes)?.reverse();
            let negative = kind.is_signed() && turned.get(bytes - 1).is_some_and(|byte| *byte >= 0x80);
            turned.get_mut(bytes..)?.fill(if negative { 0xFF } else { 0 });
            Constant::Integer(i128::from_le_bytes(turned))
        }
        Constant::Real(number) => {
            let turned = f32::from_bits(number.to_bits().swap_bytes());
            if number.is_nan() || turned.is_nan() {
                return None;
            }
            Constant::Real(turned)
        }
        Constant::Lreal(number) => {
            let turned = f64::from_bits(number.to_bits().swap_bytes());
            if number.is_nan() || turned.is_nan() {
                return None;
            }
            Constant::Lreal(turned)
        }
        Constant::Time(nanoseconds) => Constant::Time(nanoseconds.swap_bytes()),
        Constant::WideString(units) => {
            Constant::WideString(units.iter().map(|unit| unit.swap_bytes()).collect())
        }
        Constant::Bool(_) | Constant::String(_) | Constant::Null => value.clone(),
    })
}

fn in_range(value: i128, kind: ElementaryType) -> Result<Constant, FoldError> {
    match integer_range(kind) {
        Some((lower, upper)) if value < lower || value > upper => Err(FoldError::Overflow),
        _ => Ok(Constant::Integer(value)),
    }
}

fn time(value: Option<i64>) -> Result<Constant, FoldError> {
    value.map(Constant::Time).ok_or(FoldError::Overflow)
}

fn arithmetic(
    family: Family,
    left: &Constant,
    right: &Constant,
    kind: ElementaryType,
) -> Option<Result<Constant, FoldError>> {
    Some(match (left, right) {
        (Constant::Integer(a), Constant::Integer(b)) => match family {
            Family::Add => in_range(a + b, kind),
            Family::Subtract => in_range(a - b, kind),
            // Both factors have at most 64 bits, so that their product fits 128.
            Family::Multiply => {
                a.checked_mul(*b).map_or(Err(FoldError::Overflow), |value| in_range(value, kind))
            }
            Family::Divide if *b == 0 => Err(FoldError::DivisionByZero),
            Family::Divide => in_range(a / b, kind),
            // The standard defines x MOD 0 as 0.
            // Gives 0, but is left to the run, whose event tells of it.
            Family::Modulo if *b == 0 => return None,
            Family::Modulo => in_range(a % b, kind),
            Family::And => Ok(Constant::Integer(a & b)),
            Family::Or => Ok(Constant::Integer(a | b)),
            Family::Xor => Ok(Constant::Integer(a ^ b)),
            _ => return None,
        },
        (Constant::Bool(a), Constant::Bool(b)) => match family {
            Family::And => Ok(Constant::Bool(a & b)),
            Family::Or => Ok(Constant::Bool(a | b)),
            Family::Xor => Ok(Constant::Bool(a ^ b)),
            _ => return None,
        },
        (Constant::Real(a), Constant::Real(b)) => match family {
            Family::Add => real(a + b, &[*a, *b]),
            Family::Subtract => real(a - b, &[*a, *b]),
            Family::Multiply => real(a * b, &[*a, *b]),
            Family::Divide if *b == 0.0 && a.is_finite() => Err(FoldError::DivisionByZero),
            Family::Divide => real(a / b, &[*a, *b]),
            _ => return None,
        },
        (Constant::Lreal(a), Constant::Lreal(b)) => match family {
            Family::Add => long_real(a + b, &[*a, *b]),
            Family::Subtract => long_real(a - b, &[*a, *b]),
            Family::Multiply => long_real(a * b, &[*a, *b]),
            Family::Divide if *b == 0.0 && a.is_finite() => Err(FoldError::DivisionByZero),
            Family::Divide => long_real(a / b, &[*a, *b]),
            _ => return None,
        },
        (Constant::Time(a), Constant::Time(b)) => match family {
            Family::Add => time(a.checked_add(*b)),
            Family::Subtract => time(a.checked_sub(*b)),
            _ => return None,
        },
        _ => return None,
    })
}

/// Whether a function multiplies (`true`) or divides a duration by a number.
fn scaling(name: &str) -> Option<bool> {
    match name {
        "MUL_TIME" | "MUL_LTIME" => Some(true),
        "DIV_TIME" | "DIV_LTIME" => Some(false),
        _ => None,
    }
}

/// A duration times or divided by a number: integers exactly, reals rounded to the nearest nanosecond.
fn scale(multiply: bool, duration: i64, factor: &Constant) -> Option<Result<Constant, FoldError>> {
    Some(match factor {
        Constant::Integer(0) if !multiply => Err(FoldError::DivisionByZero),
        Constant::Integer(factor) => {
            let duration = i128::from(duration);
            let value = if multiply { duration.checked_mul(*factor) } else { duration.checked_div(*factor) };
            time(value.and_then(|value| i64::try_from(value).ok()))
        }
        Constant::Lreal(factor) if !multiply && *factor == 0.0 => Err(FoldError::DivisionByZero),
        Constant::Lreal(factor) => {
            let duration = duration as f64;
            let value = if multiply { duration * factor } else { duration / factor };
            match convert(&Constant::Lreal(value), E::Lreal, E::Lint, false) {
                Some(Ok(Constant::Integer(value))) => time(i64::try_from(value).ok()),
                _ => Err(FoldError::Overflow),
            }
        }
        _ => return None,
    })
}

fn complement(value: &Constant, kind: ElementaryType) -> Option<Constant> {
    match value {
        Constant::Bool(value) => Some(Constant::Bool(!value)),
        Constant::Integer(value) => {
            let mask = (1i128 << bit_width(kind)?) - 1;
            Some(Constant::Integer(!value & mask))
        }
        _ => None,
    }
}

fn negate(value: &Constant, kind: ElementaryType) -> Option<Result<Constant, FoldError>> {
    Some(match value {
        Constant::Integer(value) => in_range(-value, kind),
        Constant::Real(value) => real(-value, &[*value]),
        Constant::Lreal(value) => long_real(-value, &[*value]),
        Constant::Time(value) => time(value.checked_neg()),
        _ => return None,
    })
}

fn absolute(value: &Constant, kind: ElementaryType) -> Option<Result<Constant, FoldError>> {
    Some(match value {
        Constant::Integer(value) => in_range(value.abs(), kind),
        Constant::Real(value) => real(value.abs(), &[*value]),
        Constant::Lreal(value) => long_real(value.abs(), &[*value]),
        _ => return None,
    })
}

fn shift(
    family: Family,
    value: &Constant,
    count: i128,
    kind: ElementaryType,
) -> Option<Result<Constant, FoldError>> {
    let width = bit_width(kind)?;
    let bits: i128 = match value {
        Constant::Bool(value) => i128::from(*value),
        Constant::Integer(value) => *value,
        _ => return None,
    };
    if count < 0 {
        return Some(Err(FoldError::ShiftCount));
    }
    let mask = (1i128 << width) - 1;
    // The remainder is smaller than the width, which is at most 64.
    let turn = (count % i128::from(width)) as u32;
    let result = match family {
        Family::ShiftLeft if count >= i128::from(width) => 0,
        Family::ShiftRight if count >= i128::from(width) => 0,
        Family::ShiftLeft => (bits << turn) & mask,
        Family::ShiftRight => bits >> turn,
        Family::RotateLeft => ((bits << turn) | (bits >> (width - turn))) & mask,
        Family::RotateRight => ((bits >> turn) | (bits << (width - turn))) & mask,
        _ => return None,
    };
    Some(Ok(match value {
        Constant::Bool(_) => Constant::Bool(result != 0),
        _ => Constant::Integer(result),
    }))
}

//! What a text stands for: a literal of the wanted type, and nothing else.
//!
//! Source: IEC 61131-3:2013, Table 5 (numbers); durations and dates are in `time_of_text`. The literals are those
//! of a source text: underscores between digits, `2#`, `8#` and `16#`, a sign, the wanted type in front (`INT#5`),
//! in any case of letters. Blanks may stand around it. Besides, `INF`, `-INF` and `NAN` are read, because reals are
//! written so. What is not such a literal, or outside its type, stands for nothing.

use latchwork_vm::ElementaryType;

use super::time_of_text;

/// The bits of the value that a text, given by its codes, stands for, those of signed types extended to 64; `None`
/// if the text is no literal of the type or its value is outside the type, and for character and string types, which
/// are not read as literals.
///
/// Reals are the nearest value of their type, whatever the number of digits.
pub fn value_of_text(codes: impl IntoIterator<Item = u16>, kind: ElementaryType) -> Option<u64> {
    let character = |code| u8::try_from(code).ok().filter(u8::is_ascii).map(char::from);
    let text: Option<String> = codes.into_iter().map(character).collect();
    value_of(&text?, kind)
}

fn value_of(text: &str, kind: ElementaryType) -> Option<u64> {
    let text = text.trim_matches([' ', '\t', '\r', '\n', '\u{c}']);
    if kind.is_duration() || kind.is_date() {
        // The bits of the signed number.
        return time_of_text::nanoseconds(text, kind).map(|nanoseconds| nanoseconds as u64);
    }
    if kind.is_chars() {
        return None;
    }
    let (typed, text) = match text.split_once('#') {
        Some((head, rest)) if ElementaryType::from_name(head) == Some(kind) => (true, rest),
        _ => (false, text),
    };
    if kind == ElementaryType::Bool {
        if text.eq_ignore_ascii_case("TRUE") {
            return Some(1);
        } else if text.eq_ignore_ascii_case("FALSE") {
            return Some(0);
        }
    }
    let (sign, digits) = match text.strip_prefix(['+', '-']) {
        Some(digits) => (text.get(..1), digits),
        None => (None, text),
    };
    let negative = sign == Some("-");
    if kind.is_real() && !typed {
        let special = if digits.eq_ignore_ascii_case("INF") {
            Some(f64::INFINITY)
        } else if text.eq_ignore_ascii_case("NAN") {
            Some(f64::NAN)
        } else {
            None
        };
        if let Some(special) = special {
            return Some(real_bits(if negative { -special } else { special }, kind));
        }
    }
    if sign.is_some() && kind.is_bit() {
        return None;
    }
    match Number::read(digits)? {
        // A type and a base leave no place for a sign.
        Number::Integer { based: true, .. } if typed && sign.is_some() => None,
        // Nor has a real a base, where it says that it is one.
        Number::Integer { based: true, .. } if typed && kind.is_real() => None,
        Number::Integer { value, .. } if kind.is_real() => {
            let value = if negative { -i128::from(value) } else { i128::from(value) };
            // Straight from the integer: by way of LREAL it would be rounded twice.
            Some(match kind {
                ElementaryType::Real => u64::from((value as f32).to_bits()),
                _ => (value as f64).to_bits(),
            })
        }
        Number::Integer { value, .. } => {
            let value = if negative { -i128::from(value) } else { i128::from(value) };
            let (least, greatest) = range(kind)?;
            // The low 64 bits: the number with its sign.
            (least..=greatest).contains(&value).then_some(value as u64)
        }
        Number::Real(digits) if kind == ElementaryType::Real => {
            let value: f32 = digits.parse().ok()?;
            let value = if negative { -value } else { value };
            value.is_finite().then(|| u64::from(value.to_bits()))
        }
        Number::Real(digits) if kind == ElementaryType::Lreal => {
            let value: f64 = digits.parse().ok()?;
            let value = if negative { -value } else { value };
            value.is_finite().then(|| value.to_bits())
        }
        Number::Real(_) => None,
    }
}

/// An infinity or NaN, of which both types have the same.
fn real_bits(value: f64, kind: ElementaryType) -> u64 {
    match kind {
        ElementaryType::Real => u64::from((value as f32).to_bits()),
        _ => value.to_bits(),
    }
}

/// Least and greatest value of an integer or a bit string.
fn range(kind: ElementaryType) -> Option<(i128, i128)> {
    if kind == ElementaryType::Bool {
        return Some((0, 1));
    }
    let bits = 8 * kind.size()?;
    Some(if kind.is_signed() {
        (-(1_i128 << (bits - 1)), (1_i128 << (bits - 1)) - 1)
    } else {
        (0, (1_i128 << bits) - 1)
    })
}

/// A number without its sign.
enum Number {
    /// With its base in front or without.
    Integer { value: u64, based: bool },
    /// The digits with their point and exponent, without underscores.
    Real(String),
}

impl Number {
    fn read(text: &str) -> Option<Self> {
        if let Some((base, digits)) = text.split_once('#') {
            let base = match base {
                "2" => 2,
                "8" => 8,
                "16" => 16,
                _ => return None,
            };
            return Some(Self::Integer { value: integer(digits, base)?, based: true });
        }
        let Some((whole, rest)) = text.split_once('.') else {
            return Some(Self::Integer { value: integer(text, 10)?, based: false });
        };
        let (fraction, exponent) = match rest.split_once(['e', 'E']) {
            Some((fraction, exponent)) => {
                (fraction, Some(exponent.strip_prefix(['+', '-']).unwrap_or(exponent)))
            }
            None => (rest, None),
        };
        let well_formed = are_digits(whole, 10)
            && are_digits(fraction, 10)
            && exponent.is_none_or(|digits| are_digits(digits, 10));
        well_formed.then(|| Self::Real(text.replace('_', "")))
    }
}

/// Whether a text is made of digits, with single underscores between them.
pub(super) fn are_digits(text: &str, base: u32) -> bool {
    text.split('_').all(|part| !part.is_empty() && part.chars().all(|digit| digit.is_digit(base)))
}

/// The value of digits with underscores; `None` if they are not well formed or 64 bits do not hold the number.
pub(super) fn integer(text: &str, base: u32) -> Option<u64> {
    if !are_digits(text, base) {
        return None;
    }
    text.chars()
        .filter_map(|digit| digit.to_digit(base))
        .try_fold(0_u64, |value, digit| value.checked_mul(u64::from(base))?.checked_add(u64::from(digit)))
}

//! From bits, real numbers and texts of a value change dump to values of a type.
//!
//! The forms are those of our own export and of what simulators and logic analysers write: numbers in two's
//! complement or unsigned, durations and dates in nanoseconds, enumerations by number or name, strings as bytes.

use latchwork_grammar::Names;
use latchwork_vm::{ElementaryType, Value};

use crate::stimulus::cell::{self, CellType};

/// A vector of known bits.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bits<'t> {
    /// Digits 0 and 1, the most significant first; at least one.
    pub(super) digits: &'t str,
    /// Width of the variable as declared.
    pub(super) width: u32,
    /// Whether it is declared as a signed integer.
    pub(super) signed: bool,
}

impl Bits<'_> {
    /// Digits without leading zeros.
    fn significant(&self) -> &str {
        self.digits.trim_start_matches('0')
    }

    /// The number, if 64 bits hold it.
    fn unsigned(&self) -> Option<u64> {
        let digits = self.significant();
        if digits.is_empty() { Some(0) } else { u64::from_str_radix(digits, 2).ok() }
    }

    /// The number for a signed type of a width: in two's complement if it is declared as signed, or at least as wide as
    /// the type.
    fn signed(&self, type_width: u32) -> Option<i128> {
        let digits = self.significant();
        let negative = digits.len() as u64 >= u64::from(self.width) && !digits.is_empty();
        if negative && (self.signed || self.width >= type_width) {
            // Leading ones only repeat the sign.
            let magnitude = digits.trim_start_matches('1');
            if magnitude.len() >= 64 {
                return None;
            }
            let rest =
                if magnitude.is_empty() { 0 } else { i128::from(u64::from_str_radix(magnitude, 2).ok()?) };
            return Some(rest - (1_i128 << magnitude.len()));
        }
        // A register wider than the type need not repeat the sign.
        let number = i128::from(self.unsigned()?);
        let wraps = self.width >= type_width && digits.len() as u32 == type_width;
        Some(if wraps { number - (1_i128 << type_width) } else { number })
    }
}

/// The value of bits.
pub(super) fn value_of_bits(bits: &Bits<'_>, kind: &CellType) -> Result<Value, String> {
    use ElementaryType as T;
    let outside = || format!("a number outside the range of {}", type_text(kind));
    match kind {
        CellType::Text { wide, capacity } => text_of_bits(bits, *wide, *capacity),
        CellType::Enumeration { values, .. } => {
            let number = bits.signed(32).ok_or_else(outside)?;
            let found = values.iter().find(|(_, value)| i128::from(*value) == number);
            found
                .map(|(name, value)| Value::Enumeration { value: *value, name: Some(name.clone()) })
                .ok_or_else(|| format!("the number {number}, which no value of {} has", type_text(kind)))
        }
        CellType::Elementary(T::Real | T::Lreal) => {
            let number = if bits.signed { bits.signed(64) } else { bits.unsigned().map(i128::from) };
            value_of_real(number.ok_or_else(outside)? as f64, kind)
        }
        CellType::Elementary(elementary) => {
            let width = elementary.size().unwrap_or(8) * 8;
            let signed = elementary.is_signed() || nanoseconds(*elementary);
            let number =
                if signed || bits.signed { bits.signed(width) } else { bits.unsigned().map(i128::from) };
            number.and_then(|number| value_of_number(number, *elementary)).ok_or_else(outside)
        }
    }
}

/// The value of a real number. Types without fractions take whole numbers.
pub(super) fn value_of_real(number: f64, kind: &CellType) -> Result<Value, String> {
    match kind {
        // The number was written with the digits of the shorter type.
        CellType::Elementary(ElementaryType::Real) => Ok(Value::Real(number as f32)),
        CellType::Elementary(ElementaryType::Lreal) => Ok(Value::Lreal(number)),
        CellType::Elementary(elementary) if number.fract() == 0.0 && number.abs() < 1e19 => {
            value_of_number(number as i128, *elementary)
                .ok_or_else(|| format!("a number outside the range of {}", type_text(kind)))
        }
        _ => Err(format!("a real number, not a value of type {}", type_text(kind))),
    }
}

/// The value of a text: the text itself for strings, else a literal.
pub(super) fn value_of_text(text: &str, kind: &CellType, names: &mut Names) -> Result<Value, String> {
    let too_long = |length: usize, capacity: u32| {
        (length > capacity as usize).then(|| format!("{length} characters; the variable holds {capacity}"))
    };
    match kind {
        CellType::Text { wide: false, capacity } => {
            let bytes: Result<Vec<u8>, _> =
                text.chars().map(|character| u8::try_from(u32::from(character))).collect();
            let bytes = bytes.map_err(|_| "a text with characters that a STRING can not hold".to_owned())?;
            too_long(bytes.len(), *capacity).map_or(Ok(Value::String(bytes)), Err)
        }
        CellType::Text { wide: true, capacity } => {
            let units: Vec<u16> = text.encode_utf16().collect();
            too_long(units.len(), *capacity).map_or(Ok(Value::WideString(units)), Err)
        }
        _ => cell::read(text, kind, names)
            .map_err(|_| format!("a text that is no value of type {}", type_text(kind))),
    }
}

/// A whole number in an elementary type, if it is one of its values.
fn value_of_number(number: i128, kind: ElementaryType) -> Option<Value> {
    let width = kind.size()? * 8;
    if kind.is_signed() || nanoseconds(kind) {
        let half = 1_i128 << (width - 1);
        return (-half..half).contains(&number).then(|| Value::from_bits(number as u64, kind)).flatten();
    }
    let width = if kind == ElementaryType::Bool { 1 } else { width };
    (0..1_i128 << width).contains(&number).then(|| Value::from_bits(number as u64, kind)).flatten()
}

/// Whether values of a type are kept as signed nanoseconds.
fn nanoseconds(kind: ElementaryType) -> bool {
    use ElementaryType as T;
    matches!(
        kind,
        T::Time
            | T::Ltime
            | T::Date
            | T::Ldate
            | T::TimeOfDay
            | T::LtimeOfDay
            | T::DateAndTime
            | T::LdateAndTime
    )
}

/// A string as Verilog keeps it in a register: the last character rightmost, filled with zeros at the left.
fn text_of_bits(bits: &Bits<'_>, wide: bool, capacity: u32) -> Result<Value, String> {
    let width = if wide { 16 } else { 8 };
    let digits = bits.significant();
    let length = digits.len().div_ceil(width);
    if length > capacity as usize {
        return Err(format!("{length} characters; the variable holds {capacity}"));
    }
    let first = digits.len() % width;
    let first = if first == 0 { width.min(digits.len()) } else { first };
    let mut rest = digits;
    let mut codes: Vec<u16> = Vec::with_capacity(length);
    let mut take = first;
    while !rest.is_empty() {
        // Digits are ASCII, and what is left is a whole number of characters behind the first.
        let (character, behind) = rest.split_at(take.min(rest.len()));
        codes.push(u16::from_str_radix(character, 2).unwrap_or(0));
        rest = behind;
        take = width;
    }
    if wide {
        return Ok(Value::WideString(codes));
    }
    // Eight digits each.
    Ok(Value::String(codes.iter().map(|code| *code as u8).collect()))
}

fn type_text(kind: &CellType) -> String {
    crate::stimulus::words::kind_name(kind)
}

#[cfg(test)]
mod tests {
    use super::*;
    use ElementaryType as T;

    fn shown(digits: &str, width: u32, signed: bool, kind: T) -> String {
        value_of_bits(&Bits { digits, width, signed }, &CellType::Elementary(kind))
            .map_or_else(|problem| problem, |value| value.to_string())
    }

    /// Bits are filled up with zeros at the left unless they begin with x or z: IEEE 1364-2005 table 18-3, from memory.
    #[test]
    fn numbers_are_read_by_width_and_sign() {
        let outside = |kind: &str| format!("a number outside the range of {kind}");
        let cases = [
            ("1111111100000110", 16, false, T::Int, "-250".to_owned()),
            ("11111010", 8, false, T::Int, "250".to_owned()),
            ("11111010", 8, true, T::Int, "-6".to_owned()),
            ("1010", 8, true, T::Int, "10".to_owned()),
            ("11111111111111111111111100000110", 32, true, T::Int, "-250".to_owned()),
            ("1111111100000110", 32, false, T::Int, "-250".to_owned()),
            ("11111111111111110000000000000000", 32, false, T::Int, outside("INT")),
            ("100000000", 16, false, T::Usint, outside("USINT")),
            ("11111111", 8, true, T::Usint, outside("USINT")),
            ("1", 1, false, T::Bool, "TRUE".to_owned()),
            ("10", 2, false, T::Bool, outside("BOOL")),
            ("1010010100000000", 16, false, T::Word, "16#A500".to_owned()),
            (&"1".repeat(64), 64, false, T::Lint, "-1".to_owned()),
            (&"1".repeat(64), 64, false, T::Ulint, "18446744073709551615".to_owned()),
            (&"1".repeat(65), 65, false, T::Ulint, outside("ULINT")),
            ("111011100110101100101000000000", 64, true, T::Time, "T#1s".to_owned()),
            (&format!("1{}", "0".repeat(63)), 64, true, T::Lint, i64::MIN.to_string()),
            (&format!("1{}", "0".repeat(64)), 65, true, T::Lint, outside("LINT")),
        ];
        for (digits, width, signed, kind, expected) in cases {
            assert_eq!(shown(digits, width, signed, kind), expected, "{digits} {width} {signed}");
        }
    }

    #[test]
    fn strings_are_characters_from_the_right() {
        let text = |digits: &str, wide| {
            let bits = Bits { digits, width: 64, signed: false };
            value_of_bits(&bits, &CellType::Text { wide, capacity: 4 })
                .map_or_else(|problem| problem, |value| value.to_string())
        };
        assert_eq!(text("110000101100010", false), "'ab'");
        assert_eq!(text("0", false), "''");
        assert_eq!(text("1100001", true), "\"a\"");
        assert_eq!(text(&"01000001".repeat(5), false), "5 characters; the variable holds 4");
    }

    #[test]
    fn whole_reals_fit_other_types() {
        let shown = |number, kind| {
            value_of_real(number, &CellType::Elementary(kind))
                .map_or_else(|problem| problem, |value| value.to_string())
        };
        assert_eq!(shown(2.0, T::Int), "2");
        assert_eq!(shown(2.5, T::Int), "a real number, not a value of type INT");
        assert_eq!(shown(1.0, T::Bool), "TRUE");
        assert_eq!(shown(0.1, T::Real), "0.1");
        assert_eq!(shown(f64::NAN, T::Lreal), "NAN");
        assert_eq!(shown(f64::NAN, T::Int), "a real number, not a value of type INT");
        assert_eq!(shown(1e9, T::Time), "T#1s");
    }
}

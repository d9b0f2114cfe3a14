//! From the text of a cell to a value of the type its column wants.
//!
//! Cells hold the literals of IEC 61131-3:2013 (6.3, tables 5 to 9), read by the grammar's own lexer. Allowed
//! besides, as a recorded trace writes them: `INF`, `-INF` and `NAN` for reals. Knows nothing of columns or files.

use latchwork_grammar::{
    Literal, Names, parse_constant,
    tree::{Expression, ExpressionKind, TypePrefix, UnaryOperator},
};
use latchwork_vm::{ElementaryType, Value};

use super::words::{article, expected, kind_name, literal_name, machine_type};
use crate::nearest::{did_you_mean, nearest};

/// What a cell must hold.
#[derive(Clone, Debug)]
pub(crate) enum CellType {
    /// A value of an elementary type other than the strings.
    Elementary(ElementaryType),
    /// A STRING or WSTRING.
    Text {
        /// WSTRING.
        wide: bool,
        /// Its declared length.
        capacity: u32,
    },
    /// One of these values.
    Enumeration {
        /// Name of the type.
        name: String,
        /// Names and stored numbers.
        values: Vec<(String, i32)>,
    },
}

/// Why a cell can not be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct CellError {
    /// What is wrong with it, for beside the cell.
    pub(crate) label: String,
    /// What to write, for below the excerpt.
    pub(crate) remedy: String,
}

/// Longest text of a cell that is looked at: more than the longest string literal there can be.
const CELL_BYTES_MAX: usize = 512 * 1024;

/// Reads a cell. `names` only spares entering the same identifiers again and again.
pub(crate) fn read(text: &str, kind: &CellType, names: &mut Names) -> Result<Value, CellError> {
    if text.len() > CELL_BYTES_MAX {
        return Err(CellError { label: "this cell is too long".into(), remedy: expected(kind) });
    }
    if let Some(value) = plain(text, kind) {
        return Ok(value);
    }
    let wrong = |label: String| CellError { label, remedy: expected(kind) };
    if let CellType::Elementary(ElementaryType::Bool) = kind {
        let words = ["TRUE", "FALSE"];
        if let [near, ..] = nearest(text, words).as_slice() {
            return Err(wrong(format!("did you mean `{near}`?")));
        }
    }
    if let CellType::Enumeration { .. } = kind
        && text.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'_')
        && !text.starts_with(|first: char| first.is_ascii_digit())
    {
        return named(text, kind).map_err(wrong);
    }
    let constant = parse_constant(text, names).map_err(|diagnostic| {
        let label =
            if diagnostic.primary.text.is_empty() { diagnostic.message } else { diagnostic.primary.text };
        // What the grammar wants in general says less here than what the column wants.
        let general = ["expected a literal", "unexpected after"].iter().any(|words| label.starts_with(words));
        wrong(if general { format!("this is not {}", article(kind)) } else { label })
    })?;
    convert(&constant, false, kind, names).map_err(wrong)
}

/// The forms that fill most files, without the grammar.
fn plain(text: &str, kind: &CellType) -> Option<Value> {
    let CellType::Elementary(kind) = kind else { return None };
    let digits = text.strip_prefix('-').unwrap_or(text);
    let decimal =
        !digits.is_empty() && digits.len() <= 18 && digits.bytes().all(|byte| byte.is_ascii_digit());
    match kind {
        ElementaryType::Bool => match text {
            "1" => Some(Value::Bool(true)),
            "0" => Some(Value::Bool(false)),
            _ if text.eq_ignore_ascii_case("TRUE") => Some(Value::Bool(true)),
            _ if text.eq_ignore_ascii_case("FALSE") => Some(Value::Bool(false)),
            _ => None,
        },
        ElementaryType::Real | ElementaryType::Lreal => {
            let number = match text.to_ascii_uppercase().as_str() {
                "INF" | "+INF" => f64::INFINITY,
                "-INF" => f64::NEG_INFINITY,
                "NAN" => f64::NAN,
                _ => return None,
            };
            Some(if *kind == ElementaryType::Real {
                Value::Real(number as f32)
            } else {
                Value::Lreal(number)
            })
        }
        _ if decimal && kind.is_integer() => integer(i128::from(text.parse::<i64>().ok()?), *kind),
        _ => None,
    }
}

/// The value of a constant in the type that is wanted; the error is the label beside the cell.
fn convert(constant: &Expression, negative: bool, kind: &CellType, names: &Names) -> Result<Value, String> {
    match &constant.kind {
        ExpressionKind::Unary { operator: UnaryOperator::Negate, operand, .. } => {
            convert(operand, !negative, kind, names)
        }
        ExpressionKind::Unary { operator: UnaryOperator::Plus, operand, .. } => {
            convert(operand, negative, kind, names)
        }
        ExpressionKind::Literal(literal) => from_literal(literal, negative, None, kind),
        ExpressionKind::TypedLiteral { prefix, negative: inner, literal } => {
            from_literal(literal, negative != *inner, Some(*prefix), kind)
        }
        ExpressionKind::Name(name) if !negative => named(names.spelling(*name), kind),
        ExpressionKind::QualifiedValue { type_name, value } if !negative => {
            let CellType::Enumeration { name, .. } = kind else {
                return Err(format!("this is a value of an enumeration, not of {}", kind_name(kind)));
            };
            let parts = type_name.path.iter().chain([&type_name.name]);
            let written = parts.map(|part| names.spelling(part.name)).collect::<Vec<_>>().join(".");
            // The type may be written without its namespaces, since the variable tells which it is.
            let plain = name.rsplit_once('.').map_or(name.as_str(), |(_, plain)| plain);
            if ![name, plain].iter().any(|known| written.eq_ignore_ascii_case(known)) {
                return Err(format!("the variable is of type `{name}`, not `{written}`"));
            }
            convert(value, false, kind, names)
        }
        _ => Err("this is not a constant".into()),
    }
}

/// A value of an enumeration by its name.
fn named(text: &str, kind: &CellType) -> Result<Value, String> {
    let CellType::Enumeration { name, values } = kind else {
        return Err(format!("`{text}` is not {}", article(kind)));
    };
    match values.iter().find(|(known, _)| known.eq_ignore_ascii_case(text)) {
        Some((known, value)) => Ok(Value::Enumeration { value: *value, name: Some(known.clone()) }),
        None => Err(did_you_mean(&nearest(text, values.iter().map(|(known, _)| known.as_str())))
            .unwrap_or_else(|| format!("`{name}` has no value `{text}`"))),
    }
}

fn from_literal(
    literal: &Literal,
    negative: bool,
    prefix: Option<TypePrefix>,
    kind: &CellType,
) -> Result<Value, String> {
    let wrong = || format!("this is {}, not {}", literal_name(literal), article(kind));
    let prefix = prefix.map(|prefix| match prefix {
        TypePrefix::Elementary(kind) => machine_type(kind),
        TypePrefix::String { wide: false } => ElementaryType::String,
        TypePrefix::String { wide: true } => ElementaryType::Wstring,
    });
    match kind {
        CellType::Text { wide, capacity } => {
            let (value, length) = match (literal, wide) {
                (Literal::String(text), false) => (Value::String(text.to_vec()), text.len()),
                (Literal::WideString(text), true) => (Value::WideString(text.to_vec()), text.len()),
                _ => return Err(wrong()),
            };
            if negative
                || !prefix_fits(prefix, if *wide { ElementaryType::Wstring } else { ElementaryType::String })
            {
                return Err(wrong());
            }
            if length > *capacity as usize {
                return Err(format!("{length} characters; the variable holds {capacity}"));
            }
            Ok(value)
        }
        CellType::Enumeration { values, .. } => match (literal, prefix) {
            (Literal::Integer(number), None) => {
                let number = signed(*number, negative);
                values
                    .iter()
                    .find(|(_, value)| i128::from(*value) == number)
                    .map(|(name, value)| Value::Enumeration { value: *value, name: Some(name.clone()) })
                    .ok_or_else(|| format!("no value of the enumeration is stored as {number}"))
            }
            _ => Err(wrong()),
        },
        CellType::Elementary(kind) => elementary(literal, negative, prefix, *kind, &wrong),
    }
}

fn elementary(
    literal: &Literal,
    negative: bool,
    prefix: Option<ElementaryType>,
    kind: ElementaryType,
    wrong: &dyn Fn() -> String,
) -> Result<Value, String> {
    use ElementaryType as T;
    if !prefix_fits(prefix, kind) {
        return Err(prefix
            .map_or_else(wrong, |prefix| format!("this is of type {}, not {}", prefix.name(), kind.name())));
    }
    let time = |nanoseconds: i64, long: bool, short_kind: T, long_kind: T, make: fn(i64, T) -> Value| {
        let sign = if negative { nanoseconds.checked_neg() } else { Some(nanoseconds) };
        match sign {
            Some(value) if kind == long_kind || (kind == short_kind && !long) => Ok(make(value, kind)),
            _ => Err(wrong()),
        }
    };
    let value = match literal {
        Literal::Boolean(value) if kind == T::Bool && !negative => Ok(Value::Bool(*value)),
        Literal::Integer(number) => {
            let number = signed(*number, negative);
            let fits_prefix =
                prefix.is_none_or(|prefix| prefix.is_real() || integer(number, prefix).is_some());
            match kind {
                T::Real => Ok(Value::Real(number as f32)),
                T::Lreal => Ok(Value::Lreal(number as f64)),
                T::Bool | T::Byte | T::Word | T::Dword | T::Lword => {
                    integer(number, kind).filter(|_| fits_prefix).ok_or_else(|| out_of_range(number, kind))
                }
                _ if kind.is_integer() => {
                    integer(number, kind).filter(|_| fits_prefix).ok_or_else(|| out_of_range(number, kind))
                }
                T::Time | T::Ltime => Err(format!("{number} has no unit")),
                _ => Err(wrong()),
            }
        }
        Literal::Real { long, short } => {
            let sign = if negative { -1.0 } else { 1.0 };
            match kind {
                T::Real if short.is_finite() => Ok(Value::Real(short * sign as f32)),
                T::Lreal if long.is_finite() => Ok(Value::Lreal(long * sign)),
                T::Real | T::Lreal => Err(format!("this number is too big for {}", kind.name())),
                _ => Err(wrong()),
            }
        }
        Literal::Duration { nanoseconds, long } => {
            time(*nanoseconds, *long, T::Time, T::Ltime, Value::Duration)
        }
        Literal::Date { nanoseconds, long } if !negative => {
            time(*nanoseconds, *long, T::Date, T::Ldate, Value::Date)
        }
        Literal::TimeOfDay { nanoseconds, long } if !negative => {
            time(*nanoseconds, *long, T::TimeOfDay, T::LtimeOfDay, Value::TimeOfDay)
        }
        Literal::DateAndTime { nanoseconds, long } if !negative => {
            time(*nanoseconds, *long, T::DateAndTime, T::LdateAndTime, Value::DateAndTime)
        }
        Literal::String(text) if kind == T::Char && !negative => match text.as_ref() {
            [code] => Ok(Value::Char(*code)),
            _ => Err(format!("{} characters; a CHAR holds one", text.len())),
        },
        Literal::WideString(text) if kind == T::Wchar && !negative => match text.as_ref() {
            [code] => Ok(Value::Wchar(*code)),
            _ => Err(format!("{} characters; a WCHAR holds one", text.len())),
        },
        _ => Err(wrong()),
    }?;
    Ok(value)
}

/// Whether a literal with this prefix may be given to a variable of this type without a conversion that loses
/// something: the same type, or a narrower one of the same kind.
fn prefix_fits(prefix: Option<ElementaryType>, kind: ElementaryType) -> bool {
    let Some(prefix) = prefix else { return true };
    let narrower = prefix.size() <= kind.size();
    prefix == kind
        || (prefix.is_signed() && kind.is_signed() && narrower)
        || (prefix.is_unsigned() && kind.is_integer() && prefix.size() < kind.size())
        || (prefix.is_unsigned() && kind.is_unsigned() && narrower)
        || (prefix.is_bit() && kind.is_bit() && narrower)
        || (prefix.is_real() && kind.is_real() && narrower)
        || (prefix.is_duration() && kind == ElementaryType::Ltime)
}

/// An integer or bit string of this type, if the number is one of its values.
fn integer(number: i128, kind: ElementaryType) -> Option<Value> {
    let width = kind.size()? * 8;
    if kind.is_signed() {
        let half = 1_i128 << (width - 1);
        (-half..half).contains(&number).then_some(Value::Signed(number as i64, kind))
    } else if kind == ElementaryType::Bool {
        (0..2).contains(&number).then_some(Value::Bool(number == 1))
    } else if kind.is_unsigned() || kind.is_bit() {
        let make = if kind.is_bit() { Value::Bits } else { Value::Unsigned };
        (0..1_i128 << width).contains(&number).then(|| make(number as u64, kind))
    } else {
        None
    }
}

fn out_of_range(number: i128, kind: ElementaryType) -> String {
    let width = kind.size().unwrap_or(1) * 8;
    if kind == ElementaryType::Bool {
        return format!("{number} is neither 0 nor 1");
    }
    let (low, high) = if kind.is_signed() {
        (-(1_i128 << (width - 1)), (1_i128 << (width - 1)) - 1)
    } else {
        (0, (1_i128 << width) - 1)
    };
    format!("{number} is outside the range {low}..{high} of {}", kind.name())
}

fn signed(number: u64, negative: bool) -> i128 {
    if negative { -i128::from(number) } else { i128::from(number) }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a broken expectation fails the test")]

    use super::*;

    #[test]
    fn the_type_of_a_value_is_written_with_or_without_its_namespaces() {
        let values = vec![("Manual".to_owned(), 0), ("Auto".to_owned(), 1)];
        let kind = CellType::Enumeration { name: "Plant.Water.Mode".into(), values };
        let mut names = Names::new();
        for text in ["Auto", "Mode#Auto", "Plant.Water.Mode#Auto", "plant.water.mode#auto"] {
            let value = read(text, &kind, &mut names).unwrap();
            assert_eq!(value, Value::Enumeration { value: 1, name: Some("Auto".into()) }, "{text}");
        }
        for text in ["Water.Mode#Auto", "Rain.Mode#Auto", "Plant.Water#Auto", "Plant.Water.Mode#Off"] {
            assert!(read(text, &kind, &mut names).is_err(), "{text}");
        }
    }
}

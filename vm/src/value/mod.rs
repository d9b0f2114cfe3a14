//! Values as they are read from and written to the data image, shown, compared and recorded.
//!
//! This module knows how values look as literals of the standard (IEC 61131-3:2013 Tables 5 to 9) and how they are
//! ordered; it knows nothing of addresses.

mod display;

use crate::types::ElementaryType;
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;

/// A value of an elementary type, a string, or an enumeration.
///
/// Equality and order are total and follow the stored representation (so that NaN equals itself, and -0.0 and 0.0
/// differ): what a recorder needs. [`Value::compare`] is the comparison of the language.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub enum Value {
    /// BOOL.
    Bool(bool),
    /// SINT, INT, DINT, LINT.
    Signed(i64, ElementaryType),
    /// USINT, UINT, UDINT, ULINT.
    Unsigned(u64, ElementaryType),
    /// BYTE, WORD, DWORD, LWORD.
    Bits(u64, ElementaryType),
    /// REAL.
    Real(f32),
    /// LREAL.
    Lreal(f64),
    /// TIME, LTIME: nanoseconds.
    Duration(i64, ElementaryType),
    /// DATE, LDATE: nanoseconds since 1970-01-01.
    Date(i64, ElementaryType),
    /// TIME_OF_DAY, LTIME_OF_DAY: nanoseconds since midnight.
    TimeOfDay(i64, ElementaryType),
    /// DATE_AND_TIME, LDATE_AND_TIME: nanoseconds since 1970-01-01-00:00:00.
    DateAndTime(i64, ElementaryType),
    /// CHAR.
    Char(u8),
    /// WCHAR.
    Wchar(u16),
    /// STRING.
    String(Vec<u8>),
    /// WSTRING.
    WideString(Vec<u16>),
    /// An enumeration with the name of the value, where one exists.
    Enumeration {
        /// Stored number.
        value: i32,
        /// Name as declared.
        name: Option<String>,
    },
}

impl Value {
    /// The value of an elementary type with these 64 bits (the low bits of narrower types; BOOL: bit 0).
    /// `None` for string types.
    #[must_use]
    pub fn from_bits(bits: u64, kind: ElementaryType) -> Option<Self> {
        // Casts cut to the width of the type, as documented.
        let signed = bits as i64;
        Some(match kind {
            ElementaryType::Bool => Self::Bool(bits & 1 != 0),
            ElementaryType::Byte => Self::Bits(u64::from(bits as u8), kind),
            ElementaryType::Word => Self::Bits(u64::from(bits as u16), kind),
            ElementaryType::Dword => Self::Bits(u64::from(bits as u32), kind),
            ElementaryType::Lword => Self::Bits(bits, kind),
            ElementaryType::Sint => Self::Signed(i64::from(bits as i8), kind),
            ElementaryType::Int => Self::Signed(i64::from(bits as i16), kind),
            ElementaryType::Dint => Self::Signed(i64::from(bits as i32), kind),
            ElementaryType::Lint => Self::Signed(signed, kind),
            ElementaryType::Usint => Self::Unsigned(u64::from(bits as u8), kind),
            ElementaryType::Uint => Self::Unsigned(u64::from(bits as u16), kind),
            ElementaryType::Udint => Self::Unsigned(u64::from(bits as u32), kind),
            ElementaryType::Ulint => Self::Unsigned(bits, kind),
            ElementaryType::Real => Self::Real(f32::from_bits(bits as u32)),
            ElementaryType::Lreal => Self::Lreal(f64::from_bits(bits)),
            ElementaryType::Time | ElementaryType::Ltime => Self::Duration(signed, kind),
            ElementaryType::Date | ElementaryType::Ldate => Self::Date(signed, kind),
            ElementaryType::TimeOfDay | ElementaryType::LtimeOfDay => Self::TimeOfDay(signed, kind),
            ElementaryType::DateAndTime | ElementaryType::LdateAndTime => Self::DateAndTime(signed, kind),
            ElementaryType::Char => Self::Char(bits as u8),
            ElementaryType::Wchar => Self::Wchar(bits as u16),
            ElementaryType::String | ElementaryType::Wstring => return None,
        })
    }

    /// The stored bits, sign-extended to 64 where the type is signed; `None` for strings.
    #[must_use]
    pub fn to_bits(&self) -> Option<u64> {
        Some(match self {
            Self::Bool(value) => u64::from(*value),
            Self::Signed(value, _)
            | Self::Duration(value, _)
            | Self::Date(value, _)
            | Self::TimeOfDay(value, _)
            | Self::DateAndTime(value, _) => *value as u64,
            Self::Unsigned(value, _) | Self::Bits(value, _) => *value,
            Self::Real(value) => u64::from(value.to_bits()),
            Self::Lreal(value) => value.to_bits(),
            Self::Char(value) => u64::from(*value),
            Self::Wchar(value) => u64::from(*value),
            Self::Enumeration { value, .. } => i64::from(*value) as u64,
            Self::String(_) | Self::WideString(_) => return None,
        })
    }

    /// Its elementary type; `None` for enumerations.
    #[must_use]
    pub const fn elementary_type(&self) -> Option<ElementaryType> {
        Some(match self {
            Self::Bool(_) => ElementaryType::Bool,
            Self::Signed(_, kind)
            | Self::Unsigned(_, kind)
            | Self::Bits(_, kind)
            | Self::Duration(_, kind)
            | Self::Date(_, kind)
            | Self::TimeOfDay(_, kind)
            | Self::DateAndTime(_, kind) => *kind,
            Self::Real(_) => ElementaryType::Real,
            Self::Lreal(_) => ElementaryType::Lreal,
            Self::Char(_) => ElementaryType::Char,
            Self::Wchar(_) => ElementaryType::Wchar,
            Self::String(_) => ElementaryType::String,
            Self::WideString(_) => ElementaryType::Wstring,
            Self::Enumeration { .. } => return None,
        })
    }

    /// The value of a BOOL; `None` for other types.
    #[must_use]
    pub const fn as_bool(&self) -> Option<bool> {
        match self {
            Self::Bool(value) => Some(*value),
            _ => None,
        }
    }

    /// The value as a number for drawing: numbers, bits, BOOL (0 or 1), durations and dates in nanoseconds,
    /// enumerations by their stored number. `None` for characters and strings.
    #[must_use]
    pub fn as_f64(&self) -> Option<f64> {
        Some(match self {
            Self::Bool(value) => f64::from(u8::from(*value)),
            Self::Signed(value, _)
            | Self::Duration(value, _)
            | Self::Date(value, _)
            | Self::TimeOfDay(value, _)
            | Self::DateAndTime(value, _) => *value as f64,
            Self::Unsigned(value, _) | Self::Bits(value, _) => *value as f64,
            Self::Real(value) => f64::from(*value),
            Self::Lreal(value) => *value,
            Self::Enumeration { value, .. } => f64::from(*value),
            Self::Char(_) | Self::Wchar(_) | Self::String(_) | Self::WideString(_) => return None,
        })
    }

    /// The value as an integer: integers, bits, BOOL, durations and dates in nanoseconds, enumerations, characters.
    /// `None` for reals and strings.
    #[must_use]
    pub fn as_i128(&self) -> Option<i128> {
        Some(match self {
            Self::Bool(value) => i128::from(*value),
            Self::Signed(value, _)
            | Self::Duration(value, _)
            | Self::Date(value, _)
            | Self::TimeOfDay(value, _)
            | Self::DateAndTime(value, _) => i128::from(*value),
            Self::Unsigned(value, _) | Self::Bits(value, _) => i128::from(*value),
            Self::Char(value) => i128::from(*value),
            Self::Wchar(value) => i128::from(*value),
            Self::Enumeration { value, .. } => i128::from(*value),
            Self::Real(_) | Self::Lreal(_) | Self::String(_) | Self::WideString(_) => return None,
        })
    }

    /// The comparison of the language (IEC 61131-3:2013 Table 33): numbers by value whatever their types, strings
    /// character by character with the shorter filled with code 0, reals after IEC 60559 (NaN is unordered).
    /// `None` where the values cannot be compared.
    #[must_use]
    pub fn compare(&self, other: &Self) -> Option<Ordering> {
        match (self, other) {
            (Self::String(left), Self::String(right)) => Some(compare_padded(left, right)),
            (Self::WideString(left), Self::WideString(right)) => Some(compare_padded(left, right)),
            _ => match (self.as_i128(), other.as_i128()) {
                (Some(left), Some(right)) => Some(left.cmp(&right)),
                _ => self.as_f64()?.partial_cmp(&other.as_f64()?),
            },
        }
    }

    const fn rank(&self) -> u8 {
        match self {
            Self::Bool(_) => 0,
            Self::Signed(..) => 1,
            Self::Unsigned(..) => 2,
            Self::Bits(..) => 3,
            Self::Real(_) => 4,
            Self::Lreal(_) => 5,
            Self::Duration(..) => 6,
            Self::Date(..) => 7,
            Self::TimeOfDay(..) => 8,
            Self::DateAndTime(..) => 9,
            Self::Char(_) => 10,
            Self::Wchar(_) => 11,
            Self::String(_) => 12,
            Self::WideString(_) => 13,
            Self::Enumeration { .. } => 14,
        }
    }
}

/// Order of two strings, the shorter filled at the right with code 0.
pub(crate) fn compare_padded<T: Ord + Copy + Default>(left: &[T], right: &[T]) -> Ordering {
    let length = left.len().max(right.len());
    let filled = |text: &[T], index: usize| text.get(index).copied().unwrap_or_default();
    (0..length)
        .map(|index| filled(left, index).cmp(&filled(right, index)))
        .find(|order| order.is_ne())
        .unwrap_or(Ordering::Equal)
}

impl Ord for Value {
    fn cmp(&self, other: &Self) -> Ordering {
        match (self, other) {
            (Self::Bool(left), Self::Bool(right)) => left.cmp(right),
            (Self::Signed(left, kind), Self::Signed(right, other_kind))
            | (Self::Duration(left, kind), Self::Duration(right, other_kind))
            | (Self::Date(left, kind), Self::Date(right, other_kind))
            | (Self::TimeOfDay(left, kind), Self::TimeOfDay(right, other_kind))
            | (Self::DateAndTime(left, kind), Self::DateAndTime(right, other_kind)) => {
                left.cmp(right).then_with(|| kind.cmp(other_kind))
            }
            (Self::Unsigned(left, kind), Self::Unsigned(right, other_kind))
            | (Self::Bits(left, kind), Self::Bits(right, other_kind)) => {
                left.cmp(right).then_with(|| kind.cmp(other_kind))
            }
            (Self::Real(left), Self::Real(right)) => left.total_cmp(right),
            (Self::Lreal(left), Self::Lreal(right)) => left.total_cmp(right),
            (Self::Char(left), Self::Char(right)) => left.cmp(right),
            (Self::Wchar(left), Self::Wchar(right)) => left.cmp(right),
            (Self::String(left), Self::String(right)) => left.cmp(right),
            (Self::WideString(left), Self::WideString(right)) => left.cmp(right),
            (
                Self::Enumeration { value: left, name },
                Self::Enumeration { value: right, name: other_name },
            ) => left.cmp(right).then_with(|| name.cmp(other_name)),
            _ => self.rank().cmp(&other.rank()),
        }
    }
}

impl PartialOrd for Value {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Value {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Value {}

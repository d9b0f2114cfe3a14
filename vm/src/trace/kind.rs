//! What kind of value a signal has.

use crate::resolve::ResolvedKind;
use crate::types::ElementaryType;
use serde::{Deserialize, Serialize};

/// What kind of value a signal has; numbers are widths in bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum SignalKind {
    /// BOOL.
    Bool,
    /// BYTE, WORD, DWORD, LWORD, references.
    Bits(u8),
    /// SINT, INT, DINT, LINT.
    Signed(u8),
    /// USINT, UINT, UDINT, ULINT.
    Unsigned(u8),
    /// REAL.
    Real,
    /// LREAL.
    Lreal,
    /// TIME, LTIME.
    Duration,
    /// DATE, LDATE.
    Date,
    /// TIME_OF_DAY, LTIME_OF_DAY.
    TimeOfDay,
    /// DATE_AND_TIME, LDATE_AND_TIME.
    DateAndTime,
    /// CHAR.
    Char,
    /// WCHAR.
    Wchar,
    /// STRING.
    String,
    /// WSTRING.
    WideString,
    /// An enumeration.
    Enumeration,
}

impl SignalKind {
    /// The kind of a resolved variable.
    #[must_use]
    pub fn of(kind: ResolvedKind) -> Self {
        match kind {
            ResolvedKind::Elementary(kind) => Self::of_elementary(kind),
            ResolvedKind::String { wide: false, .. } => Self::String,
            ResolvedKind::String { wide: true, .. } => Self::WideString,
            ResolvedKind::Enumeration(_) => Self::Enumeration,
            ResolvedKind::Reference => Self::Bits(32),
            ResolvedKind::Bit(_) => Self::Bool,
        }
    }

    fn of_elementary(kind: ElementaryType) -> Self {
        // Elementary types have at most 8 bytes.
        let bits = (kind.size().unwrap_or(0) * 8) as u8;
        match kind {
            ElementaryType::Bool => Self::Bool,
            ElementaryType::Real => Self::Real,
            ElementaryType::Lreal => Self::Lreal,
            ElementaryType::Time | ElementaryType::Ltime => Self::Duration,
            ElementaryType::Date | ElementaryType::Ldate => Self::Date,
            ElementaryType::TimeOfDay | ElementaryType::LtimeOfDay => Self::TimeOfDay,
            ElementaryType::DateAndTime | ElementaryType::LdateAndTime => Self::DateAndTime,
            ElementaryType::Char => Self::Char,
            ElementaryType::Wchar => Self::Wchar,
            ElementaryType::String => Self::String,
            ElementaryType::Wstring => Self::WideString,
            _ if kind.is_signed() => Self::Signed(bits),
            _ if kind.is_unsigned() => Self::Unsigned(bits),
            _ => Self::Bits(bits),
        }
    }
}

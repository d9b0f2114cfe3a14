//! The generic types of the standard and the value-keeping implicit conversions between elementary types.
//!
//! Source: IEC 61131-3:2013, 6.4.3 (generic data types) and 6.4.2.6 (implicit conversion). The module knows
//! the type names only, no values and no instructions.

use latchwork_vm::ElementaryType;

use ElementaryType as T;

/// A generic type of the standard, or one elementary type: what an operand may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TypeClass {
    /// Every type, derived ones included.
    Any,
    /// Every elementary type.
    AnyElementary,
    /// Numbers and durations.
    AnyMagnitude,
    /// Integers and reals.
    AnyNum,
    /// REAL, LREAL.
    AnyReal,
    /// All integers.
    AnyInt,
    /// USINT, UINT, UDINT, ULINT.
    AnyUnsigned,
    /// SINT, INT, DINT, LINT.
    AnySigned,
    /// TIME, LTIME.
    AnyDuration,
    /// BOOL, BYTE, WORD, DWORD, LWORD.
    AnyBit,
    /// Strings and characters.
    AnyChars,
    /// STRING, WSTRING.
    AnyString,
    /// CHAR, WCHAR.
    AnyChar,
    /// Dates, times of day, dates with time of day.
    AnyDate,
    /// This type alone.
    Exact(ElementaryType),
}

impl TypeClass {
    /// Whether a type belongs to the class.
    pub fn accepts(self, ty: ElementaryType) -> bool {
        match self {
            Self::Any | Self::AnyElementary => true,
            Self::AnyMagnitude => ty.is_magnitude(),
            Self::AnyNum => ty.is_number(),
            Self::AnyReal => ty.is_real(),
            Self::AnyInt => ty.is_integer(),
            Self::AnyUnsigned => ty.is_unsigned(),
            Self::AnySigned => ty.is_signed(),
            Self::AnyDuration => ty.is_duration(),
            Self::AnyBit => ty.is_bit(),
            Self::AnyChars => ty.is_chars(),
            Self::AnyString => ty.is_string(),
            Self::AnyChar => ty.is_char(),
            Self::AnyDate => ty.is_date(),
            Self::Exact(exact) => exact == ty,
        }
    }

    /// The standard's name of the class, such as `ANY_NUM`, or the name of the one type.
    pub fn name(self) -> &'static str {
        match self {
            Self::Any => "ANY",
            Self::AnyElementary => "ANY_ELEMENTARY",
            Self::AnyMagnitude => "ANY_MAGNITUDE",
            Self::AnyNum => "ANY_NUM",
            Self::AnyReal => "ANY_REAL",
            Self::AnyInt => "ANY_INT",
            Self::AnyUnsigned => "ANY_UNSIGNED",
            Self::AnySigned => "ANY_SIGNED",
            Self::AnyDuration => "ANY_DURATION",
            Self::AnyBit => "ANY_BIT",
            Self::AnyChars => "ANY_CHARS",
            Self::AnyString => "ANY_STRING",
            Self::AnyChar => "ANY_CHAR",
            Self::AnyDate => "ANY_DATE",
            Self::Exact(ty) => ty.name(),
        }
    }

    /// The smallest type of the class that `ty` becomes by implicit conversion (`ty` itself if it belongs
    /// to the class): INT where ANY_REAL is wanted becomes REAL, DINT becomes LREAL.
    pub fn nearest(self, ty: ElementaryType) -> Option<ElementaryType> {
        if self.accepts(ty) {
            return Some(ty);
        }
        ElementaryType::ALL
            .iter()
            .copied()
            .find(|candidate| self.accepts(*candidate) && implicitly_converts(ty, *candidate))
    }
}

/// Whether a value of type `from` may stand where `to` is wanted without a conversion function, because
/// every value is kept (6.4.2.6): within the signed, unsigned, real and bit-string types upwards, unsigned
/// into a larger signed type, integers into the real type that holds them all exactly, a character into a
/// string, each time type into its long form. A type converts to itself.
pub fn implicitly_converts(from: ElementaryType, to: ElementaryType) -> bool {
    if from == to {
        return true;
    }
    match from {
        T::Bool => matches!(to, T::Byte | T::Word | T::Dword | T::Lword),
        T::Byte => matches!(to, T::Word | T::Dword | T::Lword),
        T::Word => matches!(to, T::Dword | T::Lword),
        T::Dword => matches!(to, T::Lword),
        T::Sint => matches!(to, T::Int | T::Dint | T::Lint | T::Real | T::Lreal),
        T::Int => matches!(to, T::Dint | T::Lint | T::Real | T::Lreal),
        T::Dint => matches!(to, T::Lint | T::Lreal),
        T::Usint => {
            matches!(to, T::Uint | T::Udint | T::Ulint | T::Int | T::Dint | T::Lint | T::Real | T::Lreal)
        }
        T::Uint => matches!(to, T::Udint | T::Ulint | T::Dint | T::Lint | T::Real | T::Lreal),
        T::Udint => matches!(to, T::Ulint | T::Lint | T::Lreal),
        T::Real => to == T::Lreal,
        T::Time => to == T::Ltime,
        T::Date => to == T::Ldate,
        T::TimeOfDay => to == T::LtimeOfDay,
        T::DateAndTime => to == T::LdateAndTime,
        T::Char => to == T::String,
        T::Wchar => to == T::Wstring,
        T::Lword
        | T::Lint
        | T::Ulint
        | T::Lreal
        | T::Ltime
        | T::Ldate
        | T::LtimeOfDay
        | T::LdateAndTime
        | T::String
        | T::Wstring => false,
    }
}

/// The smallest type both operands convert to implicitly; `None` if there is no such type.
pub fn common_type(left: ElementaryType, right: ElementaryType) -> Option<ElementaryType> {
    if implicitly_converts(left, right) {
        return Some(right);
    }
    if implicitly_converts(right, left) {
        return Some(left);
    }
    // The standard's order lists each family from the smallest type to the largest, signed integers first.
    ElementaryType::ALL
        .iter()
        .copied()
        .find(|ty| implicitly_converts(left, *ty) && implicitly_converts(right, *ty))
}

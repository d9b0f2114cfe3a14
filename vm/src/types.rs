//! The elementary data types of the standard and the ten machine scalars that store them.
//!
//! IEC 61131-3:2013 Table 10 (elementary data types). This module says how wide a value is and to which generic
//! type it belongs; it knows nothing of conversions, literals or operations.

use serde::{Deserialize, Serialize};

/// A machine scalar: the storage format that an instruction works on.
///
/// The unsigned scalars also serve as plain widths: a BOOL is a `U8` holding 0 or 1, a WORD a `U16`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[repr(u8)]
pub enum Scalar {
    /// Signed, 8 bits.
    I8,
    /// Signed, 16 bits.
    I16,
    /// Signed, 32 bits.
    I32,
    /// Signed, 64 bits.
    I64,
    /// Unsigned or plain bits, 8 bits.
    U8,
    /// Unsigned or plain bits, 16 bits.
    U16,
    /// Unsigned or plain bits, 32 bits.
    U32,
    /// Unsigned or plain bits, 64 bits.
    U64,
    /// IEC 60559 binary32.
    F32,
    /// IEC 60559 binary64.
    F64,
}

impl Scalar {
    /// All scalars, in the order of their codes.
    pub const ALL: [Self; 10] = [
        Self::I8,
        Self::I16,
        Self::I32,
        Self::I64,
        Self::U8,
        Self::U16,
        Self::U32,
        Self::U64,
        Self::F32,
        Self::F64,
    ];

    /// Size in bytes: 1, 2, 4 or 8.
    #[must_use]
    pub const fn size(self) -> u32 {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::I64 | Self::U64 | Self::F64 => 8,
        }
    }

    /// The suffix used in listings: `i32`, `f64`.
    #[must_use]
    pub const fn suffix(self) -> &'static str {
        match self {
            Self::I8 => "i8",
            Self::I16 => "i16",
            Self::I32 => "i32",
            Self::I64 => "i64",
            Self::U8 => "u8",
            Self::U16 => "u16",
            Self::U32 => "u32",
            Self::U64 => "u64",
            Self::F32 => "f32",
            Self::F64 => "f64",
        }
    }

    /// The scalar with this code, if there is one.
    #[must_use]
    pub fn from_code(code: u8) -> Option<Self> {
        Self::ALL.get(usize::from(code)).copied()
    }

    /// The unsigned scalar of the same width, for moves and bit operations.
    #[must_use]
    pub const fn bits(self) -> Self {
        match self.size() {
            1 => Self::U8,
            2 => Self::U16,
            4 => Self::U32,
            _ => Self::U64,
        }
    }

    /// Whether this is a signed integer.
    #[must_use]
    pub const fn is_signed(self) -> bool {
        matches!(self, Self::I8 | Self::I16 | Self::I32 | Self::I64)
    }

    /// Whether this is a floating-point scalar.
    #[must_use]
    pub const fn is_float(self) -> bool {
        matches!(self, Self::F32 | Self::F64)
    }
}

macro_rules! elementary_types {
    ($($variant:ident $name:literal $size:expr, $scalar:expr, $doc:literal;)*) => {
        /// An elementary data type of the standard.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum ElementaryType {
            $(#[doc = $doc] $variant,)*
        }

        impl ElementaryType {
            /// All elementary types, in the order of the standard's table.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The standard's keyword.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// Size in bytes; `None` for strings, whose size follows from their declared length.
            #[must_use]
            pub const fn size(self) -> Option<u32> {
                match self { $(Self::$variant => $size,)* }
            }

            /// The machine scalar that stores a value; `None` for strings.
            #[must_use]
            pub const fn scalar(self) -> Option<Scalar> {
                match self { $(Self::$variant => $scalar,)* }
            }
        }
    };
}

elementary_types! {
    Bool "BOOL" Some(1), Some(Scalar::U8), "Boolean, one byte holding 0 or 1.";
    Byte "BYTE" Some(1), Some(Scalar::U8), "Bit string of 8 bits.";
    Word "WORD" Some(2), Some(Scalar::U16), "Bit string of 16 bits.";
    Dword "DWORD" Some(4), Some(Scalar::U32), "Bit string of 32 bits.";
    Lword "LWORD" Some(8), Some(Scalar::U64), "Bit string of 64 bits.";
    Sint "SINT" Some(1), Some(Scalar::I8), "Signed integer of 8 bits.";
    Int "INT" Some(2), Some(Scalar::I16), "Signed integer of 16 bits.";
    Dint "DINT" Some(4), Some(Scalar::I32), "Signed integer of 32 bits.";
    Lint "LINT" Some(8), Some(Scalar::I64), "Signed integer of 64 bits.";
    Usint "USINT" Some(1), Some(Scalar::U8), "Unsigned integer of 8 bits.";
    Uint "UINT" Some(2), Some(Scalar::U16), "Unsigned integer of 16 bits.";
    Udint "UDINT" Some(4), Some(Scalar::U32), "Unsigned integer of 32 bits.";
    Ulint "ULINT" Some(8), Some(Scalar::U64), "Unsigned integer of 64 bits.";
    Real "REAL" Some(4), Some(Scalar::F32), "Floating point, IEC 60559 binary32.";
    Lreal "LREAL" Some(8), Some(Scalar::F64), "Floating point, IEC 60559 binary64.";
    Time "TIME" Some(8), Some(Scalar::I64), "Duration in nanoseconds.";
    Ltime "LTIME" Some(8), Some(Scalar::I64), "Duration in nanoseconds.";
    Date "DATE" Some(8), Some(Scalar::I64), "Date, nanoseconds since 1970-01-01.";
    Ldate "LDATE" Some(8), Some(Scalar::I64), "Date, nanoseconds since 1970-01-01.";
    TimeOfDay "TIME_OF_DAY" Some(8), Some(Scalar::I64), "Time of day, nanoseconds since midnight.";
    LtimeOfDay "LTIME_OF_DAY" Some(8), Some(Scalar::I64), "Time of day, nanoseconds since midnight.";
    DateAndTime "DATE_AND_TIME" Some(8), Some(Scalar::I64), "Date and time, nanoseconds since 1970-01-01-00:00:00.";
    LdateAndTime "LDATE_AND_TIME" Some(8), Some(Scalar::I64), "Date and time, nanoseconds since 1970-01-01-00:00:00.";
    Char "CHAR" Some(1), Some(Scalar::U8), "Single-byte character.";
    Wchar "WCHAR" Some(2), Some(Scalar::U16), "Double-byte character.";
    String "STRING" None, None, "Variable-length string of single-byte characters.";
    Wstring "WSTRING" None, None, "Variable-length string of double-byte characters.";
}

impl ElementaryType {
    /// ANY_SIGNED: SINT, INT, DINT, LINT.
    #[must_use]
    pub const fn is_signed(self) -> bool {
        matches!(self, Self::Sint | Self::Int | Self::Dint | Self::Lint)
    }

    /// ANY_UNSIGNED: USINT, UINT, UDINT, ULINT.
    #[must_use]
    pub const fn is_unsigned(self) -> bool {
        matches!(self, Self::Usint | Self::Uint | Self::Udint | Self::Ulint)
    }

    /// ANY_INT: signed and unsigned integers.
    #[must_use]
    pub const fn is_integer(self) -> bool {
        self.is_signed() || self.is_unsigned()
    }

    /// ANY_REAL: REAL, LREAL.
    #[must_use]
    pub const fn is_real(self) -> bool {
        matches!(self, Self::Real | Self::Lreal)
    }

    /// ANY_NUM: integers and reals.
    #[must_use]
    pub const fn is_number(self) -> bool {
        self.is_integer() || self.is_real()
    }

    /// ANY_DURATION: TIME, LTIME.
    #[must_use]
    pub const fn is_duration(self) -> bool {
        matches!(self, Self::Time | Self::Ltime)
    }

    /// ANY_MAGNITUDE: numbers and durations.
    #[must_use]
    pub const fn is_magnitude(self) -> bool {
        self.is_number() || self.is_duration()
    }

    /// ANY_BIT: BOOL, BYTE, WORD, DWORD, LWORD.
    #[must_use]
    pub const fn is_bit(self) -> bool {
        matches!(self, Self::Bool | Self::Byte | Self::Word | Self::Dword | Self::Lword)
    }

    /// ANY_DATE: dates, times of day, dates with time.
    #[must_use]
    pub const fn is_date(self) -> bool {
        matches!(
            self,
            Self::Date
                | Self::Ldate
                | Self::TimeOfDay
                | Self::LtimeOfDay
                | Self::DateAndTime
                | Self::LdateAndTime
        )
    }

    /// ANY_CHAR: CHAR, WCHAR.
    #[must_use]
    pub const fn is_char(self) -> bool {
        matches!(self, Self::Char | Self::Wchar)
    }

    /// ANY_STRING: STRING, WSTRING.
    #[must_use]
    pub const fn is_string(self) -> bool {
        matches!(self, Self::String | Self::Wstring)
    }

    /// ANY_CHARS: characters and strings.
    #[must_use]
    pub const fn is_chars(self) -> bool {
        self.is_char() || self.is_string()
    }

    /// The type with this keyword, in any case; the short forms `TOD`, `DT`, `LTOD`, `LDT` are understood too.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        let short = [
            ("TOD", Self::TimeOfDay),
            ("DT", Self::DateAndTime),
            ("LTOD", Self::LtimeOfDay),
            ("LDT", Self::LdateAndTime),
        ];
        Self::ALL
            .iter()
            .copied()
            .find(|kind| kind.name().eq_ignore_ascii_case(name))
            .or_else(|| short.iter().find(|(text, _)| text.eq_ignore_ascii_case(name)).map(|(_, kind)| *kind))
    }
}

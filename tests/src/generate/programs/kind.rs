//! The elementary types that random programs use.

/// An elementary type.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// BOOL.
    Bool,
    /// SINT.
    Sint,
    /// INT.
    Int,
    /// DINT.
    Dint,
    /// LINT.
    Lint,
    /// USINT.
    Usint,
    /// UINT.
    Uint,
    /// UDINT.
    Udint,
    /// ULINT.
    Ulint,
    /// REAL.
    Real,
    /// LREAL.
    Lreal,
    /// TIME.
    Time,
    /// BYTE.
    Byte,
    /// WORD.
    Word,
    /// DWORD.
    Dword,
    /// LWORD.
    Lword,
}

use Kind::*;

/// All of them.
pub const KINDS: [Kind; 16] =
    [Bool, Sint, Int, Dint, Lint, Usint, Uint, Udint, Ulint, Real, Lreal, Time, Byte, Word, Dword, Lword];

/// Those that arithmetic works on; the first ones are more usual.
pub const NUMBERS: [Kind; 10] = [Int, Dint, Real, Lreal, Sint, Lint, Usint, Uint, Udint, Ulint];

/// The integers.
pub const INTEGERS: [Kind; 8] = [Int, Dint, Sint, Lint, Usint, Uint, Udint, Ulint];

/// Bit strings of more than one bit.
pub const BIT_STRINGS: [Kind; 4] = [Word, Byte, Dword, Lword];

impl Kind {
    /// The word of the standard.
    pub const fn name(self) -> &'static str {
        match self {
            Bool => "BOOL",
            Sint => "SINT",
            Int => "INT",
            Dint => "DINT",
            Lint => "LINT",
            Usint => "USINT",
            Uint => "UINT",
            Udint => "UDINT",
            Ulint => "ULINT",
            Real => "REAL",
            Lreal => "LREAL",
            Time => "TIME",
            Byte => "BYTE",
            Word => "WORD",
            Dword => "DWORD",
            Lword => "LWORD",
        }
    }

    /// The type with an initial value, as it stands in a declaration.
    pub const fn initialised(self) -> &'static str {
        match self {
            Bool => "BOOL := FALSE",
            Sint => "SINT := 1",
            Int => "INT := 2",
            Dint => "DINT := 3",
            Lint => "LINT := 4",
            Usint => "USINT := 1",
            Uint => "UINT := 2",
            Udint => "UDINT := 3",
            Ulint => "ULINT := 4",
            Real => "REAL := 0.5",
            Lreal => "LREAL := 1.5",
            Time => "TIME := T#20ms",
            Byte => "BYTE := 16#A5",
            Word => "WORD := 16#0FF0",
            Dword => "DWORD := 1",
            Lword => "LWORD := 1",
        }
    }

    /// How the names of variables of this type begin.
    pub const fn prefix(self) -> &'static str {
        match self {
            Bool => "b",
            Sint => "s",
            Int => "i",
            Dint => "d",
            Lint => "l",
            Usint => "us",
            Uint => "u",
            Udint => "ud",
            Ulint => "ul",
            Real => "r",
            Lreal => "lr",
            Time => "t",
            Byte => "y",
            Word => "w",
            Dword => "dw",
            Lword => "lw",
        }
    }

    /// Its place in lists with an entry for each type.
    pub const fn index(self) -> usize {
        self as usize
    }

    /// The greatest value of an integer type; 0 for other types.
    pub const fn greatest(self) -> u64 {
        match self {
            Sint => i8::MAX as u64,
            Int => i16::MAX as u64,
            Dint => i32::MAX as u64,
            Lint => i64::MAX as u64,
            Usint => u8::MAX as u64,
            Uint => u16::MAX as u64,
            Udint => u32::MAX as u64,
            Ulint => u64::MAX,
            _ => 0,
        }
    }

    /// REAL or LREAL.
    pub const fn is_float(self) -> bool {
        matches!(self, Real | Lreal)
    }

    /// An integer without a sign.
    pub const fn is_unsigned(self) -> bool {
        matches!(self, Usint | Uint | Udint | Ulint)
    }

    /// A type that becomes this one without being told, if there is one.
    pub const fn narrower(self) -> Option<Self> {
        match self {
            Int => Some(Sint),
            Dint => Some(Int),
            Lint => Some(Dint),
            Uint => Some(Usint),
            Udint => Some(Uint),
            Ulint => Some(Udint),
            Lreal => Some(Real),
            Real => Some(Int),
            Word => Some(Byte),
            Dword => Some(Word),
            Lword => Some(Dword),
            _ => None,
        }
    }
}

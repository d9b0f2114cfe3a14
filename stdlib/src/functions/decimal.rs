//! Binary coded decimal numbers: `BYTE_BCD_TO_USINT`, `BCD_TO_USINT`, `USINT_TO_BCD_BYTE`, `TO_BCD_BYTE` and their like.
//!
//! Source: IEC 61131-3:2013, Table 22, 3 and 4. Four bits hold a digit, the most significant digit first. Our choices:
//! a digit above 9 gives 0; a number too large for its type keeps the low bits; digits that do not fit are left out at
//! the left; each with an event.

use latchwork_vm::{ElementaryType as T, EventKind, NativeCall, NativeFunction};

use crate::{
    definition::{Example, FunctionDefinition, Lowering, Overload, ROW, ResultType, own},
    types::TypeClass,
};

const NO_NUMBER: &str = "A digit above 9: 0, event. Number outside the target type: the low bits, event.";
const TOO_LONG: &str = "More digits than the bit string has: the low digits, event.";

/// A conversion whose operand is brought to the widest type of its kind.
macro_rules! row {
    ($name:literal, $class:expr, $every:expr, $wide:ident => $result:ident, $native:expr, $summary:expr, $errors:ident, $examples:expr) => {
        FunctionDefinition {
            name: $name,
            parameters: &[own("IN", $class)],
            result: ResultType::Exact(T::$result),
            lowering: Lowering::Overloaded,
            overloads: &[Overload {
                // The parameter says which type it must be; here it may be the wide one already.
                accepts: &[$every],
                operands: &[T::$wide],
                result: ResultType::Exact(T::$result),
                lowering: Lowering::Native($native),
            }],
            clause: "Table 22",
            summary: $summary,
            errors: $errors,
            examples: $examples,
            ..ROW
        }
    };
}

macro_rules! from_decimal {
    ($name:literal, $class:expr, $from:literal, $result:ident, $to:literal) => {
        row!(
            $name,
            $class,
            BITS,
            Lword => $result,
            concat!("BCD_TO_", $to),
            concat!("The number that the digits of a bit string stand for: ", $name, "."),
            NO_NUMBER,
            &[
                Example::new(&[concat!($from, "#16#42")], concat!($to, "#42")),
                Example::new(&["Digits"], concat!($to, "#0"))
                    .with(concat!("Digits : ", $from, " := 16#4A;"))
                    .event(EventKind::InvalidDigit),
            ]
        )
    };
}

macro_rules! to_decimal {
    ($name:literal, $class:expr, $from:literal, $result:ident, $to:literal) => {
        row!(
            $name,
            $class,
            UNSIGNED,
            Ulint => $result,
            concat!("TO_BCD_", $to),
            concat!("The decimal digits of a number, four bits each: ", $name, "."),
            TOO_LONG,
            &[Example::new(&[concat!($from, "#42")], concat!($to, "#16#42"))]
        )
    };
}

const BITS: TypeClass = TypeClass::AnyBit;
const UNSIGNED: TypeClass = TypeClass::AnyUnsigned;
const BYTE: TypeClass = TypeClass::Exact(T::Byte);
const WORD: TypeClass = TypeClass::Exact(T::Word);
const DWORD: TypeClass = TypeClass::Exact(T::Dword);
const LWORD: TypeClass = TypeClass::Exact(T::Lword);
const USINT: TypeClass = TypeClass::Exact(T::Usint);
const UINT: TypeClass = TypeClass::Exact(T::Uint);
const UDINT: TypeClass = TypeClass::Exact(T::Udint);
const ULINT: TypeClass = TypeClass::Exact(T::Ulint);

/// The rows of Table 22, 3 and 4.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    from_decimal!("BYTE_BCD_TO_USINT", BYTE, "BYTE", Usint, "USINT"),
    from_decimal!("BYTE_BCD_TO_UINT", BYTE, "BYTE", Uint, "UINT"),
    from_decimal!("BYTE_BCD_TO_UDINT", BYTE, "BYTE", Udint, "UDINT"),
    from_decimal!("BYTE_BCD_TO_ULINT", BYTE, "BYTE", Ulint, "ULINT"),
    from_decimal!("WORD_BCD_TO_USINT", WORD, "WORD", Usint, "USINT"),
    from_decimal!("WORD_BCD_TO_UINT", WORD, "WORD", Uint, "UINT"),
    from_decimal!("WORD_BCD_TO_UDINT", WORD, "WORD", Udint, "UDINT"),
    from_decimal!("WORD_BCD_TO_ULINT", WORD, "WORD", Ulint, "ULINT"),
    from_decimal!("DWORD_BCD_TO_USINT", DWORD, "DWORD", Usint, "USINT"),
    from_decimal!("DWORD_BCD_TO_UINT", DWORD, "DWORD", Uint, "UINT"),
    from_decimal!("DWORD_BCD_TO_UDINT", DWORD, "DWORD", Udint, "UDINT"),
    from_decimal!("DWORD_BCD_TO_ULINT", DWORD, "DWORD", Ulint, "ULINT"),
    from_decimal!("LWORD_BCD_TO_USINT", LWORD, "LWORD", Usint, "USINT"),
    from_decimal!("LWORD_BCD_TO_UINT", LWORD, "LWORD", Uint, "UINT"),
    from_decimal!("LWORD_BCD_TO_UDINT", LWORD, "LWORD", Udint, "UDINT"),
    from_decimal!("LWORD_BCD_TO_ULINT", LWORD, "LWORD", Ulint, "ULINT"),
    from_decimal!("BCD_TO_USINT", BITS, "WORD", Usint, "USINT"),
    from_decimal!("BCD_TO_UINT", BITS, "WORD", Uint, "UINT"),
    from_decimal!("BCD_TO_UDINT", BITS, "WORD", Udint, "UDINT"),
    from_decimal!("BCD_TO_ULINT", BITS, "WORD", Ulint, "ULINT"),
    to_decimal!("USINT_TO_BCD_BYTE", USINT, "USINT", Byte, "BYTE"),
    to_decimal!("USINT_TO_BCD_WORD", USINT, "USINT", Word, "WORD"),
    to_decimal!("USINT_TO_BCD_DWORD", USINT, "USINT", Dword, "DWORD"),
    to_decimal!("USINT_TO_BCD_LWORD", USINT, "USINT", Lword, "LWORD"),
    to_decimal!("UINT_TO_BCD_BYTE", UINT, "UINT", Byte, "BYTE"),
    to_decimal!("UINT_TO_BCD_WORD", UINT, "UINT", Word, "WORD"),
    to_decimal!("UINT_TO_BCD_DWORD", UINT, "UINT", Dword, "DWORD"),
    to_decimal!("UINT_TO_BCD_LWORD", UINT, "UINT", Lword, "LWORD"),
    to_decimal!("UDINT_TO_BCD_BYTE", UDINT, "UDINT", Byte, "BYTE"),
    to_decimal!("UDINT_TO_BCD_WORD", UDINT, "UDINT", Word, "WORD"),
    to_decimal!("UDINT_TO_BCD_DWORD", UDINT, "UDINT", Dword, "DWORD"),
    to_decimal!("UDINT_TO_BCD_LWORD", UDINT, "UDINT", Lword, "LWORD"),
    to_decimal!("ULINT_TO_BCD_BYTE", ULINT, "ULINT", Byte, "BYTE"),
    to_decimal!("ULINT_TO_BCD_WORD", ULINT, "ULINT", Word, "WORD"),
    to_decimal!("ULINT_TO_BCD_DWORD", ULINT, "ULINT", Dword, "DWORD"),
    to_decimal!("ULINT_TO_BCD_LWORD", ULINT, "ULINT", Lword, "LWORD"),
    to_decimal!("TO_BCD_BYTE", UNSIGNED, "UINT", Byte, "BYTE"),
    to_decimal!("TO_BCD_WORD", UNSIGNED, "UINT", Word, "WORD"),
    to_decimal!("TO_BCD_DWORD", UNSIGNED, "UINT", Dword, "DWORD"),
    to_decimal!("TO_BCD_LWORD", UNSIGNED, "UINT", Lword, "LWORD"),
];

/// The number of the digits at byte 0, if it is at most `most`; an event otherwise.
fn number(call: &mut NativeCall<'_>, most: u64) -> u64 {
    let digits = call.u64(0);
    let mut number = 0;
    for place in (0..16).rev() {
        let digit = digits >> (4 * place) & 15;
        if digit > 9 {
            call.event(EventKind::InvalidDigit);
            return 0;
        }
        // At most sixteen digits, so it fits.
        number = number * 10 + digit;
    }
    if number > most {
        call.event(EventKind::Conversion);
    }
    number
}

/// The lowest digits of the number at byte 0; an event if there are more.
fn digits(call: &mut NativeCall<'_>, count: u32) -> u64 {
    let mut rest = call.u64(0);
    let mut digits = 0;
    for place in 0..count {
        digits |= (rest % 10) << (4 * place);
        rest /= 10;
    }
    if rest > 0 {
        call.event(EventKind::Conversion);
    }
    digits
}

/// The routines of this family.
pub(crate) fn natives() -> Vec<NativeFunction> {
    // The casts keep the low bits, as the choices above have it.
    fn to_usint(call: &mut NativeCall<'_>) {
        let number = number(call, u8::MAX.into());
        call.set_u8(8, number as u8);
    }
    fn to_uint(call: &mut NativeCall<'_>) {
        let number = number(call, u16::MAX.into());
        call.set_u16(8, number as u16);
    }
    fn to_udint(call: &mut NativeCall<'_>) {
        let number = number(call, u32::MAX.into());
        call.set_u32(8, number as u32);
    }
    fn to_ulint(call: &mut NativeCall<'_>) {
        let number = number(call, u64::MAX);
        call.set_u64(8, number);
    }
    fn to_byte(call: &mut NativeCall<'_>) {
        let digits = digits(call, 2);
        call.set_u8(8, digits as u8);
    }
    fn to_word(call: &mut NativeCall<'_>) {
        let digits = digits(call, 4);
        call.set_u16(8, digits as u16);
    }
    fn to_dword(call: &mut NativeCall<'_>) {
        let digits = digits(call, 8);
        call.set_u32(8, digits as u32);
    }
    fn to_lword(call: &mut NativeCall<'_>) {
        let digits = digits(call, 16);
        call.set_u64(8, digits);
    }
    vec![
        NativeFunction::new("BCD_TO_USINT", 16, to_usint),
        NativeFunction::new("BCD_TO_UINT", 16, to_uint),
        NativeFunction::new("BCD_TO_UDINT", 16, to_udint),
        NativeFunction::new("BCD_TO_ULINT", 16, to_ulint),
        NativeFunction::new("TO_BCD_BYTE", 16, to_byte),
        NativeFunction::new("TO_BCD_WORD", 16, to_word),
        NativeFunction::new("TO_BCD_DWORD", 16, to_dword),
        NativeFunction::new("TO_BCD_LWORD", 16, to_lword),
    ]
}

//! Type conversion: `X_TO_Y`, `TO_Y`, `X_TRUNC_Y`, `TRUNC_Y`, `TRUNC`.
//!
//! Source: IEC 61131-3:2013, Tables 22 to 27. The names are made by a rule, so the table has one row for each
//! form of name; [`conversion`] says which pairs of types exist and what to emit for each. A pair that is
//! not offered does not exist as a function.

use latchwork_vm::{ElementaryType, EventKind, Family, NativeCall, NativeFunction, Scalar};

use super::{
    text_conversion::{self, text_length},
    time_natives::NANOSECONDS_A_DAY,
};
use crate::{
    definition::{Example, FunctionDefinition, Lowering, ROW, ResultType, own},
    types::TypeClass,
};

use ElementaryType as T;

/// What to emit for a conversion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ConversionRule {
    /// Move at this scalar's width, the width of the target: the bytes are the value. A longer source is cut,
    /// because its rightmost bytes lie first in the data image.
    Copy(Scalar),
    /// One instruction of this family; the scalar is how the source is read.
    Instruction(Family, Scalar),
    /// The rightmost bit of the source's first byte: AND with 1 at 8 bits.
    LowestBit,
    /// A native routine on a frame: the source at byte 0 (of a text its address), the result at byte 8.
    Native(&'static str),
    /// A native routine that makes a text, on a frame: the source at byte 0 (of a text its address), at byte 8
    /// the address of a text that is empty and has room for `capacity` characters; without a number, for as
    /// many as the source, which is a text then.
    Text {
        /// The full name of the routine.
        routine: &'static str,
        /// Most characters of the result, 1..=32767.
        capacity: Option<u16>,
    },
}

const ERRORS: &str = "Real value outside an integer type: the nearest limit, event. NaN: 0, event. Integer not in the \
                      target type: the low bits, event. LREAL outside REAL: infinity, event. Text that is no literal \
                      of the target type, or outside it: the default of the type, event. Empty text to a character: \
                      code 0, event. Characters above code 255 to STRING or CHAR: question marks, one event.";

const REAL_ERRORS: &str = "Real value outside an integer type: the nearest limit, event. NaN: 0, event.";

/// The rows of Tables 22 to 27.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    FunctionDefinition {
        name: "*_TO_*",
        parameters: &[own("IN", TypeClass::AnyElementary)],
        result: ResultType::Named,
        lowering: Lowering::Convert { truncate: false },
        clause: "Table 22",
        summary: "The value in another type; reals to the nearest integer, halves to the even one; texts as literals.",
        errors: ERRORS,
        examples: &[
            Example::new(&["INT#300"], "DINT#300").named("INT_TO_DINT"),
            Example::new(&["REAL#2.5"], "INT#2").named("REAL_TO_INT"),
            Example::new(&["REAL#3.5"], "INT#4").named("REAL_TO_INT"),
            Example::new(&["r"], "INT#32767")
                .named("REAL_TO_INT")
                .with("r : REAL := 4.0E4;")
                .event(EventKind::Conversion),
            Example::new(&["i"], "USINT#44")
                .named("INT_TO_USINT")
                .with("i : INT := 300;")
                .event(EventKind::Conversion),
            Example::new(&["BYTE#16#FF"], "INT#255").named("BYTE_TO_INT"),
            Example::new(&["DWORD#16#3DCC_CCCD"], "REAL#0.1").named("DWORD_TO_REAL"),
            Example::new(&["DT#2024-02-29-13:14:15"], "D#2024-02-29").named("DT_TO_DATE"),
            Example::new(&["INT#-12"], "'-12'").named("INT_TO_STRING"),
            Example::new(&["LREAL#1.0E21"], "'1.0E21'").named("LREAL_TO_STRING"),
            Example::new(&["T#93784005ms"], "'T#1d2h3m4s5ms'").named("TIME_TO_STRING"),
            Example::new(&["'16#7F'"], "INT#127").named("STRING_TO_INT"),
            Example::new(&["s"], "INT#0")
                .named("STRING_TO_INT")
                .with("s : STRING := '12 litres';")
                .event(EventKind::Conversion),
            Example::new(&["'KL'"], "CHAR#'K'").named("STRING_TO_CHAR"),
            Example::new(&["'TRUE'"], "TRUE").named("STRING_TO_BOOL"),
            Example::new(&["'3.5'"], "REAL#3.5").named("STRING_TO_REAL"),
            Example::new(&["' -0.25 '"], "LREAL#-0.25").named("STRING_TO_LREAL"),
            Example::new(&["'-70_000'"], "DINT#-70000").named("STRING_TO_DINT"),
            Example::new(&["'16#00FF'"], "WORD#16#00FF").named("STRING_TO_WORD"),
            Example::new(&["'T#1m30s'"], "T#1m30s").named("STRING_TO_TIME"),
            Example::new(&["'D#2026-03-01'"], "D#2026-03-01").named("STRING_TO_DATE"),
            Example::new(&["'TOD#06:30:00'"], "TOD#06:30:00").named("STRING_TO_TOD"),
            Example::new(&["'DT#2026-03-01-06:30:00'"], "DT#2026-03-01-06:30:00").named("STRING_TO_DT"),
            Example::new(&["'Rain'"], "\"Rain\"").named("STRING_TO_WSTRING"),
            Example::new(&["TRUE"], "'TRUE'").named("BOOL_TO_STRING"),
            Example::new(&["WORD#16#00FF"], "'16#00FF'").named("WORD_TO_STRING"),
            Example::new(&["DINT#-70000"], "'-70000'").named("DINT_TO_STRING"),
            Example::new(&["REAL#3.5"], "'3.5'").named("REAL_TO_STRING"),
            Example::new(&["D#2026-03-01"], "'D#2026-03-01'").named("DATE_TO_STRING"),
            Example::new(&["TOD#06:30:00"], "'TOD#06:30:00'").named("TOD_TO_STRING"),
            Example::new(&["DT#2026-03-01-06:30:00"], "'DT#2026-03-01-06:30:00'").named("DT_TO_STRING"),
            Example::new(&["CHAR#'K'"], "'K'").named("CHAR_TO_STRING"),
            Example::new(&["ws"], "'5 ?'")
                .named("WSTRING_TO_STRING")
                .with("ws : WSTRING := \"5 Ω\";")
                .event(EventKind::Conversion),
            Example::new(&["INT#-7"], "REAL#-7.0").named("INT_TO_REAL"),
            Example::new(&["Count"], "INT#4464")
                .named("DINT_TO_INT")
                .with("Count : DINT := 70000;")
                .event(EventKind::Conversion),
            Example::new(&["INT#-1"], "WORD#16#FFFF").named("INT_TO_WORD"),
            Example::new(&["WORD#16#FFFF"], "INT#-1").named("WORD_TO_INT"),
            Example::new(&["WORD#16#1234"], "BYTE#16#34").named("WORD_TO_BYTE"),
            Example::new(&["BYTE#16#80"], "INT#128").named("BYTE_TO_INT"),
            Example::new(&["REAL#1.0"], "DWORD#16#3F80_0000").named("REAL_TO_DWORD"),
            Example::new(&["INT#2"], "FALSE").named("INT_TO_BOOL"),
            Example::new(&["TRUE"], "INT#1").named("BOOL_TO_INT"),
            Example::new(&["LTIME#1s1ns"], "T#1s1ns").named("LTIME_TO_TIME"),
            Example::new(&["DT#2026-03-01-06:30:00"], "D#2026-03-01").named("DT_TO_DATE"),
            Example::new(&["DT#2026-03-01-06:30:00"], "TOD#06:30:00").named("DT_TO_TOD"),
            Example::new(&["WCHAR#\"A\""], "CHAR#'A'").named("WCHAR_TO_CHAR"),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "TO_*",
        parameters: &[own("IN", TypeClass::AnyElementary)],
        result: ResultType::Named,
        lowering: Lowering::Convert { truncate: false },
        clause: "Table 22",
        summary: "The value in the named type, whatever the operand's type; reals to the nearest integer.",
        errors: ERRORS,
        examples: &[
            Example::new(&["REAL#-2.5"], "INT#-2").named("TO_INT"),
            Example::new(&["'2#1010'"], "BYTE#16#0A").named("TO_BYTE"),
            Example::new(&["REAL#0.1"], "'0.1'").named("TO_STRING"),
            Example::new(&["s"], "T#0s")
                .named("TO_TIME")
                .with("s : STRING := '90';")
                .event(EventKind::Conversion),
            Example::new(&["REAL#2.5"], "INT#2").named("TO_INT"),
            Example::new(&["INT#-7"], "LREAL#-7.0").named("TO_LREAL"),
            Example::new(&["WORD#16#00FF"], "UINT#255").named("TO_UINT"),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "*_TRUNC_*",
        parameters: &[own("IN", TypeClass::AnyReal)],
        result: ResultType::Named,
        lowering: Lowering::Convert { truncate: true },
        clause: "Table 22",
        summary: "The integer part of a real, towards zero.",
        errors: REAL_ERRORS,
        examples: &[
            Example::new(&["REAL#2.9"], "INT#2").named("REAL_TRUNC_INT"),
            Example::new(&["REAL#-2.9"], "INT#-2").named("REAL_TRUNC_INT"),
            Example::new(&["LREAL#1.0E10"], "LINT#10000000000").named("LREAL_TRUNC_LINT"),
            Example::new(&["REAL#-1.6"], "INT#-1").named("REAL_TRUNC_INT"),
            Example::new(&["l"], "UINT#0")
                .named("LREAL_TRUNC_UINT")
                .with("l : LREAL := -1.0;")
                .event(EventKind::Conversion),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "TRUNC_*",
        parameters: &[own("IN", TypeClass::AnyReal)],
        result: ResultType::Named,
        lowering: Lowering::Convert { truncate: true },
        clause: "Table 22",
        summary: "The integer part of a real in the named type, towards zero.",
        errors: REAL_ERRORS,
        examples: &[
            Example::new(&["LREAL#3000000000.7"], "UDINT#3000000000").named("TRUNC_UDINT"),
            Example::new(&["LREAL#-2.9"], "INT#-2").named("TRUNC_INT"),
            Example::new(&["Level"], "SINT#127")
                .named("TRUNC_SINT")
                .with("Level : REAL := 200.0;")
                .event(EventKind::Conversion),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "TRUNC",
        parameters: &[own("IN", TypeClass::AnyReal)],
        result: ResultType::Named,
        lowering: Lowering::Convert { truncate: true },
        clause: "Table 22",
        summary: "The integer part of a real, towards zero; deprecated, use TRUNC_* with the wanted type.",
        errors: REAL_ERRORS,
        examples: &[Example::new(&["REAL#2.9"], "DINT#2"), Example::new(&["LREAL#-2.9"], "LINT#-2")],
        ..ROW
    },
];

/// How a value of type `from` becomes one of type `to`; `None` if the standard has no such conversion, or
/// only one that truncates was asked for and there is none. Equal types are a copy.
pub fn conversion(from: ElementaryType, to: ElementaryType, truncate: bool) -> Option<ConversionRule> {
    if truncate {
        return (TypeClass::AnyReal.accepts(from) && TypeClass::AnyInt.accepts(to))
            .then_some(ConversionRule::Instruction(truncation_to(to)?, from.scalar()?));
    }
    if from.is_string() || to.is_string() {
        let routine = text_conversion::routine(from, to)?;
        return Some(match to {
            T::String | T::Wstring => ConversionRule::Text { routine, capacity: text_length(from) },
            _ => ConversionRule::Native(routine),
        });
    }
    if from == to {
        return Some(ConversionRule::Copy(plain(to)?));
    }
    match (kind(from)?, kind(to)?) {
        (Kind::Boolean | Kind::Bits, Kind::Boolean) | (Kind::Integer, Kind::Boolean) => {
            Some(ConversionRule::LowestBit)
        }
        (Kind::Integer, Kind::Integer) | (Kind::Boolean | Kind::Integer, Kind::Real) => number(from, to),
        (Kind::Real, Kind::Integer | Kind::Real) => number(from, to),
        // A character has its bits in the bit strings that are as long as it.
        (Kind::Bits, Kind::Character) if from.size() < to.size() => None,
        (Kind::Character, Kind::Bits) if to.size() < from.size() => None,
        (Kind::Boolean | Kind::Bits, Kind::Integer | Kind::Bits)
        | (Kind::Integer, Kind::Bits)
        | (Kind::Bits, Kind::Character)
        | (Kind::Character, Kind::Bits) => transfer(from, to),
        // A bit string and a real of the same length share their bits; other lengths have no meaning.
        (Kind::Bits, Kind::Real) | (Kind::Real, Kind::Bits) if from.size() == to.size() => {
            Some(ConversionRule::Copy(plain(to)?))
        }
        (Kind::Character, Kind::Character) if to == T::Wchar => transfer(from, to),
        (Kind::Character, Kind::Character) => Some(ConversionRule::Native("WCHAR_TO_CHAR")),
        (Kind::Duration, Kind::Duration)
        | (Kind::Date, Kind::Date)
        | (Kind::TimeOfDay, Kind::TimeOfDay)
        | (Kind::DateAndTime, Kind::DateAndTime) => Some(ConversionRule::Copy(Scalar::U64)),
        (Kind::DateAndTime, Kind::Date) => Some(ConversionRule::Native("DT_TO_DATE")),
        (Kind::DateAndTime, Kind::TimeOfDay) => Some(ConversionRule::Native("DT_TO_TOD")),
        _ => None,
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Boolean,
    Bits,
    Integer,
    Real,
    Duration,
    Date,
    TimeOfDay,
    DateAndTime,
    Character,
}

fn kind(ty: ElementaryType) -> Option<Kind> {
    Some(match ty {
        T::Bool => Kind::Boolean,
        T::Byte | T::Word | T::Dword | T::Lword => Kind::Bits,
        T::Sint | T::Int | T::Dint | T::Lint | T::Usint | T::Uint | T::Udint | T::Ulint => Kind::Integer,
        T::Real | T::Lreal => Kind::Real,
        T::Time | T::Ltime => Kind::Duration,
        T::Date | T::Ldate => Kind::Date,
        T::TimeOfDay | T::LtimeOfDay => Kind::TimeOfDay,
        T::DateAndTime | T::LdateAndTime => Kind::DateAndTime,
        T::Char | T::Wchar => Kind::Character,
        T::String | T::Wstring => return None,
    })
}

/// The unsigned scalar of a type's width.
fn plain(ty: ElementaryType) -> Option<Scalar> {
    match ty.size()? {
        1 => Some(Scalar::U8),
        2 => Some(Scalar::U16),
        4 => Some(Scalar::U32),
        8 => Some(Scalar::U64),
        _ => None,
    }
}

/// Conversion that keeps the number.
fn number(from: ElementaryType, to: ElementaryType) -> Option<ConversionRule> {
    let family = match to.scalar()? {
        Scalar::I8 => Family::ToI8,
        Scalar::I16 => Family::ToI16,
        Scalar::I32 => Family::ToI32,
        Scalar::I64 => Family::ToI64,
        Scalar::U8 => Family::ToU8,
        Scalar::U16 => Family::ToU16,
        Scalar::U32 => Family::ToU32,
        Scalar::U64 => Family::ToU64,
        Scalar::F32 => Family::ToF32,
        Scalar::F64 => Family::ToF64,
    };
    Some(ConversionRule::Instruction(family, from.scalar()?))
}

fn truncation_to(to: ElementaryType) -> Option<Family> {
    Some(match to.scalar()? {
        Scalar::I8 => Family::TruncateI8,
        Scalar::I16 => Family::TruncateI16,
        Scalar::I32 => Family::TruncateI32,
        Scalar::I64 => Family::TruncateI64,
        Scalar::U8 => Family::TruncateU8,
        Scalar::U16 => Family::TruncateU16,
        Scalar::U32 => Family::TruncateU32,
        Scalar::U64 => Family::TruncateU64,
        Scalar::F32 | Scalar::F64 => return None,
    })
}

/// Binary transfer of the rightmost bytes: a shorter target cuts, a longer one is filled with zeros, so that
/// no sign is extended. Never an error.
fn transfer(from: ElementaryType, to: ElementaryType) -> Option<ConversionRule> {
    let (source, target) = (plain(from)?, plain(to)?);
    if to.size()? <= from.size()? {
        return Some(ConversionRule::Copy(target));
    }
    let family = match target {
        Scalar::U16 => Family::ToU16,
        Scalar::U32 => Family::ToU32,
        _ => Family::ToU64,
    };
    Some(ConversionRule::Instruction(family, source))
}

/// Date contained in a date and time: its midnight.
fn date_of(call: &mut NativeCall<'_>) {
    let moment = call.i64(0);
    // The first day of the range starts before it: its midnight is not representable, the moment itself is.
    call.set_i64(8, moment.checked_sub(moment.rem_euclid(NANOSECONDS_A_DAY)).unwrap_or(i64::MIN));
}

/// Time of day contained in a date and time.
fn time_of_day_of(call: &mut NativeCall<'_>) {
    let moment = call.i64(0);
    call.set_i64(8, moment.rem_euclid(NANOSECONDS_A_DAY));
}

/// The routines of this family.
pub(crate) fn natives() -> Vec<NativeFunction> {
    vec![NativeFunction::new("DT_TO_DATE", 16, date_of), NativeFunction::new("DT_TO_TOD", 16, time_of_day_of)]
}

//! Bit string functions: SHL, SHR, ROL, ROR and AND, OR, XOR, NOT.
//!
//! Source: IEC 61131-3:2013, Tables 30 and 31. Shifting by the width or more gives 0, rotating works modulo
//! the width (our choices). Rows only; most are instructions of the machine, the others are in
//! `shift_natives`.

use latchwork_vm::{ElementaryType, Family};

use crate::{
    definition::{
        FunctionDefinition, Lowering, OPEN_FROM_ONE, Overload, Parameter, ROW, ResultType, generic, own,
    },
    types::TypeClass,
};

const OPERANDS: &[Parameter] = &[generic("IN1", TypeClass::AnyBit), generic("IN2", TypeClass::AnyBit)];
const SHIFTED: &[Parameter] = &[generic("IN", TypeClass::AnyBit), own("N", TypeClass::AnyInt)];

/// The special forms of a shift: BOOL is one bit although it is stored in a byte, and a ULINT count does not
/// fit the machine's signed count.
macro_rules! shift_overloads {
    ($name:literal) => {
        &[
            form(
                &[TypeClass::Exact(ElementaryType::Bool), TypeClass::Exact(ElementaryType::Ulint)],
                &[ElementaryType::Bool, ElementaryType::Ulint],
                Lowering::Native(concat!($name, "_BOOL_ULINT")),
            ),
            form(
                &[TypeClass::Exact(ElementaryType::Bool), TypeClass::AnyInt],
                &[ElementaryType::Bool, ElementaryType::Lint],
                Lowering::Native(concat!($name, "_BOOL_LINT")),
            ),
            form(
                &[TypeClass::Exact(ElementaryType::Byte), TypeClass::Exact(ElementaryType::Ulint)],
                &[ElementaryType::Byte, ElementaryType::Ulint],
                Lowering::Native(concat!($name, "_BYTE_ULINT")),
            ),
            form(
                &[TypeClass::Exact(ElementaryType::Word), TypeClass::Exact(ElementaryType::Ulint)],
                &[ElementaryType::Word, ElementaryType::Ulint],
                Lowering::Native(concat!($name, "_WORD_ULINT")),
            ),
            form(
                &[TypeClass::Exact(ElementaryType::Dword), TypeClass::Exact(ElementaryType::Ulint)],
                &[ElementaryType::Dword, ElementaryType::Ulint],
                Lowering::Native(concat!($name, "_DWORD_ULINT")),
            ),
            form(
                &[TypeClass::Exact(ElementaryType::Lword), TypeClass::Exact(ElementaryType::Ulint)],
                &[ElementaryType::Lword, ElementaryType::Ulint],
                Lowering::Native(concat!($name, "_LWORD_ULINT")),
            ),
        ]
    };
}

const fn form(
    accepts: &'static [TypeClass],
    operands: &'static [ElementaryType],
    lowering: Lowering,
) -> Overload {
    Overload { accepts, operands, result: ResultType::Generic, lowering }
}

const fn shift(
    name: &'static str,
    family: Family,
    overloads: &'static [Overload],
    summary: &'static str,
) -> FunctionDefinition {
    FunctionDefinition {
        name,
        parameters: SHIFTED,
        result: ResultType::Generic,
        lowering: Lowering::Shift(family),
        overloads,
        clause: "Table 30",
        summary,
        errors: "N negative: IN unchanged.",
        ..ROW
    }
}

const fn bitwise(name: &'static str, family: Family, summary: &'static str) -> FunctionDefinition {
    FunctionDefinition {
        name,
        parameters: OPERANDS,
        extension: OPEN_FROM_ONE,
        result: ResultType::Generic,
        lowering: Lowering::Family(family),
        clause: "Table 31",
        summary,
        ..ROW
    }
}

/// The rows of Tables 30 and 31.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    shift(
        "SHL",
        Family::ShiftLeft,
        shift_overloads!("SHL"),
        "IN shifted left by N bits, zeros from the right.",
    ),
    shift(
        "SHR",
        Family::ShiftRight,
        shift_overloads!("SHR"),
        "IN shifted right by N bits, zeros from the left.",
    ),
    shift("ROL", Family::RotateLeft, shift_overloads!("ROL"), "IN rotated left by N bits."),
    shift("ROR", Family::RotateRight, shift_overloads!("ROR"), "IN rotated right by N bits."),
    bitwise("AND", Family::And, "TRUE, or a 1 bit, where every operand has it."),
    bitwise("OR", Family::Or, "TRUE, or a 1 bit, where at least one operand has it."),
    bitwise("XOR", Family::Xor, "TRUE, or a 1 bit, where an odd number of operands have it."),
    FunctionDefinition {
        name: "NOT",
        parameters: &[generic("IN", TypeClass::AnyBit)],
        result: ResultType::Generic,
        lowering: Lowering::Not,
        clause: "Table 31",
        summary: "The other Boolean value, or every bit inverted.",
        ..ROW
    },
];

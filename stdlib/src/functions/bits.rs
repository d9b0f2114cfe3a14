//! Bit string functions: SHL, SHR, ROL, ROR and AND, OR, XOR, NOT.
//!
//! Source: IEC 61131-3:2013, Tables 30 and 31. Shifting by the width or more gives 0, rotating works modulo
//! the width (our choices). Rows only; most are instructions of the machine, the others are in
//! `shift_natives`.

use latchwork_vm::{ElementaryType, EventKind, Family};

use crate::{
    definition::{
        Example, FunctionDefinition, Lowering, OPEN_FROM_ONE, Overload, Parameter, ROW, ResultType, generic,
        own,
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
    examples: &'static [Example],
) -> FunctionDefinition {
    FunctionDefinition {
        name,
        parameters: SHIFTED,
        result: ResultType::Generic,
        lowering: Lowering::Shift(family),
        overloads,
        clause: "Table 30",
        summary,
        errors: "N negative: IN unchanged, event.",
        examples,
        ..ROW
    }
}

const fn bitwise(
    name: &'static str,
    family: Family,
    summary: &'static str,
    examples: &'static [Example],
) -> FunctionDefinition {
    FunctionDefinition {
        name,
        parameters: OPERANDS,
        extension: OPEN_FROM_ONE,
        result: ResultType::Generic,
        lowering: Lowering::Family(family),
        clause: "Table 31",
        summary,
        examples,
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
        &[
            Example::new(&["BYTE#2#0000_0111", "INT#2"], "BYTE#2#0001_1100"),
            Example::new(&["BYTE#16#81", "INT#1"], "BYTE#16#02"),
            Example::new(&["BYTE#16#FF", "INT#8"], "BYTE#16#00"),
            Example::new(&["BYTE#16#81", "Places"], "BYTE#16#81")
                .with("Places : INT := -1;")
                .event(EventKind::Domain),
        ],
    ),
    shift(
        "SHR",
        Family::ShiftRight,
        shift_overloads!("SHR"),
        "IN shifted right by N bits, zeros from the left.",
        &[
            Example::new(&["BYTE#2#0001_1100", "INT#2"], "BYTE#2#0000_0111"),
            Example::new(&["WORD#16#8000", "INT#15"], "WORD#16#0001"),
            Example::new(&["BYTE#16#FF", "INT#8"], "BYTE#16#00"),
            Example::new(&["BYTE#16#81", "Places"], "BYTE#16#81")
                .with("Places : INT := -1;")
                .event(EventKind::Domain),
        ],
    ),
    shift(
        "ROL",
        Family::RotateLeft,
        shift_overloads!("ROL"),
        "IN rotated left by N bits.",
        &[
            Example::new(&["BYTE#16#81", "INT#1"], "BYTE#16#03"),
            Example::new(&["BYTE#16#81", "INT#9"], "BYTE#16#03"),
            Example::new(&["BYTE#16#81", "Places"], "BYTE#16#81")
                .with("Places : INT := -1;")
                .event(EventKind::Domain),
        ],
    ),
    shift(
        "ROR",
        Family::RotateRight,
        shift_overloads!("ROR"),
        "IN rotated right by N bits.",
        &[
            Example::new(&["BYTE#16#81", "INT#1"], "BYTE#16#C0"),
            Example::new(&["WORD#16#1234", "INT#4"], "WORD#16#4123"),
            Example::new(&["BYTE#16#81", "Places"], "BYTE#16#81")
                .with("Places : INT := -1;")
                .event(EventKind::Domain),
        ],
    ),
    bitwise(
        "AND",
        Family::And,
        "TRUE, or a 1 bit, where every operand has it.",
        &[
            Example::new(&["TRUE", "FALSE"], "FALSE"),
            Example::new(&["TRUE", "TRUE"], "TRUE").named("AND_BOOL"),
            Example::new(&["WORD#16#FF0F", "WORD#16#0FF0"], "WORD#16#0F00"),
            Example::new(&["TRUE", "TRUE", "TRUE"], "TRUE"),
        ],
    ),
    bitwise(
        "OR",
        Family::Or,
        "TRUE, or a 1 bit, where at least one operand has it.",
        &[
            Example::new(&["TRUE", "FALSE"], "TRUE"),
            Example::new(&["BYTE#16#0F", "BYTE#16#F0"], "BYTE#16#FF").named("OR_BYTE"),
            Example::new(&["BYTE#2#1100", "BYTE#2#1010"], "BYTE#2#1110"),
            Example::new(&["FALSE", "FALSE", "TRUE"], "TRUE"),
        ],
    ),
    bitwise(
        "XOR",
        Family::Xor,
        "TRUE, or a 1 bit, where an odd number of operands have it.",
        &[
            Example::new(&["TRUE", "TRUE"], "FALSE"),
            Example::new(&["WORD#16#FFFF", "WORD#16#00FF"], "WORD#16#FF00").named("XOR_WORD"),
            Example::new(&["BYTE#2#1100", "BYTE#2#1010"], "BYTE#2#0110"),
            Example::new(&["TRUE", "TRUE", "TRUE"], "TRUE"),
        ],
    ),
    FunctionDefinition {
        name: "NOT",
        parameters: &[generic("IN", TypeClass::AnyBit)],
        result: ResultType::Generic,
        lowering: Lowering::Not,
        clause: "Table 31",
        summary: "The other Boolean value, or every bit inverted.",
        examples: &[
            Example::new(&["TRUE"], "FALSE"),
            Example::new(&["BYTE#16#0F"], "BYTE#16#F0"),
            Example::new(&["WORD#16#00FF"], "WORD#16#FF00").named("NOT_WORD"),
        ],
        ..ROW
    },
];

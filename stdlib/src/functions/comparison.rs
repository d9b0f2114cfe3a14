//! Comparison functions: GT, GE, EQ, LE, LT, NE.
//!
//! Source: IEC 61131-3:2013, Table 33. Extensible comparisons hold when each operand stands in the relation
//! to its neighbour. Bit strings compare as unsigned numbers, FALSE before TRUE, strings character by
//! character by their ISO/IEC 10646 code. Rows only; the instructions are the machine's.

use latchwork_vm::ElementaryType;

use crate::{
    definition::{
        ComparisonKind, Example, Extension, FunctionDefinition, Lowering, OPEN_FROM_ONE, Parameter, ROW,
        ResultType, generic,
    },
    types::TypeClass,
};

const OPERANDS: &[Parameter] =
    &[generic("IN1", TypeClass::AnyElementary), generic("IN2", TypeClass::AnyElementary)];

const fn row(
    name: &'static str,
    kind: ComparisonKind,
    extension: Option<Extension>,
    summary: &'static str,
    examples: &'static [Example],
) -> FunctionDefinition {
    FunctionDefinition {
        name,
        parameters: OPERANDS,
        extension,
        result: ResultType::Exact(ElementaryType::Bool),
        lowering: Lowering::Comparison(kind),
        clause: "Table 33",
        summary,
        examples,
        ..ROW
    }
}

/// The rows of Table 33.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    row(
        "GT",
        ComparisonKind::Greater,
        OPEN_FROM_ONE,
        "Whether the operands fall: IN1 > IN2 > …; FALSE with a NaN.",
        &[
            Example::new(&["INT#3", "INT#2"], "TRUE"),
            Example::new(&["REAL#2.5", "REAL#2.0"], "TRUE").named("GT_REAL"),
            Example::new(&["INT#3", "INT#2", "INT#2"], "FALSE"),
            Example::new(&["'pump'", "'plan'"], "TRUE"),
        ],
    ),
    row(
        "GE",
        ComparisonKind::GreaterOrEqual,
        OPEN_FROM_ONE,
        "Whether the operands never rise: IN1 >= IN2 >= …; FALSE with a NaN.",
        &[
            Example::new(&["INT#3", "INT#3"], "TRUE"),
            Example::new(&["INT#2", "INT#3"], "FALSE").named("GE_INT"),
            Example::new(&["INT#3", "INT#2", "INT#2"], "TRUE"),
            Example::new(&["T#1s", "T#1500ms"], "FALSE"),
        ],
    ),
    row(
        "EQ",
        ComparisonKind::Equal,
        OPEN_FROM_ONE,
        "Whether all operands are equal; FALSE with a NaN.",
        &[
            Example::new(&["INT#3", "INT#3"], "TRUE"),
            Example::new(&["T#1s", "T#1000ms"], "TRUE").named("EQ_TIME"),
            Example::new(&["INT#3", "INT#3", "INT#4"], "FALSE"),
            Example::new(&["'pump'", "'Pump'"], "FALSE"),
        ],
    ),
    row(
        "LE",
        ComparisonKind::LessOrEqual,
        OPEN_FROM_ONE,
        "Whether the operands never fall: IN1 <= IN2 <= …; FALSE with a NaN.",
        &[
            Example::new(&["INT#2", "INT#3"], "TRUE"),
            Example::new(&["DINT#2", "DINT#2"], "TRUE").named("LE_DINT"),
            Example::new(&["INT#0", "INT#5", "INT#10"], "TRUE"),
            Example::new(&["D#2026-03-01", "D#2026-02-28"], "FALSE"),
        ],
    ),
    row(
        "LT",
        ComparisonKind::Less,
        OPEN_FROM_ONE,
        "Whether the operands rise: IN1 < IN2 < …; FALSE with a NaN.",
        &[
            Example::new(&["INT#2", "INT#3"], "TRUE"),
            Example::new(&["INT#-1", "INT#1"], "TRUE").named("LT_INT"),
            Example::new(&["INT#2", "INT#2"], "FALSE"),
            Example::new(&["BYTE#16#7F", "BYTE#16#80"], "TRUE"),
        ],
    ),
    row(
        "NE",
        ComparisonKind::NotEqual,
        None,
        "Whether the two operands differ; TRUE with a NaN.",
        &[
            Example::new(&["INT#2", "INT#3"], "TRUE"),
            Example::new(&["TRUE", "TRUE"], "FALSE"),
            Example::new(&["WORD#16#1", "WORD#16#2"], "TRUE").named("NE_WORD"),
        ],
    ),
];

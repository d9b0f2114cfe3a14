//! Comparison functions: GT, GE, EQ, LE, LT, NE.
//!
//! Source: IEC 61131-3:2013, Table 33. Extensible comparisons hold when each operand stands in the relation
//! to its neighbour. Bit strings compare as unsigned numbers, FALSE before TRUE, strings character by
//! character by their ISO/IEC 10646 code. Rows only; the instructions are the machine's.

use latchwork_vm::ElementaryType;

use crate::{
    definition::{
        ComparisonKind, Extension, FunctionDefinition, Lowering, OPEN_FROM_ONE, Parameter, ROW, ResultType,
        generic,
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
) -> FunctionDefinition {
    FunctionDefinition {
        name,
        parameters: OPERANDS,
        extension,
        result: ResultType::Exact(ElementaryType::Bool),
        lowering: Lowering::Comparison(kind),
        clause: "Table 33",
        summary,
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
    ),
    row(
        "GE",
        ComparisonKind::GreaterOrEqual,
        OPEN_FROM_ONE,
        "Whether the operands never rise: IN1 >= IN2 >= …; FALSE with a NaN.",
    ),
    row("EQ", ComparisonKind::Equal, OPEN_FROM_ONE, "Whether all operands are equal; FALSE with a NaN."),
    row(
        "LE",
        ComparisonKind::LessOrEqual,
        OPEN_FROM_ONE,
        "Whether the operands never fall: IN1 <= IN2 <= …; FALSE with a NaN.",
    ),
    row(
        "LT",
        ComparisonKind::Less,
        OPEN_FROM_ONE,
        "Whether the operands rise: IN1 < IN2 < …; FALSE with a NaN.",
    ),
    row("NE", ComparisonKind::NotEqual, None, "Whether the two operands differ; TRUE with a NaN."),
];

//! Selection functions: SEL, MAX, MIN, LIMIT, MUX.
//!
//! Source: IEC 61131-3:2013, Table 32. All inputs are evaluated, whichever is chosen. A NaN never wins in
//! MAX and MIN (our choice, as the maximumNumber of IEEE 754). Rows only; the instructions are the
//! machine's.

use latchwork_vm::{ElementaryType, Family};

use crate::{
    definition::{
        FunctionDefinition, Lowering, OPEN_FROM_ONE, OPEN_FROM_ZERO, Parameter, ROW, ResultType, generic, own,
    },
    types::TypeClass,
};

const ELEMENTARY: &[Parameter] =
    &[generic("IN1", TypeClass::AnyElementary), generic("IN2", TypeClass::AnyElementary)];

/// The rows of Table 32.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    FunctionDefinition {
        name: "SEL",
        parameters: &[
            own("G", TypeClass::Exact(ElementaryType::Bool)),
            generic("IN0", TypeClass::Any),
            generic("IN1", TypeClass::Any),
        ],
        result: ResultType::Generic,
        lowering: Lowering::Select,
        clause: "Table 32",
        summary: "IN0 if G is FALSE, IN1 if G is TRUE.",
        ..ROW
    },
    FunctionDefinition {
        name: "MAX",
        parameters: ELEMENTARY,
        extension: OPEN_FROM_ONE,
        result: ResultType::Generic,
        lowering: Lowering::Family(Family::Maximum),
        clause: "Table 32",
        summary: "The greatest operand.",
        ..ROW
    },
    FunctionDefinition {
        name: "MIN",
        parameters: ELEMENTARY,
        extension: OPEN_FROM_ONE,
        result: ResultType::Generic,
        lowering: Lowering::Family(Family::Minimum),
        clause: "Table 32",
        summary: "The least operand.",
        ..ROW
    },
    FunctionDefinition {
        name: "LIMIT",
        parameters: &[
            generic("MN", TypeClass::AnyElementary),
            generic("IN", TypeClass::AnyElementary),
            generic("MX", TypeClass::AnyElementary),
        ],
        result: ResultType::Generic,
        lowering: Lowering::Limit,
        clause: "Table 32",
        summary: "IN kept within MN and MX: MIN(MAX(IN, MN), MX).",
        errors: "MN > MX: MX, event.",
        ..ROW
    },
    FunctionDefinition {
        name: "MUX",
        parameters: &[
            own("K", TypeClass::AnyInt),
            generic("IN0", TypeClass::Any),
            generic("IN1", TypeClass::Any),
        ],
        extension: OPEN_FROM_ZERO,
        result: ResultType::Generic,
        lowering: Lowering::Multiplexer,
        clause: "Table 32",
        summary: "The input with the number K, counted from 0.",
        errors: "K below 0 or above the last input: IN0, event.",
        ..ROW
    },
];

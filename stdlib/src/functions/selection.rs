//! Selection functions: SEL, MAX, MIN, LIMIT, MUX.
//!
//! Source: IEC 61131-3:2013, Table 32. All inputs are evaluated, whichever is chosen. A NaN never wins in
//! MAX and MIN (our choice, as the maximumNumber of IEEE 754). Rows only; the instructions are the
//! machine's.

use latchwork_vm::{ElementaryType, EventKind, Family};

use crate::{
    definition::{
        Example, FunctionDefinition, Lowering, OPEN_FROM_ONE, OPEN_FROM_ZERO, Parameter, ROW, ResultType,
        generic, own,
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
        examples: &[
            Example::new(&["FALSE", "INT#10", "INT#20"], "INT#10"),
            Example::new(&["TRUE", "INT#10", "INT#20"], "INT#20"),
            Example::new(&["TRUE", "'dry'", "'wet'"], "'wet'"),
        ],
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
        examples: &[
            Example::new(&["INT#4", "INT#7"], "INT#7"),
            Example::new(&["REAL#1.5", "REAL#-2.5", "REAL#0.0"], "REAL#1.5"),
            Example::new(&["LREAL#2.0", "LREAL#3.0"], "LREAL#3.0").named("MAX_LREAL"),
            Example::new(&["'pump'", "'valve'"], "'valve'"),
        ],
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
        examples: &[
            Example::new(&["INT#4", "INT#7"], "INT#4"),
            Example::new(&["T#3s", "T#1s", "T#2s"], "T#1s"),
        ],
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
        examples: &[
            Example::new(&["INT#0", "INT#12", "INT#10"], "INT#10"),
            Example::new(&["INT#0", "INT#-3", "INT#10"], "INT#0"),
            Example::new(&["INT#0", "INT#7", "INT#10"], "INT#7"),
            Example::new(&["Low", "INT#7", "INT#0"], "INT#0")
                .with("Low : INT := 10;")
                .event(EventKind::CrossedLimits),
        ],
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
        examples: &[
            Example::new(&["INT#0", "INT#10", "INT#20", "INT#30"], "INT#10"),
            Example::new(&["INT#2", "INT#10", "INT#20", "INT#30"], "INT#30"),
            Example::new(&["Choice", "INT#10", "INT#20"], "INT#10")
                .with("Choice : INT := 5;")
                .event(EventKind::Selector),
        ],
        ..ROW
    },
];

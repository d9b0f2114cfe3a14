//! Arithmetic functions: ADD, SUB, MUL, DIV, MOD, EXPT, MOVE.
//!
//! Source: IEC 61131-3:2013, Table 29. On integers a result outside the type keeps its low bits and is
//! reported (our choice); reals follow IEC 60559. The forms on dates and durations are in
//! `time_arithmetic`. The module holds rows only; the instructions are the machine's.

use latchwork_vm::{ElementaryType, EventKind, Family};

use crate::{
    definition::{
        Example, FunctionDefinition, Lowering, OPEN_FROM_ONE, Overload, Parameter, ROW, ResultType, generic,
        own,
    },
    types::TypeClass,
};

const MAGNITUDES: &[Parameter] =
    &[generic("IN1", TypeClass::AnyMagnitude), generic("IN2", TypeClass::AnyMagnitude)];
const NUMBERS: &[Parameter] = &[generic("IN1", TypeClass::AnyNum), generic("IN2", TypeClass::AnyNum)];
const INTEGERS: &[Parameter] = &[generic("IN1", TypeClass::AnyInt), generic("IN2", TypeClass::AnyInt)];

const OVERFLOW: &str = "Integer or duration result outside its type: the low bits, event overflow. Real \
                        overflow or an invalid operation: the IEC 60559 value (infinity, NaN), event.";

/// The rows of Table 29.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    FunctionDefinition {
        name: "ADD",
        parameters: MAGNITUDES,
        extension: OPEN_FROM_ONE,
        result: ResultType::Generic,
        lowering: Lowering::Family(Family::Add),
        clause: "Table 29",
        summary: "Sum of all operands.",
        errors: OVERFLOW,
        examples: &[
            Example::new(&["INT#2", "INT#3"], "INT#5"),
            Example::new(&["INT#2", "INT#3", "INT#4"], "INT#9"),
            Example::new(&["T#1s500ms", "T#500ms"], "T#2s"),
            Example::new(&["REAL#0.5", "REAL#0.25"], "REAL#0.75").named("ADD_REAL"),
            Example::new(&["Count", "INT#1"], "INT#-32768")
                .with("Count : INT := 32767;")
                .event(EventKind::Overflow),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "MUL",
        parameters: NUMBERS,
        extension: OPEN_FROM_ONE,
        result: ResultType::Generic,
        lowering: Lowering::Family(Family::Multiply),
        clause: "Table 29",
        summary: "Product of all operands.",
        errors: OVERFLOW,
        examples: &[
            Example::new(&["INT#-4", "INT#3"], "INT#-12"),
            Example::new(&["INT#2", "INT#3", "INT#4"], "INT#24"),
            Example::new(&["DINT#70000", "DINT#2"], "DINT#140000").named("MUL_DINT"),
            Example::new(&["Count", "INT#2"], "INT#-25536")
                .with("Count : INT := 20000;")
                .event(EventKind::Overflow),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "SUB",
        parameters: MAGNITUDES,
        result: ResultType::Generic,
        lowering: Lowering::Family(Family::Subtract),
        clause: "Table 29",
        summary: "IN1 minus IN2.",
        errors: OVERFLOW,
        examples: &[
            Example::new(&["INT#2", "INT#5"], "INT#-3"),
            Example::new(&["INT#2", "INT#5"], "INT#-3").named("SUB_INT"),
            Example::new(&["REAL#1.5", "REAL#0.5"], "REAL#1.0"),
            Example::new(&["T#3s", "T#1s"], "T#2s"),
            Example::new(&["Count", "UINT#1"], "UINT#65535")
                .with("Count : UINT := 0;")
                .event(EventKind::Overflow),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "DIV",
        parameters: NUMBERS,
        result: ResultType::Generic,
        lowering: Lowering::Family(Family::Divide),
        clause: "Table 29",
        summary: "IN1 divided by IN2; integers truncate towards zero.",
        errors: "Integer division by zero: the run stops; with ENO: 0, event. Least integer divided by -1: the least integer, \
                 event overflow. Real division by zero: infinity or NaN, event.",
        examples: &[
            Example::new(&["INT#7", "INT#2"], "INT#3"),
            Example::new(&["LREAL#1.0", "LREAL#4.0"], "LREAL#0.25").named("DIV_LREAL"),
            Example::new(&["INT#-7", "INT#2"], "INT#-3"),
            Example::new(&["REAL#7.0", "REAL#2.0"], "REAL#3.5"),
            Example::new(&["Level", "REAL#0.0"], "infinity")
                .with("Level : REAL := 1.0;")
                .event(EventKind::DivisionByZero),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "MOD",
        parameters: INTEGERS,
        result: ResultType::Generic,
        lowering: Lowering::Family(Family::Modulo),
        clause: "Table 29",
        summary: "Remainder of IN1 divided by IN2, with the sign of IN1.",
        errors: "IN2 is 0: 0, event.",
        examples: &[
            Example::new(&["INT#7", "INT#3"], "INT#1"),
            Example::new(&["UINT#17", "UINT#5"], "UINT#2").named("MOD_UINT"),
            Example::new(&["INT#-7", "INT#3"], "INT#-1"),
            Example::new(&["INT#7", "INT#-3"], "INT#1"),
            Example::new(&["INT#7", "Size"], "INT#0").with("Size : INT := 0;").event(EventKind::ModuloByZero),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "EXPT",
        parameters: &[generic("IN1", TypeClass::AnyReal), own("IN2", TypeClass::AnyNum)],
        result: ResultType::Generic,
        lowering: Lowering::Overloaded,
        overloads: &[
            Overload {
                accepts: &[TypeClass::Exact(ElementaryType::Real), TypeClass::AnyNum],
                operands: &[ElementaryType::Real, ElementaryType::Lreal],
                result: ResultType::Exact(ElementaryType::Real),
                lowering: Lowering::Native("EXPT_REAL"),
            },
            // An integer base becomes LREAL, so that no digit is lost before the power is taken.
            Overload {
                accepts: &[TypeClass::AnyNum, TypeClass::AnyNum],
                operands: &[ElementaryType::Lreal, ElementaryType::Lreal],
                result: ResultType::Exact(ElementaryType::Lreal),
                lowering: Lowering::Native("EXPT_LREAL"),
            },
        ],
        clause: "Table 29",
        summary: "IN1 raised to the power IN2; computed in LREAL, then rounded to the type of IN1.",
        errors: "Negative base with a non-integer exponent: NaN, event. Zero to a negative power or overflow: \
                 infinity, event.",
        examples: &[
            Example::new(&["REAL#2.0", "INT#10"], "REAL#1024.0"),
            Example::new(&["LREAL#9.0", "LREAL#0.5"], "LREAL#3.0"),
            Example::new(&["Base", "REAL#0.5"], "NaN").with("Base : REAL := -1.0;").event(EventKind::Domain),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "MOVE",
        parameters: &[generic("IN", TypeClass::Any)],
        result: ResultType::Generic,
        lowering: Lowering::Move,
        clause: "Table 29",
        summary: "The operand as it is.",
        examples: &[
            Example::new(&["INT#5"], "INT#5"),
            Example::new(&["'pump'"], "'pump'"),
            Example::new(&["T#2s"], "T#2s"),
        ],
        ..ROW
    },
];

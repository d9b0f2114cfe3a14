//! Bounds of arrays: LOWER_BOUND, UPPER_BOUND.
//!
//! Source: IEC 61131-3:2013, Table 15. Our choices: they take every array, and the result is DINT. Rows only; the
//! compiler knows the bounds, or where a parameter of any bounds has them.

use latchwork_vm::{ElementaryType as T, EventKind};

use crate::{
    definition::{Example, FunctionDefinition, Lowering, ROW, ResultType, own},
    types::TypeClass,
};

macro_rules! row {
    ($name:literal, $upper:literal, $summary:literal, $first:literal, $second:literal) => {
        FunctionDefinition {
            name: $name,
            parameters: &[own("ARR", TypeClass::Any), own("DIM", TypeClass::AnyInt)],
            result: ResultType::Exact(T::Dint),
            lowering: Lowering::Bound { upper: $upper },
            clause: "Table 15",
            summary: $summary,
            errors: "DIM below 1 or above the number of dimensions: 0, event dimension; a constant one is refused.",
            examples: &[
                Example::new(&["grid", "INT#1"], $first).with(GRID),
                Example::new(&["grid", "INT#2"], $second).with(GRID),
                Example::new(&["grid", "third"], "DINT#0").with(GRID_AND_THIRD).event(EventKind::Dimension),
            ],
            ..ROW
        }
    };
}

const GRID: &str = "grid : ARRAY [-3..5, 1..2] OF INT;";
const GRID_AND_THIRD: &str = "grid : ARRAY [-3..5, 1..2] OF INT; third : INT := 3;";

/// The rows of Table 15.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    row!("LOWER_BOUND", false, "The lower bound of the dimension DIM of an array.", "DINT#-3", "DINT#1"),
    row!("UPPER_BOUND", true, "The upper bound of the dimension DIM of an array.", "DINT#5", "DINT#2"),
];

//! Edge detection: R_TRIG and F_TRIG.
//!
//! Source: IEC 61131-3:2013, Table 44. The memory M starts FALSE, so that R_TRIG fires at a first call with
//! TRUE and F_TRIG at a first call with FALSE; the standard's bodies say so.

use latchwork_vm::{ElementaryType, NativeCall, NativeFunction};

use super::{BlockDefinition, acts, hidden, input, output};

const BYTES: u32 = 3;

/// The rows of Table 44.
pub(super) static BLOCKS: &[BlockDefinition] = &[
    BlockDefinition {
        name: "R_TRIG",
        members: &[
            input("CLK", ElementaryType::Bool, 0),
            output("Q", ElementaryType::Bool, 1),
            hidden("M", ElementaryType::Bool, 2),
        ],
        bytes: BYTES,
        alignment: 1,
        native: "R_TRIG",
        clause: "Table 44",
        summary: "Rising edge: Q is TRUE for the one call in which CLK has become TRUE.",
        edge_behaviour: "A first call with CLK TRUE counts as an edge.",
        input_operators: &[acts("CLK", 0, "R_TRIG")],
        body: "FUNCTION_BLOCK R_TRIG_BODY
VAR_INPUT CLK : BOOL; END_VAR
VAR_OUTPUT Q : BOOL; END_VAR
VAR M : BOOL; END_VAR
Q := CLK AND NOT M;
M := CLK;
END_FUNCTION_BLOCK
",
    },
    BlockDefinition {
        name: "F_TRIG",
        members: &[
            input("CLK", ElementaryType::Bool, 0),
            output("Q", ElementaryType::Bool, 1),
            hidden("M", ElementaryType::Bool, 2),
        ],
        bytes: BYTES,
        alignment: 1,
        native: "F_TRIG",
        clause: "Table 44",
        summary: "Falling edge: Q is TRUE for the one call in which CLK has become FALSE.",
        edge_behaviour: "A first call with CLK FALSE counts as an edge.",
        input_operators: &[acts("CLK", 0, "F_TRIG")],
        body: "FUNCTION_BLOCK F_TRIG_BODY
VAR_INPUT CLK : BOOL; END_VAR
VAR_OUTPUT Q : BOOL; END_VAR
VAR M : BOOL; END_VAR
Q := NOT CLK AND NOT M;
M := NOT CLK;
END_FUNCTION_BLOCK
",
    },
];

/// Whether a level has become TRUE since the last call; keeps it in the memory byte at `memory`.
pub(super) fn rising(call: &mut NativeCall<'_>, level: bool, memory: u32) -> bool {
    let edge = level && !call.bool(memory);
    call.set_bool(memory, level);
    edge
}

fn rising_edge(call: &mut NativeCall<'_>) {
    let level = call.bool(0);
    let edge = rising(call, level, 2);
    call.set_bool(1, edge);
}

fn falling_edge(call: &mut NativeCall<'_>) {
    let level = !call.bool(0);
    let edge = rising(call, level, 2);
    call.set_bool(1, edge);
}

/// The routines of this family.
pub(super) fn natives() -> Vec<NativeFunction> {
    vec![
        NativeFunction { name: "R_TRIG", frame_bytes: BYTES, run: rising_edge },
        NativeFunction { name: "F_TRIG", frame_bytes: BYTES, run: falling_edge },
    ]
}

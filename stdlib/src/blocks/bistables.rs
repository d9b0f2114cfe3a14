//! Bistable function blocks: SR (set dominant) and RS (reset dominant).
//!
//! Source: IEC 61131-3:2013, Table 43.

use latchwork_vm::{ElementaryType, NativeCall, NativeFunction};

use super::{BlockDefinition, acts, input_also, output};

/// Both blocks: three Boolean members.
const BYTES: u32 = 3;

/// The rows of Table 43.
pub(super) static BLOCKS: &[BlockDefinition] = &[
    BlockDefinition {
        name: "SR",
        members: &[
            input_also("S1", &["SET1"], 0),
            input_also("R", &["RESET"], 1),
            output("Q1", ElementaryType::Bool, 2),
        ],
        bytes: BYTES,
        alignment: 1,
        native: "SR",
        clause: "Table 43",
        summary: "Bistable, set dominant: S1 sets Q1, R resets it, S1 wins.",
        edge_behaviour: "Works on levels; Q1 is FALSE until the first set.",
        input_operators: &[
            acts("S1", 0, "SR"),
            acts("SET1", 0, "SR"),
            acts("R", 1, "SR"),
            acts("RESET", 1, "SR"),
        ],
        body: "FUNCTION_BLOCK SR_BODY
VAR_INPUT S1 : BOOL; R : BOOL; END_VAR
VAR_OUTPUT Q1 : BOOL; END_VAR
Q1 := S1 OR (NOT R AND Q1);
END_FUNCTION_BLOCK
",
    },
    BlockDefinition {
        name: "RS",
        members: &[
            input_also("S", &["SET"], 0),
            input_also("R1", &["RESET1"], 1),
            output("Q1", ElementaryType::Bool, 2),
        ],
        bytes: BYTES,
        alignment: 1,
        native: "RS",
        clause: "Table 43",
        summary: "Bistable, reset dominant: S sets Q1, R1 resets it, R1 wins.",
        edge_behaviour: "Works on levels; Q1 is FALSE until the first set.",
        input_operators: &[
            acts("S", 0, "RS"),
            acts("SET", 0, "RS"),
            acts("R1", 1, "RS"),
            acts("RESET1", 1, "RS"),
        ],
        body: "FUNCTION_BLOCK RS_BODY
VAR_INPUT S : BOOL; R1 : BOOL; END_VAR
VAR_OUTPUT Q1 : BOOL; END_VAR
Q1 := NOT R1 AND (S OR Q1);
END_FUNCTION_BLOCK
",
    },
];

fn set_dominant(call: &mut NativeCall<'_>) {
    let state = call.bool(0) || (!call.bool(1) && call.bool(2));
    call.set_bool(2, state);
}

fn reset_dominant(call: &mut NativeCall<'_>) {
    let state = !call.bool(1) && (call.bool(0) || call.bool(2));
    call.set_bool(2, state);
}

/// The routines of this family.
pub(super) fn natives() -> Vec<NativeFunction> {
    vec![
        NativeFunction { name: "SR", frame_bytes: BYTES, run: set_dominant },
        NativeFunction { name: "RS", frame_bytes: BYTES, run: reset_dominant },
    ]
}

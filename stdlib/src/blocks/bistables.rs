//! Bistable function blocks: SR (set dominant) and RS (reset dominant).
//!
//! Source: IEC 61131-3:2013, Table 43.

use latchwork_vm::{ElementaryType, Family, Scalar, block::BistableLayout};

use super::{BlockDefinition, BlockExample, BlockOperation, acts, input_also, output};

const SET_DOMINANT: BlockOperation =
    BlockOperation { at_place: Family::SetDominant, at_address: Family::SetDominantAt, scalar: Scalar::U8 };

const RESET_DOMINANT: BlockOperation = BlockOperation {
    at_place: Family::ResetDominant,
    at_address: Family::ResetDominantAt,
    scalar: Scalar::U8,
};

/// The rows of Table 43.
pub(super) static BLOCKS: &[BlockDefinition] = &[
    BlockDefinition {
        name: "SR",
        members: &[
            input_also("S1", &["SET1"], BistableLayout::SET),
            input_also("R", &["RESET"], BistableLayout::RESET),
            output("Q1", ElementaryType::Bool, BistableLayout::Q1),
        ],
        bytes: BistableLayout::BYTES,
        alignment: BistableLayout::ALIGNMENT,
        operation: SET_DOMINANT,
        clause: "Table 43",
        summary: "Bistable, set dominant: S1 sets Q1, R resets it, S1 wins.",
        edge_behaviour: "Works on levels; Q1 is FALSE until the first set.",
        input_operators: &[
            acts("S1", 0, SET_DOMINANT),
            acts("SET1", 0, SET_DOMINANT),
            acts("R", 1, SET_DOMINANT),
            acts("RESET", 1, SET_DOMINANT),
        ],
        example: BlockExample {
            interval_ms: 10,
            preset: ("", ""),
            levels: &[("S1", "0110000001100000"), ("R", "0000110000110000")],
        },
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
            input_also("S", &["SET"], BistableLayout::SET),
            input_also("R1", &["RESET1"], BistableLayout::RESET),
            output("Q1", ElementaryType::Bool, BistableLayout::Q1),
        ],
        bytes: BistableLayout::BYTES,
        alignment: BistableLayout::ALIGNMENT,
        operation: RESET_DOMINANT,
        clause: "Table 43",
        summary: "Bistable, reset dominant: S sets Q1, R1 resets it, R1 wins.",
        edge_behaviour: "Works on levels; Q1 is FALSE until the first set.",
        input_operators: &[
            acts("S", 0, RESET_DOMINANT),
            acts("SET", 0, RESET_DOMINANT),
            acts("R1", 1, RESET_DOMINANT),
            acts("RESET1", 1, RESET_DOMINANT),
        ],
        example: BlockExample {
            interval_ms: 10,
            preset: ("", ""),
            levels: &[("S", "0110000001100000"), ("R1", "0000110000110000")],
        },
        body: "FUNCTION_BLOCK RS_BODY
VAR_INPUT S : BOOL; R1 : BOOL; END_VAR
VAR_OUTPUT Q1 : BOOL; END_VAR
Q1 := NOT R1 AND (S OR Q1);
END_FUNCTION_BLOCK
",
    },
];

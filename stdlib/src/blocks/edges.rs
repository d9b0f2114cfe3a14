//! Edge detection: R_TRIG and F_TRIG.
//!
//! Source: IEC 61131-3:2013, Table 44. The memory M starts FALSE, so that R_TRIG fires at a first call with
//! TRUE and F_TRIG at a first call with FALSE; the standard's bodies say so.

use latchwork_vm::{ElementaryType, Family, Scalar, block::TriggerLayout};

use super::{BlockDefinition, BlockExample, BlockOperation, acts, hidden, input, output};

const RISING_EDGE: BlockOperation =
    BlockOperation { at_place: Family::RisingEdge, at_address: Family::RisingEdgeAt, scalar: Scalar::U8 };

const FALLING_EDGE: BlockOperation =
    BlockOperation { at_place: Family::FallingEdge, at_address: Family::FallingEdgeAt, scalar: Scalar::U8 };

/// The rows of Table 44.
pub(super) static BLOCKS: &[BlockDefinition] = &[
    BlockDefinition {
        name: "R_TRIG",
        members: &[
            input("CLK", ElementaryType::Bool, TriggerLayout::CLK),
            output("Q", ElementaryType::Bool, TriggerLayout::Q),
            hidden("M", ElementaryType::Bool, TriggerLayout::MEMORY),
        ],
        bytes: TriggerLayout::BYTES,
        alignment: TriggerLayout::ALIGNMENT,
        operation: RISING_EDGE,
        clause: "Table 44",
        summary: "Rising edge: Q is TRUE for the one call in which CLK has become TRUE.",
        edge_behaviour: "A first call with CLK TRUE counts as an edge.",
        input_operators: &[acts("CLK", 0, RISING_EDGE)],
        example: BlockExample { interval_ms: 10, preset: ("", ""), levels: &[("CLK", "0011110010001100")] },
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
            input("CLK", ElementaryType::Bool, TriggerLayout::CLK),
            output("Q", ElementaryType::Bool, TriggerLayout::Q),
            hidden("M", ElementaryType::Bool, TriggerLayout::MEMORY),
        ],
        bytes: TriggerLayout::BYTES,
        alignment: TriggerLayout::ALIGNMENT,
        operation: FALLING_EDGE,
        clause: "Table 44",
        summary: "Falling edge: Q is TRUE for the one call in which CLK has become FALSE.",
        edge_behaviour: "A first call with CLK FALSE counts as an edge.",
        input_operators: &[acts("CLK", 0, FALLING_EDGE)],
        example: BlockExample { interval_ms: 10, preset: ("", ""), levels: &[("CLK", "0011110010001100")] },
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

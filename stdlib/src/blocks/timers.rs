//! Timers: TP (pulse), TON (on-delay), TOF (off-delay), for TIME and LTIME.
//!
//! Source: IEC 61131-3:2013, Table 46 and its timing diagrams. Our choices where the diagrams are silent:
//! time is the time of the scan, the same for all calls in it; PT is read at every call and a negative PT
//! counts as 0; ET never exceeds PT; after the time has run out the state is held until IN allows a new
//! start; a pulse ends before an edge in the same call is looked at.

use latchwork_vm::{ElementaryType, Family, Scalar, block::TimerLayout};

use super::{
    BlockDefinition, BlockExample, BlockMember, BlockOperation, InputOperator, acts, hidden, input, output,
    prepares,
};

const PULSE: BlockOperation =
    BlockOperation { at_place: Family::Pulse, at_address: Family::PulseAt, scalar: Scalar::I64 };

const ON_DELAY: BlockOperation =
    BlockOperation { at_place: Family::OnDelay, at_address: Family::OnDelayAt, scalar: Scalar::I64 };

const OFF_DELAY: BlockOperation =
    BlockOperation { at_place: Family::OffDelay, at_address: Family::OffDelayAt, scalar: Scalar::I64 };

/// All timers lie alike, whatever their duration type: both are 64-bit nanoseconds.
const fn members(duration: ElementaryType) -> [BlockMember; 7] {
    [
        input("IN", ElementaryType::Bool, TimerLayout::IN),
        input("PT", duration, TimerLayout::PT),
        output("Q", ElementaryType::Bool, TimerLayout::Q),
        output("ET", duration, TimerLayout::ET),
        hidden("T0", ElementaryType::Ltime, TimerLayout::START),
        hidden("ST", ElementaryType::Usint, TimerLayout::STATE),
        hidden("M", ElementaryType::Bool, TimerLayout::MEMORY),
    ]
}

static TIME_MEMBERS: [BlockMember; 7] = members(ElementaryType::Time);
static LTIME_MEMBERS: [BlockMember; 7] = members(ElementaryType::Ltime);

static PULSE_OPERATORS: [InputOperator; 2] = [acts("IN", 0, PULSE), prepares("PT", 1, None)];
static ON_DELAY_OPERATORS: [InputOperator; 2] = [acts("IN", 0, ON_DELAY), prepares("PT", 1, None)];
static OFF_DELAY_OPERATORS: [InputOperator; 2] = [acts("IN", 0, OFF_DELAY), prepares("PT", 1, None)];

const PULSE_SUMMARY: &str = "Pulse: an edge of IN makes Q TRUE for the duration PT, however IN goes on.";
const PULSE_EDGES: &str = "Starts at a rising edge of IN, also at a first call with IN TRUE; edges during the \
                           pulse are ignored; ET stays at PT while IN stays TRUE.";
const ON_DELAY_SUMMARY: &str = "On-delay: Q becomes TRUE when IN has been TRUE for the duration PT.";
const ON_DELAY_EDGES: &str = "The first call with IN TRUE starts the delay; a call with IN FALSE ends it and \
                              sets ET to 0.";
const OFF_DELAY_SUMMARY: &str = "Off-delay: Q follows IN to TRUE at once and to FALSE after the duration PT.";
const OFF_DELAY_EDGES: &str = "The first call with IN FALSE after one with IN TRUE starts the delay; without \
                               one Q is FALSE.";

const PULSE_EXAMPLE: BlockExample = BlockExample {
    interval_ms: 100,
    preset: ("PT", "T#400ms"),
    levels: &[("IN", "010000011011000001111110000")],
};
const ON_DELAY_EXAMPLE: BlockExample = BlockExample {
    interval_ms: 100,
    preset: ("PT", "T#400ms"),
    levels: &[("IN", "001100001111111000011110000")],
};
const OFF_DELAY_EXAMPLE: BlockExample = BlockExample {
    interval_ms: 100,
    preset: ("PT", "T#400ms"),
    levels: &[("IN", "001110000000110011000000000")],
};

macro_rules! body_heading {
    ($name:literal, $duration:literal) => {
        concat!(
            "FUNCTION_BLOCK ",
            $name,
            "_BODY\nVAR_INPUT IN : BOOL; PT : ",
            $duration,
            "; NOW : LTIME; END_VAR\n",
            "VAR_OUTPUT Q : BOOL; ET : ",
            $duration,
            "; END_VAR\n",
            "VAR T0 : LTIME; ST : USINT; M : BOOL; P : ",
            $duration,
            "; EDGE : BOOL; END_VAR\n",
            "P := MAX(PT, ",
            $duration,
            "#0s);\n"
        )
    };
}

/// The time since T0 in the timer's own duration type.
macro_rules! elapsed {
    ("TIME") => {
        "LTIME_TO_TIME(NOW - T0)"
    };
    ("LTIME") => {
        "(NOW - T0)"
    };
}

macro_rules! pulse_body {
    ($name:literal, $duration:tt) => {
        concat!(
            body_heading!($name, $duration),
            "EDGE := IN AND NOT M;\nM := IN;\n",
            "IF ST = 1 AND ",
            elapsed!($duration),
            " >= P THEN\n  ST := 2;\n  ET := P;\nEND_IF;\n",
            "IF ST = 2 AND (NOT IN OR EDGE) THEN\n  ST := 0;\n  ET := ",
            $duration,
            "#0s;\nEND_IF;\n",
            "IF ST = 0 AND EDGE THEN\n  ST := 1;\n  T0 := NOW;\nEND_IF;\n",
            "IF ST = 1 THEN\n  IF ",
            elapsed!($duration),
            " >= P THEN\n    ST := 2;\n    ET := P;\n",
            "  ELSE\n    ET := ",
            elapsed!($duration),
            ";\n  END_IF;\nEND_IF;\n",
            "Q := ST = 1;\nEND_FUNCTION_BLOCK\n"
        )
    };
}

macro_rules! on_delay_body {
    ($name:literal, $duration:tt) => {
        concat!(
            body_heading!($name, $duration),
            "IF NOT IN THEN\n  Q := FALSE;\n  ET := ",
            $duration,
            "#0s;\n  ST := 0;\nELSE\n",
            "  IF ST = 0 THEN\n    ST := 1;\n    T0 := NOW;\n  END_IF;\n",
            "  IF ST = 1 THEN\n    IF ",
            elapsed!($duration),
            " >= P THEN\n",
            "      ST := 2;\n      Q := TRUE;\n      ET := P;\n",
            "    ELSE\n      Q := FALSE;\n      ET := ",
            elapsed!($duration),
            ";\n    END_IF;\n  END_IF;\n",
            "END_IF;\nEND_FUNCTION_BLOCK\n"
        )
    };
}

macro_rules! off_delay_body {
    ($name:literal, $duration:tt) => {
        concat!(
            body_heading!($name, $duration),
            "IF IN THEN\n  Q := TRUE;\n  ET := ",
            $duration,
            "#0s;\n  ST := 0;\nELSE\n",
            "  IF M THEN\n    ST := 1;\n    T0 := NOW;\n  END_IF;\n",
            "  IF ST = 1 THEN\n    IF ",
            elapsed!($duration),
            " >= P THEN\n",
            "      ST := 2;\n      Q := FALSE;\n      ET := P;\n",
            "    ELSE\n      ET := ",
            elapsed!($duration),
            ";\n    END_IF;\n  END_IF;\n",
            "END_IF;\nM := IN;\nEND_FUNCTION_BLOCK\n"
        )
    };
}

macro_rules! timer {
    ($name:literal, $members:ident, $operation:ident, $operators:ident, $summary:ident, $edges:ident, $example:ident, $body:expr) => {
        BlockDefinition {
            name: $name,
            members: &$members,
            bytes: TimerLayout::BYTES,
            alignment: TimerLayout::ALIGNMENT,
            operation: $operation,
            clause: "Table 46",
            summary: $summary,
            edge_behaviour: $edges,
            input_operators: &$operators,
            example: $example,
            body: $body,
        }
    };
}

/// The rows of Table 46.
#[rustfmt::skip]
pub(super) static BLOCKS: &[BlockDefinition] = &[
    timer!("TP", TIME_MEMBERS, PULSE, PULSE_OPERATORS, PULSE_SUMMARY, PULSE_EDGES, PULSE_EXAMPLE, pulse_body!("TP", "TIME")),
    timer!("TP_TIME", TIME_MEMBERS, PULSE, PULSE_OPERATORS, PULSE_SUMMARY, PULSE_EDGES, PULSE_EXAMPLE, pulse_body!("TP_TIME", "TIME")),
    timer!("TP_LTIME", LTIME_MEMBERS, PULSE, PULSE_OPERATORS, PULSE_SUMMARY, PULSE_EDGES, PULSE_EXAMPLE, pulse_body!("TP_LTIME", "LTIME")),
    timer!("TON", TIME_MEMBERS, ON_DELAY, ON_DELAY_OPERATORS, ON_DELAY_SUMMARY, ON_DELAY_EDGES, ON_DELAY_EXAMPLE, on_delay_body!("TON", "TIME")),
    timer!("TON_TIME", TIME_MEMBERS, ON_DELAY, ON_DELAY_OPERATORS, ON_DELAY_SUMMARY, ON_DELAY_EDGES, ON_DELAY_EXAMPLE, on_delay_body!("TON_TIME", "TIME")),
    timer!("TON_LTIME", LTIME_MEMBERS, ON_DELAY, ON_DELAY_OPERATORS, ON_DELAY_SUMMARY, ON_DELAY_EDGES, ON_DELAY_EXAMPLE, on_delay_body!("TON_LTIME", "LTIME")),
    timer!("TOF", TIME_MEMBERS, OFF_DELAY, OFF_DELAY_OPERATORS, OFF_DELAY_SUMMARY, OFF_DELAY_EDGES, OFF_DELAY_EXAMPLE, off_delay_body!("TOF", "TIME")),
    timer!("TOF_TIME", TIME_MEMBERS, OFF_DELAY, OFF_DELAY_OPERATORS, OFF_DELAY_SUMMARY, OFF_DELAY_EDGES, OFF_DELAY_EXAMPLE, off_delay_body!("TOF_TIME", "TIME")),
    timer!("TOF_LTIME", LTIME_MEMBERS, OFF_DELAY, OFF_DELAY_OPERATORS, OFF_DELAY_SUMMARY, OFF_DELAY_EDGES, OFF_DELAY_EXAMPLE, off_delay_body!("TOF_LTIME", "LTIME")),
];

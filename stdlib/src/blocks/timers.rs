//! Timers: TP (pulse), TON (on-delay), TOF (off-delay), for TIME and LTIME.
//!
//! Source: IEC 61131-3:2013, Table 46 and its timing diagrams. Our choices where the diagrams are silent:
//! time is the time of the scan, the same for all calls in it; PT is read at every call and a negative PT
//! counts as 0; ET never exceeds PT; after the time has run out the state is held until IN allows a new
//! start; a pulse ends before an edge in the same call is looked at.

use latchwork_vm::{ElementaryType, NativeCall, NativeFunction};

use super::{BlockDefinition, BlockMember, InputOperator, acts, hidden, input, output, prepares};

const IN: u32 = 0;
const PT: u32 = 8;
const Q: u32 = 16;
const ET: u32 = 24;
/// When the running delay or pulse started.
const T0: u32 = 32;
/// [`IDLE`], [`RUNNING`] or [`ELAPSED`].
const ST: u32 = 40;
/// IN at the last call.
const M: u32 = 41;
const BYTES: u32 = 48;

const IDLE: u8 = 0;
const RUNNING: u8 = 1;
const ELAPSED: u8 = 2;

/// All timers lie alike, whatever their duration type: both are 64-bit nanoseconds.
const fn members(duration: ElementaryType) -> [BlockMember; 7] {
    [
        input("IN", ElementaryType::Bool, IN),
        input("PT", duration, PT),
        output("Q", ElementaryType::Bool, Q),
        output("ET", duration, ET),
        hidden("T0", ElementaryType::Ltime, T0),
        hidden("ST", ElementaryType::Usint, ST),
        hidden("M", ElementaryType::Bool, M),
    ]
}

static TIME_MEMBERS: [BlockMember; 7] = members(ElementaryType::Time);
static LTIME_MEMBERS: [BlockMember; 7] = members(ElementaryType::Ltime);

static PULSE_OPERATORS: [InputOperator; 2] = [acts("IN", 0, "TP"), prepares("PT", 1, "")];
static ON_DELAY_OPERATORS: [InputOperator; 2] = [acts("IN", 0, "TON"), prepares("PT", 1, "")];
static OFF_DELAY_OPERATORS: [InputOperator; 2] = [acts("IN", 0, "TOF"), prepares("PT", 1, "")];

const PULSE_SUMMARY: &str = "Pulse: an edge of IN makes Q TRUE for the duration PT, however IN goes on.";
const PULSE_EDGES: &str = "Starts at a rising edge of IN, also at a first call with IN TRUE; edges during the \
                           pulse are ignored; ET stays at PT while IN stays TRUE.";
const ON_DELAY_SUMMARY: &str = "On-delay: Q becomes TRUE when IN has been TRUE for the duration PT.";
const ON_DELAY_EDGES: &str = "The first call with IN TRUE starts the delay; a call with IN FALSE ends it and \
                              sets ET to 0.";
const OFF_DELAY_SUMMARY: &str = "Off-delay: Q follows IN to TRUE at once and to FALSE after the duration PT.";
const OFF_DELAY_EDGES: &str = "The first call with IN FALSE after one with IN TRUE starts the delay; without \
                               one Q is FALSE.";

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
    ($name:literal, $members:ident, $native:literal, $operators:ident, $summary:ident, $edges:ident, $body:expr) => {
        BlockDefinition {
            name: $name,
            members: &$members,
            bytes: BYTES,
            alignment: 8,
            native: $native,
            clause: "Table 46",
            summary: $summary,
            edge_behaviour: $edges,
            input_operators: &$operators,
            body: $body,
        }
    };
}

/// The rows of Table 46.
#[rustfmt::skip]
pub(super) static BLOCKS: &[BlockDefinition] = &[
    timer!("TP", TIME_MEMBERS, "TP", PULSE_OPERATORS, PULSE_SUMMARY, PULSE_EDGES, pulse_body!("TP", "TIME")),
    timer!("TP_TIME", TIME_MEMBERS, "TP", PULSE_OPERATORS, PULSE_SUMMARY, PULSE_EDGES, pulse_body!("TP_TIME", "TIME")),
    timer!("TP_LTIME", LTIME_MEMBERS, "TP", PULSE_OPERATORS, PULSE_SUMMARY, PULSE_EDGES, pulse_body!("TP_LTIME", "LTIME")),
    timer!("TON", TIME_MEMBERS, "TON", ON_DELAY_OPERATORS, ON_DELAY_SUMMARY, ON_DELAY_EDGES, on_delay_body!("TON", "TIME")),
    timer!("TON_TIME", TIME_MEMBERS, "TON", ON_DELAY_OPERATORS, ON_DELAY_SUMMARY, ON_DELAY_EDGES, on_delay_body!("TON_TIME", "TIME")),
    timer!("TON_LTIME", LTIME_MEMBERS, "TON", ON_DELAY_OPERATORS, ON_DELAY_SUMMARY, ON_DELAY_EDGES, on_delay_body!("TON_LTIME", "LTIME")),
    timer!("TOF", TIME_MEMBERS, "TOF", OFF_DELAY_OPERATORS, OFF_DELAY_SUMMARY, OFF_DELAY_EDGES, off_delay_body!("TOF", "TIME")),
    timer!("TOF_TIME", TIME_MEMBERS, "TOF", OFF_DELAY_OPERATORS, OFF_DELAY_SUMMARY, OFF_DELAY_EDGES, off_delay_body!("TOF_TIME", "TIME")),
    timer!("TOF_LTIME", LTIME_MEMBERS, "TOF", OFF_DELAY_OPERATORS, OFF_DELAY_SUMMARY, OFF_DELAY_EDGES, off_delay_body!("TOF_LTIME", "LTIME")),
];

/// PT as it counts.
fn preset(call: &mut NativeCall<'_>) -> i64 {
    call.i64(PT).max(0)
}

/// Time since T0. Saturates: a clock before T0 gives a negative time, which is below every PT.
fn elapsed(call: &mut NativeCall<'_>) -> i64 {
    call.now().saturating_sub(call.i64(T0))
}

fn start(call: &mut NativeCall<'_>) {
    let now = call.now();
    call.set_u8(ST, RUNNING);
    call.set_i64(T0, now);
}

/// Lets a running delay or pulse go on: to the elapsed state at PT, otherwise ET follows the time. Returns
/// whether it has just run out.
fn advance(call: &mut NativeCall<'_>) -> bool {
    let (elapsed, preset) = (elapsed(call), preset(call));
    if elapsed >= preset {
        call.set_u8(ST, ELAPSED);
        call.set_i64(ET, preset);
        return true;
    }
    call.set_i64(ET, elapsed);
    false
}

fn reset(call: &mut NativeCall<'_>) {
    call.set_u8(ST, IDLE);
    call.set_i64(ET, 0);
}

fn on_delay(call: &mut NativeCall<'_>) {
    if !call.bool(IN) {
        call.set_bool(Q, false);
        reset(call);
        return;
    }
    if call.u8(ST) == IDLE {
        start(call);
    }
    if call.u8(ST) == RUNNING {
        let elapsed = advance(call);
        call.set_bool(Q, elapsed);
    }
}

fn off_delay(call: &mut NativeCall<'_>) {
    let level = call.bool(IN);
    if level {
        call.set_bool(Q, true);
        reset(call);
    } else {
        if call.bool(M) {
            start(call);
        }
        if call.u8(ST) == RUNNING && advance(call) {
            call.set_bool(Q, false);
        }
    }
    call.set_bool(M, level);
}

fn pulse(call: &mut NativeCall<'_>) {
    let level = call.bool(IN);
    let edge = super::edges::rising(call, level, M);
    if call.u8(ST) == RUNNING {
        advance(call);
    }
    if call.u8(ST) == ELAPSED && (!level || edge) {
        reset(call);
    }
    if call.u8(ST) == IDLE && edge {
        start(call);
        advance(call);
    }
    let running = call.u8(ST) == RUNNING;
    call.set_bool(Q, running);
}

/// The routines of this family.
pub(super) fn natives() -> Vec<NativeFunction> {
    vec![
        NativeFunction { name: "TP", frame_bytes: BYTES, run: pulse },
        NativeFunction { name: "TON", frame_bytes: BYTES, run: on_delay },
        NativeFunction { name: "TOF", frame_bytes: BYTES, run: off_delay },
    ]
}

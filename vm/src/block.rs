//! Where the members of an instance of a standard function block lie.
//!
//! The one place that says so: the instructions that run the blocks work at these offsets, the verifier proves that an
//! operand leaves room for so many bytes, and the library's table takes the offsets of its members from here. Inputs
//! come first, then outputs, then what the standard does not show, each at its natural alignment.
//!
//! Source of the members: IEC 61131-3:2013, Tables 43 to 46. All offsets and sizes are bytes. A new instance is all
//! zeros. The machine accesses members byte by byte, so the alignment of an instance is for the compiler's layout and
//! nothing rests on it.

/// An instance of a bistable, SR or RS (Table 43).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BistableLayout;

impl BistableLayout {
    /// S1 of SR, S of RS: BOOL.
    pub const SET: u32 = 0;
    /// R of SR, R1 of RS: BOOL.
    pub const RESET: u32 = 1;
    /// Q1: BOOL.
    pub const Q1: u32 = 2;
    /// Size of an instance.
    pub const BYTES: u32 = 3;
    /// Alignment of an instance.
    pub const ALIGNMENT: u32 = 1;
}

/// An instance of an edge trigger, R_TRIG or F_TRIG (Table 44).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TriggerLayout;

impl TriggerLayout {
    /// CLK: BOOL.
    pub const CLK: u32 = 0;
    /// Q: BOOL.
    pub const Q: u32 = 1;
    /// CLK at the last call; of F_TRIG its opposite: BOOL.
    pub const MEMORY: u32 = 2;
    /// Size of an instance.
    pub const BYTES: u32 = 3;
    /// Alignment of an instance.
    pub const ALIGNMENT: u32 = 1;
}

/// An instance of a counter that counts one way, CTU or CTD (Table 45).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CounterLayout {
    /// CU of CTU, CD of CTD: BOOL.
    pub count: u32,
    /// R of CTU, LD of CTD: BOOL.
    pub level: u32,
    /// PV, as wide as the value.
    pub pv: u32,
    /// Q: BOOL.
    pub q: u32,
    /// CV, as wide as the value.
    pub cv: u32,
    /// The counting input at the last call: BOOL.
    pub memory: u32,
    /// Size of an instance.
    pub bytes: u32,
    /// Alignment of an instance.
    pub alignment: u32,
}

impl CounterLayout {
    /// The layout for values of 2, 4 or 8 bytes.
    #[must_use]
    pub const fn of_width(width: u32) -> Self {
        Self {
            count: 0,
            level: 1,
            pv: width,
            q: 2 * width,
            cv: 3 * width,
            memory: 4 * width,
            bytes: 5 * width,
            alignment: width,
        }
    }
}

/// An instance of a counter that counts both ways, CTUD (Table 45).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UpDownLayout {
    /// CU: BOOL.
    pub up: u32,
    /// CD: BOOL.
    pub down: u32,
    /// R: BOOL.
    pub reset: u32,
    /// LD: BOOL.
    pub load: u32,
    /// PV, as wide as the value.
    pub pv: u32,
    /// QU: BOOL.
    pub qu: u32,
    /// QD: BOOL.
    pub qd: u32,
    /// CV, as wide as the value.
    pub cv: u32,
    /// CU at the last call: BOOL.
    pub up_memory: u32,
    /// CD at the last call: BOOL.
    pub down_memory: u32,
    /// Size of an instance.
    pub bytes: u32,
    /// Alignment of an instance.
    pub alignment: u32,
}

impl UpDownLayout {
    /// The layout for values of 2, 4 or 8 bytes.
    #[must_use]
    pub const fn of_width(width: u32) -> Self {
        let pv = if width > 4 { width } else { 4 };
        let qu = pv + width;
        let cv = (qu + 2).next_multiple_of(width);
        let up_memory = cv + width;
        Self {
            up: 0,
            down: 1,
            reset: 2,
            load: 3,
            pv,
            qu,
            qd: qu + 1,
            cv,
            up_memory,
            down_memory: up_memory + 1,
            bytes: (up_memory + 2).next_multiple_of(width),
            alignment: width,
        }
    }
}

/// An instance of a timer, TP, TON or TOF, for TIME and LTIME alike: both are 64-bit nanoseconds (Table 46).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimerLayout;

impl TimerLayout {
    /// IN: BOOL.
    pub const IN: u32 = 0;
    /// PT: duration.
    pub const PT: u32 = 8;
    /// Q: BOOL.
    pub const Q: u32 = 16;
    /// ET: duration.
    pub const ET: u32 = 24;
    /// Time at which the running delay or pulse has begun: nanoseconds, signed 64 bits.
    pub const START: u32 = 32;
    /// [`Self::IDLE`], [`Self::RUNNING`] or [`Self::ELAPSED`]: one byte.
    pub const STATE: u32 = 40;
    /// IN at the last call, which TON does not need: BOOL.
    pub const MEMORY: u32 = 41;
    /// Size of an instance.
    pub const BYTES: u32 = 48;
    /// Alignment of an instance.
    pub const ALIGNMENT: u32 = 8;

    /// State: neither delay nor pulse.
    pub const IDLE: u8 = 0;
    /// State: a delay or pulse is running.
    pub const RUNNING: u8 = 1;
    /// State: a delay or pulse has come to its end, and IN does not allow a new one yet.
    pub const ELAPSED: u8 = 2;
}

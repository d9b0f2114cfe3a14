//! A reason as data: a tree whose leaves are devices, constants, stored values, or a stated limit.

use latchwork_grammar::Span;

use crate::recording::Contact;

/// Why a variable has its value at a time.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    /// The tree; its root is the variable.
    pub reason: Reason,
    /// For a BOOL: what would have to differ for the other value, the smallest changes first.
    pub otherwise: Vec<Alternative>,
    /// More ways than are listed.
    pub more_ways: bool,
}

/// A time of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Instant {
    /// Number of the scan, from 0.
    pub scan: u32,
    /// Its start in nanoseconds.
    pub time_ns: i64,
}

/// Something that is so, and why.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// What it is about: a variable, an expression, a step.
    pub subject: String,
    /// Its value as a literal, if it has one that can be told.
    pub value: Option<String>,
    /// When it was so.
    pub at: Instant,
    /// Since when it had been so without a break; `None` if since the start of the run or before.
    pub since: Option<Instant>,
    /// Whether that is known: of strings and of what lives only during a scan it is not.
    pub since_known: bool,
    /// Why.
    pub cause: Cause,
    /// The parts that decided, and what made the statement run.
    pub parts: Vec<Reason>,
}

/// A statement of the program.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Statement {
    /// Its place.
    pub span: Span,
    /// File and line: `pump.st:14`.
    pub place: String,
    /// Its text in one line.
    pub text: String,
    /// When it ran for this.
    pub ran: Instant,
}

/// Why something is so.
#[derive(Clone, Debug, PartialEq)]
pub enum Cause {
    /// A constant.
    Constant,
    /// A statement stored it, from the parts.
    Written(Statement),
    /// A statement in a function gave it as the result.
    Result(Statement),
    /// A call gave it to an input of its block.
    Given(Statement),
    /// A call took it from an output of its block.
    Taken(Statement),
    /// An expression, with the values in it: `51.3 < 60.0`.
    Computed(String),
    /// A function of the user, by its name.
    Function(String),
    /// A standard function block made it in a call.
    Block {
        /// The call.
        call: Statement,
        /// What the block did.
        work: BlockWork,
    },
    /// A device on the panel.
    Device(DeviceState),
    /// What the terminal reads; nothing on the panel is wired to it.
    Terminal(String),
    /// Set from outside: by a stimulus, a procedure or a person.
    Set,
    /// The initial value: nothing has written it.
    Initial,
    /// A restart gave it its initial value.
    Restarted,
    /// It was kept over a warm restart.
    Retained,
    /// It had this value already and helped to keep it: what is explained rests on itself. The parts tell how it came.
    Itself,
    /// It had this other value before.
    Before,
    /// It is explained elsewhere in the tree.
    Told,
    /// The explanation is cut here.
    Deeper,
    /// A condition that let the statement run.
    Guard {
        /// Which.
        kind: Guard,
        /// File and line of the condition.
        place: String,
    },
    /// Another statement would have written it and did not run.
    Idle {
        /// The statement; `ran` is when it ran last, if it did.
        statement: Statement,
        /// Whether it has run before.
        ran_before: bool,
    },
    /// A step of a chart.
    Step(StepState),
    /// A transition of a chart, with the place of its heading.
    Transition {
        /// As it is written: `Feed TO Idle`, with its name in front.
        heading: String,
        /// File and line.
        place: String,
        /// What became of it.
        state: TransitionState,
    },
    /// The steps of a chart control it, which are its parts.
    Controlled,
    /// A step controls it.
    Action {
        /// The step.
        step: String,
        /// `N`, `S`, `L`…
        qualifier: &'static str,
        /// The time behind it, as written.
        time: Option<String>,
        /// File and line.
        place: String,
    },
    /// Nothing is known: it happened where the account of the run has nothing, or in a way that it does not follow.
    Unknown,
}

/// What let a statement run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Guard {
    /// The condition of a branch, which was TRUE.
    Branch,
    /// A condition in front of it, which was FALSE.
    Earlier,
    /// The selector of CASE.
    Selector,
    /// A loop: its variable, or its condition.
    Loop,
    /// A jump over it that was not taken, or a RETURN in front of it.
    NotLeft,
    /// EN of a call.
    Enable,
}

/// The state of a device.
#[derive(Clone, Debug, PartialEq)]
pub struct DeviceState {
    /// Its name.
    pub name: String,
    /// How its contact is made; `None` for an analog device.
    pub contact: Option<Contact>,
    /// What it is or does: `pressed`, `not pressed`, `dry`; `51.3 cm`.
    pub state: String,
    /// Whether the word is one for a person's hand: `pressed`, rather than one of the station's own such as `wet`.
    pub handled: bool,
    /// Since when; `None` if it has not moved since the start.
    pub since: Option<Instant>,
    /// When it changed again, if that was before the time that is asked about.
    pub until: Option<Instant>,
    /// Its terminal does not show what the device does: the fault in words, if it is known.
    pub fault: Option<String>,
}

/// What a standard function block did.
#[derive(Clone, Debug, PartialEq)]
pub enum BlockWork {
    /// A timer.
    Timer {
        /// Which.
        kind: TimerKind,
        /// IN, and since when it has been so.
        input: bool,
        /// Since when IN is so; `None` since the start.
        input_since: Option<Instant>,
        /// PT in nanoseconds.
        preset_ns: i64,
        /// ET in nanoseconds.
        elapsed_ns: i64,
        /// Q.
        output: bool,
        /// Since when Q is so.
        output_since: Option<Instant>,
    },
    /// A counter.
    Counter {
        /// The value.
        value: i128,
        /// PV.
        preset: i128,
        /// The output asked for: `Q`, `QU`, `QD`, or `CV`.
        member: &'static str,
        /// Whether the output is TRUE.
        output: bool,
        /// Whether it is CTD, whose Q tells that 0 is reached.
        down: bool,
        /// The last changes of the value, latest first, with the value after each.
        counts: Vec<(Instant, i128)>,
        /// `R` or `LD`, if it is TRUE.
        held_by: Option<&'static str>,
    },
    /// A bistable.
    Bistable {
        /// Its setting input.
        set_name: &'static str,
        /// Its resetting input.
        reset_name: &'static str,
        /// The setting input goes first.
        set_first: bool,
        /// S.
        set: bool,
        /// R.
        reset: bool,
        /// Q1.
        output: bool,
        /// When Q1 became what it is; `None` if it always was.
        turned: Option<Instant>,
    },
    /// An edge trigger.
    Edge {
        /// R_TRIG, otherwise F_TRIG.
        rising: bool,
        /// CLK.
        clock: bool,
        /// Since when CLK is so.
        clock_since: Option<Instant>,
        /// Q.
        output: bool,
    },
    /// An input, which the call did not give.
    Kept,
}

/// Which timer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimerKind {
    /// TON.
    OnDelay,
    /// TOF.
    OffDelay,
    /// TP.
    Pulse,
}

/// What became of a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StepState {
    /// It is active.
    Active,
    /// It is active as the initial step.
    ActiveFromStart,
    /// It is not active.
    Left,
    /// It has not been active yet.
    NeverActive,
}

/// What became of a transition.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TransitionState {
    /// It cleared.
    Cleared,
    /// Its steps are active and its condition is FALSE.
    Waits,
    /// Its condition was TRUE, but another transition cleared.
    Beaten,
    /// Not all steps that it leaves are active.
    NotEnabled,
}

/// A set of changes that would give the other value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alternative {
    /// All of them together.
    pub changes: Vec<Change>,
    /// What would then make it so, where that is not the statement that wrote it last: `pump.st:9 runs`.
    pub by: Option<String>,
}

/// Something that would have to differ.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// What.
    pub subject: String,
    /// As what: `TRUE`.
    pub value: String,
    /// How that comes about at the panel, if it hangs on one device: `StopPB pressed`.
    pub device: Option<String>,
    /// What else it takes, if it comes from a block: `400 ms more with IN TRUE`.
    pub how: Option<String>,
}

//! The tree of a `*.steps` file. A statement that could not be read is left out; its diagnostic says why.

use crate::{
    source::{FileId, Span},
    tree::{Expression, Ident, Trivia},
};

/// The tree of one file.
#[derive(Clone, Debug, Default)]
pub struct StepsFile {
    /// The file.
    pub file: FileId,
    /// What stands in it, in textual order.
    pub items: Vec<Item>,
    /// Every comment and pragma in textual order.
    pub trivia: Vec<Trivia>,
}

/// A text in quotation marks, without them and with its escapes resolved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Text {
    /// The text.
    pub value: String,
    /// With the quotation marks.
    pub span: Span,
}

/// A duration written as a literal of the standard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Duration {
    /// In nanoseconds; never negative.
    pub nanoseconds: i64,
    /// Its place.
    pub span: Span,
}

/// What stands at the top of a file.
#[derive(Clone, Debug)]
pub struct Item {
    /// Which one.
    pub kind: ItemKind,
    /// All of it.
    pub span: Span,
}

/// The items of a file.
#[derive(Clone, Debug)]
pub enum ItemKind {
    /// `include 'common.steps';`
    Include(Text),
    /// `program 'pump.st', 'blocks.st';`: the files of one variant of the program.
    Program(Vec<Text>),
    /// `station 'station.toml';`
    Station(Text),
    /// `scan T#10ms;`: longer than nothing.
    Scan(Duration),
    /// `record Start, Fill.ET;`: accesses to variables, names of devices and loads, addresses.
    Record(Vec<Expression>),
    /// `prepare … end_prepare`
    Prepare(Vec<Step>),
    /// `procedure 'title' … end_procedure`
    Procedure(Procedure),
}

/// A procedure.
#[derive(Clone, Debug)]
pub struct Procedure {
    /// Its title; not empty.
    pub title: Text,
    /// What it is worth: finite, not negative.
    pub points: Option<f64>,
    /// Shown when it fails.
    pub hint: Option<Text>,
    /// Recorded traces that it must follow.
    pub comparisons: Vec<Comparison>,
    /// The steps in order.
    pub steps: Vec<Step>,
    /// The word `procedure` and the title.
    pub heading: Span,
}

/// `compare Pump, P1 with 'bench.csv' shift T#20ms tolerance 0.5;`
#[derive(Clone, Debug)]
pub struct Comparison {
    /// What is compared: as in [`ItemKind::Record`].
    pub names: Vec<Expression>,
    /// The trace; the approved one beside the procedure if none is named.
    pub file: Option<Text>,
    /// How much earlier or later a change may come.
    pub shift: Option<Duration>,
    /// How much numbers may differ.
    pub tolerance: Option<Expression>,
    /// All of it.
    pub span: Span,
}

/// A statement of a procedure.
#[derive(Clone, Debug)]
pub struct Step {
    /// Which one.
    pub kind: StepKind,
    /// All of it, with its semicolon.
    pub span: Span,
}

/// The statements of a procedure.
#[derive(Clone, Debug)]
pub enum StepKind {
    /// `press A, B;`, `press A for T#200ms;`
    Press {
        /// Devices.
        devices: Vec<Ident>,
        /// Released again after so long.
        hold: Option<Duration>,
    },
    /// `release A, B;`
    Release(Vec<Ident>),
    /// `turn Mode to 'hand';`
    Turn {
        /// The device.
        device: Ident,
        /// The state.
        to: StateWord,
    },
    /// `set Level to 42.5;`
    Set {
        /// A device, an access to a variable, an address.
        target: Expression,
        /// The value.
        value: Expression,
    },
    /// `ramp Level to 90.0 over T#10s;`
    Ramp {
        /// As in [`StepKind::Set`].
        target: Expression,
        /// Where it ends.
        value: Expression,
        /// How long it takes; longer than nothing.
        over: Duration,
    },
    /// `wait T#1s;`
    Wait(Duration),
    /// `at T#2s;`; a step behind it is the next one in the list.
    At(Duration),
    /// `repeat 3 times … end_repeat;`
    Repeat {
        /// How often; at least once.
        times: u64,
        /// The place of the number.
        times_span: Span,
        /// What is repeated.
        steps: Vec<Step>,
    },
    /// `place stuck on StopPB at pressed;`
    Place {
        /// Which fault.
        fault: FaultWord,
        /// On which device or load.
        on: Ident,
        /// Where it is stuck, for [`FaultWord::Stuck`] only.
        at: Option<StateWord>,
    },
    /// `clear StopPB, P1;`; all faults if no name is given (`clear faults;`).
    Clear(Vec<Ident>),
    /// `restart warm;`, `restart cold;`
    Restart {
        /// `warm`; otherwise cold.
        warm: bool,
    },
    /// `expect …;`
    Expect(Expect),
    /// `always C;`
    Always(Rule),
    /// `never C;`
    Never(Rule),
    /// `whenever A then B within T#20ms;`
    Whenever {
        /// What starts it.
        trigger: Expression,
        /// What must follow.
        response: Expression,
        /// When.
        when: ResponseTime,
        /// Shown when it fails.
        hint: Option<Text>,
    },
}

/// A state of a device: a word of the station, or TRUE or FALSE.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StateWord {
    /// As it is written, without quotation marks.
    pub word: String,
    /// Its place.
    pub span: Span,
}

/// The faults of a wiring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaultWord {
    /// `open wire`
    OpenWire,
    /// `shorted`
    Shorted,
    /// `stuck`
    Stuck,
}

/// A condition that holds throughout, or never.
#[derive(Clone, Debug)]
pub struct Rule {
    /// The condition.
    pub condition: Expression,
    /// Shown when it fails.
    pub hint: Option<Text>,
}

/// When a response must be there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ResponseTime {
    /// In the same scan.
    AtOnce,
    /// After a scan so much later at the latest.
    Within(Duration),
    /// In the same scan, and for so long.
    For(Duration),
}

/// `expect …;`
#[derive(Clone, Debug)]
pub struct Expect {
    /// What must be seen.
    pub what: Expected,
    /// When.
    pub when: ExpectTime,
    /// Shown when it fails.
    pub hint: Option<Text>,
}

/// What an expectation looks at.
#[derive(Clone, Debug)]
pub enum Expected {
    /// A condition.
    Condition(Expression),
    /// `a near b tolerance c`
    Near {
        /// What is looked at.
        value: Expression,
        /// What it must be.
        target: Expression,
        /// How far it may be away.
        tolerance: Expression,
    },
    /// `exactly 3 rising edges of Pump`; stands with [`ExpectTime::Within`] and [`ExpectTime::While`] only.
    Edges {
        /// `exactly`, `at least`, `at most`.
        bound: Bound,
        /// How many.
        count: u64,
        /// Which.
        edge: EdgeWord,
        /// Of what: BOOL, for [`EdgeWord::Change`] any elementary value.
        of: Expression,
    },
}

/// How a count is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// `exactly`
    Exactly,
    /// `at least`
    AtLeast,
    /// `at most`
    AtMost,
}

/// What is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EdgeWord {
    /// `rising edges`
    Rising,
    /// `falling edges`
    Falling,
    /// `changes`
    Change,
}

/// When an expectation must be met.
#[derive(Clone, Debug)]
pub enum ExpectTime {
    /// Now.
    Now,
    /// `within T#1s`
    Within(Duration),
    /// `for T#1s`
    For(Duration),
    /// `within T#1s for T#2s`
    WithinFor(Duration, Duration),
    /// `between T#1s and T#2s`: the second not before the first.
    Between(Duration, Duration),
    /// `while … end_while`
    While(Vec<Step>),
}

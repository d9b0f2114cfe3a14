//! What became of a procedure: passed, failed at one step for one reason, or refused.

use latchwork_grammar::{Diagnostic, Span};
use latchwork_vm::{CoverageLog, EventLog, Fault, Value};

use super::{course::Course, pace::Pace, tally::Tally};
use crate::{
    account::Account,
    comparison::{Comparison, Expected},
    recording::Recording,
};

/// What became of one procedure on one variant of the program.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// Passed, failed, refused.
    pub verdict: Verdict,
    /// What is questionable about its conditions.
    pub warnings: Vec<Diagnostic>,
    /// Scans that were run.
    pub scans: u64,
    /// Simulated time at the end, in nanoseconds.
    pub end_ns: i64,
    /// Events of the program during the run.
    pub events: EventLog,
    /// Events of the plant during the run.
    pub plant_events: EventLog,
    /// What of the program was run, if its image was compiled for measuring coverage. To be merged with that of other
    /// procedures on the same image, in any order.
    pub coverage: Option<CoverageLog>,
    /// The account of the run, if one was wanted.
    pub account: Option<Account>,
    /// The rows of its comparisons with recorded traces, if it has any.
    pub compared: Option<Recording>,
    /// The text of the approved trace that its comparison asks for, if it passed and traces are to be approved.
    pub approved: Option<String>,
    /// When steps did something, with such rows: the starts of the scans that saw it first, in nanoseconds.
    pub acted_ns: Vec<i64>,
    /// What was done when, and what the loads did, if a course was kept.
    pub course: Option<Course>,
    /// How many of its expectations were met, if the run was to carry on.
    pub tally: Option<Tally>,
}

/// The verdict.
#[derive(Clone, Debug)]
pub enum Verdict {
    /// Every expectation was met.
    Passed,
    /// One was not.
    Failed(Box<Failure>),
    /// It could not be run: what is wrong with it.
    Refused(Vec<Diagnostic>),
}

/// The first thing that was not as expected.
#[derive(Clone, Debug)]
pub struct Failure {
    /// What.
    pub kind: FailureKind,
    /// The step: an expectation, a rule, or what ran when the program stopped.
    pub step: Span,
    /// What the step is about: the condition, the trigger of a response, the counted variable.
    pub condition: Option<Span>,
    /// The start of the scan that decided it, in nanoseconds from the start of the run.
    pub time_ns: i64,
    /// That scan, from 0; `None` before the first.
    pub scan: Option<u64>,
    /// Since when the step looked, in nanoseconds from the start of the run.
    pub since_ns: i64,
    /// The condition with the value of every part of it at the end of that scan, in the order of the text.
    pub parts: Vec<Part>,
    /// The last scan up to then after which the condition was as expected, by its start.
    pub last_right_ns: Option<i64>,
    /// The first scan after that which made it right, if the run came to that when it was let go on.
    pub came_right_ns: Option<i64>,
    /// The last step before that acted on the panel or the program.
    pub action: Option<Action>,
    /// The rows concerned, from the start of the run to some time after the failure.
    pub recording: Recording,
    /// The pace of the run, with that of the recording; `None` of a run that was not watched.
    pub pace: Option<Pace>,
    /// The account of the run up to then, if one was wanted; its scans are those of the recording.
    pub account: Option<Account>,
    /// The hint of the step, else that of the procedure.
    pub hint: Option<String>,
}

/// Ways to fail. Times are in nanoseconds; counted from [`Failure::since_ns`] where nothing else is said.
#[derive(Clone, Debug)]
pub enum FailureKind {
    /// `expect C`: it was not.
    Now,
    /// `expect C within d`: it did not become so.
    Within {
        /// How long it had.
        allowed_ns: i64,
    },
    /// `expect C for d`: it was not, or did not stay so.
    For {
        /// How long it had to stay.
        wanted_ns: i64,
    },
    /// `expect C between a and b`: it was so before.
    TooEarly {
        /// Not before.
        from_ns: i64,
        /// At the latest.
        until_ns: i64,
    },
    /// `expect C between a and b`: it did not become so.
    TooLate {
        /// Not before.
        from_ns: i64,
        /// At the latest.
        until_ns: i64,
    },
    /// `expect C while … end_while`: it did not stay so.
    While,
    /// Too many or too few edges.
    Edges {
        /// What was counted.
        counted: u64,
        /// The starts of the scans with the first of them, from the start of the run.
        at_ns: Vec<i64>,
    },
    /// `always C`: it was not.
    Always,
    /// `never C`: it was.
    Never,
    /// `whenever A then B`: A came and B was missing.
    Response {
        /// The start of the scan with A, from the start of the run.
        triggered_ns: i64,
        /// How much later B had to be there; 0 for the same scan.
        allowed_ns: i64,
        /// B was there and did not stay for so long.
        stay_ns: Option<i64>,
    },
    /// A recorded trace was not followed: the rows of the failure are those compared.
    Trace(Box<Departed>),
    /// There is no approved trace yet.
    NotApproved {
        /// Where it would be.
        path: String,
    },
    /// A recorded trace could not be compared with the run.
    NotCompared {
        /// Why.
        reason: String,
    },
    /// `at T#2s` when it was later already.
    AlreadyLater {
        /// The time it was, from the start of the procedure.
        now_ns: i64,
    },
    /// The program stopped.
    Fault(Box<Fault>),
    /// The plant stopped.
    PlantFault(Box<Fault>),
    /// A condition or value could not be computed: what stopped it.
    ConditionFault(Box<Fault>),
    /// A value does not fit where it is set.
    ValueRefused {
        /// Why.
        reason: String,
    },
    /// The run became longer than is allowed.
    TooLong {
        /// What is allowed, in scans or steps.
        limit: u64,
        /// "scans" or "steps".
        what: &'static str,
    },
}

/// A trace and how a run departs from it.
#[derive(Clone, Debug)]
pub struct Departed {
    /// The trace.
    pub expected: Expected,
    /// What was found.
    pub comparison: Comparison,
}

/// A part of a condition and its value.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its place in the procedure.
    pub span: Span,
    /// As written, on one line.
    pub text: String,
    /// Its value.
    pub value: Value,
    /// How many other parts it is inside of.
    pub depth: u32,
}

/// Something that was done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Action {
    /// The step.
    pub span: Span,
    /// When it took effect: the start of the first scan that saw it, in nanoseconds from the start of the run.
    pub time_ns: i64,
    /// What it did, for people: "the contact opened, %IX0.1 reads FALSE".
    pub effect: String,
}

impl Outcome {
    /// Whether every expectation was met.
    pub fn passed(&self) -> bool {
        matches!(self.verdict, Verdict::Passed)
    }
}

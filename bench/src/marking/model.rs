//! What marking one submission gives: the record that gradebooks, pages and statistics are made of.
//!
//! It is what a run of marking keeps on disk, so it holds no texts of the exercise and nothing that another run of the
//! same submission would give otherwise.

use latchwork_compiler::render::visible;
use serde::{Deserialize, Serialize};

use super::points::Points;

/// Whose work it is.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Student {
    /// Unique in a class; any text that a file name or a list may hold.
    pub id: String,
    /// The name, where a list gives one.
    pub name: Option<String>,
}

/// What is asked, in the order in which it is told: what pages and tables need of an exercise besides its task.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MarkingScheme {
    /// Title of the exercise.
    pub title: String,
    /// Compiling, if it is worth something, then every procedure.
    pub items: Vec<Item>,
    /// What all of them are worth together.
    pub out_of: Points,
}

/// Something that points are given for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Item {
    /// Title of the procedure; "compiles".
    pub title: String,
    /// The file of the procedure as the exercise names it; empty for compiling.
    pub file: String,
    /// What it is worth.
    pub points: Points,
    /// Whether students may see it.
    pub shown: bool,
    /// Compiling or a procedure.
    pub kind: ItemKind,
    /// The hint of the procedure.
    pub hint: Option<String>,
}

/// What points are given for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ItemKind {
    /// That the program compiles and does something.
    Compiles,
    /// A procedure.
    Procedure,
}

/// What became of a submission.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Marked {
    /// Whose it is.
    pub student: Student,
    /// The files handed in.
    pub files: Vec<MarkedFile>,
    /// How far it came.
    pub state: State,
    /// What was found besides the verdicts.
    pub findings: Vec<Finding>,
    /// What became of each item of the scheme.
    pub items: Vec<ItemResult>,
    /// Taken off for constraints that were not kept.
    pub deducted: Points,
    /// What it earned.
    pub total: Points,
    /// Scans that were run.
    pub scans: u64,
}

/// A file that was handed in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MarkedFile {
    /// Its name.
    pub name: String,
    /// Its size.
    pub bytes: u64,
    /// Lines that are neither empty nor comment alone; 0 if it was not read.
    pub lines: u64,
    /// How its text is coded; `None` if it was not read as a program.
    pub encoding: Option<String>,
}

/// How far a submission came.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum State {
    /// Its procedures were run.
    Ran,
    /// It has errors.
    NotCompiled,
    /// There is no program in what was handed in.
    Empty,
    /// There is nothing of this student.
    NothingHandedIn,
    /// It is larger than the exercise allows.
    OverBudget,
    /// It could not be read.
    Unreadable,
    /// A defect of this program showed with it: the mark says nothing about the work.
    InternalFault,
}

impl State {
    /// All of them.
    pub const ALL: [State; 7] = [
        State::Ran,
        State::NotCompiled,
        State::Empty,
        State::NothingHandedIn,
        State::OverBudget,
        State::Unreadable,
        State::InternalFault,
    ];

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            State::Ran => "ran",
            State::NotCompiled => "does not compile",
            State::Empty => "no program in it",
            State::NothingHandedIn => "nothing handed in",
            State::OverBudget => "too large",
            State::Unreadable => "could not be read",
            State::InternalFault => "internal fault of latchwork",
        }
    }
}

/// Something found besides the verdicts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// Where it comes from.
    pub kind: FindingKind,
    /// Stable name, such as `type-mismatch`.
    pub name: String,
    /// How grave it is.
    pub severity: Gravity,
    /// One line.
    pub message: String,
    /// The file of the submission.
    pub file: Option<String>,
    /// The line, from 1.
    pub line: Option<u32>,
    /// The column, from 1.
    pub column: Option<u32>,
    /// At length, as plain text in the form of the terminal, without colour.
    pub shown: String,
}

impl Finding {
    /// One that has no place in a text of the submission.
    pub fn without_place(kind: FindingKind, name: &str, severity: Gravity, message: String) -> Self {
        Finding {
            kind,
            name: name.to_owned(),
            severity,
            file: None,
            line: None,
            column: None,
            shown: format!("{}[{name}]: {}\n", severity.word(), visible(&message)),
            message,
        }
    }
}

/// Where a finding comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum FindingKind {
    /// Reading what was handed in.
    Intake,
    /// Compiling.
    Compile,
    /// What the exercise requires to be there.
    Interface,
    /// What the exercise forbids or demands.
    Constraint,
    /// What the exercise allows in size.
    Budget,
    /// A defect of this program.
    Internal,
}

/// How grave a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Gravity {
    /// It costs points, or nothing could be run.
    Error,
    /// It may be meant otherwise.
    Warning,
    /// Good to know.
    Note,
}

impl Gravity {
    /// In a word.
    pub const fn word(self) -> &'static str {
        match self {
            Gravity::Error => "error",
            Gravity::Warning => "warning",
            Gravity::Note => "note",
        }
    }
}

/// What became of an item.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ItemResult {
    /// Passed or not.
    pub verdict: ItemVerdict,
    /// What it earned.
    pub points: Points,
    /// Expectations met, of all; where that was counted.
    pub met: Option<(u32, u32)>,
    /// Why it was not passed.
    pub failure: Option<Divergence>,
}

impl ItemResult {
    /// Not run, nothing earned.
    pub const NOT_RUN: ItemResult =
        ItemResult { verdict: ItemVerdict::NotRun, points: Points::ZERO, met: None, failure: None };
}

/// Passed or not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ItemVerdict {
    /// Every expectation was met.
    Passed,
    /// Not every one, and there are points for those that were.
    Partly,
    /// Nothing is earned.
    Failed,
    /// It cannot be run on this program.
    Refused,
    /// The program could not be run at all.
    NotRun,
}

impl ItemVerdict {
    /// In a word.
    pub const fn words(self) -> &'static str {
        match self {
            ItemVerdict::Passed => "passed",
            ItemVerdict::Partly => "passed in part",
            ItemVerdict::Failed => "failed",
            ItemVerdict::Refused => "could not be run",
            ItemVerdict::NotRun => "not run",
        }
    }
}

/// Where a run first was not as expected.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Divergence {
    /// The way to fail: [`crate::procedure::report::FAILURES`], or the name of what refused it.
    pub name: String,
    /// One line.
    pub message: String,
    /// The line of the step, from 1.
    pub line: Option<u32>,
    /// When, in nanoseconds from the start of the run.
    pub time_ns: i64,
    /// In which scan, from 0.
    pub scan: Option<u64>,
}

//! The report of a run or of a test session: one HTML page with verdicts, diagrams that can be measured, the source with
//! its coverage, and the facts.
//!
//! A report is a pure function of recordings, verdicts and sources. Without its script the page is complete: pictures,
//! tables, texts. The script (`page/*.js`) makes of every diagram one with cursors, from the recording that stands beside
//! it as data ([`embedded`]). The page asks for nothing and says nothing that is not escaped: see [`crate::render::page`].

mod embedded;
mod explain;
mod html;
mod rows;
mod stream;

pub use self::{
    explain::Evidence,
    html::{Picture, run, session},
};

use latchwork_grammar::Sources;

use crate::{coverage::Report, replay::Replayed};

/// Something that is said under the facts: a term and what is said of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fact {
    /// The term.
    pub term: &'static str,
    /// In words.
    pub text: String,
}

/// What a report of a run is made of.
#[derive(Clone, Copy, Debug)]
pub struct RunParts<'a> {
    /// The run.
    pub replayed: &'a Replayed,
    /// The texts of program, station and stimulus.
    pub sources: &'a Sources,
    /// What of the program was run; `None` if it came without its source.
    pub coverage: Option<&'a Report>,
    /// What else is to be said: files, version.
    pub facts: &'a [Fact],
    /// What every statement did, if there is an account of the run.
    pub evidence: Option<Evidence<'a>>,
}

/// What a report of a session is made of.
#[derive(Clone, Copy, Debug)]
pub struct SessionParts<'a> {
    /// The files of procedures in order.
    pub files: &'a [FileVerdicts],
    /// One sentence: how many passed, failed…
    pub summary: &'a str,
    /// Whether the session came to its end.
    pub complete: bool,
    /// What of the programs was run by all procedures together.
    pub coverage: Option<&'a Report>,
    /// What else is to be said.
    pub facts: &'a [Fact],
}

/// A file of procedures.
#[derive(Clone, Debug)]
pub struct FileVerdicts {
    /// Its name.
    pub name: String,
    /// What became of its procedures.
    pub procedures: Vec<ProcedureVerdict>,
}

/// What became of a procedure.
#[derive(Clone, Debug)]
pub struct ProcedureVerdict {
    /// Its title, with the program where there are several.
    pub title: String,
    /// How it ended.
    pub verdict: VerdictWord,
    /// What else stands in its line: points, simulated time, events.
    pub remarks: String,
    /// Why it did not pass, in one line.
    pub message: String,
    /// The same as the terminal tells it; empty if it passed.
    pub text: String,
    /// The rows concerned.
    pub picture: Option<Picture>,
}

/// How a run or a procedure ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VerdictWord {
    /// As expected.
    Passed,
    /// Not as expected.
    Failed,
    /// It could not be run as it stands.
    Refused,
    /// The session ended before.
    NotRun,
    /// A run came to its end; whether it was right nobody asked.
    Ended,
    /// A fault stopped a run.
    Stopped,
}

impl VerdictWord {
    /// The word.
    pub const fn word(self) -> &'static str {
        match self {
            VerdictWord::Passed => "passed",
            VerdictWord::Failed => "failed",
            VerdictWord::Refused => "refused",
            VerdictWord::NotRun => "not run",
            VerdictWord::Ended => "ran to its end",
            VerdictWord::Stopped => "stopped by a fault",
        }
    }

    /// A sign of its own shape, and the class of its colour.
    const fn sign(self) -> (&'static str, &'static str) {
        match self {
            VerdictWord::Passed | VerdictWord::Ended => ("✓", "well"),
            VerdictWord::Failed | VerdictWord::Stopped => ("✗", "wrong"),
            VerdictWord::Refused => ("!", "doubtful"),
            VerdictWord::NotRun => ("–", "open"),
        }
    }
}

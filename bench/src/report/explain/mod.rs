//! Why rows have their values where the cursor is: the reasons in words, and the statement that wrote the value as a rung,
//! with its continuity.
//!
//! Made from the account of the run, for every row of the program. A fragment holds for an interval of scans.

mod fragments;
mod reasons;
mod rungs;

use latchwork_grammar::Sources;
use latchwork_vm::Program;

pub(crate) use self::fragments::Fragments;
use crate::{account::Account, recording::Recording, station::Station};

/// What is known of a run besides its recording.
#[derive(Clone, Copy, Debug)]
pub struct Evidence<'a> {
    /// What every statement did.
    pub account: &'a Account,
    /// The program that ran.
    pub program: &'a Program,
    /// The station that it ran on.
    pub station: Option<&'a Station>,
    /// The texts of the program.
    pub sources: &'a Sources,
}

/// All that is told of the rows of a recording.
pub(crate) fn explained(evidence: Evidence<'_>, recording: &Recording) -> Vec<Fragments> {
    vec![reasons::reasons(evidence, recording), rungs::rungs(evidence, recording)]
}

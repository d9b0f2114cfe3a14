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

/// Most bytes of each kind of fragments for a whole run.
pub(crate) const RUN_BYTES_MAX: usize = 600_000;

/// The same for a failure, of which a page may have many.
pub(crate) const FAILURE_BYTES_MAX: usize = 100_000;

/// All that is told of the rows of a recording, in so many bytes of each kind.
pub(crate) fn explained(evidence: Evidence<'_>, recording: &Recording, bytes_max: usize) -> Vec<Fragments> {
    vec![reasons::reasons(evidence, recording, bytes_max), rungs::rungs(evidence, recording, bytes_max)]
}

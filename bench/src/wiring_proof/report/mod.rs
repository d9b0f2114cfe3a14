//! The wiring proof for people: tables of what each fault does, and the answers in plain sentences.

pub(crate) mod grid;
mod markdown;
mod sentences;
mod sheet;
mod text;
pub mod words;

use latchwork_grammar::Sources;

use super::{Answers, FaultRun, SoundRun};
use crate::station::Station;

pub use self::{markdown::markdown, sentences::Question, sentences::questions, text::text};

/// What stands below every proof.
pub const CAUTIONS: [&str; 3] = [
    "Lock out and tag out before you touch wiring (OSHA 29 CFR 1910.147).",
    "An emergency stop is hard-wired and does not rely on a program (ISO 13850, IEC 60204-1).",
    "A simulation of single faults is no proof that a machine is safe.",
];

/// The proof of one file of procedures.
#[derive(Debug)]
pub struct FileProof<'p> {
    /// The name of the file.
    pub file: &'p str,
    /// The texts of the procedures.
    pub sources: &'p Sources,
    /// The station.
    pub station: &'p Station,
    /// The titles of the procedures.
    pub titles: Vec<&'p str>,
    /// One for each program.
    pub variants: Vec<VariantProof<'p>>,
}

/// The proof on one program.
#[derive(Debug)]
pub struct VariantProof<'p> {
    /// The name of the program.
    pub program: &'p str,
    /// For each procedure its sound run and the runs with faults.
    pub procedures: Vec<(SoundRun, Vec<FaultRun>)>,
    /// What they tell together.
    pub answers: Answers,
}

/// How much is told.
#[derive(Clone, Copy, Debug)]
pub struct ProofOptions {
    /// Columns.
    pub width: usize,
    /// The tables as well as the answers.
    pub tables: bool,
}

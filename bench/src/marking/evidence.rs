//! What is known of a marking besides its record, while it is at hand: what feedback is made of.

use std::sync::Arc;

use latchwork_grammar::{Diagnostic, Sources};

use super::model::MarkingScheme;
use crate::{procedure::Failure, recording::Recording, station::Station};

/// What is known of one marking.
#[derive(Clone, Debug, Default)]
pub struct Evidence {
    /// For each item of the scheme.
    pub items: Vec<ItemEvidence>,
    /// The texts handed in.
    pub sources: Sources,
    /// What compiling them told.
    pub diagnostics: Vec<Diagnostic>,
}

/// What is known of one item; nothing of one that is kept back or passed.
#[derive(Clone, Debug, Default)]
pub struct ItemEvidence {
    /// What was not as expected first, with the rows concerned.
    pub failure: Option<Box<Failure>>,
    /// Devices and loads in a run of the reference in which the panel was worked in the same scans, and which is as long.
    pub expected: Option<Arc<Recording>>,
    /// Why it could not be run; places are those of the texts of its procedure.
    pub problems: Vec<Diagnostic>,
}

/// What pages for students need of an exercise.
#[derive(Clone, Copy, Debug)]
pub struct ExerciseTexts<'e> {
    /// What is asked.
    pub scheme: &'e MarkingScheme,
    /// The task, in Markdown.
    pub task: &'e str,
    /// The panel.
    pub station: Option<&'e Station>,
    /// For each item the texts of its file of procedures; empty for compiling.
    pub procedures: &'e [&'e Sources],
    /// The texts of the station and its plant.
    pub plant: &'e Sources,
}

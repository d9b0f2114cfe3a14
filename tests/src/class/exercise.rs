//! The sample exercise read from its folder, ready to mark by.

use std::sync::Arc;

use latchwork_bench::{
    exercise::{Budget, Exercise},
    marking::{ExerciseParts, Marked, MarkedFile, Marker, Student, Submitted},
    procedure::{ProcedureTexts, Traces},
    station::Station,
};
use latchwork_compiler::CompileOptions;
use latchwork_grammar::{Names, Sources, parse_steps, steps::tree::StepsFile};
use latchwork_vm::Program;

use super::expected::EXERCISE;
use crate::workbench::{program, sample, station_of, text};

/// The exercise with all files that it names.
pub struct SampleExercise {
    exercise: Exercise,
    station: Station,
    plant: Sources,
    procedures: Vec<(Vec<StepsFile>, Sources, Names)>,
    reference: Arc<Program>,
}

impl SampleExercise {
    /// Reads it.
    ///
    /// # Errors
    /// Whatever is wrong with its files, as text.
    pub fn read() -> Result<Self, String> {
        let mut sources = Sources::new();
        let toml = sample(&format!("{EXERCISE}/exercise.toml"))?;
        let (exercise, problems) = Exercise::read(sources.add("exercise.toml", toml.as_str()), &toml);
        let exercise = exercise.filter(|_| problems.is_empty()).ok_or_else(|| text(&problems, &sources))?;
        let mut procedures = Vec::new();
        for file in &exercise.procedures {
            let (mut sources, mut names) = (Sources::new(), Names::new());
            let steps = sample(&format!("{EXERCISE}/{}", file.file.value))?;
            let id = sources.add(file.file.value.as_str(), steps.as_str());
            let parsed = parse_steps(id, &steps, &mut names);
            if !parsed.diagnostics.is_empty() {
                return Err(text(&parsed.diagnostics, &sources));
            }
            procedures.push((vec![parsed.tree], sources, names));
        }
        let reference = program(&sample(&format!("{EXERCISE}/reference.st"))?)?;
        let station = station_of(EXERCISE)?;
        Ok(SampleExercise { exercise, station, plant: Sources::new(), procedures, reference })
    }

    /// The same exercise with another allowance.
    #[must_use]
    pub fn with_budget(mut self, budget: Budget) -> Self {
        self.exercise.budget = budget;
        self
    }

    /// What its file says.
    pub fn description(&self) -> &Exercise {
        &self.exercise
    }

    /// What marks by it.
    ///
    /// # Errors
    /// What is wrong with its procedures, as text.
    pub fn marker(&self) -> Result<Marker<'_>, String> {
        let texts = self.procedures.iter().map(|(files, sources, names)| ProcedureTexts {
            files,
            sources,
            names,
            traces: Traces::default(),
        });
        let parts = ExerciseParts {
            exercise: &self.exercise,
            station: Some(&self.station),
            plant: &self.plant,
            procedures: texts.collect(),
            reference: Some(Arc::clone(&self.reference)),
            options: CompileOptions::default(),
        };
        Marker::new(parts).map_err(|(file, problems)| match self.procedures.get(file) {
            Some((_, sources, _)) => text(&problems, sources),
            None => format!("{problems:?}"),
        })
    }
}

/// Marks texts by their names.
pub fn mark(marker: &Marker<'_>, id: &str, texts: Vec<(String, String)>) -> Marked {
    let files = texts.into_iter().map(|(name, text)| {
        let bytes = text.len() as u64;
        (MarkedFile { name, bytes, lines: 0, encoding: Some("UTF-8".to_owned()) }, Some(text))
    });
    let student = Student { id: id.to_owned(), name: None };
    let submitted = Submitted { student, files: files.collect(), findings: Vec::new(), state: None };
    marker.mark(submitted).0
}

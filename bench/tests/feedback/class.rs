//! A small exercise, and what its students hand in.

use std::sync::Arc;

use latchwork_bench::{
    exercise::Exercise,
    marking::{ExerciseParts, ExerciseTexts, MarkedFile, Marker, ProcedureTexts, Student, Submitted},
    procedure::Traces,
    station::Station,
};
use latchwork_compiler::{CompileOptions, compile};
use latchwork_grammar::{Names, Sources, parse_steps, steps::tree::StepsFile};
use latchwork_vm::Program;

pub const REFERENCE: &str = include_str!("reference.st");
pub const THREE_MISTAKES: &str = include_str!("students/three-mistakes.st");
pub const ONE_MISTAKE: &str = include_str!("students/one-mistake.st");
pub const DOES_NOT_COMPILE: &str = include_str!("students/does-not-compile.st");
pub const OTHER_NAMES: &str = include_str!("students/other-names.st");
pub const STOPS: &str = include_str!("students/stops.st");
pub const LATE_AND_LATCHED: &str = include_str!("students/late-and-latched.st");
pub const TASK: &str = include_str!("task.md");
pub const KEPT_BACK: &str = include_str!("kept-back.steps");

/// Files of procedures, in the order of the exercise.
const PROCEDURES: [(&str, &str); 3] = [
    ("shown.steps", include_str!("shown.steps")),
    ("vent.steps", include_str!("vent.steps")),
    ("kept-back.steps", KEPT_BACK),
];

/// The exercise, ready to mark by.
pub struct Class<'c> {
    pub marker: &'c Marker<'c>,
    pub station: &'c Station,
    pub plant: &'c Sources,
    pub procedures: &'c [&'c Sources],
}

/// A file of procedures that was read.
struct Read {
    files: [StepsFile; 1],
    sources: Sources,
    names: Names,
}

impl Class<'_> {
    /// Does something with the exercise.
    pub fn with<T>(then: impl FnOnce(&Class<'_>) -> T) -> T {
        let mut sources = Sources::new();
        let file = sources.add("exercise.toml", include_str!("exercise.toml"));
        let (exercise, problems) = Exercise::read(file, &sources.file(file).text);
        assert!(problems.is_empty(), "{problems:#?}");
        let exercise = exercise.unwrap();
        let file = sources.add("station.toml", include_str!("station.toml"));
        let (station, problems) = Station::parse(file, &sources.file(file).text);
        assert!(problems.is_empty(), "{problems:#?}");
        let station = station.unwrap();
        let mut programs = Sources::new();
        programs.add("reference.st", REFERENCE);
        let image = compile(&programs).image.unwrap();
        let reference = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
        let read: Vec<Read> = PROCEDURES.into_iter().map(|(name, text)| read(name, text)).collect();
        let procedures = read.iter().map(|read| ProcedureTexts {
            files: &read.files,
            sources: &read.sources,
            names: &read.names,
            traces: Traces::default(),
        });
        let marker = Marker::new(ExerciseParts {
            exercise: &exercise,
            station: Some(&station),
            plant: &sources,
            procedures: procedures.collect(),
            reference: Some(reference),
            options: CompileOptions::default(),
        });
        let Ok(marker) = marker else { panic!("the reference does not fit its procedures") };
        let procedures = marker.procedure_sources();
        then(&Class { marker: &marker, station: &station, plant: &sources, procedures: &procedures })
    }

    /// What pages need of it.
    pub fn texts(&self) -> ExerciseTexts<'_> {
        ExerciseTexts {
            scheme: self.marker.scheme(),
            task: TASK,
            station: Some(self.station),
            procedures: self.procedures,
            plant: self.plant,
        }
    }
}

fn read(name: &str, text: &str) -> Read {
    let mut sources = Sources::new();
    let mut names = Names::new();
    let file = sources.add(name, text);
    let parsed = parse_steps(file, text, &mut names);
    assert!(parsed.diagnostics.is_empty(), "{:#?}", parsed.diagnostics);
    Read { files: [parsed.tree], sources, names }
}

/// One file of one student.
pub fn handed_in(id: &str, name: &str, text: &str) -> Submitted {
    let file = MarkedFile {
        name: name.to_owned(),
        bytes: text.len() as u64,
        lines: 0,
        encoding: Some("UTF-8".to_owned()),
    };
    Submitted {
        student: Student { id: id.to_owned(), name: None },
        files: vec![(file, Some(text.to_owned()))],
        findings: Vec::new(),
        state: None,
    }
}

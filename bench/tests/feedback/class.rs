//! A small exercise, and what its students hand in.

use std::{fs, path::Path, sync::Arc};

use latchwork_bench::{
    exercise::Exercise,
    marking::{ExerciseParts, ExerciseTexts, MarkedFile, Marker, Student, Submitted},
    procedure::{ProcedureTexts, Traces},
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

/// The exercise, ready to mark by.
pub struct Class<'c> {
    pub marker: &'c Marker<'c>,
    pub station: &'c Station,
    pub plant: &'c Sources,
    pub procedures: &'c [&'c Sources],
    pub task: &'c str,
}

/// A file of procedures that was read.
struct Read {
    files: [StepsFile; 1],
    sources: Sources,
    names: Names,
}

impl Class<'_> {
    /// Does something with the small exercise.
    pub fn with<T>(then: impl FnOnce(&Class<'_>) -> T) -> T {
        Class::of(Path::new("tests/feedback"), then)
    }

    /// Does something with the exercise in a folder.
    pub fn of<T>(folder: &Path, then: impl FnOnce(&Class<'_>) -> T) -> T {
        let text = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
        let mut sources = Sources::new();
        let file = sources.add("exercise.toml", text("exercise.toml"));
        let (exercise, problems) = Exercise::read(file, &sources.file(file).text);
        assert!(problems.is_empty(), "{problems:#?}");
        let exercise = exercise.unwrap();
        let name = &exercise.station.as_ref().unwrap().value;
        let file = sources.add(folder.join(name).to_string_lossy(), text(name));
        let (station, problems) = Station::parse(file, &sources.file(file).text);
        assert!(problems.is_empty(), "{problems:#?}");
        let station = station.unwrap();
        let mut programs = Sources::new();
        for name in &exercise.reference {
            programs.add(&name.value, text(&name.value));
        }
        let image = compile(&programs).image.unwrap();
        let reference = Program::load(image, latchwork_stdlib::natives()).unwrap();
        let files = exercise.procedures.iter().map(|described| &described.file.value);
        // Whoever reads files names them as their paths.
        let path = |name: &str| folder.join(name).to_string_lossy().into_owned();
        let read: Vec<Read> = files.map(|name| read(&path(name), &text(name))).collect();
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
            reference: Some(Arc::new(reference)),
            options: CompileOptions::default(),
        });
        let Ok(marker) = marker else { panic!("the reference does not fit its procedures") };
        let procedures = marker.procedure_sources();
        let task = text(&exercise.task.value);
        then(&Class {
            marker: &marker,
            station: &station,
            plant: &sources,
            procedures: &procedures,
            task: &task,
        })
    }

    /// What pages need of it.
    pub fn texts(&self) -> ExerciseTexts<'_> {
        ExerciseTexts {
            scheme: self.marker.scheme(),
            task: self.task,
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
    files_handed_in(id, vec![(name.to_owned(), text.to_owned())])
}

/// The files of one student.
pub fn files_handed_in(id: &str, files: Vec<(String, String)>) -> Submitted {
    let file = |(name, text): (String, String)| {
        let bytes = text.len() as u64;
        (MarkedFile { name, bytes, lines: 0, encoding: Some("UTF-8".to_owned()) }, Some(text))
    };
    Submitted {
        student: Student { id: id.to_owned(), name: None },
        files: files.into_iter().map(file).collect(),
        findings: Vec::new(),
        state: None,
    }
}

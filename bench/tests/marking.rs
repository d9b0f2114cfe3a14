//! Marking: each file of `tests/marking/submissions` with what it earns of one exercise, and why.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests may stop them")]

use std::{fmt::Write as _, fs, path::Path, sync::Arc};

use insta::{assert_snapshot, glob};
use latchwork_bench::{
    exercise::Exercise,
    marking::{Evidence, ExerciseParts, Marked, MarkedFile, Marker, Points, State, Student, Submitted},
    procedure::{ProcedureTexts, Traces},
    station::Station,
};
use latchwork_compiler::{CompileOptions, compile};
use latchwork_grammar::{FileId, Names, Sources, parse_steps, steps::tree::StepsFile};
use latchwork_vm::Program;

/// An exercise with its texts.
struct Given {
    exercise: Exercise,
    station: Station,
    plant: Sources,
    files: Vec<(Vec<StepsFile>, Sources, Names)>,
    reference: Arc<Program>,
}

fn given() -> Given {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/marking/exercise");
    let read = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
    let exercise = Exercise::read(FileId(0), &read("exercise.toml")).0.unwrap();
    let mut plant = Sources::new();
    let file = plant.add("station.toml", read("station.toml"));
    let station = Station::parse(file, &plant.file(file).text).0.unwrap();
    let files = exercise.procedures.iter().map(|described| {
        let mut sources = Sources::new();
        let text = read(&described.file.value);
        let file = sources.add(described.file.value.clone(), text.as_str());
        let mut names = Names::new();
        let parsed = parse_steps(file, &text, &mut names);
        assert!(parsed.diagnostics.is_empty());
        (vec![parsed.tree], sources, names)
    });
    let files = files.collect();
    let reference = program(&read("reference.st"));
    Given { exercise, station, plant, files, reference }
}

fn program(text: &str) -> Arc<Program> {
    let mut sources = Sources::new();
    sources.add("program.st", text);
    let image = compile(&sources).image.unwrap();
    Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap())
}

impl Given {
    fn marker(&self) -> Marker<'_> {
        let procedures = self.files.iter().map(|(files, sources, names)| ProcedureTexts {
            files,
            sources,
            names,
            traces: Traces::default(),
        });
        let parts = ExerciseParts {
            exercise: &self.exercise,
            station: Some(&self.station),
            plant: &self.plant,
            procedures: procedures.collect(),
            reference: Some(Arc::clone(&self.reference)),
            options: CompileOptions::default(),
        };
        Marker::new(parts).unwrap_or_else(|problems| panic!("{problems:?}"))
    }
}

fn mark(marker: &Marker<'_>, name: &str, text: &str) -> (Marked, Evidence) {
    let file = MarkedFile { name: name.to_owned(), bytes: text.len() as u64, lines: 0, encoding: None };
    let student = Student { id: "s1".to_owned(), name: None };
    let files = vec![(file, Some(text.to_owned()))];
    marker.mark(Submitted { student, files, findings: Vec::new(), state: None })
}

#[test]
fn corpus() {
    let given = given();
    let marker = given.marker();
    glob!("marking/submissions/*.*", |path| {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let text = fs::read_to_string(path).unwrap();
        let (marked, evidence) = mark(&marker, &name, &text);
        assert_snapshot!(outline(&marker, &marked, &evidence));
    });
}

fn outline(marker: &Marker<'_>, marked: &Marked, evidence: &Evidence) -> String {
    let scheme = marker.scheme();
    let mut out = format!("{:?}: {} of {}", marked.state, marked.total, scheme.out_of);
    writeln!(out, ", {} off, {} lines", marked.deducted, marked.files[0].lines).unwrap();
    for ((item, result), evidence) in scheme.items.iter().zip(&marked.items).zip(&evidence.items) {
        write!(out, "{}: {:?} {} of {}", item.title, result.verdict, result.points, item.points).unwrap();
        if let Some((met, all)) = result.met {
            write!(out, ", {met} of {all} met").unwrap();
        }
        out.push('\n');
        if let Some(failure) = &result.failure {
            writeln!(out, "  {}: {} (line {:?})", failure.name, failure.message, failure.line).unwrap();
        }
        let pictured = evidence.failure.is_some() && evidence.expected.is_some();
        assert!(item.shown || (evidence.failure.is_none() && evidence.problems.is_empty()));
        if pictured {
            out.push_str("  with the run of the reference beside it\n");
        }
    }
    for finding in &marked.findings {
        let place = finding.line.map_or_else(String::new, |line| format!(" line {line}"));
        writeln!(
            out,
            "{:?} {:?} {}{place}: {}",
            finding.kind, finding.severity, finding.name, finding.message
        )
        .unwrap();
    }
    out
}

#[test]
fn doing_nothing_earns_nothing_and_the_reference_everything() {
    let given = given();
    let marker = given.marker();
    let idle = mark(&marker, "nothing.st", &marker.nothing_text()).0;
    assert_eq!((idle.state, idle.total), (State::Ran, Points::ZERO));
    assert!(idle.items.iter().all(|item| item.points == Points::ZERO), "{idle:?}");
    let right = include_str!("marking/exercise/reference.st");
    assert_eq!(mark(&marker, "right.st", right).0.total, marker.scheme().out_of);
}

#[test]
fn a_mark_depends_on_nothing_but_exercise_and_submission() {
    let given = given();
    let (one, other) = (given.marker(), given.marker());
    let text = include_str!("marking/submissions/no_lamp.st");
    assert_eq!(mark(&one, "a.st", text).0, mark(&other, "a.st", text).0);
    let many = mark(&one, "a.st", include_str!("marking/submissions/endless.st")).0;
    assert_eq!(many, mark(&one, "a.st", include_str!("marking/submissions/endless.st")).0);
}

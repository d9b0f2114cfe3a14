//! The explanations of problems in stations and stimuli: their examples are read against one program and one
//! station, which the wrong ones do not fit and the right ones do.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{fmt::Write as _, sync::Arc};

use latchwork_bench::{
    replay::{ReplayOptions, replay},
    station::Station,
    stimulus::Stimulus,
};
use latchwork_compiler::{
    Compilation,
    explain::{Example, Verdict, explain, explanations},
};
use latchwork_grammar::{Diagnostic, FileId, Sources};
use latchwork_vm::Program;

const PROGRAM: &str = "\
VAR_GLOBAL CONSTANT
    Limit : INT := 80;
END_VAR

PROGRAM Main
VAR
    Start AT %IX0.0 : BOOL;
    Stop AT %IX0.1 : BOOL;
    Level AT %IW2 : INT;
    Pump AT %QX0.0 : BOOL;
END_VAR
VAR_EXTERNAL CONSTANT
    Limit : INT;
END_VAR
    Pump := (Start OR Pump) AND Stop AND Level < Limit;
END_PROGRAM
";

const STATION: &str = include_str!("files/station.toml");

struct Compiled {
    program: Arc<Program>,
    compilation: Compilation,
}

fn program() -> Compiled {
    let mut sources = Sources::new();
    sources.add("pump.st", PROGRAM);
    let mut compilation = latchwork_compiler::compile(&sources);
    assert!(compilation.diagnostics.is_empty(), "{:#?}", compilation.diagnostics);
    let image = compilation.image.take().unwrap();
    Compiled { program: Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap()), compilation }
}

fn found(example: &Example, compiled: &Compiled) -> Vec<Diagnostic> {
    let Compiled { program, compilation } = compiled;
    let file = FileId(0);
    if example.language == "toml" {
        let (station, mut found) = Station::parse(file, example.code);
        if let Some(station) = &station {
            found.extend(station.check(program));
            found.extend(station.check_stops(program, &compilation.stops, &compilation.allowances));
        }
        found
    } else {
        let station = Station::parse(file, STATION).0.unwrap();
        let (stimulus, mut found) = Stimulus::parse(file, example.code, program, Some(&station));
        if let Some(stimulus) = stimulus {
            let options = ReplayOptions::default();
            found.extend(
                replay(program.clone(), Some(&station), Some(&stimulus), &options).unwrap().warnings(),
            );
        }
        found
    }
}

#[test]
fn examples_of_stations_and_stimuli_say_what_they_claim() {
    let program = program();
    let mut wrong = String::new();
    for page in explanations() {
        for example in page.examples().iter().filter(|example| matches!(example.language, "toml" | "csv")) {
            let found = found(example, &program);
            let fits = match example.verdict {
                Verdict::Wrong => !found.is_empty() && found.iter().all(|found| found.name == page.name),
                Verdict::Right => found.is_empty(),
            };
            if !fits {
                let found: Vec<_> = found.iter().map(|found| (found.name, &found.message)).collect();
                writeln!(wrong, "{}, {:?} example: {found:?}\n{}", page.name, example.verdict, example.code)
                    .unwrap();
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn each_problem_of_stations_and_stimuli_is_explained() {
    let missing: Vec<&str> = latchwork_bench::catalogue::CATALOGUE
        .iter()
        .map(|(name, _)| *name)
        .filter(|name| explain(name).is_none())
        .collect();
    assert!(missing.is_empty(), "no explanation of: {missing:#?}");
}

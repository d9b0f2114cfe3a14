//! The rainwater plant: two thousand lines that use every construct of the languages compile without a warning, check
//! themselves, and do under a stimulus what the tasks of the plant ask for.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

use std::{fs, sync::Arc};

use latchwork_bench::{recording::Recording, replay::ReplayOptions};
use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use latchwork_tests::workbench::{changes, program_of, run_program, samples, text};
use latchwork_vm::Program;

fn sources() -> Sources {
    let folder = samples().join("rainwater-plant");
    let mut files: Vec<_> = fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "st" || extension == "il"))
        .collect();
    files.sort();
    let mut sources = Sources::new();
    for file in files {
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        sources.add(name.as_str(), fs::read_to_string(&file).unwrap().as_str());
    }
    sources
}

fn program() -> Arc<Program> {
    program_of(&sources()).unwrap_or_else(|problems| panic!("{problems}"))
}

#[test]
fn two_thousand_lines_compile_without_a_warning() {
    let sources = sources();
    let lines: usize = sources.iter().map(|(_, file)| file.text.lines().count()).sum();
    assert!(lines >= 2000, "{lines} lines");
    let compiled = compile(&sources);
    assert!(compiled.diagnostics.is_empty(), "{}", text(&compiled.diagnostics, &sources));
}

/// What is recorded: a few figures of each program and task.
const RECORDED: &str = "Examination.Finished Examination.Passed Examination.Failed FirstFailed Protect.Released Siren \
    Fill.Running Fill.Level PumpFast Washes Wash.Idle.X Wash.Washing.X Wash.Soaking.X Fill.Beats Fast.runs Slow.runs \
    Onset.ran Minute.runs Garden.OnTurn Garden.Sum Garden.Valves[1] House.State House.Changes VentPosition Line.Filled \
    Line.Jams Line.Longest Wall.Kept Wall.Prime Wall.Uptime";

fn recording() -> Recording {
    let stimulus = fs::read_to_string(samples().join("rainwater-plant/stimulus.csv")).unwrap();
    let record = Some(RECORDED.split_whitespace().map(str::to_owned).collect());
    let options = ReplayOptions { record, ..ReplayOptions::default() };
    let run =
        run_program(program(), None, Some(&stimulus), &options).unwrap_or_else(|problem| panic!("{problem}"));
    assert!(run.fault.is_none(), "{:?}", run.fault);
    run.recording
}

/// The last value of a variable before a time.
fn value(recording: &Recording, name: &str, before_ms: i64) -> String {
    let row = recording.rows.iter().find(|row| row.signal.name.ends_with(name)).unwrap();
    let at = |scan: u32| recording.scans[scan as usize].time_ns / 1_000_000;
    let change = row.signal.changes.iter().take_while(|change| at(change.scan) < before_ms).last();
    change.unwrap().value.to_string()
}

#[test]
fn the_library_passes_its_own_checks() {
    let recording = recording();
    assert_eq!(value(&recording, "Examination.Finished", 6000), "TRUE");
    assert_eq!(value(&recording, "Examination.FirstFailed", 6000), "0");
    assert_eq!(value(&recording, "Examination.Failed", 6000), "0");
    let passed: u32 = value(&recording, "Examination.Passed", 6000).parse().unwrap();
    assert!(passed >= 48, "{passed}");
}

/// The pump runs only while it is released, the trays are counted, and what must outlive a warm restart does.
#[test]
fn the_plant_does_what_its_tasks_ask_for() {
    let recording = recording();
    assert_eq!(value(&recording, "Fill.Running", 3500), "TRUE", "the level is low");
    assert_eq!(value(&recording, "Protect.Released", 3700), "FALSE", "the protection has tripped");
    assert_eq!(value(&recording, "Fill.Running", 3700), "FALSE", "not released");
    assert_eq!(value(&recording, "Line.Filled", 6000), "1");
    assert_eq!(value(&recording, "Line.Jams", 6000), "1", "a tray that never arrived");
    assert_eq!(value(&recording, "House.State", 3000), "Stormy", "the wind blows at 18 m/s");
    let washes = value(&recording, "Washes", 6000);
    assert_ne!(washes, "0");
    assert_eq!(value(&recording, "Washes", 7000), washes, "kept in a warm restart");
    assert_eq!(value(&recording, "Line.Filled", 7000), "0", "not kept in a warm restart");
    assert_eq!(value(&recording, "Washes", 7050), "0", "a cold restart keeps nothing");
    insta::assert_snapshot!(changes(&recording));
}

#[test]
fn the_run_is_the_same_twice() {
    let (first, second) = (recording(), recording());
    assert_eq!(latchwork_bench::export::csv(&first), latchwork_bench::export::csv(&second));
}

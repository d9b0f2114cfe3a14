//! Sample programs written in both languages: each pair gives the same trace, and the trace is what its head comment
//! says (kept as a snapshot, read and checked by hand).

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

use std::fs;

use latchwork_bench::{export, recording::Recording, replay::ReplayOptions};
use latchwork_tests::workbench::{changes, run, samples};

/// The fewest pairs there are; `transfer_pump.rs` has one more.
const PAIRS: usize = 11;

fn names() -> Vec<String> {
    let entries = fs::read_dir(samples().join("both-languages")).unwrap();
    let files = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<String> =
        files.filter_map(|file| file.strip_suffix(".st").map(str::to_owned)).collect();
    names.sort();
    names
}

fn recording(name: &str, language: &str) -> Recording {
    let file = |extension: &str| {
        let path = samples().join("both-languages").join(format!("{name}.{extension}"));
        fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    };
    let run = run(&file(language), None, Some(&file("csv")), &ReplayOptions::default())
        .unwrap_or_else(|problem| panic!("{name}.{language}: {problem}"));
    assert!(run.fault.is_none(), "{name}.{language}");
    run.recording
}

#[test]
fn both_languages_give_the_same_trace() {
    let names = names();
    assert!(names.len() >= PAIRS);
    for name in names {
        let (text, list) = (recording(&name, "st"), recording(&name, "il"));
        assert!(text.rows.iter().any(|row| row.signal.changes.len() > 2), "{name}: nothing happens");
        assert_eq!(export::csv(&text), export::csv(&list), "{name}");
    }
}

#[test]
fn the_traces_are_what_the_tasks_ask_for() {
    for name in names() {
        insta::assert_snapshot!(name.as_str(), changes(&recording(&name, "st")));
    }
}

//! `latchwork faults`: the wiring proof of procedures, held to tables worked out by hand.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::{collections::BTreeSet, fs, path::Path};

use bench::Folder;
use serde_json::Value;

const SAMPLES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../samples");

fn folder() -> Folder {
    let folder = Folder::new();
    folder.write("wiring.steps", include_str!("files/wiring.steps"));
    folder
}

fn document(folder: &Folder, arguments: &str) -> Value {
    serde_json::from_str(&folder.run(arguments).out).unwrap()
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap()
}

/// A stop: procedures, when the load goes off, load, what a broken wire does, the faults with which it runs on.
type Row = (String, String, String, String, BTreeSet<String>);

fn by_hand() -> Vec<Row> {
    let lines = include_str!("wiring/by-hand.csv").lines().filter(|line| !line.starts_with('#'));
    lines
        .map(|line| {
            let cells: Vec<String> = line.split(';').map(|cell| cell.trim().to_owned()).collect();
            let [steps, when, load, wire, faults] = cells.try_into().unwrap();
            (steps, when, load, wire, faults.split('/').map(|fault| fault.trim().to_owned()).collect())
        })
        .collect()
}

fn found(steps: &str, variant: &Value) -> Vec<Row> {
    let of = |wire: &Value| {
        let (when, load) = (text(&wire["stops_when"]), text(&wire["load"]));
        let does = if wire["broken_wire_stops"] == true { "drops" } else { "runs on" };
        let left = variant["left_running"].as_array().unwrap().iter();
        let faults = left
            .filter(|left| text(&left["although"]) == when && text(&left["load"]) == load)
            .map(|left| format!("{}: {}", text(&left["place"]), text(&left["fault"])))
            .collect();
        (steps.to_owned(), when.to_owned(), load.to_owned(), does.to_owned(), faults)
    };
    variant["broken_wires"].as_array().unwrap().iter().map(of).collect()
}

#[test]
fn every_sample_with_a_stop_agrees_with_the_table_made_by_hand() {
    let folder = Folder::new();
    let table = by_hand();
    let files: BTreeSet<&String> = table.iter().map(|row| &row.0).collect();
    let mut wrong = String::new();
    for steps in files {
        let path = Path::new(SAMPLES).join(steps);
        let document = document(&folder, &format!("faults --format json {}", path.display()));
        let mut expected: Vec<&Row> = table.iter().filter(|row| row.0 == *steps).collect();
        expected.sort();
        for variant in document["files"][0]["variants"].as_array().unwrap() {
            let mut rows = found(steps, variant);
            rows.sort();
            let missing = expected.iter().filter(|row| !rows.contains(row));
            let extra = rows.iter().filter(|row| !expected.contains(row));
            wrong.extend(missing.map(|row| format!("by hand, not found: {row:?}\n")));
            wrong.extend(extra.map(|row| format!("found, not by hand: {row:?}\n")));
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn tables_and_answers_are_shown() {
    let folder = folder();
    insta::assert_snapshot!("faults_pump", folder.run("faults pump.steps").expect(1).shown());
    insta::assert_snapshot!("faults_wiring", folder.run("faults wiring.steps").expect(0).shown());
    let open = format!("faults {SAMPLES}/gallery/seal-in/open-stop.steps --name beats");
    insta::assert_snapshot!("faults_open_stop", folder.run(&open).expect(1).shown());
    let transfer = format!("faults {SAMPLES}/transfer-pump/procedure.steps --name button");
    insta::assert_snapshot!("faults_transfer_pump", folder.run(&transfer).shown());
    let markdown = folder.run("faults wiring.steps --format markdown").expect(0).shown();
    insta::assert_snapshot!("faults_markdown", markdown);
}

#[test]
fn no_line_is_wider_than_a_terminal() {
    let folder = Folder::new();
    for steps in ["gallery/annunciator/procedure.steps", "gallery/star-delta/procedure.steps"] {
        let out = folder.run(&format!("faults {SAMPLES}/{steps}")).out;
        assert!(out.lines().count() > 50);
        for line in out.lines() {
            assert!(line.chars().count() <= 100, "{line}");
        }
    }
}

#[test]
fn any_number_of_jobs_gives_the_same_bytes() {
    let folder = Folder::new();
    let run = |jobs: usize, form: &str| {
        let path = format!("{SAMPLES}/gallery/reversing/procedure.steps");
        folder.run(&format!("faults {path} --format {form} --jobs {jobs}")).out
    };
    for form in ["text", "json", "markdown"] {
        let one = run(1, form);
        assert!(one.len() > 1_000);
        assert_eq!(one, run(2, form));
        assert_eq!(one, run(7, form));
    }
}

#[test]
fn the_exit_code_tells_what_can_be_helped() {
    let folder = folder();
    folder.run("faults wiring.steps").expect(0);
    // A bridged stop contact leaves the pump running, whatever is wired.
    folder.run("faults wiring.steps --strict").expect(1);
    // The welded contactor goes unnoticed.
    folder.run("faults pump.steps").expect(1);
    folder.run(&format!("faults {SAMPLES}/gallery/seal-in/procedure.steps --quiet")).expect(0);
    folder.run(&format!("faults {SAMPLES}/gallery/seal-in/open-stop.steps --quiet")).expect(1);
    folder.write("empty.steps", "");
    folder.run("faults empty.steps").expect(4);
    folder.run("faults wiring.steps --name nothing").expect(4);
    folder.run("faults nowhere.steps").expect(2);
    folder.write("broken.st", "PROGRAM Main\n    Pump := 1;\nEND_PROGRAM\n");
    folder.run("faults wiring.steps --program broken.st").expect(1);
}

#[test]
fn without_station_or_loads_there_is_nothing_to_prove() {
    let folder = folder();
    let steps = "program 'pump.st';\nprocedure 'off'\n  expect NOT Pump;\nend_procedure\n";
    folder.write("bare.steps", steps);
    assert!(folder.run("faults bare.steps").expect(2).err.contains("needs a station"));
    let device = "[[device]]\nname = \"StartPB\"\ncontact = \"normally open\"\nterminal = \"%IX0.0\"\n";
    folder.write("devices.toml", device);
    let ran = folder.run("faults bare.steps --station devices.toml").expect(2);
    assert!(ran.err.contains("no loads"), "{}", ran.err);
}

#[test]
fn a_procedure_that_fails_anyway_is_told_and_still_done() {
    let folder = folder();
    folder.write(
        "wrong.steps",
        "program 'pump.st';\nstation 'station.toml';\nprocedure 'wrong'\n  press StartPB;\n  \
         expect NOT P1 for T#1s;\n  press StopPB;\n  expect P1;\nend_procedure\n",
    );
    let ran = folder.run("faults wrong.steps").expect(1);
    assert!(ran.out.contains("fails without any fault already"), "{}", ran.out);
    assert!(ran.out.contains("runs on although StopPB is pressed"), "{}", ran.out);
    assert!(ran.out.contains("every procedure fails without any fault already"), "{}", ran.out);
}

#[test]
fn faults_of_the_station_file_are_told() {
    let folder = folder();
    let station = include_str!("files/station.toml").replace("[[load]]", "fault = \"open wire\"\n[[load]]");
    folder.write("broken.toml", station);
    let ran = folder.run("faults wiring.steps --station broken.toml").expect(1);
    assert!(ran.out.contains("which are there in every run: StopPB: open wire"), "{}", ran.out);
}

const BOARD: &str = "gallery/seal-in";

fn observed(folder: &Folder, table: &str) -> bench::Ran {
    folder.write("seen.csv", table);
    let board = format!("--program {SAMPLES}/{BOARD}/seal-in.st --station {SAMPLES}/{BOARD}/station.toml");
    folder.run(&format!("faults --observed seen.csv {board}"))
}

#[test]
fn what_was_seen_on_two_boards_is_explained() {
    let folder = Folder::new();
    let four = format!("{SAMPLES}/four-inputs");
    let of_four = |more: &str| {
        format!(
            "faults --observed {four}/observed.csv --program {four}/copy.st --station {four}/station.toml{more}"
        )
    };
    insta::assert_snapshot!("observed_four_inputs", folder.run(&of_four("")).expect(1).shown());
    let seal_in = fs::read_to_string(format!("{SAMPLES}/{BOARD}/observed.csv")).unwrap();
    insta::assert_snapshot!("observed_seal_in", observed(&folder, &seal_in).expect(1).shown());
    let document = document(&folder, &of_four(" --format json"));
    let best = &document["explanations"][0];
    assert_eq!(best["contradictions"].as_array().unwrap().len(), 0);
    // The station beside it has this very fault.
    assert_eq!(text(&best["faults"][0]["place"]), "S1");
    assert_eq!(text(&best["faults"][0]["fault"]), "open wire");
}

/// The board of the sample with a fault placed by its own station file is seen, and found again.
#[test]
fn a_board_with_a_fault_is_explained_by_it() {
    let folder = Folder::new();
    // A bridged start contact: worked out by hand. The pump starts by itself; after a stop it comes back.
    let ran = observed(&folder, "StopPB,P1\n,on\npressed,off\nreleased,on\n").expect(1);
    let best = ran.out.lines().find(|line| line.starts_with(" 1. ")).unwrap();
    assert!(best.contains("StartPB: stuck at pressed, or shorted"), "{}", ran.out);
    // Sound wiring.
    let ran = observed(&folder, "StartPB,StopPB,P1\n,,off\n1,,on\n0,,on\n,1,off\n,0,off\n").expect(0);
    assert!(ran.out.contains(" 1. no fault"), "{}", ran.out);
}

#[test]
fn a_next_step_tells_explanations_apart() {
    let folder = Folder::new();
    // It does not start: start button, one of the three that stop, or the pump itself. What is tried next divides them.
    let ran = observed(&folder, "StartPB,P1\n,on\n").expect(1);
    insta::assert_snapshot!("observed_next_step", ran.shown());
    assert!(ran.out.contains("Next step: bring "), "{}", ran.out);
}

#[test]
fn what_contradicts_itself_is_explained_by_nothing() {
    let folder = Folder::new();
    let ran = observed(&folder, "StartPB,P1\n,off\n,on\n,off\n").expect(1);
    assert!(ran.out.contains("No single fault explains everything"), "{}", ran.out);
}

#[test]
fn a_table_that_cannot_be_read_is_wrong_usage() {
    let folder = Folder::new();
    let ran = observed(&folder, "StratPB,P1\n1,on\n").expect(2);
    assert!(ran.err.contains("observed-column") && ran.err.contains("StartPB"), "{}", ran.err);
    observed(&folder, "StartPB\n1\n").expect(2);
    observed(&folder, "StartPB,P1\n1,bright\n").expect(2);
    folder.run("faults --observed nowhere.csv --program pump.st --station station.toml").expect(2);
    folder.run("faults --observed nowhere.csv --program pump.st").expect(2);
}

//! The samples with a plant: both languages give the same trace, the plant follows its closed form, and the controller
//! does what the task asks for.
//!
//! The closed forms are textbook mathematics: the integral of a constant, the step response of a plant of the first order,
//! y = K (1 - exp(-t / T)), and travel as speed times time.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use latchwork_bench::{
    export,
    procedure::{RunOptions, Script, ScriptParts, Verdict},
    recording::{Recording, Row},
    replay::ReplayOptions,
};
use latchwork_grammar::{Names, Sources, parse_steps, steps::tree::ItemKind};
use latchwork_tests::workbench::{program, run_folder, sample, station_of};

const SCAN_NS: i64 = 10_000_000;

fn recording(folder: &str, file: &str, record: &[&str]) -> Recording {
    let names = record.iter().map(|name| name.to_string()).collect();
    let record = Some(names).filter(|_| !record.is_empty());
    let options = ReplayOptions { record, ..ReplayOptions::default() };
    let run = run_folder(folder, file, &options).unwrap();
    assert!(run.fault.is_none() && run.plant_fault.is_none());
    assert!(run.missed.is_empty() && run.rows_not_applied == 0);
    assert!(run.events.is_empty() && run.plant_events.is_empty());
    run.recording
}

fn row<'r>(recording: &'r Recording, name: &str) -> &'r Row {
    recording.rows.iter().find(|row| row.name() == name).unwrap()
}

/// The value at a time in milliseconds, as a number.
fn number(recording: &Recording, name: &str, milliseconds: i64) -> f64 {
    let scan = milliseconds * 1_000_000 / SCAN_NS;
    row(recording, name).signal.value_at(scan as u32).as_f64().unwrap()
}

/// The times, in milliseconds, at which a BOOL changes after the first scan.
fn edges(recording: &Recording, name: &str) -> Vec<i64> {
    let changes = row(recording, name).signal.changes.iter().skip(1);
    changes.map(|change| recording.scans[change.scan as usize].time_ns / 1_000_000).collect()
}

#[test]
fn both_languages_give_the_same_trace_byte_for_byte() {
    for (folder, name) in [("plant-tank", "pump"), ("plant-motor", "run-up"), ("plant-conveyor", "belt")] {
        let [text, list] = ["st", "il"].map(|language| recording(folder, &format!("{name}.{language}"), &[]));
        assert!(text.scans.len() > 2000);
        assert_eq!(export::csv(&text), export::csv(&list), "{folder}");
        assert_eq!(export::vcd(&text), export::vcd(&list), "{folder}");
    }
}

/// From 50 cm, 10 cm a second while the pump works and nothing is let out; with the valve at 80 % 4 cm a second go away.
/// The valve stands where its card of 27648 steps puts it, a little below 80 %.
#[test]
fn the_tank_is_the_integral_of_what_flows() {
    let recording = recording("plant-tank", "pump.st", &["LT1", "P1", "V1", "Tank.Inflow"]);
    for step in 0..=90 {
        let time = 0.1 * f64::from(step);
        let level = number(&recording, "LT1", i64::from(step) * 100);
        assert!((level - (50.0 + 10.0 * time)).abs() < 1e-9, "{time} s: {level}");
    }
    // 140 cm are passed after 9 s; one scan for the transmitter, and the card rounds.
    let stopped = edges(&recording, "P1")[0];
    assert!((9000..=9020).contains(&stopped), "{stopped}");
    // Off and full: nothing moves until the valve opens.
    let full = number(&recording, "LT1", 10_000);
    assert!((number(&recording, "LT1", 12_000) - full).abs() < 1e-12);
    let valve = (80.0 / 100.0 * 27648.0_f64).round() / 27648.0 * 100.0;
    assert!((number(&recording, "V1", 12_000) - valve).abs() < 1e-9);
    let fall = 2.5 * 2.0 * valve / 100.0;
    for second in 13..=31 {
        let level = number(&recording, "LT1", second * 1000);
        // The valve opens in the scan at 12 s.
        let expected = full - fall * (second - 12) as f64;
        assert!((level - expected).abs() < 1e-9, "{second} s: {level}, not {expected}");
    }
    let started = edges(&recording, "P1")[1];
    let expected = 12_000.0 + 1000.0 * (full - 60.0) / fall;
    assert!((started as f64 - expected).abs() <= 20.0, "{started}, not {expected}");
    // With 10 cm a second from the pump the level rises by 6; with the strainer blocked, 4 - 4, it stays.
    let before = number(&recording, "LT1", 40_000);
    assert!((number(&recording, "LT1", 41_000) - before - (10.0 - fall)).abs() < 1e-9);
    let blocked = number(&recording, "LT1", 43_000);
    assert!((number(&recording, "LT1", 50_000) - blocked - 7.0 * (4.0 - fall)).abs() < 1e-9);
    assert_eq!(number(&recording, "Tank.Inflow", 50_000), 2.0);
    assert_eq!(edges(&recording, "P1")[2], 52_000, "the switch");
}

/// Times in milliseconds and exp(-t / T) with T = 2 s, that is e to the -0.5, -1, -2 and -3: values as tables of the
/// exponential function print them (Abramowitz and Stegun, table 4.4; from memory).
const REST: [(i64, f64); 5] = [
    (0, 1.0),
    (1000, 0.606_530_659_712_633_4),
    (2000, 0.367_879_441_171_442_33),
    (4000, 0.135_335_283_236_612_7),
    (6000, 0.049_787_068_367_863_944),
];

#[test]
fn the_motor_runs_up_along_its_exponential() {
    let recording = recording("plant-motor", "run-up.st", &["Tacho", "K1", "H1", "H2"]);
    // The contactor closes in the scan at 500 ms.
    assert_eq!(edges(&recording, "K1")[..2], [500, 8000]);
    for (milliseconds, rest) in REST {
        let speed = number(&recording, "Tacho", 500 + milliseconds);
        let expected = 1500.0 * (1.0 - rest);
        assert!((speed - expected).abs() < 1e-9, "{milliseconds} ms: {speed}, not {expected}");
    }
    // 90 % after T ln 10, which is 4.605 s.
    let reached = edges(&recording, "H1")[0];
    assert!((5105..=5125).contains(&reached), "{reached}");
    // Switched off at 8 s it runs down from where it was.
    let off = number(&recording, "Tacho", 8000);
    for (milliseconds, rest) in REST {
        let speed = number(&recording, "Tacho", 8000 + milliseconds);
        assert!((speed - off * rest).abs() < 1e-9, "{milliseconds} ms: {speed}");
    }
    // Braked to 900 rpm it never comes to 1350: the monitor, which sees the contactor one scan later, trips after 6 s.
    assert_eq!(edges(&recording, "H2"), [16_500 + 10 + 6000, 26_000]);
    assert_eq!(edges(&recording, "K1")[2..], [16_500, 22_510, 27_000]);
    assert!((number(&recording, "Tacho", 22_000) - 900.0).abs() < 60.0);
}

/// 250 mm a second: 2.5 mm a scan, so that every place is passed in a scan of its own.
#[test]
fn the_tray_travels_by_speed_times_time() {
    let record = ["EntryBarrier", "PlaceBarrier", "M1", "Y1", "H1", "Conveyor.Front", "Trays"];
    let recording = recording("plant-conveyor", "belt.st", &record);
    assert_eq!(edges(&recording, "M1")[..2], [500, 4100]);
    for step in 0..=36 {
        let front = number(&recording, "Conveyor.Front", 500 + step * 100);
        assert!((front - 25.0 * step as f64).abs() < 1e-9, "{step}: {front}");
    }
    // 120 mm and 900 mm from the beginning; the tray is 300 mm long, and stands for 2 s at the filling place.
    let (first, second) = (edges(&recording, "EntryBarrier"), edges(&recording, "PlaceBarrier"));
    assert_eq!(first[..2], [500 + 480, 500 + 1680]);
    assert_eq!(second[..2], [500 + 3600, 500 + 3600 + 2000 + 1200]);
    assert_eq!(edges(&recording, "Y1")[..2], [4100, 6100]);
    // Its rear edge leaves the belt at 1500 mm, and the next tray is put on: (900 + 300) / 250 more than the filling place.
    let gone = 6100 + (1500 + 300 - 900) * 4;
    assert_eq!(number(&recording, "Conveyor.Front", gone), 0.0);
    assert_eq!(first[2], gone + 480);
    // Held at 11 s; the belt has run on for 4 s since the entry and stops.
    assert_eq!(edges(&recording, "H1"), [first[2] + 4000, 18_000]);
    assert_eq!(number(&recording, "Trays", 23_000), 2.0);
}

/// Every procedure of a sample passes in both languages.
#[test]
fn the_procedures_pass() {
    let mut passed = 0;
    for folder in ["plant-tank", "plant-motor", "plant-conveyor"] {
        let text = sample(&format!("{folder}/procedure.steps")).unwrap();
        let mut sources = Sources::new();
        let file = sources.add("procedure.steps", text.as_str());
        let mut names = Names::new();
        let parsed = parse_steps(file, &text, &mut names);
        assert!(parsed.diagnostics.is_empty(), "{folder}: {:?}", parsed.diagnostics);
        let files = [parsed.tree];
        let station = station_of(folder).unwrap();
        let variants = files[0].items.iter().filter_map(|item| match &item.kind {
            ItemKind::Program(texts) => texts.first(),
            _ => None,
        });
        for variant in variants {
            let program = program(&sample(&format!("{folder}/{}", variant.value)).unwrap()).unwrap();
            assert!(station.check(&program).is_empty());
            let station = Some(&station);
            let (script, problems) = Script::new(ScriptParts {
                files: &files,
                program,
                station,
                sources: &sources,
                names: &names,
            });
            assert!(problems.is_empty(), "{folder}: {problems:?}");
            for (index, procedure) in script.procedures().iter().enumerate() {
                let title = format!("{folder}, {}: {}", variant.value, procedure.title.value);
                let outcome = script.run(index, &RunOptions::default());
                match outcome.verdict {
                    Verdict::Passed => passed += 1,
                    Verdict::Refused(problems) => panic!("{title}: {problems:?}"),
                    Verdict::Failed(failure) => panic!(
                        "{title}: {}: {:?} at {} ms, {:?}",
                        sources.text(failure.step),
                        failure.kind,
                        failure.time_ns / 1_000_000,
                        failure.parts
                    ),
                }
            }
        }
    }
    assert!(passed >= 2 * 20, "{passed}");
}

//! The sample station: both languages give the same trace, and the trace is what the task asks for.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use latchwork_bench::{export, recording::Recording, replay::ReplayOptions};
use latchwork_tests::workbench::{run, sample};

fn recording(program: &str) -> Recording {
    let source = sample(program).unwrap();
    let station = sample("transfer-pump/station.toml").unwrap();
    let stimulus = sample("transfer-pump/stimulus.csv").unwrap();
    let run = run(&source, Some(&station), Some(&stimulus), &ReplayOptions::default()).unwrap();
    assert!(run.fault.is_none());
    run.recording
}

/// The times, in milliseconds, at which a BOOL row rises and falls.
fn edges(recording: &Recording, name: &str) -> Vec<(i64, bool)> {
    let row = recording.rows.iter().find(|row| row.signal.name.ends_with(name)).unwrap();
    let changes = row.signal.changes.iter().skip(1);
    changes
        .map(|change| {
            let time = recording.scans[change.scan as usize].time_ns / 1_000_000;
            (time, change.value.as_bool().unwrap())
        })
        .collect()
}

#[test]
fn structured_text_and_instruction_list_give_the_same_trace_byte_for_byte() {
    let text = export::csv(&recording("transfer-pump/pump.st"));
    let list = export::csv(&recording("transfer-pump/pump.il"));
    assert!(text.lines().count() > 1000);
    assert_eq!(text, list);
    let (text, list) = (recording("transfer-pump/pump.st"), recording("transfer-pump/pump.il"));
    assert_eq!(export::vcd(&text), export::vcd(&list));
}

/// Worked out by hand from the task: pump 800 ms after the request, valve until 500 ms after it.
#[test]
fn the_pump_follows_the_task() {
    for program in ["transfer-pump/pump.st", "transfer-pump/pump.il"] {
        let recording = recording(program);
        assert_eq!(recording.scans.len(), 1000, "ten seconds at 10 ms");
        assert_eq!(
            edges(&recording, "Pump"),
            [(1300, true), (3000, false), (5000, true), (5600, false), (7200, true), (9000, false)]
        );
        assert_eq!(
            edges(&recording, "Valve"),
            [(500, true), (3500, false), (4200, true), (6100, false), (6400, true), (9500, false)]
        );
        assert_eq!(edges(&recording, "Done"), [(9000, true)]);
        let count = recording.rows.iter().find(|row| row.signal.name.ends_with("Count")).unwrap();
        let counted: Vec<String> =
            count.signal.changes.iter().map(|change| change.value.to_string()).collect();
        assert_eq!(counted, ["0", "1", "2"]);
    }
}

/// The device and its terminal are two things: a normally closed button that is pressed opens its circuit.
#[test]
fn pressing_the_stop_button_makes_its_terminal_false() {
    let recording = recording("transfer-pump/pump.st");
    assert_eq!(edges(&recording, "StopPB"), [(5600, true), (5800, false)]);
    let stop = recording.rows.iter().find(|row| row.signal.name.ends_with(".Stop")).unwrap();
    assert_eq!(stop.signal.value_at(0).as_bool(), Some(true));
    assert_eq!(edges(&recording, ".Stop"), [(5600, false), (5800, true)]);
}

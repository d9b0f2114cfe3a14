//! The sample of a sequential function chart: every step, action and qualifier at its time.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use latchwork_bench::{recording::Recording, replay::ReplayOptions};
use latchwork_tests::workbench::{run, sample};

fn recording() -> Recording {
    let source = sample("misting-cycle/misting.st").unwrap();
    let station = sample("misting-cycle/station.toml").unwrap();
    let stimulus = sample("misting-cycle/stimulus.csv").unwrap();
    let names = ["Misting.Feed.X", "Misting.Spray.X", "Misting.Air.X", "Misting.Away.X", "Misting.Idle.X"];
    let record = ["Conveyor", "Mist", "Fan", "Lamp", "Trays", "Misting.Spray.T"].iter().chain(&names);
    let options = ReplayOptions {
        record: Some(record.map(|name| (*name).to_owned()).collect()),
        ..ReplayOptions::default()
    };
    let run = run(&source, Some(&station), Some(&stimulus), &options).unwrap();
    assert!(run.fault.is_none());
    run.recording
}

/// The changes of a row with their times in milliseconds, without its first value.
fn changes(recording: &Recording, name: &str) -> Vec<(i64, String)> {
    let row = recording.rows.iter().find(|row| row.signal.name.ends_with(name)).unwrap();
    let changes = row.signal.changes.iter().skip(1);
    changes
        .map(|change| (recording.scans[change.scan as usize].time_ns / 1_000_000, change.value.to_string()))
        .collect()
}

fn edges(recording: &Recording, name: &str) -> Vec<i64> {
    let changes = changes(recording, name);
    for (index, (_, value)) in changes.iter().enumerate() {
        assert_eq!(value, if index % 2 == 0 { "TRUE" } else { "FALSE" }, "{name}");
    }
    changes.into_iter().map(|(time, _)| time).collect()
}

/// Worked out by hand from the chart: one step further in each scan at most, actions in the scan of their step.
#[test]
fn the_trays_are_treated_as_the_chart_says() {
    let recording = recording();
    // The conveyor has no gap from the step that sends a tray away to the one that fetches the next.
    assert_eq!(edges(&recording, "Conveyor"), [100, 600, 1410, 2300, 3110, 3500, 4000, 4300]);
    assert_eq!(edges(&recording, "Mist"), [600, 1000, 2300, 2700]);
    assert_eq!(edges(&recording, "Fan"), [800, 1400, 2500, 3100]);
    assert_eq!(edges(&recording, "Lamp"), [1410, 3500]);
    let trays = changes(&recording, "Trays");
    let trays: Vec<(i64, &str)> = trays.iter().map(|(time, value)| (*time, value.as_str())).collect();
    assert_eq!(trays, [(1410, "1"), (3110, "2"), (4000, "0")]);
}

#[test]
fn the_steps_are_in_the_recording() {
    let recording = recording();
    assert_eq!(edges(&recording, "Feed.X"), [100, 600, 1800, 2300, 4000, 4300]);
    assert_eq!(edges(&recording, "Spray.X"), [600, 1100, 2300, 2800]);
    assert_eq!(edges(&recording, "Air.X"), [600, 1400, 2300, 3100]);
    assert_eq!(edges(&recording, "Away.X"), [1410, 1800, 3110, 3500]);
    let idle = changes(&recording, "Idle.X");
    let times: Vec<i64> = idle.iter().map(|(time, _)| *time).collect();
    assert_eq!(times, [100, 3500, 4000, 4300]);
    // The time of a step grows to 500 ms, stays when the step is left, and begins anew.
    let spray = changes(&recording, "Spray.T");
    assert_eq!(spray.len(), 101);
    assert_eq!(spray[49], (1100, "T#500ms".to_owned()));
    assert_eq!(spray[50], (2300, "T#0s".to_owned()));
    assert_eq!(spray[100], (2800, "T#500ms".to_owned()));
}

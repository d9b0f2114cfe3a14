//! The sample with a configuration: a fast task guards the pump, a slow one controls the level.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use latchwork_bench::{recording::Recording, replay::ReplayOptions};
use latchwork_tests::workbench::{program, run, sample};

fn recording(options: &ReplayOptions) -> Recording {
    let source = sample("header-tank/plant.st").unwrap();
    let station = sample("header-tank/station.toml").unwrap();
    let stimulus = sample("header-tank/stimulus.csv").unwrap();
    let run = run(&source, Some(&station), Some(&stimulus), options).unwrap();
    assert!(run.fault.is_none());
    run.recording
}

/// The times, in milliseconds, at which a row changes, with its values.
fn changes(recording: &Recording, name: &str) -> Vec<(i64, String)> {
    let row = recording.rows.iter().find(|row| row.signal.name == name).unwrap();
    let changes = row.signal.changes.iter().skip(1);
    changes
        .map(|change| (recording.scans[change.scan as usize].time_ns / 1_000_000, change.value.to_string()))
        .collect()
}

/// Worked out by hand. The guard runs every 10 ms, before the level control, which runs every 100 ms: what the level
/// control asks for acts one scan later.
#[test]
fn the_pump_follows_both_tasks() {
    let recording = recording(&ReplayOptions::default());
    let yes = |time: i64| (time, "TRUE".to_owned());
    let no = |time: i64| (time, "FALSE".to_owned());
    assert_eq!(
        changes(&recording, "%QX0.0"),
        [
            yes(310),
            // The cistern is dry, and the trip holds until the reset.
            no(1040),
            yes(1500),
            // The upper limit was set lower through its access path.
            no(2010),
            yes(2410),
            no(2600),
            yes(2700),
        ]
    );
    assert_eq!(changes(&recording, "Cabinet.Tripped"), [yes(1040), no(1500)]);
    let control = changes(&recording, "Cabinet.Control.ran");
    assert_eq!(control.get(..3).unwrap(), [no(10), yes(100), no(110)]);
    assert_eq!(changes(&recording, "Cabinet.Interlock.ran"), []);
}

/// The scan time of the command is the greatest that divides the intervals of all tasks.
#[test]
fn the_tasks_ask_for_a_scan_time() {
    let program = program(&sample("header-tank/plant.st").unwrap()).unwrap();
    assert_eq!(program.image().base_interval_ns, 10_000_000);
    assert_eq!(program.image().resources, ["Cabinet"]);
}

#[test]
fn access_paths_are_names_for_the_outside_and_keep_what_is_read_only() {
    let source = sample("header-tank/plant.st").unwrap();
    let record = ["TankLevel", "FillUpTo", "Level.Low", "Cabinet.Level.Percent"].map(str::to_owned).to_vec();
    let options =
        ReplayOptions { record: Some(record), until_ns: Some(300_000_000), ..ReplayOptions::default() };
    let stimulus = "time,FillUpTo,restart\n0,60.0,\n150,,warm\n250,,cold\n";
    let replayed = run(&source, None, Some(stimulus), &options).unwrap().recording;
    // The instance is RETAIN: a warm restart keeps the limit, a cold one does not. The place of its own initial value
    // is VAR_CONFIG.
    assert_eq!(changes(&replayed, "FillUpTo"), [(250, "80.0".to_owned())]);
    let low = replayed.rows.iter().find(|row| row.name() == "Level.Low").unwrap();
    assert_eq!(low.signal.changes.first().unwrap().value.to_string(), "30.0");
    let refused = run(&source, None, Some("time,TankLevel\n0,5.0\n"), &ReplayOptions::default()).unwrap_err();
    assert!(refused.contains("can only be read"), "{refused}");
    let refused =
        run(&source, None, Some("time,Control.runs\n0,5\n"), &ReplayOptions::default()).unwrap_err();
    assert!(refused.contains("can only be read"), "{refused}");
}

/// With a millisecond for every instruction the slow task cannot keep up with the fast one beside it.
#[test]
fn lost_releases_are_told() {
    let source = sample("header-tank/plant.st").unwrap();
    let options = |preempt| ReplayOptions {
        instruction_ns: 1_000_000,
        preempt,
        until_ns: Some(1_000_000_000),
        ..ReplayOptions::default()
    };
    for preempt in [false, true] {
        let replayed = run(&source, None, None, &options(preempt)).unwrap();
        let overruns: u64 = replayed.events.iter().map(|entry| entry.count).sum();
        assert!(overruns > 20, "{overruns}");
        let again = run(&source, None, None, &options(preempt)).unwrap();
        assert_eq!(format!("{:?}", replayed.recording), format!("{:?}", again.recording));
    }
}

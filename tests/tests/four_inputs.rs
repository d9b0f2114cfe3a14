//! The checkout of a four-input board. Common practice, no source: each input copied to the output of its
//! number, input 2 wired normally closed.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use latchwork_bench::{
    recording::{Recording, Role},
    replay::ReplayOptions,
};
use latchwork_tests::workbench::{run, sample};

fn recording(station: &str) -> Recording {
    let source = sample("four-inputs/copy.st").unwrap();
    let stimulus = sample("four-inputs/stimulus.csv").unwrap();
    let station = sample(station).unwrap();
    run(&source, Some(&station), Some(&stimulus), &ReplayOptions::default()).unwrap().recording
}

/// The outputs that are TRUE half a second after each change of the stimulus.
fn outputs(recording: &Recording) -> Vec<Vec<usize>> {
    (0..6)
        .map(|second| {
            let scan = second * 100 + 50;
            (1..=4)
                .filter(|number| {
                    let row =
                        recording.rows.iter().find(|row| row.signal.name.ends_with(&format!("Lamp{number}")));
                    row.unwrap().signal.value_at(scan).as_bool().unwrap()
                })
                .collect()
        })
        .collect()
}

#[test]
fn a_normally_closed_input_is_on_at_rest() {
    let recording = recording("four-inputs/station.toml");
    assert_eq!(outputs(&recording), [vec![2], vec![1, 2], vec![], vec![2, 3], vec![2, 4], vec![2]]);
}

#[test]
fn with_the_wire_of_input_1_open_actuating_it_changes_nothing() {
    let recording = recording("four-inputs/station-open-wire.toml");
    assert_eq!(outputs(&recording), [vec![2], vec![2], vec![], vec![2, 3], vec![2, 4], vec![2]]);
    // The rows of the device and of its terminal disagree, and the device row says why.
    let device = recording.rows.iter().find(|row| row.signal.name == "S1").unwrap();
    let Role::Device { fault, .. } = &device.role else { panic!("S1 is a device") };
    assert_eq!(fault.as_deref(), Some("open wire"));
    assert_eq!(device.signal.value_at(150).as_bool(), Some(true));
    let terminal = recording.rows.iter().find(|row| row.signal.name.ends_with("In1")).unwrap();
    assert_eq!(terminal.signal.value_at(150).as_bool(), Some(false));
}

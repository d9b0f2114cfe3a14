//! Pictures of departures: what was expected above what was, with a mark where they part.

use insta::assert_snapshot;
use latchwork_bench::{
    comparison::{Expected, Rules, Subject},
    diagram::compared::departures,
    export,
    recording::Recording,
    render::{TerminalOptions, svg, terminal},
};
use latchwork_grammar::FileId;
use latchwork_vm::Value;
use proptest::prelude::*;

use crate::recordings::{self, MS, Maker, int, step};

fn read(text: &str, recording: &Recording) -> Expected {
    let subjects: Vec<Subject> = recording.rows.iter().map(Subject::of_row).collect();
    let (expected, diagnostics) = Expected::read(FileId(0), text, &subjects);
    expected.unwrap_or_else(|| panic!("{diagnostics:?}\n{text}"))
}

/// All pictures for a terminal, one after the other.
fn drawn(text: &str, run: &Recording, rules: &Rules, options: &TerminalOptions) -> String {
    let expected = read(text, run);
    let comparison = expected.compare(run, rules).unwrap();
    let diagrams = departures(&expected, run, &comparison);
    let pictures: Vec<String> = diagrams.iter().map(|diagram| terminal(diagram, options)).collect();
    format!("{}\n{}", comparison.report(), pictures.join("\n"))
}

fn drawn_as_svg(text: &str, run: &Recording, rules: &Rules) -> String {
    let expected = read(text, run);
    let comparison = expected.compare(run, rules).unwrap();
    svg(departures(&expected, run, &comparison).first().expect("it departs"))
}

const PLAIN: TerminalOptions =
    TerminalOptions { width: 80, colour: false, ascii: false, heading: true, footer: false };

/// A pump and its lamp: both late.
fn late() -> (String, Recording) {
    let run = |pump: &[u32], lamp: &[u32]| {
        Maker::new("Transfer pump", 10 * MS, 100)
            .output("Main.Pump", "%QX0.0", None, pump)
            .output("Main.Lamp", "%QX0.1", None, lamp)
            .finish()
    };
    (export::csv(&run(&[20, 60], &[30])), run(&[25, 60], &[38]))
}

/// Values of every sort of lane.
fn values() -> (String, Recording) {
    let trace = "time,Level,Trays,Phase,Crop\n\
                 0,,0,Idle,'basil'\n\
                 100,0.5,,,\n150,1.5,1,Filling,'basil'\n200,2.5,2,,'seedlings of basil'\n250,1.0,3,Idle,\n300,,,,\n";
    let run = Maker::new("Values", 10 * MS, 60)
        .variable(
            "Level",
            vec![
                (0, Value::Real(0.5)),
                (15, Value::Real(1.5)),
                (20, Value::Real(2.0)),
                (25, Value::Real(1.0)),
            ],
        )
        .variable("Trays", vec![(0, int(0)), (15, int(1)), (20, int(3))])
        .variable("Phase", vec![(0, step(0, "Idle")), (17, step(1, "Filling"))])
        .variable("Crop", vec![(0, Value::String(b"basil".to_vec()))])
        .finish();
    (trace.to_owned(), run)
}

#[test]
fn late_changes() {
    let (trace, run) = late();
    let shifted = Rules { shift_ns: 20 * MS, ..Rules::default() };
    assert_snapshot!(drawn(&trace, &run, &shifted, &PLAIN));
    assert_snapshot!(drawn(&trace, &run, &shifted, &TerminalOptions { ascii: true, width: 60, ..PLAIN }));
    assert_snapshot!(drawn(&trace, &run, &Rules::default(), &TerminalOptions { width: 120, ..PLAIN }));
    assert_snapshot!("late_changes_svg", drawn_as_svg(&trace, &run, &shifted));
}

#[test]
fn an_early_change_and_an_extra_pulse() {
    let run =
        |toggles: &[u32]| Maker::new("Pump", 10 * MS, 100).output("Pump", "%QX0.0", None, toggles).finish();
    let trace = export::csv(&run(&[50]));
    let shifted = Rules { shift_ns: 30 * MS, ..Rules::default() };
    assert_snapshot!(drawn(&trace, &run(&[44]), &shifted, &PLAIN));
    assert_snapshot!(drawn(&trace, &run(&[20, 21, 50]), &shifted, &PLAIN));
}

#[test]
fn numbers_names_and_texts() {
    let (trace, run) = values();
    assert_snapshot!(drawn(&trace, &run, &Rules::default(), &PLAIN));
    assert_snapshot!("numbers_names_and_texts_svg", drawn_as_svg(&trace, &run, &Rules::default()));
}

#[test]
fn departures_far_apart_have_diagrams_of_their_own() {
    let run = |lamp: u32| {
        let mut maker = Maker::new("Vents", 10 * MS, 3_000);
        for vent in 0..6 {
            maker = maker.output(&format!("Vent{vent}"), "%QX0.0", None, &[100 + vent * lamp]);
        }
        maker.finish()
    };
    let expected = read(&export::csv(&run(400)), &run(410));
    let recording = run(410);
    let comparison = expected.compare(&recording, &Rules::default()).unwrap();
    assert_eq!(comparison.departures().count(), 5);
    assert_eq!(departures(&expected, &recording, &comparison).len(), 4);
}

proptest! {
    /// No picture is wider than asked, and none panics, whatever departs.
    #[test]
    fn any_departure_is_drawn(
        recording in crate::recorded::any_recording(), other in crate::recorded::any_recording(),
        width in 30..140usize, ascii in any::<bool>(), shift in 0..50_000_000i64, from in 0..200_000_000i64,
    ) {
        // The rows of the one over the scans of the other.
        let mut run = recording.clone();
        let scans = run.scans.len() as u32;
        for (row, values) in run.rows.iter_mut().zip(&other.rows) {
            let same_kind = |value: &Value| {
                row.signal.changes.first().is_some_and(|first| {
                    first.value.elementary_type().is_some() && first.value.elementary_type() == value.elementary_type()
                })
            };
            if values.signal.changes.iter().all(|change| same_kind(&change.value)) {
                row.signal.changes = values.signal.changes.iter().filter(|change| change.scan < scans).collect();
            } else {
                row.signal.changes = row.signal.changes.first().into_iter().collect();
            }
        }
        let expected = read(&export::csv(&recording), &recording);
        let comparison = expected.compare(&run, &Rules { shift_ns: shift, from_ns: from, ..Rules::default() }).unwrap();
        for diagram in departures(&expected, &run, &comparison) {
            let options = TerminalOptions { width, ascii, ..PLAIN };
            for line in terminal(&diagram, &options).lines() {
                prop_assert!(unicode_width::UnicodeWidthStr::width(line) <= width.max(40), "{}", line);
            }
            let picture = svg(&diagram);
            let mut reader = quick_xml::Reader::from_str(&picture);
            loop {
                match reader.read_event() {
                    Ok(quick_xml::events::Event::Eof) => break,
                    Ok(_) => {}
                    Err(error) => panic!("{error}\n{picture}"),
                }
            }
        }
    }
}

#[test]
fn what_is_not_drawn_is_not_there() {
    let recording = recordings::transfer_pump();
    let expected = read(&export::csv(&recording), &recording);
    let comparison = expected.compare(&recording, &Rules::default()).unwrap();
    assert!(departures(&expected, &recording, &comparison).is_empty());
}

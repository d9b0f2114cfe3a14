//! Dumps by general-purpose writers: PyPI pyvcd 0.5.1 (`written/pump_bench.py`, run once, its output beside it) and the
//! crate vcd 0.7, whose writer knows nothing of our reader.

use latchwork_bench::{
    comparison::{Expected, Rules, Subject},
    recording::Recording,
};
use latchwork_grammar::FileId;
use latchwork_vm::{Change, ElementaryType, Value};
use proptest::prelude::*;
use vcd::{SimulationCommand, TimescaleUnit, VarType, Writer};

use crate::recordings::{self, MS, Maker, levels, step};

/// The run that the script captured, as the bench would have recorded it: scans of one millisecond.
fn captured() -> Recording {
    let mut recording = run();
    // Asked for by the short name: the capture knows the pump by its terminal.
    recording.rows[0].asked = Some("Pump".to_owned());
    recording
}

fn run() -> Recording {
    let text = |text: &str| Value::String(text.as_bytes().to_vec());
    let mask = |bits| Value::Bits(bits, ElementaryType::Byte);
    let int = |number| Value::Signed(number, ElementaryType::Int);
    Maker::new("Transfer pump on a bench", MS, 10_000)
        .output("TransferPump.Pump", "%QX0.1", None, &[1_302, 3_005])
        .variable("StartPB", levels(false, &[500, 700]))
        .variable("TransferPump.Count", vec![(0, int(0)), (3_000, int(-2))])
        .variable("TransferPump.Waited", vec![(0, recordings::time(0)), (1_303, recordings::time(800 * MS))])
        .variable("TransferPump.Level", vec![(0, Value::Real(0.25)), (1_302, Value::Real(-1.5e-3))])
        .variable(
            "TransferPump.Phase",
            vec![(0, step(0, "Idle")), (1_302, step(1, "Filling")), (3_005, step(0, "Idle"))],
        )
        .variable("TransferPump.Crop", vec![(0, text("")), (1_302, text("young\tbasil, \\ and more"))])
        .variable("TransferPump.Mask", vec![(0, mask(0)), (1_303, mask(0xA5))])
        .finish()
}

fn read(text: &str, recording: &Recording) -> Expected {
    let subjects: Vec<Subject> = recording.rows.iter().map(Subject::of_row).collect();
    let (expected, diagnostics) = Expected::read(FileId(0), text, &subjects);
    expected.unwrap_or_else(|| panic!("{diagnostics:?}\n{text}"))
}

#[test]
fn a_capture_by_the_python_writer_is_followed() {
    let recording = captured();
    let expected = read(include_str!("written/pump_bench.vcd"), &recording);
    assert_eq!(expected.end_ns, 10_000 * MS);
    let comparison = expected.compare(&recording, &Rules::default()).unwrap();
    assert!(comparison.agrees(), "{}", comparison.report());
    // Where the capture knows nothing, anything may be.
    let count = |name: &str| {
        let track = expected.tracks.iter().find(|track| track.subject.name() == name).unwrap();
        track.values.iter().filter(|value| value.value.is_none()).count()
    };
    assert_eq!((count("StartPB"), count("Pump"), count("TransferPump.Mask")), (1, 1, 1));
}

#[test]
fn every_change_of_the_capture_is_missed_where_it_is_taken_away() {
    let whole = captured();
    let expected = read(include_str!("written/pump_bench.vcd"), &whole);
    for row in 0..whole.rows.len() {
        for change in 1..whole.rows[row].signal.changes.len() {
            let mut recording = whole.clone();
            let mut changes: Vec<Change> = whole.rows[row].signal.changes.iter().collect();
            let taken = changes.remove(change);
            recording.rows[row].signal.changes = changes.into();
            let comparison = expected.compare(&recording, &Rules::default()).unwrap();
            let (first, departure) = comparison.first().unwrap();
            assert_eq!((first.row, departure.scan), (row, taken.scan), "{}", comparison.report());
        }
    }
}

/// A recording as the crate writes it.
fn dumped(recording: &Recording) -> String {
    let mut bytes = Vec::new();
    let mut writer = Writer::new(&mut bytes);
    writer.timescale(1, TimescaleUnit::NS).unwrap();
    writer.add_module("bench").unwrap();
    let mut codes = Vec::new();
    for row in &recording.rows {
        let value = row.signal.changes.first().map(|change| change.value);
        let (kind, width) = match value.unwrap() {
            Value::Bool(_) => (VarType::Wire, 1),
            Value::Real(_) | Value::Lreal(_) => (VarType::Real, 64),
            Value::Enumeration { .. } | Value::String(_) => (VarType::String, 1),
            Value::Signed(..) | Value::Duration(..) => (VarType::Integer, 64),
            _ => (VarType::Reg, 64),
        };
        codes.push((writer.add_var(kind, width, &row.signal.name, None).unwrap(), width));
    }
    writer.upscope().unwrap();
    writer.enddefinitions().unwrap();
    writer.begin(SimulationCommand::Dumpvars).unwrap();
    for (scan, record) in recording.scans.iter().enumerate() {
        if scan > 0 {
            writer.timestamp(record.time_ns as u64).unwrap();
        }
        for (row, (code, width)) in recording.rows.iter().zip(&codes) {
            let Some(change) = row.signal.changes.iter().find(|change| change.scan as usize == scan) else {
                continue;
            };
            match &change.value {
                Value::Bool(level) => writer.change_scalar(*code, *level).unwrap(),
                Value::Real(number) => writer.change_real(*code, f64::from(*number)).unwrap(),
                Value::Lreal(number) => writer.change_real(*code, *number).unwrap(),
                Value::Enumeration { name: Some(name), .. } => writer.change_string(*code, name).unwrap(),
                Value::String(text) => {
                    let text: String = text.iter().map(|code| format!("\\x{code:02x}")).collect();
                    writer.change_string(*code, &text).unwrap();
                }
                other => {
                    let bits = other.to_bits().unwrap();
                    let bits = (0..*width).rev().map(|bit| vcd::Value::from(bits >> bit & 1 == 1));
                    writer.change_vector(*code, bits).unwrap();
                }
            }
        }
        if scan == 0 {
            writer.end().unwrap();
        }
    }
    writer.timestamp(recording.end_ns as u64).unwrap();
    String::from_utf8(bytes).unwrap()
}

proptest! {
    /// Any recording without wide strings, which have no form that writers agree on.
    #[test]
    fn dumps_of_the_crate_are_followed(recording in crate::recorded::any_recording()) {
        let mut recording = recording;
        recording.rows.retain(|row| {
            !matches!(row.signal.changes.first().map(|change| change.value), Some(Value::WideString(_)))
        });
        prop_assume!(!recording.rows.is_empty());
        let text = dumped(&recording);
        let comparison = read(&text, &recording).compare(&recording, &Rules::default()).unwrap();
        prop_assert!(comparison.agrees(), "{}{}", comparison.report(), text);
        prop_assert_eq!(comparison.scans_compared, recording.scans.len());
    }
}

//! Recordings held against traces made of themselves: exported, approved, changed in one place, delayed.

use latchwork_bench::{
    comparison::{CompareError, Comparison, Expected, Rules, Subject, approved},
    export,
    recording::Recording,
};
use latchwork_grammar::{Diagnostic, FileId};
use latchwork_vm::{ElementaryType, Value, trace::Change};
use proptest::prelude::*;

use crate::recordings::{self, MS, Maker, int, step};

fn read(text: &str, recording: &Recording) -> Expected {
    let (expected, diagnostics) = all(text, recording);
    expected.unwrap_or_else(|| panic!("{diagnostics:?}\n{text}"))
}

fn all(text: &str, recording: &Recording) -> (Option<Expected>, Vec<Diagnostic>) {
    Expected::read(FileId(0), text, &subjects(recording))
}

fn subjects(recording: &Recording) -> Vec<Subject> {
    recording.rows.iter().map(Subject::of_row).collect()
}

fn compare(text: &str, recording: &Recording, rules: &Rules) -> Comparison {
    read(text, recording).compare(recording, rules).unwrap()
}

const EXACT: Rules = Rules { shift_ns: 0, tolerance: 0.0, duration_tolerance_ns: 0, from_ns: 0 };

/// The scans in which rows depart, by name.
fn departures(comparison: &Comparison) -> Vec<(&str, u32)> {
    comparison.departures().map(|(row, departure)| (row.name.as_str(), departure.scan)).collect()
}

#[test]
fn a_recording_follows_its_own_exports() {
    for recording in [
        recordings::transfer_pump(),
        recordings::short_pulses(),
        recordings::open_wire(),
        recordings::numbers_and_texts(),
        recordings::noise(),
        recordings::sixty_rows(),
        recordings::single_scan(),
    ] {
        let approved = approved(&recording, &subjects(&recording), 0, &recording.title);
        for text in [export::csv(&recording), export::vcd(&recording), approved] {
            let comparison = compare(&text, &recording, &EXACT);
            assert!(comparison.agrees(), "{}", comparison.report());
            assert_eq!(comparison.scans_compared, recording.scans.len());
            assert_eq!(comparison.extent(), None);
        }
    }
}

#[test]
fn an_approved_trace_holds_changes_only() {
    let mut recording = recordings::transfer_pump();
    recording
        .rows
        .retain(|row| ["Main.Pump", "Main.Batches", "Main.Phase"].contains(&row.signal.name.as_str()));
    insta::assert_snapshot!(approved(&recording, &subjects(&recording), 0, "stop beats start\u{1b}[2J"));
}

#[test]
fn an_approved_trace_may_begin_in_the_middle() {
    let recording = Maker::new("Late", 10 * MS, 100)
        .output("Pump", "%QX0.0", None, &[5, 20, 40])
        .variable("Batches", vec![(0, int(0)), (60, int(1))])
        .finish();
    let from_ns = 300 * MS;
    let text = approved(&recording, &subjects(&recording), from_ns, "from the middle");
    assert_eq!(
        text,
        "# what 'from the middle' did when it was approved\ntime,Pump,Batches\n0,FALSE,0\n100,TRUE,\n300,,1\n700,,\n"
    );
    let rules = Rules { from_ns, ..EXACT };
    assert!(compare(&text, &recording, &rules).agrees());
    let comparison = compare(&text, &recording, &EXACT);
    assert_eq!(departures(&comparison), [("Pump", 5), ("Batches", 30)]);
    assert_eq!((comparison.scans, comparison.scans_compared), (100, 70));
    insta::assert_snapshot!(comparison.report());
}

#[test]
fn late_early_missing_and_extra_changes_are_told() {
    let recording =
        |toggles: &[u32]| Maker::new("Pump", 10 * MS, 60).output("Pump", "%QX0.0", None, toggles).finish();
    let trace = export::csv(&recording(&[20, 40]));
    let mut out = String::new();
    for (what, toggles) in [
        ("late", &[24, 40][..]),
        ("early", &[15, 40]),
        ("missing", &[]),
        ("extra", &[20, 30, 31, 40]),
        ("within the shift", &[22, 38]),
    ] {
        let comparison = compare(&trace, &recording(toggles), &Rules { shift_ns: 20 * MS, ..EXACT });
        out.push_str(&format!("{what}\n{}", comparison.report()));
    }
    insta::assert_snapshot!(out);
}

#[test]
fn a_trace_between_the_scans_departs_in_the_scan_before() {
    let recording = Maker::new("Pump", 10 * MS, 60).output("Pump", "%QX0.0", None, &[20]).finish();
    let comparison = compare("time,Pump\n0,0\nT#194ms,1\nT#1s,\n", &recording, &EXACT);
    let (_, departure) = comparison.first().unwrap();
    assert_eq!((departure.time_ns, departure.scan, departure.scan_ns), (194 * MS, 19, 190 * MS));
    assert!(
        compare("time,Pump\n0,0\nT#194ms,1\n", &recording, &Rules { shift_ns: 6 * MS, ..EXACT }).agrees()
    );
    insta::assert_snapshot!(comparison.report());
}

#[test]
fn values_have_tolerances_and_names() {
    let recording = Maker::new("Values", 10 * MS, 10)
        .variable("Level", vec![(0, Value::Real(1.5)), (4, Value::Real(f32::NAN)), (6, Value::Real(2.0))])
        .variable("Phase", vec![(0, step(0, "Idle")), (5, step(3, "Filling"))])
        .variable("Delay", vec![(0, recordings::time(5 * MS))])
        .variable("Crop", vec![(0, Value::String(b"basil".to_vec()))])
        .finish();
    let rules = Rules { tolerance: 0.25, duration_tolerance_ns: MS, ..EXACT };
    let trace = "time,Level,Phase,Delay,Crop\n0,1.25,IDLE,T#6ms,'basil'\n40,NAN,,,\n50,,Filling,,\n60,2.25,,,\n100,,,,\n";
    assert!(compare(trace, &recording, &rules).agrees());
    let trace =
        "time,Level,Phase,Delay,Crop\n0,1.2,idle,T#6s,'Basil'\n40,0.0,,,\n60,2.25,Filling,,\n100,,,,\n";
    let comparison = compare(trace, &recording, &rules);
    assert_eq!(departures(&comparison), [("Level", 0), ("Phase", 5), ("Delay", 0), ("Crop", 0)]);
    insta::assert_snapshot!(comparison.report());
}

#[test]
fn the_shorter_of_both_ends_the_comparison() {
    let recording = Maker::new("Pump", 10 * MS, 60).output("Pump", "%QX0.0", None, &[20, 50]).finish();
    let comparison = compare("time,Pump\n0,0\n200,1\n300,\n", &recording, &EXACT);
    assert!(comparison.agrees());
    assert_eq!((comparison.scans, comparison.scans_compared), (60, 30));
    assert_eq!(
        comparison.extent().unwrap(),
        "compared up to 300 ms, where the trace ends; the run goes on to 600 ms"
    );
    let comparison = compare("time,Pump\n0,0\n200,1\n500,0\n900,1\n", &recording, &EXACT);
    assert!(comparison.agrees());
    assert!(comparison.extent().unwrap().starts_with("compared up to 600 ms, where the run ends"));
}

#[test]
fn rows_that_were_not_recorded_are_an_error() {
    let recording = recordings::transfer_pump();
    let expected = read(&export::csv(&recording), &recording);
    let mut other = recording;
    other.rows.retain(|row| row.signal.name != "Main.Phase");
    let error = expected.compare(&other, &EXACT).unwrap_err();
    assert_eq!(error, CompareError::NotRecorded("Main.Phase".to_owned()));
}

/// Half a million values within the shift, all alike by tolerance: given up, not waited for.
#[test]
fn a_shift_over_too_many_values_is_an_error() {
    let busy = |scan: u32| (scan, int(i64::from(scan % 2)));
    let recording =
        Maker::new("Busy", MS, 50_000).variable("Trays", (0..50_000).map(busy).collect()).finish();
    let expected = read(&export::csv(&recording), &recording);
    let wide = Rules { shift_ns: 40_000 * MS, tolerance: 5.0, ..EXACT };
    assert_eq!(expected.compare(&recording, &wide).unwrap_err(), CompareError::TooMuch("Trays".to_owned()));
    let long = Rules { shift_ns: 40_000 * MS, ..EXACT };
    assert!(expected.compare(&recording, &long).unwrap().agrees());
}

/// A value that no value of its row is like.
fn other_value(values: &[Change], value: &Value) -> Value {
    let free = |made: &Value| values.iter().all(|change| change.value != *made);
    let numbers = || (1..i64::from(u16::MAX)).map(|number| number * 7);
    match value {
        Value::Bool(level) => Value::Bool(!level),
        Value::Signed(_, kind) => numbers().map(|number| Value::Signed(number, *kind)).find(free).unwrap(),
        Value::Unsigned(_, kind) => {
            numbers().map(|number| Value::Unsigned(number as u64, *kind)).find(free).unwrap()
        }
        Value::Bits(_, kind) => (0..256).map(|bits| Value::Bits(bits, *kind)).find(free).unwrap(),
        Value::Real(_) => numbers().map(|number| Value::Real(number as f32)).find(free).unwrap(),
        Value::Lreal(_) => numbers().map(|number| Value::Lreal(number as f64)).find(free).unwrap(),
        Value::Duration(_, kind) => {
            numbers().map(|number| Value::Duration(number, *kind)).find(free).unwrap()
        }
        Value::Wchar(_) => (1..u16::MAX).map(Value::Wchar).find(free).unwrap(),
        Value::String(_) => {
            numbers().map(|number| Value::String(number.to_string().into_bytes())).find(free).unwrap()
        }
        Value::WideString(_) => numbers()
            .map(|number| Value::WideString(number.to_string().encode_utf16().collect()))
            .find(free)
            .unwrap(),
        Value::Enumeration { .. } => Value::Enumeration { value: 99, name: None },
        other => panic!("no recording of these tests holds {other}"),
    }
}

/// Any recording, its rows named so that each is found again.
pub fn any_recording() -> impl Strategy<Value = Recording> {
    recordings::any_recording().prop_map(|mut recording| {
        for (number, row) in recording.rows.iter_mut().enumerate() {
            row.signal.name = format!("Row{number}");
            row.signal.location = None;
            // Recordings of programs begin with a value for every row.
            if row.signal.changes.is_empty() {
                row.signal.changes.push(0, &Value::Bool(false));
            }
            let plain = |change: Change| Change { value: plain(&change.value), ..change };
            let mut changes: Vec<Change> = row.signal.changes.iter().map(plain).collect();
            changes.dedup_by(|next, change| next.value == change.value);
            row.signal.changes = changes.into();
        }
        recording
    })
}

/// Values that are the same only where they are equal: one zero, one NaN, a name for each number.
fn plain(value: &Value) -> Value {
    match value {
        Value::Real(number) if *number == 0.0 => Value::Real(0.0),
        Value::Lreal(number) if *number == 0.0 => Value::Lreal(0.0),
        Value::Real(number) if number.is_nan() => Value::Real(f32::NAN),
        Value::Lreal(number) if number.is_nan() => Value::Lreal(f64::NAN),
        Value::Enumeration { value, .. } => {
            Value::Enumeration { value: *value, name: Some(format!("Phase{}", *value + 3)) }
        }
        other => other.clone(),
    }
}

/// The recording `scans` scans later, its first values held until then.
fn delayed(recording: &Recording, scans: u32) -> Recording {
    let mut later = recording.clone();
    let count = u32::try_from(recording.scans.len()).unwrap();
    for row in &mut later.rows {
        let delay = |(index, change): (usize, Change)| Change {
            scan: if index == 0 { change.scan } else { change.scan + scans },
            ..change
        };
        let changes = row.signal.changes.iter().enumerate().map(delay);
        row.signal.changes = changes.filter(|change| change.scan < count).collect();
    }
    later
}

proptest! {
    #[test]
    fn any_recording_follows_its_own_exports(recording in any_recording()) {
        prop_assume!(!recording.rows.is_empty());
        let approved = approved(&recording, &subjects(&recording), 0, &recording.title);
        // A dump fills strings up with codes 0, so it can not tell those at their start.
        let zeros = |change: &Change| match &change.value {
            Value::String(codes) => codes.first() == Some(&0),
            Value::WideString(codes) => codes.first() == Some(&0),
            _ => false,
        };
        let dumpable = !recording.rows.iter().any(|row| row.signal.changes.iter().any(|change| zeros(&change)));
        let dump = if dumpable { export::vcd(&recording) } else { export::csv(&recording) };
        for text in [export::csv(&recording), dump, approved] {
            let comparison = compare(&text, &recording, &EXACT);
            prop_assert!(comparison.agrees(), "{}{}", comparison.report(), text);
            prop_assert_eq!(comparison.scans_compared, recording.scans.len());
        }
    }

    /// One value of one scan changed, in the run or in the trace: found at exactly that scan.
    #[test]
    fn one_changed_value_is_found_at_its_scan(
        recording in any_recording(), row in any::<prop::sample::Index>(), scan in any::<prop::sample::Index>(),
        in_trace in any::<bool>(), shift in any::<bool>(),
    ) {
        prop_assume!(!recording.rows.is_empty());
        let (row, scan) = (row.index(recording.rows.len()), scan.index(recording.scans.len()) as u32);
        // What the run shows early behind the end of the trace is nobody's business.
        prop_assume!(!shift || (scan as usize) + 1 < recording.scans.len());
        let mut changed = recording.clone();
        let mut changes: Vec<Change> = changed.rows[row].signal.changes.iter().collect();
        let before = recording.rows[row].signal.value_at(scan);
        let after = recording.rows[row].signal.value_at(scan + 1);
        let other = other_value(&changes, &before);
        changes.retain(|change| change.scan != scan && change.scan != scan + 1);
        changes.push(Change { scan, value: other.clone() });
        if scan as usize + 1 < recording.scans.len() {
            changes.push(Change { scan: scan + 1, value: after });
        }
        changes.sort_by_key(|change| change.scan);
        changes.dedup_by(|next, change| next.value == change.value);
        changed.rows[row].signal.changes = changes.into();
        let (trace, run) = if in_trace { (&changed, &recording) } else { (&recording, &changed) };
        // A shift shorter than a scan excuses no wrong value of a scan, only changes between scans.
        let rules = Rules { shift_ns: if shift { (recording.scan_ns - 1) / 2 } else { 0 }, ..EXACT };
        let comparison = read(&export::csv(trace), trace).compare(run, &rules).unwrap();
        let found = departures(&comparison);
        prop_assert_eq!(found.len(), 1, "{}", comparison.report());
        prop_assert_eq!(found[0].0, recording.rows[row].signal.name.as_str());
        let departure = comparison.rows[row].departure.as_ref().unwrap();
        if rules.shift_ns == 0 {
            prop_assert_eq!((found[0].1, departure.time_ns), (scan, recording.scans[scan as usize].time_ns));
            let (expected, actual) = if in_trace { (&other, &before) } else { (&before, &other) };
            prop_assert_eq!((&departure.expected.value, &departure.actual.value), (expected, actual));
        } else {
            // What the trace has and the run has not is missed when the shift is over.
            prop_assert!((scan..=scan + 1).contains(&found[0].1), "{}", comparison.report());
        }
    }

    /// Delayed by so many scans: agrees with that shift; with one nanosecond less it departs at the first change.
    #[test]
    fn a_delay_needs_a_shift_as_long(recording in any_recording(), scans in 1..6u32, whole in any::<bool>()) {
        let later = delayed(&recording, scans);
        let delay_ns = recording.scan_ns * i64::from(scans);
        let text = if whole {
            export::csv(&recording)
        } else {
            approved(&recording, &subjects(&recording), 0, "")
        };
        let expected = read(&text, &recording);
        let comparison = expected.compare(&later, &Rules { shift_ns: delay_ns, ..EXACT }).unwrap();
        prop_assert!(comparison.agrees(), "{}", comparison.report());
        let shorter = Rules { shift_ns: delay_ns - recording.scan_ns, ..EXACT };
        let comparison = expected.compare(&later, &shorter).unwrap();
        for (row, compared) in recording.rows.iter().zip(&comparison.rows) {
            // The last moment at which the first change was still allowed.
            let first = row.signal.changes.get(1).map(|change| change.scan + scans - 1);
            let first = first.filter(|scan| (*scan as usize) < recording.scans.len());
            prop_assert_eq!(compared.departure.as_ref().map(|departure| departure.scan), first);
        }
    }

    /// Reading what was written: the same values at the same times.
    #[test]
    fn approving_keeps_every_value(recording in any_recording()) {
        let text = approved(&recording, &subjects(&recording), 0, "as it is");
        prop_assert_eq!(&text, &approved(&recording, &subjects(&recording), 0, "as it is"));
        let expected = read(&text, &recording);
        prop_assert_eq!(expected.end_ns, recording.end_ns);
        for (track, row) in expected.tracks.iter().zip(&recording.rows) {
            let read: Vec<(i64, String)> = track
                .values
                .iter()
                .map(|value| (value.time_ns, value.value.as_ref().unwrap().to_string()))
                .collect();
            let recorded: Vec<(i64, String)> = row
                .signal
                .changes
                .iter()
                .map(|change| (recording.scans[change.scan as usize].time_ns, change.value.to_string()))
                .collect();
            prop_assert_eq!(read, recorded);
        }
    }
}

#[test]
fn numbers_of_an_enumeration_without_a_name_are_kept() {
    let nameless = Value::Enumeration { value: 7, name: None };
    let recording = Maker::new("Phase", MS, 10)
        .variable("Phase", vec![(0, step(0, "Idle")), (3, nameless)])
        .variable("Mask", vec![(0, Value::Bits(0xA5, ElementaryType::Byte))])
        .finish();
    let text = approved(&recording, &subjects(&recording), 0, "");
    assert!(text.contains("3,7,\n"), "{text}");
    assert!(compare(&text, &recording, &EXACT).agrees());
}

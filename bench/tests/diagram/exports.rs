//! Exports read back: the dump with an independent reader of the format (crate `vcd`), the table with a general CSV
//! reader, both compared with the recording value by value.

use std::collections::BTreeMap;

use latchwork_bench::export;
use latchwork_bench::recording::{Recording, Role, Row};
use latchwork_vm::{ElementaryType, Value};
use proptest::prelude::*;
use vcd::{Command, IdCode, Parser, ScopeItem, SimulationCommand, TimescaleUnit};

use crate::recordings::{self, MS, Maker, int, step};

#[test]
fn transfer_pump_dump() {
    // Without its timer, whose hundreds of changes nobody would read.
    let mut recording = recordings::transfer_pump();
    recording.rows.retain(|row| row.signal.name != "Main.Fill.ET");
    insta::assert_snapshot!(export::vcd(&recording));
}

#[test]
fn numbers_and_texts_dump() {
    let mut recording = recordings::numbers_and_texts();
    recording.rows.retain(|row| !["Probe", "Trays"].contains(&row.signal.name.as_str()));
    insta::assert_snapshot!(export::vcd(&recording));
}

#[test]
fn short_table() {
    let mut recording = recordings::numbers_and_texts();
    recording.scans.truncate(4);
    for row in &mut recording.rows {
        row.signal.changes = row.signal.changes.iter().filter(|change| change.scan < 4).collect();
    }
    insta::assert_snapshot!(export::csv(&recording));
}

#[test]
fn times_of_a_table_are_exact() {
    let recording = Maker::new("Quick", 2_500_001, 4).variable("Trays", vec![(0, int(1))]).finish();
    assert_eq!(export::csv(&recording), "time,Trays\n0,1\n2.500001,1\n5.000002,1\n7.500003,1\n");
}

#[test]
fn the_dump_has_the_coarsest_exact_unit() {
    let cases = [
        (10 * MS, 100, "10 ms"),
        (MS, 100, "1 ms"),
        (2_500_000, 100, "100 us"),
        (1, 100, "1 ns"),
        (3_600_000 * MS, 3, "100 s"),
        (1_234_567, 2, "1 ns"),
    ];
    for (scan_ns, scans, unit) in cases {
        let recording = Maker::new("Unit", scan_ns, scans).variable("Trays", vec![(0, int(1))]).finish();
        let dump = export::vcd(&recording);
        assert!(dump.contains(&format!("$timescale {unit} $end\n")), "{scan_ns}: {dump}");
    }
}

#[test]
fn an_empty_recording_is_a_header() {
    assert_eq!(export::csv(&recordings::empty()), "time,Start\n");
    let dump = export::vcd(&recordings::empty());
    assert!(dump.ends_with("$enddefinitions $end\n"), "{dump}");
    assert!(Parser::new(dump.as_bytes()).all(|command| command.is_ok()));
}

#[test]
fn names_are_put_into_modules() {
    let recording = Maker::new("Names", MS, 1)
        .device("Start PB", latchwork_bench::recording::Contact::NormallyOpen, None, &[])
        .variable("Main.Fill.ET", vec![(0, int(0))])
        .variable("Main.Grid[1,2].Level", vec![(0, int(1))])
        .variable("Main.Seg[0]", vec![(0, int(2))])
        .variable("%MW3", vec![(0, int(3))])
        .variable("a b", vec![(0, int(4))])
        .variable("a_b", vec![(0, step(5, "On"))])
        .finish();
    let dump = export::vcd(&recording);
    let header = Parser::new(dump.as_bytes()).parse_header().expect("the dump has a header");
    for path in [
        &["station", "Start_PB"][..],
        &["Main", "Fill", "ET"],
        &["Main", "Grid[1,2]", "Level"],
        &["Main", "Seg[0]"],
        &["globals", "MW3"],
        &["globals", "a_b"],
        &["globals", "a_b_2"],
    ] {
        assert!(header.find_var(path).is_some(), "{path:?} in {dump}");
    }
}

/// What a dump says: for each code its width and its values by time, the last one of a time last.
#[derive(Default)]
struct Read {
    unit_ns: u64,
    widths: BTreeMap<IdCode, u32>,
    values: BTreeMap<IdCode, Vec<(u64, Read1)>>,
    last_ns: u64,
}

/// A value as the dump has it.
#[derive(Clone, Debug, PartialEq)]
enum Read1 {
    /// Bits, without leading zeros.
    Bits(String),
    /// The 64 bits of a real.
    Real(u64),
}

fn read(dump: &str) -> Read {
    let mut parser = Parser::new(dump.as_bytes());
    let header = parser.parse_header().expect("the header is well-formed");
    let (quantity, unit) = header.timescale.expect("there is a time unit");
    let unit_ns = match unit {
        TimescaleUnit::S => 1_000_000_000,
        TimescaleUnit::MS => 1_000_000,
        TimescaleUnit::US => 1_000,
        TimescaleUnit::NS => 1,
        other => panic!("unexpected unit {other:?}"),
    };
    let mut read = Read { unit_ns: u64::from(quantity) * unit_ns, ..Read::default() };
    collect_widths(&header.items, &mut read.widths);
    let mut time = 0;
    let mut in_initial = false;
    for command in parser {
        let (code, value) = match command.expect("commands are well-formed") {
            Command::Timestamp(at) => {
                assert!(at >= time, "times rise");
                time = at;
                continue;
            }
            Command::Begin(SimulationCommand::Dumpvars) => {
                in_initial = true;
                continue;
            }
            Command::End(_) => {
                in_initial = false;
                continue;
            }
            Command::ChangeScalar(code, value) => (code, Read1::Bits(value.to_string())),
            Command::ChangeVector(code, bits) => {
                let bits: String = bits.iter().map(|bit| bit.to_string()).collect();
                (code, Read1::Bits(bits))
            }
            Command::ChangeReal(code, value) => {
                (code, Read1::Real(if value.is_nan() { u64::MAX } else { value.to_bits() }))
            }
            other => panic!("unexpected {other:?}"),
        };
        let values = read.values.entry(code).or_default();
        assert_eq!(
            values.is_empty(),
            in_initial,
            "the first values, and only they, stand in the initial dump"
        );
        values.push((time * read.unit_ns, value));
    }
    read.last_ns = time * read.unit_ns;
    read
}

fn collect_widths(items: &[ScopeItem], widths: &mut BTreeMap<IdCode, u32>) {
    for item in items {
        match item {
            ScopeItem::Scope(scope) => collect_widths(&scope.items, widths),
            ScopeItem::Var(var) => {
                assert!(widths.insert(var.code, var.size).is_none(), "codes are all different")
            }
            _ => {}
        }
    }
}

/// The value as the dump ought to have it, worked out apart from the exporter.
fn expected(value: &Value) -> Read1 {
    let number = |bits: u128| Read1::Bits(format!("{bits:b}"));
    let cut = |number: i64, width: u32| number as u64 as u128 & ((1u128 << width) - 1);
    let characters = |characters: Vec<(u64, usize)>| {
        let bits: String =
            characters.iter().map(|(character, width)| format!("{character:0width$b}")).collect();
        let bits = bits.trim_start_matches('0');
        Read1::Bits(if bits.is_empty() { "0" } else { bits }.to_owned())
    };
    let real = |number: f64| Read1::Real(if number.is_nan() { u64::MAX } else { number.to_bits() });
    match value {
        Value::Bool(level) => number(u128::from(*level)),
        Value::Signed(value, ElementaryType::Int) => number(cut(*value, 16)),
        Value::Unsigned(value, _) | Value::Bits(value, _) => number(u128::from(*value)),
        Value::Real(value) => real(f64::from(*value)),
        Value::Lreal(value) => real(*value),
        Value::Duration(value, _) => number(cut(*value, 64)),
        Value::Wchar(value) => number(u128::from(*value)),
        Value::Enumeration { value, .. } => number(cut(i64::from(*value), 32)),
        Value::String(bytes) => characters(bytes.iter().map(|byte| (u64::from(*byte), 8)).collect()),
        Value::WideString(units) => characters(units.iter().map(|unit| (u64::from(*unit), 16)).collect()),
        other => panic!("no recording of these tests holds {other:?}"),
    }
}

/// Width of a row's variable.
fn expected_width(row: &Row) -> u32 {
    let width = |value: &Value| match value {
        Value::Bool(_) => 1,
        Value::Bits(_, ElementaryType::Byte) => 8,
        Value::Signed(_, ElementaryType::Int) | Value::Wchar(_) => 16,
        Value::Enumeration { .. } => 32,
        Value::String(bytes) => bytes.len().max(1) as u32 * 8,
        Value::WideString(units) => units.len().max(1) as u32 * 16,
        _ => 64,
    };
    row.signal.changes.iter().map(|change| width(&change.value)).max().unwrap_or(1)
}

/// The codes of rows in order, as the exporter hands them out: `!`, `"`, `#`…
fn code_of(index: usize) -> IdCode {
    IdCode::from(u64::try_from(index).expect("few rows"))
}

fn assert_dump_tells_the_recording(recording: &Recording) {
    let dump = export::vcd(recording);
    let read = read(&dump);
    assert_eq!(read.widths.len(), recording.rows.len());
    for (index, row) in recording.rows.iter().enumerate() {
        let code = code_of(index);
        assert_eq!(read.widths.get(&code), Some(&expected_width(row)), "{dump}");
        let values: Vec<(u64, Read1)> = row
            .signal
            .changes
            .iter()
            .map(|change| {
                let time = recording.scans[change.scan as usize].time_ns;
                (u64::try_from(time).expect("times count from 0"), expected(&change.value))
            })
            .collect();
        assert_eq!(read.values.get(&code).cloned().unwrap_or_default(), values, "row {index} of {dump}");
    }
    if recording.rows.iter().any(|row| !row.signal.changes.is_empty()) {
        assert_eq!(i128::from(read.last_ns), i128::from(recording.end_ns));
    }
    assert_eq!(dump, export::vcd(recording));
}

#[test]
fn dumps_of_the_examples_tell_the_recordings() {
    for recording in [
        recordings::transfer_pump(),
        recordings::short_pulses(),
        recordings::open_wire(),
        recordings::sixty_rows(),
    ] {
        assert_dump_tells_the_recording(&recording);
    }
}

proptest! {
    #[test]
    fn dumps_of_any_recording_tell_it(recording in recordings::any_recording()) {
        assert_dump_tells_the_recording(&recording);
    }

    #[test]
    fn tables_of_any_recording_tell_it(recording in recordings::any_recording()) {
        let table = export::csv(&recording);
        let mut reader = csv::ReaderBuilder::new().flexible(false).from_reader(table.as_bytes());
        let headers = reader.headers().expect("there is a header").clone();
        let names: Vec<&str> = recording.rows.iter().map(|row| row.signal.name.as_str()).collect();
        prop_assert_eq!(headers.iter().collect::<Vec<_>>(), [&["time"], &names[..]].concat());
        let mut lines = 0;
        for (scan, line) in reader.records().enumerate() {
            let line = line.expect("lines are well-formed");
            // Milliseconds with up to six decimal places are nanoseconds without any.
            let (whole, places) = line[0].split_once('.').unwrap_or((&line[0], ""));
            let time: i64 = format!("{whole}{places:0<6}").parse().expect("the time is a number");
            prop_assert_eq!(time, recording.scans[scan].time_ns);
            for (cell, row) in line.iter().skip(1).zip(&recording.rows) {
                prop_assert_eq!(cell, row.signal.value_at(scan as u32).to_string());
            }
            lines += 1;
        }
        prop_assert_eq!(lines, recording.scans.len());
    }
}

#[test]
fn a_row_of_a_device_lies_in_the_station() {
    let recording = recordings::open_wire();
    assert!(matches!(recording.rows[0].role, Role::Device { .. }));
    let dump = export::vcd(&recording);
    let header = Parser::new(dump.as_bytes()).parse_header().expect("the dump has a header");
    assert!(header.find_var(&["station", "StopPB"]).is_some());
    assert!(header.find_var(&["Main", "Stop"]).is_some());
}

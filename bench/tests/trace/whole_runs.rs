//! Whole runs of a sample: what `latchwork run` writes is a valid expectation of the same run.

use std::sync::Arc;

use latchwork_bench::{
    comparison::{Comparison, Expected, Rules, Subject, approved},
    export,
    recording::Recording,
    replay::{ReplayOptions, replay},
    station::Station,
    stimulus::Stimulus,
};
use latchwork_grammar::{FileId, Sources};
use latchwork_vm::Program;

const STATION: &str = include_str!("../../../samples/transfer-pump/station.toml");
const STIMULUS: &str = include_str!("../../../samples/transfer-pump/stimulus.csv");

struct Pump {
    program: Arc<Program>,
    station: Station,
}

fn pump(name: &str, text: &str) -> Pump {
    let mut sources = Sources::new();
    sources.add(name, text);
    let image = latchwork_compiler::compile(&sources).image.unwrap();
    let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
    Pump { program, station: Station::parse(FileId(0), STATION).0.unwrap() }
}

fn in_text() -> Pump {
    pump("pump.st", include_str!("../../../samples/transfer-pump/pump.st"))
}

impl Pump {
    fn run(&self, stimulus: &str, record: Option<&[&str]>) -> Recording {
        let stimulus = Stimulus::parse(FileId(0), stimulus, &self.program, Some(&self.station)).0.unwrap();
        let record = record.map(|names| names.iter().map(|name| (*name).to_owned()).collect());
        let options = ReplayOptions { record, ..ReplayOptions::default() };
        replay(Arc::clone(&self.program), Some(&self.station), Some(&stimulus), &options).unwrap().recording
    }

    fn subjects(&self, names: &[&str]) -> Vec<Subject> {
        names.iter().map(|name| Subject::find(name, &self.program, Some(&self.station)).unwrap()).collect()
    }

    fn compare(&self, text: &str, names: &[&str], recording: &Recording, rules: &Rules) -> Comparison {
        let (expected, diagnostics) = Expected::read(FileId(0), text, &self.subjects(names));
        let expected = expected.unwrap_or_else(|| panic!("{diagnostics:?}"));
        expected.compare(recording, rules).unwrap()
    }
}

/// Names of all kinds: devices, loads, outputs by name and address, members of instances, with and without program.
const NAMES: [&str; 9] = [
    "StartPB",
    "FloatFull",
    "P1",
    "TransferPump.Pump",
    "Valve",
    "%QX0.2",
    "Prime.ET",
    "TransferPump.Waited",
    "Batches.CV",
];

#[test]
fn exports_of_a_run_are_expectations_of_the_same_run() {
    let pump = in_text();
    let recording = pump.run(STIMULUS, Some(&NAMES));
    for text in [export::csv(&recording), export::vcd(&recording)] {
        let comparison = pump.compare(&text, &NAMES, &recording, &Rules::default());
        assert!(comparison.agrees(), "{}", comparison.report());
        assert_eq!(comparison.scans_compared, recording.scans.len());
    }
}

#[test]
fn what_is_recorded_without_being_asked_for_is_found_by_short_names() {
    let pump = in_text();
    let recording = pump.run(STIMULUS, None);
    let names = ["StartPB", "Pump", "%QX0.0", "Count", "waited"];
    for text in [export::csv(&recording), export::vcd(&recording)] {
        let comparison = pump.compare(&text, &names, &recording, &Rules::default());
        assert!(comparison.agrees(), "{}", comparison.report());
    }
}

#[test]
fn both_languages_follow_one_approved_trace() {
    let in_text = in_text();
    let names = ["Pump", "Valve", "Done", "Waited", "Count"];
    let text = approved(&in_text.run(STIMULUS, Some(&names)), &in_text.subjects(&names), 0, "two batches");
    insta::assert_snapshot!(text.lines().filter(|line| !line.contains("T#")).collect::<Vec<_>>().join("\n"));
    let in_list = pump("pump.il", include_str!("../../../samples/transfer-pump/pump.il"));
    let recording = in_list.run(STIMULUS, Some(&names));
    let comparison = in_list.compare(&text, &names, &recording, &Rules::default());
    assert!(comparison.agrees(), "{}", comparison.report());
}

#[test]
fn a_button_pressed_later_is_a_departure_of_what_follows_it() {
    let pump = in_text();
    let names = ["Valve", "Pump", "Done"];
    let trace = export::csv(&pump.run(STIMULUS, Some(&names)));
    let late = STIMULUS.replace("T#500ms,pressed", "T#530ms,pressed");
    let recording = pump.run(&late, Some(&names));
    let shifted =
        |shift_ns| pump.compare(&trace, &names, &recording, &Rules { shift_ns, ..Rules::default() });
    assert!(shifted(30_000_000).agrees());
    let comparison = shifted(20_000_000);
    let (first, departure) = comparison.first().unwrap();
    assert_eq!((first.name.as_str(), departure.scan), ("Valve", 52));
    insta::assert_snapshot!(comparison.report());
}

/// Every value of one line of the table changed: found in that line's scan.
#[test]
fn a_changed_cell_is_found_at_its_scan() {
    let pump = in_text();
    let names = ["Pump"];
    let recording = pump.run(STIMULUS, Some(&names));
    let table = export::csv(&recording);
    for scan in [0, 1, 57, 131, recording.scans.len() - 1] {
        let lines = table.lines().enumerate().map(|(number, line)| match line.split_once(',') {
            Some((time, cell)) if number == scan + 1 => {
                format!("{time},{}\n", if cell == "TRUE" { "FALSE" } else { "TRUE" })
            }
            _ => format!("{line}\n"),
        });
        let changed: String = lines.collect();
        let comparison = pump.compare(&changed, &names, &recording, &Rules::default());
        let (_, departure) = comparison.first().unwrap();
        assert_eq!((departure.scan as usize, departure.time_ns), (scan, recording.scans[scan].time_ns));
    }
}

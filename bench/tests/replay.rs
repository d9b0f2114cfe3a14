//! Programs run on stations: what devices do, what terminals read, what the program makes of it, scan by scan.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests may stop them")]

mod board;
mod shown;

use std::sync::Arc;

use insta::assert_snapshot;
use latchwork_bench::{
    recording::{Recording, Role},
    replay::{ReplayOptions, Replayed, replay},
    station::Station,
    stimulus::Stimulus,
    wiring::terminal_level,
};
use latchwork_grammar::Sources;
use latchwork_vm::Program;
use proptest::prelude::*;

fn station(text: &str) -> Station {
    let (station, diagnostics) = Station::parse(Sources::new().add("station.toml", text), text);
    station.unwrap_or_else(|| panic!("{}", shown::diagnostics(text, &diagnostics)))
}

fn stimulus(text: &str, program: &Program, station: Option<&Station>) -> Stimulus {
    let (stimulus, diagnostics) =
        Stimulus::parse(Sources::new().add("stimulus.csv", text), text, program, station);
    stimulus.unwrap_or_else(|| panic!("{}", shown::diagnostics(text, &diagnostics)))
}

fn run(
    program: &Arc<Program>,
    station: Option<&Station>,
    text: Option<&str>,
    options: &ReplayOptions,
) -> Replayed {
    let stimulus = text.map(|text| stimulus(text, program, station));
    replay(Arc::clone(program), station, stimulus.as_ref(), options).unwrap()
}

fn until(milliseconds: i64) -> ReplayOptions {
    ReplayOptions { until_ns: Some(milliseconds * 1_000_000), ..ReplayOptions::default() }
}

fn recording_only(names: &[&str], milliseconds: i64) -> ReplayOptions {
    ReplayOptions { record: Some(names.iter().map(|name| name.to_string()).collect()), ..until(milliseconds) }
}

/// The value of a row at a time, as text. The row is found by name; devices, terminals and outputs of one name
/// do not occur in these tests.
fn at(recording: &Recording, name: &str, milliseconds: i64) -> String {
    let row =
        recording.rows.iter().find(|row| row.signal.name == name).unwrap_or_else(|| panic!("no row {name}"));
    let scan = recording.scans.partition_point(|scan| scan.time_ns <= milliseconds * 1_000_000) - 1;
    row.signal.value_at(scan as u32).to_string()
}

fn headings(recording: &Recording) -> Vec<String> {
    recording.rows.iter().map(|row| format!("{} {:?}", row.signal.name, row.role)).collect()
}

/// Inputs 1, 3 and 4 normally open, 2 normally closed, and a lamp on the output of each number.
fn four_devices(fault_of_first: &str) -> String {
    let mut text = String::from("title = \"Board with four inputs\"\n");
    for (number, contact) in [(1, "open"), (2, "closed"), (3, "open"), (4, "open")] {
        text.push_str(&format!(
            "[[device]]\nname = \"B{number}\"\ncontact = \"normally {contact}\"\nterminal = \"%IX0.{number}\"\n"
        ));
        if number == 1 {
            text.push_str(fault_of_first);
        }
        text.push_str(&format!(
            "[[load]]\nname = \"H{number}\"\nkind = \"lamp\"\nterminal = \"%QX0.{number}\"\n"
        ));
    }
    text
}

/// One device after the other for a second each.
const ONE_BY_ONE: &str =
    "time,B1,B2,B3,B4\n0,0,0,0,0\n1000,1,,,\n2000,0,1,,\n3000,,0,1,\n4000,,,0,1\n5000,,,,0\n";

/// The outputs that are on, by number.
fn lit(recording: &Recording, milliseconds: i64) -> Vec<u32> {
    (1..=4).filter(|number| at(recording, &format!("Main.Out{number}"), milliseconds) == "TRUE").collect()
}

#[test]
fn four_inputs_with_one_normally_closed() {
    let program = board::four_inputs();
    let text = four_devices("");
    let station = station(&text);
    let replayed = run(&program, Some(&station), Some(ONE_BY_ONE), &ReplayOptions::default());
    let recording = &replayed.recording;
    assert_eq!(recording.title, "Board with four inputs");
    assert_eq!(recording.scans.len(), 600);
    assert_eq!(recording.end_ns, 6_000_000_000);
    let found: Vec<Vec<u32>> = (0..6).map(|second| lit(recording, second * 1000 + 500)).collect();
    assert_eq!(found, [vec![2], vec![1, 2], vec![], vec![2, 3], vec![2, 4], vec![2]]);
    // The change is seen in the scan of its time, not one later or earlier.
    assert_eq!((lit(recording, 990), lit(recording, 1000)), (vec![2], vec![1, 2]));
    assert!(replayed.fault.is_none() && replayed.missed.is_empty() && replayed.rows_not_applied == 0);
}

#[test]
fn open_wire_parts_device_and_terminal() {
    let program = board::four_inputs();
    let text = four_devices("fault = \"open wire\"\n");
    let station = station(&text);
    let replayed = run(&program, Some(&station), Some(ONE_BY_ONE), &ReplayOptions::default());
    let recording = &replayed.recording;
    let found: Vec<Vec<u32>> = (0..6).map(|second| lit(recording, second * 1000 + 500)).collect();
    assert_eq!(found, [vec![2], vec![2], vec![], vec![2, 3], vec![2, 4], vec![2]]);
    assert_eq!(
        (at(recording, "B1", 1500).as_str(), at(recording, "Main.In1", 1500).as_str()),
        ("TRUE", "FALSE")
    );
    assert!(
        matches!(&recording.rows[0].role, Role::Device { fault: Some(fault), .. } if fault == "open wire")
    );
}

/// A wire that breaks stops what a normally closed contact allows, and a bridged one lets it run on: why a stop is
/// wired normally closed. Common practice, no source.
#[test]
fn every_fault_on_the_normally_closed_device() {
    let program = board::four_inputs();
    for (fault, at_rest, actuated) in
        [("", true, false), ("open wire", false, false), ("shorted", true, true), ("stuck", true, true)]
    {
        let fault = if fault.is_empty() { String::new() } else { format!("fault = \"{fault}\"\n") };
        let text = format!(
            "[[device]]\nname = \"S\"\ncontact = \"normally closed\"\nterminal = \"%IX0.2\"\n{fault}"
        );
        let station = station(&text);
        let replayed = run(&program, Some(&station), Some("time,S\n0,0\n100,pressed\n"), &until(200));
        let level = |milliseconds| at(&replayed.recording, "Main.Out2", milliseconds) == "TRUE";
        assert_eq!((level(50), level(150)), (at_rest, actuated), "{fault}");
    }
}

#[test]
fn default_rows_and_their_order() {
    let text = r#"
[[device]]
name = "StopPB"
contact = "normally closed"
terminal = "Main.Stop"
[[analog]]
name = "Tank"
terminal = "%IW1"
range = [0, 250]
unit = "cm"
raw = [0, 27648]
[[device]]
name = "Spare"
contact = "normally open"
actuated = "turned"
terminal = "%IX5.0"
[[load]]
name = "P1"
kind = "motor"
terminal = "%QX0.0"
fault = "open wire"
[[load]]
name = "H1"
terminal = "%QX0.0"
"#;
    let program = board::every_kind();
    let station = station(text);
    let replayed = run(&program, Some(&station), Some("time,Start\n0,1\n"), &until(50));
    assert_snapshot!(headings(&replayed.recording).join("\n"));
    // The output is TRUE, the pump stands still.
    assert_eq!(at(&replayed.recording, "Main.Pump", 40), "TRUE");
    assert_eq!(at(&replayed.recording, "P1", 40), "FALSE");
}

#[test]
fn asked_rows_in_the_order_asked() {
    let text = four_devices("");
    let station = station(&text);
    let program = board::four_inputs();
    let options = recording_only(&["out2", "%IX0.3", "B1", "H4", "Main.In1", "B1"], 20);
    let replayed = run(&program, Some(&station), None, &options);
    assert_snapshot!(headings(&replayed.recording).join("\n"));
    let options = recording_only(&["Seg[2]", "Mode", "Grid[1,2]", "TrayLimit", "crop"], 20);
    let replayed = run(&board::every_kind(), None, None, &options);
    assert_snapshot!(headings(&replayed.recording).join("\n"));
}

/// A table has the columns that were asked for; a waveform file keeps the full names for its scopes.
#[test]
fn columns_are_named_as_they_were_asked_for() {
    let options = recording_only(&["seg[2]", "Main.Mode", "GRID[1,2]", "%qx0.0"], 20);
    let recording = run(&board::every_kind(), None, None, &options).recording;
    let table = latchwork_bench::export::csv(&recording);
    assert_eq!(table.lines().next(), Some("time,Seg[2],Main.Mode,\"Grid[1,2]\",%QX0.0"));
    let dump = latchwork_bench::export::vcd(&recording);
    let main = dump.find("$scope module Main $end").unwrap();
    assert!(dump.find("Seg[2]").unwrap() > main, "{dump}");
}

#[test]
fn names_to_record_that_nobody_knows() {
    let text = four_devices("");
    let station = station(&text);
    let options = recording_only(&["B11", "In5", "Main.Out2", "%IX7.7", "", "B1"], 20);
    let errors = replay(board::four_inputs(), Some(&station), None, &options).unwrap_err();
    let text: Vec<String> = errors.iter().map(|error| format!("{}: {error}", error.name)).collect();
    assert_snapshot!(text.join("\n"));
}

#[test]
fn impossible_options_are_all_told() {
    let program = board::four_inputs();
    let told = |options: ReplayOptions| {
        let errors = replay(Arc::clone(&program), None, None, &options).unwrap_err();
        errors.iter().map(|error| format!("{}: {error}", error.name)).collect::<Vec<_>>().join("\n")
    };
    let text = [
        told(ReplayOptions { scan_ns: 0, ..until(20) }),
        told(ReplayOptions { scan_ns: -5, record: Some(vec!["x".into()]), ..until(20) }),
        told(until(0)),
        told(until(-1)),
        told(ReplayOptions { scan_ns: 1, ..until(20) }),
        told(ReplayOptions { until_ns: Some(i64::MAX), ..ReplayOptions::default() }),
        told(ReplayOptions { record: Some(vec!["In1".into(); 2001]), ..until(20) }),
    ];
    assert_snapshot!(text.join("\n"));
}

#[test]
fn scans_start_before_the_end() {
    let program = board::four_inputs();
    let scans = |options: ReplayOptions, text: Option<&str>| {
        run(&program, None, text, &options).recording.scans.len()
    };
    assert_eq!(scans(until(5000), None), 500);
    assert_eq!(scans(until(5001), None), 501);
    assert_eq!(scans(until(1), None), 1);
    // One second after the last row, or one second.
    assert_eq!(scans(ReplayOptions::default(), None), 100);
    assert_eq!(scans(ReplayOptions::default(), Some("time,In1\n")), 100);
    assert_eq!(scans(ReplayOptions::default(), Some("time,In1\n0,1\n505,0\n")), 151);
    let odd = ReplayOptions { scan_ns: 7_000_000, ..until(100) };
    let recording = run(&program, None, None, &odd).recording;
    let times: Vec<i64> = recording.scans.iter().map(|scan| scan.time_ns / 1_000_000).collect();
    assert_eq!(times, (0..15).map(|scan| scan * 7).collect::<Vec<_>>());
    assert_eq!(recording.end_ns, 105_000_000);
}

#[test]
fn values_between_two_scans_are_missed_and_told() {
    let program = board::every_kind();
    // Start: one pulse of 2 ms between two scans, one over a scan, then three edges before one scan.
    let text = "time,Start,Level\n0,0,0\n101,1,5\n103,0,7\n104,,9\n206,1,9\n213,0,\n301,1,\n302,0,\n303,1,\n";
    let replayed = run(&program, None, Some(text), &recording_only(&["Start", "Level"], 400));
    let changes = |row: usize| {
        let changes = &replayed.recording.rows[row].signal.changes;
        changes.iter().map(|change| (change.scan, change.value.to_string())).collect::<Vec<_>>()
    };
    let expected = [(0, "FALSE"), (21, "TRUE"), (22, "FALSE"), (31, "TRUE")];
    assert_eq!(changes(0), expected.map(|(scan, value)| (scan, value.to_string())));
    assert_eq!(changes(1), [(0, "0".to_string()), (11, "9".to_string())]);
    let missed: Vec<_> = replayed
        .missed
        .iter()
        .map(|missed| (missed.column.as_str(), missed.count, missed.scan_time_ns))
        .collect();
    assert_eq!(missed, [("Start", 2, 110_000_000), ("Level", 2, 110_000_000)]);
    assert_snapshot!(shown::diagnostics(text, &replayed.warnings()));
}

#[test]
fn rows_after_the_end_are_counted() {
    let program = board::every_kind();
    let replayed = run(&program, None, Some("time,Start\n0,0\n95,1\n100,0\n200,1\n"), &until(100));
    assert_eq!(replayed.rows_not_applied, 3);
}

#[test]
fn restarts_leave_the_panel_as_it_is() {
    let program = board::every_kind();
    let station =
        station("[[device]]\nname = \"StopPB\"\ncontact = \"normally closed\"\nterminal = \"%IX0.1\"\n");
    let text = "time,Start,Level,Enable,Count,restart\n0,1,7,1,9,\n100,,,,,cold\n205,,,,5,warm\n";
    let replayed = run(
        &program,
        Some(&station),
        Some(text),
        &recording_only(&["Scans", "Start", "Stop", "Level", "Enable", "Count", "Pump"], 300),
    );
    let recording = &replayed.recording;
    assert_eq!(
        [
            at(recording, "Main.Scans", 90),
            at(recording, "Main.Scans", 100),
            at(recording, "Main.Scans", 200),
            at(recording, "Main.Scans", 210)
        ],
        ["10", "1", "11", "1"]
    );
    for milliseconds in [50, 150, 250] {
        for (name, value) in [
            ("Main.Start", "TRUE"),
            ("Main.Stop", "TRUE"),
            ("Main.Level", "7"),
            ("Main.Enable", "TRUE"),
            ("Main.Pump", "TRUE"),
        ] {
            assert_eq!(at(recording, name, milliseconds), value, "{name} at {milliseconds} ms");
        }
    }
    // A forced internal variable is initialized like any other; a cell of the same row comes after the restart.
    assert_eq!(
        [at(recording, "Main.Count", 50), at(recording, "Main.Count", 150), at(recording, "Main.Count", 250)],
        ["9", "0", "5"]
    );
}

#[test]
fn a_fault_ends_the_run_and_keeps_the_scans_before_it() {
    let replayed = run(&board::faulty(), None, None, &recording_only(&["Out", "Left", "Quotient"], 1000));
    let fault = replayed.fault.as_ref().unwrap();
    assert_eq!(fault.scan, 3);
    let recording = &replayed.recording;
    assert_eq!(recording.scans.len(), 3);
    assert_eq!(recording.end_ns, 30_000_000);
    assert_eq!(
        [at(recording, "Main.Left", 0), at(recording, "Main.Left", 10), at(recording, "Main.Left", 20)],
        ["3", "2", "1"]
    );
    assert!(recording.rows.iter().all(|row| row.signal.changes.iter().all(|change| change.scan < 3)));
}

#[test]
fn analog_device_in_engineering_units() {
    let text = "[[analog]]\nname = \"Tank\"\nterminal = \"%IW1\"\nrange = [0, 250]\nunit = \"cm\"\nraw = [0, 27648]\nstart = 125\n";
    let program = board::every_kind();
    let replayed = run(
        &program,
        Some(&station(text)),
        Some("time,Tank\n100,250\n200,0.0\n300,1000\n400,-10\n"),
        &until(500),
    );
    let recording = &replayed.recording;
    // Linear arithmetic: 27648 × 125/250, the ends, the end of INT, and 27648 × -10/250 = -1105.92.
    for (milliseconds, device, terminal) in [
        (50, "125.0", "13824"),
        (150, "250.0", "27648"),
        (250, "0.0", "0"),
        (350, "1000.0", "32767"),
        (450, "-10.0", "-1106"),
    ] {
        assert_eq!(at(recording, "Tank", milliseconds), device);
        assert_eq!(at(recording, "Main.Level", milliseconds), terminal);
    }
}

/// Bits that the program reads as part of a word, not one by one.
#[test]
fn contacts_on_the_bits_of_a_word() {
    let text = "[[device]]\nname = \"Low\"\ncontact = \"normally open\"\nterminal = \"%IX2.0\"\n[[device]]\nname = \"High\"\ncontact = \"normally closed\"\nterminal = \"%IX3.1\"\n";
    let program = board::every_kind();
    let station = station(text);
    assert_eq!(station.check(&program), []);
    let replayed = run(&program, Some(&station), Some("time,Low,High\n100,1,\n200,,1\n"), &until(300));
    let recording = &replayed.recording;
    assert_eq!(
        [at(recording, "Main.Level", 50), at(recording, "Main.Level", 150), at(recording, "Main.Level", 250)],
        ["512", "513", "1"]
    );
    assert_eq!(
        [at(recording, "%IX2.0", 50), at(recording, "%IX2.0", 150), at(recording, "%IX3.1", 250)],
        ["FALSE", "TRUE", "FALSE"]
    );
}

#[test]
fn a_station_that_does_not_fit_the_program() {
    let text = r#"
[[device]]
name = "Start"
contact = "normally open"
terminal = "%IX0.0"
[[device]]
name = "A"
contact = "normally open"
terminal = "Strat"
[[device]]
name = "B"
contact = "normally open"
terminal = "Pump"
[[device]]
name = "C"
contact = "normally open"
terminal = "Level"
[[analog]]
name = "D"
terminal = "Enable"
range = [0, 1]
[[device]]
name = "E"
contact = "normally open"
terminal = "%IX7.7"
[[device]]
name = "F"
contact = "normally open"
terminal = "Main.Stop"
[[device]]
name = "G"
contact = "normally open"
terminal = "%IX0.1"
[[load]]
name = "H"
terminal = "Scans"
[[load]]
name = "I"
terminal = "%QX1.0"
[[device]]
name = "J"
contact = "normally open"
terminal = "Seg"
[[load]]
name = "K"
terminal = "Amount"
[[load]]
name = "L"
terminal = "Ready"
range = [0, 100]
unit = "%"
"#;
    let station = station(text);
    let program = board::every_kind();
    assert_snapshot!(shown::diagnostics(text, &station.check(&program)));
    assert!(program.resolve("Amount").is_ok());
    let errors = replay(program, Some(&station), None, &ReplayOptions::default()).unwrap_err();
    assert!(errors.iter().any(|error| error.name == "station-name-clash"));
}

#[test]
fn the_same_run_gives_the_same_recording() {
    let program = board::four_inputs();
    let text = four_devices("");
    let station = station(&text);
    let once = || format!("{:?}", run(&program, Some(&station), Some(ONE_BY_ONE), &ReplayOptions::default()));
    assert_eq!(once(), once());
}

proptest! {
    /// Every terminal reads, in every scan, what the wiring makes of the last state at or before the scan.
    #[test]
    fn terminals_follow_devices(
        steps in prop::collection::vec((0_i64..40, 0_usize..4, any::<bool>()), 0..60),
        scan_ms in 1_i64..15,
        fault in prop::sample::select(vec!["", "fault = \"open wire\"\n", "fault = \"shorted\"\n", "fault = \"stuck\"\nstuck_at = true\n"]),
    ) {
        use std::fmt::Write;
        let program = board::four_inputs();
        let text = four_devices(fault);
        let station = station(&text);
        let mut csv = String::from("time,B1,B2,B3,B4\n");
        let mut time = 0;
        let mut states = Vec::new();
        for (wait, device, state) in steps {
            time += wait;
            let mut cells = ["", "", "", ""];
            cells[device] = if state { "1" } else { "0" };
            writeln!(csv, "{time},{}", cells.join(",")).unwrap();
            states.push((time, device, state));
        }
        let options = ReplayOptions { scan_ns: scan_ms * 1_000_000, ..ReplayOptions::default() };
        let recording = run(&program, Some(&station), Some(&csv), &options).recording;
        prop_assert_eq!(recording.scans.len() as i64, (time + 1000 + scan_ms - 1) / scan_ms);
        for scan in 0..recording.scans.len() as i64 {
            let now = scan * scan_ms;
            for device in 0..4 {
                let state = states.iter().rev().find(|(time, which, _)| *time <= now && *which == device).is_some_and(|(_, _, state)| *state);
                let latchwork_bench::station::DeviceForm::TwoState { contact, stuck_at, .. } = &station.devices[device].form else { unreachable!() };
                let level = terminal_level(*contact, station.devices[device].fault, *stuck_at, state);
                let row = |name: String| recording.rows.iter().find(|row| row.signal.name == name).unwrap().signal.value_at(scan as u32).to_string();
                let word = |level: bool| if level { "TRUE" } else { "FALSE" }.to_string();
                prop_assert_eq!(row(format!("B{}", device + 1)), word(state));
                prop_assert_eq!(row(format!("Main.In{}", device + 1)), word(level));
                prop_assert_eq!(row(format!("Main.Out{}", device + 1)), word(level));
            }
        }
    }
}

/// A recorded trace, read as a stimulus, gives the same recording again.
#[test]
fn a_trace_replayed_gives_the_same_trace() {
    let program = board::every_kind();
    let station = station(
        "[[device]]\nname = \"StopPB\"\ncontact = \"normally closed\"\nterminal = \"%IX0.1\"\n\
         [[analog]]\nname = \"Tank\"\nterminal = \"%IW1\"\nrange = [0, 250]\nraw = [0, 27648]\n",
    );
    let text = "time,StopPB,Tank,Start,Enable\n0,0,12.5,0,1\n105,,100,1,\n195,,,0,\n300,pressed,,,0\n355,released,250,,\n";
    let first = run(&program, Some(&station), Some(text), &until(500)).recording;
    let trace = latchwork_bench::export::csv(&first);
    let file = Sources::new().add("trace.csv", trace.as_str());
    let (stimulus, diagnostics) = Stimulus::parse(file, &trace, &program, Some(&station));
    assert!(diagnostics.iter().all(|diagnostic| diagnostic.name == "stimulus-output"), "{diagnostics:?}");
    let again = replay(program, Some(&station), stimulus.as_ref(), &until(500)).unwrap().recording;
    assert_eq!(latchwork_bench::export::csv(&again), trace);
    assert_eq!(format!("{:?}", again.rows), format!("{:?}", first.rows));
}

/// The sample stations and stimuli that need no program to be read.
#[test]
fn sample_stations_are_read_without_a_word() {
    let samples = concat!(env!("CARGO_MANIFEST_DIR"), "/../samples");
    let mut read = 0;
    for folder in std::fs::read_dir(samples).unwrap() {
        for entry in std::fs::read_dir(folder.unwrap().path()).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|extension| extension == "toml") {
                let text = std::fs::read_to_string(&path).unwrap();
                let file = Sources::new().add("station.toml", text.as_str());
                let (station, diagnostics) = Station::parse(file, &text);
                assert!(station.is_some() && diagnostics.is_empty(), "{}", path.display());
                read += 1;
            }
        }
    }
    assert!(read >= 3, "found {read} stations");
}

/// An analog load has a row of its own behind the output that drives it; a load that is on or off has one with a fault
/// only.
#[test]
fn an_analog_load_is_a_row_of_numbers() {
    let text = r#"
[[load]]
name = "V1"
kind = "valve"
terminal = "Amount"
range = [0, 100]
raw = [0, 27648]
unit = "%"
fault = "stuck"
stuck_at = 12.5
[[load]]
name = "H1"
terminal = "Ready"
fault = "stuck"
stuck_at = true
"#;
    let station = station(text);
    let recording = run(&board::every_kind(), Some(&station), None, &until(50)).recording;
    let loads: Vec<String> = headings(&recording).into_iter().filter(|row| row.contains("stuck")).collect();
    assert_snapshot!(loads.join("\n"));
    assert_eq!((at(&recording, "V1", 40).as_str(), at(&recording, "H1", 40).as_str()), ("12.5", "TRUE"));
    let diagram = latchwork_bench::diagram::Diagram::new(&recording, &Default::default());
    let valve = diagram.rows().find(|row| row.heading.name == "V1").unwrap();
    assert_eq!(valve.heading.details, ["%", "V1 valve, stuck at 12.5", "LREAL"]);
}

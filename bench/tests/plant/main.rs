//! Plants: what is wrong with them, when they run, and what they see and do.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests may stop them")]

mod laws;
#[path = "../shown/mod.rs"]
mod shown;
mod workshop;

use std::sync::Arc;

use insta::assert_snapshot;
use latchwork_bench::{
    export,
    replay::{ReplayOptions, replay},
    station::Station,
    stimulus::Stimulus,
};
use latchwork_grammar::Sources;
use latchwork_vm::{EventKind, FaultKind};

use crate::workshop::{CONTROLLER, PANEL, TANK, program, recording, run, station, values};

/// After the scan at 10 ms, in which the pump starts, the plant runs to 20 ms, and the scan there sees it.
#[test]
fn a_plant_runs_between_scans_and_begins_with_its_initial_values() {
    let station = station(PANEL, TANK).unwrap();
    let names =
        ["P1", "Level", "Raw", "FloatFull", "Float", "Tank.Runs", "tank.opening", "Tank.Elapsed", "Tank.V1"];
    let replayed = run(&station, Some("time,Switch1\n10,1\n"), &recording(&names, 50));
    assert_eq!(values(&replayed, "P1"), ["FALSE", "TRUE", "TRUE", "TRUE", "TRUE"]);
    assert_eq!(
        values(&replayed, "Level"),
        ["40.0", "40.0", "40.02", "40.040000000000006", "40.06000000000001"]
    );
    // The wiring lies between: 10 for each unit, and a normally closed contact.
    assert_eq!(values(&replayed, "Main.Raw"), ["400", "400", "400", "400", "401"]);
    assert_eq!(values(&replayed, "FloatFull"), ["TRUE", "FALSE", "FALSE", "FALSE", "FALSE"]);
    assert_eq!(values(&replayed, "Main.Float"), ["FALSE", "TRUE", "TRUE", "TRUE", "TRUE"]);
    assert_eq!(values(&replayed, "Tank.Runs"), ["0", "1", "2", "3", "4"]);
    assert_eq!(values(&replayed, "Tank.Opening"), ["0.0", "25.0", "25.0", "25.0", "25.0"]);
    assert_eq!(values(&replayed, "Tank.Elapsed"), ["1", "100", "100", "100", "100"]);
    assert!(replayed.plant_fault.is_none() && replayed.plant_events.is_empty());
    // In a picture they have a group of their own, and full names.
    let diagram = latchwork_bench::diagram::Diagram::new(&replayed.recording, &Default::default());
    let group = diagram.groups.iter().find(|group| group.kind.title() == "Plant").unwrap();
    assert_eq!(group.rows[0].heading.name, "Tank.Runs");
    assert_eq!(group.rows[0].heading.role, "plant");
    assert!(export::vcd(&replayed.recording).contains("$scope module Tank $end"));
}

/// By default a recording shows the plant through the devices only.
#[test]
fn the_default_rows_have_nothing_of_the_plant() {
    let station = station(PANEL, TANK).unwrap();
    let options = ReplayOptions { until_ns: Some(20_000_000), ..ReplayOptions::default() };
    let replayed = run(&station, None, &options);
    let names: Vec<&str> = replayed.recording.rows.iter().map(|row| row.name()).collect();
    assert_eq!(
        names,
        [
            "Switch1",
            "Main.Switch",
            "FloatFull",
            "Main.Float",
            "Level",
            "Main.Raw",
            "Main.Pump",
            "Main.Valve",
            "V1"
        ]
    );
}

/// A fault on a wire parts the plant and the controller, not the plant and the device.
#[test]
fn wiring_faults_lie_between_plant_and_controller() {
    let faulty = PANEL
        .replace("name = \"P1\"\n", "name = \"P1\"\nfault = \"stuck\"\nstuck_at = true\n")
        .replace("name = \"Level\"\n", "name = \"Level\"\nfault = \"open wire\"\n");
    let station = station(&faulty, TANK).unwrap();
    let replayed = run(&station, None, &recording(&["Pump", "P1", "Level", "Raw", "Tank.Level"], 30));
    assert_eq!(values(&replayed, "Main.Pump"), ["FALSE", "FALSE", "FALSE"]);
    assert_eq!(values(&replayed, "Tank.Level"), ["40.0", "40.02", "40.040000000000006"]);
    assert_eq!(values(&replayed, "Level"), values(&replayed, "Tank.Level"));
    assert_eq!(values(&replayed, "Main.Raw"), ["0", "0", "0"]);
}

#[test]
fn variables_of_the_plant_are_set_and_outputs_act_at_once() {
    let station = station(PANEL, TANK).unwrap();
    let stimulus = "time,Switch1,Tank.Rate,tank.level\n0,1,,\n20,,5.0,\n30,,,50\n";
    let replayed = run(&station, Some(stimulus), &recording(&["Level", "Raw"], 50));
    // 2 a second, from 20 ms on 5 a second, at 30 ms set.
    assert_eq!(values(&replayed, "Level"), ["40.0", "40.02", "40.040000000000006", "50.0", "50.05"]);
    assert_eq!(values(&replayed, "Main.Raw"), ["400", "400", "400", "500", "500"]);
}

#[test]
fn a_restart_of_the_controller_is_none_of_the_plant() {
    let station = station(PANEL, TANK).unwrap();
    let names = ["Tank.Runs", "Level", "Raw"];
    let replayed =
        run(&station, Some("time,Switch1,restart\n0,1,\n20,,cold\n30,,warm\n"), &recording(&names, 50));
    assert_eq!(values(&replayed, "Tank.Runs"), ["0", "1", "2", "3", "4"]);
    assert_eq!(values(&replayed, "Main.Raw"), ["400", "400", "400", "401", "401"]);
    // Another run begins anew.
    let again =
        run(&station, Some("time,Switch1,restart\n0,1,\n20,,cold\n30,,warm\n"), &recording(&names, 50));
    assert_eq!(format!("{again:?}"), format!("{replayed:?}"));
}

#[test]
fn faults_and_events_of_a_plant_are_its_own() {
    let station = station(PANEL, TANK).unwrap();
    let stimulus = "time,Tank.Divisor\n20,0\n";
    let replayed = run(&station, Some(stimulus), &recording(&["Tank.Runs"], 100));
    assert!(replayed.fault.is_none());
    let fault = replayed.plant_fault.unwrap();
    assert_eq!(fault.kind, FaultKind::DivisionByZero);
    assert_eq!((fault.unit.as_str(), fault.time_ns), ("Tank", 30_000_000));
    assert_eq!(fault.place.unwrap().file, "tank.st");
    // The scan in front of it is there.
    assert_eq!(replayed.recording.scans.len(), 3);

    let stimulus = "time,Tank.Divisor\n20,0\n30,1\n";
    let overflow = TANK.replace("100 / Divisor", "100000 * Divisor");
    let station = self::station(PANEL, &overflow).unwrap();
    let replayed = run(&station, Some(stimulus), &recording(&["Tank.Runs"], 100));
    assert!(replayed.plant_fault.is_none() && replayed.events.is_empty());
    assert_eq!(replayed.plant_events.count(EventKind::Conversion), 9);
    let strict = ReplayOptions { strict: true, ..recording(&["Tank.Runs"], 100) };
    let replayed = run(&station, None, &strict);
    assert_eq!(replayed.plant_fault.unwrap().kind, FaultKind::Event(EventKind::Conversion));
}

/// A loop without end is stopped like one in a program.
#[test]
fn a_plant_has_a_watchdog() {
    let station =
        station(PANEL, &TANK.replace("Opening := V1;", "WHILE Rate > 0.0 DO Opening := V1; END_WHILE;"));
    let replayed = run(&station.unwrap(), None, &recording(&["Tank.Runs"], 100));
    assert_eq!(replayed.plant_fault.unwrap().kind, FaultKind::Watchdog);
    assert_eq!(replayed.recording.scans.len(), 1);
}

/// Integers and REAL, in either direction, and the interval in seconds.
#[test]
fn numbers_of_every_size() {
    let plant = "\
PROGRAM Tank
VAR_INPUT
  V1 : REAL;
  Interval : REAL;
END_VAR
VAR_OUTPUT
  Level : INT;
END_VAR
  Level := REAL_TO_INT(V1 + Interval * 1000.0);
END_PROGRAM
";
    let station = station(PANEL, plant).unwrap();
    let replayed = run(&station, None, &recording(&["Level", "Raw", "Tank.Interval"], 30));
    assert_eq!(values(&replayed, "Level"), ["0.0", "35.0", "35.0"]);
    assert_eq!(values(&replayed, "Main.Raw"), ["0", "350", "350"]);
    assert_eq!(values(&replayed, "Tank.Interval"), ["0.0", "0.01", "0.01"]);
}

/// Every mistake with its message.
#[test]
fn what_is_wrong_with_a_plant_is_told() {
    let variable = |section: &str, declaration: &str| {
        format!("PROGRAM Tank\n{section}\n  {declaration};\nEND_VAR\nEND_PROGRAM\n")
    };
    let several = "PROGRAM Tank\nEND_PROGRAM\nPROGRAM Well\nEND_PROGRAM\n";
    let cases: Vec<(&str, String, String)> = vec![
        ("no program", PANEL.into(), "FUNCTION F : INT\n  F := 1;\nEND_FUNCTION\n".into()),
        ("several programs", PANEL.into(), several.into()),
        ("a program that is not there", PANEL.to_owned() + "program = \"Tnak\"\n", several.into()),
        (
            "a configuration",
            PANEL.into(),
            "CONFIGURATION C\n  TASK T (INTERVAL := T#10ms, PRIORITY := 1);\n  PROGRAM P WITH T : Tank;\nEND_CONFIGURATION\nPROGRAM Tank\nEND_PROGRAM\n".into(),
        ),
        ("a load misspelt", PANEL.into(), variable("VAR_INPUT", "P2 : BOOL")),
        ("an input that is a device", PANEL.into(), variable("VAR_INPUT", "Level : LREAL")),
        ("an output that is a load", PANEL.into(), variable("VAR_OUTPUT", "P1 : BOOL")),
        ("a device misspelt", PANEL.into(), variable("VAR_OUTPUT", "Levle : LREAL")),
        ("nothing like it", PANEL.into(), variable("VAR_OUTPUT", "Weather : LREAL")),
        ("a number for a load", PANEL.into(), variable("VAR_INPUT", "P1 : INT")),
        ("an integer for an analog load", PANEL.into(), variable("VAR_INPUT", "V1 : INT")),
        ("an interval that is none", PANEL.into(), variable("VAR_INPUT", "Interval : INT")),
        ("a BOOL for an analog device", PANEL.into(), variable("VAR_OUTPUT", "Level : BOOL")),
        ("a number for a contact", PANEL.into(), variable("VAR_OUTPUT", "FloatFull : INT")),
        ("bits for an analog device", PANEL.into(), variable("VAR_OUTPUT", "Level : WORD")),
        ("an array", PANEL.into(), variable("VAR_OUTPUT", "Level : ARRAY[0..1] OF LREAL")),
        ("an address", PANEL.into(), variable("VAR", "Level AT %IW7 : INT")),
        (
            "several at once",
            PANEL.into(),
            "PROGRAM Tank\nVAR_INPUT\n  P1, P2 : INT;\nEND_VAR\nVAR_OUTPUT\n  Level : TIME;\nEND_VAR\nEND_PROGRAM\n".into(),
        ),
    ];
    let mut out = String::new();
    for (title, panel, plant) in cases {
        let found = station(&panel, &plant).map(|_| ()).unwrap_err();
        assert!(!found.is_empty());
        // Places are in the station file or in the plant.
        let text = if found[0].primary.span.file.0 == 0 { panel } else { plant };
        out.push_str(&format!("== {title}\n{}", shown::diagnostics(&text, &found)));
    }
    assert_snapshot!(out);
}

#[test]
fn a_program_chosen_by_name_runs_alone() {
    let several = format!("{TANK}\nPROGRAM Well\nVAR_INPUT Nobody : BOOL; END_VAR\nEND_PROGRAM\n");
    let station = station(&(PANEL.to_owned() + "program = \"tank\"\n"), &several).unwrap();
    let replayed = run(&station, None, &recording(&["Tank.Runs"], 30));
    assert_eq!(values(&replayed, "Tank.Runs"), ["0", "1", "2"]);
}

#[test]
fn a_plant_and_a_controller_have_names_of_their_own() {
    let station = station(PANEL, &TANK.replace("PROGRAM Tank", "PROGRAM Main")).unwrap();
    let mut out = shown::diagnostics(PANEL, &station.check(&program(CONTROLLER)));
    let (unconnected, _) = Station::parse(Sources::new().add("station.toml", PANEL), PANEL);
    out.push_str(&shown::diagnostics(PANEL, &unconnected.unwrap().check(&program(CONTROLLER))));
    assert_snapshot!(out);
}

#[test]
fn what_the_plant_drives_is_set_by_nobody_else() {
    let station = station(PANEL, TANK).unwrap();
    let program = program(CONTROLLER);
    let mut out = String::new();
    for text in [
        "time,Level\n0,1\n",
        "time,FloatFull\n0,1\n",
        "time,Raw\n0,1\n",
        "time,Tank.P1\n0,1\n",
        "time,Tank.Interval\n0,T#1s\n",
        "time,Tank.Rtae\n0,1\n",
        "time,Tnak.Rate\n0,1\n",
        "time,Tank.Rate,TANK.rate\n0,1,1\n",
    ] {
        let file = Sources::new().add("stimulus.csv", text);
        let (_, found) = Stimulus::parse(file, text, &program, Some(&station));
        out.push_str(&shown::diagnostics(text, &found));
    }
    for name in ["Tank.Rtae", "Tnak.Rate", "Tank"] {
        let errors = replay(Arc::clone(&program), Some(&station), None, &recording(&[name], 20)).unwrap_err();
        out.push_str(&errors.iter().map(|error| format!("{error}\n")).collect::<String>());
    }
    assert_snapshot!(out);
}

/// A recorded trace, read as a stimulus, gives the same recording again: the plant does what it did.
#[test]
fn a_trace_of_a_plant_is_a_stimulus() {
    let station = station(PANEL, TANK).unwrap();
    let options = recording(&["Switch1", "Level", "FloatFull", "Raw", "P1", "V1", "Tank.Runs"], 100);
    let first = run(&station, Some("time,Switch1\n20,1\n60,0\n"), &options).recording;
    let trace = export::csv(&first);
    let again = run(&station, Some(&trace), &options).recording;
    assert_eq!(export::csv(&again), trace);
}

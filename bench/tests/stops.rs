//! Programs and stations together: stop buttons asked the wrong way round for their contacts, and the sound ones
//! beside them. How contacts read is common practice, no source.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests may stop them")]

use std::{fs, path::Path};

use insta::assert_snapshot;
use latchwork_bench::station::Station;
use latchwork_compiler::compile;
use latchwork_grammar::{Diagnostic, Sources};
use latchwork_vm::Program;

/// The warnings about a program at a station.
fn stops(program: &str, station: &str) -> Vec<Diagnostic> {
    let mut sources = Sources::new();
    sources.add("program.st", program);
    let compilation = compile(&sources);
    assert!(!compilation.has_errors(), "{program}\n{:#?}", compilation.diagnostics);
    let program = Program::load(compilation.image.unwrap(), latchwork_stdlib::natives()).unwrap();
    let file = sources.add("station.toml", station);
    let (station, problems) = Station::parse(file, station);
    assert!(problems.is_empty(), "{problems:#?}");
    station.unwrap().check_stops(&program, &compilation.stops, &compilation.allowances)
}

const DECLARATIONS: &str = "\
PROGRAM Main
VAR_INPUT
    Away : BOOL;
END_VAR
VAR
    Start AT %IX0.0 : BOOL;
    Stop AT %IX0.1 : BOOL;
    Full AT %IX0.2 : BOOL;
    Pump AT %QX0.0 : BOOL;
    Horn AT %QX0.1 : BOOL;
    Run : BOOL;
    Latch : RS;
    Keep : SR;
    Trays : CTU;
END_VAR
";

/// A station with the stop button and the float in the words given.
fn station(stop: &str, terminal: &str) -> String {
    format!(
        "[[device]]\nname = \"StartPB\"\ncontact = \"normally open\"\nterminal = \"%IX0.0\"\n\
         [[device]]\nname = \"StopPB\"\n{stop}\nterminal = \"{terminal}\"\n\
         [[device]]\nname = \"Float\"\ncontact = \"normally open\"\naction = \"maintained\"\nactuated = \"wet\"\n\
         released = \"dry\"\nterminal = \"%IX0.2\"\n"
    )
}

const CLOSED: &str = "contact = \"normally closed\"";
const OPEN: &str = "contact = \"normally open\"";

fn names(body: &str, station: &str) -> usize {
    let found = stops(&format!("{DECLARATIONS}{body}\nEND_PROGRAM\n"), station);
    assert!(found.iter().all(|found| found.name == "station-stop-sense"));
    found.len()
}

/// A body, and how many warnings it gives with a normally closed and with a normally open button.
const BODIES: &[(&str, usize, usize)] = &[
    // Seal-ins.
    ("Pump := (Start OR Pump) AND Stop AND NOT Full;", 0, 1),
    ("Pump := (Start OR Pump) AND NOT Stop AND NOT Full;", 1, 0),
    ("Pump := NOT Stop AND NOT Full AND (Pump OR Start);", 1, 0),
    ("Pump := Start OR Pump AND Stop;", 0, 1),
    ("Pump := Start OR (Pump AND NOT Stop);", 1, 0),
    ("Pump := (Start OR Pump) AND NOT (Full OR Stop);", 1, 0),
    ("Run := (Start OR Run) AND NOT Stop; Pump := Run;", 1, 0),
    ("Pump := ((Start AND NOT Full) OR Pump) AND Stop;", 0, 1),
    // Nothing is kept, or it is not certain.
    ("Pump := Start AND NOT Stop;", 0, 0),
    ("Pump := Start AND Stop;", 0, 0),
    ("Pump := (Start OR Horn) AND NOT Stop;", 0, 0),
    ("Pump := (Start OR Pump) AND (Stop OR Full);", 0, 0),
    ("Pump := Stop OR Pump;", 0, 0),
    ("Horn := NOT Stop;", 0, 0),
    ("Run := NOT Stop; Pump := (Start OR Pump) AND NOT Run;", 0, 0),
    // Reset inputs.
    ("Latch(S := Start, R1 := Stop); Pump := Latch.Q1;", 1, 0),
    ("Latch(S := Start, R1 := NOT Stop); Pump := Latch.Q1;", 0, 1),
    ("Latch(S := Start, R1 := Full OR NOT Stop); Pump := Latch.Q1;", 0, 1),
    ("Keep(S1 := Start, R := Stop); Pump := Keep.Q1;", 1, 0),
    ("Latch(S := Start, R1 := Stop AND Full); Pump := Latch.Q1;", 0, 0),
    ("Latch(S := Stop, R1 := Full); Pump := Latch.Q1;", 0, 0),
    ("Trays(CU := Start, R := Stop, PV := 3); Pump := Trays.Q;", 1, 0),
    // Flags set and reset by statements.
    ("IF Start THEN Run := TRUE; END_IF; IF Stop THEN Run := FALSE; END_IF; Pump := Run;", 1, 0),
    ("IF Start THEN Run := TRUE; ELSIF Stop THEN Run := FALSE; END_IF; Pump := Run;", 1, 0),
    ("IF NOT Stop OR Full THEN Pump := FALSE; ELSIF Start THEN Pump := TRUE; END_IF;", 0, 1),
    ("IF Stop AND Full THEN Run := FALSE; ELSIF Start THEN Run := TRUE; END_IF; Pump := Run;", 0, 0),
    ("IF NOT Stop THEN Pump := FALSE; END_IF; IF Stop AND Start THEN Pump := TRUE; END_IF;", 0, 0),
    ("IF Stop THEN Run := FALSE; END_IF; Run := Start OR Run; Pump := Run;", 0, 0),
    (
        "IF Full THEN IF Stop THEN Run := FALSE; END_IF; END_IF; IF Start THEN Run := TRUE; END_IF; Pump := Run;",
        0,
        0,
    ),
    // In Instruction List.
    ("LD Start\nOR Pump\nANDN Stop\nST Pump", 1, 0),
    ("LD Start\nOR Pump\nAND Stop\nANDN Full\nST Pump", 0, 1),
    ("LD Start\nS Pump\nLD Stop\nR Pump", 1, 0),
    ("LD Start\nS Pump\nLDN Stop\nR Pump", 0, 1),
    ("LD Start\nS Latch\nLDN Stop\nR1 Latch\nLD Latch.Q1\nST Pump", 0, 1),
    // Allowed.
    ("{allow station-stop-sense: the button is to be changed} Pump := (Start OR Pump) AND NOT Stop;", 0, 0),
];

#[test]
fn each_form_of_a_stop_at_each_contact() {
    let mut wrong = String::new();
    for (body, closed, open) in BODIES {
        let found = (names(body, &station(CLOSED, "%IX0.1")), names(body, &station(OPEN, "%IX0.1")));
        if found != (*closed, *open) {
            wrong.push_str(&format!("{body}: {found:?}, not {:?}\n", (closed, open)));
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn only_push_buttons_are_judged() {
    let body = "Pump := (Start OR Pump) AND NOT Stop;";
    for words in [
        "contact = \"normally closed\"\naction = \"maintained\"",
        "contact = \"normally closed\"\nactuated = \"wet\"\nreleased = \"dry\"",
    ] {
        assert_eq!(names(body, &station(words, "%IX0.1")), 0, "{words}");
    }
    let pressed = "contact = \"normally closed\"\nactuated = \"pressed down\"";
    assert_eq!(names(body, &station(pressed, "%IX0.1")), 1);
    // A wiring fault is no fault of the program.
    let broken = "contact = \"normally closed\"\nfault = \"open wire\"";
    assert_eq!(names(body, &station(broken, "%IX0.1")), 1);
}

#[test]
fn terminals_are_found_by_name_too() {
    let body = "Pump := (Start OR Pump) AND NOT Away;";
    assert_eq!(names(body, &station(CLOSED, "Away")), 1);
    assert_eq!(names(body, &station(CLOSED, "Main.Away")), 1);
    assert_eq!(names(body, &station(OPEN, "Away")), 0);
    let global = "VAR_GLOBAL Halt AT %IX0.1 : BOOL; END_VAR\nPROGRAM Main\n\
        VAR_EXTERNAL Halt : BOOL; END_VAR\nVAR Start AT %IX0.0 : BOOL; Pump AT %QX0.0 : BOOL; \
        Full AT %IX0.2 : BOOL; END_VAR\nPump := (Start OR Pump) AND NOT Halt AND NOT Full;\nEND_PROGRAM\n";
    assert_eq!(stops(global, &station(CLOSED, "%IX0.1")).len(), 1);
    assert_eq!(stops(global, &station(OPEN, "%IX0.1")).len(), 0);
    let direct = "PROGRAM Main\n%QX0.0 := (%IX0.0 OR %QX0.0) AND NOT %IX0.1 AND NOT %IX0.2;\nEND_PROGRAM\n";
    assert_eq!(stops(direct, &station(CLOSED, "%IX0.1")).len(), 1);
}

#[test]
fn samples_have_sound_stops() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../samples/transfer-pump");
    let read = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
    for program in ["pump.st", "pump.il"] {
        assert_eq!(stops(&read(program), &read("station.toml")), [], "{program}");
    }
}

#[test]
fn the_message_says_how_the_device_reads() {
    let body = |text: &str| format!("{DECLARATIONS}{text}\nEND_PROGRAM\n");
    let mut out = String::new();
    for (text, contact) in [
        ("Pump := (Start OR Pump) AND NOT Stop;", CLOSED),
        ("Pump := (Start OR Pump) AND Stop;", OPEN),
        ("Latch(S := Start, R1 := Stop); Pump := Latch.Q1;", CLOSED),
        ("Latch(S := Start, R1 := NOT Stop); Pump := Latch.Q1;", OPEN),
    ] {
        for found in stops(&body(text), &station(contact, "%IX0.1")) {
            out.push_str(&format!("{text} {contact}\n{}\n    {}\n", found.message, found.primary.text));
            for label in &found.secondary {
                out.push_str(&format!("    {}\n", label.text));
            }
            for note in &found.notes {
                out.push_str(&format!("    = {note}\n"));
            }
        }
    }
    assert_snapshot!(out);
}

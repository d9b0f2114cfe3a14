//! Why a value is what it is, on every sample, at moments that tell something; and that every random program has reasons
//! that end.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a failing test may panic")]

#[path = "reasons/named.rs"]
mod named;
#[path = "reasons/run.rs"]
mod run;
#[path = "reasons/samples.rs"]
mod samples;

use latchwork_bench::reasons::{Cause, DEPTH, PARTS_MAX, Reason, TextOptions, sentence, text};
use latchwork_compiler::{CompileOptions, compile_with};
use latchwork_grammar::Sources;
use latchwork_tests::{generate::programs::Batch, workbench::sample};
use run::Run;

const PUMP: &str = "time,StartPB,StopPB,FloatFull
0,released,released,dry
T#100ms,pressed,,
T#200ms,released,,
T#2s,,,wet
T#2s500ms,,,dry
T#3s,pressed,,
T#3s100ms,released,,
T#4s,,pressed,
T#4s100ms,,released,
T#5s,pressed,,
T#5s100ms,released,,
T#6s,,,wet
";

#[test]
fn transfer_pump() {
    for file in ["pump.st", "pump.il"] {
        let run = Run::folder("transfer-pump", file, PUMP, 7_000);
        insta::assert_snapshot!(
            format!("transfer_pump_{file}"),
            run.whys(&[
                ("Request", 50),
                ("Request", 500),
                ("Request", 2_200),
                ("Pump", 500),
                ("P1", 1_500),
                ("Valve", 2_300),
                ("Valve", 2_800),
                ("Done", 1_000),
                ("Done", 2_100),
                ("Done", 6_100),
                ("Count", 6_100),
                ("Waited", 500),
                ("StopPB", 4_050),
                ("%QX0.1", 4_050),
                ("Prime.PT", 500),
                ("Pumpe", 500),
                ("Pump", 9_000),
            ])
        );
    }
}

#[test]
fn misting_cycle() {
    let stimulus = sample("misting-cycle/stimulus.csv").unwrap();
    let run = Run::folder("misting-cycle", "misting.st", &stimulus, 5_000);
    insta::assert_snapshot!(run.whys(&[
        ("Idle", 50),
        ("Feed", 50),
        ("Feed", 500),
        ("Idle", 500),
        ("Conveyor", 500),
        ("Conveyor", 700),
        ("Mist", 700),
        ("Mist", 1_050),
        ("Fan", 700),
        ("Fan", 1_000),
        ("Lamp", 1_900),
        ("Trays", 2_200),
        ("Away", 1_700),
        ("Spray.T", 700),
        ("Feeed", 700),
    ]));
}

#[test]
fn plant_tank() {
    let stimulus = sample("plant-tank/stimulus.csv").unwrap();
    for file in ["pump.st", "pump.il"] {
        let run = Run::folder("plant-tank", file, &stimulus, 60_000);
        insta::assert_snapshot!(
            format!("plant_tank_{file}"),
            run.whys(&[
                ("Pump", 5_000),
                ("Wanted", 11_000),
                ("Pump", 55_000),
                ("Level", 5_000),
                ("V1", 20_000)
            ])
        );
    }
}

const LEVELS: &str = "
FUNCTION_BLOCK Valve
VAR_INPUT Open : BOOL; Level : INT; END_VAR
VAR_OUTPUT Coil : BOOL; END_VAR
VAR Seal : BOOL; Wait : TON; END_VAR
  Seal := (Open OR Seal) AND (Level < 90);
  Wait(IN := Seal, PT := T#50ms);
  Coil := Wait.Q;
END_FUNCTION_BLOCK
FUNCTION_BLOCK Line
VAR_INPUT Go : BOOL; Level : INT; END_VAR
VAR_OUTPUT Opened : BOOL; END_VAR
VAR V : Valve; END_VAR
  V(Open := Go AND Level > 10, Level := Level, Coil => Opened);
END_FUNCTION_BLOCK
FUNCTION_BLOCK Site
VAR_INPUT Run : BOOL; L : INT; END_VAR
VAR_OUTPUT Active : BOOL; END_VAR
VAR A : Line; END_VAR
  IF Run THEN
    A(Go := Run, Level := L);
  END_IF;
  Active := A.Opened;
END_FUNCTION_BLOCK
FUNCTION Limited : INT
VAR_INPUT X : INT; END_VAR
  IF X > 80 THEN
    Limited := 80;
  ELSE
    Limited := X;
  END_IF;
END_FUNCTION
PROGRAM Main
VAR
  Start AT %IX0.0 : BOOL;
  E AT %IX0.1 : BOOL;
  Raw AT %IW2 : INT;
  Out AT %QX0.0 : BOOL;
  Mode : INT := 2; Lamp, Tog, Held : BOOL; Level, N : INT;
  S : Site; Ed : R_TRIG; B : SR; D : RS; Pulse : TP; Back : CTD;
  Arr : ARRAY[0..3] OF INT; T : STRING;
END_VAR
VAR RETAIN Kept : INT := 7; END_VAR
  Level := Limited(X := Raw * 2);
  S(Run := Start, L := Level);
  Out := S.Active;
  CASE Mode OF
    1: Lamp := Out;
    2, 3: Lamp := NOT Out;
  ELSE
    Lamp := FALSE;
  END_CASE;
  N := N + 1;
  Ed(CLK := Start);
  IF Ed.Q THEN
    Tog := NOT Tog;
  END_IF;
  B(S1 := Start, R := E);
  D(S := Start, R1 := E);
  Pulse(IN := B.Q1, PT := T#100ms);
  Back(CD := Start, LD := E, PV := 3);
  Arr[N MOD 4] := N;
  IF E THEN
    Held := TRUE;
    T := 'on';
  ELSIF Raw > 100 THEN
    Held := FALSE;
  END_IF;
END_PROGRAM
";

#[test]
fn guards_calls_and_blocks_three_levels_deep() {
    let stimulus = "time,Start,Raw,E,restart\n0,FALSE,20,FALSE,\nT#100ms,TRUE,,,\nT#300ms,,,TRUE,\n\
                    T#400ms,FALSE,60,,\nT#500ms,,,FALSE,\nT#1s,,,,warm\n";
    let run = Run::new("levels.st", LEVELS, None, stimulus, 1_500);
    insta::assert_snapshot!(run.whys(&[
        ("Out", 50),
        ("Out", 250),
        ("Out", 600),
        ("S.A.V.Coil", 250),
        ("S.A.V.Level", 250),
        ("Lamp", 250),
        ("Level", 450),
        ("N", 100),
        ("Tog", 250),
        ("Ed.Q", 50),
        ("Ed.Q", 100),
        ("Ed.Q", 200),
        ("B.Q1", 50),
        ("B.Q1", 250),
        ("B.Q1", 450),
        ("B.Q1", 900),
        ("D.Q1", 350),
        ("Pulse.Q", 150),
        ("Pulse.Q", 250),
        ("Back.Q", 450),
        ("Arr[2]", 250),
        ("Held", 600),
        ("T", 450),
        ("Kept", 1_200),
        ("Mode", 1_200),
        ("Held", 1_200),
    ]));
}

/// The small programs that stand in both languages: what their outputs are at the end of their stimulus.
#[test]
fn samples_in_both_languages() {
    let folder = latchwork_tests::workbench::samples().join("both-languages");
    let mut names: Vec<String> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !name.ends_with(".csv"))
        .collect();
    names.sort();
    for name in names {
        let source = sample(&format!("both-languages/{name}")).unwrap();
        let stem = name.rsplit_once('.').unwrap().0;
        let stimulus = sample(&format!("both-languages/{stem}.csv")).unwrap();
        let run = Run::new(&name, &source, None, &stimulus, 1_000);
        let outputs: Vec<String> = run
            .program
            .variables()
            .filter(|variable| variable.location.as_ref().is_some_and(|place| place.starts_with("%Q")))
            .map(|variable| variable.name)
            .take(2)
            .collect();
        let asked: Vec<(&str, i64)> = outputs.iter().map(|name| (name.as_str(), 900)).collect();
        insta::assert_snapshot!(format!("both_languages_{name}"), run.whys(&asked));
    }
}

/// Reasons are found of every variable of random programs; they keep within their limits and end where they may.
#[test]
fn random_programs_have_reasons_that_end() {
    let mut asked = 0;
    for seed in 0..10 {
        let source = Batch::new(seed).text();
        let mut sources = Sources::new();
        sources.add("random", source.as_str());
        let compiled = compile_with(&sources, &CompileOptions { journal: true, ..CompileOptions::default() });
        if compiled.image.is_none() {
            continue;
        }
        let run = Run::new("random", &source, None, "time\n0\n", 200);
        let reasoner = run.reasoner();
        let scans = run.account.scans();
        for variable in run.program.variables().step_by(7).take(60) {
            for scan in [0, scans / 2, scans.saturating_sub(1)] {
                let explanation = reasoner.reason(&variable.name, scan, DEPTH).unwrap();
                let mut count = 0;
                check(&explanation.reason, scan, &mut count);
                // Leaves are not counted.
                assert!(count < 20 * PARTS_MAX, "{seed} {}: {count}", variable.name);
                assert!(!text(&explanation, &TextOptions { width: 80, ascii: true }).is_empty());
                asked += 1;
            }
        }
    }
    assert!(asked > 400, "{asked}");
}

fn check(reason: &Reason, asked: u32, count: &mut usize) {
    *count += 1;
    assert!(reason.at.scan <= asked);
    assert!(!sentence(reason, asked).is_empty());
    if matches!(
        reason.cause,
        Cause::Device(_) | Cause::Terminal(_) | Cause::Set | Cause::Told | Cause::Deeper
    ) {
        assert!(reason.parts.is_empty());
    }
    reason.parts.iter().for_each(|part| check(part, asked, count));
}

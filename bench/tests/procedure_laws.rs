//! What holds for every procedure, whatever its steps: watching a run changes nothing, a run is the same each time, a run
//! that carries on tells the same first failure, and at the pace of a run that failed the panel is worked in the same scans
//! on any program.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{mem::discriminant, sync::Arc};

use latchwork_bench::{
    procedure::{Outcome, RunOptions, Script, ScriptParts, Verdict},
    recording::Recording,
    station::Station,
};
use latchwork_compiler::compile;
use latchwork_grammar::{FileId, Names, Sources, parse_steps};
use latchwork_vm::Program;
use proptest::prelude::*;

const PROGRAM: &str = include_str!("procedures/panel.st");
const STATION: &str = include_str!("procedures/panel.toml");

fn program() -> Arc<Program> {
    compiled(PROGRAM)
}

/// The same with other times, so that expectations are met at other times.
fn another_program() -> Arc<Program> {
    compiled(&PROGRAM.replace("T#300ms", "T#120ms").replace("T#100ms", "T#70ms"))
}

fn compiled(text: &str) -> Arc<Program> {
    let mut sources = Sources::new();
    sources.add("panel.st", text);
    let image = compile(&sources).image.unwrap();
    Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap())
}

/// What two runs have in common if they are the same: kind and moment of the failure, or the length.
fn essence(outcome: &Outcome, length: bool) -> String {
    let end = if length { format!("{} scans", outcome.scans) } else { String::new() };
    match &outcome.verdict {
        Verdict::Passed => format!("passed {end}"),
        Verdict::Refused(found) => format!("refused {found:?}"),
        Verdict::Failed(failure) => format!(
            "{:?} at {} since {} step {:?} parts {:?} {end}",
            discriminant(&failure.kind),
            failure.time_ns,
            failure.since_ns,
            failure.step,
            failure.parts,
        ),
    }
}

fn condition() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "Pump",
        "NOT Pump",
        "Lamp OR Start",
        "Hold.ET < T#200ms",
        "Starts.CV >= 1",
        "State = Idle",
        "Level > 20.0",
        "Parts < 7 AND NOT Wet",
        "StopPB",
        "P1",
    ])
}

fn duration() -> impl Strategy<Value = String> {
    (0u32..60).prop_map(|tens| format!("T#{}ms", tens * 7))
}

fn step() -> impl Strategy<Value = String> {
    let flat = prop_oneof![
        prop::sample::select(vec![
            "press StartPB;",
            "release StartPB;",
            "press StopPB;",
            "release StopPB;",
            "set Level to 30.0;",
            "ramp Level to 5.0 over T#300ms;",
            "place open wire on StopPB;",
            "place stuck on P1 at TRUE;",
            "clear faults;",
            "restart warm;",
            "restart cold;",
            "set Parts to Parts + 3;",
            "turn Float to wet;",
        ])
        .prop_map(str::to_owned),
        duration().prop_map(|time| format!("wait {time};")),
        duration().prop_map(|time| format!("press StartPB for {time};")),
        condition().prop_map(|condition| format!("expect {condition};")),
        (condition(), duration()).prop_map(|(condition, time)| format!("expect {condition} within {time};")),
        (condition(), duration()).prop_map(|(condition, time)| format!("expect {condition} for {time};")),
        condition().prop_map(|condition| format!("always {condition};")),
        (condition(), condition(), duration())
            .prop_map(|(cause, answer, time)| format!("whenever {cause} then {answer} within {time};")),
        duration().prop_map(|time| format!("expect at most 2 rising edges of Lamp within {time};")),
    ];
    flat.prop_recursive(2, 8, 4, |inner| {
        let steps = prop::collection::vec(inner, 1..4).prop_map(|steps| steps.join("\n    "));
        prop_oneof![
            (1u32..4, steps.clone())
                .prop_map(|(times, steps)| format!("repeat {times} times {steps} end_repeat;")),
            (condition(), steps)
                .prop_map(|(condition, steps)| format!("expect {condition} while {steps} end_while;")),
        ]
    })
}

/// The first of so many scans in which a row of two recordings is not the same.
fn differing(one: &Recording, other: &Recording, scans: usize) -> Option<(String, usize)> {
    one.rows.iter().zip(&other.rows).find_map(|(row, of_other)| {
        let mut all = 0..scans;
        let differs =
            |scan: &usize| row.signal.value_at(*scan as u32) != of_other.signal.value_at(*scan as u32);
        all.find(differs).map(|scan| (row.name().to_owned(), scan))
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn watching_changes_nothing(steps in prop::collection::vec(step(), 1..12)) {
        let text = format!("procedure 'random'\n  {}\nend_procedure\n", steps.join("\n  "));
        let mut sources = Sources::new();
        let file = sources.add("random.steps", &text);
        let mut names = Names::new();
        let parsed = parse_steps(file, &text, &mut names);
        prop_assert!(parsed.diagnostics.is_empty(), "{:#?}", parsed.diagnostics);
        let station = Station::parse(FileId(7), STATION).0.unwrap();
        let files = [parsed.tree];
        let (script, _) = Script::new(ScriptParts {
            files: &files,
            program: program(),
            station: Some(&station),
            sources: &sources,
            names: &names,
        });
        let plain = script.run(0, &RunOptions::default());
        prop_assert!(!matches!(plain.verdict, Verdict::Refused(_)), "{}", essence(&plain, true));
        let again = script.run(0, &RunOptions::default());
        prop_assert_eq!(essence(&plain, true), essence(&again, true));
        let record = Some(["Pump", "P1", "StopPB", "Level"].map(str::to_owned).to_vec());
        let watched = script.run(0, &RunOptions { record: record.clone(), ..RunOptions::default() });
        prop_assert_eq!(essence(&plain, true), essence(&watched, true));
        let recorded = watched.compared.unwrap();
        prop_assert_eq!(recorded.scans.len() as u64, watched.scans);
        let carried = script.run(0, &RunOptions { carry_on: true, record, ..RunOptions::default() });
        prop_assert_eq!(essence(&plain, plain.passed()), essence(&carried, plain.passed()));
        prop_assert!(carried.scans >= plain.scans);
        let brief = script.run(0, &RunOptions { brief: true, ..RunOptions::default() });
        let failed = |outcome: &Outcome| match &outcome.verdict {
            Verdict::Failed(failure) => Some((failure.step, failure.time_ns, failure.scan)),
            _ => None,
        };
        prop_assert_eq!(failed(&plain), failed(&brief));
        prop_assert_eq!((plain.scans, plain.end_ns), (brief.scans, brief.end_ns));
    }

    #[test]
    fn at_the_pace_of_a_run_the_panel_is_worked_in_the_same_scans(steps in prop::collection::vec(step(), 1..8)) {
        // What is expected first comes sooner on the other program.
        let first = "press StartPB for T#20ms;\n  press StopPB;\n  expect NOT Pump within T#500ms;\n  release StopPB;";
        let text = format!("procedure 'random'\n  {first}\n  {}\n  expect Pump AND NOT Pump;\nend_procedure\n", steps.join("\n  "));
        let mut sources = Sources::new();
        let file = sources.add("random.steps", &text);
        let mut names = Names::new();
        let files = [parse_steps(file, &text, &mut names).tree];
        let station = Station::parse(FileId(7), STATION).0.unwrap();
        let script = |program: Arc<Program>| {
            let station = Some(&station);
            Script::new(ScriptParts { files: &files, program, station, sources: &sources, names: &names }).0
        };
        let (one, another) = (script(program()), script(another_program()));
        let Verdict::Failed(failure) = one.run(0, &RunOptions::default()).verdict else {
            return Err(TestCaseError::fail("nothing is TRUE and FALSE"));
        };
        let pace = failure.pace.clone().map(Arc::new);
        prop_assert!(pace.is_some());
        let devices = ["StartPB", "StopPB", "Float", "Level"];
        let all = devices.into_iter().chain(["P1", "H1"]).map(str::to_owned).collect();
        let options = RunOptions { record: Some(all), brief: true, ..RunOptions::default() };
        let by_itself = one.run(0, &options).compared.unwrap();
        let options = RunOptions { pace, ..options };
        let mut own = one.run(0, &options).compared.unwrap();
        let mut other = another.run(0, &options).compared.unwrap();
        // A program at its own pace does what it did, and goes on as long as it was looked at.
        prop_assert_eq!(differing(&by_itself, &own, by_itself.scans.len()), None);
        prop_assert!(own.scans.len() >= by_itself.scans.len());
        if !failure.recording.scans.is_empty() {
            prop_assert_eq!(own.end_ns, failure.recording.end_ns);
        }
        // On another one the devices do the same, as long as no fault stops it.
        own.rows.truncate(devices.len());
        other.rows.truncate(devices.len());
        let scans = own.scans.len().min(other.scans.len());
        prop_assert_eq!(differing(&own, &other, scans), None);
    }
}

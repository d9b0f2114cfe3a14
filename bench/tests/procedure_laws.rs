//! What holds for every procedure, whatever its steps: watching a run changes nothing, a run is the same each time, and
//! a run that carries on tells the same first failure.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{mem::discriminant, sync::Arc};

use latchwork_bench::{
    procedure::{Outcome, RunOptions, Script, ScriptParts, Verdict},
    station::Station,
};
use latchwork_compiler::compile;
use latchwork_grammar::{FileId, Names, Sources, parse_steps};
use latchwork_vm::Program;
use proptest::prelude::*;

const PROGRAM: &str = include_str!("procedures/panel.st");
const STATION: &str = include_str!("procedures/panel.toml");

fn program() -> Arc<Program> {
    let mut sources = Sources::new();
    sources.add("panel.st", PROGRAM);
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
}

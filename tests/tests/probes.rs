//! Expressions about the variables of a program have the values, events and faults outside of it that they have inside.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

mod expressions;

use std::{collections::BTreeSet, sync::Arc};

use expressions::{Setting, TYPES, expression, variable};
use latchwork_compiler::{
    compile,
    probe::{Outside, Probe, ProbeImage, ProgramOutside, Wanted, compile_probes},
};
use latchwork_grammar::{Names, Sources, Span, parse_expression};
use latchwork_vm::{EventLog, Machine, Program};
use proptest::prelude::*;

/// Initial values of the two variables of a type.
fn initial(kind: usize) -> BoxedStrategy<String> {
    let values: &[&str] = match TYPES[kind] {
        "BOOL" => &["TRUE", "FALSE"],
        "TIME" => &["T#0s", "T#25ms", "T#-1h", "T#3d"],
        "REAL" | "LREAL" => &["0.0", "1.5", "-2.25", "1.0E30"],
        "WORD" => &["0", "16#8001", "16#FFFF"],
        "USINT" | "UINT" | "UDINT" => &["0", "1", "7", "255"],
        _ => &["0", "1", "-1", "7", "127", "-128"],
    };
    prop::sample::select(values).prop_map(str::to_owned).boxed()
}

/// Initial values of all variables.
fn values() -> impl Strategy<Value = Vec<(String, String)>> {
    let kinds: Vec<_> = (0..TYPES.len()).map(|kind| (initial(kind), initial(kind))).collect();
    kinds
}

/// A program with these values, and one statement more, for a result of a type.
fn program(values: &[(String, String)], kind: usize, statement: &str) -> Machine {
    let mut text =
        String::from("PROGRAM Main\nVAR\n  Seg : ARRAY[0..7] OF INT := [1, 0, -3, 5(4)];\n  Timer : TON;\n");
    for (number, (first, second)) in values.iter().enumerate() {
        let name = TYPES[number];
        text.push_str(&format!("  {} : {name} := {first};\n", variable(number, 0)));
        text.push_str(&format!("  {} : {name} := {second};\n", variable(number, 1)));
    }
    text.push_str(&format!("  outcome : {};\nEND_VAR\n", TYPES[kind]));
    text.push_str(&format!("Timer(IN := TRUE, PT := T#15ms);\n{statement}\nEND_PROGRAM\n"));
    let mut sources = Sources::new();
    sources.add("main.st", text);
    let compiled = compile(&sources);
    let Some(image) = compiled.image else {
        panic!("{}", latchwork_tests::workbench::text(&compiled.diagnostics, &sources));
    };
    Machine::new(Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap()))
}

/// Compiles texts, each for something.
fn probes(texts: &[(&str, Wanted)], outside: &dyn Outside) -> Result<ProbeImage, String> {
    let (mut sources, mut names) = (Sources::new(), Names::new());
    let written: Vec<_> = texts
        .iter()
        .map(|(text, wanted)| {
            let file = sources.add("case.steps", *text);
            (parse_expression(file, text, &mut names).unwrap(), wanted.clone())
        })
        .collect();
    let probes: Vec<Probe<'_>> =
        written.iter().map(|(expression, wanted)| Probe { expression, wanted: wanted.clone() }).collect();
    let (image, diagnostics) = compile_probes(&probes, outside, &sources, &mut names);
    image.ok_or_else(|| latchwork_tests::workbench::text(&diagnostics, &sources))
}

/// A machine for the probes whose inputs are what another machine has.
fn filled(probes: &ProbeImage, watched: &Machine) -> Machine {
    let program = Program::load(probes.image.clone(), latchwork_stdlib::natives()).unwrap();
    let mut machine = Machine::new(Arc::new(program));
    for input in probes.plans.iter().flat_map(|plan| &plan.inputs) {
        let value = watched.read(&watched.program().resolve(&input.path).unwrap());
        machine.write(&input.place, &value).unwrap();
    }
    machine
}

fn kinds(events: &EventLog) -> BTreeSet<&'static str> {
    events.iter().map(|event| event.kind.name()).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn an_expression_outside_is_what_it_is_inside(
        (kind, text) in (0..TYPES.len()).prop_flat_map(|kind| (Just(kind), expression(kind, Setting::Outside))),
        values in values(),
    ) {
        let mut inside = program(&values, kind, &format!("outcome := {text};"));
        let mut watched = program(&values, kind, "");
        let shared = Arc::clone(watched.program());
        let outside = ProgramOutside(&shared);
        let wanted = match TYPES[kind] {
            "BOOL" => Wanted::Bool,
            _ => Wanted::Value { kind: outside.kind("outcome").unwrap().unwrap(), target: Span::default() },
        };
        let image = probes(&[(text.as_str(), wanted)], &outside).map_err(TestCaseError::fail)?;
        let [plan] = image.plans.as_slice() else { return Err(TestCaseError::fail("one plan")) };
        for scan in 0..3 {
            let now = scan * 10_000_000;
            inside.clear_events();
            let expected = inside.scan(now);
            watched.scan(now).unwrap();
            let mut called = filled(&image, &watched);
            let mut explained = called.clone();
            match (expected, called.run_program(plan.call, now), explained.run_program(plan.explain, now)) {
                (Ok(_), Ok(_), Ok(_)) => {
                    let outcome = inside.read(&inside.program().resolve("outcome").unwrap());
                    prop_assert_eq!(called.read(&plan.result), outcome.clone());
                    prop_assert_eq!(explained.read(&plan.result), outcome);
                    prop_assert_eq!(kinds(called.events()), kinds(inside.events()));
                    prop_assert_eq!(kinds(explained.events()), kinds(inside.events()));
                }
                (Err(expected), Err(called), Err(explained)) => {
                    prop_assert_eq!(expected.kind, called.kind);
                    prop_assert_eq!(&expected.values, &called.values);
                    prop_assert_eq!(expected.kind, explained.kind);
                    break;
                }
                (expected, called, explained) => {
                    let all = format!("{expected:?} {called:?} {explained:?}");
                    return Err(TestCaseError::fail(all));
                }
            }
            // A part has the value that its text has alone, unless its literals have another type there, or none.
            for part in &plan.parts {
                let Ok(alone) = probes(&[(part.text.as_str(), Wanted::Any)], &outside) else { continue };
                let result = &alone.plans[0].result;
                if result.kind == part.place.kind {
                    let mut machine = filled(&alone, &watched);
                    machine.run_program(alone.plans[0].call, now).unwrap();
                    prop_assert_eq!(explained.read(&part.place), machine.read(result), "{}", part.text);
                }
            }
        }
    }
}

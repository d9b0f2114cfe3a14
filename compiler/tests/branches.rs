//! CASE and FOR against models: random labels for every value of a type, loops with random constant bounds.
//!
//! Source of the rules: IEC 61131-3:2013, 7.3.3.3.2 and 7.3.3.4.2; which value the control variable has behind a loop is
//! our choice.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use std::{fmt::Write as _, sync::Arc};

use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use latchwork_vm::{Dispatcher, Machine, Program, Value};
use proptest::prelude::*;

/// Runs one scan of a program with both dispatchers and reads integer variables.
fn run(text: &str, names: &[String]) -> [Vec<i128>; 2] {
    let mut sources = Sources::new();
    sources.add("branches.st", text);
    let compilation = compile(&sources);
    let Some(image) = compilation.image else { panic!("{text}\n{:?}", compilation.diagnostics) };
    let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
    [Dispatcher::best(), Dispatcher::Matched].map(|dispatcher| {
        let mut machine = Machine::with_dispatcher(Arc::clone(&program), dispatcher);
        machine.scan(0).unwrap();
        let number = |name: &String| match machine.read(&machine.program().resolve(name).unwrap()) {
            Value::Signed(number, _) => i128::from(number),
            Value::Unsigned(number, _) => i128::from(number),
            other => panic!("{name} is {other:?}"),
        };
        names.iter().map(number).collect()
    })
}

/// For each value from -128 to 127 the number of its group, 0 for none: long runs and single values, so that there are
/// labels of all kinds.
fn groups() -> impl Strategy<Value = Vec<u8>> {
    let run = (0u8..6, prop_oneof![3 => 1usize..4, 1 => 1usize..90, 1 => 1usize..300]);
    prop::collection::vec(run, 1..60).prop_map(|runs| {
        let mut all: Vec<u8> = runs.into_iter().flat_map(|(group, count)| vec![group; count]).collect();
        all.resize(256, 0);
        all
    })
}

fn case_program(groups: &[u8]) -> String {
    let mut labels = vec![Vec::new(); 6];
    let mut start = 0;
    while start < groups.len() {
        let end = (start..groups.len()).find(|at| groups[*at] != groups[start]).unwrap_or(groups.len());
        let (first, last) = (start as i32 - 128, end as i32 - 129);
        labels[usize::from(groups[start])].push(if first == last {
            first.to_string()
        } else {
            format!("{first}..{last}")
        });
        start = end;
    }
    let mut cases = String::new();
    for (group, labels) in labels.iter().enumerate().skip(1).filter(|(_, labels)| !labels.is_empty()) {
        writeln!(cases, "    {}: found := {group};", labels.join(", ")).unwrap();
    }
    if cases.is_empty() {
        cases.push_str("    0: found := 0;\n");
    }
    format!(
        "PROGRAM Main\nVAR i : INT; found : INT; all : ARRAY[-128..127] OF INT; END_VAR\n\
         FOR i := -128 TO 127 DO\n  found := 9;\n  CASE INT_TO_SINT(i) OF\n{cases}  ELSE found := 0;\n  END_CASE;\n\
         all[i] := found;\nEND_FOR;\nEND_PROGRAM\n"
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn every_value_finds_its_group(groups in groups()) {
        let names: Vec<String> = (-128..128).map(|value| format!("Main.all[{value}]")).collect();
        let wanted: Vec<i128> = groups.iter().map(|group| i128::from(*group)).collect();
        for found in run(&case_program(&groups), &names) {
            prop_assert_eq!(&found, &wanted);
        }
    }

    #[test]
    fn loops_with_constant_bounds_run_as_often_as_they_must(
        bounds in prop::collection::vec((-128i32..128, -128i32..128, prop_oneof![-128i32..0, 1i32..128]), 1..12),
    ) {
        let mut text = String::from("PROGRAM Main\nVAR i : SINT; after, passes, sum : ARRAY[0..11] OF DINT; END_VAR\n");
        let mut wanted = Vec::new();
        for (index, (from, to, by)) in bounds.iter().enumerate() {
            writeln!(
                text,
                "FOR i := {from} TO {to} BY {by} DO\n  passes[{index}] := passes[{index}] + 1;\n  \
                 sum[{index}] := sum[{index}] + SINT_TO_DINT(i);\nEND_FOR;\nafter[{index}] := SINT_TO_DINT(i);"
            ).unwrap();
            let (mut value, mut passes, mut sum) = (*from, 0, 0);
            while if *by > 0 { value <= *to } else { value >= *to } {
                (passes, sum) = (passes + 1, sum + value);
                // The loop ends where the control variable would leave its type.
                let next = value + by;
                if !(-128..128).contains(&next) {
                    break;
                }
                value = next;
            }
            wanted.extend([value, passes, sum].map(i128::from));
        }
        text.push_str("END_PROGRAM\n");
        let names: Vec<String> = (0..bounds.len())
            .flat_map(|index| ["after", "passes", "sum"].map(|name| format!("Main.{name}[{index}]")))
            .collect();
        for found in run(&text, &names) {
            prop_assert_eq!(&found, &wanted);
        }
    }
}

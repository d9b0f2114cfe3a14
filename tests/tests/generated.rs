//! Programs made at random: what the checker accepts is lowered to an image that the verifier accepts, and both
//! dispatchers make the same of it, byte for byte and instruction for instruction.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

mod expressions;

use expressions::{Setting, TYPES, variable};
use latchwork_compiler::{CompileOptions, compile};
use latchwork_grammar::Sources;
use latchwork_tests::observation::unchanged;
use latchwork_vm::{Dispatcher, Image, Machine, Program};
use proptest::prelude::*;

fn declarations() -> String {
    let mut text =
        String::from("  Seg : ARRAY[0..7] OF INT;\n  Timer : TON;\n  Counter : CTU;\n  Mix : Mixer;\n");
    for (kind, name) in TYPES.iter().enumerate() {
        text.push_str(&format!("  {}, {} : {name};\n", variable(kind, 0), variable(kind, 1)));
    }
    text
}

const UNITS: &str = "\
FUNCTION Twice : INT VAR_INPUT x : INT; END_VAR Twice := x * 2; END_FUNCTION
FUNCTION_BLOCK Mixer VAR_INPUT a : INT; END_VAR VAR_OUTPUT sum : DINT; END_VAR VAR_IN_OUT io : INT; END_VAR
  sum := sum + a; io := io + 1; END_FUNCTION_BLOCK
";

/// An operand or an operation of a type, in a program.
fn expression(kind: usize) -> BoxedStrategy<String> {
    expressions::expression(kind, Setting::Program)
}

fn assignment() -> BoxedStrategy<String> {
    (0..TYPES.len())
        .prop_flat_map(|kind| {
            expression(kind).prop_map(move |value| format!("{} := {value};", variable(kind, 0)))
        })
        .boxed()
}

fn statement() -> BoxedStrategy<String> {
    let simple = prop_oneof![
        6 => assignment(),
        1 => expression(0).prop_map(|input| format!("Timer(IN := {input}, PT := T#30ms);")),
        1 => expression(0).prop_map(|input| format!("Counter(CU := {input}, PV := 3, CV => int_0);")),
        1 => expression(2).prop_map(|a| format!("Mix(a := {a}, io := Seg[2], sum => dint_0);")),
        1 => assignment().prop_map(|line| format!("FOR uint_1 := 1 TO 3 DO {line} END_FOR;")),
        1 => expression(2).prop_map(|value| format!("Seg[int_1 MOD 4 + 4] := {value};")),
    ];
    simple
        .prop_recursive(2, 8, 3, |inner| {
            let body = prop::collection::vec(inner, 1..3).prop_map(|lines| lines.join(" "));
            prop_oneof![
                (expression(0), body.clone(), body.clone())
                    .prop_map(|(c, a, b)| format!("IF {c} THEN {a} ELSE {b} END_IF;")),
                // Inner loops leave the counter at its end, so that outer ones end too.
                body.clone().prop_map(|a| {
                    format!("uint_1 := 0; REPEAT uint_1 := uint_1 + 1; {a} UNTIL uint_1 >= 3 END_REPEAT;")
                }),
                (body.clone(), body).prop_map(|(a, b)| format!("CASE int_0 OF 0..5: {a} 9: {b} END_CASE;")),
            ]
        })
        .boxed()
}

/// State after each scan, instruction counts and the fault, if there was one.
fn trace(image: &Image, dispatcher: Dispatcher) -> Vec<(Vec<u8>, Result<u64, String>)> {
    let program = Program::load(image.clone(), latchwork_stdlib::natives()).unwrap();
    let mut machine = Machine::with_dispatcher(program.into(), dispatcher);
    (0..4)
        .map(|scan| {
            let result = machine.scan(scan * 10_000_000);
            let result = result.map(|summary| summary.instructions).map_err(|fault| format!("{fault:?}"));
            (machine.state().concat(), result)
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn accepted_programs_load_and_both_dispatchers_agree(body in prop::collection::vec(statement(), 1..12)) {
        let source = format!("{UNITS}PROGRAM Main\nVAR\n{}END_VAR\n{}\nEND_PROGRAM\n", declarations(), body.join("\n"));
        let mut sources = Sources::new();
        sources.add("generated.st", source.as_str());
        let compiled = compile(&sources);
        let Some(image) = compiled.image else {
            let shown = latchwork_tests::workbench::text(&compiled.diagnostics, &sources);
            return Err(TestCaseError::fail(format!("the generator writes correct programs\n{shown}")));
        };
        prop_assert_eq!(trace(&image, Dispatcher::Matched), trace(&image, Dispatcher::Threaded));
        // Measuring coverage changes nothing that can be seen.
        let observed = unchanged(&sources, &CompileOptions::default()).map_err(TestCaseError::fail)?;
        let observed = observed.image.unwrap();
        prop_assert_eq!(trace(&image, Dispatcher::Matched), trace(&observed, Dispatcher::Threaded));
        let read_back = Image::from_bytes(&image.to_bytes().unwrap()).unwrap();
        prop_assert_eq!(read_back, image);
    }
}

//! How many instructions a scan costs: the size of generated code is a promise, not an accident.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

use std::{fmt::Write as _, sync::Arc};

use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use latchwork_vm::{Machine, Program};

/// Instructions of the second scan of a program.
fn instructions(text: &str) -> u64 {
    let mut sources = Sources::new();
    sources.add("cost.st", text);
    let compilation = compile(&sources);
    assert!(compilation.image.is_some(), "{:?}", compilation.diagnostics);
    let program = Program::load(compilation.image.unwrap(), latchwork_stdlib::natives()).unwrap();
    let mut machine = Machine::new(Arc::new(program));
    machine.scan(0).unwrap();
    machine.scan(10_000_000).unwrap().instructions
}

#[test]
fn a_seal_in_rung_is_three_instructions_and_the_return() {
    let text = include_str!("lower/seal_in.st");
    assert_eq!(instructions(text), 4);
}

#[test]
fn two_hundred_rungs_cost_one_instruction_an_operator() {
    // The rungs have 3 or 4 contacts, every third one normally closed.
    let mut text =
        String::from("PROGRAM Main\nVAR\nx : ARRAY[0..63] OF BOOL;\ny : ARRAY[0..199] OF BOOL;\nEND_VAR\n");
    let mut operators = 0;
    for rung in 0..200 {
        let contact = |number: usize| {
            let not = if (rung + number).is_multiple_of(3) { "NOT " } else { "" };
            format!("{not}x[{}]", (rung * 7 + number * 13) % 64)
        };
        let (a, b, c, d) = (contact(0), contact(1), contact(2), contact(4));
        if rung % 2 == 0 {
            writeln!(text, "y[{rung}] := ({a} OR y[{rung}]) AND {b} AND {c};").unwrap();
        } else {
            writeln!(text, "y[{rung}] := {a} AND {b} OR {c} AND {d};").unwrap();
        }
        operators += 3;
    }
    text.push_str("END_PROGRAM\n");
    let cost = instructions(&text);
    // A negation is part of the operator unless both operands have one.
    assert!(cost <= operators + 40, "{cost} instructions for {operators} operators");
    assert!(cost > operators, "every operator is executed");
}

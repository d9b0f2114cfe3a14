//! Programs beyond the limits of the machine: each gets a diagnostic, quickly and without the memory it asks for.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

use std::fmt::Write as _;

use latchwork_compiler::{Compilation, SAME_NAME_MAX, compile, lower::CATALOGUE};
use latchwork_grammar::{Severity, Sources};
use latchwork_vm::{Machine, Program};

fn compiled(text: &str) -> Compilation {
    let mut sources = Sources::new();
    sources.add("limits.st", text);
    compile(&sources)
}

fn errors(text: &str) -> Vec<&'static str> {
    let diagnostics = compiled(text).diagnostics;
    diagnostics.iter().filter(|one| one.severity == Severity::Error).map(|one| one.name).collect()
}

fn program(declarations: &str, body: &str) -> String {
    format!("PROGRAM Main\nVAR\n{declarations}\nEND_VAR\n{body}\nEND_PROGRAM\n")
}

#[test]
fn a_huge_array_is_refused_where_it_is_declared() {
    let text = program("a : BOOL;\nbig : ARRAY[0..2000000000] OF LREAL;", "a := TRUE;");
    let result = compiled(&text);
    let error = result.diagnostics.iter().find(|one| one.name == "data-too-large").unwrap();
    assert_eq!(error.message, "`big` needs 16000000008 bytes of memory");
    assert_eq!(text.get(..error.primary.span.start as usize).unwrap().matches('\n').count(), 3);
    assert!(result.image.is_none());
}

#[test]
fn sizes_that_overflow_64_bits_are_refused() {
    let all = "0..2000000000";
    let text = program(&format!("big : ARRAY[{all}, {all}, {all}] OF LREAL; x : BOOL;"), "x := TRUE;");
    assert_eq!(errors(&text), ["data-too-large"]);
}

#[test]
fn many_arrays_that_fit_one_by_one_are_refused_together() {
    let mut declarations = String::new();
    for number in 0..20 {
        writeln!(declarations, "v{number} : ARRAY[1..1000000] OF LREAL;").unwrap();
    }
    assert_eq!(errors(&program(&declarations, "v1[1] := 1.0;")), ["data-too-large"]);
}

#[test]
fn a_large_array_that_fits_runs() {
    let text = program("v : ARRAY[1..1000000] OF LREAL := [1000000(2.5)]; x : LREAL;", "x := v[999999];");
    let image = compiled(&text).image.unwrap();
    let program = std::sync::Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
    let mut machine = Machine::new(std::sync::Arc::clone(&program));
    machine.scan(0).unwrap();
    assert_eq!(machine.read(&program.resolve("x").unwrap()).to_string(), "2.5");
}

#[test]
fn deeply_nested_types_are_refused() {
    let mut text = String::from("TYPE T0 : STRUCT x : INT; END_STRUCT; END_TYPE\n");
    for level in 1..400 {
        writeln!(text, "TYPE T{level} : STRUCT inner : T{}; END_STRUCT; END_TYPE", level - 1).unwrap();
    }
    text.push_str(&program("a : T399; b : INT;", "b := 1;"));
    assert_eq!(errors(&text), ["type-nesting"]);
}

#[test]
fn deep_chains_of_calls_are_refused() {
    let mut text = String::from("FUNCTION F0 : INT\nVAR_INPUT x : INT; END_VAR\nF0 := x;\nEND_FUNCTION\n");
    for level in 1..300 {
        let below = level - 1;
        writeln!(
            text,
            "FUNCTION F{level} : INT\nVAR_INPUT x : INT; END_VAR\nF{level} := F{below}(x);\nEND_FUNCTION"
        )
        .unwrap();
    }
    text.push_str(&program("b : INT;", "b := F299(1);"));
    assert_eq!(errors(&text), ["call-depth"]);
}

#[test]
fn too_many_located_bits_are_refused() {
    let text = program("b AT %MX0.0 : ARRAY[0..2000000] OF BOOL;", "b[0] := TRUE;");
    assert_eq!(errors(&text), ["data-too-large"]);
}

#[test]
fn a_long_chain_of_operators_needs_no_deep_stack() {
    let mut body = String::from("x := a");
    for _ in 0..100 {
        body.push_str(" + a - a");
    }
    body.push(';');
    let image = compiled(&program("x, a : INT := 1;", &body)).image.unwrap();
    Program::load(image, latchwork_stdlib::natives()).unwrap();
}

#[test]
fn every_name_is_in_the_catalogue_once() {
    let mut names: Vec<&str> = CATALOGUE.iter().map(|(name, _)| *name).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), CATALOGUE.len());
    for name in ["data-too-large", "type-nesting", "call-depth"] {
        assert!(names.contains(&name));
    }
}

/// Texts that took a time that grew with the square of their length, or more. Each is long enough for a test
/// build to need minutes if that came back.
#[test]
fn long_texts_take_a_time_in_proportion_to_their_length() {
    const COUNT: usize = 20_000;
    let lines = |line: &dyn Fn(usize) -> String| (0..COUNT).map(line).collect::<String>();
    let variables = lines(&|n| format!("v{n} : INT;\n"));
    let unknown = lines(&|n| format!("w{n} := 1;\n"));
    let timers = lines(&|n| format!("t{n} : TON;\n"));
    let structure =
        format!("TYPE Wide : STRUCT\n{}END_STRUCT; END_TYPE\n", lines(&|n| format!("m{n} : INT;\n")));
    let cases = [
        ("unknown names among many known ones", program(&variables, &unknown), Some("undeclared-name")),
        (
            "unknown members of a wide structure",
            structure + &program("s : Wide;", &lines(&|n| format!("s.k{n} := 1;\n"))),
            Some("unknown-member"),
        ),
        (
            "a long chain of type names",
            format!("TYPE T0 : INT; {}END_TYPE ", lines(&|n| format!("T{} : T{n};\n", n + 1)))
                + &program("t : T9; r : REF_TO T100;", "t := 1;"),
            None,
        ),
        (
            "a long row of pragmas in front of one statement",
            program("n : INT;", &(lines(&|_| String::from("{allow always}\n")) + "n := 1;")),
            None,
        ),
        ("a long list of names", program(&format!("{}z : INT;", lines(&|n| format!("v{n}, "))), ""), None),
        ("many instances called", program(&timers, &lines(&|n| format!("t{n}(IN := TRUE);\n"))), None),
        (
            "many instances read before they are called",
            program(
                &format!("b : BOOL; {timers}"),
                &(lines(&|n| format!("b := t{n}.Q;\n")) + &lines(&|n| format!("t{n}(IN := b);\n"))),
            ),
            None,
        ),
        ("many outputs written", program("b : BOOL;", &lines(&|n| format!("%QX{n}.0 := TRUE;\n"))), None),
        (
            "a long chain of jumps",
            program("b : BOOL;", &(lines(&|n| format!("JMP L{n}\nL{n}:\n")) + "LD b\nST b\n")),
            None,
        ),
    ];
    for (name, text, error) in cases {
        let mut found = errors(&text);
        found.dedup();
        assert_eq!(found, Vec::from_iter(error), "{name}");
    }
}

/// Each type holds the one before it twice: there are very many ways down to the first, which must not be
/// walked one by one.
#[test]
fn structures_and_blocks_that_double_at_each_level_are_answered_at_once() {
    let mut structures = String::from("TYPE T0 : STRUCT a : BOOL; END_STRUCT; END_TYPE\n");
    let mut blocks = String::from("FUNCTION_BLOCK F0 VAR_INPUT i : BOOL; END_VAR ; END_FUNCTION_BLOCK\n");
    let mut empty = String::from("FUNCTION_BLOCK E0 ; END_FUNCTION_BLOCK\n");
    for level in 1..=60 {
        let below = level - 1;
        writeln!(structures, "TYPE T{level} : STRUCT a, b : T{below}; END_STRUCT; END_TYPE").unwrap();
        writeln!(blocks, "FUNCTION_BLOCK F{level} VAR a, b : F{below}; END_VAR a(); b(); END_FUNCTION_BLOCK")
            .unwrap();
        writeln!(empty, "FUNCTION_BLOCK E{level} VAR a, b : E{below}; END_VAR a(); b(); END_FUNCTION_BLOCK")
            .unwrap();
    }
    let body = "x := 1;";
    assert_eq!(errors(&(structures + &program("t : T60; x : INT;", body))), ["data-too-large"]);
    // Each block that is itself too large is told.
    let mut found = errors(&(blocks + &program("t : F60; x : INT;", body)));
    found.dedup();
    assert_eq!(found, ["data-too-large"]);
    // An instance without variables takes a byte.
    let mut found = errors(&(empty + &program("t : E60; x : INT;", body)));
    found.dedup();
    assert_eq!(found, ["data-too-large"]);
}

#[test]
fn a_text_longer_than_any_string_is_refused() {
    for length in [40_000, 1_000_000] {
        let long = "a".repeat(length);
        assert_eq!(errors(&program("s : STRING;", &format!("s := '{long}';"))), ["string-too-long"]);
        assert_eq!(errors(&program("s : WSTRING;", &format!("s := \"{long}\";"))), ["string-too-long"]);
    }
}

/// Statements with very many branches, labels or parameters: each used to be compared with all the others.
#[test]
fn very_wide_statements_and_calls_are_answered_at_once() {
    let many = 20_000;
    let mut branches = String::from("IF n = 0 THEN n := 1;\n");
    let mut labels = String::from("CASE n OF\n");
    let mut block = String::from("FUNCTION_BLOCK F VAR_INPUT ");
    let mut calls = String::new();
    let mut unknown = String::from("f(");
    for number in 0..many {
        writeln!(branches, "ELSIF n = {number} THEN n := 2;").unwrap();
        writeln!(labels, "{number}: n := {number};").unwrap();
        write!(block, "a{number} : INT; ").unwrap();
        writeln!(calls, "f(a{number} := 1);").unwrap();
        write!(unknown, "{}b{number} := 1", if number == 0 { "" } else { ", " }).unwrap();
    }
    branches.push_str("END_IF;");
    labels.push_str("END_CASE;");
    block.push_str("END_VAR END_FUNCTION_BLOCK\n");
    unknown.push_str(");");
    assert_eq!(errors(&program("n : DINT;", &branches)), [""; 0]);
    assert_eq!(errors(&program("n : DINT;", &labels)), [""; 0]);
    assert_eq!(errors(&format!("{block}{}", program("f : F;", &calls))), [""; 0]);
    let found = errors(&format!("{block}{}", program("f : F;", &unknown)));
    assert_eq!(found.len(), SAME_NAME_MAX);
    assert!(found.iter().all(|name| *name == "unknown-parameter"));
}

//! The examples of the library: every call is compiled and run in each form in which `latchwork library` shows it,
//! and must give what the table says; every function and block has one.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use std::{collections::BTreeSet, fmt::Write as _};

use latchwork_compiler::library::{self, Form, Written, forms, literal_type};
use latchwork_stdlib::{Example, FunctionDefinition, blocks, functions};
use latchwork_tests::workbench;
use latchwork_vm::{Machine, Value};

/// The calls of one example, which share a program: each stores what it gives in variables of its own.
fn run(row: &FunctionDefinition, example: &Example, written: &Written) -> Result<String, String> {
    let program = workbench::program(&library::program(row, example, written))?;
    let mut machine = Machine::new(program);
    machine.scan(0).map_err(|fault| format!("stopped: {}", fault.kind.text()))?;
    let read = |name: &str| {
        let place = machine.program().resolve(name).map_err(|error| format!("{name}: {error}"))?;
        Ok::<Value, String>(machine.read(&place))
    };
    let mut gave = String::new();
    if !example.gives.is_empty() {
        write!(gave, "{} ", read("Result")?).unwrap();
    }
    for output in row.outputs.iter().take(example.outputs.len()) {
        write!(gave, "{} ", read(output.name)?).unwrap();
    }
    let events: Vec<&str> = machine.events().iter().map(|entry| entry.kind.name()).collect();
    write!(gave, "{events:?}").unwrap();
    Ok(gave)
}

/// What an example should give, in the form in which values are shown.
fn wanted(example: &Example) -> Result<String, String> {
    let literals = std::iter::once(example.gives)
        .filter(|gives| !gives.is_empty())
        .chain(example.outputs.iter().copied());
    let mut text = String::new();
    for literal in literals {
        match literal {
            "NaN" => text.push_str("NAN "),
            "infinity" => text.push_str("INF "),
            "-infinity" => text.push_str("-INF "),
            _ => {
                let source = format!(
                    "PROGRAM P VAR x : {} := {literal}; END_VAR END_PROGRAM",
                    literal_type(literal, example)
                );
                let machine = Machine::new(workbench::program(&source)?);
                let place = machine.program().resolve("x").map_err(|error| error.to_string())?;
                write!(text, "{} ", machine.read(&place)).unwrap();
            }
        }
    }
    let events: Vec<&str> = example.event.iter().map(|kind| kind.name()).collect();
    write!(text, "{events:?}").unwrap();
    Ok(text)
}

#[test]
fn every_example_gives_what_the_table_says_in_each_of_its_forms() {
    let mut failures = String::new();
    for row in functions() {
        for example in row.examples {
            let wanted = match wanted(example) {
                Ok(wanted) => wanted,
                Err(error) => {
                    writeln!(failures, "{}: {error}", row.name).unwrap();
                    continue;
                }
            };
            for written in forms(row, example) {
                let gave = run(row, example, &written);
                if gave.as_ref() != Ok(&wanted) {
                    let gave = gave.unwrap_or_else(|error| error);
                    writeln!(failures, "{}\n  gave {gave}\n  not  {wanted}", written.text).unwrap();
                }
            }
        }
    }
    assert!(failures.is_empty(), "{failures}");
}

/// With ENO the same call tells whether there was an error condition; with EN FALSE nothing runs.
#[test]
fn eno_tells_of_the_event_and_en_keeps_a_function_from_running() {
    let mut failures = String::new();
    for row in functions() {
        for example in row.examples {
            for written in forms(row, example).iter().filter(|written| written.form == Form::TextFormal) {
                for (enable, good) in [("TRUE", example.event.is_none()), ("FALSE", false)] {
                    let text = written.text.replacen('(', &format!("(EN := {enable}, "), 1);
                    let text = text.replace(");\n", ", ENO => Good);\n");
                    let written = Written { form: written.form, text };
                    let source = library::program(row, example, &written);
                    let source = source.replacen("VAR\n", "VAR Good : BOOL;\n", 1);
                    let mut machine = match workbench::program(&source) {
                        Ok(program) => Machine::new(program),
                        Err(error) => {
                            writeln!(failures, "{error}").unwrap();
                            continue;
                        }
                    };
                    let ended = machine.scan(0).is_ok();
                    let place = machine.program().resolve("Good").unwrap();
                    if !ended || machine.read(&place) != Value::Bool(good) {
                        writeln!(failures, "{}  ENO should be {good}", written.text).unwrap();
                    }
                }
            }
        }
    }
    assert!(failures.is_empty(), "{failures}");
}

#[test]
fn every_function_and_block_has_an_example() {
    let without: Vec<&str> = functions().filter(|row| row.examples.is_empty()).map(|row| row.name).collect();
    assert!(without.is_empty(), "no example: {}", without.join(", "));
    for row in functions() {
        let has = |event: bool| row.examples.iter().any(|example| example.event.is_some() == event);
        assert!(has(false), "{}: no example without an error condition", row.name);
    }
    for block in blocks() {
        let calls = library::calls(block).unwrap_or_else(|error| panic!("{}: {error}", block.name));
        let levels = block.example.levels;
        assert!(levels.iter().all(|(_, digits)| digits.len() == levels[0].1.len()), "{}", block.name);
        assert_eq!(calls.rows().len(), levels[0].1.len(), "{}", block.name);
        // A row that never changes shows nothing.
        for signal in &calls.trace.signals {
            assert!(signal.changes.len() > 1, "{}: {} stays as it is", block.name, signal.name);
        }
    }
}

#[test]
fn an_example_that_gives_something_else_is_noticed() {
    let row = functions().find(|row| row.name == "ADD").unwrap();
    let wrong = Example::new(&["INT#2", "INT#2"], "INT#5");
    for written in forms(row, &wrong) {
        assert_ne!(run(row, &wrong, &written).unwrap(), wanted(&wrong).unwrap());
    }
}

#[test]
fn functions_are_called_in_all_forms_of_both_languages() {
    let count = |wanted: Form| {
        let rows = functions().filter(|row| {
            row.examples
                .iter()
                .any(|example| forms(row, example).iter().any(|written| written.form == wanted))
        });
        rows.map(|row| row.name).collect::<BTreeSet<_>>()
    };
    let all: BTreeSet<&str> = functions().map(|row| row.name).collect();
    assert_eq!(count(Form::TextFormal), all);
    assert_eq!(count(Form::TextPlain), all);
    assert_eq!(count(Form::ListPlain), all);
    assert_eq!(count(Form::ListFormal), all);
}

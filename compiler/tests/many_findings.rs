//! Texts with more findings than anybody reads: so many of each name are told, the last one says so, and none hides one
//! of another name.

#![allow(missing_docs, clippy::unwrap_used, reason = "a failing test may panic")]

use latchwork_compiler::{Compilation, SAME_NAME_MAX, compile};
use latchwork_grammar::Sources;

const MORE: usize = SAME_NAME_MAX + 500;

fn compiled(text: &str) -> Compilation {
    let mut sources = Sources::new();
    sources.add("many.st", text);
    compile(&sources)
}

fn count(compilation: &Compilation, name: &str) -> usize {
    compilation.diagnostics.iter().filter(|found| found.name == name).count()
}

fn program(body: &str) -> String {
    format!(
        "PROGRAM Main\nVAR\n  Start AT %IX0.0 : BOOL;\n  Lamp AT %QX0.0 : BOOL;\n  Horn AT %QX0.1 : BOOL;\nEND_VAR\n{body}\nEND_PROGRAM\n"
    )
}

#[test]
fn many_warnings_are_told_up_to_a_number_and_hide_no_other() {
    let many = "  Lamp := Start;\n".repeat(MORE);
    let compilation = compiled(&program(&format!("{many}  IF Start THEN END_IF;\n")));
    assert!(compilation.image.is_some());
    assert_eq!(count(&compilation, "double-coil"), SAME_NAME_MAX);
    assert_eq!(count(&compilation, "empty-branch"), 1);
    let told: Vec<&String> = compilation.diagnostics.iter().flat_map(|found| &found.notes).collect();
    assert_eq!(
        told.iter().filter(|note| note.contains("no more than 1000 `double-coil` are told")).count(),
        1
    );
}

#[test]
fn many_errors_are_told_up_to_a_number() {
    let compilation = compiled(&program(&"  Lamp := 'text';\n".repeat(MORE)));
    assert!(compilation.image.is_none());
    assert_eq!(count(&compilation, "type-mismatch"), SAME_NAME_MAX);
}

/// In many bodies together as in one.
#[test]
fn many_bodies_share_the_number() {
    let body = "  Lamp := Start;\n".repeat(200);
    let one = program(&body);
    let text: String =
        (0..10).map(|number| one.replace("PROGRAM Main", &format!("PROGRAM P{number}"))).collect();
    assert_eq!(count(&compiled(&text), "double-coil"), SAME_NAME_MAX);
}

#[test]
fn a_few_are_told_all() {
    let compilation = compiled(&program(&"  Lamp := Start;\n".repeat(SAME_NAME_MAX)));
    assert_eq!(count(&compilation, "double-coil"), SAME_NAME_MAX - 1);
    assert!(
        compilation.diagnostics.iter().flat_map(|found| &found.notes).all(|note| !note.contains("are told"))
    );
}

/// A pragma is not called useless because what it allows came too late to be told.
#[test]
fn pragmas_behind_too_many_warnings_are_not_doubted() {
    let many = "  Lamp := Start;\n".repeat(MORE);
    let late = "  {allow double-coil: on purpose}\n  Lamp := NOT Start;\n";
    let compilation = compiled(&program(&format!("{many}{late}")));
    assert_eq!(count(&compilation, "allow-unused"), 0);
    let compilation =
        compiled(&program(&format!("{}  Horn := Start;\n", "  {allow real-equal}\n".repeat(MORE))));
    assert_eq!(count(&compilation, "allow-unused"), SAME_NAME_MAX);
}

//! Very many types that derive from one another, and very many methods: an answer at once, whatever they are.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{collections::BTreeSet, fmt::Write as _};

use latchwork_compiler::compile;
use latchwork_grammar::{Severity, Sources};

const MANY: usize = 4_000;

/// The names of the errors of a program.
fn errors(text: &str) -> BTreeSet<&'static str> {
    let mut sources = Sources::new();
    sources.add("objects.st", text);
    let diagnostics = compile(&sources).diagnostics;
    let errors = diagnostics.iter().filter(|diagnostic| diagnostic.severity == Severity::Error);
    errors.map(|diagnostic| diagnostic.name).collect()
}

fn lines(count: usize, mut line: impl FnMut(usize, &mut String)) -> String {
    let mut text = String::new();
    for number in 0..count {
        line(number, &mut text);
    }
    text
}

#[test]
fn long_chains_of_bases_are_refused_where_they_become_too_long() {
    let classes = lines(MANY, |number, text| {
        writeln!(text, "CLASS C{number} EXTENDS C{} VAR x{number} : INT; END_VAR END_CLASS", number + 1)
            .unwrap();
    });
    assert_eq!(errors(&format!("{classes}CLASS C{MANY} END_CLASS")), BTreeSet::from(["cannot-extend"]));
    let classes = lines(64, |number, text| {
        writeln!(text, "CLASS C{number} EXTENDS C{} END_CLASS", number + 1).unwrap();
    });
    assert_eq!(errors(&format!("{classes}CLASS C64 END_CLASS")), BTreeSet::new());
}

#[test]
fn rings_are_one_error_and_the_rest_is_as_long_as_it_is() {
    let ring = |word: &str| {
        lines(60, |number, text| {
            writeln!(text, "{word} C{number} EXTENDS C{} END_{word}", (number + 1) % 60).unwrap();
        })
    };
    assert_eq!(errors(&ring("CLASS")), BTreeSet::from(["inheritance-cycle"]));
    assert_eq!(errors(&ring("INTERFACE")), BTreeSet::from(["inheritance-cycle"]));
}

#[test]
fn interfaces_that_double_at_each_level_count_once() {
    let pairs = lines(100, |number, text| {
        let before = format!("EXTENDS A{number}, B{number}");
        let next = number + 1;
        writeln!(text, "INTERFACE A{next} {before} END_INTERFACE INTERFACE B{next} {before} END_INTERFACE")
            .unwrap();
    });
    let text = format!(
        "INTERFACE A0 METHOD m END_METHOD END_INTERFACE INTERFACE B0 METHOD m END_METHOD END_INTERFACE\n{pairs}\
         CLASS C IMPLEMENTS A100 METHOD PUBLIC m END_METHOD END_CLASS"
    );
    assert_eq!(errors(&text), BTreeSet::new());
    let more = lines(MANY, |number, text| {
        writeln!(text, "INTERFACE I{} EXTENDS I{number} END_INTERFACE", number + 1).unwrap();
    });
    assert_eq!(errors(&format!("INTERFACE I0 END_INTERFACE {more}")), BTreeSet::from(["cannot-extend"]));
}

#[test]
fn a_method_overridden_in_very_many_types_is_dispatched() {
    let classes = lines(MANY, |number, text| {
        writeln!(
            text,
            "CLASS D{number} EXTENDS B METHOD PUBLIC OVERRIDE m : INT m := 1; END_METHOD END_CLASS"
        )
        .unwrap();
    });
    let text = format!(
        "CLASS B METHOD PUBLIC m : INT m := 0; END_METHOD END_CLASS\n{classes}\
         FUNCTION f : INT VAR_IN_OUT b : B; END_VAR f := b.m(); END_FUNCTION"
    );
    assert_eq!(errors(&text), BTreeSet::new());
}

#[test]
fn tables_that_would_be_too_large_are_refused() {
    let many = 1_100;
    let methods = lines(many, |number, text| writeln!(text, "METHOD PUBLIC m{number} END_METHOD").unwrap());
    let classes = lines(many, |number, text| {
        writeln!(text, "CLASS D{number} EXTENDS B METHOD PUBLIC OVERRIDE m{number} END_METHOD END_CLASS")
            .unwrap();
    });
    let calls = lines(many, |number, text| writeln!(text, "b.m{number}();").unwrap());
    let text = format!(
        "CLASS B {methods}END_CLASS\n{classes}FUNCTION f VAR_IN_OUT b : B; END_VAR {calls}END_FUNCTION"
    );
    assert_eq!(errors(&text), BTreeSet::from(["program-too-large"]));
}

#[test]
fn variables_that_all_types_inherit_have_a_limit() {
    let variables = lines(MANY, |number, text| write!(text, "v{number} : INT; ").unwrap());
    let classes = lines(MANY, |number, text| writeln!(text, "CLASS D{number} EXTENDS B END_CLASS").unwrap());
    let text = format!("CLASS B VAR {variables}END_VAR END_CLASS\n{classes}");
    assert_eq!(errors(&text), BTreeSet::from(["cannot-extend"]));
}

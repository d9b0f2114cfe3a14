//! Expressions about the variables of a program that exists only as an image: their types, inputs, parts and values, and
//! what is said of those that are wrong.
//!
//! A case is a program, a line `-----`, and expressions, one a line, with what they are for in front: `bool`, `measure`,
//! `any`, or `value NAME`. The program has run for three scans of 100 ms.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{collections::BTreeSet, fmt::Write as _, fs, path::Path, sync::Arc};

use latchwork_compiler::{
    compile,
    explain::{Verdict, explain},
    probe::{CATALOGUE, Outside, Probe, ProbeImage, ProgramOutside, Wanted, compile_probes},
    render,
};
use latchwork_grammar::{Diagnostic, Names, Severity, Sources, Span, parse_expression, tree};
use latchwork_vm::{Machine, Program, Resolved, ResolvedKind, Value};

/// The program of a case after its scans.
fn machine(text: &str) -> Machine {
    let mut sources = Sources::new();
    sources.add("main.st", text);
    let compilation = compile(&sources);
    let Some(image) = compilation.image else {
        panic!("{}", render::text(&compilation.diagnostics, &sources, false));
    };
    let program = Program::load(image, latchwork_stdlib::natives()).unwrap();
    let mut machine = Machine::new(Arc::new(program));
    for scan in 0..3 {
        machine.scan(scan * 100_000_000).unwrap();
    }
    machine
}

/// One expression with its source and its names.
struct Written {
    sources: Sources,
    names: Names,
    expression: tree::Expression,
    wanted: Wanted,
}

/// Reads `value Level 42.5` and the like. The text of the place `Level` stands in front of the expression.
fn written(line: &str, outside: &dyn Outside) -> Written {
    let (word, rest) = line.split_once(' ').unwrap();
    let (target, text) = match word {
        "value" => rest.split_once(' ').unwrap(),
        _ => ("", rest),
    };
    let mut sources = Sources::new();
    let file = sources.add("case.steps", text);
    let mut names = Names::new();
    let expression = parse_expression(file, text, &mut names).unwrap();
    let wanted = match word {
        "bool" => Wanted::Bool,
        "measure" => Wanted::Measure,
        "any" => Wanted::Any,
        _ => {
            let file = sources.add("target.steps", target);
            let target_span = Span::new(file, 0, target.len() as u32);
            Wanted::Value { kind: outside.kind(target).unwrap().unwrap(), target: target_span }
        }
    };
    Written { sources, names, expression, wanted }
}

fn compiled(written: &mut Written, outside: &dyn Outside) -> (Option<ProbeImage>, Vec<Diagnostic>) {
    let probe = Probe { expression: &written.expression, wanted: written.wanted.clone() };
    compile_probes(&[probe], outside, &written.sources, &mut written.names)
}

/// Copies a variable from one machine to another.
fn copy(from: &Machine, source: &Resolved, to: &mut Machine, target: &Resolved) {
    let value = match (from.read(source), target.kind) {
        // The types of the two images have different numbers.
        (Value::Enumeration { value, .. }, ResolvedKind::Enumeration(_)) => {
            let bytes = value.to_le_bytes();
            to.data_mut()[target.address as usize..target.address as usize + 4].copy_from_slice(&bytes);
            return;
        }
        (value, _) => value,
    };
    to.write(target, &value).unwrap();
}

fn type_name(kind: ResolvedKind) -> String {
    match kind {
        ResolvedKind::Elementary(kind) => kind.name().to_owned(),
        ResolvedKind::String { wide, capacity } => {
            format!("{}[{capacity}]", if wide { "WSTRING" } else { "STRING" })
        }
        ResolvedKind::Enumeration(_) => "enumeration".to_owned(),
        other => format!("{other:?}"),
    }
}

/// Result, inputs and parts of the only probe, with their values.
fn outcome(image: ProbeImage, watched: &Machine, now_ns: i64) -> String {
    let program = Program::load(image.image, latchwork_stdlib::natives()).unwrap();
    let mut probes = Machine::new(Arc::new(program));
    let [plan] = image.plans.as_slice() else { panic!("{} plans", image.plans.len()) };
    for input in &plan.inputs {
        let source = watched.program().resolve(&input.path).unwrap();
        copy(watched, &source, &mut probes, &input.place);
    }
    let mut shown = String::new();
    let called = probes.run_program(plan.call, now_ns);
    let result = probes.read(&plan.result);
    match &called {
        Ok(_) => writeln!(shown, "{} {result}", type_name(plan.result.kind)).unwrap(),
        Err(fault) => writeln!(shown, "{fault}").unwrap(),
    }
    let mut again = probes.clone();
    match (called, again.run_program(plan.explain, now_ns)) {
        (Ok(_), Ok(_)) => assert_eq!(again.read(&plan.result), result),
        (Err(one), Err(other)) => assert_eq!(one.kind, other.kind),
        (one, other) => panic!("{one:?} {other:?}"),
    }
    let paths: Vec<&str> = plan.inputs.iter().map(|input| input.path.as_str()).collect();
    writeln!(shown, "  reads {}", paths.join(", ")).unwrap();
    for part in &plan.parts {
        let depth = "  ".repeat(part.depth as usize);
        let input = if part.is_input { "" } else { " (computed)" };
        let kind = type_name(part.place.kind);
        writeln!(shown, "    {depth}{}: {kind} {}{input}", part.text, again.read(&part.place)).unwrap();
    }
    shown
}

fn shown(text: &str) -> (String, BTreeSet<&'static str>) {
    let (program, lines) = text.split_once("\n-----\n").unwrap();
    let watched = machine(program);
    let shared = Arc::clone(watched.program());
    let outside = ProgramOutside(&shared);
    let mut all = String::new();
    let mut found = BTreeSet::new();
    for line in lines.lines().filter(|line| !line.is_empty()) {
        writeln!(all, "{line}").unwrap();
        let mut written = written(line, &outside);
        let (image, diagnostics) = compiled(&mut written, &outside);
        found.extend(diagnostics.iter().map(|diagnostic| diagnostic.name));
        let failed = diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error);
        assert_eq!(image.is_none(), failed, "{line}");
        if let Some(image) = image {
            all.push_str(&outcome(image, &watched, 300_000_000));
        }
        all.push_str(&render::text(&diagnostics, &written.sources, false));
        all.push('\n');
    }
    (all, found)
}

#[test]
fn cases() {
    insta::glob!("probe/*.txt", |path| {
        let text = fs::read_to_string(path).unwrap();
        insta::with_settings!({ omit_expression => true }, {
            insta::assert_snapshot!(shown(&text).0);
        });
    });
}

#[test]
fn every_diagnostic_has_a_case_and_a_page() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/probe");
    let mut seen = BTreeSet::new();
    for entry in fs::read_dir(folder).unwrap() {
        seen.extend(shown(&fs::read_to_string(entry.unwrap().path()).unwrap()).1);
    }
    assert!(CATALOGUE.is_sorted());
    for (name, summary) in CATALOGUE {
        assert!(seen.contains(name), "no case for {name}");
        assert!(!summary.is_empty() && explain(name).is_some(), "{name}");
    }
}

/// The expectations of the examples on the pages.
#[test]
fn each_wrong_example_gives_its_diagnostic_and_each_right_one_does_not() {
    let watched = machine(
        "PROGRAM Main VAR Start, Pump : BOOL; Index : INT; Seg : ARRAY[0..3] OF INT; FillTime : TON; END_VAR
        FillTime(IN := Start, PT := T#5s); Pump := Start; Seg[Index] := 3; END_PROGRAM",
    );
    let outside = ProgramOutside(watched.program());
    for (name, _) in CATALOGUE {
        for example in explain(name).unwrap().examples() {
            let (_, expectation) = example.code.split_once("expect ").unwrap();
            let (text, _) = expectation.split_once(";\n").unwrap();
            let mut written = written(&format!("bool {text}"), &outside);
            let found: Vec<&str> =
                compiled(&mut written, &outside).1.iter().map(|diagnostic| diagnostic.name).collect();
            match example.verdict {
                Verdict::Wrong => assert_eq!(found, [*name], "{text}"),
                Verdict::Right => assert!(found.is_empty(), "{name}: {found:?}"),
            }
        }
    }
}

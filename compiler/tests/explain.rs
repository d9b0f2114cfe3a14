//! The explanations: one for each diagnostic, and none that its own examples contradict.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{collections::BTreeSet, fmt::Write as _, fs, path::Path, sync::Arc};

use latchwork_compiler::{
    catalogue, compile,
    explain::{Example, Explanation, Verdict, explain, explanations, nearest},
    lower, probe, rewrite,
};
use latchwork_grammar::{Diagnostic, FileId, Names, Sources, parse_steps};
use latchwork_vm::{EventKind, FaultKind, Image, Machine, Program};

/// Pages without examples: files too large to print, limits that nothing readable reaches, arguments of a command,
/// what lies between files, what another program must do, and events of functions that need more than a few lines to
/// provoke.
const WITHOUT_EXAMPLE: &[&str] = &[
    "calendar-date",
    "call-depth",
    "case-without-match",
    "day-overflow",
    "dimension",
    "expression-too-deep",
    "file-too-large",
    "identifier-too-long",
    "internal",
    "invalid-digit",
    "nesting-too-deep",
    "not-rewritten",
    "null-reference",
    "observed-too-large",
    "plant-stopped",
    "precision",
    "procedure-file",
    "procedure-include-circle",
    "procedure-included",
    "procedure-no-program",
    "program-stopped",
    "program-too-large",
    "reason-time",
    "reason-unknown-name",
    "replay-no-scan",
    "replay-record-unknown",
    "replay-scan-time",
    "replay-too-long",
    "replay-too-many-changes",
    "replay-too-many-rows",
    "run-too-long",
    "safety-not-proved",
    "selection-conflict",
    "station-too-large",
    "stimulus-reference",
    "stimulus-too-large",
    "stimulus-too-many-errors",
    "string-position",
    "task-overrun",
    "too-many-errors",
    "trace-differs",
    "trace-not-approved",
    "trace-not-compared",
    "trace-reference",
    "trace-too-large",
    "trace-too-many-errors",
    "type-nesting",
    "value-refused",
];

/// What is found wrong with an example, and the names of the fault and the events of twenty scans of it.
struct Outcome {
    found: Vec<Diagnostic>,
    happened: BTreeSet<&'static str>,
}

fn outcome(example: &Example) -> Outcome {
    let mut sources = Sources::new();
    sources.add("example.st", example.code);
    let compilation = compile(&sources);
    let happened = compilation.image.map(run).unwrap_or_default();
    Outcome { found: compilation.diagnostics, happened }
}

fn run(image: Image) -> BTreeSet<&'static str> {
    let program = Program::load(image, latchwork_stdlib::natives()).unwrap();
    let mut machine = Machine::new(Arc::new(program));
    let fault = (0..20).find_map(|scan| machine.scan(scan * 10_000_000).err());
    let events = machine.events().iter().map(|entry| entry.kind.name());
    events.chain(fault.map(|fault| fault.kind.name())).collect()
}

fn is_program(example: &Example) -> bool {
    matches!(example.language, "st" | "il")
}

#[test]
fn each_page_is_a_file_and_each_file_a_page() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("explanations");
    let files: BTreeSet<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap().trim_end_matches(".md").to_string())
        .collect();
    let pages: Vec<&str> = explanations().iter().map(|page| page.name).collect();
    assert!(pages.is_sorted());
    assert_eq!(files.iter().map(String::as_str).collect::<Vec<_>>(), pages);
}

#[test]
fn each_diagnostic_has_a_page() {
    let names = latchwork_grammar::CATALOGUE
        .iter()
        .chain(catalogue::CATALOGUE)
        .chain(lower::CATALOGUE)
        .chain(probe::CATALOGUE)
        .chain(rewrite::CATALOGUE)
        .map(|(name, _)| *name);
    let missing: Vec<&str> = names.filter(|name| explain(name).is_none()).collect();
    assert!(missing.is_empty(), "no explanation of: {missing:#?}");
}

/// A fault or an event is shown to the user with its name, so the name has a page too.
#[test]
fn each_fault_and_event_has_a_page() {
    let faults = [
        FaultKind::DivisionByZero,
        FaultKind::Subscript,
        FaultKind::NullReference,
        FaultKind::Subrange,
        FaultKind::Watchdog,
        FaultKind::Recursion,
        FaultKind::CallDepth,
    ];
    let names = EventKind::ALL.iter().map(|kind| kind.name()).chain(faults.iter().map(|kind| kind.name()));
    let missing: Vec<&str> = names.filter(|name| explain(name).is_none()).collect();
    assert!(missing.is_empty(), "no explanation of: {missing:#?}");
}

#[test]
fn each_page_has_the_form_of_a_page() {
    for page in explanations() {
        assert!(page.text.starts_with(&format!("# {}\n\n", page.name)), "{}: wrong heading", page.name);
        assert!(page.text.ends_with('\n') && !page.text.ends_with("\n\n"), "{}: wrong end", page.name);
        let summary = page.summary();
        assert!(summary.ends_with('.') && summary.len() > 15, "{}: `{summary}` is no sentence", page.name);
        assert!(
            page.text.lines().all(|line| line.chars().count() <= 120),
            "{}: a line is too long",
            page.name
        );
        assert_eq!(
            page.text.matches("\n```").count(),
            page.examples().len() * 2,
            "{}: a stray fence",
            page.name
        );
        for example in page.examples() {
            assert!(
                ["st", "il", "toml", "csv", "vcd", "steps"].contains(&example.language),
                "{}: {example:?}",
                page.name
            );
        }
        for verdict in [Verdict::Wrong, Verdict::Right] {
            assert_eq!(
                page.examples().iter().any(|example| example.verdict == verdict),
                !WITHOUT_EXAMPLE.contains(&page.name),
                "{}: {verdict:?}",
                page.name
            );
        }
    }
}

/// What is wrong with the program examples of a page.
fn problems(page: &Explanation) -> String {
    let mut problems = String::new();
    for example in page.examples().iter().filter(|example| is_program(example)) {
        let Outcome { found, happened } = outcome(example);
        let only_this = found.iter().all(|found| found.name == page.name);
        let fits = match example.verdict {
            Verdict::Wrong => only_this && (!found.is_empty() || happened.contains(page.name)),
            // What a page recommends should be a program that nobody would complain about.
            Verdict::Right => found.is_empty() && happened.is_empty(),
        };
        if !fits {
            let found: Vec<_> = found.iter().map(|found| (found.name, &found.message)).collect();
            let name = page.name;
            writeln!(
                problems,
                "{name}, {:?} example: {found:?} {happened:?}\n{}",
                example.verdict, example.code
            )
            .unwrap();
        }
    }
    problems
}

#[test]
fn each_wrong_example_gives_its_diagnostic_and_each_right_one_does_not() {
    let all: String = explanations().iter().map(problems).collect();
    assert!(all.is_empty(), "{all}");
}

/// Files of procedures are only read here; what the bench finds in them, its own tests show.
#[test]
fn examples_of_procedures_are_read_as_the_page_says() {
    let is_read_here = |name: &str| latchwork_grammar::CATALOGUE.iter().any(|entry| entry.0 == name);
    for page in explanations() {
        for example in page.examples().iter().filter(|example| example.language == "steps") {
            let found = parse_steps(FileId(0), example.code, &mut Names::new()).diagnostics;
            let found: Vec<&str> = found.iter().map(|problem| problem.name).collect();
            let wrong = example.verdict == Verdict::Wrong && is_read_here(page.name);
            let expected = if wrong { vec![page.name] } else { Vec::new() };
            assert_eq!(found, expected, "{}, {:?} example:\n{}", page.name, example.verdict, example.code);
        }
    }
}

#[test]
fn names_are_found_in_any_letter_case_and_near_ones_offered() {
    assert!(explain("Type-Mismatch").is_some());
    assert!(explain("type mismatch").is_none());
    assert_eq!(nearest("type-mismtach"), ["type-mismatch"]);
    assert_eq!(nearest("TYPE-MISMATCHES"), ["type-mismatch"]);
    assert!(nearest("unclosed").contains(&"unclosed-comment"));
    assert!(nearest("").is_empty());
    assert!(nearest(&"x".repeat(100_000)).is_empty());
}

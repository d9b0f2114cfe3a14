//! The programs of `tests/corpus/`: what IEC 61131-3:2013 says of the language, seen from outside. Each case is a
//! program or a pattern of one, and names its clause or table; what must happen stands in comments at its head.
//! Cases are separated by lines of `//----`. The runs are on both dispatchers of the machine, which must agree.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

mod conformance {
    pub mod case;
    pub mod check_values;
    pub mod evidence;
    pub mod outcome;
}

use std::{collections::BTreeSet, fmt::Write as _, fs, path::Path};

use latchwork_compiler::compliance::Status;

use conformance::{case::Case, check_values, evidence::Evidence, outcome};

fn corpus() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
    let mut files: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "st" || extension == "il"))
        .collect();
    files.sort();
    files
        .iter()
        .map(|path| {
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            (name, fs::read_to_string(path).unwrap())
        })
        .collect()
}

/// What the corpus shows of the features of the compliance statement.
fn evidence() -> Evidence {
    let mut evidence = Evidence::default();
    for (file, text) in corpus() {
        for part in text.split("\n//----\n") {
            evidence.take(&file, &Case::read(part, file.ends_with(".il")));
        }
    }
    evidence
}

/// Runs everything that `pick` leaves of the corpus; the number of things checked and what was wrong.
fn run_corpus() -> (usize, String) {
    let mut failures = String::new();
    let mut count = 0;
    for (file, text) in corpus() {
        let mut line = 1;
        for part in text.split("\n//----\n") {
            let case = Case::read(part, file.ends_with(".il"));
            count += case.checks.len();
            for problem in outcome::problems(&file, &case) {
                writeln!(failures, "{file}, case at line {line}: {problem}").unwrap();
            }
            line += part.matches('\n').count() + 2;
        }
    }
    (count, failures)
}

#[test]
fn the_language_is_that_of_the_standard() {
    let (count, failures) = run_corpus();
    assert!(failures.is_empty(), "{failures}");
    assert!(count > 500, "only {count} checks found");
}

#[test]
fn the_compliance_statement_says_what_the_corpus_shows() {
    let problems = evidence().problems();
    assert!(problems.is_empty(), "{}", problems.join("\n"));
}

/// Every number of the set of check values is shown by a case, and none that the set does not have.
#[test]
fn every_check_value_is_shown() {
    let mut shown = BTreeSet::new();
    for (file, text) in corpus() {
        for part in text.split("\n//----\n") {
            shown.extend(Case::read(part, file.ends_with(".il")).values.iter().map(|value| value.number));
        }
    }
    let problems = check_values::problems(&shown);
    assert!(problems.is_empty(), "{}", problems.join("\n"));
}

#[test]
fn a_check_value_that_nothing_shows_is_noticed() {
    let all: BTreeSet<u16> =
        (1..=check_values::COUNT).filter(|number| !check_values::missing(*number)).collect();
    assert!(check_values::problems(&all).is_empty());
    for number in &all {
        let mut others = all.clone();
        others.remove(number);
        assert_eq!(check_values::problems(&others).len(), 1, "{number}");
    }
    for unknown in [0, check_values::COUNT + 1] {
        let mut more = all.clone();
        more.insert(unknown);
        assert_eq!(check_values::problems(&more).len(), 1, "{unknown}");
    }
}

/// A case is one program with its own outcome; two with the same text are one. Only those that name a feature count.
#[test]
fn enough_programs_are_accepted_and_refused() {
    let evidence = evidence();
    assert!(evidence.accepted.len() >= 250, "{} accepted programs", evidence.accepted.len());
    assert!(evidence.refused.len() >= 250, "{} refused programs", evidence.refused.len());
}

#[test]
fn a_statement_without_evidence_is_noticed() {
    let problems = Evidence::default().problems();
    for feature in latchwork_compiler::compliance::features() {
        let named = problems.iter().any(|problem| problem.starts_with(&format!("{} ", feature.id())));
        let wanted = matches!(feature.status, Status::Yes | Status::Part);
        assert_eq!(named, wanted, "{}", feature.id());
    }
    let mut evidence = Evidence::default();
    for (text, part) in [
        (
            "// Table 3\n// feature 3-99\n// expect x = 1\nPROGRAM P VAR x : INT := 1; END_VAR END_PROGRAM",
            "3-99",
        ),
        (
            "// Table 60\n// feature 60-2\n// expect x = 1\nPROGRAM P VAR x : INT := 1; END_VAR END_PROGRAM",
            "60-2",
        ),
    ] {
        evidence.take("wrong.st", &Case::read(text, false));
        assert!(evidence.problems().iter().any(|problem| problem.contains(part)), "{part}");
    }
}

#[test]
fn a_case_that_goes_otherwise_is_noticed() {
    let wrong = [
        "// Table 72\n// expect x = 2\nPROGRAM P VAR x : INT; END_VAR x := 1; END_PROGRAM",
        "// Table 72\n// error type-mismatch\nPROGRAM P VAR x : INT; END_VAR x := 1; END_PROGRAM",
        "// Table 72\n// fault subscript\nPROGRAM P VAR x : INT; END_VAR x := 1; END_PROGRAM",
        "// Table 72\n// run x := 1; -> x = 2\nPROGRAM P VAR x : INT; END_VAR\n// here\nEND_PROGRAM",
        "// Table 72\n// run x := x + 32767 + 1; -> x = -32768\nPROGRAM P VAR x : INT; END_VAR\n// here\nEND_PROGRAM",
        "// Table 72\n// refused x := 1; -> type-mismatch\nPROGRAM P VAR x : INT; END_VAR\n// here\nEND_PROGRAM",
        "// Table 72\n// refused x := y; -> type-mismatch\nPROGRAM P VAR x : INT; END_VAR\n// here\nEND_PROGRAM",
        "// Table 72\n// warned x := 1; -> always\nPROGRAM P VAR x : INT; END_VAR\n// here\nEND_PROGRAM",
        "// Table 72\n// accepted x := y;\nPROGRAM P VAR x : INT; END_VAR\n// here\nEND_PROGRAM",
        "// Table 72\n// silent x := 1; RETURN; x := 2;\nPROGRAM P VAR x : INT; END_VAR\n// here\nEND_PROGRAM",
        "// Table 72\n// clean\nPROGRAM P VAR x, y : INT; END_VAR x := 1; END_PROGRAM",
        "// Table 72\n// stops x := 1; -> subscript\nPROGRAM P VAR x : INT; END_VAR\n// here\nEND_PROGRAM",
        "// expect x = 1\nPROGRAM P VAR x : INT; END_VAR x := 1; END_PROGRAM",
        "// Table 72\nPROGRAM P VAR x : INT; END_VAR x := 1; END_PROGRAM",
        "// Table 72\n// value 1\n// expect x = 1\nPROGRAM P VAR x : INT; END_VAR x := 1; END_PROGRAM",
        "// source choice\n// expect x = 1\n// value 1\nPROGRAM P VAR x : INT; END_VAR x := 1; END_PROGRAM",
        "// source choice\n// value 1\n// value 2\n// expect x = 1\nPROGRAM P VAR x : INT; END_VAR x := 1; END_PROGRAM",
        "// source\n// expect x = 1\nPROGRAM P VAR x : INT; END_VAR x := 1; END_PROGRAM",
    ];
    for text in wrong {
        let case = Case::read(text, false);
        assert!(!outcome::problems("wrong.st", &case).is_empty(), "{text}");
    }
}

//! Source files with what comes of them: the tree and the diagnostics, each beside its file as a snapshot.

#![allow(clippy::unwrap_used, reason = "a broken expectation fails the test")]

mod support;

use latchwork_grammar::{CATALOGUE, FileId, Names, Severity, parse};
use std::{collections::BTreeSet, fs, path::Path};
use support::{Printer, diagnostics};

const CORPUS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/corpus");

fn outcome(text: &str) -> String {
    let mut names = Names::new();
    let parsed = parse(FileId(0), text, &mut names);
    let tree = Printer { names: &names }.file(text, &parsed);
    format!(
        "{}\n---- diagnostics\n{}---- tree\n{tree}",
        text.trim_end(),
        diagnostics(text, &parsed.diagnostics)
    )
}

#[test]
fn each_file_gives_its_tree_and_its_diagnostics() {
    insta::with_settings!({ snapshot_path => CORPUS, prepend_module_to_snapshot => false, omit_expression => true }, {
        insta::glob!("corpus/*.{st,il}", |path| {
            let text = fs::read_to_string(path).unwrap();
            insta::assert_snapshot!("outcome", outcome(&text));
        });
    });
}

fn sources() -> Vec<(String, String)> {
    let mut files: Vec<_> = fs::read_dir(Path::new(CORPUS))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "st" || e == "il"))
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, fs::read_to_string(&path).unwrap())
        })
        .collect();
    files.sort();
    assert!(files.len() > 20);
    files
}

/// What the corpus and the texts that are too big for it report.
fn reported() -> BTreeSet<(&'static str, Severity)> {
    let mut names = Names::new();
    let mut seen = BTreeSet::new();
    let big = [
        " ".repeat(latchwork_grammar::source::SOURCE_BYTES_MAX + 1),
        "\u{1} a ".repeat(101),
        format!("PROGRAM p {} END_PROGRAM", "x := ; ".repeat(201)),
        format!("PROGRAM p x := {}1{}; END_PROGRAM", "(".repeat(300), ")".repeat(300)),
        format!("PROGRAM p {} := 1; END_PROGRAM", "a".repeat(256)),
    ];
    for text in sources().into_iter().map(|(_, text)| text).chain(big) {
        seen.extend(parse(FileId(0), &text, &mut names).diagnostics.iter().map(|d| (d.name, d.severity)));
    }
    seen
}

#[test]
fn each_diagnostic_of_the_catalogue_has_a_case_and_no_other_is_reported() {
    let seen: BTreeSet<&str> = reported().into_iter().map(|(name, _)| name).collect();
    // Files of procedures have cases of their own.
    let listed: BTreeSet<&str> = CATALOGUE.iter().map(|(name, _)| *name).collect();
    assert_eq!(listed.len(), CATALOGUE.len(), "a name is listed twice");
    assert!(CATALOGUE.is_sorted());
    let listed: BTreeSet<&str> = listed.into_iter().filter(|name| !name.starts_with("steps-")).collect();
    assert_eq!(listed.difference(&seen).collect::<Vec<_>>(), Vec::<&&str>::new(), "without a case");
    assert_eq!(seen.difference(&listed).collect::<Vec<_>>(), Vec::<&&str>::new(), "not in the catalogue");
}

#[test]
fn warnings_are_the_four_of_the_catalogue() {
    let warnings: BTreeSet<&str> =
        reported().into_iter().filter(|(_, s)| *s == Severity::Warning).map(|(name, _)| name).collect();
    let expected = ["empty-statement", "inexact-literal", "integer-as-real", "semicolon-after-until"];
    assert_eq!(warnings, BTreeSet::from(expected));
}

#[test]
fn a_fix_removes_its_diagnostic_and_adds_no_other() {
    for (file, text) in sources() {
        let problems = parse(FileId(0), &text, &mut Names::new()).diagnostics;
        for problem in &problems {
            let Some(fix) = &problem.fix else { continue };
            let mut fixed = text.clone();
            for edit in fix.edits.iter().rev() {
                fixed.replace_range(edit.span.start as usize..edit.span.end as usize, &edit.text);
            }
            let after = parse(FileId(0), &fixed, &mut Names::new()).diagnostics;
            let count = |list: &[latchwork_grammar::Diagnostic]| {
                list.iter().filter(|p| p.name == problem.name).count()
            };
            let what =
                format!("{file}: {} at {}: {}", problem.name, problem.primary.span.start, problem.message);
            assert!(count(&after) < count(&problems), "{what}: still there");
            assert!(after.len() < problems.len(), "{what}: {after:#?}");
        }
    }
}

#[test]
fn names_do_not_depend_on_letter_case() {
    for (file, text) in sources() {
        // Strings and comments keep their case; so only files without them.
        if text.contains(['\'', '"', '*', '/', '{']) || !text.is_ascii() {
            continue;
        }
        let shape = |text: &str| {
            let mut names = Names::new();
            let parsed = parse(FileId(0), text, &mut names);
            let tree = Printer { names: &names }.file(text, &parsed).to_ascii_uppercase();
            (tree, parsed.diagnostics.iter().map(|d| (d.name, d.primary.span)).collect::<Vec<_>>())
        };
        assert_eq!(shape(&text.to_ascii_lowercase()), shape(&text.to_ascii_uppercase()), "{file}");
    }
}

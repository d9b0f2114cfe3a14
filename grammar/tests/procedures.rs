//! Files of procedures with what comes of them: the tree and the diagnostics, each beside its file as a snapshot.

#![allow(clippy::unwrap_used, reason = "a broken expectation fails the test")]

mod support;

use latchwork_grammar::{CATALOGUE, FileId, Names, parse_steps};
use std::{collections::BTreeSet, fs, path::Path};
use support::{Printer, diagnostics};

const CASES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/procedures");

fn outcome(text: &str) -> String {
    let mut names = Names::new();
    let parsed = parse_steps(FileId(0), text, &mut names);
    let tree = Printer { names: &names }.steps_file(&parsed.tree);
    format!(
        "{}\n---- diagnostics\n{}---- tree\n{tree}",
        text.trim_end(),
        diagnostics(text, &parsed.diagnostics)
    )
}

#[test]
fn each_file_gives_its_tree_and_its_diagnostics() {
    insta::with_settings!({ snapshot_path => CASES, prepend_module_to_snapshot => false, omit_expression => true }, {
        insta::glob!("procedures/*.steps", |path| {
            let text = fs::read_to_string(path).unwrap();
            insta::assert_snapshot!("outcome", outcome(&text));
        });
    });
}

fn sources() -> Vec<(String, String)> {
    let mut files: Vec<_> = fs::read_dir(Path::new(CASES))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "steps"))
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, fs::read_to_string(&path).unwrap())
        })
        .collect();
    files.sort();
    files
}

#[test]
fn each_diagnostic_about_procedures_has_a_case_and_no_other_is_reported() {
    let mut names = Names::new();
    let mut seen = BTreeSet::new();
    for (_, text) in sources() {
        seen.extend(parse_steps(FileId(0), &text, &mut names).diagnostics.iter().map(|problem| problem.name));
    }
    let listed: BTreeSet<&str> = CATALOGUE.iter().map(|(name, _)| *name).collect();
    let missing: Vec<&str> =
        listed.iter().filter(|name| name.starts_with("steps-") && !seen.contains(*name)).copied().collect();
    assert_eq!(missing, Vec::<&str>::new(), "without a case");
    assert_eq!(seen.difference(&listed).collect::<Vec<_>>(), Vec::<&&str>::new(), "not in the catalogue");
}

#[test]
fn a_fix_removes_its_diagnostic_and_adds_no_other() {
    for (file, text) in sources() {
        let problems = parse_steps(FileId(0), &text, &mut Names::new()).diagnostics;
        for problem in &problems {
            let Some(fix) = &problem.fix else { continue };
            let mut fixed = text.clone();
            for edit in fix.edits.iter().rev() {
                fixed.replace_range(edit.span.start as usize..edit.span.end as usize, &edit.text);
            }
            let after = parse_steps(FileId(0), &fixed, &mut Names::new()).diagnostics;
            let what =
                format!("{file}: {} at {}: {}", problem.name, problem.primary.span.start, problem.message);
            assert!(after.len() < problems.len(), "{what}: {after:#?}");
        }
    }
}

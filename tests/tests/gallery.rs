//! The gallery: every procedure of every folder gives the verdict that its folder names, on every program it names.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a failing test may panic")]

#[path = "gallery/bench.rs"]
mod bench;
#[path = "gallery/folder.rs"]
mod folder;

use std::{fmt::Write as _, sync::Arc};

use bench::bench;
use folder::{folders, steps_of, trees_of};
use latchwork_bench::procedure::{RunOptions, Script, ScriptParts, Verdict};
use latchwork_grammar::Sources;
use latchwork_tests::workbench;

/// The fewest tasks there are.
const FOLDERS: usize = 13;

#[test]
fn every_folder_has_its_parts() {
    let folders = folders();
    assert!(folders.len() >= FOLDERS);
    for folder in &folders {
        for file in ["station.toml", "procedure.steps", "flawed.st", "flawed.steps", "verdicts.txt"] {
            assert!(folder.files.iter().any(|name| name == file), "{}: no {file}", folder.name);
        }
        for extension in ["st", "il"] {
            let program = format!("{}.{extension}", folder.name);
            assert!(folder.files.contains(&program), "{}: no {program}", folder.name);
        }
    }
    let table = workbench::sample("gallery/README.md").unwrap();
    for folder in &folders {
        assert!(
            table.contains(&format!("| `{}` |", folder.name)),
            "README.md does not tell of {}",
            folder.name
        );
    }
}

/// Both languages, in every file but those with a mistake, together with the station they are run on.
#[test]
fn the_programs_have_no_warnings() {
    for folder in folders() {
        for steps in folder.steps().filter(|name| *name != "flawed.steps") {
            let setup = steps_of(&folder, steps);
            assert!(!setup.variants.is_empty(), "{}/{steps}", folder.name);
            for variant in &setup.variants {
                let bench = bench(&folder, variant, setup.station.as_deref());
                assert!(bench.findings.is_empty(), "{} {variant:?}: {}", folder.name, bench.told());
            }
        }
    }
}

/// The list of verdicts leaves out no procedure and invents none.
#[test]
fn the_verdicts_are_complete() {
    for folder in folders() {
        let mut titles = Vec::new();
        for steps in folder.steps() {
            let own = steps_of(&folder, steps).titles;
            titles.extend(own.into_iter().map(|title| (steps.to_owned(), title)));
        }
        titles.sort();
        let mut named: Vec<_> =
            folder.verdicts().into_iter().map(|verdict| (verdict.file, verdict.title)).collect();
        named.sort();
        assert_eq!(titles, named, "{}", folder.name);
    }
}

/// A lesson needs both: the right program passes everything, and the mistake is found.
#[test]
fn every_mistake_is_found_and_nothing_else() {
    for folder in folders() {
        let verdicts = folder.verdicts();
        let failed =
            |file: &str| verdicts.iter().filter(|verdict| verdict.file == file && !verdict.passed).count();
        assert_eq!(failed("procedure.steps"), 0, "{}", folder.name);
        assert!(failed("flawed.steps") > 0, "{}", folder.name);
    }
}

/// Every procedure on every program of its file. The expected verdicts follow from the sources that the comments of the
/// procedures name.
#[test]
fn every_procedure_gives_its_verdict() {
    let mut wrong = String::new();
    for folder in folders() {
        let verdicts = folder.verdicts();
        for steps in folder.steps() {
            let expected = |title: &str| {
                let mut own = verdicts.iter().filter(|verdict| verdict.file == steps);
                own.find(|verdict| verdict.title == title).unwrap().passed
            };
            let setup = steps_of(&folder, steps);
            let (files, sources, names) = trees_of(&folder, steps);
            for variant in &setup.variants {
                let bench = bench(&folder, variant, setup.station.as_deref());
                let (script, findings) = Script::new(ScriptParts {
                    files: &files,
                    program: Arc::clone(&bench.program),
                    station: bench.station.as_ref(),
                    sources: &sources,
                    names: &names,
                });
                assert!(findings.is_empty(), "{}: {}", folder.name, workbench::text(&findings, &sources));
                for (index, procedure) in script.procedures().iter().enumerate() {
                    let title = &procedure.title.value;
                    let outcome = script.run(index, &RunOptions::default());
                    let told = workbench::text(&outcome.warnings, &sources);
                    assert!(outcome.warnings.is_empty(), "{} {title}: {told}", folder.name);
                    let refused = matches!(outcome.verdict, Verdict::Refused(_));
                    if refused || outcome.passed() != expected(title) {
                        let reason = reason(&outcome.verdict, &sources);
                        let _ = writeln!(wrong, "{}/{steps} {variant:?} {title}: {reason}", folder.name);
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

fn reason(verdict: &Verdict, sources: &Sources) -> String {
    match verdict {
        Verdict::Failed(failure) => {
            let milliseconds = failure.time_ns / 1_000_000;
            format!("failed at {milliseconds} ms: `{}`: {:?}", sources.text(failure.step), failure.kind)
        }
        Verdict::Refused(problems) => workbench::text(problems, sources),
        Verdict::Passed => "passed".to_owned(),
    }
}

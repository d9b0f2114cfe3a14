//! Rungs evaluate to what the program computes, and continuity stands where there is a way from the left rail.
//!
//! The evaluator and the search here know the drawing model and nothing of how it was made: the evaluator takes the
//! network alone, the search the places on the grid alone.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a failing test may panic")]

#[path = "gallery/bench.rs"]
#[allow(dead_code, reason = "shared with the tests of the gallery")]
mod bench;
#[path = "rungs/evaluate.rs"]
mod evaluate;
#[path = "gallery/folder.rs"]
#[allow(dead_code, reason = "shared with the tests of the gallery")]
mod folder;
#[path = "rungs/random.rs"]
mod random;

use std::{fs, sync::Arc};

use evaluate::{Counts, agree, connected};
use folder::{folders, steps_of, trees_of};
use latchwork_bench::{
    account::Account,
    procedure::{RunOptions, Script, ScriptParts},
    replay::ReplayOptions,
    rungs::sheet,
};
use latchwork_compiler::{CompileOptions, compile_with, logic::Logic};
use latchwork_grammar::Sources;
use latchwork_tests::workbench::{run_program, samples, text};
use latchwork_vm::Program;

/// A program that keeps a journal.
fn journal(sources: &Sources) -> (Arc<Program>, Arc<Logic>) {
    let options = CompileOptions { journal: true, ..CompileOptions::default() };
    let compiled = compile_with(sources, &options);
    let image = compiled.image.unwrap_or_else(|| panic!("{}", text(&compiled.diagnostics, sources)));
    let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
    (program, Arc::new(compiled.logic.unwrap()))
}

/// Compares everything that is drawn with everything that was computed in every scan.
fn check(account: &Account, sources: &Sources, what: &str) -> Counts {
    let mut counts = Counts::default();
    for unit in &account.logic().units {
        let sheet = sheet(unit, sources);
        for entry in sheet.entries.iter().filter(|entry| entry.body.is_drawn()) {
            let sites: Vec<_> = account.sites_of(entry.statements[0]).collect();
            for site in sites {
                let (_, base) = account.identity(site).unwrap();
                for scan in 0..account.scans() {
                    let place = || format!("{what}: {} in scan {scan}", sources.text(entry.span));
                    agree(entry, account, base, scan, &mut counts).unwrap_or_else(|wrong| {
                        panic!("{}: {wrong}", place());
                    });
                    // The search is slower, and runs of thousands of scans repeat themselves.
                    if scan % 7 == 0 || scan < 50 {
                        connected(entry, account, base, scan, &mut counts)
                            .unwrap_or_else(|wrong| panic!("{}: {wrong}", place()));
                    }
                }
            }
        }
    }
    counts
}

/// Every task of the gallery, in both languages, in every procedure.
#[test]
fn the_gallery_is_drawn_as_it_computes() {
    let mut all = Counts::default();
    for folder in folders() {
        for steps in folder.steps() {
            let setup = steps_of(&folder, steps);
            let (files, sources, names) = trees_of(&folder, steps);
            for variant in &setup.variants {
                let station = bench::bench(&folder, variant, setup.station.as_deref()).station;
                let mut own = Sources::new();
                for file in variant {
                    own.add(file.as_str(), folder.text(file));
                }
                let (program, logic) = journal(&own);
                let (script, _) = Script::new(ScriptParts {
                    files: &files,
                    program,
                    station: station.as_ref(),
                    sources: &sources,
                    names: &names,
                });
                for index in 0..script.procedures().len() {
                    let options = RunOptions { account: Some(Arc::clone(&logic)), ..RunOptions::default() };
                    let outcome = script.run(index, &options);
                    let account = outcome.account.unwrap();
                    all.add(check(&account, &own, &format!("{} {variant:?}", folder.name)));
                }
            }
        }
    }
    assert!(all.values > 100_000 && all.ends > 500_000 && all.points > 1_000_000, "{all:?}");
}

#[test]
fn samples_in_both_languages_are_drawn_as_they_compute() {
    let mut all = Counts::default();
    for entry in fs::read_dir(samples().join("both-languages")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension != "csv") {
            let mut sources = Sources::new();
            sources.add("program", fs::read_to_string(&path).unwrap());
            let (program, logic) = journal(&sources);
            let stimulus = fs::read_to_string(path.with_extension("csv")).unwrap();
            let options = ReplayOptions { account: Some(logic), ..ReplayOptions::default() };
            let replayed = run_program(program, None, Some(&stimulus), &options).unwrap();
            all.add(check(&replayed.account.unwrap(), &sources, &path.display().to_string()));
        }
    }
    assert!(all.ends > 10_000, "{all:?}");
}

//! An image that measures coverage is, without its observing instructions, the ordinary one: on every program of the
//! project. So counts, events, faults, timing and the data of every variable are the same; runs of the samples with
//! and without show it once more.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use std::{
    fs,
    path::{Path, PathBuf},
    sync::Arc,
};

use latchwork_compiler::{CompileOptions, compile};
use latchwork_grammar::Sources;
use latchwork_tests::{generate, observation::unchanged};
use latchwork_vm::{Dispatcher, Machine, Program, Timing};

const COVERAGE: CompileOptions = CompileOptions {
    final_scan: true,
    exclusive_selections: false,
    coverage: true,
    journal: false,
    allowances: true,
};

fn texts(folder: &str) -> Vec<(PathBuf, String)> {
    fn collect(folder: &Path, found: &mut Vec<(PathBuf, String)>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                collect(&path, found);
            } else if path.extension().is_some_and(|extension| extension == "st" || extension == "il") {
                let text = fs::read_to_string(&path).unwrap();
                found.push((path, text));
            }
        }
    }
    let mut found = Vec::new();
    collect(&Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(folder), &mut found);
    found.sort();
    assert!(!found.is_empty(), "{folder}");
    found
}

fn sources(path: &Path, text: &str) -> Sources {
    let mut sources = Sources::new();
    sources.add(path.to_string_lossy(), text);
    sources
}

/// Programs right and wrong, with all options.
#[test]
fn images_and_diagnostics_of_all_programs_are_the_same() {
    let (mut images, mut without) = (0, 0);
    for folder in ["samples", "compiler/tests", "tests/corpus", "grammar/tests/corpus"] {
        for (path, text) in texts(folder) {
            for options in
                [COVERAGE, CompileOptions { exclusive_selections: true, final_scan: false, ..COVERAGE }]
            {
                let compilation = unchanged(&sources(&path, &text), &options)
                    .unwrap_or_else(|difference| panic!("{}: {difference}", path.display()));
                match compilation.image {
                    Some(image) => {
                        images += 1;
                        let size = compilation.coverage.unwrap().size;
                        let program = Program::load(image, latchwork_stdlib::natives()).unwrap();
                        assert_eq!(program.coverage().unwrap_or_default(), size, "{}", path.display());
                    }
                    None => without += 1,
                }
            }
        }
    }
    assert!(images > 200 && without > 50, "{images} {without}");
}

#[test]
fn images_of_large_programs_are_the_same() {
    for text in [generate::project(2_000), generate::boolean_rungs(300), generate::standard_blocks(9)] {
        unchanged(&sources(Path::new("large.st"), &text), &COVERAGE).unwrap();
    }
}

/// Machines for a program without and with coverage.
fn machines(sources: &Sources) -> Option<[Machine; 2]> {
    let observed = unchanged(sources, &COVERAGE).unwrap().image?;
    let machine = |image, dispatcher| {
        let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
        Machine::with_dispatcher(program, dispatcher)
    };
    Some([machine(compile(sources).image?, Dispatcher::Matched), machine(observed, Dispatcher::best())])
}

/// Without and with time for instructions, when releases are interrupted in the middle.
#[test]
fn runs_of_the_samples_are_the_same() {
    let mut runs = 0;
    for (path, text) in texts("samples") {
        for timing in [None, Some(Timing { instruction_ns: 90, preemptive: true, cycle_ns: 10_000 })] {
            let Some([mut ordinary, mut observed]) = machines(&sources(&path, &text)) else { continue };
            runs += 1;
            for machine in [&mut ordinary, &mut observed] {
                if let Some(timing) = timing {
                    machine.set_timing(timing);
                }
                machine.set_budget(200_000);
            }
            for scan in 0..50 {
                let now = scan * if timing.is_some() { 10_000 } else { 10_000_000 };
                assert_eq!(ordinary.scan(now), observed.scan(now), "{} {scan}", path.display());
                assert!(ordinary.state() == observed.state(), "{} {scan}", path.display());
                assert_eq!(ordinary.task_runs(), observed.task_runs());
            }
            assert_eq!(ordinary.events(), observed.events());
            assert!(ordinary.coverage().is_none());
            // A file of types has nothing to observe, nor has a program that is only begun.
            let nothing = observed.program().coverage().unwrap_or_default() == Default::default();
            assert_eq!(observed.coverage().is_none(), nothing, "{}", path.display());
        }
    }
    assert!(runs > 30, "{runs}");
}

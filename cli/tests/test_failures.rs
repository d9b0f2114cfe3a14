//! Each way to fail as the user sees it: every file of `tests/failures` is run, and what is shown is a snapshot.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::{fs, path::Path};

use bench::Ran;
use latchwork_bench::procedure::report::FAILURES;

/// Ways to fail that no short procedure comes to; their reports are tested where they are made.
const ELSEWHERE: &[&str] = &["run-too-long", "trace-not-compared", "value-refused"];

fn folder() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/failures"))
}

/// Runs the command beside the files, keeping what failed elsewhere.
fn run(path: &Path) -> Ran {
    let away = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(folder()).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, away.path().join(path.file_name().unwrap())).unwrap();
    }
    let mut command = assert_cmd::Command::new(env!("CARGO_BIN_EXE_latchwork"));
    command.current_dir(away.path()).env_remove("COLUMNS").env_remove("CLICOLOR_FORCE");
    Ran::from(command.arg("test").arg(path.file_name().unwrap()).output().unwrap())
}

#[test]
fn reports() {
    insta::glob!("failures/*-*.steps", |path| {
        let ran = run(path).expect(1);
        assert_eq!(ran.err, "", "{}", ran.shown());
        insta::assert_snapshot!(ran.out);
    });
}

#[test]
fn each_way_to_fail_is_shown() {
    for (name, _) in FAILURES.iter().filter(|(name, _)| !ELSEWHERE.contains(name)) {
        let ran = run(&folder().join(format!("{name}.steps")));
        assert!(ran.out.contains(&format!("failed[{name}]: ")), "{name}\n{}", ran.shown());
    }
}

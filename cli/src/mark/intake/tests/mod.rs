//! Ordinary and hostile submissions.

mod bytes;
mod folders;
#[cfg(unix)]
mod hostile_folders;
mod hostile_zips;
mod identities;
mod sample_class;
mod texts;
mod zips;

use std::{fs, path::Path};

use super::{Class, IntakeOptions, Pattern, Roster, Submission, roster};

/// A program that holds a declaration.
const PROGRAM: &str = "PROGRAM LiftPump\nVAR Start AT %IX0.0 : BOOL; END_VAR\nEND_PROGRAM\n";

/// Writes a file with the folders it lies in.
fn put(folder: &Path, name: &str, bytes: impl AsRef<[u8]>) {
    let path = folder.join(name);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, bytes).unwrap();
}

/// Reads every submission of a class.
fn read_all(path: &Path, options: &IntakeOptions) -> Vec<Submission> {
    let class = Class::list(path, options).unwrap();
    (0..class.len()).map(|index| class.read(index).unwrap()).collect()
}

/// Reads the only submission of a class.
fn read_one(path: &Path) -> Submission {
    let mut all = read_all(path, &IntakeOptions::default());
    assert_eq!(all.len(), 1, "{all:?}");
    all.remove(0)
}

fn ids(submissions: &[Submission]) -> Vec<&str> {
    submissions.iter().map(|submission| submission.student.id.as_str()).collect()
}

fn file_names(submission: &Submission) -> Vec<&str> {
    submission.files.iter().map(|file| file.name.as_str()).collect()
}

fn left_out_names(submission: &Submission) -> Vec<&str> {
    submission.left_out.iter().map(|left_out| left_out.name.as_str()).collect()
}

fn problem_names(submission: &Submission) -> Vec<&str> {
    submission.problems.iter().map(|problem| problem.name).collect()
}

fn with_pattern(pattern: &str) -> IntakeOptions {
    IntakeOptions { pattern: Some(Pattern::read(pattern).unwrap()), ..IntakeOptions::default() }
}

fn with_roster(text: &str) -> IntakeOptions {
    let members = roster::parse(text).unwrap();
    IntakeOptions { roster: Some(Roster { members, path: None }), ..IntakeOptions::default() }
}

//! The class of the sample exercise, and what means harm, read as the command reads them and marked: every mark is that of
//! the table, every hostile submission comes to the state that was thought out for it, and whoever handed in beside it
//! keeps every point.

use std::fs;

use latchwork_bench::marking::{Marked, Marker, State};
use latchwork_tests::class::{
    exercise::{SampleExercise, mark},
    expected::expected_marks,
    hostile::hostile_places,
    written::write_class,
};

use super::{
    super::{Budget, Outcome},
    Class, IntakeOptions, Submission, read_all,
};

fn options(exercise: &SampleExercise) -> IntakeOptions {
    let budget = exercise.description().budget;
    let files = usize::try_from(budget.files).unwrap();
    IntakeOptions { budget: Budget { text_bytes: budget.text_bytes, files }, ..IntakeOptions::default() }
}

/// The state of what was not read, or the mark.
fn judged(marker: &Marker<'_>, submission: &Submission) -> Result<Marked, State> {
    match submission.outcome {
        Outcome::Read => {
            let texts = submission.files.iter().map(|file| (file.name.clone(), file.text.clone()));
            Ok(mark(marker, &submission.student.id, texts.collect()))
        }
        Outcome::NoProgram => Err(State::Empty),
        Outcome::NothingHandedIn => Err(State::NothingHandedIn),
        Outcome::OverBudget => Err(State::OverBudget),
        Outcome::Unreadable => Err(State::Unreadable),
    }
}

fn state_and_total(judged: &Result<Marked, State>) -> (State, i64) {
    judged.as_ref().map_or_else(|state| (*state, 0), |marked| (marked.state, marked.total.hundredths()))
}

#[test]
fn every_submission_of_the_class_earns_what_the_table_says() {
    let exercise = SampleExercise::read().unwrap();
    let marker = exercise.marker().unwrap();
    let folder = tempfile::tempdir().unwrap();
    write_class(folder.path()).unwrap();
    let table = expected_marks().unwrap();
    let all = read_all(folder.path(), &options(&exercise));
    assert_eq!(all.len(), table.len());
    let mut wrong = String::new();
    for row in &table {
        let submission = all.iter().find(|one| one.student.id == row.student);
        let submission = submission.unwrap_or_else(|| panic!("{} is missing", row.student));
        let (state, total) = state_and_total(&judged(&marker, submission));
        if (state.words(), total) != (row.state.as_str(), row.total) {
            let got = state.words();
            wrong += &format!(
                "{}: {got} {total}, by hand {} {}: {}\n",
                row.student, row.state, row.total, row.why
            );
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

#[test]
fn hostile_files_harm_nobody() {
    let exercise = SampleExercise::read().unwrap();
    let marker = exercise.marker().unwrap();
    let full = marker.scheme().out_of.hundredths();
    let options = options(&exercise);
    let right = latchwork_tests::workbench::sample("exercises/tray-watering/submissions/s12.st").unwrap();
    let mut wrong = String::new();
    for place in hostile_places().unwrap() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("neighbour.st"), &right).unwrap();
        if (place.make)(folder.path(), &place).is_err() {
            // This file system has no such names.
            continue;
        }
        let class = Class::list(folder.path(), &options).unwrap();
        let all: Vec<Submission> = (0..class.len()).map(|index| class.read(index).unwrap()).collect();
        let (neighbours, others): (Vec<_>, Vec<_>) =
            all.iter().partition(|one| one.student.id == "neighbour");
        let earned = state_and_total(&judged(&marker, neighbours[0]));
        assert_eq!((neighbours.len(), earned), (1, (State::Ran, full)), "beside {:?}", place.name);
        assert!(others.len() <= 1, "{:?}: {others:?}", place.name);
        let judged = others.first().map_or(Err(State::NothingHandedIn), |one| judged(&marker, one));
        let (state, total) = state_and_total(&judged);
        if !place.states.contains(&state) || (total == full) != place.works {
            wrong += &format!("{:?} ({}): {state:?} {total}\n", place.name, place.tries);
        }
        // Nothing was written outside of the class, nor into it.
        assert!(!std::path::Path::new("/tmp/harm.st").exists());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2, "{:?}", place.name);
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

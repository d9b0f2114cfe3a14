//! The sample exercise: every submission of its class earns what was worked out by hand, to the hundredth of a point.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a failing test may panic")]

use std::{collections::BTreeSet, fmt::Write as _, fs};

use latchwork_bench::marking::{FindingKind, ItemVerdict, Marked, Marker, State};
use latchwork_tests::{
    class::{
        bytes::byte_level,
        exercise::{SampleExercise, mark},
        expected::{EXERCISE, Expected, ExpectedMark, expected_marks},
        written::write_class,
    },
    workbench::{sample, samples},
};

/// The fewest submissions there are, and the fewest of them that stand as files beside the exercise.
const SUBMISSIONS: (usize, usize) = (70, 30);

fn names_in(folder: &std::path::Path) -> BTreeSet<String> {
    let entries = fs::read_dir(folder).unwrap();
    entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

/// The texts of a submission that stands beside the exercise.
fn texts(submission: &str) -> Vec<(String, String)> {
    let path = samples().join(EXERCISE).join("submissions").join(submission);
    if !path.is_dir() {
        return vec![(submission.to_owned(), fs::read_to_string(path).unwrap())];
    }
    let names = names_in(&path);
    names.into_iter().map(|name| (name.clone(), fs::read_to_string(path.join(&name)).unwrap())).collect()
}

#[test]
fn every_submission_has_its_row() {
    let table = expected_marks().unwrap();
    let folder = tempfile::tempdir().unwrap();
    write_class(folder.path()).unwrap();
    let rows: BTreeSet<String> = table.iter().map(|row| row.submission.clone()).collect();
    assert_eq!(rows.len(), table.len());
    assert_eq!(rows, names_in(folder.path()));
    let beside = names_in(&samples().join(EXERCISE).join("submissions"));
    assert!(rows.len() >= SUBMISSIONS.0 && beside.len() >= SUBMISSIONS.1, "{} {}", rows.len(), beside.len());
    let made: BTreeSet<&str> =
        byte_level().unwrap().iter().map(|(path, _)| path.split('/').next().unwrap()).collect();
    assert_eq!(rows.len(), beside.len() + made.len());
}

/// Points follow from the verdicts, and nobody loses what was not earned.
#[test]
fn the_table_adds_up() {
    let exercise = SampleExercise::read().unwrap();
    let marker = exercise.marker().unwrap();
    let scheme = marker.scheme();
    assert_eq!(scheme.out_of.hundredths(), 2000);
    let worth: Vec<i64> = scheme.items[1..].iter().map(|item| item.points.hundredths()).collect();
    for row in expected_marks().unwrap() {
        let earned = row.verdicts.iter().zip(&worth).map(|(verdict, worth)| match verdict {
            Expected::Passed => *worth,
            Expected::InPart(points) => *points,
            Expected::Failed | Expected::NotRun => 0,
        });
        let total = (row.compiles + earned.sum::<i64>() - row.deducted).max(0);
        assert_eq!(row.total, total, "{}", row.student);
        assert_eq!(row.deducted > 0, !row.demand.is_empty(), "{}", row.student);
        assert!(State::ALL.iter().any(|state| state.words() == row.state), "{}: {}", row.student, row.state);
        assert!(!row.why.is_empty(), "{}", row.student);
    }
}

/// A procedure that everybody passes, or nobody, says nothing about a class; nor does one that always goes with another.
#[test]
fn every_procedure_tells_students_apart() {
    let table = expected_marks().unwrap();
    let column = |index: usize| -> Vec<bool> {
        table.iter().map(|row| row.verdicts[index] == Expected::Passed).collect()
    };
    let columns: BTreeSet<Vec<bool>> = (0..table[0].verdicts.len()).map(column).collect();
    assert_eq!(columns.len(), table[0].verdicts.len());
    assert!(columns.iter().all(|column| column.contains(&true) && column.contains(&false)));
}

#[test]
fn the_reference_earns_everything_and_what_does_nothing_nothing() {
    let exercise = SampleExercise::read().unwrap();
    let marker = exercise.marker().unwrap();
    let earned = |name: &str, text: String| mark(&marker, name, vec![(name.to_owned(), text)]);
    let reference = earned("reference.st", sample(&format!("{EXERCISE}/reference.st")).unwrap());
    assert_eq!((reference.total.hundredths(), reference.deducted.hundredths()), (2000, 0));
    assert!(reference.findings.is_empty(), "{:?}", reference.findings);
    for text in [marker.nothing_text(), sample(&format!("{EXERCISE}/skeleton.st")).unwrap()] {
        let nothing = earned("nothing.st", text);
        assert_eq!((nothing.total.hundredths(), nothing.state), (0, State::Ran));
        assert!(nothing.items.iter().all(|item| item.points.hundredths() == 0));
    }
}

/// Every submission that is plain text. The others are held to the table by the command, which reads them.
#[test]
fn every_submission_earns_what_was_worked_out_by_hand() {
    let exercise = SampleExercise::read().unwrap();
    let marker = exercise.marker().unwrap();
    let beside = names_in(&samples().join(EXERCISE).join("submissions"));
    let mut wrong = String::new();
    let mut marked = 0;
    for row in expected_marks().unwrap().iter().filter(|row| beside.contains(&row.submission)) {
        let earned = mark(&marker, &row.student, texts(&row.submission));
        marked += 1;
        differences(row, &earned, &marker, &mut wrong);
    }
    assert!(wrong.is_empty() && marked >= SUBMISSIONS.1, "\n{wrong}");
}

fn differences(row: &ExpectedMark, earned: &Marked, marker: &Marker<'_>, wrong: &mut String) {
    let mut differ = |what: &str, expected: String, got: String| {
        if expected != got {
            let _ =
                writeln!(wrong, "{}: {what}: {expected} by hand, {got} marked ({})", row.student, row.why);
        }
    };
    differ("state", row.state.clone(), earned.state.words().to_owned());
    differ("total", row.total.to_string(), earned.total.hundredths().to_string());
    differ("deducted", row.deducted.to_string(), earned.deducted.hundredths().to_string());
    differ("compiles", row.compiles.to_string(), earned.items[0].points.hundredths().to_string());
    for ((item, result), expected) in
        marker.scheme().items[1..].iter().zip(&earned.items[1..]).zip(&row.verdicts)
    {
        let got = match result.verdict {
            ItemVerdict::Passed => Expected::Passed,
            ItemVerdict::Partly => Expected::InPart(result.points.hundredths()),
            ItemVerdict::Failed | ItemVerdict::Refused => Expected::Failed,
            ItemVerdict::NotRun => Expected::NotRun,
        };
        differ(&item.title, format!("{expected:?}"), format!("{got:?}"));
        assert_ne!(result.verdict, ItemVerdict::Refused, "{}", row.student);
    }
    let has = |kind| earned.findings.iter().any(|finding| finding.kind == kind);
    differ("interface", (row.findings == "interface").to_string(), has(FindingKind::Interface).to_string());
    differ("demands", (!row.demand.is_empty()).to_string(), has(FindingKind::Constraint).to_string());
    // The finding names what it is about: the key's first word, and the block or warning behind it.
    let about = row.demand.rsplit(' ').next().unwrap_or_default();
    let named = |about: &str| {
        let finding = earned.findings.iter().find(|finding| finding.kind == FindingKind::Constraint);
        finding.is_none_or(|finding| finding.message.contains(about) || about == "lines-max")
    };
    differ("what is not kept", about.to_owned(), if named(about) { about.to_owned() } else { String::new() });
}

//! The table of marks worked out by hand, which stands beside the exercise.

use crate::workbench::sample;

/// The folder of the exercise, in the folder of the samples.
pub const EXERCISE: &str = "exercises/tray-watering";

/// How many procedures the exercise has: those of its files, in their order.
pub const PROCEDURES: usize = 10;

/// What becomes of a procedure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Expected {
    /// Every expectation is met.
    Passed,
    /// Not every one, and so many hundredths of points are earned.
    InPart(i64),
    /// Nothing is earned.
    Failed,
    /// There is no program to run.
    NotRun,
}

/// What one submission must earn.
#[derive(Clone, Debug)]
pub struct ExpectedMark {
    /// The student's id.
    pub student: String,
    /// The name of the file or folder among the submissions.
    pub submission: String,
    /// How far it comes: the words of a `State`.
    pub state: String,
    /// Hundredths of points for compiling.
    pub compiles: i64,
    /// The procedures in their order.
    pub verdicts: Vec<Expected>,
    /// The constraint that is not kept, by its key, with the name that it is about; empty if all are.
    pub demand: String,
    /// Hundredths of points taken off.
    pub deducted: i64,
    /// Hundredths of points in total.
    pub total: i64,
    /// What else must be found: `interface`, or nothing.
    pub findings: String,
    /// Why.
    pub why: String,
}

/// The whole table.
///
/// # Errors
/// What cannot be read, with its line.
pub fn expected_marks() -> Result<Vec<ExpectedMark>, String> {
    let text = sample(&format!("{EXERCISE}/expected-marks.csv"))?;
    let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines.map(|line| row(line).ok_or_else(|| format!("expected-marks.csv: {line}"))).collect()
}

fn row(line: &str) -> Option<ExpectedMark> {
    // The reason stands last, and may have semicolons of its own.
    let mut cells = line.splitn(PROCEDURES + 9, ';');
    let mut next = || cells.next();
    let (student, submission, state) = (next()?, next()?, next()?);
    let compiles = hundredths(next()?)?;
    let verdicts: Vec<Expected> = (0..PROCEDURES).map_while(|_| verdict(next()?)).collect();
    let (demand, deducted, total) = (next()?, hundredths(next()?)?, hundredths(next()?)?);
    let (findings, why) = (next()?, next()?);
    (verdicts.len() == PROCEDURES).then(|| ExpectedMark {
        student: student.to_owned(),
        submission: submission.to_owned(),
        state: state.to_owned(),
        compiles,
        verdicts,
        demand: demand.to_owned(),
        deducted,
        total,
        findings: findings.to_owned(),
        why: why.to_owned(),
    })
}

fn verdict(cell: &str) -> Option<Expected> {
    match cell {
        "passed" => Some(Expected::Passed),
        "failed" => Some(Expected::Failed),
        "not run" => Some(Expected::NotRun),
        _ => cell.strip_prefix("in part ").and_then(hundredths).map(Expected::InPart),
    }
}

/// `2`, `1.33`.
fn hundredths(cell: &str) -> Option<i64> {
    let (whole, rest) = cell.split_once('.').unwrap_or((cell, ""));
    let rest: i64 = format!("{rest:0<2}").parse().ok()?;
    Some(whole.parse::<i64>().ok()? * 100 + rest)
}

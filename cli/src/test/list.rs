//! The procedures that would run, for people and for tools.

use std::fmt::Write as _;

use latchwork_bench::diagram::{counted, words::harmless};
use latchwork_compiler::render;
use serde::Serialize;

use super::{
    arguments::ResultForm,
    case,
    json::{SCHEMA_VERSION, pretty},
    select::{self, Case},
    suite::Suite,
    tally::{points_number, points_text},
    text::Columns,
};

#[derive(Serialize)]
struct Document<'a> {
    schema_version: u32,
    procedures: Vec<Entry<'a>>,
}

#[derive(Serialize)]
struct Entry<'a> {
    file: String,
    title: &'a str,
    program: &'a str,
    points: f64,
    line: usize,
}

/// The list in a form.
pub(super) fn list(suites: &[Suite], cases: &[Case], form: ResultForm) -> String {
    // A file that is no more than wrong has no procedure to list.
    let cases: Vec<Case> = cases.iter().copied().filter(|case| case.procedure.is_some()).collect();
    match form {
        ResultForm::Text => as_text(suites, &cases),
        ResultForm::Json => pretty(&Document {
            schema_version: SCHEMA_VERSION,
            procedures: cases.iter().filter_map(|case| entry(suites, *case)).collect(),
        }),
    }
}

fn entry(suites: &[Suite], case: Case) -> Option<Entry<'_>> {
    let suite = suites.get(case.suite)?;
    let span = suite.procedure(case.procedure?)?.heading;
    Some(Entry {
        file: suite.name(),
        title: select::title(suite, case)?,
        program: suite.variant(case.variant),
        points: points_number(case::points(suite, case)),
        line: render::position(&suite.sources, span).map_or(1, |position| position.line),
    })
}

fn as_text(suites: &[Suite], cases: &[Case]) -> String {
    let mut out = String::new();
    let mut points = 0.0;
    let mut last = None;
    let mut columns = Columns::default();
    for case in cases {
        let Some(suite) = suites.get(case.suite) else { continue };
        if last != Some(case.suite) {
            let gap = if last.is_some() { "\n" } else { "" };
            let _ = writeln!(out, "{gap}{}", harmless(&suite.name()));
            last = Some(case.suite);
            columns = Columns::of(suite);
        }
        let worth = case::points(suite, *case);
        points += worth;
        let line = format!("  {}{}", columns.title(suite, *case), columns.points(worth));
        let _ = writeln!(out, "{}", line.trim_end());
    }
    let count = counted(cases.len() as u64, "procedure");
    let _ = writeln!(out, "\n{count}, {} points", points_text(points));
    out
}

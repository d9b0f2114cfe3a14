//! Reports of failures that no short procedure comes to, made by hand. All others are shown by the tests of the command,
//! from procedures.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use latchwork_bench::{
    procedure::{
        Action, Failure, FailureKind,
        report::{self, FAILURES, ReportOptions, ReportSources, failure_name},
    },
    recording::Recording,
};
use latchwork_grammar::{FileId, Sources, Span};

const TEXT: &str = "\
procedure 'rinse'
  press StartPB;
  repeat 9 times wait T#1d; end_repeat;
  set Main.Batch to Depth * 2;
  compare Pump;
end_procedure
";

/// The place of a piece of the text.
fn span(piece: &str) -> Span {
    let start = TEXT.find(piece).unwrap() as u32;
    Span::new(FileId(0), start, start + piece.len() as u32)
}

fn shown(step: &str, kind: FailureKind) -> String {
    let mut sources = Sources::new();
    sources.add("rinse.steps", TEXT);
    let recording = Recording {
        title: "Rinsing".to_owned(),
        source: "rinse.st".to_owned(),
        scan_ns: 10_000_000,
        end_ns: 0,
        ..Recording::default()
    };
    let failure = Failure {
        kind,
        step: span(step),
        condition: None,
        time_ns: 86_400_000_000_000,
        scan: Some(8_640_000),
        since_ns: 0,
        parts: Vec::new(),
        last_right_ns: None,
        came_right_ns: None,
        action: Some(Action {
            span: span("press StartPB;"),
            time_ns: 0,
            effect: "pressed, the normally open contact is closed: %IX0.0 reads TRUE".to_owned(),
        }),
        recording,
        pace: None,
        account: None,
        hint: Some("look at\u{1b}[2J the valve".to_owned()),
    };
    let all = ReportSources { procedure: &sources, program: &sources, plant: &sources };
    assert!(FAILURES.iter().any(|(name, _)| *name == failure_name(&failure.kind)));
    let text = report::text(&failure, all, &ReportOptions { width: 80, colour: false, ascii: false });
    assert!(text.contains(&report::headline(&failure, all)) && text.contains(&report::label(&failure, all)));
    text
}

#[test]
fn a_procedure_that_takes_too_long() {
    insta::assert_snapshot!(shown("wait T#1d;", FailureKind::TooLong { limit: 10_000_000, what: "scans" }));
}

#[test]
fn a_value_that_does_not_fit() {
    let reason = "`Main.Batch` holds at most 8 characters".to_owned();
    insta::assert_snapshot!(shown("set Main.Batch to Depth * 2;", FailureKind::ValueRefused { reason }));
}

#[test]
fn a_trace_that_was_not_approved() {
    let path = "rinse.traces/rinse.csv".to_owned();
    insta::assert_snapshot!(shown("compare Pump;", FailureKind::NotApproved { path }));
    insta::assert_snapshot!(shown("compare Pump;", FailureKind::NotApproved { path: String::new() }));
}

#[test]
fn a_trace_that_cannot_be_compared() {
    let reason = "too many values of `Pump` lie within the shift to compare them all".to_owned();
    insta::assert_snapshot!(shown("compare Pump;", FailureKind::NotCompared { reason }));
}

#[test]
fn names_are_in_order_and_explained() {
    assert!(FAILURES.is_sorted());
    for (name, _) in FAILURES {
        assert!(latchwork_compiler::explain::explain(name).is_some(), "{name}");
    }
}

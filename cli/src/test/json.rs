//! Results as one JSON document, an interface: `cli/schemas/test-results.json` tells its form. Members may be added,
//! none is renamed or removed without a new `schema_version`.

use latchwork_bench::{
    diagram::SAFETY_SENTENCE,
    procedure::{
        Failure,
        report::{self, ReportOptions, ReportSources},
    },
};
use latchwork_compiler::render;
use latchwork_grammar::{Sources, Span};
use serde::Serialize;
use serde_json::Value;

use super::{
    approve::Approval,
    case::{Told, Verdict},
    select::{self, Case},
    suite::Suite,
    tally::{Tally, points_number},
};

/// Version of the form of all JSON documents of `test`.
pub(super) const SCHEMA_VERSION: u32 = 1;

/// Width of the diagrams in reports.
const COLUMNS: usize = 100;

/// A document being made.
#[derive(Default)]
pub(super) struct Json {
    results: Vec<Entry>,
    timings: bool,
}

#[derive(Serialize)]
struct Document<'a> {
    schema_version: u32,
    /// Whether the run came to its end.
    complete: bool,
    summary: Summary,
    results: &'a [Entry],
    note: &'static str,
}

#[derive(Serialize)]
struct Summary {
    procedures: usize,
    passed: usize,
    failed: usize,
    refused: usize,
    not_run: usize,
    points: f64,
    points_reached: f64,
}

#[derive(Serialize)]
struct Entry {
    file: String,
    title: String,
    program: String,
    line: usize,
    verdict: &'static str,
    points: f64,
    points_reached: f64,
    scans: u64,
    simulated_ns: i64,
    events: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    took_ns: Option<u64>,
    /// What became of its approved trace, where traces are approved.
    #[serde(skip_serializing_if = "Option::is_none")]
    approval: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<Why>,
}

#[derive(Serialize)]
struct Why {
    name: String,
    message: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    failure: Option<Value>,
    #[serde(skip_serializing_if = "Option::is_none")]
    diagnostics: Option<Value>,
}

impl Json {
    /// Nothing in it yet; with `timings` it tells how long each procedure took on this computer.
    pub(super) fn new(timings: bool) -> Self {
        Json { results: Vec::new(), timings }
    }

    /// Adds a case.
    pub(super) fn case(&mut self, suite: &Suite, case: Case, told: &mut Told, approval: Option<Approval>) {
        let procedure = case.procedure.and_then(|index| suite.procedure(index));
        let position = procedure.and_then(|procedure| render::position(&suite.sources, procedure.heading));
        let points = points_number(told.points);
        let refused = told.verdict == Verdict::Refused;
        let reason = told.reason.as_mut().map(|reason| {
            let detail = reason.json.take();
            let (failure, diagnostics) = if refused { (None, detail) } else { (detail, None) };
            Why { name: reason.name.clone(), message: reason.message.clone(), failure, diagnostics }
        });
        self.results.push(Entry {
            file: suite.name(),
            title: select::title(suite, case).unwrap_or_default().to_owned(),
            program: suite.variant(case.variant).to_owned(),
            line: position.map_or(1, |position| position.line),
            verdict: match told.verdict {
                Verdict::Passed => "passed",
                Verdict::Failed => "failed",
                Verdict::Refused => "refused",
                Verdict::NotRun => "not_run",
            },
            points,
            points_reached: if told.verdict == Verdict::Passed { points } else { 0.0 },
            scans: told.scans,
            simulated_ns: told.end_ns,
            events: told.events,
            took_ns: self.timings.then(|| u64::try_from(told.took.as_nanos()).unwrap_or(u64::MAX)),
            approval: approval.map(|approval| match approval {
                Approval::New => "new",
                Approval::Changed => "changed",
                Approval::Unchanged => "unchanged",
                Approval::Refused => "not_approved",
            }),
            reason,
        });
    }

    /// The document.
    pub(super) fn finish(&self, tally: &Tally, complete: bool) -> String {
        pretty(&Document {
            schema_version: SCHEMA_VERSION,
            complete,
            summary: Summary {
                procedures: tally.procedures(),
                passed: tally.passed,
                failed: tally.failed,
                refused: tally.refused,
                not_run: tally.not_run,
                points: points_number(tally.points),
                points_reached: points_number(tally.points_reached),
            },
            results: &self.results,
            note: SAFETY_SENTENCE,
        })
    }
}

/// A value as indented JSON with a line feed at its end. These are trees of strings and numbers, which always can be
/// written.
pub(crate) fn pretty(value: &impl Serialize) -> String {
    serde_json::to_string_pretty(value).unwrap_or_default() + "\n"
}

#[derive(Serialize)]
struct FailureEntry<'a> {
    #[serde(flatten)]
    place: Place<'a>,
    label: String,
    /// Start of the scan that decided it.
    time_ns: i64,
    scan: Option<u64>,
    since_ns: i64,
    last_right_ns: Option<i64>,
    came_right_ns: Option<i64>,
    parts: Vec<PartEntry>,
    action: Option<ActionEntry<'a>>,
    hint: Option<&'a str>,
    text: String,
}

#[derive(Serialize)]
struct PartEntry {
    text: String,
    value: String,
    depth: u32,
}

#[derive(Serialize)]
struct ActionEntry<'a> {
    #[serde(flatten)]
    place: Place<'a>,
    time_ns: i64,
    effect: &'a str,
}

#[derive(Serialize)]
struct Place<'a> {
    file: &'a str,
    line: usize,
    column: usize,
    end_line: usize,
    end_column: usize,
}

/// A failure with all that is known of it.
pub(super) fn failure(failure: &Failure, sources: ReportSources<'_>) -> Value {
    let options = ReportOptions { width: COLUMNS, colour: false, ascii: false };
    let entry = FailureEntry {
        place: place(report::place(failure), sources.procedure),
        label: report::label(failure, sources),
        time_ns: failure.time_ns,
        scan: failure.scan,
        since_ns: failure.since_ns,
        last_right_ns: failure.last_right_ns,
        came_right_ns: failure.came_right_ns,
        parts: report::parts(failure)
            .into_iter()
            .map(|(text, value, depth)| PartEntry { text, value, depth })
            .collect(),
        action: failure.action.as_ref().map(|action| ActionEntry {
            place: place(action.span, sources.procedure),
            time_ns: action.time_ns,
            effect: &action.effect,
        }),
        hint: failure.hint.as_deref(),
        text: report::text(failure, sources, &options),
    };
    serde_json::to_value(entry).unwrap_or_default()
}

fn place(span: Span, sources: &Sources) -> Place<'_> {
    match render::extent(sources, span) {
        Some((file, start, end)) => {
            Place { file, line: start.line, column: start.column, end_line: end.line, end_column: end.column }
        }
        None => Place { file: "", line: 1, column: 1, end_line: 1, end_column: 1 },
    }
}

//! The rows concerned around the moment of a failure, with marks for what was allowed and what came.

use super::ReportOptions;
use crate::{
    diagram::{Diagram, DiagramOptions, compared::departures, mark::Mark, scale::duration_words},
    procedure::outcome::{Failure, FailureKind},
    render::{TerminalOptions, terminal},
};

/// Scans shown at least before and behind what is pointed at.
const SCANS_AROUND: i64 = 8;

/// The last action, and incidents, are shown too if they lie at most so many times the rest before it.
const ACTION_REACH: i64 = 4;

/// Most rows shown where a condition does not say which rows matter.
const ROWS_MAX: usize = 6;

/// The picture; `None` where there is nothing to see.
pub(super) fn picture(failure: &Failure, options: &ReportOptions) -> Option<String> {
    let options = TerminalOptions {
        width: options.width,
        colour: options.colour,
        ascii: options.ascii,
        heading: false,
        footer: false,
    };
    let pictures: Vec<String> = diagrams(failure).iter().map(|diagram| terminal(diagram, &options)).collect();
    (!pictures.is_empty()).then(|| pictures.join("\n"))
}

/// What the picture shows: for a departure from a trace one diagram a row, else one of the rows concerned.
pub(super) fn diagrams(failure: &Failure) -> Vec<Diagram<'_>> {
    let recording = &failure.recording;
    if let FailureKind::Trace(departed) = &failure.kind {
        return departures(&departed.expected, recording, &departed.comparison);
    }
    // What was written wrongly or takes too long is not seen in rows.
    let unseen = matches!(
        failure.kind,
        FailureKind::AlreadyLater { .. }
            | FailureKind::ValueRefused { .. }
            | FailureKind::TooLong { .. }
            | FailureKind::NotApproved { .. }
            | FailureKind::NotCompared { .. }
    );
    let stopped = matches!(failure.kind, FailureKind::Fault(_) | FailureKind::PlantFault(_));
    let unseen = unseen || (stopped && recording.rows.len() > ROWS_MAX);
    if unseen || recording.scans.is_empty() || recording.rows.is_empty() {
        return Vec::new();
    }
    let marks = marks(failure);
    let (from_ns, until_ns) = window(failure, &marks);
    let window =
        DiagramOptions { from_ns: Some(from_ns), until_ns: Some(until_ns), ..DiagramOptions::default() };
    let diagram = Diagram::new(recording, &window).with_marks(marks);
    if diagram.start_ns >= diagram.end_ns { Vec::new() } else { vec![diagram] }
}

/// The time shown: all that is marked, the last action if it is not far off, and a little around.
pub(super) fn window(failure: &Failure, marks: &[Mark]) -> (i64, i64) {
    let times = || {
        let spans = marks.iter().flat_map(|mark| &mark.spans).flat_map(|(from, until)| [*from, *until]);
        spans.chain(marks.iter().flat_map(|mark| &mark.moments).copied())
    };
    let mut first = times().min().unwrap_or(failure.time_ns);
    let last = times().max().unwrap_or(failure.time_ns);
    let scan_ns = failure.recording.scan_ns.max(1);
    let least = scan_ns.saturating_mul(SCANS_AROUND);
    // What was done last, and what happened to the controller or its wiring, if that is not far off.
    let length = last.saturating_sub(first).max(least);
    let incidents = failure.recording.incidents.iter().map(|incident| incident.time_ns);
    let before = incidents.chain(failure.action.as_ref().map(|action| action.time_ns));
    let reached = before
        .filter(|time| (0..=length.saturating_mul(ACTION_REACH)).contains(&first.saturating_sub(*time)));
    first = reached.min().unwrap_or(first);
    let around = (last.saturating_sub(first) / 8).max(least);
    (first.saturating_sub(around).max(0), last.saturating_add(around))
}

/// What was allowed, what came.
pub(super) fn marks(failure: &Failure) -> Vec<Mark> {
    let (since_ns, time_ns) = (failure.since_ns, failure.time_ns);
    let until = |time_ns: i64| format!("until {}", duration_words(time_ns));
    let failed = Mark::moment("failed", time_ns, duration_words(time_ns));
    let came = failure.came_right_ns.map(|came_ns| Mark::moment("came", came_ns, duration_words(came_ns)));
    let stretch =
        |name: &str, from_ns: i64, until_ns: i64| Mark::span(name, from_ns, until_ns, until(until_ns));
    let mut marks = Vec::new();
    match &failure.kind {
        FailureKind::Now => {
            marks.push(failed);
            marks.extend(came);
        }
        FailureKind::Within { allowed_ns } => {
            marks.push(stretch("allowed", since_ns, since_ns.saturating_add(*allowed_ns)));
            marks.extend(came);
        }
        FailureKind::For { wanted_ns } => {
            marks.push(stretch("wanted", since_ns, since_ns.saturating_add(*wanted_ns)));
            marks.push(failed);
        }
        FailureKind::TooEarly { from_ns, until_ns } => {
            marks.push(stretch(
                "allowed",
                since_ns.saturating_add(*from_ns),
                since_ns.saturating_add(*until_ns),
            ));
            marks.push(Mark { name: "came".to_owned(), ..failed });
        }
        FailureKind::TooLate { from_ns, until_ns } => {
            marks.push(stretch(
                "allowed",
                since_ns.saturating_add(*from_ns),
                since_ns.saturating_add(*until_ns),
            ));
            marks.extend(came);
        }
        FailureKind::While => {
            marks.push(stretch("block", since_ns, time_ns));
            marks.push(failed);
        }
        FailureKind::Edges { counted, at_ns } => {
            let counted = format!("{counted} counted");
            marks.push(Mark { moments: at_ns.clone(), ..Mark::span("edges", since_ns, time_ns, counted) });
        }
        FailureKind::Response { triggered_ns, allowed_ns, stay_ns } => {
            let allowed_ns = stay_ns.unwrap_or(*allowed_ns);
            let name = if stay_ns.is_some() { "wanted" } else { "allowed" };
            if allowed_ns > 0 {
                marks.push(stretch(name, *triggered_ns, triggered_ns.saturating_add(allowed_ns)));
            }
            if stay_ns.is_some() || allowed_ns == 0 {
                marks.push(failed);
            }
            marks.extend(came);
        }
        FailureKind::Always | FailureKind::Never => marks.push(failed),
        FailureKind::Fault(fault) | FailureKind::PlantFault(fault) => {
            marks.push(Mark::moment("stopped", fault.time_ns, duration_words(fault.time_ns)));
        }
        FailureKind::Trace(_)
        | FailureKind::NotApproved { .. }
        | FailureKind::NotCompared { .. }
        | FailureKind::AlreadyLater { .. }
        | FailureKind::ConditionFault(_)
        | FailureKind::ValueRefused { .. }
        | FailureKind::TooLong { .. } => marks.push(Mark { name: "here".to_owned(), ..failed }),
    }
    marks
}

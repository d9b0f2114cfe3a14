//! A failure as a text that reads like a good compile error: where the procedure stands, what was done last, what was
//! expected and what was seen, every part of the condition with its value, and the rows concerned around that moment.
//!
//! Knows nothing of files and of terminals: width and colour are the caller's knowledge.

mod name;
mod parts;
mod picture;
mod quote;
mod seen;
mod wording;

use latchwork_compiler::render;
use latchwork_grammar::{Diagnostic, Sources, Span};

pub use name::{FAILURES, failure_name};

use self::wording::Wording;
use super::outcome::{Failure, FailureKind};
use crate::diagram::{Diagram, mark::Mark, scale::time_text};

/// The texts that a failure speaks of.
#[derive(Clone, Copy, Debug)]
pub struct ReportSources<'a> {
    /// Those of the procedure, by the file numbers of its spans.
    pub procedure: &'a Sources,
    /// Those of the program, found by name; empty if it came without its source.
    pub program: &'a Sources,
    /// Those of the plant, found by name.
    pub plant: &'a Sources,
}

/// How a report is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ReportOptions {
    /// Width of the diagram in columns, 40 to 1000; others are brought into this range.
    pub width: usize,
    /// Whether ECMA-48 colours are used. They never carry anything alone.
    pub colour: bool,
    /// Whether the diagram uses ASCII characters alone.
    pub ascii: bool,
}

/// What failed in one line: "`NOT Pump` did not become TRUE within 20 ms".
pub fn headline(failure: &Failure, sources: ReportSources<'_>) -> String {
    wording::wording(failure, sources.procedure).headline
}

/// What underlines the failed condition: "`Pump` stayed TRUE until 2.31 s: 310 ms, allowed 20 ms".
pub fn label(failure: &Failure, sources: ReportSources<'_>) -> String {
    wording::wording(failure, sources.procedure).label
}

/// The place that the failure is about.
pub fn place(failure: &Failure) -> Span {
    failure.condition.unwrap_or(failure.step)
}

/// The parts of the condition: text, value, depth.
pub fn parts(failure: &Failure) -> Vec<(String, String, u32)> {
    parts::texts(failure)
}

/// The whole report; every line ends in a line feed.
pub fn text(failure: &Failure, sources: ReportSources<'_>, options: &ReportOptions) -> String {
    let mut out = message(failure, sources, options.colour);
    if let Some(picture) = picture::picture(failure, options) {
        out.push_str(&picture);
        out.push('\n');
    }
    out
}

/// The report without its diagram, for whoever draws it another way.
pub fn message(failure: &Failure, sources: ReportSources<'_>, colour: bool) -> String {
    let hint = failure.hint.iter().map(|hint| format!("hint: {hint}"));
    let mut diagnostic = diagnostic(failure, sources.procedure);
    diagnostic.notes.extend(hint);
    told(failure, &diagnostic, sources, colour)
}

/// The report without its diagram and its hint, for whoever shows them another way.
pub fn message_without_hint(failure: &Failure, sources: ReportSources<'_>, colour: bool) -> String {
    told(failure, &diagnostic(failure, sources.procedure), sources, colour)
}

fn told(failure: &Failure, diagnostic: &Diagnostic, sources: ReportSources<'_>, colour: bool) -> String {
    let mut out = render::finding("failed", diagnostic, sources.procedure, colour);
    match &failure.kind {
        FailureKind::Fault(fault) => out.push_str(&render::fault(fault, sources.program, colour)),
        FailureKind::PlantFault(fault) => out.push_str(&render::plant_fault(fault, sources.plant, colour)),
        _ => {}
    }
    out
}

/// What of a failure is seen in rows.
pub(crate) struct Sight<'f> {
    /// As the terminal shows it; nothing if there is nothing to see.
    pub(crate) diagrams: Vec<Diagram<'f>>,
    /// What was allowed and what came.
    pub(crate) marks: Vec<Mark>,
    /// The time that the failure is about, in nanoseconds.
    pub(crate) window: (i64, i64),
}

/// What of a failure is seen in rows.
pub(crate) fn sight(failure: &Failure) -> Sight<'_> {
    let marks = picture::marks(failure);
    Sight { diagrams: picture::diagrams(failure), window: picture::window(failure, &marks), marks }
}

/// The failure in the form in which problems of a text are shown, without its hint.
fn diagnostic(failure: &Failure, sources: &Sources) -> Diagnostic {
    let Wording { headline, label, notes } = wording::wording(failure, sources);
    let mut found = Diagnostic::error(failure_name(&failure.kind), place(failure), headline).label(label);
    if let Some(action) = failure.action.as_ref().filter(|action| action.span != failure.step) {
        found = found.also(action.span, format!("at {}: {}", time_text(action.time_ns), action.effect));
    }
    if let FailureKind::Response { triggered_ns, .. } = failure.kind
        && let Some(trigger) = wording::trigger(failure, sources)
    {
        found = found.also(trigger, format!("TRUE at {}", time_text(triggered_ns)));
    }
    // The table keeps its lines, so it does not go through the builder, which makes one line of all.
    found.notes.extend(parts::table(failure));
    found.notes.extend(notes);
    found
}

//! Recorded traces as expectations: what a run must look like, read from a file and held against a recording.
//!
//! A trace is a table (the form of [`crate::export::csv`], and of a stimulus: a column `time`, then a column for each
//! signal, an empty cell where nothing changed) or a value change dump (IEEE 1364), written by this program or
//! captured anywhere. Reading takes the signals that are asked for, each [`Subject`] with the type of its values, and
//! gives their values over time.
//!
//! - Time 0 of a trace is the start of what is compared. A table's first value of a signal holds from its row on; before
//!   it the value is not known, as where a dump has `x` or `z`. What is not known agrees with everything.
//! - A trace ends with its last row, or with the last time of a dump; the values given there hold at that moment. What
//!   a run does behind the end of its trace is not compared; [`Comparison`] tells how far it went.
//! - Changes may come earlier or later by a shift, and numbers may differ by a tolerance: [`Rules`]. When two functions
//!   agree with a shift is said in `agreement`, and what the same value is in `likeness`.

mod agreement;
mod approved;
mod compare;
mod dump;
mod dumped;
mod likeness;
mod naming;
mod subject;
mod table;

use latchwork_grammar::{Diagnostic, FileId, Severity, Span};
use latchwork_vm::Value;

pub use self::{
    approved::approved,
    compare::{CompareError, ComparedRow, Comparison, Departure, Shown},
    likeness::Rules,
    subject::{Subject, SubjectError},
};

/// Largest trace accepted, in bytes.
pub const TRACE_BYTES_MAX: usize = 64 * 1024 * 1024;

/// Most values kept of one trace.
pub const TRACE_VALUES_MAX: usize = 1_000_000;

/// Most columns of a table.
pub const TRACE_COLUMNS_MAX: usize = 4_096;

/// Most variables of a dump.
pub const DUMP_VARIABLES_MAX: usize = 250_000;

/// What is expected of some signals.
#[derive(Clone, Debug)]
pub struct Expected {
    /// The file it was read from.
    pub file: FileId,
    /// The first time that it says nothing about, in nanoseconds; after its last row.
    pub end_ns: i64,
    /// The signals, in the order in which they were asked for.
    pub tracks: Vec<Track>,
}

/// What is expected of one signal.
#[derive(Clone, Debug)]
pub struct Track {
    /// What is compared with it.
    pub subject: Subject,
    /// The name in the file.
    pub heading: String,
    /// The place of that name.
    pub span: Span,
    /// Its values in order of time; neighbours differ, and so do their times.
    pub values: Vec<TrackValue>,
}

/// A value from a time on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrackValue {
    /// Nanoseconds from the start of the trace, not negative.
    pub time_ns: i64,
    /// `None` where it is not known.
    pub value: Option<Value>,
}

impl Expected {
    /// Reads the signals that are asked for; the first character other than a blank tells a dump, which begins with
    /// `$`, from a table. Nothing if an error is among the diagnostics.
    pub fn read(file: FileId, text: &str, subjects: &[Subject]) -> (Option<Expected>, Vec<Diagnostic>) {
        let start = Span::new(file, 0, 0);
        if text.len() > TRACE_BYTES_MAX {
            let message =
                format!("the trace has {} bytes, more than the {TRACE_BYTES_MAX} allowed", text.len());
            let diagnostic = Diagnostic::error("trace-too-large", start, message).note(
                "keep the signals that are compared and the time of the procedure, and leave out the rest",
            );
            return (None, vec![diagnostic]);
        }
        let dump = text.trim_start_matches('\u{feff}').trim_start().starts_with('$');
        let (expected, mut diagnostics) =
            if dump { dump::read(file, text, subjects) } else { table::read(file, text, subjects) };
        // Where a value could not be read it is not missing.
        if diagnostics.is_empty() {
            let tracks = expected.iter().flat_map(|expected| &expected.tracks);
            diagnostics.extend(tracks.filter_map(without_values));
        }
        let failed = diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error);
        (expected.filter(|_| !failed), diagnostics)
    }
}

impl Track {
    fn new(subject: &Subject, heading: String, span: Span) -> Self {
        Track { subject: subject.clone(), heading, span, values: Vec::new() }
    }

    /// Appends a value; times do not go backwards. Of several values at one time the last one counts.
    fn push(&mut self, time_ns: i64, value: Option<Value>) {
        if self.values.last().is_some_and(|last| last.time_ns == time_ns) {
            self.values.pop();
        }
        if self.values.last().is_none_or(|last| last.value != value) {
            self.values.push(TrackValue { time_ns, value });
        }
    }
}

/// What is said of a signal that never has a value: comparing it would find nothing, whatever the run does.
fn without_values(track: &Track) -> Option<Diagnostic> {
    if track.values.iter().any(|value| value.value.is_some()) {
        return None;
    }
    let message = format!("the trace has no value of `{}`", track.subject.name());
    Some(
        Diagnostic::error("trace-no-value", track.span, message)
            .label("named here, and never given a value")
            .note("a signal without values would agree with every run"),
    )
}

/// A text of the file in a message.
fn short(text: &str) -> String {
    crate::stimulus::read::shortened(text)
}

/// What is said when a trace has more values than are kept.
fn too_many_values(place: Span) -> Diagnostic {
    let message =
        format!("the trace has more than {TRACE_VALUES_MAX} changes of the signals that are compared");
    Diagnostic::error("trace-too-large", place, message)
        .label("the first change too many")
        .note("compare fewer signals, or a shorter trace")
}

/// What is said when nothing in a file bears the name of a subject. `known` are names in the file, not necessarily
/// all of them.
fn no_such_signal(place: Span, subject: &Subject, known: &[&str], what: &str) -> Diagnostic {
    /// More names would hide the message.
    const LISTED_MAX: usize = 12;
    let near = crate::nearest::nearest(subject.name(), known.iter().copied());
    let label =
        crate::nearest::did_you_mean(&near).unwrap_or_else(|| "nothing has a similar name".to_owned());
    let message = format!("the trace has no {what} for `{}`", subject.name());
    let diagnostic = Diagnostic::error("trace-no-signal", place, message).label(label);
    if known.is_empty() {
        return diagnostic.note(format!("it has no {what} at all"));
    }
    let listed: Vec<String> =
        known.iter().take(LISTED_MAX).map(|name| format!("`{}`", short(name))).collect();
    let more = known.len().saturating_sub(LISTED_MAX);
    let more = if more == 0 { String::new() } else { format!(" and {more} more") };
    diagnostic.note(format!("it has {}{more}", listed.join(", ")))
}

/// What is said when several signals of a file may be meant.
fn ambiguous_signal(first: Span, second: Span, subject: &Subject, what: &str) -> Diagnostic {
    let message = format!("two {what}s of the trace may be `{}`", subject.name());
    Diagnostic::error("trace-ambiguous-signal", second, message)
        .label("so may this one be")
        .also(first, "this may be it")
        .note(format!("rename one of them, or write the full name behind `compare`, as the {what} has it"))
}

//! Diagnostics as one JSON document.
//!
//! The document is an interface: fields may be added, none is renamed or removed without a new `schema_version`.
//! Lines and columns count from 1, columns in characters; `end_line` and `end_column` are one past the last
//! character.

use latchwork_grammar::{Diagnostic, Severity, Sources, Span};
use serde::Serialize;

use super::{LISTED_MAX, in_source_order, lines::Files, spans};

/// Version of the document's form.
const SCHEMA_VERSION: u32 = 1;

#[derive(Serialize)]
struct Document<'a> {
    schema_version: u32,
    diagnostics: Vec<Entry<'a>>,
    #[serde(skip_serializing_if = "is_zero")]
    omitted: usize,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_zero(number: &usize) -> bool {
    *number == 0
}

#[derive(Serialize)]
struct Entry<'a> {
    name: &'a str,
    severity: &'static str,
    message: &'a str,
    #[serde(flatten)]
    place: Place<'a>,
    label: &'a str,
    related: Vec<Related<'a>>,
    notes: &'a [String],
    fix: Option<Repair<'a>>,
}

#[derive(Serialize)]
struct Place<'a> {
    file: &'a str,
    line: usize,
    column: usize,
    end_line: usize,
    end_column: usize,
}

#[derive(Serialize)]
struct Related<'a> {
    text: &'a str,
    #[serde(flatten)]
    place: Place<'a>,
}

#[derive(Serialize)]
struct Repair<'a> {
    message: &'a str,
    edits: Vec<Replacement<'a>>,
}

#[derive(Serialize)]
struct Replacement<'a> {
    text: &'a str,
    #[serde(flatten)]
    place: Place<'a>,
}

/// Diagnostics as one JSON document with a line feed at its end:
/// `{"schema_version":1,"diagnostics":[{"name","severity","message","file","line","column","end_line",
/// "end_column","label","related","notes","fix"}]}`.
///
/// At most [`LISTED_MAX`] are listed; `omitted`, there only when it is not 0, says how many are not.
pub fn json(diagnostics: &[Diagnostic], sources: &Sources) -> String {
    let files = Files::new(sources, spans(diagnostics));
    let listed = in_source_order(diagnostics).into_iter().take(LISTED_MAX);
    let document = Document {
        schema_version: SCHEMA_VERSION,
        diagnostics: listed.map(|diagnostic| entry(diagnostic, &files)).collect(),
        omitted: diagnostics.len().saturating_sub(LISTED_MAX),
    };
    pretty(&document)
}

/// The same list of diagnostics without a document around it, to stand in another one.
pub fn entries(diagnostics: &[Diagnostic], sources: &Sources) -> serde_json::Value {
    let files = Files::new(sources, spans(diagnostics));
    let listed = in_source_order(diagnostics).into_iter().take(LISTED_MAX);
    let entries: Vec<Entry<'_>> = listed.map(|diagnostic| entry(diagnostic, &files)).collect();
    // These values are trees of strings and numbers, which always can be written.
    serde_json::to_value(entries).unwrap_or_default()
}

/// A value as indented JSON. These values are trees of strings and numbers, which always can be written.
pub(super) fn pretty(value: &impl Serialize) -> String {
    let mut text = serde_json::to_string_pretty(value).unwrap_or_default();
    text.push('\n');
    text
}

fn entry<'a>(diagnostic: &'a Diagnostic, files: &Files<'a>) -> Entry<'a> {
    Entry {
        name: diagnostic.name,
        severity: match diagnostic.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        },
        message: &diagnostic.message,
        place: place(diagnostic.primary.span, files),
        label: &diagnostic.primary.text,
        related: diagnostic
            .secondary
            .iter()
            .map(|label| Related { text: &label.text, place: place(label.span, files) })
            .collect(),
        notes: &diagnostic.notes,
        fix: diagnostic.fix.as_ref().map(|fix| Repair {
            message: &fix.message,
            edits: fix
                .edits
                .iter()
                .map(|edit| Replacement { text: &edit.text, place: place(edit.span, files) })
                .collect(),
        }),
    }
}

fn place<'a>(span: Span, files: &Files<'a>) -> Place<'a> {
    match files.place(span) {
        Some((file, start, end)) => {
            Place { file, line: start.line, column: start.column, end_line: end.line, end_column: end.column }
        }
        None => Place { file: "", line: 1, column: 1, end_line: 1, end_column: 1 },
    }
}

//! Diagnostics and run-time faults as text for people and as JSON and SARIF for tools.
//!
//! Renderers take diagnostics as they are and know nothing of how they were found; they neither print nor read
//! files. All of them list diagnostics in source order: files in the order given, then by place.

mod excerpt;
mod fault;
mod finding;
mod json;
mod lines;
mod sanitise;
mod sarif;
mod text;

use latchwork_grammar::{Diagnostic, Severity, Span};

pub use fault::{events, fault, plant_events, plant_fault};
pub use finding::finding;
pub use json::{entries, json};
pub use lines::{Position, extent, position};
pub use sarif::sarif;
pub use text::{SHOWN_MAX, excerpts, text};

/// Most diagnostics in a JSON or SARIF document; how many there are beyond it is told in the document.
pub const LISTED_MAX: usize = 10_000;

/// Diagnostics by file in the order given, then by place; equal places stay in the order in which they were found.
pub fn in_source_order(diagnostics: &[Diagnostic]) -> Vec<&Diagnostic> {
    let mut ordered: Vec<&Diagnostic> = diagnostics.iter().collect();
    ordered.sort_by_key(|diagnostic| (diagnostic.primary.span.file, diagnostic.primary.span.start));
    ordered
}

/// The count in words: "2 errors, 1 warning"; "no errors, no warnings" for none.
pub fn summary(diagnostics: &[Diagnostic]) -> String {
    let errors = diagnostics.iter().filter(|diagnostic| diagnostic.severity == Severity::Error).count();
    let warnings = diagnostics.len() - errors;
    match (errors, warnings) {
        (0, 0) => "no errors, no warnings".to_string(),
        (errors, 0) => counted(errors, "error"),
        (0, warnings) => counted(warnings, "warning"),
        _ => format!("{}, {}", counted(errors, "error"), counted(warnings, "warning")),
    }
}

/// A line of text of unknown origin, such as a file name, without anything that a terminal would obey.
pub fn visible(text: &str) -> String {
    sanitise::line(text, 4096)
}

fn counted(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

/// Every place a list of diagnostics speaks of.
fn spans(diagnostics: &[Diagnostic]) -> impl Iterator<Item = Span> {
    diagnostics.iter().flat_map(|diagnostic| {
        std::iter::once(diagnostic.primary.span)
            .chain(diagnostic.secondary.iter().map(|label| label.span))
            .chain(diagnostic.fix.iter().flat_map(|fix| fix.edits.iter().map(|edit| edit.span)))
    })
}

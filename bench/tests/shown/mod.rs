//! Diagnostics as text for snapshots: one block each, every part of it visible.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests may stop them")]

use std::fmt::Write;

use latchwork_grammar::{Diagnostic, Severity, Span};

/// All diagnostics of a text.
pub fn diagnostics(text: &str, diagnostics: &[Diagnostic]) -> String {
    let mut out = String::new();
    for diagnostic in diagnostics {
        let severity = match diagnostic.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        };
        let place = place(text, diagnostic.primary.span);
        writeln!(out, "{severity}[{}] {place}: {}", diagnostic.name, diagnostic.message).unwrap();
        writeln!(out, "    | {}", diagnostic.primary.text).unwrap();
        for label in &diagnostic.secondary {
            writeln!(out, "    | {}: {}", self::place(text, label.span), label.text).unwrap();
        }
        for note in &diagnostic.notes {
            writeln!(out, "    = {note}").unwrap();
        }
        if let Some(fix) = &diagnostic.fix {
            writeln!(
                out,
                "    > {}: {:?}",
                fix.message,
                fix.edits.iter().map(|edit| &edit.text).collect::<Vec<_>>()
            )
            .unwrap();
        }
    }
    if out.is_empty() {
        out.push_str("no diagnostics\n");
    }
    out
}

/// Line and column of both ends, and the text between.
fn place(text: &str, span: Span) -> String {
    let (start, end) = (span.start as usize, span.end as usize);
    let covered = text.get(start..end).expect("a span lies on character boundaries within its file");
    let shown: String = covered.chars().take(30).collect();
    format!("{}-{} {shown:?}", position(text, start), position(text, end))
}

fn position(text: &str, byte: usize) -> String {
    let before = &text[..byte];
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
    format!("{line}:{column}")
}

//! Pieces of a procedure's text, quoted.

use latchwork_grammar::{Names, Sources, Span, tokens};

use crate::diagram::words::{crop, harmless};

/// Widest quotation, in columns.
const COLUMNS_MAX: usize = 56;

/// The text of a place, on one line, in quotation marks.
pub(super) fn quoted(span: Span, sources: &Sources) -> String {
    format!("`{}`", plain(span, sources))
}

/// The text of a place, on one line.
pub(super) fn plain(span: Span, sources: &Sources) -> String {
    one_line(sources.text(span))
}

/// A text on one line.
pub(super) fn one_line(text: &str) -> String {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    crop(&harmless(&text), COLUMNS_MAX, '…')
}

/// What stands between the first word of a step and the last one in front of its condition: `Start` of
/// `whenever Start then Lamp;`, `exactly 3 rising edges` of `expect exactly 3 rising edges of Pump;`.
pub(super) fn between(step: Span, condition: Span, sources: &Sources) -> Option<Span> {
    let front = Span { end: condition.start.max(step.start), ..step };
    let lexed = tokens(front.file, sources.text(front), &mut Names::new());
    let [_, inner @ .., _] = lexed.tokens.as_slice() else { return None };
    let (first, last) = inner.first().zip(inner.last())?;
    Some(Span { start: front.start + first.start, end: front.start + last.end, ..front })
}

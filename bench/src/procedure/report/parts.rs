//! The parts of a condition with their values, as a table indented by depth.

use latchwork_vm::Value;
use unicode_width::UnicodeWidthStr;

use super::quote;
use crate::{
    diagram::words::{harmless, value_text},
    procedure::outcome::{Failure, FailureKind},
};

/// Most parts shown; a condition of a hundred operands is read in the procedure.
const PARTS_MAX: usize = 24;

/// Text, value and depth of each part.
pub(super) fn texts(failure: &Failure) -> Vec<(String, String, u32)> {
    let parts = failure.parts.iter();
    parts.map(|part| (quote::one_line(&part.text), value_text(&part.value), part.depth)).collect()
}

/// The table, as one text of several lines; `None` where what is said beside the condition tells all values.
pub(super) fn table(failure: &Failure) -> Option<String> {
    // What is said beside a condition of one part tells its value.
    let told = !matches!(failure.kind, FailureKind::ConditionFault(_));
    if told && failure.parts.len() < 2 {
        return None;
    }
    let texts = texts(failure);
    let more = texts.len().saturating_sub(PARTS_MAX);
    let least = texts.iter().map(|(_, _, depth)| *depth).min().unwrap_or(0);
    let indented = |(text, _, depth): &(String, String, u32)| {
        // Deeper than this nothing would be left of the width.
        format!("{}{text}", "  ".repeat((depth - least).min(8) as usize))
    };
    let rows: Vec<(String, &str)> =
        texts.iter().take(PARTS_MAX).map(|row| (indented(row), row.1.as_str())).collect();
    let width = rows.iter().map(|(text, _)| text.width()).max()?;
    let mut lines: Vec<String> = rows
        .iter()
        .map(|(text, value)| format!("{text}{}  {value}", " ".repeat(width - text.width())))
        .collect();
    if more > 0 {
        lines.push(format!("… and {more} more parts"));
    }
    Some(lines.join("\n"))
}

/// The only part, if there is one, as it is written and with its value.
pub(super) fn only(failure: &Failure) -> Option<(String, &Value)> {
    match failure.parts.as_slice() {
        [part] => Some((harmless(&quote::one_line(&part.text)), &part.value)),
        _ => None,
    }
}

//! Forms that several parts of the page have in common.

use std::fmt::Write as _;

use crate::{
    marking::{Item, ItemVerdict, State},
    render::page::escaped,
};

/// A part of the page with its heading.
pub(super) fn section(anchor: &str, title: &str, body: &mut String, content: impl FnOnce(&mut String)) {
    let _ = writeln!(body, "<section aria-labelledby=\"{anchor}\">\n<h2 id=\"{anchor}\">{title}</h2>");
    content(body);
    body.push_str("</section>\n");
}

/// Begins a table that may be wider than the page, with what it is and the headings of its columns: class and text.
pub(super) fn table(class: &str, caption: &str, columns: &[(&str, &str)], body: &mut String) {
    let _ = write!(
        body,
        "<div class=\"wide\" role=\"group\" aria-label=\"{caption}\" tabindex=\"0\">\n<table class=\"{class}\">\n\
         <caption>{caption}</caption>\n<thead><tr>"
    );
    for (class, heading) in columns {
        let class = if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
        let _ = write!(body, "<th scope=\"col\"{class}>{heading}</th>");
    }
    body.push_str("</tr></thead>\n<tbody>\n");
}

/// Ends it.
pub(super) fn end_table(body: &mut String) {
    body.push_str("</tbody>\n</table>\n</div>\n");
}

/// Tells that a list goes on elsewhere.
pub(super) fn more(count: usize, what: &str, where_else: &str, body: &mut String) {
    if count > 0 {
        let _ = writeln!(body, "<p class=\"aside\">… and {count} more {what}: {where_else}.</p>");
    }
}

/// An item by number and title.
pub(super) fn item(item: &Item, number: usize) -> String {
    let kept_back = if item.shown { "" } else { " <span class=\"aside\">(kept back)</span>" };
    format!("<span class=\"number\">{number}</span> {}{kept_back}", escaped(&item.title))
}

/// A bar of so many percent. It is told beside it in figures, so it is hidden from who hears the page.
pub(super) fn bar(percent: f64) -> String {
    format!(
        "<svg class=\"bar\" viewBox=\"0 0 100 10\" preserveAspectRatio=\"none\" aria-hidden=\"true\" focusable=\"false\">\
         <rect class=\"all\" width=\"100\" height=\"10\"/><rect class=\"part\" width=\"{:.1}\" height=\"10\"/></svg>",
        percent.clamp(0.0, 100.0)
    )
}

/// A share in whole percent.
pub(super) fn percent(share: f64) -> String {
    format!("{:.0} %", (share * 100.0).round())
}

/// How far a submission came, as sign and word.
pub(super) fn state(state: State) -> String {
    let (sign, class) = match state {
        State::Ran => ("✓", "well"),
        State::NotCompiled | State::Empty | State::OverBudget | State::Unreadable => ("✗", "wrong"),
        State::NothingHandedIn => ("–", "open"),
        State::InternalFault => ("!", "doubtful"),
    };
    signed(sign, class, state.words())
}

/// The sign of a verdict and the class of its colour.
pub(super) const fn verdict_sign(verdict: ItemVerdict) -> (&'static str, &'static str) {
    match verdict {
        ItemVerdict::Passed => ("✓", "well"),
        ItemVerdict::Partly => ("~", "doubtful"),
        ItemVerdict::Failed => ("✗", "wrong"),
        ItemVerdict::Refused => ("!", "doubtful"),
        ItemVerdict::NotRun => ("–", "open"),
    }
}

/// A word with a sign in front.
pub(super) fn signed(sign: &str, class: &str, word: &str) -> String {
    format!("<span class=\"sign {class}\"><span aria-hidden=\"true\">{sign}</span> {word}</span>")
}

/// "1 student", "3 students".
pub(super) fn counted_students(count: usize) -> String {
    crate::diagram::counted(count as u64, "student")
}

/// "1 program", "3 programs".
pub(super) fn counted_programs(count: usize) -> String {
    crate::diagram::counted(count as u64, "program")
}

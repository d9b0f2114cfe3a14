//! An explanation as text: the tree with its branches drawn, statements quoted under what they wrote.

use unicode_width::UnicodeWidthStr;

use super::{
    super::{Alternative, Cause, Explanation, Reason, Statement},
    point, since, spoken, untied,
};

/// How an explanation is written.
#[derive(Clone, Copy, Debug)]
pub struct TextOptions {
    /// Width in columns.
    pub width: usize,
    /// Whether only ASCII characters are used.
    pub ascii: bool,
}

/// The least width that is left for words.
const WORDS_MIN: usize = 30;

/// An explanation as text.
#[must_use]
pub fn text(explanation: &Explanation, options: &TextOptions) -> String {
    let mut writer = Writer { options, lines: Vec::new() };
    let reason = &explanation.reason;
    let asked = reason.at.scan;
    writer.wrap("", "", &heading(reason, asked));
    let quoted = statement(&reason.cause).map(quote);
    writer.children(reason, quoted, "", asked);
    if is_cut(reason) {
        writer.lines.push(String::new());
        writer.wrap(
            "",
            "",
            "Not everything is followed to its end: ask for a greater depth, or for one of those variables.",
        );
    }
    writer.otherwise(explanation);
    untied(&writer.lines.join("\n")) + "\n"
}

/// What introduces the ways to the other value: "Pump would be FALSE with this:".
pub(super) fn other_value(explanation: &Explanation) -> String {
    let on = explanation.reason.value.as_deref() == Some("TRUE");
    let subject = &explanation.reason.subject;
    let differs = match (subject.strip_suffix(".X"), on) {
        (Some(step), true) if is_step(&explanation.reason) => format!("the step {step} would not be active"),
        (Some(step), false) if is_step(&explanation.reason) => format!("the step {step} would be active"),
        (_, true) => format!("{subject} would be FALSE"),
        (_, false) => format!("{subject} would be TRUE"),
    };
    let several = explanation.otherwise.len() > 1 || explanation.more_ways;
    let one = if several { "with any one of these" } else { "with this" };
    format!("{differs} {one}:")
}

/// The first line: what is asked about, when, and since when.
pub(super) fn heading(reason: &Reason, asked: u32) -> String {
    let plain = spoken(reason, asked);
    // People count scans from 1.
    let scan = asked.saturating_add(1);
    if is_step(reason) {
        return format!("At {} (scan {scan}) {plain}", point(reason.at.time_ns));
    }
    let stated = match &reason.value {
        Some(value) => format!("{} is {value}", reason.subject),
        None => reason.subject.clone(),
    };
    let at = format!("{stated} at {} (scan {scan})", point(reason.at.time_ns));
    match plain.strip_prefix(&stated) {
        Some(rest) => format!("{at}{rest}"),
        None => format!("{at}, {}: {plain}", since(reason.since)),
    }
}

fn is_step(reason: &Reason) -> bool {
    matches!(reason.cause, Cause::Step(_))
}

/// Whether something in it was not followed further.
fn is_cut(reason: &Reason) -> bool {
    reason.cause == Cause::Deeper || reason.parts.iter().any(is_cut)
}

/// The statement to be quoted.
pub(super) fn statement(cause: &Cause) -> Option<&Statement> {
    match cause {
        Cause::Written(statement)
        | Cause::Result(statement)
        | Cause::Given(statement)
        | Cause::Taken(statement)
        | Cause::Idle { statement, .. }
        | Cause::Block { call: statement, .. } => Some(statement),
        _ => None,
    }
}

fn quote(statement: &Statement) -> String {
    format!("{}  {}", statement.place, statement.text)
}

struct Writer<'o> {
    options: &'o TextOptions,
    lines: Vec<String>,
}

impl Writer<'_> {
    fn children(&mut self, reason: &Reason, quoted: Option<String>, indent: &str, asked: u32) {
        let [bar, branch, last, gap] = if self.options.ascii {
            ["|  ", "|- ", "`- ", "   "]
        } else {
            ["│  ", "├─ ", "└─ ", "   "]
        };
        if let Some(quoted) = quoted {
            let lead = format!("{indent}{}", if reason.parts.is_empty() { gap } else { bar });
            self.wrap(&lead, &lead, &quoted);
        }
        let count = reason.parts.len();
        for (part, number) in reason.parts.iter().zip(1..) {
            let (first, rest) = if number == count { (last, gap) } else { (branch, bar) };
            let (first, rest) = (format!("{indent}{first}"), format!("{indent}{rest}"));
            self.wrap(&first, &rest, &spoken(part, asked));
            self.children(part, statement(&part.cause).map(quote), &rest, asked);
        }
    }

    fn otherwise(&mut self, explanation: &Explanation) {
        if explanation.otherwise.is_empty() {
            return;
        }
        self.lines.push(String::new());
        self.wrap("", "", &other_value(explanation));
        let dot = if self.options.ascii { "  - " } else { "  • " };
        for way in &explanation.otherwise {
            self.wrap(dot, "    ", &way_text(way));
        }
        if explanation.more_ways {
            self.wrap(dot, "    ", "other changes, of as many parts or more");
        }
    }

    /// Adds lines that are no wider than the page, with something in front of the first and of the others.
    fn wrap(&mut self, first: &str, rest: &str, words: &str) {
        let width = self.options.width.saturating_sub(first.width()).max(WORDS_MIN);
        let mut line = String::new();
        let mut lead = first;
        for word in words.split(' ') {
            if !line.is_empty() && line.width() + 1 + word.width() > width {
                self.lines.push(format!("{lead}{line}").trim_end().to_owned());
                line.clear();
                lead = rest;
            } else if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        self.lines.push(format!("{lead}{line}").trim_end().to_owned());
    }
}

pub(super) fn way_text(way: &Alternative) -> String {
    let changes: Vec<String> = way
        .changes
        .iter()
        .map(|change| match change.device.as_ref().or(change.how.as_ref()) {
            Some(more) => format!("{} {} ({more})", change.subject, change.value),
            None => format!("{} {}", change.subject, change.value),
        })
        .collect();
    let by = way.by.as_ref().map(|by| format!(", so that {by}"));
    format!("{}{}", changes.join(" and "), by.unwrap_or_default())
}

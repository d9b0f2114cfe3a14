//! The lines of a page: headings, comments, rungs, statements in text, what is wired to the terminals.

use super::{TextOptions, rung};
use crate::{
    diagram::words::harmless,
    render::terminal::text::{Line, Style, to_ascii, wrap_words},
    rungs::{
        Page, Placed,
        model::{Body, TextBody},
        words::{folded, pieces, place, sentence},
    },
};

/// Columns in front of what an entry shows.
const GUTTER: usize = 6;

/// Columns for each statement that an entry stands inside of.
const STEP: usize = 2;

/// Behind a statement in text that did not run.
const IDLE: &str = "   did not run";

/// Most steps that are shown.
const STEPS_MAX: usize = 8;

pub(super) fn page(page: &Page<'_>, options: &TextOptions) -> Vec<Line> {
    let mut lines = Vec::new();
    let writer = Writer { page, options };
    lines.extend(writer.wrapped(Style::Strong, &page.title, 0));
    lines.extend(writer.wrapped(Style::Faint, &page.subtitle, 0));
    let mut heading = None;
    let mut below_a_rung = false;
    for placed in &page.entries {
        if placed.entry.heading.is_some() && placed.entry.heading != heading {
            lines.push(Line::default());
            let text = placed.entry.heading.clone().unwrap_or_default();
            lines.extend(writer.wrapped(Style::Strong, &text, 0));
        }
        heading.clone_from(&placed.entry.heading);
        writer.entry(placed, below_a_rung, &mut lines);
        below_a_rung = placed.entry.body.is_drawn();
    }
    let wired = page.labels.wired();
    if !wired.is_empty() {
        lines.push(Line::default());
        lines.extend(writer.wrapped(Style::Strong, "On the panel", 0));
        for (address, device) in wired {
            lines.extend(writer.wrapped(Style::Plain, &device.sentence(address), 2));
        }
    }
    if !page.legend.is_empty() {
        lines.push(Line::default());
    }
    for sentence in &page.legend {
        lines.extend(writer.wrapped(Style::Faint, sentence, 0));
    }
    lines
}

struct Writer<'p> {
    page: &'p Page<'p>,
    options: &'p TextOptions,
}

impl Writer<'_> {
    fn clean(&self, text: &str) -> String {
        let text = harmless(text);
        if self.options.ascii { to_ascii(&text) } else { text }
    }

    fn wrapped(&self, style: Style, text: &str, indent: usize) -> Vec<Line> {
        if text.is_empty() {
            return Vec::new();
        }
        let room = self.options.width.saturating_sub(indent).max(10);
        // Cleaned piece by piece: a text may be longer than what is kept of one.
        let clean: Vec<String> = text.split(' ').map(|word| self.clean(word)).collect();
        let wrapped = wrap_words(&clean.join(" "), 0, room);
        let lines = wrapped.into_iter().map(|text| {
            let mut line = Line::default();
            line.pad_to(indent).push(style, text);
            line
        });
        lines.collect()
    }

    fn entry(&self, placed: &Placed<'_>, below_a_rung: bool, lines: &mut Vec<Line>) {
        let steps = usize::try_from(placed.entry.depth).unwrap_or(STEPS_MAX).min(STEPS_MAX);
        let indent = GUTTER + STEP * steps;
        let drawn = placed.entry.body.is_drawn();
        if drawn
            || below_a_rung
            || placed.comment.is_some()
            || (placed.entry.depth == 0 && placed.first_line > 0)
        {
            lines.push(Line::default());
        }
        if let Some(comment) = &placed.comment {
            lines.extend(self.wrapped(Style::Faint, comment, indent));
        }
        match &placed.entry.body {
            Body::Text(text) => self.text(placed, text, indent, lines),
            Body::Rung(_) | Body::Call(_) => {
                if !placed.continued {
                    let number = place(placed.first_line, placed.last_line);
                    self.numbered(number, &[(false, placed.source.clone())], "", indent, lines);
                }
                match rung(placed, self.page, self.options, STEP * steps) {
                    Some(drawn) => {
                        for drawn in drawn {
                            let mut line = Line::default();
                            line.pad_to(STEP * steps).append(drawn);
                            lines.push(line);
                        }
                        let told = sentence(placed, self.page);
                        lines.extend(self.wrapped(Style::Faint, &told, STEP * steps));
                    }
                    None => lines.extend(self.wrapped(
                        Style::Plain,
                        "too large to be drawn here; --format json has all of it",
                        indent,
                    )),
                }
            }
        }
    }

    /// A statement in text, a line of the source a line.
    fn text(&self, placed: &Placed<'_>, text: &TextBody, indent: usize, lines: &mut Vec<Line>) {
        let ran = !placed.flow.known || placed.flow.ran || text.label;
        for (index, row) in pieces(text, self.page, ran).into_iter().enumerate() {
            let number = if index == 0 { place(placed.first_line, placed.last_line) } else { String::new() };
            // What closes or divides a statement does not run.
            let idle = if index == 0 && !ran && text.source.is_some() { IDLE } else { "" };
            self.numbered(number, &row, idle, indent, lines);
        }
        if let Some(reason) = &text.reason {
            lines.extend(self.wrapped(Style::Faint, reason, indent));
        }
    }

    /// Pieces behind a number in the margin, folded to the width; `behind` stands at the end.
    fn numbered(
        &self,
        number: String,
        row: &[(bool, String)],
        behind: &str,
        indent: usize,
        lines: &mut Vec<Line>,
    ) {
        let mut head = Line::default();
        head.push(Style::Faint, format!("{number:>4} ")).pad_to(indent);
        let start = head.width();
        let mark = if self.options.ascii { '~' } else { '…' };
        let room = self.options.width.saturating_sub(start + behind.len() + STEP).max(STEP);
        let mut rows = folded(row, room, mark, |piece| self.clean(piece));
        if let Some(last) = rows.last_mut() {
            last.push((false, behind.to_owned()));
        }
        for (index, row) in rows.into_iter().enumerate() {
            let mut line = if index == 0 { std::mem::take(&mut head) } else { Line::default() };
            if index > 0 {
                line.pad_to(indent + STEP);
            }
            for (is_value, piece) in row {
                line.push(if is_value { Style::Live } else { Style::Plain }, piece);
            }
            lines.push(line);
        }
    }
}

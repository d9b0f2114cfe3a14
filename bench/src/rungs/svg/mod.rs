//! A sheet of rungs as a standalone SVG (W3C Scalable Vector Graphics 1.1): for reports, pages, print.
//!
//! Text stays text, in the reader's own fonts; colours follow light, dark and print; nothing is fetched from anywhere.
//! What is continuous is told by the width of lines and in words. The same page gives the same bytes. There are no ids, so
//! that several pictures fit into one page.

mod drawing;
mod strokes;
mod style;

use std::fmt::Write as _;

use self::{drawing::drawing, style::STYLE};
use super::{
    Page, Placed,
    model::TextBody,
    words::{folded, pieces, place, sentence},
};
use crate::{
    diagram::words::harmless,
    render::{markup::escape, terminal::text::wrap_words},
};

/// Width of the picture.
const WIDTH: i64 = 960;
const MARGIN: i64 = 20;
/// Room for the numbers of lines.
const GUTTER: i64 = 52;
const STEP: i64 = 18;
const STEPS_MAX: u32 = 8;
const LINE: i64 = 16;
/// Columns of running text and of text of fixed width that fit.
const TEXT_COLUMNS: usize = 125;
const SOURCE_COLUMNS: usize = 112;

/// Draws pages below one another.
#[must_use]
pub fn svg(pages: &[Page<'_>]) -> String {
    drawn(pages, &format!("<style>{STYLE}</style>\n"))
}

/// Draws a page as an element of an HTML page that has [`page_style`].
pub(crate) fn svg_in_page(page: &Page<'_>) -> String {
    drawn(std::slice::from_ref(page), "")
}

/// The style sheet of all rungs of an HTML page.
pub(crate) const fn page_style() -> &'static str {
    STYLE
}

fn drawn(pages: &[Page<'_>], style: &str) -> String {
    let mut out = String::new();
    let mut y = MARGIN;
    let mut told = Vec::new();
    for page in pages {
        let mut sheet = Sheet { page, out, y };
        sheet.draw();
        (out, y) = (sheet.out, sheet.y);
        told.extend(page.entries.iter().map(|placed| sentence(placed, page)));
    }
    let height = y + MARGIN / 2;
    let titles: Vec<&str> =
        pages.iter().map(|page| page.title.as_str()).filter(|title| !title.is_empty()).collect();
    let only = pages.first().and_then(|page| page.entries.first());
    let title = match only {
        Some(only) if titles.is_empty() => format!("Rung: {}", harmless(&only.source)),
        _ => format!("Rungs: {}", harmless(&titles.join(", "))),
    };
    let told = told.into_iter().filter(|text| !text.is_empty()).collect::<Vec<_>>().join(" ");
    let description = if told.is_empty() { "Contacts and coils without values.".to_owned() } else { told };
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"lr\" role=\"img\" aria-label=\"{title}\" \
         width=\"{WIDTH}\" height=\"{height}\" viewBox=\"0 0 {WIDTH} {height}\">\n\
         <title>{title}</title>\n<desc>{}</desc>\n{style}\
         <rect class=\"lr-ground\" width=\"100%\" height=\"100%\"/>\n{out}</svg>\n",
        escape(&clean(&description)),
        title = escape(&title),
    )
}

/// Text of any length without what could steer its reader's screen.
fn clean(text: &str) -> String {
    text.split(' ').map(harmless).collect::<Vec<_>>().join(" ")
}

struct Sheet<'p> {
    page: &'p Page<'p>,
    out: String,
    y: i64,
}

impl Sheet<'_> {
    fn draw(&mut self) {
        let page = self.page;
        if !page.title.is_empty() {
            self.y += 10;
            self.text(MARGIN, "lr-title", &harmless(&page.title));
            self.y += LINE + 4;
        }
        self.running(MARGIN, "lr-faint", &page.subtitle);
        let mut heading = None;
        for placed in &page.entries {
            if let Some(text) = placed.entry.heading.as_ref().filter(|text| heading != Some(*text)) {
                self.y += 10;
                self.running(MARGIN, "lr-heading", text);
            }
            heading = placed.entry.heading.as_ref();
            self.entry(placed);
        }
        self.y += 8;
        let wired = page.labels.wired();
        if !wired.is_empty() && !page.title.is_empty() {
            self.running(MARGIN, "lr-heading", "On the panel");
            for (address, device) in wired {
                self.running(MARGIN, "lr-faint", &device.sentence(address));
            }
            self.y += 6;
        }
        for sentence in &page.legend {
            self.running(MARGIN, "lr-faint", sentence);
        }
    }

    fn text(&mut self, x: i64, class: &str, text: &str) {
        if !text.is_empty() {
            let (y, text) = (self.y, escape(text));
            let _ = writeln!(self.out, "<text class=\"{class}\" x=\"{x}\" y=\"{y}\">{text}</text>");
        }
    }

    /// Text over as many lines as it takes.
    fn running(&mut self, x: i64, class: &str, text: &str) {
        if text.is_empty() {
            return;
        }
        for line in wrap_words(&clean(text), 0, TEXT_COLUMNS) {
            self.text(x, class, &line);
            self.y += LINE;
        }
    }

    fn entry(&mut self, placed: &Placed<'_>) {
        let steps = i64::from(placed.entry.depth.min(STEPS_MAX)) * STEP;
        let x = MARGIN + GUTTER + steps;
        let drawn = placed.entry.body.is_drawn();
        if drawn || placed.comment.is_some() || (placed.entry.depth == 0 && placed.first_line > 0) {
            self.y += 10;
        }
        if let Some(comment) = &placed.comment {
            self.running(x, "lr-faint", comment);
        }
        let number = place(placed.first_line, placed.last_line);
        if !placed.continued {
            self.text(MARGIN, "lr-faint", &number);
        }
        if let super::Body::Text(text) = &placed.entry.body {
            self.statement(placed, text, x);
            return;
        }
        if !placed.continued {
            self.source(&[(false, placed.source.clone())], "", x);
            self.y += 8 - LINE;
        }
        let told = sentence(placed, self.page);
        let left = MARGIN + steps;
        let (markup, height) = drawing(placed, self.page, (left, self.y), WIDTH - MARGIN - left);
        let label = if told.is_empty() { &placed.source } else { &told };
        let _ = writeln!(self.out, "<g role=\"group\" aria-label=\"{}\">{markup}</g>", escape(&clean(label)));
        self.y += height + 8;
        self.running(left, "lr-faint", &told);
    }

    /// A statement in text, with values that stand out by brackets and weight.
    fn statement(&mut self, placed: &Placed<'_>, text: &TextBody, x: i64) {
        let ran = !placed.flow.known || placed.flow.ran || text.label;
        for (index, row) in pieces(text, self.page, ran).into_iter().enumerate() {
            // What closes or divides a statement does not run.
            let idle = index == 0 && !ran && text.source.is_some();
            self.source(&row, if idle { "   did not run" } else { "" }, x);
        }
        if let Some(reason) = &text.reason {
            self.running(x, "lr-faint", reason);
        }
    }

    /// Pieces in as many lines as they need; `behind` stands at the end.
    fn source(&mut self, row: &[(bool, String)], behind: &str, x: i64) {
        let rows = folded(row, SOURCE_COLUMNS, '…', harmless);
        let last = rows.len().saturating_sub(1);
        for (index, row) in rows.into_iter().enumerate() {
            let (x, y) = (if index == 0 { x } else { x + STEP }, self.y);
            let _ = write!(self.out, "<text class=\"lr-source\" x=\"{x}\" y=\"{y}\">");
            for (is_value, piece) in row {
                let piece = escape(&piece);
                if is_value {
                    let _ = write!(self.out, "<tspan class=\"lr-true\">{piece}</tspan>");
                } else {
                    self.out.push_str(&piece);
                }
            }
            if index == last && !behind.is_empty() {
                let _ = write!(self.out, "<tspan class=\"lr-faint\">{behind}</tspan>");
            }
            self.out.push_str("</text>\n");
            self.y += LINE;
        }
    }
}

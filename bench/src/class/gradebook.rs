//! `gradebook.csv`: one row for each student, for spreadsheets and for what keeps the marks of a school.
//!
//! **Form.** UTF-8 without a byte order mark, which many readers take for a part of the first heading. Quoting and line ends
//! are those of RFC 4180, so lines end in CR LF: the readers of this file are spreadsheets and importers, which expect it.
//! (Tables of recordings end their lines in LF alone; those are compared by tools for text.) The same records give the same
//! bytes.
//!
//! **Columns.** `student`, `name`, `state`; one for each item, headed by its number and title, with the points earned;
//! `deductions`, `total`, `out of`, `percent` (to one decimal, halves up; empty if the exercise is worth nothing) and
//! `findings`, the short names of errors and warnings, errors first, with how often where it is more than once. A mark that
//! says nothing about the work, since a defect of this program showed, has no points at all: an empty cell and not a 0.
//!
//! **Formulas.** Spreadsheets take a cell that begins with `=`, `+`, `-` or `@` for a formula, some also behind a tab, a line
//! end, a blank, a quotation mark, a byte order mark or another sign that draws nothing, and a student chooses names. So a cell with text that begins in such
//! a way, or with the wide forms of these signs, gets an apostrophe in front ([`harmless`]). Taking one apostrophe away from
//! each text cell that is dangerous behind it gives the texts back ([`as_written`]); cells with an apostrophe of their own in
//! front of such a sign get a second one for that reason. Numbers are made here and never touched.

use std::{
    borrow::Cow,
    collections::BTreeMap,
    fmt::{self, Write},
};

use latchwork_compiler::render::visible;

use crate::{
    export::push_cell,
    marking::{FindingKind, Gravity, Marked, MarkingScheme, Points, State},
};

/// Most names of findings in a row; how many more there are is told.
const FINDINGS_MAX: usize = 20;

/// Writes a gradebook, student by student.
#[derive(Clone, Debug)]
pub struct GradebookWriter {
    items: usize,
    out_of: Points,
}

impl GradebookWriter {
    /// Writes the heading.
    ///
    /// # Errors
    /// Those of the output.
    pub fn begin(scheme: &MarkingScheme, output: &mut dyn Write) -> Result<Self, fmt::Error> {
        let mut row = Row::default();
        for heading in ["student", "name", "state"] {
            row.cell(heading);
        }
        for (item, number) in scheme.items.iter().zip(1..) {
            row.cell(&format!("{number} {}", item.title));
        }
        for heading in ["deductions", "total", "out of", "percent", "findings"] {
            row.cell(heading);
        }
        row.end(output)?;
        Ok(GradebookWriter { items: scheme.items.len(), out_of: scheme.out_of })
    }

    /// Writes a student. Results of items that the exercise does not have are left out.
    ///
    /// # Errors
    /// Those of the output.
    pub fn student(&mut self, marked: &Marked, output: &mut dyn Write) -> fmt::Result {
        let mut row = Row::default();
        row.text(&marked.student.id);
        row.text(marked.student.name.as_deref().unwrap_or(""));
        row.cell(marked.state.words());
        let says_something = marked.state != State::InternalFault;
        let points = |points: Points| if says_something { points.to_string() } else { String::new() };
        for index in 0..self.items {
            row.cell(&marked.items.get(index).map_or(String::new(), |item| points(item.points)));
        }
        row.cell(&points(marked.deducted));
        row.cell(&points(marked.total));
        row.cell(&self.out_of.to_string());
        let percent = percent(marked.total, self.out_of).filter(|_| says_something);
        row.cell(&percent.unwrap_or_default());
        row.text(&findings(marked));
        row.end(output)
    }
}

/// The share in percent, to one decimal, halves up; `None` of nothing.
pub(super) fn percent(total: Points, out_of: Points) -> Option<String> {
    let (total, all) = (i128::from(total.hundredths()), i128::from(out_of.hundredths()));
    if all <= 0 {
        return None;
    }
    let tenths = (total.max(0) * 2000 + all) / (2 * all);
    Some(format!("{}.{}", tenths / 10, tenths % 10))
}

/// Names of errors and warnings; errors first, then by name.
fn findings(marked: &Marked) -> String {
    let mut counts: BTreeMap<(bool, &str), u64> = BTreeMap::new();
    for finding in &marked.findings {
        let is_error = finding.severity == Gravity::Error || finding.kind == FindingKind::Internal;
        if is_error || finding.severity == Gravity::Warning {
            *counts.entry((!is_error, &finding.name)).or_insert(0) += 1;
        }
    }
    let mut names: Vec<String> = counts
        .iter()
        .take(FINDINGS_MAX)
        .map(|((_, name), count)| match count {
            1 => (*name).to_owned(),
            _ => format!("{name} ({count})"),
        })
        .collect();
    if let Some(more @ 1..) = counts.len().checked_sub(FINDINGS_MAX) {
        names.push(format!("{more} more"));
    }
    names.join(", ")
}

/// A text that no spreadsheet takes for a formula.
pub fn harmless(text: &str) -> Cow<'_, str> {
    if is_dangerous(text) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

/// The text that [`harmless`] made a cell of.
pub fn as_written(cell: &str) -> &str {
    cell.strip_prefix('\'').filter(|text| is_dangerous(text)).unwrap_or(cell)
}

/// Whether a spreadsheet might take a text for a formula.
fn is_dangerous(text: &str) -> bool {
    let begins_apart = text.starts_with(['\t', '\r', '\n', '\0']);
    let sign = |character: char| matches!(character, '=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠');
    begins_apart || text.trim_start_matches(is_looked_past).starts_with(sign)
}

/// Whether a reader might look past a character to find a formula: blanks, quotation marks, and all that draws nothing.
fn is_looked_past(character: char) -> bool {
    character.is_whitespace()
        || matches!(character, '\'' | '"')
        || !visible(character.encode_utf8(&mut [0; 4])).starts_with(character)
}

/// A row being made.
#[derive(Default)]
struct Row {
    text: String,
    begun: bool,
}

impl Row {
    /// A cell of ours.
    fn cell(&mut self, text: &str) {
        if self.begun {
            self.text.push(',');
        }
        self.begun = true;
        push_cell(&mut self.text, text);
    }

    /// A cell with a text of others.
    fn text(&mut self, text: &str) {
        self.cell(&harmless(text));
    }

    fn end(mut self, output: &mut dyn Write) -> fmt::Result {
        self.text.push_str("\r\n");
        output.write_str(&self.text)
    }
}

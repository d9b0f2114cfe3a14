//! Pages as text for a terminal: no line wider than asked, headings bold where colour is wanted.
//!
//! Nothing is told by colour alone.

use super::page::{Page, Part};

/// Narrower than this the text is not made.
const COLUMNS_MIN: usize = 40;
/// Words are hard to read in longer lines.
const COLUMNS_MAX: usize = 110;

/// A page in so many columns.
pub fn text(page: &Page, columns: usize, colour: bool) -> String {
    let mut out = Setter::new(columns, colour);
    out.heading(&format!("{}: {}", page.name, page.kind));
    out.words("", &page.summary);
    for section in &page.sections {
        out.blank();
        out.heading(section.title);
        for (index, part) in section.parts.iter().enumerate() {
            // Code and words explain one another; a table or a second code stands apart.
            if index > 0
                && !matches!(part, Part::Words(_))
                && !matches!(section.parts[index - 1], Part::Words(_))
            {
                out.blank();
            }
            match part {
                Part::Words(words) => out.words("  ", words),
                Part::Code(_, code) => out.lines("    ", code),
                Part::Picture(picture) => out.lines("", picture),
                Part::Table(headings, rows) => out.table(headings, rows),
            }
        }
    }
    out.finish()
}

/// Sets lines.
pub(super) struct Setter {
    out: String,
    columns: usize,
    colour: bool,
}

impl Setter {
    pub(super) fn new(columns: usize, colour: bool) -> Self {
        Setter { out: String::new(), columns: columns.clamp(COLUMNS_MIN, COLUMNS_MAX), colour }
    }

    pub(super) fn finish(self) -> String {
        self.out
    }

    pub(super) fn blank(&mut self) {
        self.out.push('\n');
    }

    /// A line that stands out.
    pub(super) fn heading(&mut self, text: &str) {
        if self.colour {
            self.out.push_str("\u{1b}[1m");
        }
        self.out.push_str(text);
        if self.colour {
            self.out.push_str("\u{1b}[0m");
        }
        self.out.push('\n');
    }

    /// Words, broken into lines; the first begins with `start`, the others with as many blanks.
    pub(super) fn words(&mut self, start: &str, words: &str) {
        let indent = start.chars().count();
        let mut used = indent;
        self.out.push_str(start);
        for (number, word) in words.split_whitespace().enumerate() {
            let width = word.chars().count();
            if number > 0 {
                if used + 1 + width > self.columns {
                    self.out.push('\n');
                    self.out.extend(std::iter::repeat_n(' ', indent));
                    used = indent;
                } else {
                    self.out.push(' ');
                    used += 1;
                }
            }
            self.out.push_str(word);
            used += width;
        }
        self.out.push('\n');
    }

    /// Lines as they are.
    pub(super) fn lines(&mut self, indent: &str, lines: &str) {
        for line in lines.lines() {
            if !line.is_empty() {
                self.out.push_str(indent);
                self.out.push_str(line);
            }
            self.out.push('\n');
        }
    }

    /// A term and what it means in one line, cut where there is no room.
    pub(super) fn line(&mut self, term: &str, width: usize, words: &str) {
        let line = format!("  {term:width$}  {words}");
        if line.chars().count() > self.columns {
            self.out.extend(line.chars().take(self.columns - 1));
            self.out.push('…');
        } else {
            self.out.push_str(&line);
        }
        self.out.push('\n');
    }

    /// A term and what it means: beside it, or below it where the term is too long or there is no room.
    pub(super) fn described(&mut self, term: &str, width: usize, words: &str) {
        let long = term.chars().count() > width;
        if width + 24 > self.columns || long {
            self.words("  ", term);
            self.words("      ", words);
        } else {
            self.words(&format!("  {term:width$}  "), words);
        }
    }

    /// Rows of cells. The last column is broken into lines, the others are as wide as their widest cell.
    fn table(&mut self, headings: &[&str], rows: &[Vec<String>]) {
        let widths: Vec<usize> = headings
            .iter()
            .enumerate()
            .map(|(column, heading)| {
                let cells = rows.iter().filter_map(|row| row.get(column)).map(|cell| cell.chars().count());
                cells.chain([heading.chars().count()]).max().unwrap_or(0)
            })
            .collect();
        let headings = headings.iter().map(|heading| (*heading).to_owned()).collect();
        for row in std::iter::once(&headings).chain(rows) {
            let Some((last, before)) = row.split_last() else { continue };
            let mut start = String::from("    ");
            for (cell, width) in before.iter().zip(&widths) {
                start.push_str(&format!("{cell:width$}  "));
            }
            // Where a cell leaves no room for the last one, that stands below.
            if start.chars().count() + 20 > self.columns {
                self.words("    ", start.trim());
                self.words("        ", last);
            } else {
                self.words(&start, last);
            }
        }
    }
}

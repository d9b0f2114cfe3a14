//! Comma-separated text cut into lines and cells, each cell with its place (the form of RFC 4180, with the
//! liberties that spreadsheets take).
//!
//! Knows nothing of what the cells mean. Tolerated: a byte order mark, line ends LF and CR LF, the separators `,` `;` and
//! tabulator (the one the heading line has most of), blanks around cells, cells in quotation marks, empty lines,
//! and comment lines, whose first character other than a blank is `#`. A quoted cell ends on the line it begins
//! on: no value has a line end in it, so that a forgotten quotation mark costs one line only.

use std::{borrow::Cow, ops::Range};

/// A cell: its text without quotation marks and blanks around it, and the bytes it stands at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Cell<'t> {
    /// The text.
    pub(crate) text: Cow<'t, str>,
    /// Bytes of the file, quotation marks included.
    pub(crate) place: Range<u32>,
}

/// Something wrong with the form of a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct FormError {
    /// What.
    pub(crate) message: &'static str,
    /// What to do.
    pub(crate) remedy: &'static str,
    /// Where.
    pub(crate) place: Range<u32>,
}

/// Reads a text line by line. The text must be smaller than 4 GiB.
pub(crate) struct Lines<'t> {
    text: &'t str,
    position: usize,
    separator: u8,
}

impl<'t> Lines<'t> {
    /// Begins at the start of a text.
    pub(crate) fn new(text: &'t str) -> Self {
        let position = if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
        let mut lines = Lines { text, position, separator: b',' };
        if let Some(heading) = lines.clone_position().next_line() {
            lines.separator = separator_of(&text[heading]);
        }
        lines
    }

    fn clone_position(&self) -> Lines<'t> {
        Lines { text: self.text, position: self.position, separator: self.separator }
    }

    /// The character between two cells.
    pub(crate) fn separator(&self) -> char {
        char::from(self.separator)
    }

    /// The next line with content, as a range of bytes without its line end.
    pub(crate) fn next_line(&mut self) -> Option<Range<usize>> {
        while self.position < self.text.len() {
            let start = self.position;
            // Slicing: `position` always stands directly after a line end or byte order mark.
            let rest = &self.text[start..];
            let length = rest.find('\n').unwrap_or(rest.len());
            self.position = (start + length + 1).min(self.text.len());
            let line = rest[..length].trim_end_matches('\r');
            let content = line.trim_start();
            if !content.is_empty() && !content.starts_with('#') {
                return Some(start..start + line.len());
            }
        }
        None
    }

    /// Cuts a line into cells.
    ///
    /// # Errors
    /// A quotation mark that is not closed, or text after the closing one.
    pub(crate) fn cells(&self, line: Range<usize>, cells: &mut Vec<Cell<'t>>) -> Result<(), FormError> {
        cells.clear();
        let mut start = line.start;
        let mut rest = &self.text[line];
        loop {
            let blanks = rest.len() - rest.trim_start_matches([' ', '\u{a0}']).len();
            let content = &rest[blanks..];
            let begin = start + blanks;
            let used = if content.starts_with('"') {
                let (cell, used) = self.quoted(content, begin)?;
                cells.push(cell);
                blanks + used
            } else {
                let length = content.find(self.separator()).unwrap_or(content.len());
                let text = content[..length].trim_end();
                cells.push(Cell {
                    text: Cow::Borrowed(text),
                    place: begin as u32..(begin + text.len()) as u32,
                });
                blanks + length
            };
            if used >= rest.len() {
                return Ok(());
            }
            // Slicing: a separator, one byte, stands at `used`.
            rest = &rest[used + 1..];
            start += used + 1;
        }
    }

    /// A cell in quotation marks at the start of `content`, and how many bytes it takes up to the separator.
    fn quoted(&self, content: &'t str, begin: usize) -> Result<(Cell<'t>, usize), FormError> {
        let inner = &content[1..];
        let mut end = None;
        let mut doubled = false;
        let mut marks =
            inner.bytes().enumerate().filter(|(_, byte)| *byte == b'"').map(|(at, _)| at).peekable();
        while let Some(at) = marks.next() {
            if marks.peek() == Some(&(at + 1)) {
                marks.next();
                doubled = true;
            } else {
                end = Some(at);
                break;
            }
        }
        let Some(end) = end else {
            return Err(FormError {
                message: "this quotation mark is not closed on its line",
                remedy: "write `\"` at the end of the cell; a quotation mark within a quoted cell is written twice",
                place: begin as u32..(begin + content.len()) as u32,
            });
        };
        let after = &inner[end + 1..];
        let length = after.find(self.separator()).unwrap_or(after.len());
        if !after[..length].trim().is_empty() {
            return Err(FormError {
                message: "text follows the closing quotation mark of a cell",
                remedy: "put the whole cell into quotation marks, those within it written twice",
                place: (begin + end + 2) as u32..(begin + end + 2 + length) as u32,
            });
        }
        let text = &inner[..end];
        let text = if doubled { Cow::Owned(text.replace("\"\"", "\"")) } else { Cow::Borrowed(text) };
        Ok((Cell { text, place: begin as u32..(begin + end + 2) as u32 }, end + 2 + length))
    }
}

/// The separator a line has most of, outside quotation marks; the comma if it has none.
fn separator_of(line: &str) -> u8 {
    let mut counts = [(b',', 0_usize), (b';', 0), (b'\t', 0)];
    let mut quoted = false;
    for byte in line.bytes() {
        if byte == b'"' {
            quoted = !quoted;
        } else if !quoted
            && let Some((_, count)) = counts.iter_mut().find(|(separator, _)| *separator == byte)
        {
            *count += 1;
        }
    }
    let mut best = counts[0];
    for candidate in counts {
        if candidate.1 > best.1 {
            best = candidate;
        }
    }
    best.0
}

#[cfg(test)]
mod tests {
    use super::{Cell, Lines};
    use proptest::prelude::*;

    fn table(text: &str) -> Vec<Vec<String>> {
        let mut lines = Lines::new(text);
        let mut cells: Vec<Cell<'_>> = Vec::new();
        let mut rows = Vec::new();
        while let Some(line) = lines.next_line() {
            lines.cells(line, &mut cells).unwrap();
            for cell in &cells {
                assert!(text.get(cell.place.start as usize..cell.place.end as usize).is_some());
            }
            rows.push(cells.iter().map(|cell| cell.text.to_string()).collect());
        }
        rows
    }

    #[test]
    fn spreadsheet_liberties() {
        for text in [
            "time,Start\n0,1\n",
            "time,Start\r\n0,1",
            "\u{feff}time;Start\r\n0;1\r\n",
            "# comment, with commas; and ; more\n\n time , Start \n\n  # again\n 0 , 1 \n",
            "\"time\",\"Start\"\n\"0\",\"1\"",
            "time\tStart\n0\t1",
        ] {
            assert_eq!(table(text), [["time", "Start"], ["0", "1"]], "{text:?}");
        }
    }

    #[test]
    fn quoted_cells() {
        assert_eq!(
            table("a,\"G[1,2]\",\"say \"\"x\"\"\"\n1,,"),
            [["a", "G[1,2]", "say \"x\""], ["1", "", ""]]
        );
    }

    #[test]
    fn form_errors_have_their_place() {
        for (text, place) in [("a,\"b", 2..4), ("a,\"b\"c,d", 5..6), ("\"a\"\"", 0..4)] {
            let mut lines = Lines::new(text);
            let line = lines.next_line().unwrap();
            assert_eq!(lines.cells(line, &mut Vec::new()).unwrap_err().place, place, "{text}");
        }
    }

    proptest! {
        /// What any spreadsheet would write with every cell quoted comes back as it was.
        #[test]
        fn quoting_round_trip(rows in prop::collection::vec(prop::collection::vec("[^\r\n\u{feff}]{0,12}", 2..5), 1..5)) {
            let text: String = rows
                .iter()
                .map(|row| {
                    let cells: Vec<String> = row.iter().map(|cell| format!("\"{}\"", cell.replace('"', "\"\""))).collect();
                    format!("{}\r\n", cells.join(","))
                })
                .collect();
            prop_assert_eq!(table(&text), rows);
        }

        #[test]
        fn any_text_is_cut_without_panic(text in "\\PC{0,40}|[\",;\t\r\n# a]{0,60}") {
            let mut lines = Lines::new(&text);
            let mut cells = Vec::new();
            while let Some(line) = lines.next_line() {
                if lines.cells(line.clone(), &mut cells).is_ok() {
                    for cell in &cells {
                        prop_assert!(line.start <= cell.place.start as usize && cell.place.end as usize <= line.end);
                        prop_assert!(text.get(cell.place.start as usize..cell.place.end as usize).is_some());
                    }
                }
            }
        }
    }
}

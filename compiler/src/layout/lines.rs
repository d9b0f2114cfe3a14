//! Lines and columns of source files, computed once a file.
//!
//! Lines and columns are counted from 1; a column counts characters. Knows nothing but text.

use latchwork_grammar::{FileId, Sources, Span};

/// The line starts of one file, and where characters of more than one byte stand.
#[derive(Debug, Default)]
struct FileLines {
    /// Byte offset of the first byte of each line.
    starts: Vec<u32>,
    /// For each character of more than one byte: offset behind it, and surplus bytes up to there.
    surplus: Vec<(u32, u32)>,
    length: u32,
}

/// Line tables of all files.
#[derive(Debug, Default)]
pub(crate) struct Lines {
    files: Vec<FileLines>,
}

impl Lines {
    /// Reads all sources once.
    pub(crate) fn new(sources: &Sources) -> Self {
        Lines { files: sources.iter().map(|(_, file)| FileLines::new(&file.text)).collect() }
    }

    /// Line and column of the first byte and of the byte behind the last one of a span.
    pub(crate) fn range(&self, span: Span) -> ((u32, u32), (u32, u32)) {
        (self.place(span.file, span.start), self.place(span.file, span.end))
    }

    fn place(&self, file: FileId, offset: u32) -> (u32, u32) {
        self.files.get(file.0 as usize).map_or((1, 1), |file| file.place(offset))
    }
}

impl FileLines {
    fn new(text: &str) -> Self {
        let mut lines = FileLines { starts: vec![0], surplus: Vec::new(), length: text.len() as u32 };
        let mut surplus = 0;
        for (offset, character) in text.char_indices() {
            let end = (offset + character.len_utf8()) as u32;
            match character {
                '\n' => lines.starts.push(end),
                // A carriage return alone ends a line, too.
                '\r' if text.as_bytes().get(end as usize) != Some(&b'\n') => lines.starts.push(end),
                _ if character.len_utf8() > 1 => {
                    surplus += character.len_utf8() as u32 - 1;
                    lines.surplus.push((end, surplus));
                }
                _ => {}
            }
        }
        lines
    }

    fn place(&self, offset: u32) -> (u32, u32) {
        let offset = offset.min(self.length);
        let line = self.starts.partition_point(|start| *start <= offset);
        // The first line starts at 0, so at least one start is not behind the offset.
        let start = self.starts.get(line.saturating_sub(1)).copied().unwrap_or(0);
        let column = offset - start - (self.surplus_before(offset) - self.surplus_before(start));
        (line as u32, column + 1)
    }

    fn surplus_before(&self, offset: u32) -> u32 {
        let count = self.surplus.partition_point(|(end, _)| *end <= offset);
        count.checked_sub(1).and_then(|last| self.surplus.get(last)).map_or(0, |(_, surplus)| *surplus)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters() {
        let mut sources = Sources::new();
        let file = sources.add("a.st", "é := 1;\r\nβγ x;\n");
        let lines = Lines::new(&sources);
        assert_eq!(lines.place(file, 0), (1, 1));
        assert_eq!(lines.place(file, 3), (1, 3));
        let second = "é := 1;\r\n".len() as u32;
        assert_eq!(lines.place(file, second), (2, 1));
        assert_eq!(lines.place(file, second + 5), (2, 4));
        assert_eq!(lines.place(file, 999), (3, 1));
    }
}

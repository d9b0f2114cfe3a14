//! Lines and columns of byte offsets, for people and for tools.
//!
//! Lines end at a line feed (a carriage return before it belongs to the line end); lines and columns count from
//! 1, and columns count characters. A byte order mark at the start of a file is not a character of its text.

use std::{collections::BTreeMap, ops::Range};

use latchwork_grammar::{FileId, SourceFile, Sources, Span};

const BYTE_ORDER_MARK: &str = "\u{feff}";

/// Bytes between two places at which the number of characters before is kept, so that columns in a line of a
/// megabyte are not counted from its start each time.
const STRIDE: usize = 256;

/// A place as people count: both numbers from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// One file with the starts of its lines.
#[derive(Debug)]
pub(super) struct File<'a> {
    pub(super) source: &'a SourceFile,
    /// Byte offset of the start of each line; the first is 0 or lies behind the byte order mark.
    starts: Vec<usize>,
    /// Number of characters that begin before each multiple of [`STRIDE`].
    characters: Vec<usize>,
}

/// Number of characters that begin in these bytes of UTF-8.
fn count_characters(bytes: &[u8]) -> usize {
    // Bytes 2#10xx_xxxx continue a character.
    bytes.iter().filter(|byte| **byte & 0xc0 != 0x80).count()
}

impl<'a> File<'a> {
    fn new(source: &'a SourceFile) -> Self {
        let first = if source.text.starts_with(BYTE_ORDER_MARK) { BYTE_ORDER_MARK.len() } else { 0 };
        let mut starts = vec![first];
        starts
            .extend(source.text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at + 1));
        let mut characters = vec![0];
        let mut total = 0;
        for piece in source.text.as_bytes().chunks(STRIDE) {
            total += count_characters(piece);
            characters.push(total);
        }
        File { source, starts, characters }
    }

    /// Number of characters that begin before an offset of the text.
    fn characters_before(&self, offset: usize) -> usize {
        let piece = offset / STRIDE;
        let rest = self.source.text.as_bytes().get(piece * STRIDE..offset).unwrap_or(&[]);
        self.characters.get(piece).copied().unwrap_or(0) + count_characters(rest)
    }

    /// Index, from 0, of the line an offset lies in.
    pub(super) fn line_index(&self, offset: usize) -> usize {
        self.starts.partition_point(|start| *start <= offset).saturating_sub(1)
    }

    /// Bytes of a line without its line end; empty behind the last line.
    pub(super) fn line_range(&self, index: usize) -> Range<usize> {
        let text = &self.source.text;
        let Some(&start) = self.starts.get(index) else { return text.len()..text.len() };
        let end = self.starts.get(index + 1).map_or(text.len(), |next| next - 1);
        let end = if end > start && text.as_bytes().get(end - 1) == Some(&b'\r') { end - 1 } else { end };
        start..end
    }

    /// The offset moved into the text and back to the start of the character it lies in.
    pub(super) fn clamp(&self, offset: usize) -> usize {
        let mut offset = offset.min(self.source.text.len());
        while !self.source.text.is_char_boundary(offset) {
            offset -= 1;
        }
        offset.max(self.starts.first().copied().unwrap_or(0))
    }

    /// The range of a span, made to fit the text. An end at the very start of a line is drawn back to the end of
    /// the line before, so that a span that takes in its line end stays on its line.
    pub(super) fn range(&self, span: Span) -> Range<usize> {
        let start = self.clamp(span.start as usize);
        let mut end = self.clamp(span.end as usize).max(start);
        let end_line = self.line_index(end);
        if end > start && end_line > self.line_index(start) && self.line_range(end_line).start == end {
            end = self.line_range(end_line - 1).end.max(start);
        }
        start..end
    }

    /// The offset of a line and column, both from 1; a column behind the line is its end.
    pub(super) fn offset(&self, line: u32, column: u32) -> Option<usize> {
        let index = (line as usize).checked_sub(1).filter(|index| *index < self.starts.len())?;
        let range = self.line_range(index);
        let within = self.source.text.get(range.clone())?;
        let column = (column as usize).saturating_sub(1);
        Some(within.char_indices().nth(column).map_or(range.end, |(at, _)| range.start + at))
    }

    /// Line and column of an offset.
    pub(super) fn position(&self, offset: usize) -> Position {
        let offset = self.clamp(offset);
        let index = self.line_index(offset);
        let start = self.line_range(index).start;
        let column = self.characters_before(offset).saturating_sub(self.characters_before(start)) + 1;
        Position { line: index + 1, column }
    }
}

/// The files of a compilation with the line tables of those that are spoken of.
#[derive(Debug)]
pub(super) struct Files<'a> {
    files: BTreeMap<FileId, File<'a>>,
}

impl<'a> Files<'a> {
    /// Line tables for the files of the spans, and no others.
    pub(super) fn new(sources: &'a Sources, spans: impl Iterator<Item = Span>) -> Self {
        let mut files: BTreeMap<FileId, Option<File<'a>>> = spans.map(|span| (span.file, None)).collect();
        for (id, source) in sources.iter() {
            if let Some(file) = files.get_mut(&id) {
                *file = Some(File::new(source));
            }
        }
        Files { files: files.into_iter().filter_map(|(id, file)| Some((id, file?))).collect() }
    }

    /// The file, unless the id is of another set of sources.
    pub(super) fn get(&self, id: FileId) -> Option<&File<'a>> {
        self.files.get(&id)
    }

    /// File name, start and end of a span.
    pub(super) fn place(&self, span: Span) -> Option<(&'a str, Position, Position)> {
        let file = self.get(span.file)?;
        let range = file.range(span);
        Some((&file.source.name, file.position(range.start), file.position(range.end)))
    }
}

/// Line and column of the start of a span, from 1; `None` if the file is not among the sources. The lines of a file are
/// read once, so that it may be asked for many places.
pub fn position(sources: &Sources, span: Span) -> Option<Position> {
    extent(sources, span).map(|(_, start, _)| start)
}

/// File name, start and end of a span; `None` if the file is not among the sources. As [`position`], for many places.
pub fn extent(sources: &Sources, span: Span) -> Option<(&str, Position, Position)> {
    let (_, source) = sources.iter().nth(span.file.0 as usize)?;
    let marked = source.text.starts_with(BYTE_ORDER_MARK);
    let place = |offset: u32| {
        let (line, column) = source.lines().place(offset);
        let column = if marked && line == 1 { (column - 1).max(1) } else { column };
        Position { line: line as usize, column: column as usize }
    };
    let (start, end) = (place(span.start), place(span.end));
    if end.column == 1 && end != start {
        // A span that takes in its line end stays on its line.
        return Files::new(sources, std::iter::once(span)).place(span);
    }
    Some((&source.name, start, end))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(text: &str, start: u32, end: u32) -> (usize, usize, usize, usize) {
        let mut sources = Sources::new();
        let file = sources.add("vent.st", text);
        let span = Span::new(file, start, end);
        let files = Files::new(&sources, [span].into_iter());
        let (_, start, end) = files.place(span).expect("the file is there");
        (start.line, start.column, end.line, end.column)
    }

    #[test]
    fn columns_count_characters_not_bytes() {
        assert_eq!(place("a := 'ä€'; b", 12, 13), (1, 10, 1, 11));
    }

    #[test]
    fn a_byte_order_mark_is_no_column() {
        assert_eq!(place("\u{feff}x := 1;", 3, 4), (1, 1, 1, 2));
        assert_eq!(place("\u{feff}x := 1;", 0, 1), (1, 1, 1, 1));
    }

    #[test]
    fn columns_far_out_are_counted_from_the_nearest_mark() {
        let text = format!("first\nä{}", "€b".repeat(1000));
        for (offset, character) in text.char_indices().skip(6) {
            let column = text[6..offset].chars().count() + 1;
            let end = offset + character.len_utf8();
            assert_eq!(place(&text, offset as u32, end as u32), (2, column, 2, column + 1));
        }
    }

    #[test]
    fn places_are_the_same_one_by_one_and_together() {
        let mut sources = Sources::new();
        for text in ["\u{feff}x := 1;\r\nβγ := 2;\n", "a;\r\nb;\r\n", "ä := '€';\n\n  c := 3;", ""] {
            let file = sources.add("vent.st", text);
            let ends = (0..=text.len()).filter(|at| text.is_char_boundary(*at));
            for (start, end) in ends.clone().flat_map(|start| ends.clone().map(move |end| (start, end))) {
                let span = Span::new(file, start as u32, end as u32);
                if start > end || text.get(start..end).is_some_and(|piece| piece.ends_with('\r')) {
                    continue;
                }
                let together = Files::new(&sources, [span].into_iter()).place(span);
                assert_eq!(extent(&sources, span), together, "{start} to {end} of {text:?}");
            }
        }
        assert_eq!(extent(&sources, Span::new(FileId(9), 0, 0)), None);
    }

    #[test]
    fn both_line_ends_give_the_same_lines() {
        assert_eq!(place("a;\r\nb;\r\n", 4, 5), (2, 1, 2, 2));
        assert_eq!(place("a;\nb;\n", 3, 4), (2, 1, 2, 2));
    }

    #[test]
    fn a_span_that_takes_in_its_line_end_stays_on_its_line() {
        assert_eq!(place("a;\r\nb;\r\n", 0, 4), (1, 1, 1, 3));
    }

    #[test]
    fn spans_outside_the_text_or_inside_a_character_are_moved_into_it() {
        assert_eq!(place("a", 40, 50), (1, 2, 1, 2));
        assert_eq!(place("€", 1, 2), (1, 1, 1, 1));
        assert_eq!(place("", 0, 0), (1, 1, 1, 1));
        assert_eq!(place("abc", 2, 1), (1, 3, 1, 3));
    }
}

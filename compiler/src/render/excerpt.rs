//! The lines of source shown with one diagnostic, made fit for a terminal.
//!
//! codespan-reporting prints source bytes as they are and whole lines however long, so it never sees the source:
//! it is given an excerpt of cropped, sanitised lines that keep their true line numbers, and labels moved to match.

use std::{collections::BTreeMap, ops::Range};

use codespan_reporting::files::{self, Error};
use unicode_width::UnicodeWidthChar;

use super::{lines::File, sanitise};

/// Most characters of a source line that are shown.
const LINE_CHARACTERS_MAX: usize = 160;

/// Characters shown before the place spoken of when a long line is cropped.
const LEAD_CHARACTERS: usize = 60;

/// Labels over more lines than this mark their first line only.
const LABEL_LINES_MAX: usize = 8;

/// A line as shown.
struct Line {
    /// Bytes of the excerpt's text, line end not included.
    shown: Range<usize>,
    /// For each character shown in whole: its offset in the file and in the excerpt; then the end of both.
    map: Vec<(usize, usize)>,
}

impl Line {
    /// Where an offset of the file is in the excerpt; what was cropped away is at the crop mark.
    fn to_shown(&self, offset: usize) -> usize {
        let at = self.map.partition_point(|(real, _)| *real < offset);
        match self.map.get(at) {
            Some((real, _)) if at == 0 && offset < *real => self.shown.start,
            Some((_, shown)) => *shown,
            None => self.map.last().map_or(self.shown.end, |(_, shown)| *shown),
        }
    }

    /// The offset in the file of what is shown at an offset of the excerpt.
    fn to_real(&self, shown: usize) -> usize {
        let at = self.map.partition_point(|(_, place)| *place < shown);
        self.map.get(at).or(self.map.last()).map_or(0, |(real, _)| *real)
    }
}

/// The lines of one file that a diagnostic needs.
pub(super) struct Excerpt<'a> {
    file: &'a File<'a>,
    name: String,
    text: String,
    /// By line index, from 0.
    lines: BTreeMap<usize, Line>,
    /// Where long lines are cropped around.
    focus: BTreeMap<usize, usize>,
}

impl<'a> Excerpt<'a> {
    /// An excerpt without lines.
    pub(super) fn new(file: &'a File<'a>) -> Self {
        let name = sanitise::line(&file.source.name, LINE_CHARACTERS_MAX);
        Excerpt { file, name, text: String::new(), lines: BTreeMap::new(), focus: BTreeMap::new() }
    }

    /// Notes that a range will be labelled; the first mention of a line decides what a long line is cropped to.
    pub(super) fn want(&mut self, range: &Range<usize>) {
        let Range { start, end } = self.shortened(range);
        self.focus.entry(self.file.line_index(start)).or_insert(start);
        let last = self.file.line_index(end);
        for index in self.file.line_index(start)..=last {
            self.focus.entry(index).or_insert(if index == last {
                end
            } else {
                self.file.line_range(index).start
            });
        }
    }

    /// Takes in the lines wanted.
    pub(super) fn fill(&mut self) {
        let mut wanted = std::mem::take(&mut self.focus);
        // A single line between two that are shown is shown too; codespan-reporting asks for it.
        let between: Vec<usize> = wanted
            .keys()
            .zip(wanted.keys().skip(1))
            .filter(|(one, next)| *next - *one == 2)
            .map(|(one, _)| one + 1)
            .collect();
        for index in between {
            wanted.insert(index, self.file.line_range(index).start);
        }
        for (index, focus) in wanted {
            let line = self.crop(index, focus);
            self.lines.insert(index, line);
        }
    }

    /// Where a range of the file is in the excerpt; its lines must have been wanted and filled in.
    pub(super) fn shown(&self, range: &Range<usize>) -> Option<Range<usize>> {
        let Range { start, end } = self.shortened(range);
        let line = self.lines.get(&self.file.line_index(start))?;
        let start = line.to_shown(start);
        let end = self.lines.get(&self.file.line_index(end))?.to_shown(end).max(start);
        // A caret under a mark of no width would have no width: it goes under the character the mark is on.
        let (until, count) = if start == end { (line.shown.end, 1) } else { (end, usize::MAX) };
        let mut marked = self.text.get(start..until).unwrap_or("").chars().take(count).peekable();
        if marked.peek().is_some() && marked.all(is_combining) {
            let before = self.text.get(line.shown.start..start).unwrap_or("");
            let base = before.char_indices().rfind(|(_, character)| !is_combining(*character));
            return Some(base.map_or(line.shown.start, |(at, _)| line.shown.start + at)..end);
        }
        Some(start..end)
    }

    /// A range over too many lines becomes the part on its first line.
    fn shortened(&self, range: &Range<usize>) -> Range<usize> {
        let first = self.file.line_index(range.start);
        if self.file.line_index(range.end) - first < LABEL_LINES_MAX {
            range.clone()
        } else {
            range.start..self.file.line_range(first).end.max(range.start)
        }
    }

    fn crop(&mut self, index: usize, focus: usize) -> Line {
        let range = self.file.line_range(index);
        let source = self.file.source.text.as_str();
        let focus = focus.clamp(range.start, range.end);
        let before = source.get(range.start..focus).unwrap_or("");
        // Only as many characters are looked at as are shown, or a line of a megabyte with many
        // diagnostics would be walked again for each of them.
        let whole_lead =
            before.chars().take(LINE_CHARACTERS_MAX * 3 / 4 + 1).count() <= LINE_CHARACTERS_MAX * 3 / 4;
        let from = if whole_lead {
            range.start
        } else {
            before
                .char_indices()
                .rev()
                .nth(LEAD_CHARACTERS - 1)
                .map_or(range.start, |(at, _)| range.start + at)
        };
        let start = self.text.len();
        if from > range.start {
            self.text.push(sanitise::CROPPED);
        }
        let mut map = Vec::new();
        let mut end = from;
        let mut cropped = false;
        for (count, (at, character)) in source.get(from..range.end).unwrap_or("").char_indices().enumerate() {
            if count == LINE_CHARACTERS_MAX {
                cropped = true;
                break;
            }
            map.push((from + at, self.text.len()));
            // The first character of a line has to have a width, so that there is a place for a caret.
            let visible = sanitise::visible(character);
            self.text.push(if count == 0 && is_combining(visible) { sanitise::REPLACEMENT } else { visible });
            end = from + at + character.len_utf8();
        }
        map.push((end, self.text.len()));
        if cropped {
            self.text.push(sanitise::CROPPED);
        }
        let shown = start..self.text.len();
        self.text.push('\n');
        Line { shown, map }
    }

    fn line_at(&self, byte: usize) -> Result<(usize, &Line), Error> {
        self.lines
            .iter()
            .find(|(_, line)| (line.shown.start..=line.shown.end).contains(&byte))
            .map(|(index, line)| (*index, line))
            .ok_or(Error::IndexTooLarge { given: byte, max: self.text.len() })
    }
}

/// Whether a character takes no column of its own, as codespan-reporting counts columns.
fn is_combining(character: char) -> bool {
    character != '\t' && character.width().unwrap_or(0) == 0
}

/// The excerpts of one diagnostic, numbered in the order in which they were made.
pub(super) struct Excerpts<'a>(pub(super) Vec<Excerpt<'a>>);

impl Excerpts<'_> {
    fn get(&self, id: usize) -> Result<&Excerpt<'_>, Error> {
        self.0.get(id).ok_or(Error::FileMissing)
    }
}

impl<'a> files::Files<'a> for Excerpts<'_> {
    type FileId = usize;
    type Name = &'a str;
    type Source = &'a str;

    fn name(&'a self, id: usize) -> Result<&'a str, Error> {
        Ok(&self.get(id)?.name)
    }

    fn source(&'a self, id: usize) -> Result<&'a str, Error> {
        Ok(&self.get(id)?.text)
    }

    fn line_index(&'a self, id: usize, byte: usize) -> Result<usize, Error> {
        Ok(self.get(id)?.line_at(byte)?.0)
    }

    fn line_range(&'a self, id: usize, index: usize) -> Result<Range<usize>, Error> {
        let excerpt = self.get(id)?;
        let max = excerpt.lines.last_key_value().map_or(0, |(last, _)| *last);
        excerpt
            .lines
            .get(&index)
            .map(|line| line.shown.clone())
            .ok_or(Error::LineTooLarge { given: index, max })
    }

    fn column_number(&'a self, id: usize, index: usize, byte: usize) -> Result<usize, Error> {
        let excerpt = self.get(id)?;
        let (_, line) = excerpt.line_at(byte)?;
        debug_assert!(excerpt.lines.contains_key(&index));
        Ok(excerpt.file.position(line.to_real(byte)).column)
    }
}

//! Source files and places in them.
//!
//! A [`Span`] names its file, so that every node of every tree, every diagnostic and every line table can
//! say which bytes it came from without a second argument.

use std::sync::OnceLock;

use crate::lines::LineTable;

/// Largest source file accepted, in bytes. A control program is a few thousand lines; the limit keeps a
/// mistaken argument (a log, a disk image) from being parsed.
pub const SOURCE_BYTES_MAX: usize = 16 * 1024 * 1024;

/// Index of a source file in the order in which the files were given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct FileId(pub u32);

/// A range of bytes of one source file, end not included.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// A span of `file` from `start` up to, not including, `end`.
    pub fn new(file: FileId, start: u32, end: u32) -> Self {
        Span { file, start, end }
    }

    /// The smallest span that covers both; `other` must be of the same file.
    pub fn to(self, other: Span) -> Span {
        debug_assert_eq!(self.file, other.file);
        Span { file: self.file, start: self.start.min(other.start), end: self.end.max(other.end) }
    }

    /// The empty place directly after this span.
    pub fn after(self) -> Span {
        Span { file: self.file, start: self.end, end: self.end }
    }
}

/// One source file: its name as the user gave it, and its text.
#[derive(Clone, Debug)]
pub struct SourceFile {
    /// Name for messages.
    pub name: String,
    /// The text, UTF-8 (a byte order mark, if any, still at the start).
    pub text: String,
    /// Made when first asked for.
    lines: OnceLock<LineTable>,
}

impl SourceFile {
    /// The lines of the text; it is read for them once, whoever asks.
    pub fn lines(&self) -> &LineTable {
        self.lines.get_or_init(|| LineTable::new(&self.text))
    }
}

/// The source files of one compilation, addressed by [`FileId`].
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<SourceFile>,
}

impl Sources {
    /// No files.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a file and tells its id.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> FileId {
        let id = FileId(self.files.len() as u32);
        self.files.push(SourceFile { name: name.into(), text: text.into(), lines: OnceLock::new() });
        id
    }

    /// The file behind an id.
    ///
    /// # Panics
    /// If the id is of another set of sources.
    pub fn file(&self, id: FileId) -> &SourceFile {
        &self.files[id.0 as usize]
    }

    /// All files with their ids, in order.
    pub fn iter(&self) -> impl Iterator<Item = (FileId, &SourceFile)> {
        self.files.iter().enumerate().map(|(index, file)| (FileId(index as u32), file))
    }

    /// Line and column, from 1, of the first byte of a span and of the byte behind its last one; the very start for a
    /// file that is of another set of sources.
    pub fn range(&self, span: Span) -> ((u32, u32), (u32, u32)) {
        let file = self.files.get(span.file.0 as usize);
        let place = |offset: u32| file.map_or((1, 1), |file| file.lines().place(offset));
        (place(span.start), place(span.end))
    }

    /// As [`Sources::range`], faster where the span begins on a line a little behind `near`.
    pub fn range_near(&self, span: Span, near: u32) -> ((u32, u32), (u32, u32)) {
        let Some(file) = self.files.get(span.file.0 as usize) else { return ((1, 1), (1, 1)) };
        let start = file.lines().place_near(span.start, near);
        (start, file.lines().place_near(span.end, start.0))
    }

    /// The text a span covers.
    pub fn text(&self, span: Span) -> &str {
        self.file(span.file).text.get(span.start as usize..span.end as usize).unwrap_or("")
    }
}

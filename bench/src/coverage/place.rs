//! Lines of the text.

use latchwork_grammar::{Sources, Span};

/// Where the lines of all files begin.
pub(super) struct Lines {
    files: Vec<Vec<u32>>,
}

/// A place of the text. Lines and columns are counted from 1, columns in characters.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// The file, by its number in the sources.
    pub file: u32,
    /// Its first line.
    pub line: u32,
    /// Column in the first line.
    pub column: u32,
    /// Its last line.
    pub end_line: u32,
}

impl Lines {
    pub(super) fn new(sources: &Sources) -> Self {
        let starts = |text: &str| {
            // A source has far fewer than 2^32 bytes.
            let after = text.bytes().zip(1u32..).filter(|(byte, _)| *byte == b'\n').map(|(_, next)| next);
            [0].into_iter().chain(after).collect()
        };
        Lines { files: sources.iter().map(|(_, file)| starts(&file.text)).collect() }
    }

    pub(super) fn place(&self, sources: &Sources, span: Span) -> Place {
        let starts = self.files.get(span.file.0 as usize).map_or(&[][..], Vec::as_slice);
        let line = |at: u32| starts.partition_point(|start| *start <= at).max(1) as u32;
        let first = line(span.start);
        let start = starts.get(first as usize - 1).copied().unwrap_or_default();
        let before = Span::new(span.file, start, span.start);
        Place {
            file: span.file.0,
            line: first,
            column: sources.text(before).chars().count() as u32 + 1,
            end_line: line(span.end.saturating_sub(1).max(span.start)),
        }
    }
}

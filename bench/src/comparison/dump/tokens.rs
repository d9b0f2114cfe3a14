//! The words of a dump: what stands between blanks, with its place.

use latchwork_grammar::{Diagnostic, FileId, Span};

/// A word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Token<'t> {
    pub(super) text: &'t str,
    pub(super) place: Span,
}

/// Reads a text word by word. The text must be smaller than 4 GiB.
pub(super) struct Tokens<'t> {
    file: FileId,
    text: &'t str,
    position: usize,
}

impl<'t> Tokens<'t> {
    /// Begins at the start of a text, behind a byte order mark.
    pub(super) fn new(file: FileId, text: &'t str) -> Self {
        let position = if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
        Tokens { file, text, position }
    }

    /// The next word.
    pub(super) fn next(&mut self) -> Option<Token<'t>> {
        let rest = self.text.get(self.position..).unwrap_or_default();
        let content = rest.trim_ascii_start();
        let start = self.position + (rest.len() - content.len());
        let length = content.bytes().position(|byte| byte.is_ascii_whitespace()).unwrap_or(content.len());
        self.position = start + length;
        if length == 0 {
            return None;
        }
        let text = content.get(..length)?;
        Some(Token { text, place: Span::new(self.file, start as u32, (start + length) as u32) })
    }

    /// The next word, which must be there.
    ///
    /// # Errors
    /// At the end of the text; `wanted` is what is missing.
    pub(super) fn expect(&mut self, wanted: &str) -> Result<Token<'t>, Box<Diagnostic>> {
        self.next().ok_or_else(|| self.cut_off(wanted))
    }

    /// The words up to `$end`.
    pub(super) fn section(&mut self, opened: &Token<'_>) -> Result<Vec<Token<'t>>, Box<Diagnostic>> {
        let mut words = Vec::new();
        loop {
            match self.next() {
                Some(Token { text: "$end", .. }) => return Ok(words),
                Some(word) => words.push(word),
                None => return Err(not_closed(opened)),
            }
        }
    }

    /// Passes over the words up to `$end`.
    pub(super) fn skip_section(&mut self, opened: &Token<'_>) -> Result<(), Box<Diagnostic>> {
        loop {
            match self.next() {
                Some(Token { text: "$end", .. }) => return Ok(()),
                Some(_) => {}
                None => return Err(not_closed(opened)),
            }
        }
    }

    fn cut_off(&self, wanted: &str) -> Box<Diagnostic> {
        let end = self.text.len() as u32;
        let place = Span::new(self.file, end, end);
        Box::new(
            Diagnostic::error("trace-dump", place, format!("the dump ends where {wanted} should follow"))
                .label("end of the file")
                .note("the file was cut off; export it again"),
        )
    }
}

/// A section without an end.
fn not_closed(opened: &Token<'_>) -> Box<Diagnostic> {
    let message = format!("the section `{}` has no `$end`", super::super::short(opened.text));
    Box::new(
        Diagnostic::error("trace-dump", opened.place, message)
            .label("opened here")
            .note("the file was cut off; export it again"),
    )
}

/// Something else than the format has there.
pub(super) fn malformed(token: &Token<'_>, message: impl Into<String>, remedy: &str) -> Box<Diagnostic> {
    Box::new(Diagnostic::error("trace-dump", token.place, message).label(remedy))
}

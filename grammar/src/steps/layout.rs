//! What a formatter has to know of a text that was read: which tokens are words of procedures, and where lines begin.

/// A line of the text as it should be laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Line {
    /// Its first token.
    pub(super) token: usize,
    /// Blocks around it.
    pub(super) depth: usize,
}

/// Both in the order of the text.
#[derive(Clone, Debug, Default)]
pub(super) struct Layout {
    /// Tokens that are words of procedures.
    pub(super) words: Vec<usize>,
    /// Starts of items, steps and closing words.
    pub(super) lines: Vec<Line>,
}

impl Layout {
    pub(super) fn word(&mut self, token: usize) {
        self.words.push(token);
    }

    pub(super) fn line(&mut self, token: usize, depth: usize) {
        self.lines.push(Line { token, depth });
    }
}

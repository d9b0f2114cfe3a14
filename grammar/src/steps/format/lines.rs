//! The lines of a file laid out: steps and what stands around them, with the comments that belong to them.

use super::{
    super::{Outcome, words::Word},
    spacing::Spacing,
};
use crate::{
    lexer::TokenKind,
    tree::{Trivia, TriviaKind},
};

/// A line of the result.
#[derive(Debug, Default)]
pub(super) struct Line {
    /// One blank line stands before it.
    blank_before: bool,
    /// Blocks around it.
    depth: usize,
    /// What stands on it; several lines if a comment in it has several, or ends one.
    text: String,
}

impl Line {
    /// Writes it behind what is there.
    pub(super) fn write(&self, out: &mut String) {
        if self.blank_before && !out.is_empty() {
            out.push('\n');
        }
        out.push_str(&"  ".repeat(self.depth));
        out.push_str(&self.text);
        out.push('\n');
    }
}

/// The lines of a file without errors.
pub(super) fn lines(text: &str, outcome: &Outcome) -> Vec<Line> {
    let spacing = Spacing { text, outcome };
    let mut writer = Writer { text, spacing, trivia: &outcome.parsed.tree.trivia, lines: Vec::new() };
    let starts = &outcome.layout.lines;
    for (number, start) in starts.iter().enumerate() {
        let next = starts.get(number + 1).map_or(outcome.tokens.len(), |next| next.token);
        writer.between(Some((start.token, start.depth)));
        writer.line(start.token, next, start.depth);
    }
    writer.between(None);
    writer.lines
}

struct Writer<'a> {
    text: &'a str,
    spacing: Spacing<'a>,
    /// Comments and pragmas not yet written.
    trivia: &'a [Trivia],
    lines: Vec<Line>,
}

impl<'a> Writer<'a> {
    fn start_of(&self, token: usize) -> u32 {
        self.spacing.outcome.tokens.get(token).map_or(self.text.len() as u32, |token| token.start)
    }

    /// Line ends in the blanks before a place.
    fn line_ends(&self, place: u32) -> usize {
        let before = self.text.get(..place as usize).unwrap_or("");
        let gap = before.bytes().rev().take_while(u8::is_ascii_whitespace);
        let mut ends = 0;
        let mut behind = 0;
        for byte in gap {
            ends += usize::from(byte == b'\n' || byte == b'\r' && behind != b'\n');
            behind = byte;
        }
        ends
    }

    /// The next comment if it begins before a place.
    fn comment_before(&mut self, place: u32) -> Option<(&'a str, TriviaKind, usize)> {
        let (first, rest) = self.trivia.split_first().filter(|(first, _)| first.span.start < place)?;
        let ends = self.line_ends(first.span.start);
        let text = self.text.get(first.span.start as usize..first.span.end as usize).unwrap_or("");
        self.trivia = rest;
        Some((text.trim_end(), first.kind, ends))
    }

    /// Comments between a line and the next one, which begins with a token at a depth.
    fn between(&mut self, next: Option<(usize, usize)>) {
        let place = next.map_or(self.text.len() as u32, |(token, _)| self.start_of(token));
        let depth = match next {
            // In front of a closing word they belong to what it closes.
            Some((token, depth)) => depth + usize::from(self.spacing.word(token).closes()),
            None => 0,
        };
        let mut goes_on = true;
        while let Some((comment, kind, ends)) = self.comment_before(place) {
            let attached = goes_on && ends == 0;
            goes_on = kind != TriviaKind::LineComment;
            match self.lines.last_mut().filter(|_| attached) {
                Some(line) => {
                    line.text.push_str("  ");
                    line.text.push_str(comment);
                }
                None => self.lines.push(Line { blank_before: ends > 1, depth, text: comment.to_owned() }),
            }
        }
    }

    /// The line of the tokens from `start` up to `next`.
    fn line(&mut self, start: usize, next: usize, depth: usize) {
        let blank_before = self.line_ends(self.start_of(start)) > 1;
        let mut text = String::new();
        let mut before = None;
        let tokens = (start..next).filter(|index| self.spacing.kind(*index) != TokenKind::Semicolon);
        for index in tokens.collect::<Vec<_>>() {
            let place = self.start_of(index);
            let mut behind_comment = false;
            while let Some((comment, kind, _)) = self.comment_before(place) {
                if !text.is_empty() && !text.ends_with(['\n', ' ']) {
                    text.push_str(if kind == TriviaKind::LineComment { "  " } else { " " });
                }
                text.push_str(comment);
                if kind == TriviaKind::LineComment {
                    text.push('\n');
                    text.push_str(&"  ".repeat(depth + 2));
                } else {
                    text.push(' ');
                }
                behind_comment = true;
            }
            if before.is_some_and(|before| !behind_comment && self.spacing.blank_between(before, index)) {
                text.push(' ');
            }
            self.spacing.write(&mut text, index);
            before = Some(index);
        }
        if before.is_some_and(|last| self.ends_in_semicolon(start, last)) {
            text.push(';');
        }
        self.lines.push(Line { blank_before, depth, text });
    }

    /// Whether a semicolon stands behind the last token of a line.
    fn ends_in_semicolon(&self, first: usize, last: usize) -> bool {
        let opens_block = matches!(self.spacing.word(last), Word::Times | Word::While);
        let is_bare = matches!(
            self.spacing.word(first),
            Word::Prepare | Word::Procedure | Word::EndPrepare | Word::EndProcedure
        );
        !opens_block && !is_bare
    }
}

//! Blocks of steps inside of a procedure: how often one is repeated, what stands in one, and where it ends.

use super::{
    reader::Reader,
    tree::{Step, StepKind},
    words::Word,
};
use crate::{
    diagnostic::Diagnostic,
    lexer::{TokenKind, Value},
    literal::Literal,
    parser::{NESTING_MAX, blocks},
    source::Span,
};

impl Reader<'_> {
    /// `repeat 3 times … end_repeat;`, whose first word stands here.
    pub(super) fn repeat(&mut self, start: usize, list: &mut Vec<Step>) {
        let (times, times_span) = self.repeat_head(start);
        let steps = self.block(start, Word::EndRepeat);
        self.lost_count = false;
        if self.kind(self.at) == TokenKind::Semicolon {
            self.at += 1;
        }
        if let (Some(times), Some(steps)) = (times, steps) {
            let kind = StepKind::Repeat { times, times_span, steps };
            list.push(Step { kind, span: self.span_from(start) });
        }
        self.at = self.at.max(start + 1);
    }

    /// `repeat 3 times`
    fn repeat_head(&mut self, start: usize) -> (Option<u64>, Span) {
        self.take_word();
        let times = self.count(start);
        let times_span = self.parser.span(self.at.saturating_sub(1));
        if times.is_some() || self.is(Word::Times) {
            // It is said if the word is missing.
            let _ = self.require(Word::Times, true);
        }
        (times, times_span)
    }

    /// How often a block is repeated.
    fn count(&mut self, start: usize) -> Option<u64> {
        let token = self.parser.token(self.at);
        if self.kind(self.at) == TokenKind::IntegerLiteral
            && let Some(Value::Plain(Literal::Integer(count))) = self.values.get(token.payload as usize)
        {
            if *count == 0 {
                let problem = self.problem("steps-count", "a number of at least 1");
                self.report(problem.note("a block that is repeated no time can be left out"));
                self.at += 1;
                return None;
            }
            self.at += 1;
            return Some(*count);
        }
        let negative = self.kind(self.at) == TokenKind::Minus;
        let problem = self.problem("steps-count", "a number of times");
        let problem = if negative {
            problem.note("the number is at least 1")
        } else {
            problem.note("the number stands behind `repeat`: `repeat 3 times`")
        };
        self.report(problem);
        self.lost_count = true;
        // What stands there instead, up to `times` or the end of the line.
        while self.at < self.limit && !self.is(Word::Times) && !self.ends_count(start) {
            self.at += 1;
        }
        None
    }

    fn ends_count(&self, start: usize) -> bool {
        self.parser.first_on_line(self.at)
            || self.begins_step(self.at)
            || self.word(self.at).closes()
            || self.kind(self.at) == TokenKind::Semicolon
            || self.at > start + 8
    }

    /// The steps of the block that the word at `start` opens, and its closing word.
    pub(super) fn block(&mut self, start: usize, closing: Word) -> Option<Vec<Step>> {
        let end = self.block_end(start);
        if self.depth >= NESTING_MAX {
            if !self.said_depth {
                self.said_depth = true;
                let message = format!("blocks are nested more than {NESTING_MAX} deep");
                let problem = Diagnostic::error("nesting-too-deep", self.parser.span(start), message)
                    .label("too deep from here on");
                self.report(problem.note("write the blocks behind one another"));
            }
            self.at = if end.missing { end.index } else { end.index + 1 };
            return None;
        }
        if end.missing && !self.said_depth {
            self.report_unclosed(start, end.index, closing);
        }
        let around = std::mem::replace(&mut self.limit, end.index);
        self.depth += 1;
        let mut steps = Vec::new();
        while self.at < self.limit {
            self.step(&mut steps);
        }
        self.depth -= 1;
        self.limit = around;
        self.at = end.index;
        if !end.missing {
            self.layout.line(end.index, self.depth);
            self.take_word();
        }
        Some(steps)
    }

    fn report_unclosed(&mut self, start: usize, end: usize, closing: Word) {
        if self.parser.is_behind_unread(end) {
            return;
        }
        let (opening, closing) = (self.word(start).text(), closing.text());
        let before = self.parser.found(end);
        let problem = Diagnostic::error(
            "steps-unclosed-block",
            self.parser.span(start),
            format!("this `{opening}` is never closed by `{closing}`"),
        )
        .label(format!("no `{closing}` belongs to this"))
        .also(self.parser.behind_previous(end), format!("expected `{closing};` before {before}"));
        self.parser.report(problem);
    }

    /// Where the block ends that the word at `start` opens.
    pub(super) fn block_end(&self, start: usize) -> blocks::BlockEnd {
        let end = blocks::end_of(self.parser.token(start));
        if end.index > self.limit || end.index <= start {
            // It reaches out of the block around it, which was cut short.
            return blocks::BlockEnd { index: self.limit, missing: true };
        }
        end
    }

    /// Goes on behind the block that a word opens which stands here; nothing of it is read. Tells whether the step
    /// that it ends is over.
    pub(super) fn skip_block(&mut self) -> bool {
        let end = self.block_end(self.at);
        let behind = if end.missing { end.index } else { end.index + 1 };
        self.at = behind.max(self.at + 1);
        if self.kind(self.at) == TokenKind::Semicolon {
            self.at += 1;
            return true;
        }
        !self.is(Word::Hint)
    }
}

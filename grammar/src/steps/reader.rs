//! Reading a file of procedures from its tokens: what every part of it is made of. Each of the functions reads one
//! thing at the present place, or says what is wrong there, once, and tells that nothing came of it.

use super::{
    layout::Layout,
    words::{Word, nearest},
};
use crate::{
    diagnostic::{Diagnostic, Label},
    lexer::{TokenKind, Value},
    parser::Parser,
    source::Span,
};

/// Whether a duration may be nothing.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Least {
    Nothing,
    Something,
}

/// State of the reading of one file.
pub(super) struct Reader<'a> {
    pub(super) parser: Parser<'a>,
    pub(super) words: Vec<Word>,
    /// Places of the words that begin and end procedures and preparations.
    pub(super) boundaries: Vec<usize>,
    /// First bytes of the lexical errors, in order: a literal that has one needs no second message.
    pub(super) wrong: Vec<u32>,
    /// The next token.
    pub(super) at: usize,
    /// End of the block that is read.
    pub(super) limit: usize,
    /// Blocks around the next token.
    pub(super) depth: usize,
    pub(super) said_depth: bool,
    /// A block is read that is repeated nobody knows how often, perhaps `REPEAT … UNTIL`.
    pub(super) lost_count: bool,
    pub(super) values: &'a [Value],
    pub(super) layout: Layout,
}

impl Reader<'_> {
    /// The kind of a token; at the end of the block, the end of the file.
    pub(super) fn kind(&self, index: usize) -> TokenKind {
        if index < self.limit { self.parser.kind(index) } else { TokenKind::EndOfFile }
    }

    pub(super) fn word(&self, index: usize) -> Word {
        if index < self.limit { self.word_anywhere(index) } else { Word::Other }
    }

    /// The word at a place that may lie behind the end of the block.
    pub(super) fn word_anywhere(&self, index: usize) -> Word {
        self.words.get(index).copied().unwrap_or(Word::Other)
    }

    pub(super) fn is(&self, word: Word) -> bool {
        self.word(self.at) == word
    }

    /// From the token at `start` up to the last one read.
    pub(super) fn span_from(&self, start: usize) -> Span {
        self.parser.span_of(start, self.at.max(start + 1))
    }

    /// Takes the word of procedures at the present place.
    pub(super) fn take_word(&mut self) -> Span {
        self.layout.word(self.at);
        self.at += 1;
        self.parser.span(self.at - 1)
    }

    // ---- messages ---------------------------------------------------------------------------------------

    /// An error at the present place. Nothing is said where the lexer has spoken already.
    pub(super) fn report(&mut self, problem: Diagnostic) {
        let unread = self.at >= self.limit && self.parser.is_behind_unread(self.at);
        if !unread && self.kind(self.at) != TokenKind::Unreadable && !self.is_wrong(self.at) {
            self.parser.report(problem);
        }
    }

    /// Whether the lexer has reported something about a token.
    pub(super) fn is_wrong(&self, index: usize) -> bool {
        if index >= self.limit {
            return false;
        }
        let span = self.parser.span(index);
        let place = self.wrong.partition_point(|start| *start < span.start);
        self.wrong.get(place).is_some_and(|start| *start < span.end)
    }

    /// Reports that something else belongs at the present place.
    pub(super) fn expected(&mut self, name: &'static str, wanted: &str) {
        let problem = self.problem(name, wanted);
        self.report(problem);
    }

    /// The error that something else belongs at the present place.
    pub(super) fn problem(&self, name: &'static str, wanted: &str) -> Diagnostic {
        let span = self.parser.place_to_point_at(self.at);
        Diagnostic {
            primary: Label { span, text: format!("expected {wanted}") },
            ..self.problem_at(self.at, name, wanted)
        }
    }

    /// The error that something else belongs in the place of a token that is there.
    pub(super) fn problem_at(&self, index: usize, name: &'static str, wanted: &str) -> Diagnostic {
        let found = self.parser.found(index);
        let span = self.parser.span(index);
        Diagnostic::error(name, span, format!("expected {wanted}, found {found}"))
            .label(format!("expected {wanted}"))
    }

    // ---- words ------------------------------------------------------------------------------------------

    /// The word of `candidates` that stands here; one that is nearly right is put right.
    pub(super) fn one_of(&mut self, candidates: &[Word]) -> Option<Word> {
        let here = self.word(self.at);
        if candidates.contains(&here) {
            return Some(here);
        }
        let is_slip = here == Word::Other && self.kind(self.at) == TokenKind::Identifier;
        let (_, meant) = nearest(self.parser.text(self.at), candidates).filter(|_| is_slip)?;
        self.correct(self.at, meant);
        Some(meant)
    }

    /// Reports a misspelt word, and takes it for the one that is meant.
    pub(super) fn correct(&mut self, index: usize, meant: Word) {
        let (span, written, word) = (self.parser.span(index), self.parser.text(index), meant.text());
        let problem = Diagnostic::error(
            "steps-misspelt-word",
            span,
            format!("`{written}` is no word of procedures; `{word}` is"),
        )
        .label(format!("did you mean `{word}`?"))
        .fix(format!("write `{word}`"), span, word);
        self.parser.report(problem);
        if let Some(place) = self.words.get_mut(index) {
            *place = meant;
        }
    }

    /// Takes a word that has to stand here. It is said that it is missing; reading goes on as if it were there when
    /// `goes_on`.
    pub(super) fn require(&mut self, word: Word, goes_on: bool) -> Option<()> {
        if self.one_of(&[word]).is_some() {
            self.take_word();
            return Some(());
        }
        let text = word.text();
        if word == Word::To && matches!(self.kind(self.at), TokenKind::Assign | TokenKind::Equal) {
            let span = self.parser.span(self.at);
            let written = self.parser.text(self.at);
            let spaced = if self.blank_before(self.at) { "to" } else { " to" };
            let problem = Diagnostic::error(
                "steps-assignment",
                span,
                format!("a step does not assign with `{written}`; its value stands behind `to`"),
            )
            .label("expected `to`")
            .fix(
                "write `to`",
                span,
                if self.blank_before(self.at + 1) { spaced.into() } else { format!("{spaced} ") },
            );
            self.report(problem);
            self.at += 1;
            return Some(());
        }
        let place = self.parser.behind_previous(self.at);
        let problem = self.problem("steps-missing-word", &format!("`{text}`"));
        let problem = if goes_on {
            problem.fix(format!("insert `{text}`"), place, format!(" {text}"))
        } else {
            problem
        };
        self.report(problem);
        goes_on.then_some(())
    }

    /// Whether a blank stands before a token.
    pub(super) fn blank_before(&self, index: usize) -> bool {
        index > 0 && self.parser.span(index).start > self.parser.span(index - 1).end
    }

    /// Takes the semicolon. `word` is what the step begins with.
    pub(super) fn semicolon(&mut self, word: Word) -> Option<()> {
        use TokenKind as T;
        if self.kind(self.at) == T::Semicolon {
            self.at += 1;
            return Some(());
        }
        let here = self.word(self.at);
        let begins = self.begins_step(self.at);
        let text = word.text();
        if here == Word::At && begins && !self.parser.first_on_line(self.at) {
            let problem = Diagnostic::error(
                "steps-clause",
                self.parser.span(self.at),
                format!("no time stands behind `{text}`"),
            )
            .label("not here");
            self.report(problem.note(format!("the time stands in front: `at T#2s {text} …;`")));
            return None;
        }
        if here.ends_expression() && !begins && here != Word::While {
            let message = format!("`{text}` has no `{}` here", here.text());
            self.report(
                Diagnostic::error("steps-clause", self.parser.span(self.at), message).label("not here"),
            );
            return None;
        }
        let ended = self.at >= self.limit || begins || here.closes() || self.parser.first_on_line(self.at);
        if !ended {
            let listed =
                [Word::Press, Word::Release, Word::Clear, Word::Record, Word::Compare, Word::Program];
            self.expected("steps-unexpected", if listed.contains(&word) { "`,` or `;`" } else { "`;`" });
            return None;
        }
        let place = self.parser.behind_previous(self.at);
        let problem =
            Diagnostic::error("steps-missing-semicolon", place, format!("expected `;` behind this `{text}`"))
                .label("expected `;` here")
                .fix("insert `;`", place, ";");
        self.report(problem);
        Some(())
    }

    /// Goes on behind a step that could not be read.
    pub(super) fn skip_step(&mut self, start: usize) {
        use TokenKind as T;
        self.at = self.at.max(start + 1);
        // It may have been read to its end.
        if self.at > start + 1 && self.kind(self.at - 1) == T::Semicolon {
            return;
        }
        while self.at < self.limit {
            let kind = self.kind(self.at);
            match kind {
                T::Semicolon | T::Unreadable => {
                    self.at += 1;
                    return;
                }
                T::While | T::Repeat => {
                    if self.skip_block() {
                        return;
                    }
                }
                _ if self.word(self.at).closes() => return,
                _ if self.parser.first_on_line(self.at) && self.begins_step(self.at) => return,
                _ => self.at += 1,
            }
        }
    }
}

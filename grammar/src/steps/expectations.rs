//! Expectations: what must be seen, and when.

use super::{
    reader::{Least, Reader},
    tree::{Bound, Duration, EdgeWord, Expect, ExpectTime, Expected, Step, StepKind, Text},
    words::Word,
};
use crate::{diagnostic::Diagnostic, lexer::TokenKind, source::Span};

/// The clauses behind what is expected, as far as they were read.
#[derive(Default)]
struct Clauses {
    within: Option<(Duration, Span)>,
    for_: Option<(Duration, Span)>,
    between: Option<(Duration, Duration, Span)>,
    while_: Option<(Vec<Step>, Span)>,
    hint: Option<Text>,
    /// The last of them is a block.
    ends_with_block: bool,
    /// Something was wrong with one of them.
    lost: bool,
}

impl Reader<'_> {
    /// `expect …;`, whose first word stands here.
    pub(super) fn expect(&mut self, start: usize, list: &mut Vec<Step>) {
        self.take_word();
        let what = self.expected_thing();
        let mut clauses = Box::<Clauses>::default();
        let whole = what.is_some() && self.clauses(&mut clauses);
        self.expectation(start, what.filter(|_| whole), clauses, list);
    }

    /// The end of an expectation; what was read becomes a step, if it goes together.
    fn expectation(
        &mut self,
        start: usize,
        what: Option<Box<Expected>>,
        clauses: Box<Clauses>,
        list: &mut Vec<Step>,
    ) {
        match what.and_then(|what| self.expect_of(start, what, clauses)) {
            Some(expect) => list.push(Step { kind: StepKind::Expect(expect), span: self.span_from(start) }),
            None => self.skip_step(start),
        }
    }

    fn expect_of(&mut self, start: usize, what: Box<Expected>, mut clauses: Box<Clauses>) -> Option<Expect> {
        self.expect_end(&clauses)?;
        let hint = clauses.hint.take();
        if clauses.lost {
            return None;
        }
        let when = self.time_of(*clauses, start)?;
        self.fits(&what, &when, start)?;
        Some(Expect { what: *what, when, hint })
    }

    /// The semicolon; not needed behind `end_while`.
    fn expect_end(&mut self, clauses: &Clauses) -> Option<()> {
        if clauses.ends_with_block && self.kind(self.at) != TokenKind::Semicolon {
            return Some(());
        }
        self.semicolon(Word::Expect)
    }

    // ---- what is expected -------------------------------------------------------------------------------------

    fn expected_thing(&mut self) -> Option<Box<Expected>> {
        let what = match self.edges() {
            Some(edges) => edges,
            None => self.condition(),
        };
        what.map(Box::new)
    }

    /// A condition, or what a value must be near.
    fn condition(&mut self) -> Option<Expected> {
        let value = self.expression()?;
        if self.is(Word::Near) {
            self.take_word();
            let target = self.expression()?;
            self.require(Word::Tolerance, false)?;
            return Some(Expected::Near { value, target, tolerance: self.expression()? });
        }
        if self.is(Word::Tolerance) {
            let problem = Diagnostic::error(
                "steps-clause",
                self.parser.span(self.at),
                "`tolerance` stands behind `near` only",
            )
            .label("no `near` before this");
            self.report(problem.note("write `expect Level near 42.0 tolerance 0.5;`"));
            return None;
        }
        Some(Expected::Condition(value))
    }

    /// `exactly 3 rising edges of Pump`; nothing if something else begins here, nothing inside if it is wrong.
    fn edges(&mut self) -> Option<Option<Expected>> {
        let next_is_number = |reader: &Self, ahead: usize| {
            matches!(
                reader.kind(reader.at + ahead),
                TokenKind::IntegerLiteral | TokenKind::RealLiteral | TokenKind::Minus
            )
        };
        let (bound, length) = match (self.word(self.at), self.word(self.at + 1)) {
            (Word::Exactly, _) if next_is_number(self, 1) || self.names_edges(1) => (Bound::Exactly, 1),
            (Word::At, Word::Least) => (Bound::AtLeast, 2),
            (Word::At, Word::Most) => (Bound::AtMost, 2),
            _ if self.names_edges(0) || next_is_number(self, 0) && self.names_edges(1) => {
                let problem = self.problem("steps-missing-word", "`exactly`, `at least` or `at most`");
                self.report(problem.note(
                    "it is said how many are expected: `expect exactly 3 rising edges of Pump within T#10s;`",
                ));
                return Some(None);
            }
            _ => return None,
        };
        for _ in 0..length {
            self.take_word();
        }
        Some(self.counted(bound))
    }

    /// Whether words such as `rising edges` stand some tokens ahead, with what follows them.
    fn names_edges(&self, ahead: usize) -> bool {
        let place = self.at + ahead;
        match self.word(place) {
            Word::Rising | Word::Falling => matches!(self.word(place + 1), Word::Edge | Word::Edges),
            Word::Edge | Word::Edges | Word::Change | Word::Changes => self.word(place + 1) == Word::Of,
            _ => false,
        }
    }

    fn counted(&mut self, bound: Bound) -> Option<Expected> {
        let Some(count) = self.integer() else {
            let problem = self.problem("steps-count", "a whole number");
            self.report(
                problem.note("it is counted how often something happens: `exactly 3 rising edges of Pump`"),
            );
            return None;
        };
        self.at += 1;
        let words = [Word::Rising, Word::Falling, Word::Change, Word::Changes, Word::Edge, Word::Edges];
        let edge = match self.one_of(&words) {
            Some(Word::Rising) => EdgeWord::Rising,
            Some(Word::Falling) => EdgeWord::Falling,
            Some(Word::Change | Word::Changes) => EdgeWord::Change,
            _ => {
                let problem =
                    self.problem("steps-missing-word", "`rising edges`, `falling edges` or `changes`");
                self.report(problem);
                return None;
            }
        };
        self.take_word();
        if edge != EdgeWord::Change {
            if self.one_of(&[Word::Edges, Word::Edge]).is_some() {
                self.take_word();
            } else {
                self.require(Word::Edges, true)?;
            }
        }
        self.require(Word::Of, true)?;
        Some(Expected::Edges { bound, count, edge, of: self.expression()? })
    }

    // ---- when ---------------------------------------------------------------------------------------------------

    /// Reads the clauses; tells whether they are whole.
    fn clauses(&mut self, clauses: &mut Clauses) -> bool {
        while let Some(word) = self.clause_word(clauses) {
            clauses.ends_with_block = word == Word::While;
            let place = self.at;
            self.take_word();
            if word == Word::While {
                let block = self.block(place, Word::EndWhile);
                self.take_block(clauses, place, block);
            } else if self.clause(word, clauses).is_none() {
                return false;
            }
        }
        !self.is_misplaced(clauses)
    }

    /// The word that begins a clause here.
    fn clause_word(&mut self, clauses: &Clauses) -> Option<Word> {
        if self.kind(self.at) == TokenKind::Semicolon
            || self.begins_step(self.at)
            || self.is_misplaced(clauses)
        {
            return None;
        }
        // Behind `end_while`, which needs no semicolon, a second hint is that of the procedure.
        if clauses.ends_with_block && clauses.hint.is_some() && self.is(Word::Hint) {
            return None;
        }
        self.one_of(&[Word::Within, Word::For, Word::Between, Word::While, Word::Hint])
    }

    /// Whether a time stands here, behind the hint.
    fn is_misplaced(&self, clauses: &Clauses) -> bool {
        clauses.hint.is_some() && matches!(self.word(self.at), Word::Within | Word::For | Word::Between)
    }

    fn take_block(&mut self, clauses: &mut Clauses, place: usize, block: Option<Vec<Step>>) {
        let span = self.parser.span(place);
        match block {
            Some(steps) if clauses.while_.is_none() => clauses.while_ = Some((steps, span)),
            Some(_) => {
                self.reports_twice(Word::While, span);
                clauses.lost = true;
            }
            None => clauses.lost = true,
        }
    }

    /// What follows the word of a clause that is no block.
    fn clause(&mut self, word: Word, clauses: &mut Clauses) -> Option<()> {
        let span = self.parser.span(self.at.saturating_sub(1));
        let repeated = match word {
            Word::Within => {
                let time = self.duration("behind `within`", Least::Nothing)?;
                clauses.within.replace((time, span)).is_some()
            }
            Word::For => {
                let time = self.duration("behind `for`", Least::Nothing)?;
                clauses.for_.replace((time, span)).is_some()
            }
            Word::Between => {
                let from = self.duration("behind `between`", Least::Nothing)?;
                self.require(Word::And, self.kind(self.at) == TokenKind::TimeLiteral)?;
                let to = self.duration("behind `and`", Least::Nothing)?;
                clauses.between.replace((from, to, span)).is_some()
            }
            _ => clauses.hint.replace(self.text("a hint")?).is_some(),
        };
        if repeated {
            self.reports_twice(word, span);
            clauses.lost = true;
        }
        if let Some(hint) = clauses.hint.as_ref().map(|hint| hint.span).filter(|_| self.is_misplaced(clauses))
        {
            let message = format!("`{}` stands in front of the hint", self.word(self.at).text());
            let problem = Diagnostic::error("steps-clause", self.parser.span(self.at), message)
                .label("too late here")
                .also(hint, "the hint comes last");
            self.report(problem);
        }
        Some(())
    }

    /// When an expectation must be met, if its clauses go together.
    fn time_of(&mut self, clauses: Clauses, start: usize) -> Option<ExpectTime> {
        let Clauses { within, for_, between, while_, .. } = clauses;
        Some(match (within, for_, between, while_) {
            (None, None, None, None) => ExpectTime::Now,
            (Some((time, _)), None, None, None) => ExpectTime::Within(time),
            (None, Some((time, _)), None, None) => ExpectTime::For(time),
            (Some((within, before)), Some((time, behind)), None, None) => {
                if before.start > behind.start {
                    let problem = Diagnostic::error("steps-clause", before, "`within` stands before `for`")
                        .label("in the wrong order")
                        .also(behind, "expected before this");
                    self.parser.report(problem.note(
                        "`expect Pump within T#1s for T#2s;` waits until it is TRUE, then sees that it stays so",
                    ));
                    return None;
                }
                ExpectTime::WithinFor(within, time)
            }
            (None, None, Some((from, to, _)), None) => {
                if to.nanoseconds < from.nanoseconds {
                    let problem = Diagnostic::error(
                        "steps-between-order",
                        to.span,
                        "the second time is before the first",
                    )
                    .label("expected a later time")
                    .also(from.span, "the first");
                    self.parser.report(problem);
                    return None;
                }
                ExpectTime::Between(from, to)
            }
            (None, None, None, Some((steps, _))) => ExpectTime::While(steps),
            (within, for_, between, while_) => {
                let mut places: Vec<Span> = [
                    within.map(|clause| clause.1),
                    for_.map(|clause| clause.1),
                    between.map(|clause| clause.2),
                    while_.map(|clause| clause.1),
                ]
                .into_iter()
                .flatten()
                .collect();
                places.sort_by_key(|place| place.start);
                let place = places.last().copied().unwrap_or(self.parser.span(start));
                let mut problem = Diagnostic::error("steps-clause", place, "these times do not go together")
                    .label("one too many")
                    .note("an expectation has `within`, `for`, both of them, `between`, or `while`");
                if let Some(first) = places.first() {
                    problem = problem.also(*first, "the first");
                }
                self.parser.report(problem);
                return None;
            }
        })
    }

    /// Whether what is expected can be expected so: edges are counted in a window.
    fn fits(&mut self, what: &Expected, when: &ExpectTime, start: usize) -> Option<()> {
        let windowed = matches!(when, ExpectTime::Within(_) | ExpectTime::While(_));
        if !matches!(what, Expected::Edges { .. }) || windowed {
            return Some(());
        }
        let Expected::Edges { of, .. } = what else { return Some(()) };
        let place = self.parser.span(start).to(of.span);
        let message = if matches!(when, ExpectTime::Now) {
            "edges are counted in a window of time, and none is given"
        } else {
            "edges are counted in a window of time: `within` or `while`"
        };
        let problem = Diagnostic::error("steps-edge-window", place, message)
            .label("expected `within T#1s` or `while … end_while` behind this");
        self.parser.report(problem);
        None
    }
}

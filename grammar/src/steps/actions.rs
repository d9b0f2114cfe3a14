//! Steps: what is done to the panel and the program, and how time passes.

use super::{
    reader::{Least, Reader},
    tree::{FaultWord, StateWord, Step, StepKind},
    words::{CLAUSES, STEPS, Word, nearest},
};
use crate::{
    diagnostic::Diagnostic,
    lexer::{TokenKind, Value},
    literal::Literal,
    source::Span,
    tree::{Expression, ExpressionKind},
};

impl Reader<'_> {
    /// One step; what stands here instead is reported and left out.
    pub(super) fn step(&mut self, steps: &mut Vec<Step>) {
        let start = self.at;
        if self.kind(start) == TokenKind::Semicolon {
            self.at += 1;
            return;
        }
        let word = self.step_word();
        if !word.opens_step() || self.kind(start + 1) == TokenKind::Assign {
            return self.no_step(start);
        }
        // `at T#2s press Stop;` is one line.
        let behind_time =
            matches!(steps.last(), Some(Step { kind: StepKind::At(_), span }) if self.follows(*span));
        if !behind_time {
            self.layout.line(start, self.depth);
        }
        // Each form in a function of its own: blocks are read by recursion, and no more than they need lies on the stack.
        match word {
            Word::Repeat => self.repeat(start, steps),
            Word::Expect => self.expect(start, steps),
            _ => self.simple_step(word, start, steps),
        }
    }

    fn simple_step(&mut self, word: Word, start: usize, steps: &mut Vec<Step>) {
        match self.step_of(word) {
            Some(kind) => steps.push(Step { kind, span: self.span_from(start) }),
            None => self.skip_step(start),
        }
    }

    /// Whether the token here follows a step that ended without a semicolon.
    fn follows(&self, step: Span) -> bool {
        let behind = self.at.checked_sub(1).map(|before| self.parser.span(before));
        behind.is_some_and(|behind| behind.end == step.end) && self.kind(self.at - 1) != TokenKind::Semicolon
    }

    /// The word that the step here begins with; one that is nearly right is put right.
    fn step_word(&mut self) -> Word {
        let word = self.word(self.at);
        if word != Word::Other || self.kind(self.at) != TokenKind::Identifier {
            return word;
        }
        let is_name = matches!(
            self.kind(self.at + 1),
            TokenKind::Assign | TokenKind::Semicolon | TokenKind::ParenthesisOpen | TokenKind::Dot
        );
        match nearest(self.parser.text(self.at), &STEPS) {
            Some((_, meant)) if !is_name => {
                self.correct(self.at, meant);
                meant
            }
            _ => word,
        }
    }

    fn step_of(&mut self, word: Word) -> Option<StepKind> {
        self.take_word();
        let kind = match word {
            Word::Press => {
                let devices = self.names()?;
                let hold = match self.one_of(&[Word::For]) {
                    Some(_) => {
                        self.take_word();
                        Some(self.duration("behind `for`", Least::Nothing)?)
                    }
                    None => None,
                };
                StepKind::Press { devices, hold }
            }
            Word::Release => StepKind::Release(self.names()?),
            Word::Turn => {
                let device = self.name()?;
                self.require(Word::To, self.begins_operand())?;
                StepKind::Turn { device, to: self.state()? }
            }
            Word::Set => {
                let target = self.access(&[], "devices, variables and addresses are set, no expressions")?;
                self.require(Word::To, self.begins_operand())?;
                StepKind::Set { target, value: self.value()? }
            }
            Word::Ramp => {
                let target = self.access(&[], "devices, variables and addresses are set, no expressions")?;
                self.require(Word::To, self.begins_operand())?;
                let value = self.expression()?;
                self.require(Word::Over, self.kind(self.at) == TokenKind::TimeLiteral)?;
                StepKind::Ramp { target, value, over: self.duration("of a ramp", Least::Something)? }
            }
            Word::Wait => StepKind::Wait(self.duration("behind `wait`", Least::Nothing)?),
            Word::At => {
                let time = self.duration("behind `at`", Least::Nothing)?;
                if self.kind(self.at) == TokenKind::Semicolon || !self.begins_step(self.at) {
                    self.semicolon(word)?;
                }
                return Some(StepKind::At(time));
            }
            Word::Place => self.place()?,
            Word::Clear => {
                if self.is(Word::Faults) && self.kind(self.at + 1) != TokenKind::Comma {
                    self.take_word();
                    StepKind::Clear(Vec::new())
                } else {
                    StepKind::Clear(self.names()?)
                }
            }
            Word::Restart => {
                let Some(how) = self.one_of(&[Word::Warm, Word::Cold]) else {
                    let problem = self.problem("steps-missing-word", "`warm` or `cold`");
                    self.report(problem.note("retained variables keep their values in a warm restart"));
                    return None;
                };
                self.take_word();
                StepKind::Restart { warm: how == Word::Warm }
            }
            Word::Always => StepKind::Always(self.rule(word)?),
            Word::Never => StepKind::Never(self.rule(word)?),
            _ => self.response()?,
        };
        self.semicolon(word)?;
        Some(kind)
    }

    /// A value to set: an expression, or a state whose word is a keyword of the language (`set Supply to on`).
    fn value(&mut self) -> Option<Expression> {
        let kind = self.kind(self.at);
        let is_word = kind.is_keyword() && !kind.is_literal() && !CLAUSES.contains(&self.word(self.at));
        if is_word && self.kind(self.at + 1) == TokenKind::Semicolon && !self.word(self.at).closes() {
            let (text, span) = (self.parser.text(self.at), self.parser.span(self.at));
            self.at += 1;
            let name = self.parser.intern(text);
            return Some(Expression { kind: ExpressionKind::Name(name), span });
        }
        self.expression()
    }

    /// A state of a device: one of its words, TRUE or FALSE.
    fn state(&mut self) -> Option<StateWord> {
        let kind = self.kind(self.at);
        if kind == TokenKind::StringLiteral {
            let text = self.text("a state")?;
            return Some(StateWord { word: text.value, span: text.span });
        }
        let is_word = kind == TokenKind::Identifier
            || kind.is_keyword() && !self.word(self.at).closes() && kind != TokenKind::Repeat;
        if !is_word {
            let problem = self.problem("steps-expected-state", "a state of the device");
            let problem = match kind {
                TokenKind::IntegerLiteral | TokenKind::RealLiteral => {
                    problem.note("a value in engineering units is given with `set`: `set Level to 42.5;`")
                }
                _ => problem.note(
                    "a state is a word of the station, such as `hand` or `'by hand'`, or TRUE or FALSE",
                ),
            };
            self.report(problem);
            return None;
        }
        let state = StateWord { word: self.parser.text(self.at).to_owned(), span: self.parser.span(self.at) };
        self.at += 1;
        Some(state)
    }

    /// `open wire on A`, `shorted on A`, `stuck on A [at pressed]`
    fn place(&mut self) -> Option<StepKind> {
        let Some(word) = self.one_of(&[Word::Open, Word::Shorted, Word::Stuck]) else {
            let problem = self.problem("steps-missing-word", "`open wire`, `shorted` or `stuck`");
            self.report(problem.note("a fault is placed on a device or load: `place open wire on StopPB;`"));
            return None;
        };
        self.take_word();
        let fault = match word {
            Word::Open => {
                self.require(Word::Wire, true)?;
                FaultWord::OpenWire
            }
            Word::Shorted => FaultWord::Shorted,
            _ => FaultWord::Stuck,
        };
        self.require(Word::On, self.kind(self.at) == TokenKind::Identifier)?;
        let on = self.name()?;
        let mut at = None;
        if self.is(Word::At) && !self.begins_step(self.at) {
            if fault != FaultWord::Stuck {
                let message = format!("`{}` has no `at`", word.text());
                let problem =
                    Diagnostic::error("steps-clause", self.parser.span(self.at), message).label("not here");
                self.report(
                    problem.note("only what is stuck is so at a state: `place stuck on StopPB at pressed;`"),
                );
                return None;
            }
            self.take_word();
            at = Some(self.state()?);
        }
        Some(StepKind::Place { fault, on, at })
    }

    /// The value of a plain integer that stands here.
    pub(super) fn integer(&self) -> Option<u64> {
        if self.kind(self.at) != TokenKind::IntegerLiteral {
            return None;
        }
        match self.values.get(self.parser.token(self.at).payload as usize) {
            Some(Value::Plain(Literal::Integer(value))) => Some(*value),
            _ => None,
        }
    }
}

//! Procedures and preparations: headings, what a procedure has besides its steps, and blocks of steps.

use super::{
    reader::{Least, Reader},
    tree::{Comparison, ItemKind, Procedure, Text},
    words::{HEADS, STEPS, Word, nearest},
};
use crate::{
    diagnostic::Diagnostic,
    lexer::{TokenKind, Value},
    literal::Literal,
    source::Span,
};

/// What a procedure has besides its steps, as far as it was read.
#[derive(Default)]
struct Head {
    points: Option<(f64, Span)>,
    hint: Option<Text>,
    comparisons: Vec<Comparison>,
    /// The comparison with the approved trace.
    approved: Option<Span>,
}

impl Reader<'_> {
    // ---- preparations and procedures ------------------------------------------------------------------------

    /// `prepare … end_prepare`
    pub(super) fn prepare(&mut self, start: usize) -> ItemKind {
        self.take_word();
        self.semicolon_behind_heading("prepare");
        let closed = self.enter_unit(start);
        let mut steps = Vec::new();
        while self.at < self.limit {
            self.step(&mut steps);
        }
        self.leave_unit(start, closed, Word::EndPrepare);
        ItemKind::Prepare(steps)
    }

    /// `procedure 'title' … end_procedure`
    pub(super) fn procedure(&mut self, start: usize) -> Option<Procedure> {
        self.take_word();
        let title = self.title(start);
        let heading = self.span_from(start);
        self.semicolon_behind_heading("title");
        let closed = self.enter_unit(start);
        let mut head = Head::default();
        let mut steps = Vec::new();
        while self.at < self.limit {
            let at = self.at;
            let word = self.head_word();
            if word.opens_head() && self.kind(at + 1) != TokenKind::Assign {
                self.layout.line(at, 1);
                self.take_word();
                if self.head(word, at, &mut head).is_none() {
                    self.skip_step(at);
                }
            } else {
                self.step(&mut steps);
            }
        }
        self.leave_unit(start, closed, Word::EndProcedure);
        let points = head.points.map(|(points, _)| points);
        Some(Procedure {
            title: title?,
            points,
            hint: head.hint,
            comparisons: head.comparisons,
            steps,
            heading,
        })
    }

    /// The word that stands here; one of the head that is nearly right is put right.
    fn head_word(&mut self) -> Word {
        let word = self.word(self.at);
        if word != Word::Other || self.kind(self.at) != TokenKind::Identifier {
            return word;
        }
        let written = self.parser.text(self.at);
        let fits = !matches!(self.kind(self.at + 1), TokenKind::Assign | TokenKind::Semicolon);
        let Some((distance, meant)) = nearest(written, &HEADS).filter(|_| fits) else { return word };
        if nearest(written, &STEPS).is_some_and(|(other, _)| other <= distance) {
            return word;
        }
        self.correct(self.at, meant);
        meant
    }

    fn title(&mut self, start: usize) -> Option<Text> {
        use TokenKind as T;
        if self.kind(self.at) == T::Unreadable {
            self.at += 1;
            return None;
        }
        if self.kind(self.at) == T::StringLiteral {
            let title = self.text("the title")?;
            if title.value.trim().is_empty() {
                let problem = Diagnostic::error(
                    "steps-missing-title",
                    title.span,
                    "the title of this procedure is empty",
                );
                self.parser.report(problem.label("say here what is tested"));
                return None;
            }
            return Some(title);
        }
        let place = self.parser.span(start).after();
        let problem = Diagnostic::error(
            "steps-missing-title",
            place,
            "expected a title in quotation marks behind `procedure`",
        )
        .label("expected a title here")
        .note("a title says what is tested: `procedure 'stop beats start'`");
        self.report(problem);
        // A title without quotation marks is the rest of the line.
        while self.at < self.limit
            && !self.parser.first_on_line(self.at)
            && self.kind(self.at) != T::Semicolon
            && self.boundaries.binary_search(&self.at).is_err()
        {
            self.at += 1;
        }
        None
    }

    /// A semicolon behind the heading is a slip.
    fn semicolon_behind_heading(&mut self, what: &str) {
        if self.kind(self.at) == TokenKind::Semicolon {
            let span = self.parser.span(self.at);
            let problem =
                Diagnostic::error("steps-unexpected", span, format!("no `;` stands behind the {what}"))
                    .label("not needed here")
                    .fix("remove `;`", span, "");
            self.report(problem);
            self.at += 1;
        }
    }

    /// Limits the reading to what belongs to the procedure or preparation that begins at `start`; tells whether a
    /// closing word ends it.
    fn enter_unit(&mut self, start: usize) -> bool {
        let next = self.boundaries.partition_point(|place| *place <= start);
        let next = self.boundaries.get(next).copied();
        self.depth = 1;
        self.limit = next.unwrap_or(self.limit);
        next.is_some_and(|next| self.word_anywhere(next).closes())
    }

    /// Goes on behind the closing word.
    fn leave_unit(&mut self, start: usize, closed: bool, closing: Word) {
        let end = self.limit;
        self.depth = 0;
        self.at = end;
        let text = closing.text();
        if !closed {
            let opening = self.parser.text(start).to_ascii_lowercase();
            let before = self.parser.found(end);
            let problem = Diagnostic::error(
                "steps-unclosed-block",
                self.parser.span(start),
                format!("this `{opening}` is never closed by `{text}`"),
            )
            .label(format!("no `{text}` belongs to this"))
            .also(self.parser.behind_previous(end), format!("expected `{text}` before {before}"));
            return self.report(problem);
        }
        self.limit = end + 1;
        if self.word(end) != closing {
            let span = self.parser.span(end);
            let written = self.word(end).text();
            let problem = Diagnostic::error(
                "steps-unmatched-end",
                span,
                format!("expected `{text}`, found `{written}`"),
            )
            .label(format!("expected `{text}`"))
            .also(self.parser.span(start), "to close this")
            .fix(format!("write `{text}`"), span, text);
            self.report(problem);
        }
        self.layout.line(end, 0);
        self.take_word();
    }

    // ---- the head of a procedure ----------------------------------------------------------------------------

    /// `points`, `hint` or `compare`, whose word has been taken.
    fn head(&mut self, word: Word, start: usize, head: &mut Head) -> Option<()> {
        let before = match word {
            Word::Points => {
                let points = self.points()?;
                self.semicolon(word)?;
                head.points.replace((points, self.span_from(start))).map(|(_, span)| span)
            }
            Word::Hint => {
                let hint = self.text("a hint")?;
                self.semicolon(word)?;
                head.hint.replace(hint).map(|hint| hint.span)
            }
            _ => {
                let comparison = self.comparison(start)?;
                let approved = comparison.file.is_none().then_some(comparison.span);
                head.comparisons.push(comparison);
                approved.and_then(|span| head.approved.replace(span))
            }
        };
        if let Some(before) = before {
            let what = match word {
                Word::Points => "a procedure has one `points`",
                Word::Hint => "a procedure has one `hint`",
                _ => "a procedure is compared once with its approved trace",
            };
            let problem = Diagnostic::error("steps-twice", self.span_from(start), what)
                .label("a second time")
                .also(before, "the first");
            self.parser.report(problem);
        }
        Some(())
    }

    fn points(&mut self) -> Option<f64> {
        let token = self.parser.token(self.at);
        let value = match self.kind(self.at) {
            TokenKind::IntegerLiteral | TokenKind::RealLiteral => self.values.get(token.payload as usize),
            _ => None,
        };
        let points = match value {
            Some(Value::Plain(Literal::Integer(points))) => Some(*points as f64),
            Some(Value::Plain(Literal::Real { long, .. })) => Some(*long),
            _ => None,
        };
        let Some(points) = points.filter(|points| points.is_finite()) else {
            let problem = self.problem("steps-points", "a number of points");
            self.report(problem.note("points are a number of at least 0, such as `2` or `0.5`"));
            return None;
        };
        self.at += 1;
        Some(points)
    }

    /// `compare NAME {, NAME} [with 'FILE'] [shift DURATION] [tolerance NUMBER];`
    fn comparison(&mut self, start: usize) -> Option<Comparison> {
        let names = self.accesses("variables, devices, loads and addresses are compared, no expressions")?;
        let mut comparison =
            Comparison { names, file: None, shift: None, tolerance: None, span: Span::default() };
        let clauses = [Word::With, Word::Shift, Word::Tolerance];
        while let Some(word) = self.one_of(&clauses) {
            let place = self.take_word();
            let repeated = match word {
                Word::With => comparison.file.replace(self.file_name()?).is_some(),
                Word::Shift => {
                    comparison.shift.replace(self.duration("behind `shift`", Least::Nothing)?).is_some()
                }
                _ => comparison.tolerance.replace(self.expression_before(&clauses, &[])?).is_some(),
            };
            if repeated {
                self.reports_twice(word, place);
            }
        }
        self.semicolon(Word::Compare)?;
        comparison.span = self.span_from(start);
        Some(comparison)
    }

    /// A clause that was there already.
    pub(super) fn reports_twice(&mut self, word: Word, place: Span) {
        let message = format!("`{}` stands here twice", word.text());
        self.parser.report(Diagnostic::error("steps-clause", place, message).label("one too many"));
    }
}

//! Reading a file of procedures from its tokens: what every part of it is made of. Each of the functions reads one
//! thing at the present place, or says what is wrong there, once, and tells that nothing came of it.

use super::{
    layout::Layout,
    tree::{Duration, Text},
    words::{CLAUSES, HEADS, ITEMS, STEPS, Word, nearest},
};
use crate::{
    diagnostic::{Diagnostic, Label},
    lexer::{TokenKind, Value},
    literal::Literal,
    parser::Parser,
    source::Span,
    tree::{Expression, ExpressionKind, Ident},
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
    fn is_wrong(&self, index: usize) -> bool {
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
    fn blank_before(&self, index: usize) -> bool {
        index > 0 && self.parser.span(index).start > self.parser.span(index - 1).end
    }

    // ---- the parts of steps -----------------------------------------------------------------------------

    /// A text in quotation marks. `what` is what it should be: "the name of a file".
    pub(super) fn text(&mut self, what: &str) -> Option<Text> {
        if self.kind(self.at) != TokenKind::StringLiteral {
            let problem = self.problem("steps-expected-text", &format!("{what} in quotation marks"));
            let problem = problem.note("a text is written between single quotation marks: `'…'`");
            let problem = match self.bare_text() {
                Some(span) => {
                    let quoted = format!("'{}'", self.parser.text_of(span));
                    problem.fix(format!("write `{quoted}`"), span, quoted)
                }
                None => problem,
            };
            self.report(problem);
            return None;
        }
        let token = self.parser.token(self.at);
        let value = match self.values.get(token.payload as usize) {
            Some(Value::Plain(Literal::String(bytes))) => {
                bytes.iter().map(|byte| char::from(*byte)).collect()
            }
            Some(Value::Plain(Literal::WideString(units))) => String::from_utf16_lossy(units),
            _ => String::new(),
        };
        let span = self.parser.span(self.at);
        self.at += 1;
        Some(Text { value, span })
    }

    /// A text without quotation marks: tokens without blanks between them.
    fn bare_text(&self) -> Option<Span> {
        use TokenKind as T;
        let mut index = self.at;
        let ends = [T::Semicolon, T::Comma, T::StringLiteral, T::Unreadable, T::EndOfFile];
        while !ends.contains(&self.kind(index)) && (index == self.at || !self.blank_before(index)) {
            index += 1;
        }
        let closes = self.kind(self.at) != T::Identifier
            || self.begins_step(self.at) && self.parser.first_on_line(self.at);
        (index > self.at && !closes).then(|| self.parser.span_of(self.at, index))
    }

    /// A duration. `what` is what it is for: "behind `wait`".
    pub(super) fn duration(&mut self, what: &str, least: Least) -> Option<Duration> {
        use TokenKind as T;
        let signed = matches!(self.kind(self.at), T::Minus | T::Plus);
        let place = if signed { self.at + 1 } else { self.at };
        let token = self.parser.token(place);
        let value =
            (self.kind(place) == T::TimeLiteral).then(|| self.values.get(token.payload as usize)).flatten();
        let Some(Value::Plain(Literal::Duration { nanoseconds, .. })) = value else {
            return self.no_duration(place, what);
        };
        let nanoseconds = *nanoseconds;
        let span = self.parser.span(self.at).to(self.parser.span(place));
        let is_wrong = self.is_wrong(place);
        let message = if signed || nanoseconds < 0 {
            format!("the duration {what} has a sign")
        } else if least == Least::Something && nanoseconds == 0 && !is_wrong {
            format!("the duration {what} is nothing")
        } else {
            self.at = place + 1;
            return Some(Duration { nanoseconds, span });
        };
        let label =
            if signed || nanoseconds < 0 { "time goes forward only" } else { "expected more than `T#0s`" };
        self.report(Diagnostic::error("steps-duration-range", span, message).label(label));
        self.at = place + 1;
        None
    }

    fn no_duration(&mut self, place: usize, what: &str) -> Option<Duration> {
        use TokenKind as T;
        let problem = self.problem("steps-expected-duration", &format!("a duration {what}"));
        let written = self.parser.text(place);
        let problem = match self.kind(place) {
            T::IntegerLiteral | T::RealLiteral => problem.note(format!(
                "a duration has a unit: `T#{written}ms` for milliseconds, `T#{written}s` for seconds"
            )),
            T::Identifier if !self.word(place).ends_expression() => {
                problem.note("a duration is written out, such as `T#500ms`; a variable cannot stand here")
            }
            _ => problem.note("a duration is written such as `T#500ms`, `T#2s` or `T#1m30s`"),
        };
        self.report(problem);
        None
    }

    /// The name of a device or load.
    pub(super) fn name(&mut self) -> Option<Ident> {
        if self.kind(self.at) != TokenKind::Identifier || self.begins_next_step() {
            let problem = self.problem("steps-expected-name", "the name of a device or load");
            let problem = match self.kind(self.at) {
                TokenKind::DirectAddress => problem.note("to force an address, write `set %IX0.0 to TRUE;`"),
                TokenKind::StringLiteral => problem.note("names are written without quotation marks"),
                kind if kind.is_keyword() && !self.word(self.at).closes() => {
                    problem.note("a keyword of the language cannot be a name")
                }
                _ => problem,
            };
            self.report(problem);
            return None;
        }
        let ident = self.ident();
        if matches!(self.kind(self.at), TokenKind::Dot | TokenKind::BracketOpen) {
            let problem = self.problem("steps-expected-name", "the name of a device without a path");
            self.report(problem.note("variables are given values with `set`: `set Main.Start to TRUE;`"));
            return None;
        }
        Some(ident)
    }

    /// Whether the next step begins here, and not a name that is a word of procedures.
    fn begins_next_step(&self) -> bool {
        let listed = self.at.checked_sub(1).is_some_and(|before| self.kind(before) == TokenKind::Comma);
        let is_name = matches!(self.kind(self.at + 1), TokenKind::Comma | TokenKind::Semicolon)
            || matches!(self.word(self.at + 1), Word::For | Word::To | Word::At);
        self.parser.first_on_line(self.at) && !listed && !is_name && self.begins_step(self.at)
    }

    /// Takes the identifier that stands here.
    pub(super) fn ident(&mut self) -> Ident {
        let token = self.parser.token(self.at);
        let ident = Ident { name: crate::names::Name(token.payload), span: self.parser.span(self.at) };
        self.at += 1;
        ident
    }

    /// Names of devices with commas between them.
    pub(super) fn names(&mut self) -> Option<Vec<Ident>> {
        let mut names = vec![self.name()?];
        while self.kind(self.at) == TokenKind::Comma {
            self.at += 1;
            names.push(self.name()?);
        }
        Some(names)
    }

    // ---- expressions ------------------------------------------------------------------------------------

    /// An expression: up to a word that may stand behind one, or what cannot belong to it.
    pub(super) fn expression(&mut self) -> Option<Expression> {
        self.expression_before(&[], &[])
    }

    /// An expression that ends before some more words and signs too.
    pub(super) fn expression_before(&mut self, words: &[Word], signs: &[TokenKind]) -> Option<Expression> {
        self.expression_up_to(words, signs, false)
    }

    /// An expression; `alone` if it ends before any other operand too.
    fn expression_up_to(&mut self, words: &[Word], signs: &[TokenKind], alone: bool) -> Option<Expression> {
        let start = self.at;
        self.at = self.expression_end(words, signs, alone);
        if self.at == start {
            self.no_expression();
            return None;
        }
        self.parser.expression(start, self.at)
    }

    /// What is forced or recorded: an access to a variable, an address, a name; not a value. `only` says that.
    pub(super) fn access(&mut self, words: &[Word], only: &str) -> Option<Expression> {
        use ExpressionKind as K;
        let signs = [TokenKind::Comma, TokenKind::Assign, TokenKind::Equal];
        let expression = self.expression_up_to(words, &signs, true)?;
        let is_access = matches!(
            expression.kind,
            K::Name(_)
                | K::Direct(_)
                | K::Member { .. }
                | K::Index { .. }
                | K::Partial { .. }
                | K::Dereference(_)
        );
        if !is_access {
            let problem = Diagnostic::error("steps-expected-name", expression.span, only);
            self.parser.report(problem.label("expected a device, a variable or an address"));
            return None;
        }
        Some(expression)
    }

    fn no_expression(&mut self) {
        let problem = self.problem("expected-expression", "an expression");
        let word = self.word(self.at);
        let next = self.kind(self.at + 1);
        let is_clause = match word {
            Word::Within | Word::For | Word::Between => next.is_literal() || next == TokenKind::Minus,
            Word::Hint => next == TokenKind::StringLiteral,
            _ => false,
        };
        if is_clause {
            let text = word.text();
            let message = format!("`{text}` stands behind what it speaks of");
            let problem = Diagnostic::error("steps-clause", self.parser.span(self.at), message)
                .label("expected an expression before this");
            return self
                .report(problem.note("the order is: `expect Pump within T#1s for T#2s hint 'text';`"));
        }
        if word != Word::Other && self.kind(self.at) == TokenKind::Identifier {
            let written = self.parser.text(self.at);
            let note = format!(
                "a variable that is called like a word of procedures stands in parentheses: `({written})`"
            );
            return self.report(problem.note(note));
        }
        self.report(problem);
    }

    /// Where the expression that begins here ends. A clause word behind an operand that is nearly right is put right.
    fn expression_end(&mut self, words: &[Word], signs: &[TokenKind], alone: bool) -> usize {
        use TokenKind as T;
        let mut depth = 0isize;
        let mut index = self.at;
        while index < self.limit {
            let kind = self.kind(index);
            let behind = if index > self.at { self.kind(index - 1) } else { T::EndOfFile };
            // Two operands never stand side by side, in brackets neither.
            let adjacent = behind.ends_operand();
            let word = self.word(index);
            let is_member = behind == T::Dot || self.kind(index + 1) == T::Dot && !adjacent;
            let outside = depth <= 0 || adjacent;
            let ends = match kind {
                T::Semicolon | T::Unreadable => true,
                _ if signs.contains(&kind) => depth <= 0,
                _ if is_member => false,
                _ if word.ends_expression() || words.contains(&word) && word != Word::Other => outside,
                _ if word.closes() => outside,
                _ if adjacent && self.begins_step(index) => true,
                _ if adjacent && alone && begins_operand(kind) => {
                    self.corrects_clause(index, words);
                    true
                }
                T::Identifier if adjacent => {
                    self.corrects_clause(index, words) || self.parser.first_on_line(index)
                }
                T::DirectAddress | T::This | T::Super | T::TypeQualifier => {
                    adjacent && self.parser.first_on_line(index)
                }
                _ => self.is_statement_of_program(index),
            };
            if ends && kind == T::Unreadable {
                return index + 1;
            }
            if ends {
                return index;
            }
            depth += match kind {
                T::ParenthesisOpen | T::BracketOpen => 1,
                T::ParenthesisClose | T::BracketClose => -1,
                _ => 0,
            };
            index += 1;
        }
        index
    }

    /// Whether an operand begins here.
    pub(super) fn begins_operand(&self) -> bool {
        begins_operand(self.kind(self.at))
            && !self.word(self.at).ends_expression()
            && !self.begins_step(self.at)
    }

    /// Whether a misspelt clause word stands at a place where only one can.
    fn corrects_clause(&mut self, index: usize, words: &[Word]) -> bool {
        let text = self.parser.text(index);
        let Some((distance, meant)) =
            nearest(text, &CLAUSES).into_iter().chain(nearest(text, words)).min_by_key(|m| m.0)
        else {
            return false;
        };
        let opener = [STEPS.as_slice(), &HEADS, &ITEMS].into_iter().filter_map(|list| nearest(text, list));
        if opener.map(|found| found.0).any(|other| other <= distance) {
            return false;
        }
        self.correct(index, meant);
        true
    }

    /// Whether a step, an item or the like begins with a word. Not whether it can begin there.
    pub(super) fn begins_step(&self, index: usize) -> bool {
        match self.word(index) {
            Word::At => self.kind(index + 1) == TokenKind::TimeLiteral,
            Word::Hint => false,
            word => word.opens_step() || word.opens_head() || word.opens_item(),
        }
    }

    /// Whether a reserved word begins or ends a statement of a program, which no step can contain.
    pub(super) fn is_statement_of_program(&self, index: usize) -> bool {
        use TokenKind as T;
        let kind = self.kind(index);
        kind >= T::If && kind <= T::Return && !matches!(kind, T::For | T::To | T::Then)
    }

    // ---- the end of a step ------------------------------------------------------------------------------

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

fn begins_operand(kind: TokenKind) -> bool {
    use TokenKind as T;
    kind.is_literal()
        || matches!(kind, T::Identifier | T::DirectAddress | T::This | T::Super | T::TypeQualifier | T::Not)
}

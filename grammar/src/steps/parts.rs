//! What steps are made of besides expressions: texts, durations, names.

use super::{
    reader::{Least, Reader},
    tree::{Duration, Text},
    words::Word,
};
use crate::{
    diagnostic::Diagnostic,
    lexer::{TokenKind, Value},
    literal::Literal,
    names::Name,
    source::Span,
    tree::Ident,
};

impl Reader<'_> {
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
        let ident = Ident { name: Name(token.payload), span: self.parser.span(self.at) };
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
}

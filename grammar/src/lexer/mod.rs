//! From text to tokens (IEC 61131-3:2013, 6.1 to 6.3, tables 1 to 9 and 16, 17).
//!
//! The scanner finds how a token begins; comments, strings and literals are read on from there, in linear time. Everything
//! a literal can get wrong by itself is reported here. Must not know of the grammar.

mod address;
mod number;
mod scanner;
mod string;
mod text;
mod time;
mod token;
mod typed;

pub(crate) use token::Value;
pub use token::{Token, TokenKind};

use crate::{
    diagnostic::{Diagnostic, Severity},
    keyword,
    names::Names,
    parser::misspelt,
    source::{FileId, SOURCE_BYTES_MAX, Span},
    tree::{Trivia, TriviaKind},
};
use scanner::{Raw, Scanner};
use std::collections::BTreeSet;

/// Lexical errors reported for one file before reading stops.
pub const LEXICAL_ERRORS_MAX: usize = 100;

/// Longest identifier, in characters.
pub const IDENTIFIER_LENGTH_MAX: usize = 255;

/// The tokens of a file.
#[derive(Clone, Debug, Default)]
pub struct Lexed {
    /// The tokens in textual order.
    pub tokens: Vec<Token>,
    /// Comments and pragmas in textual order.
    pub trivia: Vec<Trivia>,
    /// What was wrong, in textual order.
    pub diagnostics: Vec<Diagnostic>,
    /// Indices of identifiers that may be closing words nearly right; some may have become part of other tokens since.
    pub(crate) nearly_keywords: Vec<usize>,
    /// Values of literals and addresses.
    pub(crate) values: Vec<Value>,
    /// From here on the text was not read: an unclosed comment, or too many errors.
    pub(crate) unread_from: Option<u32>,
}

/// Splits a text into tokens. Never fails: what is no token is reported and left out.
pub fn tokens(file: FileId, text: &str, names: &mut Names) -> Lexed {
    if text.len() > SOURCE_BYTES_MAX {
        let message = format!(
            "this file has {} bytes, and a source file may have at most {} bytes",
            text.len(),
            SOURCE_BYTES_MAX
        );
        let problem = Diagnostic::error("file-too-large", Span::new(file, 0, 0), message)
            .note("if this is a program, divide it into several files");
        return Lexed { diagnostics: vec![problem], unread_from: Some(0), ..Lexed::default() };
    }
    let mut lexer = Lexer {
        file,
        text,
        names,
        scanner: Scanner::new(text),
        out: Lexed::default(),
        first_on_line: true,
        errors: 0,
        foreign_words: BTreeSet::new(),
    };
    if text.starts_with('\u{feff}') {
        lexer.scanner.bump('\u{feff}'.len_utf8());
    }
    lexer.run();
    lexer.out
}

/// State of the reading of one file.
struct Lexer<'a> {
    file: FileId,
    text: &'a str,
    names: &'a mut Names,
    scanner: Scanner<'a>,
    out: Lexed,
    first_on_line: bool,
    errors: usize,
    /// Words with letters outside A to Z that have been reported.
    foreign_words: BTreeSet<&'a str>,
}

impl<'a> Lexer<'a> {
    fn run(&mut self) {
        while let Some(raw) = self.scanner.next() {
            // Behind the blanks before it.
            let start = self.scanner.start();
            match raw {
                Raw::LineEnd => self.first_on_line = true,
                Raw::Word { underscores } => self.word(start, underscores),
                Raw::Plain(kind) => self.push(kind, start, 0),
                Raw::Dot if !self.next_is_digit() => self.push(TokenKind::Dot, start, 0),
                _ => self.token(raw, start),
            }
            if self.errors >= LEXICAL_ERRORS_MAX {
                return self.stop(start);
            }
        }
    }

    /// Reads no more from `start` on.
    fn stop(&mut self, start: usize) {
        let problem = Diagnostic::error(
            "too-many-errors",
            self.span(start, self.position()),
            format!("{LEXICAL_ERRORS_MAX} errors in this file; the rest was not read"),
        );
        self.out.diagnostics.push(problem.note("is this the right file? A program is plain text in UTF-8"));
        self.out.unread_from = Some(start as u32);
    }

    /// Reads a token on that takes more than its first characters to tell.
    fn token(&mut self, raw: Raw, start: usize) {
        use TokenKind as T;
        let kind = match raw {
            Raw::LineEnd | Raw::Word { .. } => return,
            Raw::Plain(kind) => kind,
            Raw::Foreign => return self.foreign_character(start),
            Raw::Digit => return self.number(start),
            Raw::Percent => return self.percent(start),
            Raw::Apostrophe => return self.string_literal(start, false),
            Raw::Quote => return self.string_literal(start, true),
            Raw::LineComment => {
                let rest = self.rest();
                let length = rest.bytes().position(|byte| matches!(byte, b'\r' | b'\n'));
                let length = length.unwrap_or(rest.len());
                self.scanner.bump(length);
                return self.trivia(TriviaKind::LineComment, start);
            }
            Raw::ParenthesisComment => return self.block_comment(start, b'(', b')'),
            Raw::SlashComment => return self.block_comment(start, b'/', b'/'),
            Raw::Pragma => return self.pragma(start),
            Raw::CommentEnd => {
                let end = self.position();
                return self.report(
                    Diagnostic::error(
                        "unmatched-comment-end",
                        self.span(start, end),
                        format!("`{}` ends a comment, but none is open here", self.text_of(start)),
                    )
                    .label("no comment begins before this")
                    .note("a comment is written `(* … *)`, `/* … */`, or `// …` to the end of the line"),
                );
            }
            Raw::Dot => {
                if self.next_is_digit() && !self.ends_operand() {
                    return self.real_without_leading_digit(start);
                }
                T::Dot
            }
            Raw::Equal => return self.equal(start),
            Raw::Greater => return self.greater(start),
            Raw::EqualEqual => self.foreign_operator(start, T::Equal, "=", "equality is tested with `=`"),
            Raw::BangEqual => {
                self.foreign_operator(start, T::NotEqual, "<>", "inequality is tested with `<>`")
            }
            Raw::AmpersandAmpersand => {
                self.foreign_operator(start, T::And, "AND", "`AND` or a single `&` joins two conditions")
            }
            Raw::BarBar => self.foreign_operator(start, T::Or, "OR", "the operator is the word `OR`"),
            Raw::Bang => self.foreign_operator(start, T::Not, "NOT ", "the operator is the word `NOT`"),
            Raw::CompoundAssign => {
                let operator = self.text_of(start).chars().next().unwrap_or('+');
                let end = self.position();
                self.report(
                    Diagnostic::error(
                        "foreign-operator",
                        self.span(start, end),
                        format!("`{operator}=` is not an operator of the standard"),
                    )
                    .label("assignment is written `:=`")
                    .note(format!("write the variable twice: `x := x {operator} …;`")),
                );
                T::Assign
            }
        };
        self.push(kind, start, 0);
    }

    // ---- places -----------------------------------------------------------------------------------------

    /// Byte behind what has been read.
    fn position(&self) -> usize {
        self.scanner.end()
    }

    fn rest(&self) -> &'a str {
        self.scanner.remainder()
    }

    /// The bytes not yet read.
    fn bytes(&self) -> &'a [u8] {
        self.scanner.bytes()
    }

    fn peek(&self, ahead: usize) -> u8 {
        self.bytes().get(ahead).copied().unwrap_or(0)
    }

    fn next_is_digit(&self) -> bool {
        self.peek(0).is_ascii_digit()
    }

    fn text_of(&self, start: usize) -> &'a str {
        self.text.get(start..self.position()).unwrap_or("")
    }

    fn span(&self, start: usize, end: usize) -> Span {
        Span::new(self.file, start as u32, end as u32)
    }

    /// Whether the last token ends an operand.
    fn ends_operand(&self) -> bool {
        self.out.tokens.last().is_some_and(|token| token.kind.ends_operand())
    }

    /// Reads on over the bytes that satisfy a test, all of them ASCII.
    fn take_while(&mut self, test: impl Fn(u8) -> bool) -> usize {
        let length = self.bytes().iter().take_while(|byte| byte.is_ascii() && test(**byte)).count();
        self.scanner.bump(length);
        length
    }

    // ---- results ----------------------------------------------------------------------------------------

    fn push(&mut self, kind: TokenKind, start: usize, payload: u32) {
        let end = self.position();
        let first_on_line = std::mem::take(&mut self.first_on_line);
        if self.out.tokens.len() == self.out.tokens.capacity() {
            self.make_room(start);
        }
        self.out.tokens.push(Token { kind, first_on_line, start: start as u32, end: end as u32, payload });
    }

    /// Makes room for as many tokens as the text seems to have, which is read up to `start`.
    #[cold]
    fn make_room(&mut self, start: usize) {
        const FIRST: usize = 1024;
        let count = self.out.tokens.len();
        let expected = if count < FIRST {
            // Few are shorter than two bytes with what separates them.
            (self.text.len() / 2).clamp(16, FIRST)
        } else {
            (count as f64 * self.text.len() as f64 / start.max(1) as f64 * 1.02) as usize
        };
        let least = count + count / 8 + 16;
        self.out.tokens.reserve_exact(expected.max(least) - count);
    }

    fn push_value(&mut self, kind: TokenKind, start: usize, value: Value) {
        let payload = self.out.values.len() as u32;
        self.out.values.push(value);
        self.push(kind, start, payload);
    }

    fn trivia(&mut self, kind: TriviaKind, start: usize) {
        let span = self.span(start, self.position());
        self.out.trivia.push(Trivia { kind, span });
    }

    fn report(&mut self, diagnostic: Diagnostic) {
        if diagnostic.severity == Severity::Error {
            self.errors += 1;
        }
        self.out.diagnostics.push(diagnostic);
    }

    /// Reports an error over what has been read since `start`.
    fn error(
        &mut self,
        name: &'static str,
        start: usize,
        message: impl Into<String>,
        label: impl Into<String>,
    ) {
        let span = self.span(start, self.position());
        self.report(Diagnostic::error(name, span, message).label(label));
    }

    // ---- words ------------------------------------------------------------------------------------------

    fn word(&mut self, start: usize, underscores: bool) {
        let word = self.scanner.slice();
        if self.peek(0) == b'#' {
            return self.prefixed(start, word);
        }
        if let Some(index) = keyword::find(word) {
            let kind = keyword::KEYWORDS.get(index).map_or(TokenKind::Identifier, |entry| entry.1);
            return self.push(kind, start, index as u32);
        }
        if underscores || word.len() > IDENTIFIER_LENGTH_MAX {
            self.check_identifier(start, word);
        }
        if misspelt::is_possible(word) {
            self.out.nearly_keywords.push(self.out.tokens.len());
        }
        let name = self.names.intern(word);
        self.push(TokenKind::Identifier, start, name.0);
    }

    fn check_identifier(&mut self, start: usize, word: &str) {
        let bytes = word.as_bytes();
        if bytes.contains(&b'_') && (bytes.ends_with(b"_") || word.contains("__")) {
            let mut repaired = String::new();
            for character in word.chars() {
                if !(character == '_' && repaired.ends_with('_')) {
                    repaired.push(character);
                }
            }
            let repaired = repaired.strip_suffix('_').unwrap_or(&repaired).to_owned();
            let span = self.span(start, start + word.len());
            let what = if bytes.ends_with(b"_") {
                "ends with an underscore"
            } else {
                "has two underscores in a row"
            };
            let mut problem =
                Diagnostic::error("malformed-identifier", span, format!("the identifier `{word}` {what}"))
                    .label("not an identifier of the standard")
                    .note("underscores stand one at a time, at the start of an identifier or inside it");
            if !repaired.is_empty() {
                problem = problem.note(format!("`{repaired}` would be an identifier"));
            }
            self.report(problem);
        } else if word.len() > IDENTIFIER_LENGTH_MAX {
            self.error(
                "identifier-too-long",
                start,
                format!(
                    "this identifier has {} characters, and {IDENTIFIER_LENGTH_MAX} are allowed",
                    word.chars().count()
                ),
                "too long",
            );
        }
    }

    // ---- operators --------------------------------------------------------------------------------------

    fn foreign_operator(
        &mut self,
        start: usize,
        kind: TokenKind,
        replacement: &str,
        label: &str,
    ) -> TokenKind {
        let span = self.span(start, self.position());
        let written = self.text_of(start);
        self.report(
            Diagnostic::error(
                "foreign-operator",
                span,
                format!("`{written}` is not an operator of the standard"),
            )
            .label(label)
            .fix(format!("write `{}`", replacement.trim()), span, replacement),
        );
        kind
    }

    /// `=`, or the second half of `: =` and the like.
    fn equal(&mut self, start: usize) {
        use TokenKind as T;
        let (kind, operator) = match self.last_before_blanks(start) {
            Some(T::Colon) => (T::Assign, ":="),
            Some(T::Less) => (T::LessOrEqual, "<="),
            Some(T::Greater) => (T::GreaterOrEqual, ">="),
            Some(T::Question) => (T::Attempt, "?="),
            _ => return self.push(T::Equal, start, 0),
        };
        self.spaced_operator(start, kind, operator);
    }

    /// `>`, or the second half of `= >`, `< >`.
    fn greater(&mut self, start: usize) {
        use TokenKind as T;
        let (kind, operator) = match self.last_before_blanks(start) {
            Some(T::Equal) => (T::Output, "=>"),
            Some(T::Less) => (T::NotEqual, "<>"),
            _ => return self.push(T::Greater, start, 0),
        };
        self.spaced_operator(start, kind, operator);
    }

    /// Kind of the last token if only blanks of the same line stand between it and `start`.
    fn last_before_blanks(&self, start: usize) -> Option<TokenKind> {
        let last = self.out.tokens.last()?;
        let gap = self.text.get(last.end as usize..start)?;
        gap.bytes().all(|byte| matches!(byte, b' ' | b'\t')).then_some(last.kind)
    }

    /// Joins the last token with the one just read: neither could follow the other anyway.
    fn spaced_operator(&mut self, start: usize, kind: TokenKind, operator: &str) {
        let end = self.position();
        let Some(last) = self.out.tokens.last_mut() else { return };
        let span = Span::new(self.file, last.start, end as u32);
        last.kind = kind;
        last.end = end as u32;
        debug_assert!(last.start < start as u32);
        self.report(
            Diagnostic::error(
                "spaced-operator",
                span,
                format!("no blank may stand inside the operator `{operator}`"),
            )
            .label("two separate signs")
            .fix(format!("write `{operator}`"), span, operator),
        );
    }
}

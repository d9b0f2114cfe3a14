//! From tokens to the tree of a file: the skeleton pass.
//!
//! Units, sections, blocks and statements are cut apart here, by the words that open and close them; the
//! pieces between are parsed by the grammar. A slip therefore costs one piece, and the message about it can
//! say what was being read. Must not know of types or of what names mean.

mod access;
mod associations;
pub(crate) mod blocks;
mod charts;
mod configurations;
mod contents;
mod cut;
mod declarations;
mod depth;
mod heading;
mod instruction_checks;
mod instruction_lists;
mod instruction_words;
mod instructions;
mod language;
mod loops;
pub(crate) mod misspelt;
mod namespaces;
mod piecewise;
mod repair;
mod slips;
mod statements;
mod strays;
mod transitions;
mod units;
mod wording;

use crate::{
    Parsed,
    diagnostic::{Diagnostic, Severity},
    lexer::{Lexed, Token, TokenKind},
    names::{Name, Names},
    piece::{Context, Piece, PieceKind, PieceParser},
    source::{FileId, Span},
    tree::{Argument, Expression, ProgramUnit, Statement, SyntaxTree, VariableSection},
};
use std::{cell::OnceCell, collections::BTreeSet};

/// Deepest nesting of blocks, and of brackets in an expression.
pub const NESTING_MAX: usize = 256;

/// Syntax errors reported for one file; the file is read on, but no more is said.
pub const SYNTAX_ERRORS_MAX: usize = 200;

/// State of the parsing of one file.
pub(crate) struct Parser<'a> {
    file: FileId,
    text: &'a str,
    names: &'a mut Names,
    tokens: &'a [Token],
    context: &'a Context<'a>,
    pieces: PieceParser,
    /// Memory for the short way.
    arguments: Vec<Argument>,
    /// Statements of the bodies being read, the innermost last: a body is copied out when its length is known.
    statements: Vec<Statement>,
    /// Whether what is usual and right takes the short way; otherwise the grammar reads every piece, for the tests.
    is_direct: bool,
    diagnostics: Vec<Diagnostic>,
    errors: usize,
    /// Where the lexer stopped; what is missing behind it is no new error.
    unread_from: Option<u32>,
    /// Whether any token is [`TokenKind::Unreadable`].
    has_unreadable: bool,
    /// Something of the current unit was left out.
    damaged: bool,
    /// Said once a unit: which keywords were used as names, and the slips that repeat on every line.
    said: BTreeSet<Said>,
    /// See [`Parser::matching_bracket`]; made when first needed.
    bracket_partners: OnceCell<Vec<u32>>,
    /// For every `ACTION` the index of its `END_ACTION`, 0 where there is none; made when first needed.
    action_partners: OnceCell<Vec<u32>>,
    /// The same for `NAMESPACE`.
    namespace_partners: OnceCell<Vec<u32>>,
    /// Variable sections found behind the start of a body.
    late_sections: Vec<VariableSection>,
    /// Methods found there.
    late_methods: Vec<ProgramUnit>,
    /// The keyword of the unit or method being read.
    owner: TokenKind,
}

/// A text and its tokens.
#[derive(Clone, Copy)]
pub(crate) struct Read<'a> {
    pub(crate) file: FileId,
    pub(crate) text: &'a str,
    pub(crate) tokens: &'a [Token],
    /// See [`Lexed::unread_from`].
    pub(crate) unread_from: Option<u32>,
}

/// What is said only once in a unit.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Said {
    KeywordAsName(TokenKind),
    TooDeep,
    InstructionsInStatements,
    StatementsInInstructions,
    MisplacedChart,
    OutsideChart,
    OutsideBody,
    MisplacedMethod,
    MixedResources,
}

/// Parses a text.
pub(crate) fn parse(file: FileId, text: &str, names: &mut Names) -> Parsed {
    parse_by(true, file, text, names)
}

/// Parses a text: with the short way for what is usual and right, or by the grammar alone.
pub(crate) fn parse_by(is_direct: bool, file: FileId, text: &str, names: &mut Names) -> Parsed {
    let mut lexed = crate::lexer::tokens(file, text, names);
    let mut diagnostics = std::mem::take(&mut lexed.diagnostics);
    misspelt::repair(file, text, &lexed.nearly_keywords, &mut lexed.tokens, &mut diagnostics);
    configurations::mark(&mut lexed.tokens);
    blocks::pair(text, &mut lexed.tokens);
    let Lexed { tokens, trivia, values, unread_from, .. } = lexed;
    let context = Context::new(file, &values, names);
    let mut parser =
        Parser::new(Read { file, text, tokens: &tokens, unread_from }, names, &context, diagnostics);
    parser.is_direct = is_direct;
    let declarations = parser.declarations();
    Parsed { tree: SyntaxTree { file, declarations, trivia }, diagnostics: parser.into_diagnostics() }
}

/// Parses a text that is one expression or one constant.
pub(crate) fn parse_alone(
    kind: PieceKind,
    file: FileId,
    text: &str,
    names: &mut Names,
) -> Result<Expression, Vec<Diagnostic>> {
    let lexed = crate::lexer::tokens(file, text, names);
    let context = Context::new(file, &lexed.values, names);
    let read = Read { file, text, tokens: &lexed.tokens, unread_from: lexed.unread_from };
    let mut parser = Parser::new(read, names, &context, lexed.diagnostics);
    let whole = cut::Cut { end: lexed.tokens.len(), terminated: true };
    let (piece, _) = parser.piece(kind, 0, whole);
    let diagnostics = parser.diagnostics;
    match piece.map(|piece| *piece) {
        Some(Piece::Expression(expression))
            if !diagnostics.iter().any(|problem| problem.severity == Severity::Error) =>
        {
            Ok(expression)
        }
        _ => Err(diagnostics),
    }
}

impl<'a> Parser<'a> {
    /// A parser of what has been read, with what was found wrong with it.
    pub(crate) fn new(
        read: Read<'a>,
        names: &'a mut Names,
        context: &'a Context<'a>,
        diagnostics: Vec<Diagnostic>,
    ) -> Self {
        let Read { file, text, tokens, unread_from } = read;
        Parser {
            file,
            text,
            names,
            has_unreadable: tokens.iter().any(|token| token.kind == TokenKind::Unreadable),
            tokens,
            context,
            pieces: PieceParser::new(),
            arguments: Vec::new(),
            statements: Vec::new(),
            is_direct: true,
            diagnostics,
            errors: 0,
            unread_from,
            damaged: false,
            said: BTreeSet::new(),
            bracket_partners: OnceCell::new(),
            action_partners: OnceCell::new(),
            namespace_partners: OnceCell::new(),
            late_sections: Vec::new(),
            late_methods: Vec::new(),
            owner: TokenKind::EndOfFile,
        }
    }

    /// The expression that the tokens from `start` up to `end` are; what is wrong with them is reported.
    pub(crate) fn expression(&mut self, start: usize, end: usize) -> Option<Expression> {
        let whole = cut::Cut { end, terminated: true };
        match self.piece(PieceKind::Expression, start, whole).0.map(|piece| *piece) {
            Some(Piece::Expression(expression)) => Some(expression),
            _ => None,
        }
    }

    /// The name that a text is.
    pub(crate) fn intern(&mut self, text: &str) -> Name {
        self.names.intern(text)
    }

    /// Whether blanks stand around a place.
    pub(crate) fn is_spaced(&self, span: Span) -> bool {
        let blank = |text: Option<&str>| text.is_some_and(|text| text.trim().is_empty());
        blank(self.text.get((span.start as usize).saturating_sub(1)..span.start as usize))
            && blank(self.text.get(span.end as usize..span.end as usize + 1))
    }

    /// What was found wrong, in the order of the text.
    pub(crate) fn into_diagnostics(self) -> Vec<Diagnostic> {
        let mut diagnostics = self.diagnostics;
        diagnostics.sort_by_key(|diagnostic| diagnostic.primary.span.start);
        diagnostics
    }

    /// The token at a place; behind the last one, the end of the file.
    pub(crate) fn token(&self, index: usize) -> Token {
        self.tokens.get(index).copied().unwrap_or_else(|| {
            let end = self.text.len() as u32;
            Token { kind: TokenKind::EndOfFile, first_on_line: true, start: end, end, payload: 0 }
        })
    }

    pub(crate) fn kind(&self, index: usize) -> TokenKind {
        self.tokens.get(index).map_or(TokenKind::EndOfFile, |token| token.kind)
    }

    pub(crate) fn first_on_line(&self, index: usize) -> bool {
        self.token(index).first_on_line
    }

    fn slice(&self, start: usize, end: usize) -> &'a [Token] {
        self.tokens.get(start..end).unwrap_or(&[])
    }

    pub(crate) fn span(&self, index: usize) -> Span {
        self.token(index).span(self.file)
    }

    /// The empty place behind the token before `index`.
    pub(crate) fn behind_previous(&self, index: usize) -> Span {
        match index.checked_sub(1) {
            Some(previous) => self.span(previous).after(),
            None => Span::new(self.file, 0, 0),
        }
    }

    /// From the token at `start` up to the token before `end`.
    pub(crate) fn span_of(&self, start: usize, end: usize) -> Span {
        let first = self.span(start);
        if end > start { first.to(self.span(end - 1)) } else { first }
    }

    pub(crate) fn text(&self, index: usize) -> &'a str {
        let token = self.token(index);
        self.text.get(token.start as usize..token.end as usize).unwrap_or("")
    }

    /// Whether a keyword stands where a name belongs, by what follows it or stands before it.
    fn used_as_name(&self, index: usize) -> bool {
        cut::used_as_name(self.tokens, index)
    }

    pub(crate) fn report(&mut self, diagnostic: Diagnostic) {
        if diagnostic.severity == Severity::Error {
            self.errors += 1;
            if self.errors > SYNTAX_ERRORS_MAX {
                if self.errors == SYNTAX_ERRORS_MAX + 1 {
                    let message =
                        format!("{SYNTAX_ERRORS_MAX} syntax errors in this file; no more are shown");
                    self.diagnostics.push(
                        Diagnostic::error("too-many-errors", diagnostic.primary.span, message)
                            .note("correct the first ones and try again"),
                    );
                }
                return;
            }
        }
        self.diagnostics.push(diagnostic);
    }

    /// Whether something is missing only because the lexer stopped before the end.
    pub(crate) fn is_behind_unread(&self, index: usize) -> bool {
        self.unread_from.is_some() && index >= self.tokens.len()
    }
}

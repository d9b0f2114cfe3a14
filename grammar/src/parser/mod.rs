//! From tokens to the tree of a file: the skeleton pass.
//!
//! Units, sections, blocks and statements are cut apart here, by the words that open and close them; the
//! pieces between are parsed by the grammar. A slip therefore costs one piece, and the message about it can
//! say what was being read. Must not know of types or of what names mean.

mod access;
mod associations;
mod blocks;
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
mod misspelt;
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
    names::Names,
    piece::{Context, Piece, PieceKind, PieceParser},
    source::{FileId, Span},
    tree::{Expression, ProgramUnit, SyntaxTree, VariableSection},
};
use std::{cell::OnceCell, collections::BTreeSet};

/// Deepest nesting of blocks, and of brackets in an expression.
pub const NESTING_MAX: usize = 256;

/// Syntax errors reported for one file; the file is read on, but no more is said.
pub const SYNTAX_ERRORS_MAX: usize = 200;

/// State of the parsing of one file.
struct Parser<'a> {
    file: FileId,
    text: &'a str,
    names: &'a mut Names,
    tokens: &'a [Token],
    context: &'a Context<'a>,
    pieces: PieceParser,
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
    let mut lexed = crate::lexer::tokens(file, text, names);
    let mut diagnostics = std::mem::take(&mut lexed.diagnostics);
    misspelt::repair(file, text, &mut lexed.tokens, &mut diagnostics);
    configurations::mark(&mut lexed.tokens);
    blocks::pair(text, &mut lexed.tokens);
    let Lexed { tokens, trivia, values, unread_from, .. } = lexed;
    let context = Context::new(file, &values, names);
    let mut parser = Parser {
        file,
        text,
        names,
        has_unreadable: tokens.iter().any(|token| token.kind == TokenKind::Unreadable),
        tokens: &tokens,
        context: &context,
        pieces: PieceParser::new(),
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
    };
    let declarations = parser.declarations();
    let mut diagnostics = parser.diagnostics;
    diagnostics.sort_by_key(|diagnostic| diagnostic.primary.span.start);
    Parsed { tree: SyntaxTree { file, declarations, trivia }, diagnostics }
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
    let mut parser = Parser {
        file,
        text,
        names,
        has_unreadable: lexed.tokens.iter().any(|token| token.kind == TokenKind::Unreadable),
        tokens: &lexed.tokens,
        context: &context,
        pieces: PieceParser::new(),
        diagnostics: lexed.diagnostics,
        errors: 0,
        unread_from: lexed.unread_from,
        damaged: false,
        said: BTreeSet::new(),
        bracket_partners: OnceCell::new(),
        action_partners: OnceCell::new(),
        namespace_partners: OnceCell::new(),
        late_sections: Vec::new(),
        late_methods: Vec::new(),
        owner: TokenKind::EndOfFile,
    };
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
    /// The token at a place; behind the last one, the end of the file.
    fn token(&self, index: usize) -> Token {
        self.tokens.get(index).copied().unwrap_or_else(|| {
            let end = self.text.len() as u32;
            Token { kind: TokenKind::EndOfFile, first_on_line: true, start: end, end, payload: 0 }
        })
    }

    fn kind(&self, index: usize) -> TokenKind {
        self.tokens.get(index).map_or(TokenKind::EndOfFile, |token| token.kind)
    }

    fn first_on_line(&self, index: usize) -> bool {
        self.token(index).first_on_line
    }

    fn slice(&self, start: usize, end: usize) -> &'a [Token] {
        self.tokens.get(start..end).unwrap_or(&[])
    }

    fn span(&self, index: usize) -> Span {
        self.token(index).span(self.file)
    }

    /// The empty place behind the token before `index`.
    fn behind_previous(&self, index: usize) -> Span {
        match index.checked_sub(1) {
            Some(previous) => self.span(previous).after(),
            None => Span::new(self.file, 0, 0),
        }
    }

    /// From the token at `start` up to the token before `end`.
    fn span_of(&self, start: usize, end: usize) -> Span {
        let first = self.span(start);
        if end > start { first.to(self.span(end - 1)) } else { first }
    }

    fn text(&self, index: usize) -> &'a str {
        let token = self.token(index);
        self.text.get(token.start as usize..token.end as usize).unwrap_or("")
    }

    /// Whether a keyword stands where a name belongs, by what follows it or stands before it.
    fn used_as_name(&self, index: usize) -> bool {
        cut::used_as_name(self.tokens, index)
    }

    fn report(&mut self, diagnostic: Diagnostic) {
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
    fn is_behind_unread(&self, index: usize) -> bool {
        self.unread_from.is_some() && index >= self.tokens.len()
    }
}

//! From source text to syntax trees, for the two text languages of IEC 61131-3:2013, Structured Text (ST) and
//! Instruction List (IL), and for what they stand in: units, classes, namespaces, charts and configurations.
//!
//! The face of the crate is [`parse`]: text in, tree and diagnostics out. It never fails: what cannot be
//! understood is left out of the tree and reported. Types are none of this crate's business.

pub mod catalogue;
mod construct;
pub mod diagnostic;
mod direct;
mod keyword;
pub mod lexer;
mod lines;
pub mod literal;
pub mod names;
mod parser;
mod piece;
pub mod source;
pub mod steps;
pub mod tree;

pub use catalogue::CATALOGUE;
pub use diagnostic::{Diagnostic, Edit, Fix, Label, Severity};
pub use keyword::keywords;
pub use lexer::{Lexed, Token, TokenKind, tokens};
pub use lines::LineTable;
pub use literal::Literal;
pub use names::{Name, Names};
pub use parser::{NESTING_MAX, SYNTAX_ERRORS_MAX};
pub use source::{FileId, SourceFile, Sources, Span};
pub use steps::{ParsedSteps, parse_steps};

/// A parsed file: the tree of what could be understood, and what was wrong with the rest.
#[derive(Clone, Debug, Default)]
pub struct Parsed {
    /// The tree.
    pub tree: tree::SyntaxTree,
    /// In source order.
    pub diagnostics: Vec<Diagnostic>,
}

/// Parses a source file. Never fails: see [`Parsed`].
pub fn parse(file: FileId, text: &str, names: &mut Names) -> Parsed {
    parser::parse(file, text, names)
}

/// Parses one constant: a literal with an optional sign, a typed literal, or `Type#Value`, with or without the
/// namespaces of the type. Places in the result and in the diagnostic are of the file `FileId(0)`.
///
/// # Errors
/// The first thing that is wrong with the text.
#[allow(clippy::result_large_err, reason = "asked for once a cell of a table, not in a loop that counts")]
pub fn parse_constant(text: &str, names: &mut Names) -> Result<tree::Expression, Diagnostic> {
    let constant = parser::parse_alone(piece::PieceKind::Constant, FileId(0), text, names);
    if constant.is_err()
        && text.contains('.')
        && let Ok(value) = parser::parse_alone(piece::PieceKind::Expression, FileId(0), text, names)
        && matches!(&value.kind, tree::ExpressionKind::QualifiedValue { type_name, .. } if !type_name.path.is_empty())
    {
        return Ok(value);
    }
    constant.map_err(first)
}

/// Parses one expression, such as a condition outside of a program.
///
/// # Errors
/// Everything that is wrong with the text, in textual order; at least one error.
pub fn parse_expression(
    file: FileId,
    text: &str,
    names: &mut Names,
) -> Result<tree::Expression, Vec<Diagnostic>> {
    parser::parse_alone(piece::PieceKind::Expression, file, text, names)
}

/// The first error of a list that has one.
fn first(diagnostics: Vec<Diagnostic>) -> Diagnostic {
    let place = diagnostics.iter().position(|problem| problem.severity == Severity::Error).unwrap_or(0);
    diagnostics.into_iter().nth(place).unwrap_or_else(|| {
        let span = Span::new(FileId(0), 0, 0);
        Diagnostic::error("expected-expression", span, "expected a value").label("nothing is written here")
    })
}

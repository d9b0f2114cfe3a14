//! The syntax tree of a source file, as the grammar of IEC 61131-3:2013 has it, with spans and without types.
//!
//! Names are interned without letter case; what the author wrote is found through the spans. A piece that
//! could not be parsed is left out of the tree (its diagnostic says why), so that later passes only ever
//! see well-formed pieces; [`ProgramUnit::damaged`] tells them that something is missing.

mod chart;
mod configuration;
mod declaration;
mod expression;
mod instruction;
mod specification;
mod statement;

pub use self::chart::*;
pub use self::configuration::*;
pub use self::declaration::*;
pub use self::expression::*;
pub use self::instruction::*;
pub use self::specification::*;
pub use self::statement::*;

use crate::{
    names::Name,
    source::{FileId, Span},
};

/// An identifier at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ident {
    /// The interned name.
    pub name: Name,
    /// Where it stands.
    pub span: Span,
}

/// A name with the namespaces it stands in: `a.b.Name`, or a plain `Name`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QualifiedName {
    /// The namespaces in front, outermost first.
    pub path: Vec<Ident>,
    /// The name itself.
    pub name: Ident,
    /// All of it.
    pub span: Span,
}

impl QualifiedName {
    /// A name without namespaces.
    pub const fn plain(name: Ident) -> Self {
        QualifiedName { path: Vec::new(), name, span: name.span }
    }
}

/// The tree of one file.
#[derive(Clone, Debug, Default)]
pub struct SyntaxTree {
    /// The file.
    pub file: FileId,
    /// Declarations in textual order.
    pub declarations: Vec<Declaration>,
    /// Every comment and pragma in textual order (the side table for a formatter).
    pub trivia: Vec<Trivia>,
}

/// A comment or pragma.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Trivia {
    /// Which form.
    pub kind: TriviaKind,
    /// Delimiters included.
    pub span: Span,
}

/// The forms of comments (table 3) and the pragma (table 4).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TriviaKind {
    /// `// …` to the end of the line.
    LineComment,
    /// `(* … *)` or `/* … */`.
    BlockComment,
    /// `{ … }`.
    Pragma,
}

//! From source text to syntax trees, for the two text languages of IEC 61131-3:2013: Structured Text (ST)
//! and Instruction List (IL).
//!
//! The face of the crate is [`parse`]: text in, tree and diagnostics out. It never fails: what cannot be
//! understood is left out of the tree and reported. Types are none of this crate's business.

pub mod diagnostic;
pub mod literal;
pub mod names;
pub mod source;
pub mod tree;

pub use diagnostic::{Diagnostic, Edit, Fix, Label, Severity};
pub use literal::Literal;
pub use names::{Name, Names};
pub use source::{FileId, SourceFile, Sources, Span};

/// A parsed file: the tree of what could be understood, and what was wrong with the rest.
#[derive(Clone, Debug, Default)]
pub struct Parsed {
    /// The tree.
    pub tree: tree::SyntaxTree,
    /// In source order.
    pub diagnostics: Vec<Diagnostic>,
}

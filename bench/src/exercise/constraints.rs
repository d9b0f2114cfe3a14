//! What a submission must keep besides doing what is asked.

use latchwork_compiler::rewrite::Language;

use crate::marking::Points;

/// What a submission must keep.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Constraints {
    /// The language of all its bodies.
    pub language: Option<Language>,
    /// Standard function blocks and functions that must be used.
    pub must_use: Vec<String>,
    /// Those that must not be.
    pub must_not_use: Vec<String>,
    /// Most lines that are neither empty nor comment alone.
    pub lines_max: Option<u64>,
    /// Warnings that it must not have.
    pub no_warnings: NoWarnings,
    /// Points off for each that is not kept.
    pub deduction: Points,
}

/// Warnings that a submission must not have.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum NoWarnings {
    /// It may have any.
    #[default]
    Any,
    /// These.
    Named(Vec<String>),
    /// None at all.
    All,
}

impl NoWarnings {
    /// Whether a warning must not be there.
    pub fn has(&self, name: &str) -> bool {
        match self {
            NoWarnings::Any => false,
            NoWarnings::Named(names) => names.iter().any(|known| known == name),
            NoWarnings::All => true,
        }
    }
}

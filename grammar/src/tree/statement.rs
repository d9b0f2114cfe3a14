//! Statements of Structured Text (IEC 61131-3:2013, table 72).

use super::{Call, Expression};
use crate::source::Span;

/// A statement of Structured Text (table 72).
#[derive(Clone, Debug)]
pub struct Statement {
    /// Which one.
    pub kind: StatementKind,
    /// Without its semicolon.
    pub span: Span,
}

/// The statements of Structured Text.
#[derive(Clone, Debug)]
pub enum StatementKind {
    /// `;`
    Empty,
    /// `target := value` or, for references and interfaces, `target ?= value`.
    Assignment {
        /// What is written.
        target: Expression,
        /// `?=`.
        attempt: bool,
        /// The place of the operator.
        operator: Span,
        /// The value.
        value: Expression,
    },
    /// A call as a statement.
    Call(Call),
    /// An expression where a statement is expected, such as `a = b;` or `Motor;`. Never right; the checker
    /// says what was probably meant.
    Expression(Expression),
    /// `RETURN`
    Return,
    /// `IF … END_IF`
    If {
        /// Conditions with their statements: `IF`, then each `ELSIF`.
        branches: Vec<(Expression, Vec<Statement>)>,
        /// `ELSE`.
        otherwise: Option<Vec<Statement>>,
    },
    /// `CASE … END_CASE`
    Case {
        /// The selector.
        selector: Expression,
        /// The groups in order.
        groups: Vec<CaseGroup>,
        /// `ELSE`.
        otherwise: Option<Vec<Statement>>,
    },
    /// `FOR … END_FOR`
    For {
        /// Control variable, as written.
        variable: Box<Expression>,
        /// Initial value.
        from: Box<Expression>,
        /// Final value.
        to: Box<Expression>,
        /// `BY`.
        by: Option<Box<Expression>>,
        /// Body.
        body: Vec<Statement>,
    },
    /// `WHILE … END_WHILE`
    While {
        /// Tested before each pass.
        condition: Expression,
        /// Body.
        body: Vec<Statement>,
    },
    /// `REPEAT … END_REPEAT`
    Repeat {
        /// Body.
        body: Vec<Statement>,
        /// Tested after each pass.
        until: Expression,
    },
    /// `EXIT`
    Exit,
    /// `CONTINUE`
    Continue,
}

/// `labels : statements` of a `CASE`.
#[derive(Clone, Debug)]
pub struct CaseGroup {
    /// The labels.
    pub labels: Vec<CaseLabel>,
    /// The statements.
    pub statements: Vec<Statement>,
}

/// One label of a case group.
#[derive(Clone, Debug)]
pub struct CaseLabel {
    /// The value, or the lower end of a range.
    pub first: Expression,
    /// The upper end of a range.
    pub last: Option<Expression>,
}

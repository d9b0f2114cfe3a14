//! Instructions of Instruction List (IEC 61131-3:2013, tables 67 to 70).

use super::{Argument, BinaryOperator, Call, Expression, Ident, QualifiedName};
use crate::source::Span;

/// One line of Instruction List.
#[derive(Clone, Debug)]
pub struct Instruction {
    /// `label:`
    pub label: Option<Ident>,
    /// What it does; `None` for a line with only a label.
    pub operation: Option<Operation>,
    /// The line without comment.
    pub span: Span,
}

/// The operation of an instruction (tables 67 to 70).
#[derive(Clone, Debug)]
pub enum Operation {
    /// `LD a`, `STN b`, `NOT`, `ADD b, c`: an operator of table 68 without parentheses.
    Operator {
        /// The operator.
        operator: InstructionOperator,
        /// Modifier `N`.
        negated: bool,
        /// The operator with its modifiers.
        operator_span: Span,
        /// The operands.
        operands: Vec<Expression>,
    },
    /// `AND( … )`: a deferred operation (table 67).
    Deferred {
        /// The operator.
        operator: InstructionOperator,
        /// Modifier `N`.
        negated: bool,
        /// The operator with its modifiers.
        operator_span: Span,
        /// Operand behind the parenthesis on the same line: the short form.
        first: Option<Expression>,
        /// The instructions inside.
        body: Vec<Instruction>,
    },
    /// `JMP`, `JMPC`, `JMPCN`
    Jump {
        /// When.
        condition: Condition,
        /// The operator.
        operator_span: Span,
        /// Where to.
        label: Ident,
    },
    /// `CAL`, `CALC`, `CALCN`
    Call {
        /// When.
        condition: Condition,
        /// The operator.
        operator_span: Span,
        /// The instance or method with its arguments (none for `CAL inst`).
        call: Call,
    },
    /// `RET`, `RETC`, `RETCN`
    Return {
        /// When.
        condition: Condition,
        /// The operator.
        operator_span: Span,
    },
    /// A function by its name, or an input operator of a standard function block (`CU c10`).
    Function {
        /// The name.
        name: QualifiedName,
        /// `F( … )`: all arguments listed, the current result is no argument. Otherwise `F b, c` and the
        /// current result is the first.
        listed: bool,
        /// The arguments written.
        arguments: Vec<Argument>,
    },
}

/// The condition of a jump, call or return: modifiers `C` and `CN`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Condition {
    /// Always.
    Always,
    /// `C`: if the current result is TRUE.
    IfTrue,
    /// `CN`: if the current result is FALSE.
    IfFalse,
}

/// Operators of table 68 that take operands (jumps, calls and returns have forms of their own).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "table 68 names them")]
pub enum InstructionOperator {
    Load,
    Store,
    Set,
    Reset,
    And,
    Or,
    Xor,
    Not,
    Add,
    Subtract,
    Multiply,
    Divide,
    Modulo,
    Greater,
    GreaterOrEqual,
    Equal,
    NotEqual,
    LessOrEqual,
    Less,
    /// `ST?`
    StoreAttempt,
}

impl InstructionOperator {
    /// The operator of Structured Text that combines two values as this one does; `None` of one that combines nothing.
    pub const fn binary(self) -> Option<BinaryOperator> {
        use BinaryOperator as B;
        use InstructionOperator as O;
        Some(match self {
            O::And => B::And,
            O::Or => B::Or,
            O::Xor => B::Xor,
            O::Add => B::Add,
            O::Subtract => B::Subtract,
            O::Multiply => B::Multiply,
            O::Divide => B::Divide,
            O::Modulo => B::Modulo,
            O::Greater => B::Greater,
            O::GreaterOrEqual => B::GreaterOrEqual,
            O::Equal => B::Equal,
            O::NotEqual => B::NotEqual,
            O::LessOrEqual => B::LessOrEqual,
            O::Less => B::Less,
            O::Load | O::Store | O::Set | O::Reset | O::Not | O::StoreAttempt => return None,
        })
    }
}

//! The operators of Structured Text and the functions they stand for.
//!
//! Source: IEC 61131-3:2013, Table 71 (operators) with the symbols of Tables 29, 31 and 33. The unary minus
//! has no function of its own in the standard; its row is here and cannot be found by a name.

use latchwork_vm::Family;

use super::row;
use crate::{
    definition::{FunctionDefinition, Lowering, Overload, ROW, ResultType, generic},
    types::TypeClass,
};

/// An operator of Structured Text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Operator {
    /// Unary `-`
    Negate,
    /// `NOT`
    Not,
    /// `**`
    Power,
    /// `*`
    Multiply,
    /// `/`
    Divide,
    /// `MOD`
    Modulo,
    /// `+`
    Add,
    /// Binary `-`
    Subtract,
    /// `<`
    Less,
    /// `>`
    Greater,
    /// `<=`
    LessOrEqual,
    /// `>=`
    GreaterOrEqual,
    /// `=`
    Equal,
    /// `<>`
    NotEqual,
    /// `AND`, `&`
    And,
    /// `XOR`
    Xor,
    /// `OR`
    Or,
}

const fn negated(accepts: &'static [TypeClass]) -> Overload {
    Overload {
        accepts,
        operands: &[],
        result: ResultType::Generic,
        lowering: Lowering::Family(Family::Negate),
    }
}

/// The unary minus, on signed integers, reals and durations.
pub static NEGATION: FunctionDefinition = FunctionDefinition {
    name: "unary -",
    parameters: &[generic("IN", TypeClass::AnyMagnitude)],
    result: ResultType::Generic,
    lowering: Lowering::Overloaded,
    overloads: &[
        negated(&[TypeClass::AnySigned]),
        negated(&[TypeClass::AnyReal]),
        negated(&[TypeClass::AnyDuration]),
    ],
    clause: "Table 71",
    summary: "The operand with the other sign.",
    errors: "Least value of an integer or duration: itself, event overflow.",
    ..ROW
};

/// The row an operator stands for. `+ - * /` with a duration or date among the operands go through
/// [`crate::time_arithmetic`] first.
pub fn operator(operator: Operator) -> &'static FunctionDefinition {
    let name = match operator {
        Operator::Negate => return &NEGATION,
        Operator::Not => "NOT",
        Operator::Power => "EXPT",
        Operator::Multiply => "MUL",
        Operator::Divide => "DIV",
        Operator::Modulo => "MOD",
        Operator::Add => "ADD",
        Operator::Subtract => "SUB",
        Operator::Less => "LT",
        Operator::Greater => "GT",
        Operator::LessOrEqual => "LE",
        Operator::GreaterOrEqual => "GE",
        Operator::Equal => "EQ",
        Operator::NotEqual => "NE",
        Operator::And => "AND",
        Operator::Xor => "XOR",
        Operator::Or => "OR",
    };
    // Every name above is a row (tests/table.rs goes through all operators), so the fallback is never taken.
    row(name).unwrap_or(&NEGATION)
}

//! The operators of Instruction List and their modifiers (table 68). They are words only at the start of an
//! instruction; anywhere else they are names.

use crate::{
    piece::{Instructed, Terminal},
    tree::{Condition, InstructionOperator},
};

/// What the first word of an instruction is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Word {
    /// An operator, jump, call or return as the grammar reads it.
    Operator(Terminal),
    /// An operator with a modifier it does not have, and what is possible instead.
    WrongModifier(&'static str),
    /// A function or an input of a function block.
    Name,
}

const OPERATORS: [(&str, InstructionOperator, bool); 19] = [
    ("LD", InstructionOperator::Load, true),
    ("ST", InstructionOperator::Store, true),
    ("S", InstructionOperator::Set, false),
    ("R", InstructionOperator::Reset, false),
    ("AND", InstructionOperator::And, true),
    ("&", InstructionOperator::And, true),
    ("OR", InstructionOperator::Or, true),
    ("XOR", InstructionOperator::Xor, true),
    ("NOT", InstructionOperator::Not, false),
    ("ADD", InstructionOperator::Add, false),
    ("SUB", InstructionOperator::Subtract, false),
    ("MUL", InstructionOperator::Multiply, false),
    ("DIV", InstructionOperator::Divide, false),
    ("MOD", InstructionOperator::Modulo, false),
    ("GT", InstructionOperator::Greater, false),
    ("GE", InstructionOperator::GreaterOrEqual, false),
    ("EQ", InstructionOperator::Equal, false),
    ("NE", InstructionOperator::NotEqual, false),
    ("LE", InstructionOperator::LessOrEqual, false),
];

/// Reads a word at the start of an instruction, in any letter case.
pub(super) fn word(text: &str) -> Word {
    let upper = text.to_ascii_uppercase();
    for (stem, make) in [
        ("JMP", Terminal::Jump as fn(Condition) -> Terminal),
        ("CAL", Terminal::Call as fn(Condition) -> Terminal),
        ("RET", Terminal::Return as fn(Condition) -> Terminal),
    ] {
        match upper.strip_prefix(stem) {
            Some("") => return Word::Operator(make(Condition::Always)),
            Some("C") => return Word::Operator(make(Condition::IfTrue)),
            Some("CN") => return Word::Operator(make(Condition::IfFalse)),
            Some("N" | "NC") => {
                return Word::WrongModifier("the modifiers are `C` and `CN`: `JMPCN`, `CALCN`, `RETCN`");
            }
            _ => {}
        }
    }
    if upper == "ST?" {
        return Word::Operator(operator(InstructionOperator::StoreAttempt, false));
    }
    // A function, not LE with a modifier.
    if upper == "LEN" {
        return Word::Name;
    }
    if upper == "LT" {
        return Word::Operator(operator(InstructionOperator::Less, false));
    }
    for (stem, which, negatable) in OPERATORS {
        match upper.strip_prefix(stem) {
            Some("") => return Word::Operator(operator(which, false)),
            Some("N") if negatable => return Word::Operator(operator(which, true)),
            Some("N") if stem.len() > 1 => {
                return Word::WrongModifier("only `LD`, `ST`, `AND`, `OR` and `XOR` take the modifier `N`");
            }
            Some("C" | "CN") if stem.len() > 1 => {
                return Word::WrongModifier("only `JMP`, `CAL` and `RET` take the modifier `C`");
            }
            _ => {}
        }
    }
    if upper == "LTN" {
        return Word::WrongModifier("only `LD`, `ST`, `AND`, `OR` and `XOR` take the modifier `N`");
    }
    Word::Name
}

fn operator(operator: InstructionOperator, negated: bool) -> Terminal {
    Terminal::Operator(Instructed { operator, negated })
}

/// Whether an operator can be followed by `(` and instructions (table 67).
pub(super) fn is_deferrable(operator: InstructionOperator) -> bool {
    use InstructionOperator as O;
    !matches!(operator, O::Load | O::Store | O::StoreAttempt | O::Set | O::Reset | O::Not)
}

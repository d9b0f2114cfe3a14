//! How deep the tree of a piece would be, measured on its tokens before it is built: a tree that is walked
//! or dropped by recursion must not be deeper than a stack allows.

use super::NESTING_MAX;
use crate::lexer::{Token, TokenKind};

/// Most operators, accesses and brackets that may depend on one another in a piece.
pub(super) const CHAIN_MAX: usize = 512;

/// Why a piece is too deep, with the token that makes it so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TooDeep {
    Brackets(usize),
    Chain(usize),
}

/// Finds the token with which a piece becomes too deep.
pub(super) fn measure(tokens: &[Token]) -> Option<TooDeep> {
    use TokenKind as T;
    if tokens.len() <= NESTING_MAX {
        return None;
    }
    // Operators before each open bracket, and in the innermost one.
    let mut outer: Vec<usize> = Vec::new();
    let mut total = 0usize;
    let mut here = 0usize;
    for (index, token) in tokens.iter().enumerate() {
        match token.kind {
            T::ParenthesisOpen | T::BracketOpen => {
                outer.push(here);
                total += here + 1;
                here = 0;
                if outer.len() > NESTING_MAX {
                    return Some(TooDeep::Brackets(index));
                }
            }
            T::ParenthesisClose | T::BracketClose => {
                if let Some(before) = outer.pop() {
                    total -= before + 1;
                    // What the brackets held is one operand more of the chain around them.
                    here = before + 1;
                }
            }
            T::Comma | T::Semicolon | T::Assign | T::Output | T::DotDot | T::Colon => here = 0,
            T::Dot
            | T::Caret
            | T::Plus
            | T::Minus
            | T::Star
            | T::Slash
            | T::Power
            | T::Ampersand
            | T::Less
            | T::LessOrEqual
            | T::Greater
            | T::GreaterOrEqual
            | T::Equal
            | T::NotEqual
            | T::And
            | T::Or
            | T::Xor
            | T::Not
            | T::Mod
            | T::Of
            | T::RefTo => here += 1,
            _ => {}
        }
        if total + here > CHAIN_MAX {
            return Some(TooDeep::Chain(index));
        }
    }
    None
}

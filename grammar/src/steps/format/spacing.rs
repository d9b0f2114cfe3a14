//! What a token is written like, and whether a blank stands between two.

use super::super::{Outcome, words::Word};
use crate::lexer::TokenKind;

/// Blanks and letter case of the tokens of a file.
pub(super) struct Spacing<'a> {
    pub(super) text: &'a str,
    pub(super) outcome: &'a Outcome,
}

impl Spacing<'_> {
    pub(super) fn kind(&self, index: usize) -> TokenKind {
        self.outcome.tokens.get(index).map_or(TokenKind::EndOfFile, |token| token.kind)
    }

    /// The word of procedures that a token is, and not a name that looks like one.
    pub(super) fn word(&self, index: usize) -> Word {
        match self.outcome.layout.words.binary_search(&index) {
            Ok(_) => self.outcome.words.get(index).copied().unwrap_or(Word::Other),
            Err(_) => Word::Other,
        }
    }

    /// Writes a token.
    pub(super) fn write(&self, out: &mut String, index: usize) {
        use TokenKind as T;
        let word = self.word(index);
        if word != Word::Other {
            return out.push_str(word.text());
        }
        let token = self.outcome.tokens.get(index);
        let text =
            token.and_then(|token| self.text.get(token.start as usize..token.end as usize)).unwrap_or("");
        match self.kind(index) {
            T::And
            | T::Or
            | T::Xor
            | T::Not
            | T::Mod
            | T::True
            | T::False
            | T::Null
            | T::This
            | T::Super
            | T::Ref => {
                out.push_str(&text.to_ascii_uppercase());
            }
            _ => out.push_str(text),
        }
    }

    /// Whether a token ends an operand.
    fn ends_operand(&self, index: usize) -> bool {
        self.kind(index).ends_operand() && self.word(index) == Word::Other
    }

    /// Whether a sign stands before its only operand.
    fn is_unary(&self, index: usize) -> bool {
        matches!(self.kind(index), TokenKind::Minus | TokenKind::Plus)
            && index.checked_sub(1).is_none_or(|before| !self.ends_operand(before))
    }

    /// Whether a word such as AND stands before the parenthesis of a call and not between operands.
    fn is_function_word(&self, index: usize) -> bool {
        use TokenKind as T;
        match self.kind(index) {
            T::And | T::Or | T::Xor | T::Mod => {
                index.checked_sub(1).is_none_or(|before| !self.ends_operand(before))
            }
            T::Ref => true,
            _ => false,
        }
    }

    /// Whether a blank stands between a token and the one before it, which belong to one line.
    pub(super) fn blank_between(&self, before: usize, index: usize) -> bool {
        use TokenKind as T;
        match (self.kind(before), self.kind(index)) {
            (T::ParenthesisOpen | T::BracketOpen | T::Dot | T::TypeQualifier, _) => false,
            (_, T::ParenthesisClose | T::BracketClose | T::Dot | T::Comma | T::Semicolon | T::Caret) => false,
            (_, T::ParenthesisOpen) => !(self.ends_operand(before) || self.is_function_word(before)),
            (_, T::BracketOpen) => !self.ends_operand(before),
            _ => !self.is_unary(before),
        }
    }
}

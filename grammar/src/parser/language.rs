//! Tells in which language a body is written, from its first tokens. The standard leaves this to the
//! environment; one body is in one language.

use super::Parser;
use crate::lexer::TokenKind;

/// The language of a body.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Language {
    Nothing,
    StructuredText,
    InstructionList,
    SequentialFunctionChart,
}

impl Parser<'_> {
    /// The language of the body between two places.
    pub(super) fn language(&self, start: usize, end: usize) -> Language {
        use Language as L;
        use TokenKind as T;
        if start >= end {
            return L::Nothing;
        }
        let kind = self.kind(start);
        let next = if start + 1 < end { self.kind(start + 1) } else { T::EndOfFile };
        let next_on_line = start + 1 < end && !self.first_on_line(start + 1);
        match kind {
            T::Step | T::InitialStep | T::Transition | T::Action if !self.used_as_name(start) => {
                L::SequentialFunctionChart
            }
            T::Identifier => match next {
                // A declaration or a misplaced block is not a label.
                T::Colon => match self.kind(start + 2) {
                    T::ElementaryType | T::String | T::Wstring | T::Array | T::RefTo => L::StructuredText,
                    _ => L::InstructionList,
                },
                T::Assign | T::Attempt | T::Dot | T::BracketOpen | T::Caret | T::Semicolon => {
                    L::StructuredText
                }
                T::ParenthesisOpen => match self.matching_bracket(start + 1, end) {
                    Some(close) if close + 1 < end && self.kind(close + 1) == T::Semicolon => {
                        L::StructuredText
                    }
                    Some(close) if close + 1 >= end || self.first_on_line(close + 1) => {
                        self.language_of_call(start, close + 1, end)
                    }
                    _ => L::StructuredText,
                },
                // `ST? x`, `&N x`
                T::Question if next_on_line => L::InstructionList,
                kind if next_on_line
                    && (kind == T::Identifier || kind.is_literal() || kind == T::DirectAddress) =>
                {
                    L::InstructionList
                }
                T::TypeQualifier | T::Minus | T::Ref | T::This | T::Super
                    if next_on_line && self.is_instruction_word(start) =>
                {
                    L::InstructionList
                }
                // Alone on its line
                _ if !next_on_line => self.language_of_call(start, start + 1, end),
                _ => L::StructuredText,
            },
            T::And | T::Or | T::Xor | T::Mod | T::Not | T::Ampersand if self.first_on_line(start) => {
                L::InstructionList
            }
            _ => L::StructuredText,
        }
    }

    /// `x(…)` or `x` alone and a line end without semicolon: an instruction, or a statement that lacks its semicolon. What
    /// follows decides.
    fn language_of_call(&self, start: usize, after: usize, end: usize) -> Language {
        use TokenKind as T;
        if after >= end || self.is_instruction_word(start) {
            return Language::InstructionList;
        }
        let statement_follows = match self.kind(after) {
            T::Identifier => {
                matches!(self.kind(after + 1), T::Assign | T::Attempt | T::Dot | T::BracketOpen | T::Caret)
            }
            T::If | T::Case | T::For | T::While | T::Repeat | T::Return => true,
            _ => false,
        };
        if statement_follows { Language::StructuredText } else { Language::InstructionList }
    }
}

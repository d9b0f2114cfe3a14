//! Transitions of a chart (6.7, table 55): between which steps, with which priority, and on what condition, in
//! Structured Text or Instruction List. Whether the condition is a Boolean is not looked at.

use super::{
    Parser,
    cut::{self, Cut},
    language::Language,
    wording::quote,
};
use crate::{
    Literal,
    diagnostic::Diagnostic,
    lexer::TokenKind,
    piece::{Piece, PieceKind},
    source::Span,
    tree::{Expression, ExpressionKind, Ident, Transition, TransitionCondition},
};

impl Parser<'_> {
    pub(super) fn transition(
        &mut self,
        start: usize,
        limit: usize,
        transitions: &mut Vec<Transition>,
    ) -> usize {
        use TokenKind as T;
        let end = self.part_end(start, limit);
        let mut depth = 0isize;
        let mut head_end = start + 1;
        while head_end < end.content {
            let kind = self.kind(head_end);
            if depth <= 0 && matches!(kind, T::Assign | T::Colon) {
                break;
            }
            depth += cut::step(kind);
            head_end += 1;
        }
        let has_condition = head_end < end.content;
        let has_head = self.kind(start + 1) != T::Colon || head_end > start + 1;
        let (piece, _) = self.piece(PieceKind::Transition, start, Cut { end: head_end, terminated: true });
        let head = piece.map(|piece| *piece);
        let condition = if has_condition {
            self.condition(head_end, end.content)
        } else {
            if matches!(head, Some(Piece::Transition { .. })) && has_head {
                self.report_missing_condition(head_end);
            }
            TransitionCondition::Missing
        };
        self.damaged |= matches!(condition, TransitionCondition::Missing);
        if let Some(Piece::Transition { name, priority, from, to }) = head {
            let priority = priority.and_then(|(word, value)| self.priority(word, &value));
            let heading = self.span_of(start, head_end);
            let span = self.span_of(start, end.next);
            transitions.push(Transition { name, priority, from, to, condition, heading, span });
        } else {
            self.damaged = true;
        }
        end.next
    }

    fn report_missing_condition(&mut self, index: usize) {
        let place = self.behind_previous(index);
        self.report(
            Diagnostic::error("expected-expression", place, "a transition needs a condition")
                .label("expected `:=` and a condition here")
                .note(
                    "the condition is written `:= expression;`; a step that is left at once has `:= TRUE;`",
                ),
        );
    }

    fn priority(&mut self, word: Ident, value: &Expression) -> Option<(u32, Span)> {
        let text = self.text_of(word.span);
        if !text.eq_ignore_ascii_case("PRIORITY") {
            let message = format!("expected `PRIORITY`, found {}", quote(text));
            self.report(
                Diagnostic::error("unexpected-token", word.span, message)
                    .label("a transition has nothing else in parentheses")
                    .fix("write `PRIORITY`", word.span, "PRIORITY"),
            );
        }
        let number = match &value.kind {
            ExpressionKind::Literal(Literal::Integer(number)) => u32::try_from(*number).ok(),
            _ => None,
        };
        if number.is_none() {
            let message = format!("a priority is at most {}", u32::MAX);
            self.report(
                Diagnostic::error("literal-out-of-range", value.span, message)
                    .label("too large")
                    .note("the lowest number goes first"),
            );
        }
        number.map(|number| (number, value.span))
    }

    /// The condition from its `:=` or `:` on.
    fn condition(&mut self, sign: usize, end: usize) -> TransitionCondition {
        use TokenKind as T;
        let start = sign + 1;
        if start >= end {
            self.report_missing_condition(start);
            return TransitionCondition::Missing;
        }
        let assigns = self.kind(sign) == T::Assign;
        if self.is_instruction(start, end) || !assigns && self.is_instructions(start, end) {
            return TransitionCondition::Instructions(self.body_instructions(start, end));
        }
        if !assigns {
            let span = self.span(sign);
            self.report(
                Diagnostic::error(
                    "unexpected-token",
                    span,
                    "a condition in Structured Text begins with `:=`",
                )
                .label("expected `:=`")
                .note("instructions of Instruction List stand behind `:`")
                .fix("write `:=`", span, ":="),
            );
        }
        let semicolon = (start..end).find(|index| self.kind(*index) == T::Semicolon);
        let stop = semicolon.unwrap_or(end);
        let (piece, _) = self.piece(PieceKind::Expression, start, Cut { end: stop, terminated: true });
        let Some(Piece::Expression(condition)) = piece.map(|piece| *piece) else {
            return TransitionCondition::Missing;
        };
        match semicolon {
            Some(semicolon) if semicolon + 1 < end => {
                let span = self.span_of(semicolon + 1, end);
                self.damaged = true;
                self.report(
                    Diagnostic::error("unexpected-token", span, "a transition has one condition")
                        .label("expected `END_TRANSITION`"),
                );
            }
            Some(_) => {}
            None if self.is_behind_unread(end) => {}
            None => {
                let place = self.behind_previous(end);
                self.report(
                    Diagnostic::error("missing-semicolon", place, "expected `;` after the condition")
                        .label("expected `;` here")
                        .fix("insert `;`", place, ";"),
                );
            }
        }
        TransitionCondition::Expression(condition)
    }

    /// An operator of Instruction List and an operand on one line: no expression has two words side by side.
    fn is_instruction(&self, start: usize, end: usize) -> bool {
        use TokenKind as T;
        let next = self.kind(start + 1);
        let is_operand = next.is_literal()
            || matches!(next, T::Identifier | T::DirectAddress | T::TypeQualifier | T::This);
        start + 1 < end
            && !self.first_on_line(start + 1)
            && is_operand
            && self.kind(start) == T::Identifier
            && self.is_instruction_word(start)
    }

    /// Behind `:`: instructions, unless a semicolon shows an expression.
    fn is_instructions(&self, start: usize, end: usize) -> bool {
        let has_semicolon = (start..end).any(|index| self.kind(index) == TokenKind::Semicolon);
        !has_semicolon && self.language(start, end) == Language::InstructionList
    }
}

//! The loops of Structured Text (table 72, features 6 to 8).

use super::{
    Parser, blocks,
    cut::Cut,
    statements::{Region, Within},
};
use crate::{
    diagnostic::Diagnostic,
    direct::{ForHead, Reader},
    lexer::TokenKind,
    piece::{Piece, PieceKind},
    tree::{Expression, Statement, StatementKind},
};

impl Parser<'_> {
    pub(super) fn loop_statement(&mut self, start: usize, region: Region) -> (Option<Statement>, usize) {
        let is_for = self.kind(start) == TokenKind::For;
        let end = match self.block_end(start, region, if is_for { "END_FOR" } else { "END_WHILE" }) {
            Ok(end) => end,
            Err(next) => return (None, next),
        };
        let inner = Region { end: end.index, depth: region.depth + 1, within: Within::Loop };
        let statement = if is_for {
            let (head, body_start) = self.for_head(start, end.index);
            let (body, _) = self.statements(body_start, inner);
            head.map(|ForHead { variable, from, to, by }| StatementKind::For {
                variable: Box::new(variable),
                from: Box::new(from),
                to: Box::new(to),
                by: by.map(Box::new),
                body,
            })
        } else {
            let (condition, body_start) = self.block_head(start, end.index);
            let (body, _) = self.statements(body_start, inner);
            condition.map(|condition| StatementKind::While { condition, body })
        };
        let next = self.behind_block(end);
        self.damaged |= statement.is_none();
        (statement.map(|kind| self.statement(start, end, kind)), next)
    }

    /// The head of a loop that counts, and where its statements begin.
    fn for_head(&mut self, start: usize, limit: usize) -> (Option<ForHead>, usize) {
        if let Some((head, next)) = self.directly(start, limit, Reader::for_head) {
            return (Some(head), next);
        }
        let cut = self.cut_head(start, limit);
        let (piece, next) = self.piece(PieceKind::For, start, cut);
        match piece.map(|piece| *piece) {
            Some(Piece::For { variable, from, to, by }) => (Some(ForHead { variable, from, to, by }), next),
            _ => (None, next),
        }
    }

    pub(super) fn repeat_statement(&mut self, start: usize, region: Region) -> (Option<Statement>, usize) {
        let end = match self.block_end(start, region, "END_REPEAT") {
            Ok(end) => end,
            Err(next) => return (None, next),
        };
        let inner = Region { end: end.index, depth: region.depth + 1, within: Within::Repeat };
        let (body, index) = self.statements(start + 1, inner);
        let mut until = None;
        if index < end.index {
            until = self.until(index, end);
        } else if !end.missing {
            let span = self.span(end.index);
            self.report(
                Diagnostic::error(
                    "missing-keyword",
                    span,
                    "expected `UNTIL` and a condition before `END_REPEAT`",
                )
                .label("expected `UNTIL` before this")
                .also(self.span(start), "the loop begins here"),
            );
        }
        let next = self.behind_block(end);
        let statement = until.map(|until| self.statement(start, end, StatementKind::Repeat { body, until }));
        self.damaged |= statement.is_none();
        (statement, next)
    }

    /// `UNTIL condition`, up to the end of its loop.
    fn until(&mut self, start: usize, end: blocks::BlockEnd) -> Option<Expression> {
        let mut condition_end = end.index;
        if !end.missing
            && condition_end > start + 1
            && let before = condition_end - 1
            && self.kind(before) == TokenKind::Semicolon
        {
            let span = self.span(before);
            self.report(
                Diagnostic::warning(
                    "semicolon-after-until",
                    span,
                    "no `;` stands after the condition of `UNTIL`",
                )
                .label("not needed")
                .fix("remove `;`", span, ""),
            );
            condition_end = before;
        }
        let cut = if condition_end == end.index && !end.missing {
            Cut { end: end.index + 1, terminated: true }
        } else {
            // The closing word is missing, or stands behind a semicolon that is left out of the piece.
            Cut { end: condition_end, terminated: false }
        };
        if cut.terminated {
            if let Some((condition, _)) = self.directly(start, cut.end, Reader::condition) {
                return Some(condition);
            }
            let (piece, _) = self.piece(PieceKind::Condition, start, cut);
            return match piece.map(|piece| *piece) {
                Some(Piece::Expression(expression)) => Some(expression),
                _ => None,
            };
        }
        self.expression_in(start + 1, condition_end)
    }

    /// An expression between two places, without the words around it.
    fn expression_in(&mut self, start: usize, end: usize) -> Option<Expression> {
        let (piece, _) = self.piece(PieceKind::Expression, start, Cut { end, terminated: true });
        match piece.map(|piece| *piece) {
            Some(Piece::Expression(expression)) => Some(expression),
            _ => None,
        }
    }
}

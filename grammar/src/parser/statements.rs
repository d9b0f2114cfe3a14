//! Statements of Structured Text (7.3, table 72): blocks are built here, what is between their words is
//! parsed in pieces.

use super::{NESTING_MAX, Parser, Said, blocks, cut};
use crate::{
    diagnostic::Diagnostic,
    direct::Reader,
    lexer::TokenKind,
    piece::{Piece, PieceKind},
    tree::{CaseGroup, CaseLabel, Expression, Statement, StatementKind},
};

/// The block whose middle words end a list of statements.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Within {
    Body,
    If,
    Case,
    Loop,
    Repeat,
}

/// A region of statements: up to where, how deep, in what.
#[derive(Clone, Copy)]
pub(super) struct Region {
    pub end: usize,
    pub depth: usize,
    pub within: Within,
}

impl Parser<'_> {
    /// The statements of a body.
    pub(super) fn body_statements(&mut self, start: usize, end: usize) -> Vec<Statement> {
        self.statements(start, Region { end, depth: 0, within: Within::Body }).0
    }

    /// Statements up to the end of the region or a middle word of the block around them, and where that is.
    pub(super) fn statements(&mut self, start: usize, region: Region) -> (Vec<Statement>, usize) {
        use TokenKind as T;
        let outer = self.statements.len();
        let mut index = start;
        while index < region.end {
            let kind = self.kind(index);
            if region.within == Within::Case && self.label_begins(index, region.end) {
                break;
            }
            if !kind.is_keyword() || self.used_as_name(index) {
                index = self.simple_statement(index, region.end);
                continue;
            }
            let block = match kind {
                T::If => Some(self.if_statement(index, region)),
                T::Case => Some(self.case_statement(index, region)),
                T::For | T::While => Some(self.loop_statement(index, region)),
                T::Repeat => Some(self.repeat_statement(index, region)),
                _ => None,
            };
            if let Some((statement, next)) = block {
                self.statements.extend(statement);
                index = next;
                continue;
            }
            let ends_region = match kind {
                T::Elsif => region.within == Within::If,
                T::Else => matches!(region.within, Within::If | Within::Case),
                T::Until => region.within == Within::Repeat,
                _ => false,
            };
            if ends_region {
                break;
            }
            index = match kind {
                T::Else | T::Elsif | T::Until => self.stray_middle_word(index, region.end),
                _ if cut::opens_part(self.tokens, index) => self.misplaced_parts(index, region.end),
                T::Method if cut::opens_method(self.tokens, index) => self.late_method(index, region.end),
                kind if cut::opens_section(kind) => self.late_section(index, region.end),
                kind if self.is_closing(kind) => self.stray_closing_word(index),
                _ => self.simple_statement(index, region.end),
            };
        }
        (self.statements.drain(outer..).collect(), index)
    }

    fn report_unclosed(&mut self, start: usize, end: usize, closing: &str) {
        if self.is_behind_unread(end) || self.said.contains(&Said::TooDeep) {
            return;
        }
        let word = self.text(start).to_ascii_uppercase();
        let before = self.found(end);
        self.report(
            Diagnostic::error(
                "unclosed-block",
                self.span(start),
                format!("this `{word}` is never closed by `{closing}`"),
            )
            .label(format!("no `{closing}` belongs to this"))
            .also(self.behind_previous(end), format!("expected `{closing};` before {before}")),
        );
    }

    /// The end of a block inside a region. Nothing when it is nested too deep: the block is then skipped.
    pub(super) fn block_end(
        &mut self,
        start: usize,
        region: Region,
        closing: &str,
    ) -> Result<blocks::BlockEnd, usize> {
        let mut end = blocks::end_of(self.token(start));
        if end.index > region.end || end.index <= start {
            // The block reaches out of the one around it, which was cut short.
            end = blocks::BlockEnd { index: region.end, missing: true };
        }
        if region.depth >= NESTING_MAX {
            self.damaged = true;
            if self.said.insert(Said::TooDeep) {
                self.report(
                    Diagnostic::error(
                        "nesting-too-deep",
                        self.span(start),
                        format!("blocks are nested more than {NESTING_MAX} deep"),
                    )
                    .label("too deep from here on")
                    .note("move the inner blocks into a FUNCTION or FUNCTION_BLOCK of their own"),
                );
            }
            let next = if end.missing { end.index } else { end.index + 1 };
            return Err(if self.kind(next) == TokenKind::Semicolon { next + 1 } else { next.max(start + 1) });
        }
        if end.missing {
            // How far it reaches is a guess.
            self.damaged = true;
            self.unclosed_inside(start, end.index, closing);
        }
        Ok(end)
    }

    /// Reports a block without end, unless what it holds is so deep that one message about that is enough.
    fn unclosed_inside(&mut self, start: usize, end: usize, closing: &str) {
        let mut depth = 0usize;
        for index in start..end {
            let kind = self.kind(index);
            if cut::opens_block(kind) {
                depth += 1;
            } else if cut::closes_block(kind) {
                depth = depth.saturating_sub(1);
            }
            if depth > NESTING_MAX {
                return;
            }
        }
        self.report_unclosed(start, end, closing);
    }

    /// Behind the end of a block and its semicolon.
    pub(super) fn behind_block(&mut self, end: blocks::BlockEnd) -> usize {
        if end.missing { end.index } else { self.semicolon_behind_block(end.index + 1) }
    }

    pub(super) fn statement(&self, start: usize, end: blocks::BlockEnd, kind: StatementKind) -> Statement {
        let last = if end.missing { end.index.max(start + 1) } else { end.index + 1 };
        Statement { kind, span: self.span_of(start, last) }
    }

    // ---- simple statements --------------------------------------------------------------------------------

    fn simple_statement(&mut self, start: usize, limit: usize) -> usize {
        if let Some((statement, next)) = self.directly(start, limit, Reader::statement) {
            self.statements.push(statement);
            return next;
        }
        if let Some(next) = self.instruction_in_statements(start, limit) {
            return next;
        }
        let cut = self.cut_statement(start, limit);
        let (piece, next) = self.piece(PieceKind::Statement, start, cut);
        if let Some(Piece::Statement(statement)) = piece.map(|piece| *piece) {
            self.statements.push(statement);
        }
        next.max(start + 1)
    }

    /// The head of a block: the expression in it, and where its statements begin.
    pub(super) fn block_head(&mut self, start: usize, limit: usize) -> (Option<Expression>, usize) {
        if let Some((condition, next)) = self.directly(start, limit, Reader::condition) {
            return (Some(condition), next);
        }
        let cut = self.cut_head(start, limit);
        let (piece, next) = self.piece(PieceKind::Condition, start, cut);
        match piece.map(|piece| *piece) {
            Some(Piece::Expression(expression)) => (Some(expression), next),
            _ => (None, next),
        }
    }

    // ---- selections ---------------------------------------------------------------------------------------

    fn if_statement(&mut self, start: usize, region: Region) -> (Option<Statement>, usize) {
        use TokenKind as T;
        let end = match self.block_end(start, region, "END_IF") {
            Ok(end) => end,
            Err(next) => return (None, next),
        };
        let inner = Region { end: end.index, depth: region.depth + 1, within: Within::If };
        // Most have one.
        let mut branches = Vec::with_capacity(1);
        let mut otherwise = None;
        let mut first_is_good = false;
        let mut index = start;
        loop {
            // At `IF`, `ELSIF`, or the `IF` of an `ELSE IF`
            let is_first = index == start;
            let (condition, body_start) = self.block_head(index, end.index);
            let (body, next) = self.statements(body_start, inner);
            first_is_good |= is_first && condition.is_some();
            if let Some(condition) = condition
                && otherwise.is_none()
            {
                branches.push((condition, body));
            }
            index = next;
            if index < end.index && self.kind(index) == T::Else {
                if blocks::is_else_if(self.token(index + 1)) {
                    let span = self.span_of(index, index + 2);
                    self.report(
                        Diagnostic::error("else-if", span, "a further condition is introduced by `ELSIF`")
                            .label("`ELSE IF` would need an `END_IF` of its own")
                            .fix("write `ELSIF`", span, "ELSIF"),
                    );
                    index += 1;
                    continue;
                }
                let else_place = self.span(index);
                let body_start = self.behind_else(index, end.index);
                let (body, next) = self.statements(body_start, inner);
                index = next;
                if otherwise.is_none() {
                    otherwise = Some(body);
                } else {
                    self.damaged = true;
                }
                if index < end.index {
                    let word = self.text(index).to_ascii_uppercase();
                    self.report(
                        Diagnostic::error(
                            "unexpected-token",
                            self.span(index),
                            format!("`{word}` cannot follow `ELSE`"),
                        )
                        .label("`ELSE` is the last part of an `IF`")
                        .also(else_place, "`ELSE` stands here"),
                    );
                    self.damaged = true;
                    if self.kind(index) == T::Else {
                        let (_, next) = self.statements(index + 1, inner);
                        index = next;
                    }
                }
            }
            if index >= end.index || !matches!(self.kind(index), T::Elsif | T::If) {
                break;
            }
        }
        // Whatever is left before the end has been reported.
        let next = self.behind_block(end);
        if !first_is_good {
            self.damaged = true;
            return (None, next);
        }
        branches.shrink_to_fit();
        (Some(self.statement(start, end, StatementKind::If { branches, otherwise })), next)
    }

    /// Behind `ELSE`; a colon there is reported.
    fn behind_else(&mut self, index: usize, limit: usize) -> usize {
        if index + 1 < limit && self.kind(index + 1) == TokenKind::Colon {
            let span = self.span(index + 1);
            self.report(
                Diagnostic::error("unexpected-token", span, "no `:` stands after `ELSE`")
                    .label("not allowed here")
                    .fix("remove `:`", span, ""),
            );
            return index + 2;
        }
        index + 1
    }

    /// Whether labels of a CASE begin here: a colon follows before anything that belongs to a statement.
    fn label_begins(&self, index: usize, limit: usize) -> bool {
        use TokenKind as T;
        let kind = self.kind(index);
        let possible = kind == T::Identifier
            || kind.is_literal()
            || matches!(kind, T::TypeQualifier | T::Minus | T::Plus | T::ParenthesisOpen | T::Not)
            || kind.is_keyword() && self.kind(index + 1) == T::Colon && self.used_as_name(index);
        possible && self.cut_labels(index, limit).is_some()
    }

    /// The labels of a group, and where its statements begin.
    fn labels(&mut self, start: usize, cut: cut::Cut) -> (Option<Vec<CaseLabel>>, usize) {
        if let Some((labels, next)) = self.directly(start, cut.end, Reader::labels) {
            return (Some(labels), next);
        }
        let (piece, next) = self.piece(PieceKind::Labels, start, cut);
        match piece.map(|piece| *piece) {
            Some(Piece::Labels(labels)) => (Some(labels), next),
            _ => (None, next),
        }
    }

    fn case_statement(&mut self, start: usize, region: Region) -> (Option<Statement>, usize) {
        use TokenKind as T;
        let end = match self.block_end(start, region, "END_CASE") {
            Ok(end) => end,
            Err(next) => return (None, next),
        };
        let inner = Region { end: end.index, depth: region.depth + 1, within: Within::Case };
        let (selector, mut index) = self.block_head(start, end.index);
        let mut groups = Vec::new();
        let mut otherwise = None;
        let mut said_label = false;
        while index < end.index {
            if self.kind(index) == T::Else {
                let body_start = self.behind_else(index, end.index);
                let (body, next) = self.statements(body_start, inner);
                if otherwise.is_some() {
                    self.report(
                        Diagnostic::error("unexpected-token", self.span(index), "a `CASE` has one `ELSE`")
                            .label("a second `ELSE`"),
                    );
                    self.damaged = true;
                }
                otherwise = Some(body);
                index = next;
                if index < end.index && self.kind(index) != T::Else {
                    self.report(
                        Diagnostic::error(
                            "unexpected-token",
                            self.span(index),
                            "no group can follow `ELSE` in a `CASE`",
                        )
                        .label("`ELSE` is the last part of a `CASE`"),
                    );
                    self.damaged = true;
                    // The groups behind it are read for their own errors.
                }
                continue;
            }
            if let Some(cut) = self.cut_labels(index, end.index) {
                let (labels, next) = self.labels(index, cut);
                let (statements, next) = self.statements(next, inner);
                if let Some(labels) = labels {
                    groups.push(CaseGroup { labels, statements });
                }
                index = next;
                continue;
            }
            if !said_label {
                said_label = true;
                self.report(
                    Diagnostic::error(
                        "missing-label",
                        self.span(index),
                        "expected a label such as `1:` before the statements of a `CASE`",
                    )
                    .label("expected a label here"),
                );
            }
            self.damaged = true;
            let (_, next) = self.statements(index, inner);
            index = next.max(index + 1);
        }
        let next = self.behind_block(end);
        groups.shrink_to_fit();
        let statement = selector
            .map(|selector| self.statement(start, end, StatementKind::Case { selector, groups, otherwise }));
        self.damaged |= statement.is_none();
        (statement, next)
    }
}

//! Simple statements, the heads of blocks, the labels of a `CASE` (table 72).

use super::Reader;
use crate::{
    construct,
    lexer::TokenKind,
    source::Span,
    tree::{CaseLabel, Expression, Statement, StatementKind},
};

/// What stands between `FOR` and `DO`.
pub(crate) struct ForHead {
    pub variable: Expression,
    pub from: Expression,
    pub to: Expression,
    pub by: Option<Expression>,
}

impl Reader<'_> {
    /// A simple statement with its semicolon.
    pub(crate) fn statement(&mut self) -> Option<Statement> {
        use TokenKind as T;
        let start = self.start();
        let kind = match self.kind() {
            T::Semicolon => StatementKind::Empty,
            T::Return => self.word(StatementKind::Return),
            T::Exit => self.word(StatementKind::Exit),
            T::Continue => self.word(StatementKind::Continue),
            _ => {
                let target = self.access()?;
                match self.kind() {
                    following @ (T::Assign | T::Attempt) => {
                        let operator = self.span_of_next();
                        self.read += 1;
                        let value = self.expression()?;
                        StatementKind::Assignment {
                            target,
                            attempt: following == T::Attempt,
                            operator,
                            value,
                        }
                    }
                    _ => construct::call_or_expression(target),
                }
            }
        };
        // An empty statement is the empty place before its semicolon.
        let end = if matches!(kind, StatementKind::Empty) { start } else { self.end() };
        self.take(T::Semicolon)?;
        Some(Statement { kind, span: self.context.span(start, end) })
    }

    /// Reads the word that is a statement.
    fn word(&mut self, kind: StatementKind) -> StatementKind {
        self.read += 1;
        kind
    }

    fn span_of_next(&self) -> Span {
        let token = self.tokens.get(self.read);
        token.map_or(self.context.span(0, 0), |token| self.context.span(token.start, token.end))
    }

    /// From the word that opens a block or a part of one to the word behind its condition.
    pub(crate) fn condition(&mut self) -> Option<Expression> {
        use TokenKind as T;
        let closing = match self.next()?.kind {
            T::If | T::Elsif => T::Then,
            T::Case => T::Of,
            T::While => T::Do,
            T::Until => T::EndRepeat,
            _ => return None,
        };
        let condition = self.expression()?;
        self.take(closing)?;
        Some(condition)
    }

    /// From `FOR` to `DO`.
    pub(crate) fn for_head(&mut self) -> Option<ForHead> {
        use TokenKind as T;
        self.take(T::For)?;
        let variable = self.access()?;
        self.take(T::Assign)?;
        let from = self.expression()?;
        self.take(T::To)?;
        let to = self.expression()?;
        let by = if self.skip(T::By) { Some(self.expression()?) } else { None };
        self.take(T::Do)?;
        Some(ForHead { variable, from, to, by })
    }

    /// The labels of a group with their colon.
    pub(crate) fn labels(&mut self) -> Option<Vec<CaseLabel>> {
        let labels = self.list(|reader| {
            let first = reader.expression()?;
            let last = if reader.skip(TokenKind::DotDot) { Some(reader.expression()?) } else { None };
            Some(CaseLabel { first, last })
        })?;
        self.take(TokenKind::Colon)?;
        Some(labels)
    }
}

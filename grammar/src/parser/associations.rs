//! The actions of a step with their qualifiers, times and indicators (tables 57 to 59). Qualifiers are words
//! in this place only. Whether a qualifier needs a time is not decided here.

use super::{Parser, blocks, cut, wording::quote};
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    piece::{Piece, PieceKind},
    source::Span,
    tree::{ActionQualifier, Association, Expression, ExpressionKind, Ident},
};

/// The qualifiers of table 59.
const QUALIFIERS: [(&str, ActionQualifier); 11] = [
    ("N", ActionQualifier::NonStored),
    ("R", ActionQualifier::Reset),
    ("S", ActionQualifier::Set),
    ("L", ActionQualifier::Limited),
    ("D", ActionQualifier::Delayed),
    ("P", ActionQualifier::Pulse),
    ("SD", ActionQualifier::StoredDelayed),
    ("DS", ActionQualifier::DelayedStored),
    ("SL", ActionQualifier::StoredLimited),
    ("P1", ActionQualifier::PulseRising),
    ("P0", ActionQualifier::PulseFalling),
];

const QUALIFIER_NOTE: &str =
    "the qualifiers are `N`, `R`, `S`, `P`, `P1`, `P0`, and with a time `L`, `D`, `SD`, `DS`, `SL`";

impl Parser<'_> {
    /// The associations between two places of a step.
    pub(super) fn associations(&mut self, start: usize, end: usize) -> Vec<Association> {
        let mut associations = Vec::new();
        let mut index = start;
        let mut said_statement = false;
        while index < end {
            if self.kind(index) == TokenKind::Semicolon {
                index = self.stray_semicolon_in_step(index);
                continue;
            }
            if let Some((place, next)) = self.statement_in_step(index, end) {
                self.damaged = true;
                if !said_statement {
                    said_statement = true;
                    self.report_statement_in_step(place);
                }
                index = next.max(index + 1);
                continue;
            }
            let cut = self.cut_declaration(index, end);
            let last = if cut.terminated { cut.end - 1 } else { cut.end };
            if let Some(problem) = self.slip_in_association(index, last) {
                self.damaged = true;
                self.report(problem);
                index = cut.end;
                continue;
            }
            let (piece, next) = self.piece(PieceKind::Association, index, cut);
            if let Some(Piece::Association { action, first, rest }) = piece.map(|piece| *piece) {
                let last = if self.kind(next - 1) == TokenKind::Semicolon { next - 1 } else { next };
                let span = self.span_of(index, last);
                associations.extend(self.association(action, first, rest, span));
            }
            index = next.max(index + 1);
        }
        associations
    }

    fn stray_semicolon_in_step(&mut self, index: usize) -> usize {
        let span = self.span(index);
        self.report(
            Diagnostic::error("unexpected-token", span, "expected an action, found `;`")
                .label("a `;` too many")
                .fix("remove `;`", span, ""),
        );
        index + 1
    }

    /// `name;` in a step.
    fn slip_in_association(&self, start: usize, last: usize) -> Option<Diagnostic> {
        use TokenKind as T;
        let span = self.span_of(start, last);
        if last == start + 1 && self.kind(start) == T::Identifier {
            let name = self.text(start);
            return Some(
                Diagnostic::error(
                    "malformed-association",
                    span,
                    format!("the action {} has no qualifier", quote(name)),
                )
                .label("expected parentheses behind the name")
                .note("without a qualifier an action runs while its step is active, which is written `N`")
                .fix(format!("write {}", quote(&format!("{name}(N)"))), span.after(), "(N)"),
            );
        }
        None
    }

    /// A statement where an action belongs: what shows that it is one, and where it ends.
    fn statement_in_step(&self, start: usize, end: usize) -> Option<(usize, usize)> {
        use TokenKind as T;
        if cut::opens_block(self.kind(start)) && !self.used_as_name(start) {
            let close = blocks::end_of(self.token(start));
            let next = if close.missing { close.index } else { close.index + 1 };
            let behind = if self.kind(next) == T::Semicolon { next + 1 } else { next };
            return Some((start, behind.min(end)));
        }
        let cut = self.cut_declaration(start, end);
        let assigns = |index: &usize| matches!(self.kind(*index), T::Assign | T::Attempt);
        let place = (start..cut.end).find(assigns);
        let place = if self.kind(start) == T::Return { Some(start) } else { place };
        Some((place?, cut.end))
    }

    fn report_statement_in_step(&mut self, place: usize) {
        self.report(
            Diagnostic::error("malformed-association", self.span(place), "no statements stand in a step")
                .label("expected an action such as `name(N);`")
                .note("write the statements in an action, `ACTION name: … END_ACTION`, and name it here"),
        );
    }

    fn association(
        &mut self,
        action: Ident,
        first: Option<Expression>,
        rest: Vec<Expression>,
        span: Span,
    ) -> Option<Association> {
        let mut association =
            Association { action, qualifier: None, time: None, indicators: Vec::new(), span };
        let mut rest = rest.into_iter().peekable();
        if let Some(first) = first {
            let place = first.span;
            let text = self.text_of(place);
            let found = QUALIFIERS.iter().find(|(word, _)| word.eq_ignore_ascii_case(text));
            let Some((_, qualifier)) = found else {
                let text = quote(text);
                self.damaged = true;
                self.report(
                    Diagnostic::error(
                        "malformed-association",
                        place,
                        format!("{text} is no qualifier of an action"),
                    )
                    .label("expected a qualifier such as `N`")
                    .note(QUALIFIER_NOTE),
                );
                return None;
            };
            association.qualifier = Some((*qualifier, place));
            if let Some(time) = rest.next_if(|next| takes_time(*qualifier) || !is_name(next)) {
                if !is_time(&time) {
                    self.report_wrong_item(time.span, "a time such as `T#5s`, or a variable");
                    return None;
                }
                association.time = Some(time);
            }
        }
        for indicator in rest {
            match indicator.kind {
                ExpressionKind::Name(name) => {
                    association.indicators.push(Ident { name, span: indicator.span });
                }
                _ => {
                    self.report_wrong_item(indicator.span, "the name of an indicator variable");
                    return None;
                }
            }
        }
        Some(association)
    }

    fn report_wrong_item(&mut self, span: Span, expected: &str) {
        self.damaged = true;
        let text = quote(self.text_of(span));
        self.report(
            Diagnostic::error(
                "malformed-association",
                span,
                format!("expected {expected}, found {text}"),
            )
            .label("does not belong here")
            .note("an action is written `name(qualifier, time, indicators)`, with a time for `L`, `D`, `SD`, `DS`, `SL`"),
        );
    }
}

fn takes_time(qualifier: ActionQualifier) -> bool {
    use ActionQualifier as Q;
    matches!(qualifier, Q::Limited | Q::Delayed | Q::StoredDelayed | Q::DelayedStored | Q::StoredLimited)
}

fn is_name(expression: &Expression) -> bool {
    matches!(expression.kind, ExpressionKind::Name(_))
}

/// A literal with or without a sign, or a variable.
fn is_time(expression: &Expression) -> bool {
    match &expression.kind {
        ExpressionKind::Literal(_)
        | ExpressionKind::TypedLiteral { .. }
        | ExpressionKind::Name(_)
        | ExpressionKind::Member { .. }
        | ExpressionKind::Index { .. } => true,
        ExpressionKind::Unary { operand, .. } => {
            matches!(operand.kind, ExpressionKind::Literal(_) | ExpressionKind::TypedLiteral { .. })
        }
        _ => false,
    }
}

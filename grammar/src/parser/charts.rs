//! Sequential function charts in their textual form (6.7, tables 54 and 56): steps, transitions and actions are
//! cut apart here by the words that open and close them. What the network means is not looked at.

use super::{
    Parser, Said,
    cut::{self, Cut},
    wording::with_article,
};
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    piece::{Piece, PieceKind},
    tree::{Action, Body, Chart, Ident, Step},
};

/// The closing word of a part of a chart.
fn closing(opening: TokenKind) -> (TokenKind, &'static str) {
    use TokenKind as T;
    match opening {
        T::Transition => (T::EndTransition, "END_TRANSITION"),
        T::Action => (T::EndAction, "END_ACTION"),
        _ => (T::EndStep, "END_STEP"),
    }
}

/// Where a part of a chart ends.
pub(super) struct PartEnd {
    /// Behind its content.
    pub content: usize,
    /// Behind its closing word, if there is one.
    pub next: usize,
}

impl Parser<'_> {
    /// The body of a unit that is a chart.
    pub(super) fn body_chart(&mut self, start: usize, end: usize) -> Body {
        if matches!(self.owner, TokenKind::Program | TokenKind::FunctionBlock) {
            return Body::SequentialFunctionChart(self.chart(start, end));
        }
        let unit = match self.owner {
            TokenKind::Method => "METHOD",
            _ => "FUNCTION",
        };
        self.damaged = true;
        if self.said.insert(Said::MisplacedChart) {
            self.report(
                Diagnostic::error(
                    "misplaced-chart",
                    self.span(start),
                    format!("the body of {} cannot be a chart", with_article(unit)),
                )
                .label("only a PROGRAM or FUNCTION_BLOCK has steps")
                .note("steps keep their state from one call to the next, which functions and methods do not"),
            );
        }
        // Read for its own errors.
        self.chart(start, end);
        Body::Empty
    }

    /// Parts of a chart among statements or instructions: reported once, and skipped.
    pub(super) fn misplaced_parts(&mut self, start: usize, limit: usize) -> usize {
        self.damaged = true;
        if self.said.insert(Said::MisplacedChart) {
            let word = self.text(start).to_ascii_uppercase();
            self.report(
                Diagnostic::error(
                    "misplaced-chart",
                    self.span(start),
                    format!("{} cannot stand among statements", with_article(&word)),
                )
                .label("statements or instructions stand before this")
                .note("a body is either a chart or written in one language; statements of a chart stand in its actions"),
            );
        }
        let mut next = self.part_end(start, limit).next;
        while next < limit && self.kind(next) == TokenKind::Semicolon {
            next += 1;
        }
        next
    }

    fn chart(&mut self, start: usize, end: usize) -> Chart {
        use TokenKind as T;
        let mut chart = Chart::default();
        let mut index = start;
        while index < end {
            let kind = self.kind(index);
            index = match kind {
                T::Step | T::InitialStep => self.step(index, end, &mut chart.steps),
                T::Transition => self.transition(index, end, &mut chart.transitions),
                T::Action => self.action(index, end, &mut chart.actions),
                T::Semicolon if index > start => self.semicolon_after_end(index).min(end),
                _ if cut::opens_method(self.tokens, index) => self.late_method(index, end),
                _ if cut::opens_section(kind) => self.late_section(index, end),
                _ if self.is_closing(kind) => self.stray_closing_word(index).min(end),
                _ => self.outside_parts(index, end),
            };
        }
        chart
    }

    /// Text between the parts of a chart, up to where the next begins.
    fn outside_parts(&mut self, start: usize, end: usize) -> usize {
        self.damaged = true;
        if self.said.insert(Said::OutsideChart) {
            let found = self.found(start);
            self.report(
                Diagnostic::error(
                    "statement-outside-body",
                    self.span(start),
                    format!("expected `STEP`, `TRANSITION` or `ACTION`, found {found}"),
                )
                .label("does not belong to a chart")
                .note("the statements of a chart stand in its actions: `ACTION name: … END_ACTION`"),
            );
        }
        let mut next = start + 1;
        while next < end
            && !cut::is_boundary(self.tokens, next)
            && (!cut::opens_section(self.kind(next)) || self.used_as_name(next))
        {
            next += 1;
        }
        next
    }

    /// Where a part ends. Reports an end that is missing.
    pub(super) fn part_end(&mut self, start: usize, limit: usize) -> PartEnd {
        let opening = self.kind(start);
        let (wanted, word) = closing(opening);
        let opening_word = self.text(start).to_ascii_uppercase();
        let mut end = start + 1;
        while end < limit {
            let kind = self.kind(end);
            if kind == wanted {
                return PartEnd { content: end, next: end + 1 };
            }
            if cut::closes_part(kind) {
                self.closed_by_another(start, end, word, "it begins here");
                return PartEnd { content: end, next: end + 1 };
            }
            if cut::is_boundary(self.tokens, end) {
                break;
            }
            end += 1;
        }
        if !self.is_behind_unread(end) {
            let before = self.found(end);
            self.report(
                Diagnostic::error(
                    "unclosed-block",
                    self.span(start),
                    format!("this `{opening_word}` is never closed by `{word}`"),
                )
                .label(format!("no `{word}` belongs to this"))
                .also(self.behind_previous(end), format!("expected `{word}` before {before}")),
            );
        }
        PartEnd { content: end, next: end }
    }

    /// `STEP name:` or `ACTION name:`, and what stands behind it.
    fn part_head(&mut self, start: usize, end: usize) -> (Option<Ident>, usize) {
        use TokenKind as T;
        let mut index = start + 1;
        let is_name =
            self.kind(index) == T::Identifier || self.kind(index).is_keyword() && !self.first_on_line(index);
        if index >= end || !is_name {
            let word = self.text(start).to_ascii_uppercase();
            self.damaged = true;
            self.report(
                Diagnostic::error(
                    "missing-name",
                    self.span(start).after(),
                    format!("expected a name after `{word}`"),
                )
                .label("expected a name here"),
            );
            let has_colon = index < end && self.kind(index) == T::Colon;
            return (None, if has_colon { index + 1 } else { index });
        }
        index += 1;
        let terminated = index < end && self.kind(index) == T::Colon;
        if terminated {
            index += 1;
        }
        let (piece, next) = self.piece(PieceKind::PartHead, start, Cut { end: index, terminated });
        match piece.map(|piece| *piece) {
            Some(Piece::PartHead(name)) => (Some(name), next),
            _ => (None, index),
        }
    }

    fn step(&mut self, start: usize, limit: usize, steps: &mut Vec<Step>) -> usize {
        let end = self.part_end(start, limit);
        let (name, index) = self.part_head(start, end.content);
        let associations = self.associations(index, end.content);
        if let Some(name) = name {
            let initial = self.kind(start) == TokenKind::InitialStep;
            let span = self.span_of(start, end.next);
            steps.push(Step { initial, name, associations, span });
        }
        end.next
    }

    fn action(&mut self, start: usize, limit: usize, actions: &mut Vec<Action>) -> usize {
        let first = if self.kind(start + 2) == TokenKind::Colon { start + 3 } else { start + 2 };
        let nested = self.action_partner(start).filter(|close| *close < limit);
        if let (true, Some(close)) = (cut::opens_part(self.tokens, first), nested) {
            let (name, _) = self.part_head(start, first);
            self.damaged = true;
            self.report(
                Diagnostic::error(
                    "not-in-subset",
                    self.span(first),
                    "a chart inside an action is not supported",
                )
                .label("a part of a chart inside an action")
                .also(self.span(start), "the action begins here")
                .note("write the inner chart as a FUNCTION_BLOCK of its own, and call an instance of it"),
            );
            let span = self.span_of(start, close + 1);
            actions.extend(name.map(|name| Action { name, body: Body::Empty, span }));
            return close + 1;
        }
        let end = self.part_end(start, limit);
        let (name, index) = self.part_head(start, end.content);
        let body = self.body(index, end.content);
        if let Some(name) = name {
            actions.push(Action { name, body, span: self.span_of(start, end.next) });
        }
        end.next
    }

    /// Index of the `END_ACTION` of an action that may contain others.
    fn action_partner(&self, start: usize) -> Option<usize> {
        let partners = self.action_partners.get_or_init(|| {
            let mut partners = vec![0; self.tokens.len()];
            let mut open: Vec<usize> = Vec::new();
            for index in 0..self.tokens.len() {
                match self.kind(index) {
                    TokenKind::Action if cut::opens_part(self.tokens, index) => open.push(index),
                    TokenKind::EndAction => {
                        if let Some(partner) = open.pop().and_then(|place| partners.get_mut(place)) {
                            *partner = index as u32;
                        }
                    }
                    kind if cut::closes_unit(kind) || cut::opens_unit(self.tokens, index) => open.clear(),
                    _ => {}
                }
            }
            partners
        });
        partners.get(start).map(|close| *close as usize).filter(|close| *close > start)
    }
}

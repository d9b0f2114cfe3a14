//! Instructions that reach over several lines: deferred operations (table 67) and calls with their arguments
//! between parentheses (table 69).

use super::{
    Parser, Said, instruction_words,
    instructions::{DEFERRED_MAX, Head, placed},
    wording::quote,
};
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    piece::{Instructed, Piece, PieceKind, Placed, Terminal},
    tree::{Ident, Instruction, Operation},
};

impl Parser<'_> {
    /// `AND( …` up to its `)` (table 67).
    #[allow(clippy::too_many_arguments, reason = "the parts of one instruction")]
    pub(super) fn deferred(
        &mut self,
        start: usize,
        label: Option<Ident>,
        head: &Head,
        operator: Instructed,
        end: usize,
        depth: usize,
        instructions: &mut Vec<Instruction>,
    ) -> usize {
        let open = head.end;
        let word = self.text_of(head.span).to_owned();
        if depth >= DEFERRED_MAX {
            self.damaged = true;
            if self.said.insert(Said::TooDeep) {
                let message = format!("parentheses of instructions are nested more than {DEFERRED_MAX} deep");
                self.report(
                    Diagnostic::error("nesting-too-deep", self.span(open), message)
                        .label("too deep from here on"),
                );
            }
            return self.matching_bracket(open, end).map_or(end, |close| close + 1);
        }
        let deferrable = instruction_words::is_deferrable(operator.operator);
        if !deferrable {
            self.report(
                Diagnostic::error(
                    "malformed-instruction",
                    head.span.to(self.span(open)),
                    format!("no parenthesis can follow {}", quote(&word)),
                )
                .label("this operator cannot be deferred")
                .note("`AND`, `OR`, `XOR`, arithmetic and comparisons can be"),
            );
            self.damaged = true;
        }
        let line_end = self.line_end(open).min(end);
        let stop = self.content_end(open + 1, line_end);
        let mut first = None;
        if stop > open + 1 {
            let terminals: Vec<Placed> = self
                .slice(open + 1, stop)
                .iter()
                .filter(|t| t.kind != TokenKind::Semicolon)
                .map(placed)
                .collect();
            match self.pieces.terminals(self.context, PieceKind::Operand, &terminals) {
                Ok(piece) => {
                    if let Piece::Expression(operand) = *piece
                        && self.check_operand(&operand)
                    {
                        first = Some(operand);
                    }
                }
                Err(_) if terminals.is_empty() => {}
                Err(failure) => {
                    self.damaged = true;
                    self.report_failure(open + 1, head, &terminals, &failure);
                }
            }
        }
        let mut body = Vec::new();
        let close = self.instruction_lines(stop, end, depth + 1, &mut body);
        if close >= end {
            if !self.is_behind_unread(close) && !self.said.contains(&Said::TooDeep) {
                self.report(
                    Diagnostic::error(
                        "unclosed-parenthesis",
                        self.span(open),
                        "expected `)` to end these instructions",
                    )
                    .label("this is never closed"),
                );
            }
            self.damaged = true;
            return end;
        }
        if first.is_none() && body.is_empty() && deferrable {
            self.report(
                Diagnostic::error(
                    "malformed-instruction",
                    self.span_of(open, close + 1),
                    "expected instructions between the parentheses",
                )
                .label("empty"),
            );
            self.damaged = true;
            return close + 1;
        }
        for inner in &body {
            self.check_inside_parenthesis(inner);
        }
        if deferrable {
            let operation = Operation::Deferred {
                operator: operator.operator,
                negated: operator.negated,
                operator_span: head.span,
                first,
                body,
            };
            let span = self.span_of(start, close + 1);
            instructions.push(Instruction { label, operation: Some(operation), span });
        }
        self.behind_closing(close, end)
    }

    /// A `)` ends its line; what follows it on the same line is reported.
    pub(super) fn behind_closing(&mut self, close: usize, end: usize) -> usize {
        let mut next = close + 1;
        while next < end && self.kind(next) == TokenKind::Semicolon {
            next += 1;
        }
        if next < end && !self.first_on_line(next) && self.kind(next) != TokenKind::ParenthesisClose {
            let word = quote(self.text(next));
            let line_end = self.line_end(next).min(end);
            self.report(
                Diagnostic::error(
                    "malformed-instruction",
                    self.span(next),
                    format!("expected the end of the line after `)`, found {word}"),
                )
                .label("begin a new line here"),
            );
            self.damaged = true;
            return line_end;
        }
        next
    }

    /// A call or a function with its arguments between parentheses, which may stand on several lines
    /// (table 69, 1b, 3a, 4b).
    #[allow(clippy::too_many_arguments, reason = "the parts of one instruction")]
    pub(super) fn call(
        &mut self,
        start: usize,
        label: Option<Ident>,
        index: usize,
        head: &Head,
        open: usize,
        end: usize,
        depth: usize,
        instructions: &mut Vec<Instruction>,
    ) -> usize {
        use TokenKind as T;
        let Some(close) = self.matching_bracket(open, end) else {
            self.report(
                Diagnostic::error(
                    "unclosed-parenthesis",
                    self.span(open),
                    "expected `)` to end these arguments",
                )
                .label("this is never closed"),
            );
            self.damaged = true;
            return self.line_end(open).min(end);
        };
        let base = self.context.lists.borrow().len();
        let mut terminals = self.head_terminals(index, head);
        let mut place = head.end;
        while place <= close {
            let token = self.token(place);
            let opens_list = token.kind == T::ParenthesisOpen
                && place > head.end
                && self.kind(place - 1) == T::Assign
                && self.first_on_line(place + 1);
            if opens_list && place < close {
                let list_close = self.matching_bracket(place, close).unwrap_or(close);
                let mut list = Vec::new();
                if depth >= DEFERRED_MAX {
                    self.damaged = true;
                } else {
                    let stop = self.instruction_lines(place + 1, list_close, depth + 1, &mut list);
                    debug_assert!(stop <= list_close);
                }
                for inner in &list {
                    self.check_inside_parenthesis(inner);
                }
                let mut lists = self.context.lists.borrow_mut();
                let terminal = Terminal::Instructions(lists.len() as u32);
                lists.push(list);
                terminals.push((token.start, terminal, self.token(list_close).end));
                place = list_close + 1;
                continue;
            }
            if token.kind != T::Semicolon {
                terminals.push(placed(&token));
            }
            place += 1;
        }
        self.single(start, label, index, head, &terminals, instructions);
        self.context.lists.borrow_mut().truncate(base);
        self.behind_closing(close, end)
    }
}

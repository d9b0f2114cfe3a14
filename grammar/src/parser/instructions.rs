//! Instructions of Instruction List (7.2, tables 67 to 70): lines are cut apart here, parentheses over
//! several lines are built here, single instructions are parsed by the grammar.

use super::{
    Parser, Said,
    instruction_words::{self, Word},
    wording::quote,
};
use crate::{
    diagnostic::{Diagnostic, Edit, Fix},
    lexer::{Token, TokenKind},
    piece::{Piece, PieceKind, Placed, Terminal},
    source::Span,
    tree::{Ident, Instruction},
};

/// Deepest nesting of parentheses in Instruction List.
pub(super) const DEFERRED_MAX: usize = 64;

/// The word at the start of an instruction.
pub(super) struct Head {
    pub word: Word,
    /// Index behind it.
    pub end: usize,
    pub span: Span,
}

impl Parser<'_> {
    /// The instructions of a body.
    pub(super) fn body_instructions(&mut self, start: usize, end: usize) -> Vec<Instruction> {
        self.report_semicolons(start, end);
        let mut instructions = Vec::new();
        let mut index = start;
        while index < end {
            let next = self.instruction_lines(index, end, 0, &mut instructions);
            if next < end {
                // A `)` that closes nothing
                let span = self.span(next);
                self.report(
                    Diagnostic::error("unmatched-parenthesis", span, "`)` closes nothing")
                        .label("no parenthesis is open before this `)`"),
                );
                self.damaged = true;
            }
            index = next + 1;
        }
        instructions
    }

    /// One message for all semicolons of a body.
    fn report_semicolons(&mut self, start: usize, end: usize) {
        let mut places: Vec<Span> = Vec::new();
        let mut in_statement = false;
        let mut in_method = false;
        for index in start..end {
            in_method |= super::cut::opens_method(self.tokens, index);
            in_method &= self.kind(index) != TokenKind::EndMethod;
            if in_method {
                continue;
            }
            if self.first_on_line(index) {
                // Statements in between are reported as such.
                in_statement = self.is_statement_line(index, end);
            }
            if self.kind(index) == TokenKind::Semicolon && !in_statement {
                places.push(self.span(index));
            }
        }
        let Some(first) = places.first().copied() else { return };
        let edits = places.iter().map(|span| Edit { span: *span, text: String::new() }).collect();
        let mut problem =
            Diagnostic::error("semicolon-in-il", first, "instructions of Instruction List do not end in `;`")
                .label("not allowed here")
                .note("every instruction stands on a line of its own");
        problem.fix = Some(Fix { message: "remove every `;` of this body".into(), edits });
        self.report(problem);
    }

    /// Whether a line is a statement of Structured Text.
    fn is_statement_line(&self, index: usize, end: usize) -> bool {
        use TokenKind as T;
        let kind = self.kind(index);
        if super::cut::ends_statement(kind) || matches!(kind, T::Then | T::Do | T::Of | T::Var) {
            return true;
        }
        if index + 1 >= end || self.first_on_line(index + 1) {
            return false;
        }
        match (kind, self.kind(index + 1)) {
            (T::Identifier, T::Assign | T::Attempt) => true,
            (T::Identifier, T::Dot) if self.is_listed_function(index, end) => false,
            (T::Identifier, T::Dot | T::BracketOpen | T::Caret) => {
                let line_end = self.line_end(index).min(end);
                self.slice(index, line_end).iter().any(|token| matches!(token.kind, T::Assign | T::Attempt))
            }
            _ => false,
        }
    }

    /// Whether `a.b(…)` at the start of a line is a function with all its arguments, and no statement.
    fn is_listed_function(&self, index: usize, end: usize) -> bool {
        let mut open = index + 1;
        while open + 1 < end
            && self.kind(open) == TokenKind::Dot
            && self.kind(open + 1) == TokenKind::Identifier
        {
            open += 2;
        }
        let close = match self.kind(open) {
            TokenKind::ParenthesisOpen => self.matching_bracket(open, end),
            _ => None,
        };
        close.is_some_and(|close| close + 1 >= end || self.first_on_line(close + 1))
    }

    /// Instructions up to the end or an unmatched `)`, and where that is.
    pub(super) fn instruction_lines(
        &mut self,
        start: usize,
        end: usize,
        depth: usize,
        instructions: &mut Vec<Instruction>,
    ) -> usize {
        use TokenKind as T;
        let mut index = start;
        while index < end {
            match self.kind(index) {
                T::ParenthesisClose => return index,
                T::Semicolon => {
                    index += 1;
                    continue;
                }
                T::Method if depth == 0 && super::cut::opens_method(self.tokens, index) => {
                    index = self.late_method(index, end);
                    continue;
                }
                _ if depth == 0 && super::cut::opens_part(self.tokens, index) => {
                    index = self.misplaced_parts(index, end);
                    continue;
                }
                _ => {}
            }
            if self.is_statement_line(index, end) {
                index = self.statement_in_instructions(index, end);
                continue;
            }
            index = self.instruction(index, end, depth, instructions).max(index + 1);
        }
        end
    }

    /// Structured Text among instructions, reported once a body and skipped.
    fn statement_in_instructions(&mut self, start: usize, end: usize) -> usize {
        let line_end = self.line_end(start).min(end);
        self.damaged = true;
        if self.said.insert(Said::StatementsInInstructions) {
            self.report(
                Diagnostic::error(
                    "st-in-il",
                    self.span_of(start, line_end),
                    "this is Structured Text, but the body is written in Instruction List",
                )
                .label("a statement among instructions")
                .note("the first line of a body decides its language, and a body is written in one language"),
            );
        }
        // A statement over several lines goes on to its semicolon, but not into lines that are instructions.
        let mut next = line_end;
        if !super::cut::ends_statement(self.kind(start)) {
            let open = super::cut::balance(self.slice(start, line_end));
            if open > 0 {
                while next < end && self.kind(next - 1) != TokenKind::Semicolon {
                    next += 1;
                }
            }
        }
        next.max(start + 1)
    }

    /// The word an instruction begins with, joined from two tokens for `ST?` and `&N`.
    fn head(&self, index: usize, end: usize) -> Head {
        let first = self.token(index);
        let second = self.token(index + 1);
        let adjacent = index + 1 < end && second.start == first.end;
        let mut head_end = index + 1;
        let joins = adjacent
            && (first.kind == TokenKind::Identifier && second.kind == TokenKind::Question
                || first.kind == TokenKind::Ampersand
                    && second.kind == TokenKind::Identifier
                    && self.text(index + 1).eq_ignore_ascii_case("N"));
        if joins {
            head_end += 1;
        } else if first.kind == TokenKind::Identifier {
            // A function with its namespaces: `plant.water.Mix 3`.
            while head_end + 1 < end
                && self.kind(head_end) == TokenKind::Dot
                && self.kind(head_end + 1) == TokenKind::Identifier
            {
                head_end += 2;
            }
        }
        let span = self.span_of(index, head_end);
        let text = self.text.get(span.start as usize..span.end as usize).unwrap_or("");
        Head { word: instruction_words::word(text), end: head_end, span }
    }

    /// Whether a word at the start of a line is an operator of Instruction List.
    pub(super) fn is_instruction_word(&self, index: usize) -> bool {
        matches!(self.head(index, self.tokens.len()).word, Word::Operator(_))
    }

    /// One instruction at the start of a line, or behind its label; tells where the next begins.
    fn instruction(
        &mut self,
        start: usize,
        end: usize,
        depth: usize,
        instructions: &mut Vec<Instruction>,
    ) -> usize {
        use TokenKind as T;
        let mut index = start;
        let mut label = None;
        let named = self.kind(index) == T::Identifier || self.kind(index).is_keyword();
        if named && index + 1 < end && self.kind(index + 1) == T::Colon && !self.first_on_line(index + 1) {
            label = self.label(index);
            index += 2;
            // A label alone marks the next instruction.
            if index >= end || self.first_on_line(index) || self.kind(index) == T::ParenthesisClose {
                let span = self.span_of(start, index);
                instructions.push(Instruction { label, operation: None, span });
                return index;
            }
        }
        let line_end = self.line_end(index).min(end);
        let head = self.head(index, line_end);
        if let Word::WrongModifier(possible) = head.word {
            let word = quote(self.text.get(head.span.start as usize..head.span.end as usize).unwrap_or(""));
            self.report(
                Diagnostic::error(
                    "malformed-instruction",
                    head.span,
                    format!("there is no instruction {word}"),
                )
                .label("this operator does not have this modifier")
                .note(possible),
            );
            self.damaged = true;
            return self.behind_line(index, line_end);
        }
        let opens = head.end < line_end && self.kind(head.end) == T::ParenthesisOpen;
        if let (Word::Operator(Terminal::Operator(operator)), true) = (head.word, opens) {
            return self.deferred(start, label, &head, operator, end, depth, instructions);
        }
        let list_opens = match head.word {
            Word::Name => opens.then_some(head.end),
            Word::Operator(Terminal::Call(_)) => self.argument_list_start(head.end, line_end),
            _ => None,
        };
        if let Some(open) = list_opens {
            return self.call(start, label, index, &head, open, end, depth, instructions);
        }
        let stop = self.content_end(index, line_end);
        let mut terminals = self.head_terminals(index, &head);
        terminals
            .extend(self.slice(head.end, stop).iter().filter(|token| token.kind != T::Semicolon).map(placed));
        self.single(start, label, index, &head, &terminals, instructions);
        self.behind_line(stop, line_end)
    }

    /// Where the arguments of a call open on a line; parentheses in subscripts are none.
    fn argument_list_start(&self, start: usize, line_end: usize) -> Option<usize> {
        use TokenKind as T;
        let mut brackets = 0usize;
        (start..line_end).find(|place| match self.kind(*place) {
            T::BracketOpen => {
                brackets += 1;
                false
            }
            T::BracketClose => {
                brackets = brackets.saturating_sub(1);
                false
            }
            kind => kind == T::ParenthesisOpen && brackets == 0,
        })
    }

    /// Where the content of a line ends: at its end, or before a `)` that closes a parenthesis around it.
    pub(super) fn content_end(&self, start: usize, line_end: usize) -> usize {
        let mut depth = 0isize;
        for index in start..line_end {
            depth += super::cut::step(self.kind(index));
            if depth < 0 {
                return index;
            }
        }
        line_end
    }

    /// Behind the semicolons that may end a line.
    fn behind_line(&self, index: usize, line_end: usize) -> usize {
        let mut next = index;
        while next < line_end && self.kind(next) != TokenKind::ParenthesisClose {
            next += 1;
        }
        next
    }

    pub(super) fn label(&mut self, index: usize) -> Option<Ident> {
        if self.kind(index) != TokenKind::Identifier {
            let word = quote(self.text(index));
            self.report(
                Diagnostic::error(
                    "keyword-as-identifier",
                    self.span(index),
                    format!("{word} is a keyword of the language and cannot be used as a label"),
                )
                .label("reserved"),
            );
        }
        Some(Ident { name: self.names.intern(self.text(index)), span: self.span(index) })
    }

    pub(super) fn head_terminals(&self, index: usize, head: &Head) -> Vec<Placed> {
        match head.word {
            Word::Operator(terminal) => vec![(head.span.start, terminal, head.span.end)],
            _ => self.slice(index, head.end).iter().map(placed).collect(),
        }
    }

    /// An instruction on one line.
    pub(super) fn single(
        &mut self,
        start: usize,
        label: Option<Ident>,
        index: usize,
        head: &Head,
        terminals: &[Placed],
        instructions: &mut Vec<Instruction>,
    ) {
        if self.has_unreadable
            && terminals
                .iter()
                .any(|(_, t, _)| matches!(t, Terminal::Lexed(token) if token.kind == TokenKind::Unreadable))
        {
            self.damaged = true;
            return;
        }
        match self.pieces.terminals(self.context, PieceKind::Instruction, terminals) {
            Ok(piece) => {
                let Piece::Instruction(mut instruction) = *piece else { return };
                if self.check_instruction(&instruction) {
                    let from = self.span(start);
                    instruction.span = from.to(instruction.span);
                    instruction.label = label;
                    instructions.push(instruction);
                } else {
                    self.damaged = true;
                }
            }
            Err(failure) => {
                self.damaged = true;
                self.report_failure(index, head, terminals, &failure);
            }
        }
    }

    pub(crate) fn text_of(&self, span: Span) -> &str {
        self.text.get(span.start as usize..span.end as usize).unwrap_or("")
    }

    /// Instruction List among statements: reported once a body, and skipped line by line.
    pub(super) fn instruction_in_statements(&mut self, start: usize, limit: usize) -> Option<usize> {
        use TokenKind as T;
        if !self.first_on_line(start) || start + 1 >= limit || self.first_on_line(start + 1) {
            return None;
        }
        let looks = match self.kind(start) {
            T::Identifier => {
                let next = self.kind(start + 1);
                let operand = next == T::Identifier || next.is_literal() || next == T::DirectAddress;
                operand && self.is_instruction_word(start)
            }
            _ => false,
        };
        // `x y := 1;` is a statement that lacks something.
        let after = self.token(start + 2);
        let line_ends = start + 2 >= limit
            || after.first_on_line
            || matches!(after.kind, T::Semicolon | T::Dot | T::BracketOpen | T::Comma);
        if !looks || !line_ends {
            return None;
        }
        let line_end = self.line_end(start).min(limit);
        self.damaged = true;
        if self.said.insert(Said::InstructionsInStatements) {
            self.report(
                Diagnostic::error(
                    "il-in-st",
                    self.span_of(start, line_end),
                    "this is Instruction List, but the body is written in Structured Text",
                )
                .label("an instruction among statements")
                .note("the first line of a body decides its language, and a body is written in one language"),
            );
        }
        Some(line_end)
    }
}

pub(super) fn placed(token: &Token) -> Placed {
    (token.start, Terminal::Lexed(*token), token.end)
}

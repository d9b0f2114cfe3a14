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
    piece::{Failure, Instructed, Piece, PieceKind, Placed, Terminal},
    source::Span,
    tree::{
        Argument, ArgumentKind, Expression, ExpressionKind, Ident, Instruction, InstructionOperator,
        Operation,
    },
};

/// Deepest nesting of parentheses in Instruction List.
const DEFERRED_MAX: usize = 64;

/// The word at the start of an instruction.
struct Head {
    word: Word,
    /// Index behind it.
    end: usize,
    span: Span,
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
        for index in start..end {
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
            (T::Identifier, T::Dot | T::BracketOpen | T::Caret) => {
                let line_end = self.line_end(index).min(end);
                self.slice(index, line_end).iter().any(|token| matches!(token.kind, T::Assign | T::Attempt))
            }
            _ => false,
        }
    }

    /// Instructions up to the end or an unmatched `)`, and where that is.
    fn instruction_lines(
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
            Word::Operator(Terminal::Call(_)) => {
                (head.end..line_end).find(|place| self.kind(*place) == T::ParenthesisOpen)
            }
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

    /// Where the content of a line ends: at its end, or before a `)` that closes a parenthesis around it.
    fn content_end(&self, start: usize, line_end: usize) -> usize {
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

    fn label(&mut self, index: usize) -> Option<Ident> {
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

    fn head_terminals(&self, index: usize, head: &Head) -> Vec<Placed> {
        match head.word {
            Word::Operator(terminal) => vec![(head.span.start, terminal, head.span.end)],
            _ => self.slice(index, head.end).iter().map(placed).collect(),
        }
    }

    /// An instruction on one line.
    fn single(
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

    /// Rules beyond the grammar of an instruction; reports what is wrong.
    fn check_instruction(&mut self, instruction: &Instruction) -> bool {
        match &instruction.operation {
            Some(Operation::Operator { operator, operator_span, operands, .. }) => {
                let is_not = *operator == InstructionOperator::Not;
                if let (true, Some(operand)) = (is_not, operands.first()) {
                    self.report(
                        Diagnostic::error("malformed-instruction", operand.span, "`NOT` has no operand")
                            .label("not allowed here")
                            .note("`NOT` negates the current result; `LDN x` loads a negated operand"),
                    );
                    return false;
                }
                if !is_not && operands.is_empty() {
                    let word = self.text_of(*operator_span);
                    self.report(
                        Diagnostic::error(
                            "malformed-instruction",
                            operator_span.after(),
                            format!("an operand is missing after {}", quote(word)),
                        )
                        .label("expected an operand on this line"),
                    );
                    return false;
                }
                operands.iter().all(|operand| self.check_operand(operand))
            }
            Some(Operation::Function { listed: false, arguments, .. }) => {
                arguments.iter().all(|argument| match &argument.kind {
                    ArgumentKind::Positional(operand) => self.check_operand(operand),
                    _ => true,
                })
            }
            Some(Operation::Function { arguments, .. }) => self.check_arguments(arguments),
            Some(Operation::Call { call, .. }) => self.check_arguments(&call.arguments),
            _ => true,
        }
    }

    fn text_of(&self, span: Span) -> &str {
        self.text.get(span.start as usize..span.end as usize).unwrap_or("")
    }

    fn check_arguments(&mut self, arguments: &[Argument]) -> bool {
        arguments.iter().all(|argument| match &argument.kind {
            ArgumentKind::Positional(value) | ArgumentKind::Input { value, .. } => self.check_operand(value),
            _ => true,
        })
    }

    /// An operand is a variable or a literal, no expression and no call.
    fn check_operand(&mut self, operand: &Expression) -> bool {
        let is_literal = |expression: &Expression| {
            matches!(expression.kind, ExpressionKind::Literal(_) | ExpressionKind::TypedLiteral { .. })
        };
        let what = match &operand.kind {
            ExpressionKind::Unary { operand, .. } if is_literal(operand) => return true,
            ExpressionKind::Unary { .. }
            | ExpressionKind::Binary { .. }
            | ExpressionKind::Parenthesized(_) => "an expression",
            ExpressionKind::Call(_) => "a call",
            _ => return true,
        };
        self.report_expression(operand.span, what);
        false
    }

    fn report_expression(&mut self, span: Span, what: &str) {
        self.report(
            Diagnostic::error(
                "il-expression",
                span,
                format!("an operand of an instruction cannot be {what}"),
            )
            .label("expected a variable or a literal")
            .note("compute it with instructions of its own: `LD a`, `ADD b`"),
        );
    }

    fn report_failure(&mut self, index: usize, head: &Head, terminals: &[Placed], failure: &Failure) {
        use TokenKind as T;
        let place =
            failure.at.map_or(terminals.len(), |byte| terminals.partition_point(|(start, ..)| *start < byte));
        let found = match terminals.get(place) {
            Some((_, Terminal::Lexed(token), _)) => Some(*token),
            _ => None,
        };
        if let Some(token) = found {
            let is_operator = matches!(
                token.kind,
                T::Plus
                    | T::Minus
                    | T::Star
                    | T::Slash
                    | T::Power
                    | T::Ampersand
                    | T::Equal
                    | T::NotEqual
                    | T::Less
                    | T::LessOrEqual
                    | T::Greater
                    | T::GreaterOrEqual
                    | T::And
                    | T::Or
                    | T::Xor
                    | T::Mod
                    | T::Not
            );
            if is_operator && place > 0 && terminals.len() > 1 {
                return self.report_expression(token.span(self.file), "an expression");
            }
        }
        let word = quote(self.text_of(head.span));
        let (message, span) = match found {
            Some(token) => {
                let text = quote(self.text_of(token.span(self.file)));
                let message = match head.word {
                    Word::Operator(Terminal::Return(_)) => format!("{word} has no operand, found {text}"),
                    Word::Operator(Terminal::Jump(_)) if place == 1 => {
                        format!("expected a label after {word}, found {text}")
                    }
                    _ if place == 0 => format!("expected an instruction, found {text}"),
                    _ if place == 1 => format!("expected an operand after {word}, found {text}"),
                    _ => format!("the instruction {word} does not go on with {text}"),
                };
                (message, token.span(self.file))
            }
            None => {
                let end = terminals.last().map_or(head.span.end, |(.., end)| *end);
                let what = match head.word {
                    Word::Operator(Terminal::Jump(_)) => "a label",
                    Word::Operator(Terminal::Call(_)) => "an instance of a function block",
                    _ => "an operand",
                };
                (format!("expected {what} after {word}"), Span::new(self.file, end, end))
            }
        };
        let first_is_odd = place == 0 || matches!(self.kind(index), T::Unreadable);
        self.report(
            Diagnostic::error("malformed-instruction", span, message)
                .label(if first_is_odd { "not an instruction" } else { "not an instruction of this form" })
                .note("an instruction is one line: `label: operator operand, operand`"),
        );
    }

    /// `AND( …` up to its `)` (table 67).
    #[allow(clippy::too_many_arguments, reason = "the parts of one instruction")]
    fn deferred(
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
            if !self.is_behind_unread(close) {
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

    /// Labels, jumps, calls and returns are not possible between parentheses.
    fn check_inside_parenthesis(&mut self, instruction: &Instruction) {
        let what = match (&instruction.label, &instruction.operation) {
            (Some(_), _) => "a label",
            (_, Some(Operation::Jump { .. })) => "a jump",
            (_, Some(Operation::Call { .. })) => "a call",
            (_, Some(Operation::Return { .. })) => "a return",
            _ => return,
        };
        self.damaged = true;
        self.report(
            Diagnostic::error(
                "malformed-instruction",
                instruction.span,
                format!("{what} cannot stand between parentheses"),
            )
            .label("only simple instructions can")
            .note("close the parenthesis first"),
        );
    }

    /// A `)` ends its line; what follows it on the same line is reported.
    fn behind_closing(&mut self, close: usize, end: usize) -> usize {
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
    fn call(
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

fn placed(token: &Token) -> Placed {
    (token.start, Terminal::Lexed(*token), token.end)
}

//! Rules of instructions beyond their grammar (tables 67 to 69), and what to say when one does not fit.

use super::{Parser, instruction_words::Word, instructions::Head, wording::quote};
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    piece::{Failure, Placed, Terminal},
    source::Span,
    tree::{Argument, ArgumentKind, Expression, ExpressionKind, Instruction, InstructionOperator, Operation},
};

impl Parser<'_> {
    /// Rules beyond the grammar of an instruction; reports what is wrong.
    pub(super) fn check_instruction(&mut self, instruction: &Instruction) -> bool {
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

    fn check_arguments(&mut self, arguments: &[Argument]) -> bool {
        arguments.iter().all(|argument| match &argument.kind {
            ArgumentKind::Positional(value) | ArgumentKind::Input { value, .. } => self.check_operand(value),
            _ => true,
        })
    }

    /// An operand is a variable or a literal, no expression and no call.
    pub(super) fn check_operand(&mut self, operand: &Expression) -> bool {
        let is_literal = |expression: &Expression| {
            matches!(expression.kind, ExpressionKind::Literal(_) | ExpressionKind::TypedLiteral { .. })
        };
        let what = match &operand.kind {
            ExpressionKind::Unary { operand, .. } if is_literal(operand) => return true,
            ExpressionKind::Unary { .. }
            | ExpressionKind::Binary { .. }
            | ExpressionKind::Parenthesized(_) => "an expression",
            // `REF(v)` has the form of a call and is a value of its own.
            ExpressionKind::Call(call) if self.text_of(call.callee.span).eq_ignore_ascii_case("REF") => {
                return true;
            }
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

    pub(super) fn report_failure(
        &mut self,
        index: usize,
        head: &Head,
        terminals: &[Placed],
        failure: &Failure,
    ) {
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

    /// Labels, jumps, calls and returns are not possible between parentheses.
    pub(super) fn check_inside_parenthesis(&mut self, instruction: &Instruction) {
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
}

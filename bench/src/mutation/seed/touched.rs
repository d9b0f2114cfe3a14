//! What a piece of a program reads and writes, by the names at the beginning of accesses: whether the order of two pieces
//! can matter.

use std::collections::BTreeSet;

use latchwork_grammar::{
    Sources, Span,
    tree::{
        Argument, ArgumentKind, Call, Expression, ExpressionKind, Instruction, InstructionOperator,
        Operation, Statement, StatementKind,
    },
};

/// Names and addresses, in capital letters.
pub(super) struct Touched<'a> {
    pub(super) sources: &'a Sources,
    pub(super) reads: BTreeSet<String>,
    pub(super) writes: BTreeSet<String>,
}

impl Touched<'_> {
    /// Whether one of two pieces works on what the other one writes.
    pub(super) fn depends(&self, other: &Touched<'_>) -> bool {
        let meets = |one: &BTreeSet<String>, other: &BTreeSet<String>| !one.is_disjoint(other);
        meets(&self.writes, &other.reads)
            || meets(&self.reads, &other.writes)
            || meets(&self.writes, &other.writes)
    }

    pub(super) fn statement(&mut self, statement: &Statement) {
        match &statement.kind {
            StatementKind::Empty | StatementKind::Return | StatementKind::Exit | StatementKind::Continue => {}
            StatementKind::Expression(value) => self.read(value),
            StatementKind::Assignment { target, value, .. } => {
                self.write(target);
                self.read(value);
            }
            StatementKind::Call(call) => self.call(call),
            StatementKind::If { branches, otherwise } => {
                for (condition, body) in branches {
                    self.read(condition);
                    self.statements(body);
                }
                otherwise.iter().for_each(|body| self.statements(body));
            }
            StatementKind::Case { selector, groups, otherwise } => {
                self.read(selector);
                groups.iter().for_each(|group| self.statements(&group.statements));
                otherwise.iter().for_each(|body| self.statements(body));
            }
            StatementKind::For { variable, from, to, by, body } => {
                self.write(variable);
                self.read(from);
                self.read(to);
                by.iter().for_each(|by| self.read(by));
                self.statements(body);
            }
            StatementKind::While { condition, body } | StatementKind::Repeat { body, until: condition } => {
                self.read(condition);
                self.statements(body);
            }
        }
    }

    fn statements(&mut self, statements: &[Statement]) {
        statements.iter().for_each(|statement| self.statement(statement));
    }

    pub(super) fn instruction(&mut self, instruction: &Instruction) {
        match &instruction.operation {
            None | Some(Operation::Jump { .. } | Operation::Return { .. }) => {}
            Some(Operation::Operator { operator, operands, .. }) => {
                use InstructionOperator as O;
                match operator {
                    O::Store | O::StoreAttempt | O::Set | O::Reset => {
                        operands.iter().for_each(|operand| self.write(operand));
                    }
                    _ => operands.iter().for_each(|operand| self.read(operand)),
                }
            }
            Some(Operation::Deferred { first, body, .. }) => {
                first.iter().for_each(|first| self.read(first));
                body.iter().for_each(|inner| self.instruction(inner));
            }
            Some(Operation::Call { call, .. }) => self.call(call),
            Some(Operation::Function { arguments, .. }) => {
                // An input of a block is written through its instance.
                for argument in arguments {
                    if let ArgumentKind::Positional(value) = &argument.kind {
                        self.write(value);
                    }
                }
                self.arguments(arguments);
            }
        }
    }

    /// An instance reads and writes its own state.
    fn call(&mut self, call: &Call) {
        self.read(&call.callee);
        self.write(&call.callee);
        self.arguments(&call.arguments);
    }

    fn arguments(&mut self, arguments: &[Argument]) {
        for argument in arguments {
            match &argument.kind {
                ArgumentKind::Positional(value) | ArgumentKind::Input { value, .. } => self.read(value),
                ArgumentKind::InputInstructions { instructions, .. } => {
                    instructions.iter().for_each(|inner| self.instruction(inner));
                }
                ArgumentKind::Output { target, .. } => self.write(target),
            }
        }
    }

    fn read(&mut self, value: &Expression) {
        match &value.kind {
            ExpressionKind::Name(_) | ExpressionKind::Direct(_) => {
                self.reads.insert(self.word(value.span));
            }
            ExpressionKind::Member { base, .. }
            | ExpressionKind::Partial { base, .. }
            | ExpressionKind::Dereference(base) => self.read(base),
            ExpressionKind::Index { base, subscripts } => {
                self.read(base);
                subscripts.iter().for_each(|subscript| self.read(subscript));
            }
            ExpressionKind::Unary { operand, .. } | ExpressionKind::Parenthesized(operand) => {
                self.read(operand)
            }
            ExpressionKind::Binary { left, right, .. } => {
                self.read(left);
                self.read(right);
            }
            ExpressionKind::Call(call) => self.arguments(&call.arguments),
            ExpressionKind::Literal(_)
            | ExpressionKind::TypedLiteral { .. }
            | ExpressionKind::QualifiedValue { .. }
            | ExpressionKind::This
            | ExpressionKind::Super
            | ExpressionKind::Null => {}
        }
    }

    fn write(&mut self, target: &Expression) {
        match &target.kind {
            ExpressionKind::Name(_) | ExpressionKind::Direct(_) => {
                self.writes.insert(self.word(target.span));
            }
            ExpressionKind::Member { base, .. }
            | ExpressionKind::Partial { base, .. }
            | ExpressionKind::Dereference(base) => self.write(base),
            ExpressionKind::Index { base, subscripts } => {
                self.write(base);
                subscripts.iter().for_each(|subscript| self.read(subscript));
            }
            _ => {}
        }
    }

    fn word(&self, span: Span) -> String {
        self.sources.text(span).to_ascii_uppercase()
    }
}

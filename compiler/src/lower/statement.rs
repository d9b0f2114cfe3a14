//! Statements, one after another. What each kind becomes is in [`super::control`], [`super::block`] and
//! [`super::call`]. Implements IEC 61131-3:2013, table 72.

use latchwork_vm::{Family, Scalar};

use super::{code::Argument, control::ForLoop, unit::Lowering};
use crate::typed::{Expression, ExpressionKind, Statement, StatementKind};

impl Lowering<'_> {
    /// Lowers statements in order.
    pub(super) fn statements(&mut self, statements: &[Statement]) {
        for statement in statements {
            self.span = statement.span;
            if !matches!(statement.kind, StatementKind::Observe(_)) {
                self.code.pause();
                self.note_statement(statement);
            }
            self.statement(statement);
        }
    }

    fn statement(&mut self, statement: &Statement) {
        match &statement.kind {
            StatementKind::Assign { target, value } => self.observed_assignment(target, value),
            StatementKind::CallBlock(call) => self.call_block(call),
            StatementKind::Evaluate(value) => self.evaluate_only(value),
            StatementKind::If { branches, otherwise } => {
                self.if_statement(branches, otherwise, statement.span);
            }
            StatementKind::Case { selector, groups, otherwise } => {
                self.case_statement(selector, groups, otherwise);
            }
            StatementKind::For { variable, from, to, by, body } => {
                self.span = variable.span.to(to.span);
                self.for_loop(ForLoop { variable, from, to, by, body });
            }
            StatementKind::While { condition, body } => self.while_loop(condition, body),
            StatementKind::Repeat { body, until } => self.repeat_loop(body, until),
            StatementKind::Exit => match self.loops.last() {
                Some(labels) => {
                    let exit = labels.exit;
                    self.emit(Family::Jump, Scalar::U8, &[exit.into()]);
                }
                None => self.internal("EXIT outside a loop"),
            },
            StatementKind::Continue => match self.loops.last() {
                Some(labels) => {
                    let next = labels.next;
                    self.emit(Family::Jump, Scalar::U8, &[next.into()]);
                }
                None => self.internal("CONTINUE outside a loop"),
            },
            StatementKind::Return => self.emit(Family::Return, Scalar::U8, &[]),
            StatementKind::Label(number) => match self.labels.get(*number as usize) {
                Some(label) => {
                    self.code.bind(*label);
                    self.forget_results();
                }
                None => self.internal("a label has no number"),
            },
            StatementKind::Jump { label, condition } => {
                self.jump(*label, condition.as_ref(), statement.span);
            }
            StatementKind::Observe(observation) => self.observation(*observation, statement.span),
            StatementKind::Event(kind) => {
                self.emit(Family::Event, Scalar::U8, &[Argument::Immediate(kind.code())]);
            }
        }
    }

    /// A function called for its effects.
    fn evaluate_only(&mut self, value: &Expression) {
        let mark = self.top;
        match &value.kind {
            ExpressionKind::Function(call) => {
                self.span = value.span;
                self.call_function(call);
            }
            ExpressionKind::Outputs(call) => {
                self.span = value.span;
                self.call_outputs(call);
            }
            _ if self.scalar_of(value.ty).is_some() => {
                self.operand(value);
            }
            _ => {
                self.region(value);
            }
        }
        self.top = mark;
    }
}

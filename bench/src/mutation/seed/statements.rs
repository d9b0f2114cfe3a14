//! Faults in statements of Structured Text.

use std::collections::BTreeSet;

use latchwork_grammar::{
    Span,
    tree::{Expression, ExpressionKind, Statement, StatementKind, UnaryOperator},
};

use super::{MOVED_BYTES_MAX, Seeder, blocks::Language, touched::Touched};
use crate::mutation::kind::MutantKind;

impl Seeder<'_, '_> {
    pub(super) fn statements(&mut self, statements: &[Statement]) {
        for statement in statements {
            self.statement(statement);
        }
        for pair in statements.windows(2) {
            if let [first, second] = pair {
                self.neighbours(first, second);
            }
        }
    }

    fn statement(&mut self, statement: &Statement) {
        let span = statement.span;
        match &statement.kind {
            StatementKind::Empty | StatementKind::Expression(_) => {}
            StatementKind::Assignment { target, attempt, value, .. } => {
                self.deleted(span);
                self.output(target);
                self.assigned(value, target.span);
                // What is a contact, or begins with NOT, has this fault as one of its contact.
                let has_it = matches!(
                    value.kind,
                    ExpressionKind::Name(_)
                        | ExpressionKind::Member { .. }
                        | ExpressionKind::Direct(_)
                        | ExpressionKind::Index { .. }
                        | ExpressionKind::Literal(_)
                        | ExpressionKind::Unary { .. }
                );
                if !attempt && !has_it && self.scope.is_boolean(value) {
                    self.negated(MutantKind::CoilNegated, value);
                }
            }
            StatementKind::Call(call) => {
                self.deleted(span);
                self.call(call, Language::StructuredText);
            }
            StatementKind::Return | StatementKind::Exit | StatementKind::Continue => self.deleted(span),
            StatementKind::If { branches, otherwise } => {
                for (condition, body) in branches {
                    self.condition(condition);
                    self.statements(body);
                }
                otherwise.iter().for_each(|body| self.statements(body));
            }
            StatementKind::Case { selector, groups, otherwise } => {
                self.expression(selector);
                for group in groups {
                    for label in &group.labels {
                        self.expression(&label.first);
                        label.last.iter().for_each(|last| self.expression(last));
                    }
                    self.statements(&group.statements);
                }
                otherwise.iter().for_each(|body| self.statements(body));
            }
            StatementKind::For { from, to, by, body, .. } => {
                self.expression(from);
                self.expression(to);
                by.iter().for_each(|by| self.expression(by));
                self.statements(body);
            }
            StatementKind::While { condition, body } => {
                self.condition(condition);
                self.statements(body);
            }
            StatementKind::Repeat { body, until } => {
                self.statements(body);
                self.condition(until);
            }
        }
    }

    /// The condition of a block or transition.
    pub(super) fn condition(&mut self, condition: &Expression) {
        match &condition.kind {
            // Without its NOT it is turned round.
            ExpressionKind::Unary { operator: UnaryOperator::Not, .. } => self.expression(condition),
            _ => {
                self.negated(MutantKind::ConditionNegated, condition);
                self.turned_round(condition);
            }
        }
    }

    fn negated(&mut self, kind: MutantKind, value: &Expression) {
        let text = format!("NOT ({})", self.text(value.span));
        if text.len() <= MOVED_BYTES_MAX {
            let words = format!("`NOT` put in front of the whole of `{}`", self.quoted(value.span));
            self.push(kind, value.span, text, words);
        }
    }

    /// What an assignment or a call writes.
    pub(super) fn output(&mut self, target: &Expression) {
        self.subscripts(target);
        if let ExpressionKind::Name(name) = target.kind
            && let Some(other) = self.scope.other_output(name).map(str::to_owned)
        {
            self.become_other(MutantKind::OutputReplaced, target.span, other);
        }
    }

    /// With its semicolon, if that comes next.
    pub(super) fn deleted(&mut self, span: Span) {
        let text = &self.walk.sources.file(span.file).text;
        let rest = text.get(span.end as usize..).unwrap_or("");
        let behind = rest.trim_start();
        let gap = (rest.len() - behind.len()) as u32;
        let end = if behind.starts_with(';') { span.end + gap + 1 } else { span.end };
        self.leave_out(MutantKind::StatementDeleted, Span::new(span.file, span.start, end), span);
    }

    /// Two neighbours in the other order, if that could make a difference.
    fn neighbours(&mut self, first: &Statement, second: &Statement) {
        let (one, other) = (first.span, second.span);
        let whole = one.to(other);
        if (whole.end - whole.start) as usize > MOVED_BYTES_MAX {
            return;
        }
        let is_moved = |kind: &StatementKind| {
            !matches!(
                kind,
                StatementKind::Empty | StatementKind::Return | StatementKind::Exit | StatementKind::Continue
            )
        };
        if !is_moved(&first.kind) || !is_moved(&second.kind) {
            return;
        }
        let touched = |statement: &Statement| {
            let mut touched =
                Touched { sources: self.walk.sources, reads: BTreeSet::new(), writes: BTreeSet::new() };
            touched.statement(statement);
            touched
        };
        if touched(first).depends(&touched(second)) {
            let between = self.text(Span::new(one.file, one.end, other.start));
            let text = [self.text(other), between, self.text(one)].concat();
            self.exchanged(one, other, text);
        }
    }

    /// Notes that two pieces of the text stand in the other order.
    pub(super) fn exchanged(&mut self, one: Span, other: Span, text: String) {
        let words = format!("`{}` stands before `{}`", self.quoted(other), self.quoted(one));
        self.push(MutantKind::StatementsSwapped, one.to(other), text, words);
    }
}

//! IF: conditional instructions where the branch is one of them, jumps over the branch otherwise.

use latchwork_grammar::{
    Literal,
    tree::{Expression, ExpressionKind, Statement, StatementKind},
};
use latchwork_vm::ElementaryType as E;

use super::{
    Writer,
    expression::{bare, negated},
    lines::LabelId,
};
use crate::rewrite::refusal::Refusal;

impl Writer<'_> {
    /// IF with its branches.
    pub(super) fn branches(
        &mut self,
        branches: &[(Expression, Vec<Statement>)],
        otherwise: Option<&[Statement]>,
    ) -> Result<(), Refusal> {
        let otherwise = otherwise.filter(|statements| !is_empty(statements));
        if let ([(condition, body)], None) = (branches, otherwise)
            && self.conditional(condition, body)?
        {
            return Ok(());
        }
        let end = self.labels.make("IfEnd");
        for (at, (condition, body)) in branches.iter().enumerate() {
            let last = at + 1 == branches.len();
            let next = match (last, otherwise) {
                (false, _) => self.labels.make("IfElse"),
                (true, Some(_)) => self.labels.make("IfElse"),
                (true, None) => end,
            };
            self.jump_unless(condition, next)?;
            self.statements(body)?;
            if !last || otherwise.is_some() {
                let place = body.last().map_or(condition.span.end, |statement| statement.span.end);
                self.jump_always(end, place);
                self.place(next);
            }
        }
        if let Some(statements) = otherwise {
            self.statements(statements)?;
        }
        self.place(end);
        Ok(())
    }

    /// Jumps if a condition is FALSE.
    pub(super) fn jump_unless(&mut self, condition: &Expression, label: LabelId) -> Result<(), Refusal> {
        let place = condition.span.end;
        match negated(condition) {
            Some(inner) => {
                self.load(inner)?;
                self.jump("JMPC", label, place);
            }
            None => {
                self.load(condition)?;
                self.jump("JMPCN", label, place);
            }
        }
        Ok(())
    }

    /// Loads a condition or what it negates; whether it was negated.
    fn load_condition(&mut self, condition: &Expression) -> Result<bool, Refusal> {
        let inner = negated(condition);
        self.load(inner.unwrap_or(condition))?;
        Ok(inner.is_some())
    }

    /// A branch that conditional instructions can say; `false` if they cannot.
    fn conditional(&mut self, condition: &Expression, body: &[Statement]) -> Result<bool, Refusal> {
        if !body.is_empty() && body.iter().all(|statement| self.sets(statement).is_some()) {
            self.load(condition)?;
            for statement in body {
                if let Some((operator, target)) = self.sets(statement) {
                    let operand = self.operand(target);
                    self.instruction(operator, &operand, statement.span);
                }
            }
            return Ok(true);
        }
        let [only] = body else { return Ok(false) };
        match &only.kind {
            StatementKind::Return => {
                let negated = self.load_condition(condition)?;
                self.instruction(if negated { "RETCN" } else { "RETC" }, "", only.span);
                Ok(true)
            }
            StatementKind::Exit | StatementKind::Continue => {
                let Some(around) = self.loops.last().copied() else { return Ok(false) };
                let label = if matches!(only.kind, StatementKind::Exit) { around.end } else { around.next };
                let negated = self.load_condition(condition)?;
                self.jump(if negated { "JMPCN" } else { "JMPC" }, label, only.span.start);
                Ok(true)
            }
            StatementKind::Call(call) if self.is_called_by_cal(call) => {
                let negated = self.load_condition(condition)?;
                self.call(if negated { "CALCN" } else { "CALC" }, call)?;
                Ok(true)
            }
            _ => Ok(false),
        }
    }

    /// `S` or `R` with its operand, if a statement assigns TRUE or FALSE.
    fn sets<'s>(&self, statement: &'s Statement) -> Option<(&'static str, &'s Expression)> {
        let StatementKind::Assignment { target, attempt: false, value, .. } = &statement.kind else {
            return None;
        };
        let ExpressionKind::Literal(Literal::Boolean(value)) = bare(value).kind else { return None };
        (self.facts.elementary_at(target.span) == Some(E::Bool))
            .then_some((if value { "S" } else { "R" }, target))
    }
}

/// Whether statements do nothing.
fn is_empty(statements: &[Statement]) -> bool {
    statements.iter().all(|statement| matches!(statement.kind, StatementKind::Empty))
}

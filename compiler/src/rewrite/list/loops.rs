//! WHILE and REPEAT: a label at the head, a jump back at the end.

use latchwork_grammar::{
    Literal, Span,
    tree::{Expression, ExpressionKind, Statement},
};

use super::{
    Loop, Writer,
    expression::{bare, negated},
};
use crate::rewrite::refusal::Refusal;

impl Writer<'_> {
    /// WHILE: the test stands at the head.
    pub(super) fn while_loop(
        &mut self,
        condition: &Expression,
        body: &[Statement],
        span: Span,
    ) -> Result<(), Refusal> {
        let (head, end) = (self.labels.make("Loop"), self.labels.make("LoopEnd"));
        self.place(head);
        if !is_true(condition) {
            self.jump_unless(condition, end)?;
        }
        self.loops.push(Loop { end, next: head });
        self.statements(body)?;
        self.loops.pop();
        self.jump_always(head, span.end);
        self.place(end);
        Ok(())
    }

    /// REPEAT: the test stands at the end.
    pub(super) fn repeat_loop(&mut self, body: &[Statement], until: &Expression) -> Result<(), Refusal> {
        let head = self.labels.make("Loop");
        let (next, end) = (self.labels.make("Next"), self.labels.make("LoopEnd"));
        self.place(head);
        self.loops.push(Loop { end, next });
        self.statements(body)?;
        self.loops.pop();
        self.place(next);
        let inner = negated(until);
        self.load(inner.unwrap_or(until))?;
        self.jump(if inner.is_some() { "JMPC" } else { "JMPCN" }, head, until.span.end);
        self.place(end);
        Ok(())
    }
}

/// Whether a loop asks nothing: `WHILE TRUE`.
fn is_true(condition: &Expression) -> bool {
    matches!(bare(condition).kind, ExpressionKind::Literal(Literal::Boolean(true)))
}

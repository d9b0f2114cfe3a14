//! FOR: the control variable is set, tested at the head and stepped at the end.
//!
//! The final value is evaluated once, before the first pass, and the loop also ends where the next step would leave the
//! type of the control variable. Where neither can be seen from the text, the final value is kept in a variable, and a
//! test before the step asks for the end of the type.

use latchwork_grammar::{
    Span,
    tree::{Expression, ExpressionKind, Statement},
};

use super::{Loop, Writer, expression::bare};
use crate::rewrite::{names, refusal::Refusal};

impl Writer<'_> {
    /// FOR with its rules.
    pub(super) fn counted(
        &mut self,
        variable: &Expression,
        from: &Expression,
        to: &Expression,
        by: Option<&Expression>,
        body: &[Statement],
        span: Span,
    ) -> Result<(), Refusal> {
        let control = self.operand(variable);
        let step = match by {
            None => 1,
            Some(by) => self.facts.integer_at(bare(by).span).filter(|step| *step != 0).ok_or_else(|| {
                Refusal::new(
                    by.span,
                    "a step that is known only when the loop runs, so that nobody can tell which way it counts",
                    "give the step as a constant, or write the loop as a WHILE",
                )
            })?,
        };
        let range = self.facts.type_at(variable.span).and_then(|ty| self.facts.integer_range(ty));
        let final_text = self.bounds(variable, &control, from, to, body)?;
        let (head, end) = (self.labels.make("Loop"), self.labels.make("LoopEnd"));
        let next = self.labels.make("Next");
        self.place(head);
        // Nothing lies beyond the end of the type.
        let last = self.facts.integer_at(bare(to).span);
        let to_the_end =
            range.is_some_and(|(lower, upper)| last == Some(if step > 0 { upper } else { lower }));
        if !to_the_end {
            self.instruction("LD", &control, to.span);
            self.instruction(if step > 0 { "GT" } else { "LT" }, &final_text, to.span);
            self.jump("JMPC", end, by.map_or(to.span.end, |by| by.span.end));
        }
        self.loops.push(Loop { end, next });
        self.statements(body)?;
        self.loops.pop();
        let close = span.after();
        self.place(next);
        if let Some((lower, upper)) = range
            && self.may_leave(to, step, (lower, upper))
        {
            self.instruction("LD", &control, close);
            let (operator, limit) = if step > 0 { ("GT", upper - step) } else { ("LT", lower - step) };
            self.instruction(operator, &limit.to_string(), close);
            self.jump("JMPC", end, close.end);
        }
        self.instruction("LD", &control, close);
        match by.map(|by| (by, self.operand(by))) {
            // A constant with a name keeps it.
            Some((by, text)) if matches!(bare(by).kind, ExpressionKind::Name(_)) => {
                self.instruction("ADD", &text, close);
            }
            _ => {
                let operator = if step > 0 { "ADD" } else { "SUB" };
                self.instruction(operator, &step.unsigned_abs().to_string(), close);
            }
        }
        self.instruction("ST", &control, close);
        self.jump_always(head, close.end);
        self.place(end);
        Ok(())
    }

    /// Sets the control variable, and gives the operand for the final value.
    fn bounds(
        &mut self,
        variable: &Expression,
        control: &str,
        from: &Expression,
        to: &Expression,
        body: &[Statement],
    ) -> Result<String, Refusal> {
        let constant = self.facts.integer_at(bare(to).span).is_some();
        let stays = match &bare(to).kind {
            ExpressionKind::Name(name) => {
                let control = names::root(variable);
                Some(*name) != control && self.scope.is_own(*name) && !names::may_write(body, *name)
            }
            _ => false,
        };
        if self.is_operand(to) && (constant || stays) {
            self.load(from)?;
            self.prefix = None;
            self.instruction("ST", control, from.span.after());
            return Ok(self.operand(to));
        }
        let kept = self.variable("Last", variable.span)?;
        let mentions = names::root(variable).is_some_and(|name| names::mentions(to, name));
        let first: [(&Expression, &str); 2] = if mentions {
            [(to, kept.as_str()), (from, control)]
        } else {
            [(from, control), (to, kept.as_str())]
        };
        for (value, target) in first {
            self.load(value)?;
            self.prefix = None;
            self.instruction("ST", target, value.span.after());
        }
        Ok(kept)
    }

    /// Whether a step beyond the final value may leave the type of the control variable.
    fn may_leave(&self, to: &Expression, step: i128, (lower, upper): (i128, i128)) -> bool {
        let (least, most) = match self.facts.integer_at(bare(to).span) {
            Some(value) => (value, value),
            None => {
                let ty = self.facts.type_at(bare(to).span);
                ty.and_then(|ty| self.facts.integer_range(ty)).unwrap_or((lower, upper))
            }
        };
        if step > 0 { most + step > upper } else { least + step < lower }
    }
}

//! Stores in Instruction List, and where a result stays that is used again after them.

use latchwork_grammar::{
    Span,
    tree::{Expression, Instruction, InstructionOperator, Operation},
};

use super::{
    fold::{Current, Folder},
    item::ItemKind,
    value::{self, Value},
};
use crate::{
    rewrite::{facts::NewVariable, refusal::Refusal},
    types::TypeId,
};

impl Folder<'_> {
    /// Keeps the current result in a new variable, unless it can never change.
    pub(super) fn keep(&mut self) -> Result<(), Refusal> {
        let Current::Value(value, span) = &self.current else { return Ok(()) };
        if value.is_literal() {
            return Ok(());
        }
        let (value, span) = (value.clone(), *span);
        let (target, _) = self.variable(span)?;
        self.emit(ItemKind::Assign { target: target.clone(), value, attempt: false, kind: None });
        self.current = Current::Value(kept(target), span);
        self.chain = 0;
        Ok(())
    }

    /// A new variable of the type of what stands at a place.
    pub(super) fn variable(&mut self, typed: Span) -> Result<(String, TypeId), Refusal> {
        let known = self.facts.type_at(typed);
        let Some((ty, type_text)) = known.and_then(|ty| Some((ty, self.facts.type_text(ty)?))) else {
            return Err(Refusal::new(
                typed,
                "this result is used again later and would have to be kept, but its type has no name",
                "store it in a variable of its own first",
            ));
        };
        let name = self.fresh.give("Result");
        self.variables.push(NewVariable { name: name.clone(), type_text });
        Ok((name, ty))
    }

    /// `ST`, `STN`, `ST?`.
    pub(super) fn store(
        &mut self,
        target: &Expression,
        negated: bool,
        attempt: bool,
        live: bool,
    ) -> Result<(), Refusal> {
        let (mut value, span) = self.take()?;
        let place = value::written(target, self.scope);
        let text = self.text(target.span);
        let not = |value: Value| if negated { Value::Not(Box::new(value)) } else { value };
        let mut after = Current::Nothing;
        if live {
            let stays = !value.acts() && !value.depends_on(&place) && value.is_short();
            let same = !attempt
                && self.facts.type_at(span).is_some()
                && self.facts.type_at(span) == self.facts.type_at(target.span);
            if stays {
                after = Current::Value(value.clone(), span);
            } else if same && !value.is_literal() {
                // What was stored can be read again.
                after = Current::Value(not(self.operand(target)), span);
            } else if !value.is_literal() {
                let (name, _) = self.variable(span)?;
                self.emit(ItemKind::Assign { target: name.clone(), value, attempt: false, kind: None });
                value = kept(name);
                after = Current::Value(value.clone(), span);
            } else {
                after = Current::Value(value.clone(), span);
            }
        }
        let kind = self.facts.type_at(target.span);
        self.emit(ItemKind::Assign { target: text, value: not(value), attempt, kind });
        self.current = after;
        self.chain = 0;
        Ok(())
    }

    /// `S` and `R` in a row: what one result sets and resets is one branch.
    pub(super) fn set(&mut self, run: &[Instruction], live: bool) -> Result<(), Refusal> {
        let mut targets = Vec::with_capacity(run.len());
        let mut places = Vec::with_capacity(run.len());
        for instruction in run {
            if let Some((target, to)) = set_target(instruction) {
                targets.push((self.text(target.span), to));
                places.push(value::written(target, self.scope));
            }
        }
        let end = run.last().map_or(self.at, |last| last.span);
        let start = self.at;
        if live
            && let Current::Value(value, _) = &self.current
            && (!value.is_short() || value.acts() || places.iter().any(|place| value.depends_on(place)))
        {
            self.keep()?;
        }
        self.at = Span::new(start.file, start.start, end.end);
        let (condition, span) = self.take()?;
        self.emit(ItemKind::Set { condition: condition.clone(), targets });
        if live {
            self.current = Current::Value(condition, span);
        }
        Ok(())
    }

    /// How many instructions from one on set or reset variables by the same result.
    pub(super) fn set_run(&self, instructions: &[Instruction]) -> usize {
        let sets = |(at, instruction): &(usize, &Instruction)| {
            (*at == 0 || instruction.label.is_none())
                && set_target(instruction)
                    .is_some_and(|(target, _)| self.facts.standard_block_at(target.span).is_none())
        };
        instructions.iter().enumerate().take_while(sets).count()
    }
}

/// A new variable as a value.
pub(super) fn kept(name: String) -> Value {
    // Nothing else writes it.
    Value::Access { text: name, reads: Vec::new(), may_fail: false }
}

/// The target of `S` or `R`, and whether it is set.
fn set_target(instruction: &Instruction) -> Option<(&Expression, bool)> {
    match &instruction.operation {
        Some(Operation::Operator { operator, operands, .. }) => match (operator, operands.as_slice()) {
            (InstructionOperator::Set, [target]) => Some((target, true)),
            (InstructionOperator::Reset, [target]) => Some((target, false)),
            _ => None,
        },
        _ => None,
    }
}

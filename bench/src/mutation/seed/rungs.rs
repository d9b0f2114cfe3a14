//! The rungs of an instruction list: from where the current result is made anew to where that happens next.

use std::collections::BTreeSet;

use latchwork_grammar::{
    Span,
    tree::{Condition, Instruction, InstructionOperator, Operation},
};

use super::{MOVED_BYTES_MAX, Seeder, instructions::start, touched::Touched};

/// The instructions in rungs.
pub(super) fn rungs(instructions: &[Instruction]) -> impl Iterator<Item = &[Instruction]> {
    let begins = |instruction: &Instruction| {
        instruction.label.is_some()
            || match &instruction.operation {
                Some(Operation::Operator { operator, .. }) => *operator == InstructionOperator::Load,
                Some(Operation::Call { condition, .. }) => *condition == Condition::Always,
                Some(Operation::Function { listed, .. }) => *listed,
                _ => false,
            }
    };
    instructions.chunk_by(move |_, next| !begins(next))
}

/// What a rung stores into.
pub(super) fn targets(rung: &[Instruction]) -> Vec<Span> {
    let stored = rung.iter().filter_map(|instruction| match &instruction.operation {
        Some(Operation::Operator { operator: InstructionOperator::Store, operands, .. }) => Some(operands),
        _ => None,
    });
    stored.flatten().map(|operand| operand.span).collect()
}

impl Seeder<'_, '_> {
    /// Two neighbours in the other order, if that could make a difference.
    pub(super) fn exchanged_rungs(&mut self, instructions: &[Instruction]) {
        let rungs: Vec<&[Instruction]> = rungs(instructions).collect();
        for pair in rungs.windows(2) {
            let [first, second] = pair else { continue };
            let (Some(one), Some(other)) = (straight(first), straight(second)) else { continue };
            let whole = one.to(other);
            if (whole.end - whole.start) as usize > MOVED_BYTES_MAX {
                continue;
            }
            let touched = |rung: &[Instruction]| {
                let mut touched =
                    Touched { sources: self.walk.sources, reads: BTreeSet::new(), writes: BTreeSet::new() };
                rung.iter().for_each(|instruction| touched.instruction(instruction));
                touched
            };
            if touched(first).depends(&touched(second)) {
                let between = self.text(Span::new(one.file, one.end, other.start));
                let text = [self.text(other), between, self.text(one)].concat();
                self.exchanged(one, other, text);
            }
        }
    }
}

/// The place of a rung that is run from its beginning to its end whenever it is run.
fn straight(rung: &[Instruction]) -> Option<Span> {
    let jumps = |instruction: &Instruction| {
        instruction.label.is_some()
            || matches!(instruction.operation, None | Some(Operation::Jump { .. } | Operation::Return { .. }))
    };
    if rung.iter().any(jumps) {
        return None;
    }
    let first = rung.first()?;
    let last = rung.last()?;
    let begin = start(first.operation.as_ref()?);
    Some(Span::new(first.span.file, begin, last.span.end))
}

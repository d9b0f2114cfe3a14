//! Whether the current result is still needed at a place: decides if it must be stored before a statement.

use std::collections::BTreeMap;

use latchwork_grammar::tree::{Condition, Instruction, InstructionOperator, Operation};

/// What is known about each instruction of a list.
pub(crate) struct Liveness(Vec<bool>);

impl Liveness {
    /// Follows every way through a list. Each instruction is looked at once, however the jumps are chained.
    pub(crate) fn of(instructions: &[Instruction]) -> Self {
        let mut labels = BTreeMap::new();
        for (index, instruction) in instructions.iter().enumerate() {
            if let Some(label) = instruction.label {
                // Of two equal labels the first counts.
                labels.entry(label.name).or_insert(index);
            }
        }
        let mut known: Vec<Option<bool>> = vec![None; instructions.len()];
        let mut way = Vec::new();
        for from in 0..instructions.len() {
            let mut index = from;
            let live = loop {
                let Some(instruction) = instructions.get(index) else { break false };
                match known.get_mut(index) {
                    // An endless chain of jumps comes back to an instruction of its own way: it uses nothing.
                    Some(Some(live)) => break *live,
                    Some(unknown) => *unknown = Some(false),
                    None => break false,
                }
                way.push(index);
                match &instruction.operation {
                    None => index += 1,
                    Some(Operation::Jump { condition: Condition::Always, label, .. }) => {
                        match labels.get(&label.name) {
                            Some(target) => index = *target,
                            None => break false,
                        }
                    }
                    Some(operation) => break uses(operation),
                }
            };
            for passed in way.drain(..) {
                if let Some(known) = known.get_mut(passed) {
                    *known = Some(live);
                }
            }
        }
        Liveness(known.into_iter().map(|live| live == Some(true)).collect())
    }

    /// Whether the current result that arrives at an instruction is used before another one replaces it.
    pub(crate) fn at(&self, index: usize) -> bool {
        self.0.get(index).copied().unwrap_or(false)
    }
}

/// Whether an operation works on the current result that arrives at it.
fn uses(operation: &Operation) -> bool {
    match operation {
        Operation::Operator { operator: InstructionOperator::Load, .. } => false,
        Operation::Operator { .. } | Operation::Deferred { .. } => true,
        Operation::Jump { condition, .. }
        | Operation::Call { condition, .. }
        | Operation::Return { condition, .. } => *condition != Condition::Always,
        Operation::Function { listed, .. } => !listed,
    }
}

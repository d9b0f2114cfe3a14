//! Whether the current result is still needed at a place: decides if it must be stored before a statement.

use latchwork_grammar::tree::{Condition, Instruction, InstructionOperator, Operation};

/// Whether the current result that arrives at an instruction is used before another one replaces it.
pub(super) fn is_live(instructions: &[Instruction], from: usize) -> bool {
    let mut index = from;
    // An endless chain of jumps uses nothing; every step forward or jump is counted.
    for _ in 0..=instructions.len() {
        let Some(instruction) = instructions.get(index) else { return false };
        match &instruction.operation {
            None => index += 1,
            Some(Operation::Jump { condition: Condition::Always, label, .. }) => {
                let target = instructions
                    .iter()
                    .position(|instruction| instruction.label.is_some_and(|other| other.name == label.name));
                match target {
                    Some(target) => index = target,
                    None => return false,
                }
            }
            Some(operation) => return uses(operation),
        }
    }
    false
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

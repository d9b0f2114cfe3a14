//! Instruction List as the condition of a transition: the current result at its end is the condition.
//!
//! Source: IEC 61131-3:2013, 6.7.3, table 55. The instructions compute and do nothing else, so that there are no
//! stores, jumps, calls and returns among them.

use latchwork_grammar::{
    Span,
    tree::{ArgumentKind, Instruction, InstructionOperator, Operation},
};

use super::{Current, Flow, Undefined, liveness::Liveness};
use crate::{
    check::Checker,
    typed::{Expression, Statement},
};

impl<'a> Checker<'a> {
    /// What computes a condition, and the condition; `None` after a report.
    pub(crate) fn instruction_condition(
        &mut self,
        instructions: &[Instruction],
        heading: Span,
    ) -> Option<(Vec<Statement>, Expression)> {
        let mut sound = true;
        for instruction in instructions {
            sound &= self.only_computes(instruction);
        }
        if !sound {
            return None;
        }
        let mut flow = Flow {
            current: Current::Undefined(Undefined::Start),
            chain: 0,
            statements: Vec::new(),
            nesting: 0,
        };
        let liveness = Liveness::of(instructions);
        for (index, instruction) in instructions.iter().enumerate() {
            let Some(operation) = &instruction.operation else { continue };
            let live = index + 1 == instructions.len() || liveness.at(index + 1);
            self.instruction(&mut flow, None, operation, instruction.span, live);
        }
        let place = instructions.last().map_or(heading, |last| last.span);
        let value = self.decision(&mut flow, "TRANSITION", place)?;
        Some((flow.statements, value))
    }

    /// Whether an instruction does nothing but compute; reports it otherwise.
    fn only_computes(&mut self, instruction: &Instruction) -> bool {
        use InstructionOperator::{Reset, Set, Store, StoreAttempt};
        let before = instruction.label.map(|label| (label.span, "nothing can jump in a condition"));
        let operation = instruction.operation.as_ref().and_then(|operation| match operation {
            Operation::Operator { operator: Store | Set | Reset | StoreAttempt, operator_span, .. } => {
                Some((*operator_span, "this instruction writes a variable"))
            }
            Operation::Jump { operator_span, .. } => {
                Some((*operator_span, "nothing can jump in a condition"))
            }
            Operation::Call { operator_span, .. } => Some((*operator_span, "a function block has a memory")),
            Operation::Return { operator_span, .. } => {
                Some((*operator_span, "the condition ends with its last instruction"))
            }
            Operation::Function { name, arguments, .. } => {
                let instance = match arguments.as_slice() {
                    [only] => match &only.kind {
                        ArgumentKind::Positional(target) => self.is_standard_instance(target),
                        _ => false,
                    },
                    _ => false,
                };
                instance.then_some((name.span, "this instruction writes an input of a function block"))
            }
            _ => None,
        });
        let Some((span, label)) = before.or(operation) else { return true };
        self.report_effect(span, label);
        false
    }
}

//! The matched dispatcher: a loop with a match over the opcode, checked access, instructions counted one by one.
//!
//! It runs in every build and on every target, and it is the judge of the threaded dispatcher.

use super::access::Checked;
use super::handlers::{self, Handler as _, scalar_types};
use super::observer::Observer;
use super::{Exit, Frame, Outcome, RunState, Start, Step, Stop};
use crate::fault::FaultKind;
use crate::instruction::table::for_each_instruction;
use crate::instruction::{Family, Opcode};
use crate::program::Program;
use crate::types::{ElementaryType, Scalar};
use crate::value::Value;

macro_rules! define_execute {
    ($($family:ident $mnemonic:literal [$($scalar:ident)*] [$($operand:ident)*] $cost:literal [$($raises:ident)*]
        $handler:ident $summary:literal;)*) => {
        /// Runs one instruction.
        pub(crate) fn execute(opcode: Opcode, operands: &[u32; 4], access: &mut Checked<'_>) -> Outcome {
            match (opcode.family(), opcode.scalar()) {
                $($(
                    (Family::$family, Scalar::$scalar) => {
                        handlers::$handler::<scalar_types::$scalar>::run(access, operands)
                    }
                )*)*
                // `Opcode::new` makes no other pairs.
                _ => Err(access.observer.fault(FaultKind::Address, Vec::new)),
            }
        }
    };
}

for_each_instruction!(define_execute);

/// Runs one instruction and checks that it stayed inside the data image. The number is what it charged.
pub(crate) fn step(
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    index: u32,
    base: u32,
) -> (Outcome, u64) {
    let code = program.code();
    let observer = Observer { program, state, instruction: index };
    let mut access = Checked::new(data, base, observer);
    let (Some(opcode), Some(record)) = (code.opcodes.get(index as usize), code.records.get(index as usize))
    else {
        return (Err(access.observer.fault(FaultKind::Address, Vec::new)), 0);
    };
    let mut outcome = execute(*opcode, &record.operands, &mut access);
    if access.outside && outcome.is_ok() {
        outcome = Err(access.observer.fault(FaultKind::Address, Vec::new));
    }
    (outcome, access.charged)
}

/// Records that the budget is used up at an instruction.
pub(crate) fn watchdog(program: &Program, state: &mut RunState, index: u32) {
    let budget = Value::Unsigned(state.budget, ElementaryType::Ulint);
    Observer { program, state, instruction: index }
        .fault(FaultKind::Watchdog, || vec![("budget".to_owned(), budget)]);
}

/// Runs one program from its first instruction to its end.
pub(crate) fn run(
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    stack: &mut [Frame],
    start: Start,
) -> Exit {
    let code = program.code();
    let budget = state.budget;
    let Start { mut index, mut base, mut executed } = start;
    let mut depth = 0usize;
    loop {
        let prefix = |index: u32| code.records.get(index as usize).map_or(0, |record| record.prefix);
        let cost = prefix(index + 1).saturating_sub(prefix(index));
        let (outcome, charged) = step(program, data, state, index, base);
        executed = executed.saturating_add(u64::from(cost)).saturating_add(charged);
        let here = index;
        match outcome {
            Ok(Step::Next) => {
                index += 1;
                continue;
            }
            Ok(Step::Jump(distance)) => index = index.wrapping_add(distance),
            Ok(Step::Call { distance, base: callee }) => {
                let Some(frame) = stack.get_mut(depth) else {
                    Observer { program, state, instruction: here }.fault(FaultKind::CallDepth, Vec::new);
                    return Exit { executed, faulted: true };
                };
                *frame = Frame { index: index + 1, base };
                depth += 1;
                index = index.wrapping_add(distance);
                base = callee;
            }
            Ok(Step::Return) => {
                let Some(frame) = depth.checked_sub(1).and_then(|top| stack.get(top)) else {
                    return Exit { executed, faulted: false };
                };
                depth -= 1;
                Frame { index, base } = *frame;
                continue;
            }
            Err(Stop::Fault | Stop::Slow) => return Exit { executed, faulted: true },
        }
        if executed > budget {
            watchdog(program, state, here);
            return Exit { executed, faulted: true };
        }
    }
}

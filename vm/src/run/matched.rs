//! The matched dispatcher: a loop with a match over the opcode, checked access, instructions counted one by one.
//!
//! It runs in every build and on every target, and it is the judge of the threaded dispatcher.

use super::access::{Calls, Checked};
use super::handlers::{self, Handler as _, scalar_types};
use super::observer::Observer;
use super::{Cursor, Exit, Frame, Outcome, RunState, Start, Step, Stop};
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
        #[inline(always)]
        fn execute(opcode: Opcode, operands: &[u32; 4], access: &mut Checked<'_>) -> Outcome {
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

/// Runs the instruction of the access, and checks that it stayed inside the data image.
#[inline(always)]
fn execute_checked(opcode: Opcode, operands: &[u32; 4], access: &mut Checked<'_>) -> Outcome {
    let outcome = execute(opcode, operands, access);
    if access.outside && outcome.is_ok() {
        return Err(access.observer.fault(FaultKind::Address, Vec::new));
    }
    outcome
}

/// Runs a single instruction for the threaded dispatcher. The number is what it charged.
#[cfg(any(threaded_dispatch, compiled_form))]
#[inline(never)]
pub(crate) fn step(
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    calls: Calls<'_>,
    index: u32,
    base: u32,
) -> (Outcome, u64) {
    let code = program.code();
    let observer = Observer { program, state, instruction: index };
    let mut access = Checked::new(data, base, observer, calls);
    let (Some(opcode), Some(record)) = (code.opcodes.get(index as usize), code.records.get(index as usize))
    else {
        return (Err(access.observer.fault(FaultKind::Address, Vec::new)), 0);
    };
    (execute_checked(*opcode, &record.operands, &mut access), access.charged)
}

/// Records that the budget is used up at an instruction.
pub(crate) fn watchdog(program: &Program, state: &mut RunState, index: u32) {
    let budget = Value::Unsigned(state.budget, ElementaryType::Ulint);
    Observer { program, state, instruction: index }
        .fault(FaultKind::Watchdog, || vec![("budget".to_owned(), budget)]);
}

/// How a piece of a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Slice {
    /// The program came to its end.
    Ended,
    /// The number of instructions was reached; the cursor is at the next one.
    Paused,
    /// A fault was recorded.
    Faulted,
}

/// Runs one program from its first instruction to its end.
pub(crate) fn run(
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    stack: &mut [Frame],
    start: Start,
) -> Exit {
    let Start { unit, base, executed } = start;
    let index = program.code().units.first(unit);
    let mut cursor = Cursor { index, base, open: 0, executed };
    let slice = run_loop::<false>(program, data, state, stack, &mut cursor, u64::MAX);
    Exit { executed: cursor.executed, faulted: slice == Slice::Faulted }
}

/// Runs a program from where its cursor stands until it ends or `until` instructions were executed in the scan. An
/// instruction that was begun is finished.
#[inline(never)]
pub(crate) fn run_slice(
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    stack: &mut [Frame],
    cursor: &mut Cursor,
    until: u64,
) -> Slice {
    run_loop::<true>(program, data, state, stack, cursor, until)
}

#[inline(always)]
fn run_loop<const PAUSES: bool>(
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    stack: &mut [Frame],
    cursor: &mut Cursor,
    until: u64,
) -> Slice {
    let code = program.code();
    let budget = state.budget;
    let Cursor { mut index, base, open, mut executed } = *cursor;
    // One frame more than calls can be open; the threaded dispatcher needs it.
    let room = stack.len().saturating_sub(1);
    let calls = Calls { frames: stack.get_mut(..room).unwrap_or_default(), open };
    let mut access = Checked::new(data, base, Observer { program, state, instruction: index }, calls);
    let slice = loop {
        if PAUSES && executed >= until {
            break Slice::Paused;
        }
        access.observer.instruction = index;
        let here = index as usize;
        // The record behind the last one has no opcode, so every opcode has a next record.
        let (Some(opcode), Some([record, next])) = (code.opcodes.get(here), code.records.get(here..here + 2))
        else {
            access.observer.fault(FaultKind::Address, Vec::new);
            break Slice::Faulted;
        };
        let outcome = execute_checked(*opcode, &record.operands, &mut access);
        let cost = u64::from(next.prefix - record.prefix);
        executed = executed.saturating_add(cost).saturating_add(access.charged);
        access.charged = 0;
        match outcome {
            Ok(Step::Next) => {
                index += 1;
                continue;
            }
            Ok(Step::Jump(distance)) => index = index.wrapping_add(distance),
            Ok(Step::Call { distance, base }) => {
                let frame = Frame { index: index + 1, base: access.base, prefix: 0 };
                if access.calls.push(frame).is_none() {
                    access.observer.fault(FaultKind::CallDepth, Vec::new);
                    break Slice::Faulted;
                }
                index = index.wrapping_add(distance);
                access.base = base;
            }
            Ok(Step::Return) => {
                let Some(frame) = access.calls.pop() else { break Slice::Ended };
                Frame { index, base: access.base, .. } = frame;
                continue;
            }
            Err(Stop::Fault | Stop::Slow) => break Slice::Faulted,
        }
        if executed > budget {
            watchdog(program, access.observer.state, here as u32);
            break Slice::Faulted;
        }
    };
    *cursor = Cursor { index, base: access.base, open: access.calls.open, executed };
    slice
}

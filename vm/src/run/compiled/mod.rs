//! The compiled form of a program: its verified instructions as code of the processor.
//!
//! A program that has run long enough to be worth it is translated unit by unit ([`translate`]) by the code generator
//! Cranelift. The plain instructions remain the definition. What is rare (an event, a fault) runs in the checked step of
//! the matched dispatcher, one plain instruction at a time, and every jump and call counts and looks at the budget as the
//! threaded dispatcher does. So data, events, faults with their places and counts are those of the plain form.
//!
//! What the code may assume is V1 to V7 of the verifier, as listed at the head of `run::threaded`, in whose terms each
//! access is made: places of plain instructions without checks, addresses found at run time with them. Call stacks are
//! those of the processor: the verifier limits the depth of calls, programs whose frames could add up to too much are
//! not compiled, nor those whose calls through tables need guards, nor those that observe themselves.
//!
//! What this code knows of places can differ from the data image where an image made by hand writes over the places of
//! its own unit. So an access is checked with the very value that it is made with, and where that value is refused the
//! run ends, whatever the checked step finds in the data image.

#![allow(unsafe_code)]

mod called_texts;
mod support;
mod translate;

use super::{Exit, RunState, Start};
use crate::program::Program;
use crate::schedule::Due;
use cranelift_jit::JITModule;
use cranelift_module::FuncId;
use std::mem::ManuallyDrop;
use support::Context;

/// The code of a unit: data image, instance, count (executed instructions minus the sum of the costs before the unit,
/// minus the budget), context. The result is the number of executed instructions minus the budget.
type Function = unsafe extern "C" fn(*mut u8, *mut u8, i64, *mut Context) -> i64;

/// The code of what surrounds units: data image, executed instructions minus the budget, context. The result is the
/// number of executed instructions minus the budget.
type Surrounding = unsafe extern "C" fn(*mut u8, i64, *mut Context) -> i64;

/// As [`Surrounding`], of a scan of several tasks: it is given those that are due, too, and where the instructions of each
/// are left.
type AtOnce = unsafe extern "C" fn(*mut u8, i64, *mut Context, u64, *mut u64) -> i64;

/// Where a unit begins.
#[repr(C)]
#[derive(Clone, Copy)]
struct Entry {
    /// `None` where the unit is a part of all that call it.
    function: Option<Function>,
    /// Sum of the costs of all instructions before the unit.
    prefix: i64,
}

impl Entry {
    const FUNCTION: i32 = 0;
    const PREFIX: i32 = size_of::<Option<Function>>() as i32;
}

/// The compiled form of a program.
pub(crate) struct Compiled {
    /// One a unit.
    entries: Box<[Entry]>,
    /// A whole scan: where there is but one task, cyclic and without a status; and where releases begin and end at once.
    scan: Option<Surrounding>,
    at_once: Option<AtOnce>,
    /// Number of tasks.
    tasks: usize,
    /// A release of each task from its beginning to its end, with the located outputs; where there is no such scan.
    releases: Box<[Surrounding]>,
    /// Owns the memory of the code.
    module: ManuallyDrop<JITModule>,
}

// SAFETY: the module is not used any more but to free its memory; the code is not changed after it was made.
unsafe impl Send for Compiled {}
// SAFETY: as above.
unsafe impl Sync for Compiled {}

impl Drop for Compiled {
    fn drop(&mut self) {
        // SAFETY: the module is taken once, and no code of it runs any more: runs borrow the program that owns this.
        unsafe { ManuallyDrop::take(&mut self.module).free_memory() };
    }
}

/// Most instructions of a program that is compiled, so that compiling never takes longer than some seconds.
const INSTRUCTIONS: usize = 100_000;

impl Compiled {
    /// Compiles a program; `None` where it is not to be compiled or the system gives no memory for code.
    pub(crate) fn new(program: &Program) -> Option<Self> {
        let code = program.code();
        let observes = code.opcodes.iter().any(|opcode| opcode.family().observes());
        if code.opcodes.len() > INSTRUCTIONS || !code.guards.is_empty() || observes {
            return None;
        }
        let (module, functions) = translate::translate(program)?;
        let at = |function: FuncId| module.get_finalized_function(function);
        let entries = functions.units.iter().zip(code.units.all()).map(|(function, first)| Entry {
            // SAFETY: the functions of units were made with this signature.
            function: function
                .map(|function| unsafe { std::mem::transmute::<*const u8, Function>(at(function)) }),
            prefix: code.records.get(*first as usize).map_or(0, |record| i64::from(record.prefix)),
        });
        // SAFETY: the functions around units were made with this signature.
        let surrounding = |function| unsafe { std::mem::transmute::<*const u8, Surrounding>(at(function)) };
        Some(Self {
            entries: entries.collect(),
            scan: functions.scan.map(surrounding),
            // SAFETY: as above, with its parameters.
            at_once: functions
                .at_once
                .map(|function| unsafe { std::mem::transmute::<*const u8, AtOnce>(at(function)) }),
            tasks: program.schedule().tasks.len(),
            releases: functions.releases.iter().copied().map(surrounding).collect(),
            module: ManuallyDrop::new(module),
        })
    }

    /// Runs one program from its first instruction to its end.
    #[inline(always)]
    pub(crate) fn run(&self, program: &Program, data: &mut [u8], state: &mut RunState, start: Start) -> Exit {
        let Some(Entry { function: Some(function), prefix }) = self.entries.get(start.unit as usize).copied()
        else {
            return Exit { executed: start.executed, faulted: true };
        };
        self.enter(program, data, state, start.executed, |data, executed, context| {
            let base = data.wrapping_add(start.base as usize);
            // SAFETY: as `enter` says; the start comes from a task of the program, so its base is one that V2 allows.
            unsafe { function(data, base, executed - prefix, context) }
        })
    }

    /// Runs a scan of the one cyclic task: inputs, its programs, outputs. `None` where that is not translated.
    #[inline(always)]
    pub(crate) fn scan(&self, program: &Program, data: &mut [u8], state: &mut RunState) -> Option<Exit> {
        let function = self.scan?;
        Some(self.enter(program, data, state, 0, |data, executed, context| {
            // SAFETY: as `enter` says; bases of tasks are as V2 allows.
            unsafe { function(data, executed, context) }
        }))
    }

    /// Runs a scan in which releases begin and end at once: inputs, the tasks that are due with their outputs, statuses.
    /// What each task executes is left in `instructions`. `None` where that is not translated.
    #[inline(always)]
    pub(crate) fn scan_at_once(
        &self,
        program: &Program,
        data: &mut [u8],
        state: &mut RunState,
        due: Due,
        instructions: &mut [u64],
    ) -> Option<Exit> {
        let function = self.at_once.filter(|_| instructions.len() >= self.tasks)?;
        Some(self.enter(program, data, state, 0, |data, executed, context| {
            // SAFETY: as in `scan`; there is room for the instructions of each task.
            unsafe { function(data, executed, context, due.0, instructions.as_mut_ptr()) }
        }))
    }

    /// Runs a release of a task from its beginning to its end, and moves the located outputs to their areas. `None` where
    /// that is not translated.
    #[inline(always)]
    pub(crate) fn release(
        &self,
        task: usize,
        program: &Program,
        data: &mut [u8],
        state: &mut RunState,
        executed: u64,
    ) -> Option<Exit> {
        let function = *self.releases.get(task)?;
        Some(self.enter(program, data, state, executed, |data, executed, context| {
            // SAFETY: as in `scan`.
            unsafe { function(data, executed, context) }
        }))
    }

    /// Lets code of the program run. It is given the data image, the executed instructions minus the budget, and the
    /// context. That is what code of a program needs: only `Program::load` makes programs, and it has verified V1 to V7;
    /// program, data image and state are borrowed for the call.
    #[inline(always)]
    fn enter(
        &self,
        program: &Program,
        data: &mut [u8],
        state: &mut RunState,
        executed: u64,
        code: impl FnOnce(*mut u8, i64, *mut Context) -> i64,
    ) -> Exit {
        // Budget and executed instructions are at most 2^61.
        let left = executed as i64 - state.budget as i64;
        let mut context = Context {
            now_ns: state.now_ns,
            stopped: 0,
            charged: 0,
            program: &raw const *program,
            state: &raw mut *state,
            data: data.as_mut_ptr(),
            size: data.len(),
            entries: self.entries.as_ptr(),
        };
        let ended = code(context.data, left, &raw mut context);
        if context.stopped == 0 {
            Exit { executed: (ended + state.budget as i64) as u64, faulted: false }
        } else {
            Exit { executed, faulted: true }
        }
    }
}

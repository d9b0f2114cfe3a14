//! The ways of running a program, and which one runs it.

use crate::program::Program;
use crate::run::{Exit, Frame, RunState, Start, matched, run_threaded};

/// How instructions are dispatched. Both ways give the same state, events and counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dispatcher {
    /// The threaded one at first, and the compiled form as soon as a program has run long enough to be worth it.
    Adaptive,
    /// Code of the processor, on x86_64 and aarch64; the threaded one where a program is not compiled.
    Compiled,
    /// Each handler continues with the next; only in optimised builds on x86_64 and aarch64.
    Threaded,
    /// A loop with checked access; in every build.
    Matched,
}

impl Dispatcher {
    /// The fastest one in this build.
    #[must_use]
    pub const fn best() -> Self {
        if cfg!(compiled_form) {
            Self::Adaptive
        } else if cfg!(threaded_dispatch) {
            Self::Threaded
        } else {
            Self::Matched
        }
    }
}

impl Dispatcher {
    /// What a new machine begins with.
    pub(super) fn ready(self, program: &Program) -> Self {
        match self {
            Self::Adaptive => program.warmed(0),
            #[cfg(compiled_form)]
            Self::Compiled if program.compiled().is_none() => Self::Threaded,
            way => way,
        }
    }
}

/// Runs one program. Inline for compiled ones, so that a short scan has no more than it needs.
#[inline(always)]
pub(super) fn dispatch(
    dispatcher: Dispatcher,
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    stack: &mut [Frame],
    start: Start,
) -> Exit {
    #[cfg(compiled_form)]
    if dispatcher == Dispatcher::Compiled
        && let Some(compiled) = program.compiled_already()
    {
        return compiled.run(program, data, state, start);
    }
    let interpret = if dispatcher == Dispatcher::Matched { matched::run } else { run_threaded };
    interpret(program, data, state, stack, start)
}

//! A scan of several tasks where every release begins and ends at once: instructions take no time, no release is left from
//! an earlier scan, and no task has SINGLE. What is due is then known at the beginning of the scan, and goes in the order
//! of resources and classes; what [`super::tasks`] says of releases holds here too.

use super::dispatcher::{Dispatcher, dispatch};
use super::process_image::{pack, unpack};
use super::tasks::{Once, Tasks};
use super::{Machine, ScanSummary, status};
use crate::fault::Fault;
use crate::program::Program;
use crate::run::{Exit, Frame, RunState, Start, matched};
use crate::schedule::{Due, Schedule, ScheduledTask};

impl Machine {
    /// Runs such a scan.
    #[inline(never)]
    pub(super) fn scan_at_once(&mut self, now_ns: i64) -> Result<ScanSummary, Box<Fault>> {
        if self.state.fault.is_some() {
            return Err(self.stopped());
        }
        let scan = self.begin(now_ns);
        let before_ns = self.before_ns();
        // Borrows of the fields: the program need not be held by one more count.
        let Self { program, data, state, dispatcher, tasks, .. } = self;
        tasks.find_due(program.schedule(), scan, before_ns, now_ns);
        #[cfg(compiled_form)]
        if *dispatcher == Dispatcher::Compiled
            && let Some(compiled) = program.compiled_already()
            && let Some(exit) =
                compiled.scan_at_once(program, data, state, tasks.once.due, &mut tasks.once.instructions)
        {
            return if exit.faulted { Err(self.stopped()) } else { Ok(self.completed(exit.executed)) };
        }
        self.interpret_at_once()
    }

    /// Out of line, so that the compiled form has no more than it needs.
    #[inline(never)]
    fn interpret_at_once(&mut self) -> Result<ScanSummary, Box<Fault>> {
        let Self { program, data, state, stack, dispatcher, tasks, .. } = self;
        unpack(data, &program.unpacked);
        let exit = serve_all(*dispatcher, program, data, state, stack, &mut tasks.once);
        if exit.faulted {
            return Err(self.stopped());
        }
        Ok(self.interpreted(exit.executed))
    }
}

impl Tasks {
    /// Finds the tasks that are due at the beginning of a scan.
    #[inline(always)]
    fn find_due(&mut self, schedule: &Schedule, scan: u64, before_ns: i64, now_ns: i64) {
        self.runs.clear();
        self.runs_at = scan.wrapping_add(1);
        self.once.due = if scan != 0 && self.once.now_ns == Some(before_ns) {
            let mut due = schedule.cyclic;
            for (index, window) in self.windows.iter_mut().enumerate() {
                if !window.holds(now_ns) && window.leave(before_ns, now_ns) {
                    due.add(index);
                }
            }
            due
        } else {
            self.due_after(schedule, scan == 0, before_ns, now_ns)
        };
        self.once.now_ns = Some(now_ns);
    }

    /// The tasks that are due where the time of the scan before is that of another way or of another data image.
    #[cold]
    fn due_after(&mut self, schedule: &Schedule, first: bool, before_ns: i64, now_ns: i64) -> Due {
        let mut due = schedule.cyclic;
        for (index, (task, window)) in schedule.tasks.iter().zip(&mut self.windows).enumerate() {
            if window.left(before_ns, now_ns) || first && task.interval_ns > 0 {
                due.add(index);
            }
        }
        due
    }
}

/// Serves what is due.
fn serve_all(
    dispatcher: Dispatcher,
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    stack: &mut [Frame],
    once: &mut Once,
) -> Exit {
    let mut executed = 0;
    once.instructions.fill(0);
    for index in program.schedule().turns().filter(|index| once.due.has(*index)) {
        let Some(task) = program.schedule().tasks.get(index) else { continue };
        if executed > state.budget
            && let Some(call) = task.calls.first()
        {
            matched::watchdog(program, state, call.first_instruction);
            return Exit { executed, faulted: true };
        }
        let exit = release(dispatcher, program, data, state, stack, (index, task), executed);
        if exit.faulted {
            return exit;
        }
        if let Some(instructions) = once.instructions.get_mut(index) {
            *instructions = exit.executed - executed;
        }
        executed = exit.executed;
        status::end(data, task.status, 0);
    }
    let done = once.instructions.iter().copied().enumerate();
    let done = done.map(|(index, instructions)| (once.due.has(index), false, instructions));
    status::write_all(data, program.schedule(), done);
    Exit { executed, faulted: false }
}

/// Runs a release of a task from its beginning to its end, and gives its outputs to the terminals.
#[inline(always)]
pub(super) fn release(
    dispatcher: Dispatcher,
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    stack: &mut [Frame],
    (index, task): (usize, &ScheduledTask),
    mut executed: u64,
) -> Exit {
    #[cfg(compiled_form)]
    if dispatcher == Dispatcher::Compiled
        && let Some(compiled) = program.compiled_already()
        && let Some(exit) = compiled.release(index, program, data, state, executed)
    {
        return exit;
    }
    let _ = index;
    for call in &task.calls {
        let start = Start { unit: call.unit, base: call.base, executed };
        let exit = dispatch(dispatcher, program, data, state, stack, start);
        if exit.faulted {
            return exit;
        }
        executed = exit.executed;
    }
    pack(data, &program.packed);
    Exit { executed, faulted: false }
}

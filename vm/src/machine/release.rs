//! Serving one release of a task: as a whole, or piece by piece when instructions take time.
//!
//! Which release is served, and what an interrupted one keeps, is said in [`super::tasks`].

use super::Machine;
use super::process_image::{Changes, pack, put_region, region};
use super::tasks::TaskRun;
use super::{at_once, status};
use crate::fault::Fault;
use crate::limits;
use crate::program::Program;
use crate::run::matched::{self, Slice};
use crate::run::{Cursor, Frame};

/// A release that has not ended.
#[derive(Clone, Debug)]
pub(super) struct Release {
    /// When the resource chose for the first time after it; orders releases by how long they wait.
    pub(super) point: u64,
    pub(super) released_ns: i64,
    /// The program that it runs; `None` as long as it only waits.
    pub(super) run: Option<Box<Run>>,
}

/// A release that has begun.
#[derive(Clone, Debug)]
pub(super) struct Run {
    /// Index of the running program of the task.
    call: usize,
    cursor: Cursor,
    stack: Vec<Frame>,
    /// Instructions of the release so far.
    executed: u64,
    /// Time that it sees.
    now_ns: i64,
    event_mark: u32,
    /// Empty before the first interruption.
    frames: Vec<u8>,
    inputs: Vec<u8>,
    outputs: Changes,
    /// Conditions of decisions that it was evaluating.
    pending: Vec<u64>,
}

impl Machine {
    /// Works on the release of a task until it ends or the time is up.
    pub(super) fn serve(
        &mut self,
        program: &Program,
        resource: usize,
        index: usize,
        end_ns: i64,
        executed: &mut u64,
    ) -> Result<(), Box<Fault>> {
        let Some(release) = self.tasks.releases.get_mut(index).and_then(Option::take) else { return Ok(()) };
        let Some(task) = program.schedule().tasks.get(index) else { return Ok(()) };
        let calls = task.calls.as_slice();
        let before = *executed;
        if (before > self.state.budget || self.tasks.runs.len() >= limits::TASK_RUNS)
            && let Some(call) = calls.first()
        {
            // Releases that cause one another without end: no single one of them has a loop.
            matched::watchdog(program, &mut self.state, call.first_instruction);
            return Err(self.stopped());
        }
        let began = release.run.is_none();
        let mut interrupted = None;
        if end_ns == i64::MAX && began {
            let Self { data, state, stack, dispatcher, .. } = self;
            let exit = at_once::release(*dispatcher, program, data, state, stack, (index, task), before);
            if exit.faulted {
                return Err(self.stopped());
            }
            *executed = exit.executed;
        } else {
            let run = release.run.unwrap_or_else(|| {
                Box::new(Run {
                    call: 0,
                    cursor: cursor_at(
                        calls.first().map_or((0, 0), |call| (call.first_instruction, call.base)),
                    ),
                    stack: self.stack.clone(),
                    executed: 0,
                    now_ns: self.state.now_ns,
                    event_mark: self.state.event_mark,
                    frames: Vec::new(),
                    inputs: Vec::new(),
                    outputs: Changes::default(),
                    pending: Vec::new(),
                })
            });
            let allowed = self.allowed(resource, end_ns);
            interrupted = self.go_on(program, index, run, allowed, executed)?;
        }
        let instructions = *executed - before;
        let taken_ns = i128::from(instructions) * i128::from(self.timing.instruction_ns);
        if let Some(free) = self.tasks.free_ns.get_mut(resource)
            && end_ns != i64::MAX
        {
            *free = free.saturating_add(i64::try_from(taken_ns).unwrap_or(i64::MAX));
        }
        let ended = interrupted.is_none();
        self.tasks.runs.push(TaskRun { task: index, instructions, began, ended });
        if let Some((pieces, sum)) = self.tasks.sums.get_mut(index) {
            (*pieces, *sum) = (*pieces + 1, sum.saturating_add(instructions));
        }
        if ended {
            let response_ns = self.free_ns(resource).saturating_sub(release.released_ns);
            status::end(&mut self.data, task.status, response_ns);
        } else if let Some(slot) = self.tasks.releases.get_mut(index) {
            *slot = Some(Release { run: interrupted, ..release });
        }
        Ok(())
    }

    /// Instructions that a resource may begin before a time.
    fn allowed(&self, resource: usize, end_ns: i64) -> u64 {
        let left = u64::try_from(end_ns.saturating_sub(self.free_ns(resource))).unwrap_or(0);
        if end_ns == i64::MAX {
            u64::MAX
        } else {
            left.div_ceil(u64::from(self.timing.instruction_ns.max(1)))
        }
    }

    /// Lets a release go on for a number of instructions; gives it back when it has not ended.
    fn go_on(
        &mut self,
        program: &Program,
        index: usize,
        mut run: Box<Run>,
        allowed: u64,
        executed: &mut u64,
    ) -> Result<Option<Box<Run>>, Box<Fault>> {
        let calls = program.schedule().tasks.get(index).map_or(&[][..], |task| &task.calls);
        let until = executed.saturating_add(allowed);
        let before = *executed;
        let scan_ns = self.state.now_ns;
        let published = self.outputs.gather(&self.data);
        let mut latched = None;
        if run.executed > 0 {
            latched = Some(self.inputs.gather(&self.data));
            self.inputs.scatter(&mut self.data, &run.inputs);
            put_region(&mut self.data, program.image().layout.frames, &run.frames);
            self.outputs.scatter(&mut self.data, &run.outputs.over(&published));
            self.state.now_ns = run.now_ns;
            self.state.lag_ns = scan_ns.wrapping_sub(run.now_ns);
            self.state.event_mark = run.event_mark;
        }
        if let Some(log) = self.state.coverage.as_deref_mut() {
            log.exchange_pending(&mut run.pending);
        }
        let mut ended = calls.is_empty();
        while !ended && *executed < until {
            run.cursor.executed = *executed;
            let slice = matched::run_slice(
                program,
                &mut self.data,
                &mut self.state,
                &mut run.stack,
                &mut run.cursor,
                until,
            );
            *executed = run.cursor.executed;
            match slice {
                Slice::Paused => break,
                Slice::Faulted => return Err(self.stopped()),
                Slice::Ended => {
                    run.call += 1;
                    match calls.get(run.call) {
                        Some(call) => run.cursor = cursor_at((call.first_instruction, call.base)),
                        None => ended = true,
                    }
                }
            }
        }
        run.executed = run.executed.saturating_add(*executed - before);
        if ended {
            pack(&mut self.data, &program.packed);
        } else {
            if run.executed > self.state.budget {
                matched::watchdog(program, &mut self.state, run.cursor.index);
                return Err(self.stopped());
            }
            if run.inputs.is_empty() {
                run.inputs = self.inputs.gather(&self.data);
            }
            run.frames = region(&self.data, program.image().layout.frames).to_vec();
            run.outputs.take(&published, self.outputs.gather(&self.data));
            run.event_mark = self.state.event_mark;
            self.outputs.scatter(&mut self.data, &published);
        }
        if let Some(log) = self.state.coverage.as_deref_mut() {
            log.exchange_pending(&mut run.pending);
        }
        if let Some(latched) = latched {
            self.inputs.scatter(&mut self.data, &latched);
        }
        self.state.now_ns = scan_ns;
        self.state.lag_ns = 0;
        Ok(if ended { None } else { Some(run) })
    }
}

const fn cursor_at((index, base): (u32, u32)) -> Cursor {
    Cursor { index, base, open: 0, executed: 0 }
}

//! Releasing tasks and serving their releases (IEC 61131-3:2013 6.8.2, Table 63), with and without simulated time.
//!
//! **When a task is released.** At the beginning of a scan: in the first scan and when the time has reached a new
//! multiple of INTERVAL, as long as SINGLE is FALSE; cyclic programs in every scan. At a rising edge of SINGLE, which
//! is looked at whenever a resource chooses: at the beginning of a scan and after each release. A task has one release
//! at most; one more is lost, counted in the status, and an event. Multiples that pass between two scans give one
//! release, so the time between scans should divide all intervals.
//!
//! **Which goes first.** Cyclic programs after all tasks; the smaller PRIORITY number; of equal priority what waits
//! longest, then the order of the image. Resources are independent processors and take their turns in the order of
//! the image.
//!
//! **Time.** Without [`Timing`] an instruction takes none: every release ends in the scan that began it. With it a
//! resource has the time from one scan to the next. What has not ended then goes on in the next scan, at the very
//! instruction; an instruction that began in time is finished, and the next scan of the resource begins that much
//! later. Non-preemptive: it goes on before anything else. Preemptive: a task of higher priority, never of equal,
//! goes first. An interrupted release keeps its frames, its call stack, its inputs, the time it sees and its count
//! of events; the outputs that it changed reach the terminals when it ends.

use super::Machine;
use super::process_image::unpack;
use super::release::Release;
use super::status;
use super::window::Window;
use crate::event::{EventEntry, EventKind, EventLine};
use crate::fault::{Fault, FaultKind};
use crate::image::{Task, TaskStatus};
use crate::program::Program;
use crate::schedule::{Due, Schedule};
use crate::value::Value;
use std::sync::Arc;

/// How long instructions take, see [`Machine::set_timing`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Timing {
    /// Time that an instruction takes on its resource, in nanoseconds; 0 for none. What counts as several
    /// instructions takes as many times as long.
    pub instruction_ns: u32,
    /// Whether a task of higher priority interrupts a task of lower priority.
    pub preemptive: bool,
    /// Time from one scan to the next in nanoseconds; 0 for [`crate::Image::base_interval_ns`]. Where that is 0 too,
    /// every release ends in the scan that began it.
    pub cycle_ns: i64,
}

/// A piece of work on a task in one scan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TaskRun {
    /// Index of the task in the image.
    pub task: usize,
    /// Instructions executed.
    pub instructions: u64,
    /// Whether the release began here, or went on from an earlier piece.
    pub began: bool,
    /// Whether the release ended here, or goes on later.
    pub ended: bool,
}

/// What was done in a scan in which releases began and ended at once.
#[derive(Clone, Debug, Default)]
pub(super) struct Once {
    /// The tasks that ran.
    pub(super) due: Due,
    /// For each task the number of its instructions, if it ran.
    pub(super) instructions: Vec<u64>,
    /// The time of the scan, if it was the last one: then the windows of all tasks have it, and resources are free from it
    /// on.
    pub(super) now_ns: Option<i64>,
}

impl Once {
    fn runs(&self, schedule: &Schedule) -> impl Iterator<Item = TaskRun> {
        schedule.turns().filter(|task| self.due.has(*task)).map(|task| {
            let instructions = self.instructions.get(task).copied().unwrap_or(0);
            TaskRun { task, instructions, began: true, ended: true }
        })
    }
}

/// What a machine knows of its tasks besides their status in the data image.
#[derive(Clone, Debug, Default)]
pub(super) struct Tasks {
    /// The release of each task, if there is one.
    pub(super) releases: Vec<Option<Release>>,
    /// For each resource the time from which on it is free.
    pub(super) free_ns: Vec<i64>,
    /// Number of the next point at which a resource chooses; orders releases by how long they wait.
    point: u64,
    /// What was done in the last scan that was not plain, or in `once`.
    pub(super) runs: Vec<TaskRun>,
    /// The same of a scan in which all releases began and ended at once.
    pub(super) once: Once,
    /// Number of completed scans after the last scan that was not plain.
    pub(super) runs_at: u64,
    /// For each task the multiples of its INTERVAL that the last scan lay between.
    pub(super) windows: Vec<Window>,
    /// For each task the number of its pieces of work in the running scan, and their instructions.
    pub(super) sums: Vec<(u32, u64)>,
}

impl Tasks {
    pub(super) fn new(program: &Program) -> Self {
        let schedule = program.schedule();
        Self {
            releases: vec![None; schedule.tasks.len()],
            free_ns: vec![i64::MIN; schedule.resources.len()],
            point: 0,
            runs: Vec::new(),
            once: Once { instructions: vec![0; schedule.tasks.len()], ..Once::default() },
            runs_at: 0,
            windows: schedule.tasks.iter().map(|task| Window::new(task.interval_ns)).collect(),
            sums: vec![(0, 0); schedule.tasks.len()],
        }
    }

    /// Whether a release waits or is interrupted.
    pub(super) fn busy(&self) -> bool {
        self.releases.iter().any(Option::is_some)
    }

    pub(super) fn release(&self, task: usize) -> Option<&Release> {
        self.releases.get(task)?.as_ref()
    }

    /// The task of a resource that goes on or begins now.
    fn choose(&self, program: &Program, resource: usize, preemptive: bool) -> Option<usize> {
        let schedule = program.schedule();
        let order = &schedule.resources.get(resource)?.tasks;
        let begun = |task: usize| self.release(task).is_some_and(|release| release.run.is_some());
        if !preemptive && let Some(task) = order.iter().copied().find(|task| begun(*task)) {
            return Some(task);
        }
        let mut best: Option<(usize, (bool, u64))> = None;
        for task in order.iter().copied() {
            let Some(release) = self.release(task) else { continue };
            let class = |task: usize| schedule.tasks.get(task).map(|task| task.class);
            let waits = (release.run.is_none(), release.point);
            match best {
                // The order is by class, so nothing that follows goes first.
                Some((found, _)) if class(found) != class(task) => break,
                Some((_, found)) if found <= waits => {}
                _ => best = Some((task, waits)),
            }
        }
        best.map(|(task, _)| task)
    }
}

impl Machine {
    /// Sets how long instructions take and whether tasks interrupt one another. At first they take no time, and then
    /// both ways agree. A release that is interrupted when this is called goes on in the next scan.
    ///
    /// The instruction budget counts for a scan, and with time also for a release over all its scans.
    pub fn set_timing(&mut self, timing: Timing) {
        self.timing = timing;
        self.choose_way();
    }

    /// Which tasks ran in the last completed scan and how long, in the order in which they ran.
    #[must_use]
    pub fn task_runs(&self) -> Vec<TaskRun> {
        if self.scans() == 0 {
            Vec::new()
        } else if self.tasks.runs_at == self.scans() {
            let mut runs = self.tasks.runs.clone();
            runs.extend(self.tasks.once.runs(self.program.schedule()));
            runs
        } else if self.program.schedule().plain.is_some() {
            vec![TaskRun { task: 0, instructions: self.last_instructions, began: true, ended: true }]
        } else {
            // The data image was taken from another machine or time.
            Vec::new()
        }
    }

    /// A scan of an image with several tasks, or with simulated time. `before_ns` is the time of the scan before.
    #[inline(never)]
    pub(super) fn scan_tasks(&mut self, scan: u64, before_ns: i64, now_ns: i64) -> Result<u64, Box<Fault>> {
        let program = Arc::clone(&self.program);
        self.tasks.runs.clear();
        self.tasks.runs_at = scan.wrapping_add(1);
        self.tasks.sums.fill((0, 0));
        self.tasks.once.due = Due(0);
        if let Some(once_ns) = self.tasks.once.now_ns.take() {
            self.tasks.free_ns.fill(once_ns);
        }
        unpack(&mut self.data, &program.unpacked);
        let cycle_ns =
            if self.timing.cycle_ns > 0 { self.timing.cycle_ns } else { program.image().base_interval_ns };
        let timed = self.timing.instruction_ns > 0 && cycle_ns > 0;
        let end_ns = if timed { now_ns.saturating_add(cycle_ns) } else { i64::MAX };
        let mut executed = 0;
        for (resource, tasks) in program.schedule().resources.iter().enumerate() {
            if let Some(free) = self.tasks.free_ns.get_mut(resource) {
                *free = if timed { now_ns.max(*free) } else { now_ns };
            }
            let mut windows = std::mem::take(&mut self.tasks.windows);
            let periodic = |index: usize, task: &Task| {
                let interval = task.interval_ns;
                let mut reached = || match windows.get_mut(index) {
                    Some(window) => window.left(before_ns, now_ns),
                    None => true,
                };
                task.cyclic || interval > 0 && (reached() || scan == 0)
            };
            let looked = self.look(&program, &tasks.tasks, now_ns, periodic);
            self.tasks.windows = windows;
            looked?;
            while (!timed || self.free_ns(resource) < end_ns)
                && let Some(task) = self.tasks.choose(&program, resource, self.timing.preemptive)
            {
                self.serve(&program, resource, task, end_ns, &mut executed)?;
                if tasks.edges {
                    let free_ns = self.free_ns(resource);
                    self.look(&program, &tasks.tasks, free_ns, |_, _| false)?;
                }
            }
        }
        let done = self.tasks.sums.iter().zip(&self.tasks.releases);
        let done =
            done.map(|((pieces, instructions), release)| (*pieces > 0, release.is_some(), *instructions));
        status::write_all(&mut self.data, program.schedule(), done);
        Ok(executed)
    }

    pub(super) fn free_ns(&self, resource: usize) -> i64 {
        self.tasks.free_ns.get(resource).copied().unwrap_or(i64::MAX)
    }

    /// Looks at SINGLE of all tasks of a resource, and makes the releases that are due.
    fn look(
        &mut self,
        program: &Program,
        tasks: &[usize],
        time_ns: i64,
        mut periodic: impl FnMut(usize, &Task) -> bool,
    ) -> Result<(), Box<Fault>> {
        let point = self.tasks.point;
        self.tasks.point = point.wrapping_add(1);
        for index in tasks.iter().copied() {
            let Some(task) = program.image().tasks.get(index) else { continue };
            let single =
                task.single.is_some_and(|single| self.data.get(single as usize).copied().unwrap_or(0) != 0);
            let due = if single { !self.swap_single(task, true) } else { periodic(index, task) };
            if !single && task.single.is_some() {
                self.swap_single(task, false);
            }
            if !due {
                continue;
            }
            match self.tasks.releases.get_mut(index) {
                Some(slot @ None) => *slot = Some(Release { point, released_ns: time_ns, run: None }),
                _ => self.lose(program, index, task)?,
            }
        }
        Ok(())
    }

    /// Remembers SINGLE and gives what was remembered.
    fn swap_single(&mut self, task: &Task, now: bool) -> bool {
        let memory = self.data.get_mut(task.status as usize + TaskStatus::SINGLE as usize);
        memory.is_some_and(|memory| std::mem::replace(memory, u8::from(now)) != 0)
    }

    /// Counts a release that is lost.
    fn lose(&mut self, program: &Program, index: usize, task: &Task) -> Result<(), Box<Fault>> {
        status::lose(&mut self.data, task.status);
        let unit = task.programs.first().and_then(|call| program.image().units.get(call.unit as usize));
        let unit = || unit.map(|unit| unit.name.clone()).unwrap_or_default();
        let values = || vec![("task".to_owned(), Value::String(task.name.clone().into_bytes()))];
        let kind = EventKind::TaskOverrun;
        let (scan, time_ns) = (self.state.scan, self.state.now_ns);
        if self.state.strict {
            let kind = FaultKind::Event(kind);
            let fault = Fault { kind, unit: unit(), place: None, scan, time_ns, values: values() };
            self.state.fault = Some(Box::new(fault));
            return Err(self.stopped());
        }
        self.state.event_mark = self.state.event_mark.wrapping_add(1);
        // At most `limits::TASKS` tasks.
        self.state.events.count_or_insert(EventLine::Task(index as u32), kind, || EventEntry {
            kind,
            unit: unit(),
            place: None,
            count: 1,
            scan,
            time_ns,
            values: values(),
        });
        Ok(())
    }
}

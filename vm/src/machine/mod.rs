//! The machine: one running program with its data image, scan by scan.
//!
//! IEC 61131-3:2013 6.8.2 (tasks) and Table 16 (process image). A scan unpacks located input bits, serves the tasks (see
//! [`tasks`]), and packs located output and memory bits after each of them. The time of a scan is given by the caller
//! and is the same for everything that begins in it.
//!
//! The data image holds the whole state between scans, including the number of completed scans, the time of the last
//! one and the status of the tasks: copying [`Machine::data`] takes a snapshot, copying it back returns to it. With
//! [`Timing`] a release may be interrupted between two scans; what it needs to go on is not in the data image, and
//! neither is a release that waits for it. Only a clone of the machine is a snapshot then.

mod at_once;
mod dispatcher;
mod plain;
pub(crate) mod process_image;
mod release;
mod status;
mod tasks;
mod window;

pub use dispatcher::Dispatcher;
pub use tasks::{TaskRun, Timing};

use crate::coverage::CoverageLog;
use crate::event::EventLog;
use crate::fault::Fault;
#[cfg(doc)]
use crate::fault::FaultKind;
use crate::image::AreaKind;
use crate::journal::Journal;
use crate::limits;
use crate::place::SYSTEM_BYTES;
use crate::program::Program;
use crate::run::{Frame, RunState, Start};
use crate::schedule::Schedule;
use dispatcher::dispatch;
use process_image::Terminals;
use std::fmt;
use std::sync::Arc;
use tasks::Tasks;

/// Which restart (IEC 61131-3:2013 6.5.6).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Restart {
    /// All variables take their initial values.
    Cold,
    /// RETAIN variables keep their values, all others take their initial values.
    Warm,
}

/// What a scan did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ScanSummary {
    /// Instructions executed; a block or string operation counts one more for every 64 bytes.
    pub instructions: u64,
}

/// A running program.
#[derive(Clone)]
pub struct Machine {
    program: Arc<Program>,
    data: Vec<u8>,
    state: RunState,
    stack: Vec<Frame>,
    dispatcher: Dispatcher,
    /// Instructions executed that the program does not know of.
    heat: u64,
    last_instructions: u64,
    timing: Timing,
    way: Way,
    tasks: Tasks,
    inputs: Terminals,
    outputs: Terminals,
}

impl Machine {
    /// A machine after a cold restart.
    #[must_use]
    pub fn new(program: Arc<Program>) -> Self {
        Self::with_dispatcher(program, Dispatcher::best())
    }

    /// A machine that uses the given dispatcher, for comparing the two. Where this build has no threaded dispatcher
    /// the matched one runs.
    #[must_use]
    pub fn with_dispatcher(program: Arc<Program>, dispatcher: Dispatcher) -> Self {
        let mut data = program.image().data.clone();
        clear_system_bytes(&mut data);
        let coverage = program.coverage().map(|size| Box::new(CoverageLog::new(size)));
        let state = RunState { coverage, ..RunState::default() };
        // One frame for each open call and one below them.
        let stack = vec![Frame::default(); program.call_depth() + 1];
        Self {
            data,
            state,
            stack,
            dispatcher: dispatcher.ready(&program),
            heat: 0,
            last_instructions: 0,
            timing: Timing::default(),
            way: Way::of(program.schedule()),
            tasks: Tasks::new(&program),
            inputs: Terminals::of(program.image(), AreaKind::Input),
            outputs: Terminals::of(program.image(), AreaKind::Output),
            program,
        }
    }

    /// Its program.
    #[must_use]
    pub const fn program(&self) -> &Arc<Program> {
        &self.program
    }

    /// The data image.
    #[must_use]
    pub fn data(&self) -> &[u8] {
        &self.data
    }

    /// The parts of the data image that make up the state, for telling whether two machines with one program are in the
    /// same one: all but the temporaries, see [`crate::Image::state_ranges`].
    #[must_use]
    pub fn state(&self) -> [&[u8]; 2] {
        // The data image of a machine is as long as that of its program.
        self.program.image().state_ranges().map(|range| self.data.get(range).unwrap_or_default())
    }

    /// The data image, to be changed between scans.
    pub fn data_mut(&mut self) -> &mut [u8] {
        &mut self.data
    }

    /// Number of completed scans since the last restart.
    #[must_use]
    pub fn scans(&self) -> u64 {
        u64::from_le_bytes(self.system_word(8))
    }

    /// Instructions that the last completed scan executed.
    #[must_use]
    pub const fn last_instructions(&self) -> u64 {
        self.last_instructions
    }

    /// Instructions that a scan may execute before the watchdog stops it, at most [`limits::BUDGET`].
    pub fn set_budget(&mut self, instructions: u64) {
        self.state.budget = instructions.min(limits::BUDGET);
    }

    /// Whether an event stops the run like a fault. Off at first.
    pub const fn set_strict(&mut self, strict: bool) {
        self.state.strict = strict;
    }

    /// Events so far. They survive restarts.
    #[must_use]
    pub const fn events(&self) -> &EventLog {
        &self.state.events
    }

    /// Forgets all events.
    pub fn clear_events(&mut self) {
        self.state.events.clear();
    }

    /// Keeps a journal from now on, if the image was compiled for it: see [`Journal`].
    pub fn keep_journal(&mut self) {
        self.state.journal.get_or_insert_default();
    }

    /// What was noted since the journal was cleared last; `None` before [`Machine::keep_journal`]. To be cleared after
    /// each scan. It survives restarts.
    pub fn journal(&mut self) -> Option<&mut Journal> {
        self.state.journal.as_deref_mut()
    }

    /// What was seen so far; `None` where the image was not compiled for measuring coverage. It survives restarts.
    #[must_use]
    pub fn coverage(&self) -> Option<&CoverageLog> {
        self.state.coverage.as_deref()
    }

    /// The fault that stopped the machine, if one did.
    #[must_use]
    pub fn fault(&self) -> Option<&Fault> {
        self.state.fault.as_deref()
    }

    /// Restarts the program. The `%I` area keeps its content, for a restart changes nothing at the terminals. Ends a
    /// fault and every release of a task; the next scan is scan 0 again.
    pub fn restart(&mut self, restart: Restart) {
        let layout = &self.program.image().layout;
        let kept: &[_] = if restart == Restart::Warm { &layout.retained } else { &[] };
        let mut initial = self.program.image().data.clone();
        clear_system_bytes(&mut initial);
        for region in kept.iter().chain([&layout.inputs]) {
            let span = region.start as usize..region.start as usize + region.size as usize;
            if let (Some(target), Some(source)) = (initial.get_mut(span.clone()), self.data.get(span)) {
                target.copy_from_slice(source);
            }
        }
        // Copied, not replaced: the data image never moves.
        self.data.copy_from_slice(&initial);
        self.state.fault = None;
        self.state.lag_ns = 0;
        self.tasks = Tasks::new(&self.program);
        self.choose_way();
    }

    /// Runs one scan at a simulated time in nanoseconds.
    ///
    /// # Errors
    /// The fault that stopped the scan. The machine then stays stopped, with its data as they were at the fault, and
    /// every further scan gives the same fault until [`Machine::restart`].
    #[inline]
    pub fn scan(&mut self, now_ns: i64) -> Result<ScanSummary, Box<Fault>> {
        // Each way stands alone, so that the short ones have no more than they need.
        match self.way {
            Way::Plain => self.scan_plain(now_ns),
            Way::AtOnce => self.scan_at_once(now_ns),
            Way::Whole => self.scan_whole(now_ns),
        }
    }

    #[inline(never)]
    fn scan_whole(&mut self, now_ns: i64) -> Result<ScanSummary, Box<Fault>> {
        if self.state.fault.is_some() {
            return Err(self.stopped());
        }
        let scan = self.begin(now_ns);
        let executed = self.scan_tasks(scan, self.before_ns(), now_ns)?;
        self.choose_way();
        Ok(self.interpreted(executed))
    }

    /// Notes the beginning of a scan; the number of completed scans.
    #[inline(always)]
    fn begin(&mut self, now_ns: i64) -> u64 {
        let scan = self.scans();
        self.state.scan = scan;
        self.state.now_ns = now_ns;
        scan
    }

    /// Notes the end of the running scan.
    #[inline(always)]
    fn completed(&mut self, executed: u64) -> ScanSummary {
        if let Some((time, rest)) = self.data.split_first_chunk_mut()
            && let Some(scans) = rest.first_chunk_mut()
        {
            // Read again rather than held over the run of the program.
            *time = self.state.now_ns.to_le_bytes();
            *scans = self.state.scan.wrapping_add(1).to_le_bytes();
        }
        self.last_instructions = executed;
        ScanSummary { instructions: executed }
    }

    /// Notes the end of the running scan, which may not be compiled yet.
    fn interpreted(&mut self, executed: u64) -> ScanSummary {
        if self.dispatcher == Dispatcher::Adaptive {
            self.warm(executed);
        }
        self.completed(executed)
    }

    /// Runs one program of the image's only task, and nothing of what a scan does around it: no process image, no
    /// number of scans, no time kept in the data image. `call` counts the programs of the task from 0, `now_ns` is the
    /// time that the program sees. For images whose programs are called one by one, such as conditions about another
    /// machine. The result is the number of instructions executed.
    ///
    /// # Errors
    /// The fault that stopped the program, which is not kept: the data stay as they were at the fault, and other
    /// calls are possible at once. A machine that a scan has stopped gives that fault until [`Machine::restart`].
    /// [`FaultKind::Address`] where the image has several tasks, its task is not cyclic, or has no such program.
    pub fn run_program(&mut self, call: u32, now_ns: i64) -> Result<u64, Box<Fault>> {
        if self.state.fault.is_some() {
            return Err(self.stopped());
        }
        self.state.now_ns = now_ns;
        let calls = self.program.schedule().plain.as_deref().unwrap_or_default();
        let Some(call) = calls.get(call as usize) else {
            return Err(self.stopped());
        };
        let start = Start { unit: call.unit, base: call.base, executed: 0 };
        let Self { program, data, state, stack, dispatcher, .. } = self;
        let exit = dispatch(*dispatcher, program, data, state, stack, start);
        if exit.faulted {
            let fault = self.stopped();
            self.state.fault = None;
            return Err(fault);
        }
        if self.dispatcher == Dispatcher::Adaptive {
            self.warm(exit.executed);
        }
        Ok(exit.executed)
    }

    /// Takes the compiled form when the program has run long enough. What machines of a program execute is added up in
    /// portions, so that a short scan hardly notices.
    #[inline]
    fn warm(&mut self, executed: u64) {
        self.heat += executed;
        if self.heat >= HEAT {
            self.dispatcher = self.program.warmed(std::mem::take(&mut self.heat));
        }
    }

    /// Chooses a short way for scans where it will do.
    fn choose_way(&mut self) {
        let short = self.timing.instruction_ns == 0 && !self.tasks.busy();
        self.way = if short { Way::of(self.program.schedule()) } else { Way::Whole };
    }

    #[cold]
    fn stopped(&self) -> Box<Fault> {
        self.state.fault.clone().unwrap_or_else(|| {
            // A run that stops always leaves its fault; this keeps the promise without a panic if it ever did not.
            Box::new(Fault {
                kind: crate::fault::FaultKind::Address,
                unit: String::new(),
                place: None,
                scan: self.state.scan,
                time_ns: self.state.now_ns,
                values: Vec::new(),
            })
        })
    }

    /// Time of the scan before.
    fn before_ns(&self) -> i64 {
        i64::from_le_bytes(self.system_word(0))
    }

    fn system_word(&self, offset: usize) -> [u8; 8] {
        self.data.get(offset..offset + 8).and_then(|bytes| bytes.try_into().ok()).unwrap_or_default()
    }
}

impl fmt::Debug for Machine {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter
            .debug_struct("Machine")
            .field("program", &self.program)
            .field("scans", &self.scans())
            .field("fault", &self.state.fault)
            .finish_non_exhaustive()
    }
}

/// What a scan has to look after.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    /// One cyclic task: see [`plain`].
    Plain,
    /// Some tasks, each with one release at most, that begins and ends in the scan: see [`at_once`].
    AtOnce,
    /// Everything: see [`tasks`].
    Whole,
}

impl Way {
    /// The way where nothing takes time and no release waits or is interrupted.
    const fn of(schedule: &Schedule) -> Self {
        if schedule.plain.is_some() {
            Self::Plain
        } else if schedule.at_once {
            Self::AtOnce
        } else {
            Self::Whole
        }
    }
}

/// Instructions that a machine executes before it tells the program of them.
const HEAT: u64 = 1 << 16;

fn clear_system_bytes(data: &mut [u8]) {
    if let Some(system) = data.get_mut(..SYSTEM_BYTES as usize) {
        system.fill(0);
    }
}

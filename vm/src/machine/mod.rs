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

pub(crate) mod process_image;
mod release;
mod status;
mod tasks;

pub use tasks::{TaskRun, Timing};

use crate::coverage::CoverageLog;
use crate::event::EventLog;
use crate::fault::Fault;
#[cfg(doc)]
use crate::fault::FaultKind;
use crate::image::AreaKind;
use crate::limits;
use crate::place::SYSTEM_BYTES;
use crate::program::Program;
use crate::run::{Exit, Frame, RunState, Start, matched, run_threaded};
use process_image::{Terminals, pack, unpack};
use std::fmt;
use std::sync::Arc;
use tasks::Tasks;

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
    /// Whether a scan only has to run the one cyclic task.
    plain: bool,
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
            plain: program.schedule().plain.is_some(),
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
    pub fn scan(&mut self, now_ns: i64) -> Result<ScanSummary, Box<Fault>> {
        if self.state.fault.is_some() {
            return Err(self.stopped());
        }
        let scan = self.scans();
        self.state.scan = scan;
        self.state.now_ns = now_ns;
        let executed = if self.plain {
            self.scan_plain()?
        } else {
            // Out of line, so that the short way has no more than it needs.
            let before_ns = i64::from_le_bytes(self.system_word(0));
            let executed = self.scan_tasks(scan, before_ns, now_ns)?;
            self.choose_way();
            executed
        };
        if let Some((time, rest)) = self.data.split_first_chunk_mut()
            && let Some(scans) = rest.first_chunk_mut()
        {
            *time = now_ns.to_le_bytes();
            *scans = scan.wrapping_add(1).to_le_bytes();
        }
        self.last_instructions = executed;
        if self.dispatcher == Dispatcher::Adaptive {
            self.warm(executed);
        }
        Ok(ScanSummary { instructions: executed })
    }

    /// A scan of an image whose only task is cyclic, when nothing takes time.
    #[inline(always)]
    fn scan_plain(&mut self) -> Result<u64, Box<Fault>> {
        // Borrows of the fields: the program need not be held by one more count.
        let Self { program, data, state, stack, dispatcher, .. } = self;
        unpack(data, &program.unpacked);
        let mut executed = 0;
        for call in program.schedule().plain.as_deref().unwrap_or_default() {
            let start = Start { unit: call.unit, base: call.base, executed };
            let exit = dispatch(*dispatcher, program, data, state, stack, start);
            if exit.faulted {
                return Err(self.stopped());
            }
            executed = exit.executed;
        }
        pack(data, &program.packed);
        Ok(executed)
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

    /// Chooses the short way for scans where it will do.
    fn choose_way(&mut self) {
        self.plain =
            self.program.schedule().plain.is_some() && self.timing.instruction_ns == 0 && !self.tasks.busy();
    }

    fn run(&mut self, program: &Program, start: Start) -> Exit {
        dispatch(self.dispatcher, program, &mut self.data, &mut self.state, &mut self.stack, start)
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

/// Instructions that a machine executes before it tells the program of them.
const HEAT: u64 = 1 << 16;

impl Dispatcher {
    /// What a new machine begins with.
    fn ready(self, program: &Program) -> Self {
        if self == Self::Adaptive { program.warmed(0) } else { self }
    }
}

/// Runs one program. Inline for compiled ones, so that a short scan has no more than it needs.
#[inline(always)]
fn dispatch(
    dispatcher: Dispatcher,
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    stack: &mut [Frame],
    start: Start,
) -> Exit {
    #[cfg(compiled_form)]
    if dispatcher == Dispatcher::Compiled
        && let Some(compiled) = program.compiled()
    {
        return compiled.run(program, data, state, start);
    }
    let interpret = if dispatcher == Dispatcher::Matched { matched::run } else { run_threaded };
    interpret(program, data, state, stack, start)
}

fn clear_system_bytes(data: &mut [u8]) {
    if let Some(system) = data.get_mut(..SYSTEM_BYTES as usize) {
        system.fill(0);
    }
}

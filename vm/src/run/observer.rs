//! What a run leaves behind besides the data image: events and the fault, with their places in the source.

use super::Stop;
use super::number::Number;
use crate::coverage::CoverageLog;
use crate::event::{EventEntry, EventKind, EventLine, EventLog};
use crate::fault::{Fault, FaultKind, FaultPlace, Named};
use crate::journal::Journal;
use crate::limits;
use crate::native::{EventSink, NativeCall, NativeFunction};
use crate::program::Program;
use crate::value::Value;

/// State of a machine outside its data image: settings, and what was observed.
#[derive(Clone, Debug)]
pub(crate) struct RunState {
    pub(crate) events: EventLog,
    pub(crate) fault: Option<Box<Fault>>,
    /// Number of the running scan.
    pub(crate) scan: u64,
    /// Time that the running release sees: that of the scan in which it began.
    pub(crate) now_ns: i64,
    /// How much later the running scan is.
    pub(crate) lag_ns: i64,
    /// Whether an event is a fault.
    pub(crate) strict: bool,
    /// Instructions that a scan may execute.
    pub(crate) budget: u64,
    /// Events recorded so far, modulo 2^32. Compared by programs before and after an operation.
    pub(crate) event_mark: u32,
    /// What an image that observes itself has seen.
    pub(crate) coverage: Option<Box<CoverageLog>>,
    /// What an image that tells reasons has noted; `None` where nobody wants to know.
    pub(crate) journal: Option<Box<Journal>>,
}

impl Default for RunState {
    fn default() -> Self {
        Self {
            events: EventLog::default(),
            fault: None,
            scan: 0,
            now_ns: 0,
            lag_ns: 0,
            strict: false,
            budget: limits::DEFAULT_BUDGET,
            event_mark: 0,
            coverage: None,
            journal: None,
        }
    }
}

impl RunState {
    /// Time of the running scan.
    pub(crate) const fn scan_ns(&self) -> i64 {
        self.now_ns.wrapping_add(self.lag_ns)
    }
}

/// Receives the events and the fault of one instruction.
pub(crate) struct Observer<'a> {
    pub(crate) program: &'a Program,
    pub(crate) state: &'a mut RunState,
    /// Index of the instruction, counted over the image.
    pub(crate) instruction: u32,
}

impl Observer<'_> {
    pub(crate) fn event(&mut self, kind: EventKind, values: impl FnOnce() -> Vec<Named>) -> Result<(), Stop> {
        let program = self.program;
        let instruction = self.instruction;
        let (scan, time_ns) = (self.state.scan, self.state.scan_ns());
        if self.state.strict {
            return Err(self.fault(FaultKind::Event(kind), values));
        }
        self.state.event_mark = self.state.event_mark.wrapping_add(1);
        let line = program
            .line_of(instruction)
            .map_or(EventLine::Instruction(instruction), |entry| EventLine::Source(entry.file, entry.line));
        self.state.events.count_or_insert(line, kind, || EventEntry {
            kind,
            unit: program.unit_name(instruction),
            place: program.place_of(instruction),
            count: 1,
            scan,
            time_ns,
            values: values(),
        });
        Ok(())
    }

    /// Records a fault; the first one of an instruction counts.
    pub(crate) fn fault(&mut self, kind: FaultKind, values: impl FnOnce() -> Vec<Named>) -> Stop {
        if self.state.fault.is_none() {
            let place: Option<FaultPlace> = self.program.place_of(self.instruction);
            self.state.fault = Some(Box::new(Fault {
                kind,
                unit: self.program.unit_name(self.instruction),
                place,
                scan: self.state.scan,
                time_ns: self.state.scan_ns(),
                values: values(),
            }));
        }
        Stop::Fault
    }
}

impl Observer<'_> {
    /// Runs a native function on the frame at an address that lies inside the data image. The result is what it charges;
    /// a fault is in the state.
    pub(crate) fn native(&mut self, function: NativeFunction, data: &mut [u8], frame: u32) -> u64 {
        let now_ns = self.state.now_ns;
        let mut call = NativeCall::new(data, frame, function.frame_bytes, now_ns, self);
        (function.run)(&mut call);
        let outcome = call.outcome();
        if outcome.null {
            self.fault(FaultKind::NullReference, Vec::new);
        }
        if outcome.outside {
            self.fault(FaultKind::Address, || vec![("address".to_owned(), frame.value())]);
        }
        outcome.charged
    }
}

impl EventSink for Observer<'_> {
    fn event(&mut self, kind: EventKind, values: &[(&'static str, Value)]) {
        // In strict mode the fault is recorded in the state, and the caller of the native function looks there.
        let _ = Observer::event(self, kind, || {
            values.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect()
        });
    }
}

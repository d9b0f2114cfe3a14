//! Recordings: the values of chosen variables after every scan, kept as changes.
//!
//! The recorder compares the bytes of the recorded places after a scan with their bytes before it and appends a value
//! where they differ. It knows nothing of how a trace is shown or exported.

use crate::access::value_of_bytes;
use crate::image::Section;
use crate::machine::Machine;
use crate::program::Program;
use crate::resolve::{Resolved, ResolvedKind};
use crate::types::ElementaryType;
use crate::value::Value;
use serde::{Deserialize, Serialize};

/// What kind of value a signal has; numbers are widths in bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum SignalKind {
    /// BOOL.
    Bool,
    /// BYTE, WORD, DWORD, LWORD, references.
    Bits(u8),
    /// SINT, INT, DINT, LINT.
    Signed(u8),
    /// USINT, UINT, UDINT, ULINT.
    Unsigned(u8),
    /// REAL.
    Real,
    /// LREAL.
    Lreal,
    /// TIME, LTIME.
    Duration,
    /// DATE, LDATE.
    Date,
    /// TIME_OF_DAY, LTIME_OF_DAY.
    TimeOfDay,
    /// DATE_AND_TIME, LDATE_AND_TIME.
    DateAndTime,
    /// CHAR.
    Char,
    /// WCHAR.
    Wchar,
    /// STRING.
    String,
    /// WSTRING.
    WideString,
    /// An enumeration.
    Enumeration,
}

impl SignalKind {
    /// The kind of a resolved variable.
    #[must_use]
    pub fn of(kind: ResolvedKind) -> Self {
        match kind {
            ResolvedKind::Elementary(kind) => Self::of_elementary(kind),
            ResolvedKind::String { wide: false, .. } => Self::String,
            ResolvedKind::String { wide: true, .. } => Self::WideString,
            ResolvedKind::Enumeration(_) => Self::Enumeration,
            ResolvedKind::Reference => Self::Bits(32),
            ResolvedKind::Bit(_) => Self::Bool,
        }
    }

    fn of_elementary(kind: ElementaryType) -> Self {
        // Elementary types have at most 8 bytes.
        let bits = (kind.size().unwrap_or(0) * 8) as u8;
        match kind {
            ElementaryType::Bool => Self::Bool,
            ElementaryType::Real => Self::Real,
            ElementaryType::Lreal => Self::Lreal,
            ElementaryType::Time | ElementaryType::Ltime => Self::Duration,
            ElementaryType::Date | ElementaryType::Ldate => Self::Date,
            ElementaryType::TimeOfDay | ElementaryType::LtimeOfDay => Self::TimeOfDay,
            ElementaryType::DateAndTime | ElementaryType::LdateAndTime => Self::DateAndTime,
            ElementaryType::Char => Self::Char,
            ElementaryType::Wchar => Self::Wchar,
            ElementaryType::String => Self::String,
            ElementaryType::Wstring => Self::WideString,
            _ if kind.is_signed() => Self::Signed(bits),
            _ if kind.is_unsigned() => Self::Unsigned(bits),
            _ => Self::Bits(bits),
        }
    }
}

/// One recorded scan.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ScanRecord {
    /// Simulated time in nanoseconds.
    pub time_ns: i64,
    /// Instructions executed.
    pub instructions: u64,
}

/// A new value of a signal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// Index into [`Trace::scans`] of the first scan with the value.
    pub scan: u32,
    /// The value from then on.
    pub value: Value,
}

/// A recorded variable.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signal {
    /// Full path as declared.
    pub name: String,
    /// Kind of its values.
    pub kind: SignalKind,
    /// Direct address such as `%IX0.0`.
    pub location: Option<String>,
    /// Section it was declared in.
    pub section: Section,
    /// Its changes, ascending; the first belongs to scan 0 of the trace.
    pub changes: Vec<Change>,
}

impl Signal {
    /// The value after a scan, by its index in the trace; for a scan behind the last one the last value. `None` only
    /// in a trace without scans.
    #[must_use]
    pub fn get(&self, scan: u32) -> Option<&Value> {
        let after = self.changes.partition_point(|change| change.scan <= scan);
        let change =
            after.checked_sub(1).and_then(|index| self.changes.get(index)).or(self.changes.first())?;
        Some(&change.value)
    }

    /// As [`Signal::get`]; FALSE in a trace without scans.
    #[must_use]
    pub fn value_at(&self, scan: u32) -> &Value {
        self.get(scan).unwrap_or(&Value::Bool(false))
    }
}

/// A recording.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Trace {
    /// The recorded scans.
    pub scans: Vec<ScanRecord>,
    /// The recorded variables, in the order they were asked for.
    pub signals: Vec<Signal>,
}

impl Trace {
    /// The signal with this name, in any case.
    #[must_use]
    pub fn signal(&self, name: &str) -> Option<&Signal> {
        self.signals.iter().find(|signal| signal.name.eq_ignore_ascii_case(name))
    }

    /// Index of the last scan at or before a time; `None` before the first.
    #[must_use]
    pub fn scan_at(&self, time_ns: i64) -> Option<u32> {
        let after = self.scans.partition_point(|scan| scan.time_ns <= time_ns);
        after.checked_sub(1).and_then(|index| u32::try_from(index).ok())
    }
}

/// A variable being recorded.
#[derive(Clone, Debug)]
struct Watched {
    start: usize,
    size: usize,
    kind: ResolvedKind,
}

/// Records variables of a machine scan by scan.
#[derive(Clone, Debug)]
pub struct Recorder {
    watched: Vec<Watched>,
    /// Bytes of all watched variables after the last scan, one behind the other.
    last: Vec<u8>,
    trace: Trace,
}

impl Recorder {
    /// A recorder for variables of a program. Variables outside its data image are recorded as 0.
    #[must_use]
    pub fn new(program: &Program, variables: Vec<Resolved>) -> Self {
        let data_bytes = program.image().data.len();
        let mut watched = Vec::with_capacity(variables.len());
        let mut signals = Vec::with_capacity(variables.len());
        let mut bytes = 0;
        for variable in variables {
            let start = variable.address as usize;
            let size = variable.kind.bytes();
            let inside = start.saturating_add(size) <= data_bytes;
            let size = if inside { size } else { 0 };
            watched.push(Watched { start, size, kind: variable.kind });
            bytes += size;
            signals.push(Signal {
                kind: SignalKind::of(variable.kind),
                name: variable.name,
                location: variable.location,
                section: variable.section,
                changes: Vec::new(),
            });
        }
        Self { watched, last: vec![0; bytes], trace: Trace { scans: Vec::new(), signals } }
    }

    /// Records the state after a scan. Scans beyond 2^32 - 1 are not recorded.
    pub fn record(&mut self, machine: &Machine, time_ns: i64) {
        let Ok(scan) = u32::try_from(self.trace.scans.len()) else { return };
        let data = machine.data();
        let mut rest = self.last.as_mut_slice();
        for (watched, signal) in self.watched.iter().zip(&mut self.trace.signals) {
            let (last, behind) = rest.split_at_mut(watched.size.min(rest.len()));
            rest = behind;
            let now = data.get(watched.start..watched.start.saturating_add(watched.size)).unwrap_or_default();
            if now == last && !signal.changes.is_empty() {
                continue;
            }
            if now.len() == last.len() {
                last.copy_from_slice(now);
            }
            let value = value_of_bytes(machine.program(), watched.kind, now);
            // Bytes behind the end of a string or beside the bit may change without changing the value.
            if signal.changes.last().is_none_or(|change| change.value != value) {
                signal.changes.push(Change { scan, value });
            }
        }
        self.trace.scans.push(ScanRecord { time_ns, instructions: machine.last_instructions() });
    }

    /// Number of recorded scans.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.trace.scans.len()
    }

    /// Whether no scan was recorded.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.trace.scans.is_empty()
    }

    /// What was recorded so far.
    #[must_use]
    pub const fn trace(&self) -> &Trace {
        &self.trace
    }

    /// The recording.
    #[must_use]
    pub fn finish(self) -> Trace {
        self.trace
    }
}

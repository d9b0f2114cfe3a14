//! Recordings: the values of chosen variables after every scan, kept as changes.
//!
//! The recorder finds what a scan changed, [`Changes`] keeps it in few bytes. Nothing here knows how a trace is shown or
//! exported.

mod changes;
mod encoding;
mod kind;
mod recorder;

pub use changes::{Change, Changes, ChangesIter};
pub use kind::SignalKind;
pub use recorder::Recorder;

use crate::image::Section;
use crate::value::Value;
use serde::{Deserialize, Serialize};

/// One recorded scan.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ScanRecord {
    /// Simulated time in nanoseconds.
    pub time_ns: i64,
    /// Instructions executed.
    pub instructions: u64,
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
    pub changes: Changes,
}

impl Signal {
    /// The value after a scan, by its index in the trace; for a scan behind the last one the last value. `None` only
    /// in a trace without scans.
    #[must_use]
    pub fn get(&self, scan: u32) -> Option<Value> {
        let change = self.changes.in_force(scan).or_else(|| self.changes.first())?;
        Some(change.value)
    }

    /// As [`Signal::get`]; FALSE in a trace without scans.
    #[must_use]
    pub fn value_at(&self, scan: u32) -> Value {
        self.get(scan).unwrap_or(Value::Bool(false))
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

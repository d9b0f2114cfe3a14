//! Tasks and their status (IEC 61131-3:2013 6.8.2, Table 63).
//!
//! When a task is released and which goes first is said in `machine`; this module only describes tasks.

use serde::{Deserialize, Serialize};

/// One program instance run by a task. A function block that has a task of its own is one as well.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProgramCall {
    /// Index of the program's unit.
    pub unit: u32,
    /// Address of its instance.
    pub base: u32,
}

/// A task: when its programs run, and which go first.
///
/// A task with neither `interval_ns` nor `single` nor `cyclic` is never released.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Task {
    /// Name for messages.
    pub name: String,
    /// Index into [`crate::Image::resources`]; 0 where the image names none.
    pub resource: u32,
    /// INTERVAL in nanoseconds, not negative; 0 for none. The task is released in the first scan and in every scan
    /// that has reached a new multiple of the interval, as long as SINGLE is FALSE.
    pub interval_ns: i64,
    /// For programs without a task: released in every scan, after all other tasks of the resource. Such a task has
    /// neither an interval nor SINGLE.
    pub cyclic: bool,
    /// SINGLE: address of a BOOL; the task is released once at each rising edge, and TRUE at the start is one.
    /// Such a task needs a status, which remembers the value.
    pub single: Option<u32>,
    /// PRIORITY: 0 is the highest. Of equal priority goes first what waits longest, then the order of the image.
    pub priority: u32,
    /// Its programs, in order.
    pub programs: Vec<ProgramCall>,
    /// Address of [`TaskStatus::BYTES`] bytes in the data image that the machine keeps up to date, as
    /// [`TaskStatus`] says, or [`NO_STATUS`].
    pub status: u32,
}

/// For [`Task::status`]: the task has none.
pub const NO_STATUS: u32 = 0;

impl Task {
    /// A task that runs its programs in every scan, in the only resource of an image without configuration.
    #[must_use]
    pub fn cyclic(name: impl Into<String>, programs: Vec<ProgramCall>) -> Self {
        Self {
            name: name.into(),
            resource: 0,
            interval_ns: 0,
            cyclic: true,
            single: None,
            priority: 0,
            programs,
            status: NO_STATUS,
        }
    }
}

/// Offsets in the status of a task, little endian like everything in the data image. A program reads them like any
/// variables, and a recorder records them.
#[derive(Clone, Copy, Debug)]
pub struct TaskStatus;

impl TaskStatus {
    /// Size of a status; it needs no alignment.
    pub const BYTES: u32 = 32;
    /// BOOL: instructions of the task were executed in the last scan.
    pub const RAN: u32 = 0;
    /// BOOL: after the last scan a release of the task waits or is interrupted.
    pub const WAITING: u32 = 1;
    /// BOOL: SINGLE when it was last looked at; the machine's memory for its edge.
    pub const SINGLE: u32 = 2;
    /// UDINT: releases that came to their end since the restart, modulo 2^32.
    pub const RUNS: u32 = 4;
    /// UDINT: releases that were lost since the restart, modulo 2^32.
    pub const OVERRUNS: u32 = 8;
    /// UDINT: instructions that the task executed in the last scan, at most 2^32 - 1.
    pub const INSTRUCTIONS: u32 = 12;
    /// LTIME (i64, nanoseconds): from release to end, of the last release that came to its end.
    pub const RESPONSE: u32 = 16;
    /// LTIME (i64, nanoseconds): the longest such time since the restart.
    pub const LONGEST_RESPONSE: u32 = 24;
}

//! Events: error conditions that have a defined value, so that the program goes on.
//!
//! Each kind is counted for each source line; the first occurrence is kept with its scan and values. The log belongs
//! to the observer, not to the program: it is no part of the data image and survives restarts.

use crate::fault::{FaultPlace, Named};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;

macro_rules! event_kinds {
    ($($variant:ident $name:literal $text:literal;)*) => {
        /// Kind of an event.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[repr(u8)]
        pub enum EventKind {
            $(#[doc = $text] $variant,)*
        }

        impl EventKind {
            /// All kinds in the order of their codes.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// Stable name, lower case with dashes.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// One sentence that says what happened.
            #[must_use]
            pub const fn text(self) -> &'static str {
                match self { $(Self::$variant => $text,)* }
            }
        }
    };
}

event_kinds! {
    Overflow "overflow" "the result does not fit its type; an integer keeps the low bits, a real becomes infinite or NaN";
    DivisionByZero "division-by-zero" "division by zero; a real becomes infinite or NaN, another type 0";
    ModuloByZero "modulo-by-zero" "MOD by zero gives 0";
    Conversion "conversion" "the value does not fit the target type of the conversion";
    StringCut "string-cut" "the text is longer than the string that stores it and was cut";
    StringPosition "string-position" "a position or length reaches outside the string";
    ForStepZero "for-step-zero" "the step of a FOR statement is 0; the loop was left";
    Selector "selector" "the selector of MUX names no input; the first input was taken";
    Domain "domain" "the function is not defined for this argument";
    CalendarDate "calendar-date" "year, month, day or time of day do not exist; the default was taken";
    DayOverflow "day-overflow" "a time of day passed midnight and was taken modulo 24 hours";
    CrossedLimits "crossed-limits" "the lower limit is above the upper limit";
    Dimension "dimension" "the array has no such dimension";
    InvalidDigit "invalid-digit" "the value is not a binary coded decimal number";
    CaseWithoutMatch "case-without-match" "no label of a CASE statement without ELSE matches";
    Precision "precision" "the value was rounded";
    TaskOverrun "task-overrun" "a task was released again before its last release had ended; the new release was lost";
    SfcUnsafe "sfc-unsafe" "a transition activated a step that was active already; the step went on";
    SelectionConflict "selection-conflict" "two transitions from one step were TRUE together; the first one in the text cleared";
    ActionContention "action-contention" "two times controlled one action at once; the first one was taken";
}

impl EventKind {
    /// The kind with this code, if there is one.
    #[must_use]
    pub fn from_code(code: u32) -> Option<Self> {
        Self::ALL.get(usize::try_from(code).ok()?).copied()
    }

    /// Its code, the operand of [`crate::Family::Event`].
    #[must_use]
    pub const fn code(self) -> u32 {
        self as u32
    }
}

impl fmt::Display for EventKind {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.name())
    }
}

/// All events of one kind at one source line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EventEntry {
    /// What happened.
    pub kind: EventKind,
    /// Name of the unit it happened in.
    pub unit: String,
    /// Source place of the first occurrence.
    pub place: Option<FaultPlace>,
    /// How often it happened.
    pub count: u64,
    /// Scan of the first occurrence, from 0.
    pub scan: u64,
    /// Simulated time of that scan in nanoseconds.
    pub time_ns: i64,
    /// Values at the first occurrence.
    pub values: Vec<Named>,
}

/// Identifies the source line of an event: file and line, or the instruction where no source is known, or a task.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum EventLine {
    Source(u32, u32),
    Instruction(u32),
    /// A task, by its index.
    Task(u32),
}

/// Counts of events for each kind and line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct EventLog {
    entries: BTreeMap<(EventLine, EventKind), EventEntry>,
}

impl EventLog {
    /// All entries, ordered by source line and kind.
    pub fn iter(&self) -> impl Iterator<Item = &EventEntry> {
        self.entries.values()
    }

    /// Number of all events.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.entries.values().map(|entry| entry.count).fold(0, u64::saturating_add)
    }

    /// Number of events of one kind.
    #[must_use]
    pub fn count(&self, kind: EventKind) -> u64 {
        self.iter().filter(|entry| entry.kind == kind).map(|entry| entry.count).fold(0, u64::saturating_add)
    }

    /// Whether nothing was recorded.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.entries.clear();
    }

    /// Counts an event; `first` makes the entry when it is the first of its kind on the line.
    pub(crate) fn count_or_insert(
        &mut self,
        line: EventLine,
        kind: EventKind,
        first: impl FnOnce() -> EventEntry,
    ) {
        self.entries
            .entry((line, kind))
            .and_modify(|entry| entry.count = entry.count.saturating_add(1))
            .or_insert_with(first);
    }
}

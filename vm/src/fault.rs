//! Faults: conditions that stop the run, with the place in the source and the values that led to them.

use crate::event::EventKind;
use crate::value::Value;
use serde::{Deserialize, Serialize};
use std::fmt;

/// Kind of a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum FaultKind {
    /// Integer division by zero.
    DivisionByZero,
    /// Array index outside its bounds.
    Subscript,
    /// NULL was dereferenced.
    NullReference,
    /// Value outside its subrange.
    Subrange,
    /// The instruction budget of the scan is used up.
    Watchdog,
    /// Calls are nested too deeply. Only calls through references come to that; all others are counted beforehand.
    CallDepth,
    /// A unit would run a second time before its end, through a call of a method by reference.
    Recursion,
    /// An address outside the data image, or a native function outside its frame. A defect of this program or of
    /// whatever made the image.
    Address,
    /// An event, made a fault by [`crate::Machine::set_strict`].
    Event(EventKind),
}

impl FaultKind {
    /// Stable name, lower case with dashes.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::DivisionByZero => "division-by-zero",
            Self::Subscript => "subscript",
            Self::NullReference => "null-reference",
            Self::Subrange => "subrange",
            Self::Watchdog => "watchdog",
            Self::CallDepth => "call-depth",
            Self::Recursion => "recursion",
            Self::Address => "address",
            Self::Event(kind) => kind.name(),
        }
    }

    /// One sentence that says what happened.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::DivisionByZero => "division by zero",
            Self::Subscript => "the array index is outside its bounds",
            Self::NullReference => "a reference that is NULL was dereferenced",
            Self::Subrange => "the value is outside its subrange",
            Self::Watchdog => "the scan used up its instruction budget; look for a loop that does not end",
            Self::CallDepth => {
                "calls through references are nested too deeply; look for a long chain of instances that call one another"
            }
            Self::Recursion => {
                "the call of a method through a reference could lead back into a unit that has not ended; the language has no recursion"
            }
            Self::Address => "internal error: an address is outside the data image; please report this",
            Self::Event(kind) => kind.text(),
        }
    }
}

impl fmt::Display for FaultKind {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.name())
    }
}

/// A place in the source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct SourcePlace {
    /// Index into [`crate::DebugTables::files`].
    pub file: u32,
    /// First line, from 1.
    pub line: u32,
    /// First column, from 1.
    pub column: u32,
    /// Last line.
    pub end_line: u32,
    /// Column after the last character.
    pub end_column: u32,
}

/// A place in the source with the name of its file.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct FaultPlace {
    /// Name of the source file.
    pub file: String,
    /// Where in it.
    pub place: SourcePlace,
}

impl fmt::Display for FaultPlace {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{}:{}:{}", self.file, self.place.line, self.place.column)
    }
}

/// A value with what it is: `("index", 7)`.
pub type Named = (String, Value);

/// Why a run stopped.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fault {
    /// What happened.
    pub kind: FaultKind,
    /// Name of the unit it happened in.
    pub unit: String,
    /// Where in the source; `None` where the image has no line for it.
    pub place: Option<FaultPlace>,
    /// In which scan, from 0.
    pub scan: u64,
    /// Simulated time of that scan in nanoseconds.
    pub time_ns: i64,
    /// The values that led to it.
    pub values: Vec<Named>,
}

impl Fault {
    /// The fault in words, without the place: what happened and the values.
    #[must_use]
    pub fn message(&self) -> String {
        let mut text = self.kind.text().to_owned();
        for (index, (name, value)) in self.values.iter().enumerate() {
            text.push_str(if index == 0 { ": " } else { ", " });
            text.push_str(name);
            text.push(' ');
            text.push_str(&value.to_string());
        }
        text
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(formatter, "{place}: ")?;
        }
        write!(formatter, "{} (in {}, scan {})", self.message(), self.unit, self.scan)
    }
}

impl std::error::Error for Fault {}

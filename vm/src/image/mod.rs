//! The program image: everything that a compiled program consists of.
//!
//! An image is plain data. It may come from the builder or from a file, and nothing about it is trusted until
//! [`crate::Program::load`] has verified it completely. This module knows nothing of running.

mod debug;
mod dispatch;
mod format;
mod task;

pub use debug::{DebugTables, LineEntry, Member, Section, TypeDescription, TypeIndex, Variable};
pub use dispatch::{DispatchTable, DispatchTarget};
pub use format::{FORMAT_VERSION, ImageError};
pub use task::{NO_STATUS, ProgramCall, Task, TaskStatus};

use serde::{Deserialize, Serialize};
use std::ops::Range;

/// A part of the data image.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Region {
    /// Address of its first byte.
    pub start: u32,
    /// Its size in bytes.
    pub size: u32,
}

/// Where the areas of the data image lie. None of them may begin below [`crate::SYSTEM_BYTES`] unless it is empty.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct DataLayout {
    /// The packed `%I` area, latched from the terminals before a scan.
    pub inputs: Region,
    /// The packed `%Q` area, published to the terminals after a scan.
    pub outputs: Region,
    /// The packed `%M` area.
    pub memory: Region,
    /// The constants. A dispatcher may take their values from the image before the program runs, so a program that writes
    /// over one by its address may calculate with the old value or with the new one.
    pub constants: Region,
    /// What a warm restart keeps (RETAIN variables).
    pub retained: Vec<Region>,
    /// The static frames of all units: parameters, variables and temporaries that live only while a unit runs. It is
    /// kept and put back when a release of a task is interrupted, so nothing that must outlive a release lies here.
    /// No instance of a unit lies here. Where one does, in an image made by hand, the unit, or one that calls it, may
    /// calculate with old values of the places that lie over one another.
    pub frames: Region,
    /// The part of the frames that holds the temporaries of expressions, of all units together. In every run of its
    /// unit a temporary is written before it is read. Its content between two uses, and after a scan, has no meaning:
    /// a dispatcher need not write one that nothing reads. So it is no part of the state, see [`Image::state_ranges`].
    pub temporaries: Region,
}

/// The three areas of directly represented variables (IEC 61131-3:2013 Table 16).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum AreaKind {
    /// `%I`.
    Input,
    /// `%Q`.
    Output,
    /// `%M`.
    Memory,
}

/// A located BOOL: a byte of its own that mirrors one bit of a packed area.
///
/// Before a scan input bits are unpacked into their places; after it the places of output and memory bits are
/// packed into their areas.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LocatedBit {
    /// Address of the BOOL's own byte.
    pub place: u32,
    /// Address of the byte in the packed area.
    pub byte: u32,
    /// Number of the bit in that byte, 0 to 7.
    pub bit: u8,
    /// Which area it belongs to.
    pub area: AreaKind,
}

/// The kind of a program organisation unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum UnitKind {
    /// A program.
    Program,
    /// A function.
    Function,
    /// The body of a function block.
    FunctionBlock,
    /// A method of a function block or class.
    Method,
}

/// A unit of code. Units follow one another in the code without gaps.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Unit {
    /// Name for faults and listings.
    pub name: String,
    /// What it is.
    pub kind: UnitKind,
    /// Size of the instance that relative places of the unit lie in; 0 for units without one.
    pub instance_bytes: u32,
    /// Index of its first instruction.
    pub first_instruction: u32,
    /// Number of its instructions.
    pub instruction_count: u32,
}

/// The range of one dimension of an array, for [`crate::Family::Index`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct IndexRange {
    /// Lower bound of the index.
    pub lower: i64,
    /// Number of index values, at least 1.
    pub count: u32,
    /// Distance of neighbouring elements in bytes.
    pub stride: u32,
}

/// A native function that the image needs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct NativeImport {
    /// Its name in the table given to [`crate::Program::load`].
    pub name: String,
    /// Size of its frame in bytes; must agree with the table.
    pub frame_bytes: u32,
}

/// A compiled program.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Image {
    /// Content of the whole data image after a cold restart.
    pub data: Vec<u8>,
    /// Where the areas of the data image lie.
    pub layout: DataLayout,
    /// Located BOOL variables.
    pub bits: Vec<LocatedBit>,
    /// Units of code.
    pub units: Vec<Unit>,
    /// Encoded instructions of all units.
    pub code: Vec<u8>,
    /// Ranges used by index instructions.
    pub ranges: Vec<IndexRange>,
    /// Native functions used.
    pub natives: Vec<NativeImport>,
    /// Tasks, in textual order.
    pub tasks: Vec<Task>,
    /// Names, types and source places.
    pub debug: DebugTables,
    /// Tables for calls whose unit is known at run time only, see [`crate::Family::CallMethod`].
    pub dispatch: Vec<DispatchTable>,
    /// Names of the resources, in textual order. Without any there is one resource without a name.
    pub resources: Vec<String>,
    /// Time between two scans that suits the tasks, in nanoseconds; 0 where the image has no opinion.
    pub base_interval_ns: i64,
}

impl Image {
    /// The two parts of the data image that make up the state of a machine: all but [`DataLayout::temporaries`]. Two
    /// machines with one program are in the same state between two scans where these parts agree (with simulated time
    /// there is more to it, see [`crate::Timing`]).
    #[must_use]
    pub fn state_ranges(&self) -> [Range<usize>; 2] {
        let end = self.data.len();
        let Region { start, size } = self.layout.temporaries;
        // A verified image has the region inside its data; any other gives ranges inside them all the same.
        let start = if size == 0 { end } else { (start as usize).min(end) };
        [0..start, start.saturating_add(size as usize).min(end)..end]
    }
}

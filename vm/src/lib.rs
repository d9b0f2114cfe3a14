//! Program image, verifier and cycle-accurate interpreter for control logic.
//!
//! ```text
//! ImageBuilder --finish--> Image --Program::load (verify, decode)--> Program --Machine::new--> Machine --scan--> ...
//! ```
//!
//! * **One flat data image.** Every variable, instance, temporary and constant has a fixed place in one byte buffer;
//!   the whole state of a running program is that buffer.
//! * **Verified once, then trusted.** [`Program::load`] checks an image completely; only a [`Program`] can run.
//! * **Cycle-accurate.** Inputs are unpacked before a scan, tasks run in the order of their priorities, outputs are
//!   packed after it. Time is a number of nanoseconds given by the caller; nothing here reads a clock, a file or the
//!   environment. The same image and inputs give the same bytes on every platform.
//!
//! The crate implements the execution side of IEC 61131-3:2013; it knows source text only through the debug tables of
//! an image.

pub mod builder;
mod event;
mod fault;
mod image;
mod instruction;
pub mod limits;
mod native;
mod place;
pub mod types;
pub mod value;

pub use builder::{BuildError, FinishedUnit, ImageBuilder, Label, Operand, UnitBuilder};
pub use event::{EventEntry, EventKind, EventLog};
pub use fault::{Fault, FaultKind, FaultPlace, Named, SourcePlace};
pub use image::{
    AreaKind, DataLayout, DebugTables, FORMAT_VERSION, Image, ImageError, IndexRange, LineEntry, LocatedBit,
    Member, NativeImport, ProgramCall, Region, Section, Task, TypeDescription, TypeIndex, Unit, UnitKind,
    Variable,
};
pub use instruction::{
    BYTES_PER_COUNT, CodeError, Family, FamilyDescription, Instruction, Opcode, OperandKind, Raises,
    decode_instruction, encode_instruction, instruction_reference,
};
pub use native::{NativeCall, NativeFunction};
pub use place::{NULL_ADDRESS, Place, SYSTEM_BYTES};
pub use types::{ElementaryType, Scalar};
pub use value::Value;

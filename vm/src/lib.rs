//! Program image, verifier and cycle-accurate machine for control logic: an interpreter, and code of the processor for
//! programs that run long.
//!
//! ```text
//! ImageBuilder --finish--> Image --Program::load (verify, decode)--> Program --Machine::new--> Machine --scan--> ...
//! ```
//!
//! * **One flat data image.** Every variable, instance, temporary and constant has a fixed place in one byte buffer;
//!   the whole state of a running program is that buffer.
//! * **Verified once, then trusted.** [`Program::load`] checks an image completely; only a [`Program`] can run.
//! * **Cycle-accurate.** Inputs are unpacked before a scan, tasks run in the order of their priorities, outputs are
//!   packed after each; on request every instruction takes simulated time. Time is a number of nanoseconds given by the
//!   caller; nothing here reads a clock, a file or the environment. The same image and inputs give the same bytes on
//!   every platform.
//!
//! The crate implements the execution side of IEC 61131-3:2013; it knows source text only through the debug tables of
//! an image.

mod access;
pub mod block;
pub mod builder;
pub mod coverage;
mod event;
mod fault;
mod image;
mod instruction;
pub mod journal;
pub mod limits;
pub mod listing;
mod machine;
mod native;
mod place;
mod program;
mod resolve;
mod run;
mod schedule;
mod text_operation;
pub mod trace;
pub mod types;
pub mod value;
mod verify;

pub use access::WriteError;
pub use builder::{BuildError, FinishedUnit, ImageBuilder, Label, Operand, UnitBuilder};
pub use coverage::{CoverageLog, CoverageSize, DecisionLog, DecisionVector};
pub use event::{EventEntry, EventKind, EventLog};
pub use fault::{Fault, FaultKind, FaultPlace, Named, SourcePlace};
pub use image::{
    AreaKind, DataLayout, DebugTables, DispatchTable, DispatchTarget, FORMAT_VERSION, Image, ImageError,
    IndexRange, LineEntry, LocatedBit, Member, NO_STATUS, NativeImport, ProgramCall, Region, Section, Task,
    TaskStatus, TypeDescription, TypeIndex, Unit, UnitKind, Variable,
};
pub use instruction::{
    BYTES_PER_COUNT, CodeError, Family, FamilyDescription, Instruction, Opcode, OperandKind, Raises,
    decode_instruction, encode_instruction, instruction_reference,
};
pub use journal::{Journal, Note, NoteKind};
pub use listing::{ListedInstruction, ListedTable, dispatch_listing, task_listing, unit_listing};
pub use machine::{Dispatcher, Machine, Restart, ScanSummary, TaskRun, Timing};
pub use native::{NativeCall, NativeFunction};
pub use place::{NULL_ADDRESS, Place, SYSTEM_BYTES};
pub use program::Program;
pub use resolve::{ResolveError, Resolved, ResolvedKind};
pub use text_operation::TextOperation;
pub use trace::{Change, Changes, Recorder, ScanRecord, Signal, SignalKind, Trace};
pub use types::{ElementaryType, Scalar};
pub use value::Value;
pub use verify::LoadError;

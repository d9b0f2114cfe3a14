//! Running verified code: handlers written once, two dispatchers that run them, and a compiled form.
//!
//! * [`handlers`]: what each instruction does, generic over the scalar and over memory access.
//! * [`matched`]: a loop with a match and checked access, for every build and target; the definition.
//! * `threaded`: every handler continues with the next in tail position, with access that the verifier has proven;
//!   only in optimised builds. It runs groups of instructions that `fuse` has planned.
//! * `compiled`: code of the processor, for programs that run long.
//!
//! The threaded dispatcher and compiled code handle the ordinary case only. Whatever records an event or raises a fault
//! is handed to the one instruction step of the matched dispatcher, so all agree by construction on everything rare.
//! `threaded`, `compiled` and `texts` are the modules of the crate with unsafe code.

pub(crate) mod access;
#[cfg(compiled_form)]
pub(crate) mod compiled;
pub(crate) mod dispatch;
// The compiled form takes lifetimes and constants from it; the plans are for the threaded dispatcher.
#[cfg(any(threaded_dispatch, compiled_form))]
#[cfg_attr(not(threaded_dispatch), allow(dead_code))]
mod fuse;
pub(crate) mod handlers;
pub(crate) mod matched;
pub(crate) mod number;
pub(crate) mod observer;
#[cfg(compiled_form)]
mod texts;
#[cfg(threaded_dispatch)]
pub(crate) mod threaded;

#[cfg(not(threaded_dispatch))]
pub(crate) use matched::run as run_threaded;
pub(crate) use observer::RunState;
#[cfg(threaded_dispatch)]
pub(crate) use threaded::run as run_threaded;

use crate::image::IndexRange;
use crate::instruction::Opcode;
use crate::native::NativeFunction;
use dispatch::{DispatchIndex, Guard, Units};

/// A decoded instruction.
#[derive(Clone, Copy)]
pub(crate) struct Record {
    /// Operands: places as place words, jump targets and units as distances in instructions, the rest plain.
    pub(crate) operands: [u32; 4],
    /// Sum of the costs of all instructions before this one in the image.
    pub(crate) prefix: u32,
}

/// Decoded code of an image.
pub(crate) struct Code {
    /// One record an instruction, and one behind the last with the sum of all costs.
    pub(crate) records: Box<[Record]>,
    /// Opcode of each record but the last.
    pub(crate) opcodes: Box<[Opcode]>,
    /// Index ranges of the image.
    pub(crate) ranges: Box<[IndexRange]>,
    /// Native functions in the order of the image's imports.
    pub(crate) natives: Box<[NativeFunction]>,
    /// Dispatch tables of the image.
    pub(crate) dispatch: Box<[DispatchIndex]>,
    /// What calls through dispatch tables check before they enter a unit, see [`dispatch::Target`].
    pub(crate) guards: Box<[Guard]>,
    /// First instructions of the units.
    pub(crate) units: Units,
    /// The form that the threaded dispatcher runs, made when a machine first needs it.
    #[cfg(threaded_dispatch)]
    pub(crate) chain: std::sync::OnceLock<threaded::Chain>,
    /// The compiled form, made when a machine asks for it; `None` where there is none.
    #[cfg(compiled_form)]
    pub(crate) compiled: std::sync::OnceLock<Option<compiled::Compiled>>,
}

/// Where to continue after a call.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Frame {
    /// Index of the record.
    pub(crate) index: u32,
    /// Instance base of the caller.
    pub(crate) base: u32,
    /// For the threaded dispatcher: sum of the costs of all instructions before that one.
    pub(crate) prefix: u32,
}

/// How an instruction ends when nothing rare happens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Step {
    /// The next instruction follows.
    Next,
    /// The instruction so many records (a signed distance) further on follows.
    Jump(u32),
    /// The unit whose first instruction is so many records away follows, with this instance base.
    Call { distance: u32, base: u32 },
    /// The caller follows.
    Return,
}

/// Why an instruction did not come to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stop {
    /// Something rare: nothing was changed, and the checked step must run the instruction instead.
    // Only the threaded dispatcher makes it; the checked step itself is careful always.
    #[cfg_attr(not(threaded_dispatch), allow(dead_code))]
    Slow,
    /// A fault was recorded.
    Fault,
}

pub(crate) type Outcome = Result<Step, Stop>;

/// How the run of one program ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Exit {
    /// Instructions executed so far in the scan.
    pub(crate) executed: u64,
    /// Whether a fault stopped it.
    pub(crate) faulted: bool,
}

/// Where a run of a program stands: at the instruction `index` with the instance `base`, with `open` calls on its
/// stack, after `executed` instructions in the scan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Cursor {
    pub(crate) index: u32,
    pub(crate) base: u32,
    pub(crate) open: usize,
    pub(crate) executed: u64,
}

/// Start of a program run: the unit, the instance base, and the instructions already executed in the scan.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Start {
    pub(crate) unit: u32,
    pub(crate) base: u32,
    pub(crate) executed: u64,
}

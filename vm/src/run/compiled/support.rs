//! What compiled code calls: everything that is rare or long runs in the machine itself.

use super::super::access::Calls;
use super::super::observer::Observer;
use super::super::texts::{DataImage, on_frame};
use super::super::{RunState, Step, matched};
use super::Entry;
use crate::fault::FaultKind;
use crate::place::SYSTEM_BYTES;
use crate::program::Program;
use std::{ptr, slice};

/// What a run of compiled code needs besides its arguments. Compiled code reads the first three members itself.
#[repr(C)]
pub(super) struct Context {
    /// Time that the running release sees.
    pub(super) now_ns: i64,
    /// Not 0 after a fault: everything returns then.
    pub(super) stopped: u64,
    /// What the last plain instruction has charged, see [`step`].
    pub(super) charged: i64,
    pub(super) program: *const Program,
    pub(super) state: *mut RunState,
    pub(super) data: *mut u8,
    pub(super) size: usize,
    pub(super) entries: *const Entry,
}

impl Context {
    pub(super) const NOW: i32 = 0;
    pub(super) const STOPPED: i32 = 8;
    pub(super) const CHARGED: i32 = 16;

    /// The data image of the run.
    pub(super) const fn image(&self) -> DataImage {
        DataImage { data: self.data, size: self.size }
    }
}

/// Runs one plain instruction in the checked step, with the instance that begins at `base`. The result is what it
/// charges beyond its cost; whether it jumps the code knows that calls this. After a fault the context is stopped.
///
/// # Safety
/// The context is that of a run that compiled code of its program is in; the instruction is one of the program that
/// does not call and does not return.
pub(super) unsafe extern "C" fn step(context: *mut Context, instruction: u32, base: *mut u8) -> i64 {
    // SAFETY: program, state and data image are borrowed for the run and used by nothing else while this runs.
    unsafe {
        let context = &mut *context;
        let data = slice::from_raw_parts_mut(context.data, context.size);
        let calls = Calls { frames: &mut [], open: 0 };
        // Addresses inside the data image are far below 2^32.
        let base = base.addr().wrapping_sub(context.data.addr()) as u32;
        let (outcome, charged) =
            matched::step(&*context.program, data, &mut *context.state, calls, instruction, base);
        match outcome {
            Ok(Step::Next | Step::Jump(_)) => charged.min(1 << 60) as i64,
            Ok(Step::Call { .. } | Step::Return) | Err(_) => {
                Observer { program: &*context.program, state: &mut *context.state, instruction }
                    .fault(FaultKind::Address, Vec::new);
                context.stopped = 1;
                0
            }
        }
    }
}

/// As [`step`], with the result left in the context, for the way that preserves all registers.
///
/// # Safety
/// As for [`step`].
pub(super) unsafe extern "C" fn rare(context: *mut Context, instruction: u32, base: *mut u8) {
    // SAFETY: as the caller says.
    unsafe { (*context).charged = step(context, instruction, base) };
}

/// As [`rare`], for an instruction that faults by the values that compiled code has. It stops in any case: the checked
/// step reads the data image, where a program that writes over the places of its own unit may have left others.
///
/// # Safety
/// As for [`step`].
pub(super) unsafe extern "C" fn faulting(context: *mut Context, instruction: u32, base: *mut u8) {
    // SAFETY: as the caller says; program and state as in `step`.
    unsafe {
        step(context, instruction, base);
        let context = &mut *context;
        if context.stopped == 0 {
            Observer { program: &*context.program, state: &mut *context.state, instruction }
                .fault(FaultKind::Address, Vec::new);
            context.stopped = 1;
        }
    }
}

/// Records that the budget is used up at an instruction, and stops.
///
/// # Safety
/// As for [`step`].
pub(super) unsafe extern "C" fn watchdog(context: *mut Context, instruction: u32, _base: *mut u8) {
    // SAFETY: as in `step`.
    unsafe {
        let context = &mut *context;
        matched::watchdog(&*context.program, &mut *context.state, instruction);
        context.stopped = 1;
    }
}

/// The unit that a call through a dispatch table enters for the instance at an address; null where there is none, which
/// the plain instruction finds too and says what is wrong.
///
/// # Safety
/// As for [`step`].
pub(super) unsafe extern "C" fn enter(context: *mut Context, table: u32, address: u32) -> *const Entry {
    // SAFETY: as in `step`; there is one entry for each unit.
    unsafe {
        let context = &*context;
        let data = slice::from_raw_parts(context.data, context.size);
        let find = || {
            let tag = data.get(address as usize..)?.first_chunk().copied().map(u32::from_le_bytes)?;
            let target = (*context.program).code().dispatch.get(table as usize)?.find(tag)?;
            let inside =
                address >= SYSTEM_BYTES && address.checked_add(target.instance_bytes)? as usize <= data.len();
            inside.then(|| context.entries.add(target.unit as usize))
        };
        find().unwrap_or(ptr::null())
    }
}

/// Copies bytes of the data image; the spans may overlap.
///
/// # Safety
/// Both spans lie inside the data image.
pub(super) unsafe extern "C" fn copy(to: *mut u8, from: *const u8, bytes: usize) {
    // SAFETY: as the caller says.
    unsafe { from.copy_to(to, bytes) };
}

/// Runs a native function on the frame at an address that lies inside the data image. The result is what it charges;
/// after a fault the context is stopped.
///
/// # Safety
/// As for [`step`]; `index` is one of the natives of the image.
pub(super) unsafe extern "C" fn native(
    context: *mut Context,
    instruction: u32,
    index: u32,
    frame: u32,
) -> i64 {
    // SAFETY: as in `step`.
    unsafe {
        let context = &mut *context;
        let program = &*context.program;
        let Some(function) = program.code().natives.get(index as usize).copied() else { return 0 };
        if let Some(operation) = function.operation_on_frame() {
            let charged = on_frame(context.image(), operation, frame);
            if charged >= 0 {
                return charged;
            }
        }
        let data = slice::from_raw_parts_mut(context.data, context.size);
        let mut observer = Observer { program, state: &mut *context.state, instruction };
        let charged = observer.native(function, data, frame);
        context.stopped |= u64::from(observer.state.fault.is_some());
        charged.min(1 << 60) as i64
    }
}

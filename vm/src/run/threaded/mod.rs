//! The threaded dispatcher: every handler runs one instruction and continues with the next in tail position.
//!
//! One of the modules of the crate with unsafe code. They may assume what [`crate::verify`] has proven for the image:
//!
//! * **V1** An absolute place operand lies, with its width, inside the data image.
//! * **V2** A relative place operand lies, with its width, inside the instance of its unit; and every instance base
//!   that the unit can run with leaves room for the whole instance in the data image. Bases come from tasks and
//!   `call-block` (checked at load), `call` (the caller's instance is at least as large), `call-block-at` and
//!   `call-method` (checked by their handlers).
//! * **V3** Jump targets are instructions of the same unit; call targets are first instructions of units; the last
//!   instruction of a unit cannot be passed; one more record (the halt) follows the last unit. The targets of every
//!   dispatch table that `call-method` uses are units, and `run::dispatch` holds their first instructions.
//! * **V4** The stack has a free frame for every call. The graph of the calls of known units has no cycles. Where the
//!   longest chain of all calls, each unit counted once, fits the stack, nothing is checked when a call runs. Where it
//!   does not, every target of a dispatch table has a guard, and `call-method` checks through it that the longest
//!   chain of calls of known units below the target fits what is left; those calls need no check of their own then.
//!   Each unit counted once is enough: a unit that could run twice at once is found by the guard of the target.
//! * **V5** Index range, native and dispatch table operands are indices into their tables.
//! * **V6** The instance of a standard function block lies inside the data image with all of its bytes: at a place as V1
//!   and V2 say, with the size that the operand kind of the table row gives; at an address its handler has checked that
//!   size. Handlers use the members of that layout only (`block`), and a test holds every member to lie inside it.
//! * **V7** The byte and the place of every located bit, and the status of every task that has one, lie inside the data
//!   image. Compiled scans rely on it.
//!
//! A record is one plain instruction or a group of them ([`super::fuse`]). Its places are those of the plain instructions,
//! for which V1 and V2 hold; jumps, calls and returns lead to beginnings of groups.
//!
//! The data image never moves or changes its size while a program runs.
//!
//! What keeps the calls in tail position (a test in `tests/` runs 10^8 instructions on a small stack and fails if one
//! is lost): all state travels in five integer arguments; handlers own nothing with a destructor; rare cases continue
//! in cold functions of the same signature, which hand the instruction to the checked step.

#![allow(unsafe_code)]

mod access;
mod chain;
mod fused;

pub(crate) use self::chain::Chain;

use self::access::{Absolute, Addressing, BIAS, Mixed, Unchecked, biased};
use self::chain::{Entry, Record};
use self::fused::Fused;
use super::access::Calls;
use super::handlers::{self, Handler as Run, scalar_types};
use super::matched;
use super::observer::Observer;
use super::texts::{DataImage, on_frame};
use super::{Exit, Frame, Outcome, RunState, Start, Step, Stop};
use crate::fault::FaultKind;
use crate::image::IndexRange;
use crate::instruction::table::for_each_instruction;
use crate::instruction::{Family, Opcode};
use crate::native::NativeFunction;
use crate::program::Program;
use crate::types::Scalar;
use std::slice;

/// How a run ended.
#[derive(Clone, Copy, PartialEq, Eq)]
#[repr(u32)]
pub(crate) enum Status {
    Done,
    Fault,
}

macro_rules! handler_type {
    ($abi:literal) => {
        /// A handler: record, data image, instance base (shifted, see [`access::BIAS`]), count (instructions executed minus the prefix of the
        /// record, minus the budget), context.
        ///
        /// # Safety
        /// The record belongs to the program of the context, the data image is the context's, and the base is one
        /// that V2 allows for the unit of the record.
        pub(crate) type Handler =
            unsafe extern $abi fn(*const Record, *mut u8, *mut u8, i64, *mut Context) -> Status;
    };
}

// Five integer arguments in registers on every system: the C convention of Windows has only four.
#[cfg(target_arch = "x86_64")]
handler_type!("sysv64");
#[cfg(not(target_arch = "x86_64"))]
handler_type!("C");

/// Defines functions of the handler signature.
macro_rules! handler_functions {
    ($($(#[$attribute:meta])* fn $name:ident[$($generics:tt)*]($ip:ident, $data:ident, $base:ident, $count:ident, $context:ident)
        $body:block)*) => {$(
        #[cfg(target_arch = "x86_64")]
        $(#[$attribute])*
        unsafe extern "sysv64" fn $name<$($generics)*>(
            $ip: *const Record, $data: *mut u8, $base: *mut u8, $count: i64, $context: *mut Context,
        ) -> Status $body

        #[cfg(not(target_arch = "x86_64"))]
        $(#[$attribute])*
        unsafe extern "C" fn $name<$($generics)*>(
            $ip: *const Record, $data: *mut u8, $base: *mut u8, $count: i64, $context: *mut Context,
        ) -> Status $body
    )*};
}

/// What a run needs besides its arguments.
pub(crate) struct Context {
    size: u32,
    /// Time that the running release sees.
    now_ns: i64,
    records: *const Record,
    /// First instruction of each record.
    origins: *const u32,
    /// Where each unit begins.
    entries: *const Entry,
    ranges: *const IndexRange,
    natives: *const NativeFunction,
    /// First frame of the call stack that belongs to a call.
    calls: *mut Frame,
    /// Next free frame of the call stack.
    top: *mut Frame,
    program: *const Program,
    state: *mut RunState,
    // Where to continue after a checked step, and the count at the end of the run.
    next: *const Record,
    base: *mut u8,
    count: i64,
}

/// Whether a guard lets a call pass. In a frame of its own, so that nothing of it lives in the handler.
///
/// # Safety
/// As for [`Handler`].
#[inline(never)]
unsafe fn admitted(context: *const Context, ip: *const Record, guard: u32) -> bool {
    // SAFETY: the program is borrowed for the run; between `calls` and `top` lie the frames of the open calls.
    unsafe {
        let context = &*context;
        let code = (*context.program).code();
        let origin = |record: u32| *context.origins.add(record as usize);
        let caller = origin(ip.offset_from(context.records) as u32);
        let open = slice::from_raw_parts(context.calls, open_calls(context));
        let open = open.iter().map(|frame| origin(frame.index));
        code.guards.get(guard as usize).is_some_and(|guard| {
            guard.check(&code.units, caller, open, (*context.program).call_depth()).is_ok()
        })
    }
}

/// Number of open calls.
///
/// # Safety
/// `top` lies on the stack of the context, not below `calls`.
unsafe fn open_calls(context: &Context) -> usize {
    // SAFETY: both point into the same stack; while an instruction runs no more returns than calls have happened.
    unsafe { context.top.offset_from(context.calls) as usize }
}

/// Runs a native function in a frame of its own, so that nothing of it lives in the handler. The result is what it
/// charged, or -1 after a fault.
///
/// # Safety
/// As for [`Handler`]; `index` is one of the image's natives.
#[inline(never)]
unsafe fn native(context: *mut Context, ip: *const Record, data: *mut u8, index: u32, frame: u32) -> i64 {
    // SAFETY: program, state and data image are borrowed for the run by `run` and used by nothing else meanwhile.
    unsafe {
        let context = &*context;
        let function = &*context.natives.add(index as usize);
        if let Some(operation) = function.operation_on_frame() {
            let image = DataImage { data, size: context.size as usize };
            let charged = on_frame(image, operation, frame);
            if charged >= 0 {
                return charged;
            }
        }
        let instruction = *context.origins.add(ip.offset_from(context.records) as usize);
        let mut observer = Observer { program: &*context.program, state: &mut *context.state, instruction };
        let data = slice::from_raw_parts_mut(data, context.size as usize);
        let charged = observer.native(*function, data, frame);
        if observer.state.fault.is_some() { -1 } else { charged.min(1 << 62) as i64 }
    }
}

/// Continues as an instruction or a group has ended.
///
/// # Safety
/// As for [`Handler`]; the outcome is that of the record at `ip`.
#[inline(always)]
unsafe fn follow<P>(access: &Unchecked<P>, outcome: Outcome) -> Status {
    let Unchecked { ip, data, base, context, .. } = *access;
    // SAFETY: for all of the body: `ip` points to a record of the program (V3), and the context outlives the run.
    unsafe {
        match outcome {
            Ok(Step::Next) => {
                let next = ip.add(1);
                ((*next).handler)(next, data, base, access.count, context)
            }
            Ok(Step::Jump(distance)) => {
                let target = ip.offset(distance as i32 as isize);
                if access.count + (*ip).behind() > 0 {
                    return watchdog(ip, data, base, access.count, context);
                }
                ((*target).handler)(target, data, base, access.count + (*ip).delta(), context)
            }
            Ok(Step::Call { distance, base: callee }) => {
                let target = ip.offset(distance as i32 as isize);
                let behind = (*ip).behind();
                if access.count + behind > 0 {
                    return watchdog(ip, data, base, access.count, context);
                }
                let index = ip.offset_from((*context).records) as u32 + 1;
                // V4: there is room for one more frame.
                (*context).top.write(Frame { index, base: access.base_offset(), prefix: behind as u32 });
                (*context).top = (*context).top.add(1);
                let count = access.count + (*ip).delta() - access.entered;
                ((*target).handler)(target, data, biased(data, callee), count, context)
            }
            Ok(Step::Return) => {
                // The lowest frame belongs to `run` and leads to the halt record.
                (*context).top = (*context).top.sub(1);
                let frame = (*context).top.read();
                let target = (*context).records.add(frame.index as usize);
                let count = access.count + (*ip).behind() - i64::from(frame.prefix);
                ((*target).handler)(target, data, biased(data, frame.base), count, context)
            }
            Err(Stop::Slow) => slow(ip, data, base, access.count, context),
            Err(Stop::Fault) => Status::Fault,
        }
    }
}

handler_functions! {
    fn instruction[H: Run, P: Addressing](ip, data, base, count, context) {
        let mut access = Unchecked::<P>::new(ip, data, base, count, context);
        // SAFETY: `ip` points to a record of the program (V3).
        unsafe {
            let outcome = H::run(&mut access, (*ip).operands());
            follow(&access, outcome)
        }
    }

    fn group[H: Fused, P: Addressing](ip, data, base, count, context) {
        let mut access = Unchecked::<P>::new(ip, data, base, count, context);
        // SAFETY: `ip` points to a record of the program (V3) with the words of a group of this form.
        unsafe {
            let outcome = H::run(&mut access, &(*ip).words);
            follow(&access, outcome)
        }
    }

    #[cold]
    #[inline(never)]
    fn slow[](ip, data, base, count, context) {
        // SAFETY: as for `instruction`; `checked_step` leaves a record of the program as the next one.
        unsafe {
            if checked_step(ip, data, base, count, context) == Status::Fault {
                return Status::Fault;
            }
            let next = (*context).next;
            ((*next).handler)(next, data, (*context).base, (*context).count, context)
        }
    }

    #[cold]
    #[inline(never)]
    fn watchdog[](ip, _data, _base, _count, context) {
        // SAFETY: as for `native`.
        unsafe {
            // The jump or call is the last instruction of its group.
            let index = *(*context).origins.add(ip.offset_from((*context).records) as usize + 1) - 1;
            matched::watchdog(&*(*context).program, &mut *(*context).state, index);
        }
        Status::Fault
    }

    fn halted[](ip, _data, _base, count, context) {
        // SAFETY: the context outlives the run.
        unsafe { (*context).count = count + (*ip).behind() };
        Status::Done
    }
}

/// Runs the instructions of a record in the checked step, and leaves in the context where to go on.
///
/// # Safety
/// As for [`Handler`].
#[inline(never)]
unsafe fn checked_step(
    ip: *const Record,
    data: *mut u8,
    base: *mut u8,
    count: i64,
    context: *mut Context,
) -> Status {
    // SAFETY: as for `native`; records are reached as in `instruction`.
    unsafe {
        let context = &mut *context;
        let record = ip.offset_from(context.records) as usize;
        let program = &*context.program;
        let open = open_calls(context);
        // V4: the machine's stack has one frame for each open call and one below them.
        let frames = slice::from_raw_parts_mut(context.calls, program.call_depth());
        let mut count = count;
        context.next = ip.add(1);
        context.base = base;
        for instruction in *context.origins.add(record)..*context.origins.add(record + 1) {
            let data = slice::from_raw_parts_mut(data, context.size as usize);
            let state = &mut *context.state;
            // Only a call through a table looks at the frames, at the instructions where they go on. No record comes
            // back to them: such a call comes here to fault.
            let calls = Calls { frames, open };
            if program
                .code()
                .opcodes
                .get(instruction as usize)
                .is_some_and(|opcode| opcode.family() == Family::CallMethod)
            {
                for frame in calls.frames.iter_mut().take(open) {
                    frame.index = *context.origins.add(frame.index as usize);
                }
            }
            let base = base.addr().wrapping_sub(BIAS).wrapping_sub(data.as_ptr().addr()) as u32;
            let (outcome, charged) = matched::step(program, data, state, calls, instruction, base);
            count = count.saturating_add(charged.min(1 << 62) as i64);
            match outcome {
                Ok(Step::Next) => {}
                Ok(Step::Jump(distance)) => {
                    let target = instruction.wrapping_add(distance);
                    let prefix = |instruction: u32| {
                        // There is a record more than instructions, and targets are instructions.
                        let record = program.code().records.get(instruction as usize);
                        record.map_or(0, |record| i64::from(record.prefix))
                    };
                    let behind = prefix(instruction + 1);
                    if count + behind > 0 {
                        matched::watchdog(program, state, instruction);
                        return Status::Fault;
                    }
                    context.next = context.records.add(program.chain().record_of(target) as usize);
                    count += behind - prefix(target);
                    break;
                }
                // Calls and returns have nothing to record: they come here only to fault.
                Ok(Step::Call { .. } | Step::Return) | Err(_) => {
                    Observer { program, state, instruction }.fault(FaultKind::Address, Vec::new);
                    return Status::Fault;
                }
            }
        }
        context.count = count;
        Status::Done
    }
}

/// Runs one program from its first instruction to its end.
///
/// `stack` must hold one frame more than the program's call depth, which [`crate::Machine`] sees to.
#[inline]
pub(crate) fn run(
    program: &Program,
    data: &mut [u8],
    state: &mut RunState,
    stack: &mut [Frame],
    start: Start,
) -> Exit {
    let code = program.code();
    let chain = program.chain();
    let halt = chain.records.len() - 1;
    let entry = chain.entries.get(start.unit as usize);
    let (Some(entry), Some(bottom)) = (entry, stack.first_mut()) else {
        Observer { program, state, instruction: 0 }.fault(FaultKind::Address, Vec::new);
        return Exit { executed: start.executed, faulted: true };
    };
    // The number of records and the sum of all costs are limited far below 2^32.
    let total = chain.records.get(halt).map_or(0, Record::behind);
    *bottom = Frame { index: halt as u32, base: 0, prefix: total as u32 };
    // Budget and executed instructions are at most 2^61.
    let budget = state.budget as i64;
    let count = start.executed as i64 - budget - i64::from(entry.prefix);
    let records = chain.records.as_ptr();
    // SAFETY: the stack has at least one frame.
    let calls = unsafe { stack.as_mut_ptr().add(1) };
    let mut context = Context {
        size: data.len() as u32,
        now_ns: state.now_ns,
        records,
        origins: chain.origins.as_ptr(),
        entries: chain.entries.as_ptr(),
        ranges: code.ranges.as_ptr(),
        natives: code.natives.as_ptr(),
        calls,
        top: calls,
        program: &raw const *program,
        state: &raw mut *state,
        next: records,
        base: data.as_mut_ptr(),
        count,
    };
    // SAFETY: only `Program::load` makes programs, and it has verified V1 to V5; the start comes from a task of the
    // program, so its base is one that V2 allows; data image, state and stack are borrowed for the call.
    let status = unsafe {
        let first = records.add(entry.record as usize);
        let data = data.as_mut_ptr();
        ((*first).handler)(first, data, biased(data, start.base), count, &raw mut context)
    };
    match status {
        Status::Done => Exit { executed: (context.count + budget).max(0) as u64, faulted: false },
        Status::Fault => Exit { executed: start.executed, faulted: true },
    }
}

macro_rules! define_handler_of {
    ($($family:ident $mnemonic:literal [$($scalar:ident)*] [$($operand:ident)*] $cost:literal [$($raises:ident)*]
        $handler:ident $summary:literal;)*) => {
        /// The handler of an opcode, for absolute places only or for both kinds.
        pub(crate) fn handler_of(opcode: Opcode, absolute: bool) -> Handler {
            match (opcode.family(), opcode.scalar(), absolute) {
                $($(
                    (Family::$family, Scalar::$scalar, true) => {
                        instruction::<handlers::$handler<scalar_types::$scalar>, Absolute>
                    }
                    (Family::$family, Scalar::$scalar, false) => {
                        instruction::<handlers::$handler<scalar_types::$scalar>, Mixed>
                    }
                )*)*
                // `Opcode::new` makes no other pairs. The checked step refuses them.
                _ => slow,
            }
        }
    };
}

for_each_instruction!(define_handler_of);

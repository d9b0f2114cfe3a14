//! Memory without checks: what the verifier has proven is not looked at again.
//!
//! The obligations V1 to V6 stand at the head of [`super`].

use super::super::access::{Access, Instance};
use super::super::dispatch::{Target, UNGUARDED};
use super::super::number::Number;
use super::super::{Record, Stop};
use super::{Context, admitted, native};
use crate::coverage::CoverageLog;
use crate::event::EventKind;
use crate::fault::{FaultKind, Named};
use crate::image::IndexRange;
use std::marker::PhantomData;

/// How place words become offsets into the data image.
pub(super) trait Addressing {
    fn offset(place: u32, base: usize) -> usize;
}

/// All places of the instruction are absolute.
pub(super) struct Absolute;

/// Places are absolute or relative, as their top bit says.
pub(super) struct Mixed;

impl Addressing for Absolute {
    #[inline(always)]
    fn offset(place: u32, _: usize) -> usize {
        place as usize
    }
}

impl Addressing for Mixed {
    #[inline(always)]
    fn offset(place: u32, base: usize) -> usize {
        // All ones for a relative place, zero for an absolute one.
        let mask = ((place as i32) >> 31) as isize as usize;
        (place & 0x7fff_ffff) as usize + (base & mask)
    }
}

/// Access without checks to places that the verifier has proven.
pub(super) struct Unchecked<P> {
    pub(super) ip: *const Record,
    pub(super) data: *mut u8,
    pub(super) base: usize,
    pub(super) count: i64,
    pub(super) context: *mut Context,
    pub(super) addressing: PhantomData<P>,
}

impl<P> Unchecked<P> {
    /// Reads at an offset into the data image.
    ///
    /// # Safety
    /// The offset and the width of S lie inside the data image.
    #[inline(always)]
    unsafe fn read<S: Number>(&self, offset: usize) -> S {
        self.assert_inside(offset, size_of::<S::Bytes>());
        // SAFETY: as the caller says. Bytes need no alignment.
        S::from_bytes(unsafe { self.data.add(offset).cast::<S::Bytes>().read() })
    }

    /// Writes at an offset into the data image.
    ///
    /// # Safety
    /// As for `read`.
    #[inline(always)]
    unsafe fn write<S: Number>(&self, offset: usize, value: S) {
        self.assert_inside(offset, size_of::<S::Bytes>());
        // SAFETY: as the caller says. Bytes need no alignment.
        unsafe { self.data.add(offset).cast::<S::Bytes>().write(value.to_bytes()) };
    }

    /// With the feature `checked-access`, ends the process when an access does not lie inside the data image.
    #[inline(always)]
    fn assert_inside(&self, offset: usize, bytes: usize) {
        if cfg!(feature = "checked-access") {
            // SAFETY: the context outlives the run.
            let size = unsafe { (*self.context).size } as usize;
            if offset > size || bytes > size - offset {
                outside(offset, bytes, size);
            }
        }
    }
}

/// Ends the process. It cannot unwind, so that the handlers need no cleaning up and keep their tail calls.
#[cold]
#[inline(never)]
extern "C" fn outside(offset: usize, bytes: usize, size: usize) -> ! {
    panic!("the threaded dispatcher was to access {bytes} bytes at {offset} of a data image of {size} bytes");
}

impl<P: Addressing> Access for Unchecked<P> {
    #[inline(always)]
    fn get<S: Number>(&mut self, place: u32) -> S {
        // SAFETY: V1 and V2.
        unsafe { self.read(P::offset(place, self.base)) }
    }

    #[inline(always)]
    fn set<S: Number>(&mut self, place: u32, value: S) {
        // SAFETY: V1 and V2.
        unsafe { self.write(P::offset(place, self.base), value) };
    }

    #[inline(always)]
    fn address(&self, place: u32) -> u32 {
        // Offsets inside the data image are far below 2^32.
        P::offset(place, self.base) as u32
    }

    #[inline(always)]
    fn base(&self) -> u32 {
        self.base as u32
    }

    #[inline(always)]
    fn size(&self) -> u32 {
        // SAFETY: the context outlives the run.
        unsafe { (*self.context).size }
    }

    #[inline(always)]
    fn get_at<S: Number>(&mut self, address: u32) -> Option<S> {
        if address as usize + size_of::<S::Bytes>() > self.size() as usize {
            return None;
        }
        // SAFETY: checked in the line above.
        Some(unsafe { self.read(address as usize) })
    }

    #[inline(always)]
    fn set_at<S: Number>(&mut self, address: u32, value: S) -> Option<()> {
        if address as usize + size_of::<S::Bytes>() > self.size() as usize {
            return None;
        }
        // SAFETY: checked in the line above.
        unsafe { self.write(address as usize, value) };
        Some(())
    }

    #[inline(always)]
    fn instance(&self, place: u32) -> Instance {
        Instance::of_operand(self.address(place))
    }

    #[inline(always)]
    fn member<S: Number>(&mut self, instance: Instance, offset: u32) -> S {
        // SAFETY: V6: the offset and the width of S lie inside the instance, and that lies inside the data image.
        unsafe { self.read(instance.address() as usize + offset as usize) }
    }

    #[inline(always)]
    fn set_member<S: Number>(&mut self, instance: Instance, offset: u32, value: S) {
        // SAFETY: as in `member`.
        unsafe { self.write(instance.address() as usize + offset as usize, value) };
    }

    #[inline(always)]
    fn copy(&mut self, to: u32, from: u32, bytes: u32) -> Option<()> {
        let (to, from, bytes) = (to as usize, from as usize, bytes as usize);
        let size = self.size() as usize;
        if to + bytes > size || from + bytes > size {
            return None;
        }
        // SAFETY: both spans lie inside the data image; `copy` allows them to overlap.
        unsafe { self.data.add(from).copy_to(self.data.add(to), bytes) };
        Some(())
    }

    #[inline(always)]
    fn range(&mut self, index: u32) -> IndexRange {
        // SAFETY: V5.
        unsafe { *(*self.context).ranges.add(index as usize) }
    }

    #[inline(always)]
    fn charge(&mut self, instructions: u64) {
        // A function cannot charge more than the largest budget in any sensible run; the limit keeps the sum exact.
        self.count = self.count.saturating_add(instructions.min(1 << 62) as i64);
    }

    #[inline(always)]
    fn careful(&mut self) -> Result<(), Stop> {
        Err(Stop::Slow)
    }

    fn data(&mut self) -> &mut [u8] {
        // Never reached: `careful` does not return here.
        &mut []
    }

    #[inline(always)]
    fn event(&mut self, _: EventKind, _: impl FnOnce() -> Vec<Named>) -> Result<(), Stop> {
        Err(Stop::Slow)
    }

    #[inline(always)]
    fn fault(&mut self, _: FaultKind, _: impl FnOnce() -> Vec<Named>) -> Stop {
        Stop::Slow
    }

    #[inline(always)]
    fn native(&mut self, index: u32, frame: u32) -> Result<(), Stop> {
        // SAFETY: the context outlives the run, V5, and the frame lies inside the data image.
        let charged = unsafe { native(self.context, self.ip, self.data, index, frame) };
        if charged < 0 {
            return Err(Stop::Fault);
        }
        self.count = self.count.saturating_add(charged);
        Ok(())
    }

    #[inline(always)]
    fn target(&mut self, table: u32, tag: u32) -> Option<Target> {
        // SAFETY: the context and the program that it points to outlive the run.
        let program = unsafe { &*(*self.context).program };
        program.code().dispatch.get(table as usize)?.find(tag)
    }

    #[inline(always)]
    fn admit(&mut self, target: Target) -> Result<(), Stop> {
        // SAFETY: as for `native`.
        if target.guard == UNGUARDED || unsafe { admitted(self.context, self.ip, target.guard) } {
            Ok(())
        } else {
            Err(Stop::Slow)
        }
    }

    #[inline(always)]
    fn distance(&mut self, target: Target) -> u32 {
        // SAFETY: V3: the target is the first instruction of a unit; the record belongs to the program.
        unsafe {
            let records = (*self.context).records;
            // Calls of known units have this difference in the record.
            self.count -= i64::from((*records.add(target.first_instruction as usize)).prefix);
            target.first_instruction.wrapping_sub(self.ip.offset_from(records) as u32)
        }
    }

    #[inline(always)]
    fn event_mark(&mut self) -> u32 {
        // SAFETY: the context and the state that it points to outlive the run; nothing else uses them meanwhile.
        unsafe { (*(*self.context).state).event_mark }
    }

    #[inline(always)]
    fn now(&mut self) -> i64 {
        // SAFETY: as in `event_mark`.
        unsafe { (*(*self.context).state).now_ns }
    }

    fn coverage(&mut self) -> Option<&mut CoverageLog> {
        // Never reached: `careful` does not return here.
        None
    }
}

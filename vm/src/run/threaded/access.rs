//! Memory without checks: what the verifier has proven is not looked at again.
//!
//! The obligations V1 to V6 stand at the head of [`super`].

use super::super::Stop;
use super::super::access::{Access, Instance, Members};
use super::super::dispatch::{Target, UNGUARDED};
use super::super::number::Number;
use super::super::texts::{self, DataImage};
use super::chain::{Entry, Record};
use super::{Context, admitted, native};
use crate::coverage::CoverageLog;
use crate::event::EventKind;
use crate::fault::{FaultKind, Named};
use crate::image::IndexRange;
use crate::journal::Journal;
use std::marker::PhantomData;

/// What the base of an instance is shifted by in the argument of a handler: relative place words are then its negative
/// distances, told from absolute ones by their sign.
pub(super) const BIAS: usize = 1 << 31;
/// The same for places written as half a word.
const NEAR_BIAS: usize = 1 << 15;

/// The shifted base of an instance.
#[inline(always)]
pub(super) fn biased(data: *mut u8, base: u32) -> *mut u8 {
    data.wrapping_add(base as usize).wrapping_add(BIAS)
}

/// How places become pointers into the data image. `base` is the shifted base of the instance.
pub(super) trait Addressing {
    /// The pointer to a place word.
    fn far(place: u32, data: *mut u8, base: *mut u8) -> *mut u8;
    /// The pointer to a place written as half a word, see [`super::super::fuse::Reach`].
    fn near(place: u16, data: *mut u8, base: *mut u8) -> *mut u8;
}

/// All places of the instruction are absolute.
pub(super) struct Absolute;

/// All places of the group are relative.
pub(super) struct Relative;

/// Places are absolute or relative, as their top bit says.
pub(super) struct Mixed;

impl Addressing for Absolute {
    #[inline(always)]
    fn far(place: u32, data: *mut u8, _: *mut u8) -> *mut u8 {
        data.wrapping_add(place as usize)
    }

    #[inline(always)]
    fn near(place: u16, data: *mut u8, _: *mut u8) -> *mut u8 {
        data.wrapping_add(usize::from(place))
    }
}

impl Addressing for Relative {
    #[inline(always)]
    fn far(place: u32, _: *mut u8, base: *mut u8) -> *mut u8 {
        base.wrapping_offset(place as i32 as isize)
    }

    #[inline(always)]
    fn near(place: u16, _: *mut u8, base: *mut u8) -> *mut u8 {
        base.wrapping_sub(BIAS).wrapping_add(usize::from(place))
    }
}

impl Addressing for Mixed {
    #[inline(always)]
    fn far(place: u32, data: *mut u8, base: *mut u8) -> *mut u8 {
        let distance = place as i32 as isize;
        let from = if distance < 0 { base } else { data };
        from.wrapping_offset(distance)
    }

    #[inline(always)]
    fn near(place: u16, data: *mut u8, base: *mut u8) -> *mut u8 {
        let distance = place as i16 as isize;
        let from = if distance < 0 { base.wrapping_sub(BIAS).wrapping_add(NEAR_BIAS) } else { data };
        from.wrapping_offset(distance)
    }
}

impl<P: Addressing> Unchecked<P> {
    #[inline(always)]
    pub(super) const fn new(
        ip: *const Record,
        data: *mut u8,
        base: *mut u8,
        count: i64,
        context: *mut Context,
    ) -> Self {
        Self { ip, data, base, count, context, entered: 0, addressing: PhantomData }
    }

    /// The data image of the run.
    #[inline(always)]
    fn image(&self) -> DataImage {
        // SAFETY: the context outlives the run.
        DataImage { data: self.data, size: unsafe { (*self.context).size } as usize }
    }

    /// The byte at a place of the group written as half a word.
    ///
    /// # Safety
    /// The place is one of the plain instructions of the group.
    #[inline(always)]
    pub(super) unsafe fn byte(&self, place: u16) -> u8 {
        // SAFETY: V1 and V2 hold for the places of the plain instructions.
        unsafe { self.read(P::near(place, self.data, self.base)) }
    }

    /// Stores a byte at such a place.
    ///
    /// # Safety
    /// As for [`Unchecked::byte`].
    #[inline(always)]
    pub(super) unsafe fn set_byte(&mut self, place: u16, value: u8) {
        // SAFETY: as in `byte`.
        unsafe { self.write(P::near(place, self.data, self.base), value) }
    }
}

/// Access without checks to places that the verifier has proven.
pub(super) struct Unchecked<P> {
    pub(super) ip: *const Record,
    pub(super) data: *mut u8,
    /// Shifted by [`BIAS`].
    pub(super) base: *mut u8,
    pub(super) count: i64,
    pub(super) context: *mut Context,
    /// Sum of the costs before the unit that a call through a table enters.
    pub(super) entered: i64,
    pub(super) addressing: PhantomData<P>,
}

impl<P> Unchecked<P> {
    /// Address of the instance of the running unit.
    #[inline(always)]
    pub(super) fn base_offset(&self) -> u32 {
        // Addresses inside the data image are far below 2^32.
        self.base.addr().wrapping_sub(BIAS).wrapping_sub(self.data.addr()) as u32
    }

    /// Reads a value of the data image.
    ///
    /// # Safety
    /// The value lies inside the data image with the width of S.
    #[inline(always)]
    unsafe fn read<S: Number>(&self, from: *mut u8) -> S {
        self.assert_inside(from, size_of::<S::Bytes>());
        // SAFETY: as the caller says. Bytes need no alignment.
        S::from_bytes(unsafe { from.cast::<S::Bytes>().read() })
    }

    /// Writes a value of the data image.
    ///
    /// # Safety
    /// As for `read`.
    #[inline(always)]
    unsafe fn write<S: Number>(&self, to: *mut u8, value: S) {
        self.assert_inside(to, size_of::<S::Bytes>());
        // SAFETY: as the caller says. Bytes need no alignment.
        unsafe { to.cast::<S::Bytes>().write(value.to_bytes()) };
    }

    /// With the feature `checked-access`, ends the process when an access does not lie inside the data image.
    #[inline(always)]
    fn assert_inside(&self, at: *mut u8, bytes: usize) {
        if cfg!(feature = "checked-access") {
            let offset = at.addr().wrapping_sub(self.data.addr());
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

impl<P> Members for Unchecked<P> {
    #[inline(always)]
    fn member<S: Number>(&mut self, instance: Instance, offset: u32) -> S {
        // SAFETY: V6: the offset and the width of S lie inside the instance, and that lies inside the data image.
        unsafe { self.read(self.data.wrapping_add(instance.address() as usize + offset as usize)) }
    }

    #[inline(always)]
    fn set_member<S: Number>(&mut self, instance: Instance, offset: u32, value: S) {
        // SAFETY: as in `member`.
        unsafe { self.write(self.data.wrapping_add(instance.address() as usize + offset as usize), value) };
    }

    #[inline(always)]
    fn now(&mut self) -> i64 {
        // SAFETY: the context outlives the run.
        unsafe { (*self.context).now_ns }
    }
}

impl<P: Addressing> Access for Unchecked<P> {
    #[inline(always)]
    fn get<S: Number>(&mut self, place: u32) -> S {
        // SAFETY: V1 and V2.
        unsafe { self.read(P::far(place, self.data, self.base)) }
    }

    #[inline(always)]
    fn set<S: Number>(&mut self, place: u32, value: S) {
        // SAFETY: V1 and V2.
        unsafe { self.write(P::far(place, self.data, self.base), value) };
    }

    #[inline(always)]
    fn address(&self, place: u32) -> u32 {
        // Offsets inside the data image are far below 2^32.
        P::far(place, self.data, self.base).addr().wrapping_sub(self.data.addr()) as u32
    }

    #[inline(always)]
    fn base(&self) -> u32 {
        self.base_offset()
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
        Some(unsafe { self.read(self.data.wrapping_add(address as usize)) })
    }

    #[inline(always)]
    fn set_at<S: Number>(&mut self, address: u32, value: S) -> Option<()> {
        if address as usize + size_of::<S::Bytes>() > self.size() as usize {
            return None;
        }
        // SAFETY: checked in the line above.
        unsafe { self.write(self.data.wrapping_add(address as usize), value) };
        Some(())
    }

    #[inline(always)]
    fn instance(&self, place: u32) -> Instance {
        Instance::of_operand(self.address(place))
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
    fn copy_string(&mut self, to: u32, from: u32) -> Option<u64> {
        // SAFETY: the data image is that of the run.
        let charged = unsafe { texts::copy_text(self.image(), to, from) };
        u64::try_from(charged).ok()
    }

    #[inline(always)]
    fn compare_strings(&mut self, left: u32, right: u32) -> Option<(i8, u64)> {
        // SAFETY: as above.
        let given = unsafe { texts::compare(self.image(), left, right) };
        // The order is in the low 8 bits.
        u64::try_from(given).ok().map(|given| (given as i8, given >> 8))
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
        // SAFETY: V3: the target is one of the units, and there is one entry for each.
        unsafe {
            let Entry { record, prefix } = *(*self.context).entries.add(target.unit as usize);
            self.entered = i64::from(prefix);
            record.wrapping_sub(self.ip.offset_from((*self.context).records) as u32)
        }
    }

    #[inline(always)]
    fn event_mark(&mut self) -> u32 {
        // SAFETY: the context and the state that it points to outlive the run; nothing else uses them meanwhile.
        unsafe { (*(*self.context).state).event_mark }
    }

    fn coverage(&mut self) -> Option<&mut CoverageLog> {
        // Never reached: `careful` does not return here.
        None
    }

    fn journal(&mut self) -> Option<&mut Journal> {
        // Never reached either.
        None
    }
}

//! The data image as handlers see it that compiled code calls: without checks, as in the threaded dispatcher.

use super::super::Stop;
use super::super::access::{Access, Instance, Members};
use super::super::dispatch::Target;
use super::super::number::Number;
use super::support::Context;
use crate::coverage::CoverageLog;
use crate::event::EventKind;
use crate::fault::{FaultKind, Named};
use crate::image::IndexRange;
use crate::place::Place;

/// Access to the data image of a run, for one instruction. Whatever is rare stops it before anything is changed.
pub(super) struct Memory {
    data: *mut u8,
    base: *mut u8,
    size: usize,
    now_ns: i64,
    /// What the instruction charges beyond its cost.
    pub(super) charged: i64,
}

impl Memory {
    /// # Safety
    /// The context is that of a run, which outlives this.
    pub(super) unsafe fn new(context: *mut Context, base: *mut u8) -> Self {
        // SAFETY: as the caller says.
        let context = unsafe { &*context };
        Self { data: context.data, base, size: context.size, now_ns: context.now_ns, charged: 0 }
    }

    /// # Safety
    /// The value lies inside the data image with the width of S.
    #[inline(always)]
    unsafe fn read<S: Number>(from: *mut u8) -> S {
        // SAFETY: as the caller says. Bytes need no alignment.
        S::from_bytes(unsafe { from.cast::<S::Bytes>().read() })
    }

    /// # Safety
    /// As for `read`.
    #[inline(always)]
    unsafe fn write<S: Number>(to: *mut u8, value: S) {
        // SAFETY: as the caller says. Bytes need no alignment.
        unsafe { to.cast::<S::Bytes>().write(value.to_bytes()) };
    }

    #[inline(always)]
    fn place(&self, word: u32) -> *mut u8 {
        let place = Place::from_word(word);
        let from = if place.is_relative() { self.base } else { self.data };
        from.wrapping_add(place.offset() as usize)
    }

    #[inline(always)]
    fn member_at(&self, instance: Instance, offset: u32) -> *mut u8 {
        self.data.wrapping_add(instance.address() as usize + offset as usize)
    }
}

impl Members for Memory {
    #[inline(always)]
    fn member<S: Number>(&mut self, instance: Instance, offset: u32) -> S {
        // SAFETY: V6: the member lies inside the instance, and that inside the data image.
        unsafe { Self::read(self.member_at(instance, offset)) }
    }

    #[inline(always)]
    fn set_member<S: Number>(&mut self, instance: Instance, offset: u32, value: S) {
        // SAFETY: as in `member`.
        unsafe { Self::write(self.member_at(instance, offset), value) };
    }

    #[inline(always)]
    fn now(&mut self) -> i64 {
        self.now_ns
    }
}

impl Access for Memory {
    #[inline(always)]
    fn get<S: Number>(&mut self, place: u32) -> S {
        // SAFETY: V1 and V2.
        unsafe { Self::read(self.place(place)) }
    }

    #[inline(always)]
    fn set<S: Number>(&mut self, place: u32, value: S) {
        // SAFETY: V1 and V2.
        unsafe { Self::write(self.place(place), value) };
    }

    #[inline(always)]
    fn address(&self, place: u32) -> u32 {
        // Offsets inside the data image are far below 2^32.
        self.place(place).addr().wrapping_sub(self.data.addr()) as u32
    }

    fn base(&self) -> u32 {
        self.base.addr().wrapping_sub(self.data.addr()) as u32
    }

    #[inline(always)]
    fn size(&self) -> u32 {
        self.size as u32
    }

    #[inline(always)]
    fn get_at<S: Number>(&mut self, address: u32) -> Option<S> {
        let inside = address as usize + size_of::<S::Bytes>() <= self.size;
        // SAFETY: it was just checked.
        inside.then(|| unsafe { Self::read(self.data.wrapping_add(address as usize)) })
    }

    #[inline(always)]
    fn set_at<S: Number>(&mut self, address: u32, value: S) -> Option<()> {
        let inside = address as usize + size_of::<S::Bytes>() <= self.size;
        // SAFETY: it was just checked.
        inside.then(|| unsafe { Self::write(self.data.wrapping_add(address as usize), value) })
    }

    #[inline(always)]
    fn instance(&self, place: u32) -> Instance {
        Instance::of_operand(self.address(place))
    }

    #[inline(always)]
    fn copy(&mut self, to: u32, from: u32, bytes: u32) -> Option<()> {
        let (to, from, bytes) = (to as usize, from as usize, bytes as usize);
        if to + bytes > self.size || from + bytes > self.size {
            return None;
        }
        // SAFETY: both spans lie inside the data image; `copy` allows them to overlap.
        unsafe { self.data.add(from).copy_to(self.data.add(to), bytes) };
        Some(())
    }

    #[inline(always)]
    fn charge(&mut self, instructions: u64) {
        // A text cannot be long enough to come near this.
        self.charged = self.charged.saturating_add(instructions.min(1 << 60) as i64);
    }

    fn careful(&mut self) -> Result<(), Stop> {
        Err(Stop::Slow)
    }

    fn event(&mut self, _: EventKind, _: impl FnOnce() -> Vec<Named>) -> Result<(), Stop> {
        Err(Stop::Slow)
    }

    fn fault(&mut self, _: FaultKind, _: impl FnOnce() -> Vec<Named>) -> Stop {
        Stop::Slow
    }

    // What follows belongs to instructions that are translated, or run in the checked step.

    fn range(&mut self, _: u32) -> IndexRange {
        IndexRange { lower: 0, count: 0, stride: 0 }
    }

    fn native(&mut self, _: u32, _: u32) -> Result<(), Stop> {
        Err(Stop::Slow)
    }

    fn target(&mut self, _: u32, _: u32) -> Option<Target> {
        None
    }

    fn admit(&mut self, _: Target) -> Result<(), Stop> {
        Err(Stop::Slow)
    }

    fn distance(&mut self, _: Target) -> u32 {
        0
    }

    fn event_mark(&mut self) -> u32 {
        0
    }

    fn coverage(&mut self) -> Option<&mut CoverageLog> {
        None
    }
}

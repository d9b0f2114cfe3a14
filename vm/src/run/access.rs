//! How handlers reach memory and report: the [`Access`] trait and its checked implementation.
//!
//! Handlers know nothing of slices, pointers or logs; they read and write places, and say what happened.

use super::dispatch::{Refusal, Target};
use super::number::Number;
use super::observer::Observer;
use super::{Frame, Stop};
use crate::coverage::CoverageLog;
use crate::event::EventKind;
use crate::fault::{FaultKind, Named};
use crate::image::IndexRange;
use crate::journal::Journal;
use crate::place::{NULL_ADDRESS, Place, SYSTEM_BYTES};
use crate::value::Value;

/// Values that explain an event or a fault.
pub(crate) type Values = Vec<Named>;

/// An instance of a standard function block, known to lie inside the data image: only an operand that the verifier has
/// proven and [`Access::instance_at`] lead to one.
#[derive(Clone, Copy)]
pub(crate) struct Instance {
    address: u32,
}

impl Instance {
    /// The instance at the absolute address of an instance operand.
    pub(super) const fn of_operand(address: u32) -> Self {
        Self { address }
    }

    /// Its absolute address.
    pub(super) const fn address(self) -> u32 {
        self.address
    }
}

/// The members of an instance and the time: all that standard function blocks work with.
pub(crate) trait Members {
    /// A member of an instance. The offset is one of the layout that the operand of the instruction stands for.
    fn member<S: Number>(&mut self, instance: Instance, offset: u32) -> S;
    /// Stores a member of an instance; the offset as for [`Members::member`].
    fn set_member<S: Number>(&mut self, instance: Instance, offset: u32, value: S);
    /// Time that the running release sees.
    fn now(&mut self) -> i64;
}

/// Memory and reporting, as handlers see them. `place` is always a place word of the instruction being run.
pub(crate) trait Access: Members {
    /// The value at a place.
    fn get<S: Number>(&mut self, place: u32) -> S;
    /// Stores a value at a place.
    fn set<S: Number>(&mut self, place: u32, value: S);
    /// Absolute address of a place.
    fn address(&self, place: u32) -> u32;
    /// Instance base of the running unit.
    fn base(&self) -> u32;
    /// Size of the data image.
    fn size(&self) -> u32;
    /// The value at an address known only now; `None` outside the data image.
    fn get_at<S: Number>(&mut self, address: u32) -> Option<S>;
    /// Stores at an address known only now; `None` outside the data image.
    fn set_at<S: Number>(&mut self, address: u32, value: S) -> Option<()>;
    /// The instance of a standard function block at a place of the instruction.
    fn instance(&self, place: u32) -> Instance;
    /// Copies bytes between absolute addresses; `None` when either side is outside the data image.
    fn copy(&mut self, to: u32, from: u32, bytes: u32) -> Option<()>;
    /// An index range of the image.
    fn range(&mut self, index: u32) -> IndexRange;
    /// Counts more instructions.
    fn charge(&mut self, instructions: u64);
    /// Asks for the checked step: what follows is rare or not worth a fast form. The threaded dispatcher never comes
    /// back from this, so a handler calls it before it changes anything.
    fn careful(&mut self) -> Result<(), Stop>;
    /// Records an event. Like [`Access::careful`], before anything is changed.
    fn event(&mut self, kind: EventKind, values: impl FnOnce() -> Values) -> Result<(), Stop>;
    /// Records a fault.
    fn fault(&mut self, kind: FaultKind, values: impl FnOnce() -> Values) -> Stop;
    /// Runs a native function on the frame at an address that is known to be inside the data image.
    fn native(&mut self, index: u32, frame: u32) -> Result<(), Stop>;

    /// Copies the STRING at one address to that at another in a fast way, if there is one and nothing is rare: tells what
    /// is charged.
    #[inline(always)]
    fn copy_string(&mut self, _to: u32, _from: u32) -> Option<u64> {
        None
    }
    /// Compares the STRINGs at two addresses, as [`Access::copy_string`]: their order and what is charged.
    #[inline(always)]
    fn compare_strings(&mut self, _left: u32, _right: u32) -> Option<(i8, u64)> {
        None
    }

    /// The row of a dispatch table for a tag.
    fn target(&mut self, table: u32, tag: u32) -> Option<Target>;
    /// Checks that a unit may be entered through a dispatch table now. Like [`Access::careful`], before anything is
    /// changed.
    fn admit(&mut self, target: Target) -> Result<(), Stop>;
    /// How many records away the unit of a target begins. After this the unit is called.
    fn distance(&mut self, target: Target) -> u32;
    /// Number of events so far, modulo 2^32.
    fn event_mark(&mut self) -> u32;
    /// The log of an image that observes itself. Only after [`Access::careful`]; `None` otherwise.
    fn coverage(&mut self) -> Option<&mut CoverageLog>;
    /// The journal, if one is kept. Only after [`Access::careful`]; `None` otherwise.
    fn journal(&mut self) -> Option<&mut Journal>;

    /// The instance of a standard function block whose address lies at a place, all of its `bytes` inside the data
    /// image.
    fn instance_at(&mut self, place: u32, bytes: u32) -> Result<Instance, Stop> {
        let address = self.get::<u32>(place);
        let address = self.used_address(address)?;
        if address.saturating_add(bytes) > self.size() {
            return Err(self.outside(address));
        }
        Ok(Instance { address })
    }

    /// Checks that an address held by the program may be used.
    fn used_address(&mut self, address: u32) -> Result<u32, Stop> {
        if address >= SYSTEM_BYTES {
            Ok(address)
        } else if address == NULL_ADDRESS {
            Err(self.fault(FaultKind::NullReference, Vec::new))
        } else {
            Err(self.outside(address))
        }
    }

    /// The fault for an address outside the data image.
    fn outside(&mut self, address: u32) -> Stop {
        self.fault(FaultKind::Address, || vec![("address".to_owned(), address.value())])
    }
}

/// Access to a slice with every bound checked. An access out of bounds cannot happen in verified code; it reads 0,
/// writes nothing, and ends the run with an `address` fault.
pub(crate) struct Checked<'a> {
    pub(crate) data: &'a mut [u8],
    pub(crate) base: u32,
    pub(crate) observer: Observer<'a>,
    pub(crate) calls: Calls<'a>,
    pub(crate) charged: u64,
    pub(crate) outside: bool,
}

/// The call stack: the first `open` frames belong to open calls, the others are free.
pub(crate) struct Calls<'a> {
    pub(crate) frames: &'a mut [Frame],
    pub(crate) open: usize,
}

impl Calls<'_> {
    /// Opens a call; `None` when the stack is full.
    pub(crate) fn push(&mut self, frame: Frame) -> Option<()> {
        *self.frames.get_mut(self.open)? = frame;
        self.open += 1;
        Some(())
    }

    /// Closes the last call; `None` when no call is open.
    pub(crate) fn pop(&mut self) -> Option<Frame> {
        let open = self.open.checked_sub(1)?;
        let frame = *self.frames.get(open)?;
        self.open = open;
        Some(frame)
    }
}

impl<'a> Checked<'a> {
    pub(crate) const fn new(data: &'a mut [u8], base: u32, observer: Observer<'a>, calls: Calls<'a>) -> Self {
        Self { data, base, observer, calls, charged: 0, outside: false }
    }
}

impl Members for Checked<'_> {
    fn member<S: Number>(&mut self, instance: Instance, offset: u32) -> S {
        let value = self.get_at(instance.address().saturating_add(offset));
        self.outside |= value.is_none();
        value.unwrap_or_default()
    }

    fn set_member<S: Number>(&mut self, instance: Instance, offset: u32, value: S) {
        let stored = self.set_at(instance.address().saturating_add(offset), value);
        self.outside |= stored.is_none();
    }

    fn now(&mut self) -> i64 {
        self.observer.state.now_ns
    }
}

impl Access for Checked<'_> {
    fn get<S: Number>(&mut self, place: u32) -> S {
        let address = self.address(place);
        let value = self.get_at(address);
        self.outside |= value.is_none();
        value.unwrap_or_default()
    }

    fn set<S: Number>(&mut self, place: u32, value: S) {
        let address = self.address(place);
        let stored = self.set_at(address, value);
        self.outside |= stored.is_none();
    }

    fn address(&self, word: u32) -> u32 {
        let place = Place::from_word(word);
        if place.is_relative() { self.base.saturating_add(place.offset()) } else { place.offset() }
    }

    fn base(&self) -> u32 {
        self.base
    }

    fn size(&self) -> u32 {
        // The verifier limits the data image far below 2^32 bytes.
        self.data.len() as u32
    }

    fn get_at<S: Number>(&mut self, address: u32) -> Option<S> {
        let start = address as usize;
        let bytes = self.data.get(start..start + size_of::<S::Bytes>())?;
        S::Bytes::try_from(bytes).ok().map(S::from_bytes)
    }

    fn set_at<S: Number>(&mut self, address: u32, value: S) -> Option<()> {
        let start = address as usize;
        let target = self.data.get_mut(start..start + size_of::<S::Bytes>())?;
        target.copy_from_slice(value.to_bytes().as_ref());
        Some(())
    }

    fn instance(&self, place: u32) -> Instance {
        Instance::of_operand(self.address(place))
    }

    fn copy(&mut self, to: u32, from: u32, bytes: u32) -> Option<()> {
        let (to, from, bytes) = (to as usize, from as usize, bytes as usize);
        let size = self.data.len();
        if to + bytes > size || from + bytes > size {
            return None;
        }
        self.data.copy_within(from..from + bytes, to);
        Some(())
    }

    fn range(&mut self, index: u32) -> IndexRange {
        let range = self.observer.program.code().ranges.get(index as usize).copied();
        self.outside |= range.is_none();
        range.unwrap_or(IndexRange { lower: 0, count: 0, stride: 0 })
    }

    fn charge(&mut self, instructions: u64) {
        self.charged = self.charged.saturating_add(instructions);
    }

    fn careful(&mut self) -> Result<(), Stop> {
        Ok(())
    }

    fn event(&mut self, kind: EventKind, values: impl FnOnce() -> Values) -> Result<(), Stop> {
        self.observer.event(kind, values)
    }

    fn fault(&mut self, kind: FaultKind, values: impl FnOnce() -> Values) -> Stop {
        self.observer.fault(kind, values)
    }

    fn native(&mut self, index: u32, frame: u32) -> Result<(), Stop> {
        let Some(function) = self.observer.program.code().natives.get(index as usize).copied() else {
            self.outside = true;
            return Ok(());
        };
        let charged = self.observer.native(function, self.data, frame);
        self.charged = self.charged.saturating_add(charged);
        if self.observer.state.fault.is_some() { Err(Stop::Fault) } else { Ok(()) }
    }

    fn target(&mut self, table: u32, tag: u32) -> Option<Target> {
        let table = self.observer.program.code().dispatch.get(table as usize);
        self.outside |= table.is_none();
        table?.find(tag)
    }

    fn admit(&mut self, target: Target) -> Result<(), Stop> {
        let program = self.observer.program;
        let code = program.code();
        let Some(guard) = code.guards.get(target.guard as usize) else { return Ok(()) };
        let open = self.calls.frames.get(..self.calls.open).unwrap_or_default();
        let open = open.iter().map(|frame| frame.index);
        match guard.check(&code.units, self.observer.instruction, open, self.calls.frames.len()) {
            Ok(()) => Ok(()),
            Err(Refusal::Active(unit)) => Err(self.fault(FaultKind::Recursion, || {
                let name = program.image().units.get(unit as usize).map(|unit| unit.name.clone());
                vec![("unit".to_owned(), Value::String(name.unwrap_or_default().into_bytes()))]
            })),
            Err(Refusal::Depth) => Err(self.fault(FaultKind::CallDepth, Vec::new)),
        }
    }

    fn distance(&mut self, target: Target) -> u32 {
        self.observer.program.code().units.first(target.unit).wrapping_sub(self.observer.instruction)
    }

    fn event_mark(&mut self) -> u32 {
        self.observer.state.event_mark
    }

    fn coverage(&mut self) -> Option<&mut CoverageLog> {
        self.observer.state.coverage.as_deref_mut()
    }

    fn journal(&mut self) -> Option<&mut Journal> {
        self.observer.state.journal.as_deref_mut()
    }
}

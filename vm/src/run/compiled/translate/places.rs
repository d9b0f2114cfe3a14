//! Reading and writing places, and what is known of them.
//!
//! A value that was read or written is kept as long as nothing else may have changed its place, also over jumps
//! ([`super::facts`]). A temporary that nothing reads behind its straight piece of code is not written at all; it is
//! written for the machine alone, where that runs an instruction that reads it.

use super::unit::{MEMORY, Translation};
use crate::instruction::{Family, Opcode, OperandKind};
use crate::place::Place;
use crate::types::Scalar;
use cranelift_codegen::ir::{InstBuilder, MemFlags, Type, Value, types};

/// A place as the whole function knows it, where several units with instances of their own are translated into one.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) struct Spot {
    /// Number of what it lies in: 0 for the data image, others for instances ([`Base`]).
    base: u32,
    offset: u32,
}

impl Spot {
    /// A place in the data image.
    pub(super) const fn absolute(offset: u32) -> Self {
        Self { base: 0, offset }
    }

    /// Its address, where it lies in the data image by itself.
    pub(super) fn in_data_image(self) -> Option<u32> {
        (self.base == 0).then_some(self.offset)
    }

    /// A place so many bytes behind it.
    pub(super) const fn behind(self, bytes: u32) -> Self {
        // Offsets in the data image are far below 2^31.
        Self { base: self.base, offset: self.offset.saturating_add(bytes) }
    }
}

/// What places lie in.
#[derive(Clone, Copy)]
pub(super) struct Base {
    pointer: Value,
    /// The array that an instance is an element of, and its size, where that is known.
    within: Option<(Spot, u32)>,
}

/// A value that is known to be at a place.
#[derive(Clone, Copy)]
pub(super) struct Known {
    pub(super) spot: Spot,
    pub(super) bytes: u32,
    pub(super) value: Value,
    /// The instruction that wrote it, where the place itself does not have it.
    pub(super) unwritten: Option<u32>,
    /// Where it is an address: what more is known of it.
    pub(super) address: Option<Address>,
}

/// An address that is none of the machine's own.
#[derive(Clone, Copy)]
pub(super) struct Address {
    /// In 64 bits. Of value and pointer only what is used is calculated.
    pub(super) value: Value,
    /// The data image and the value.
    pub(super) pointer: Value,
    /// The highest that it can be; the greatest of 32 bits where that is not known.
    pub(super) highest: u32,
    /// The array that it lies in: its place, and how far behind it the address can be.
    pub(super) inside: Option<(Spot, u32)>,
}

/// The type of a scalar.
pub(super) const fn kind(scalar: Scalar) -> Type {
    match scalar {
        Scalar::I8 | Scalar::U8 => types::I8,
        Scalar::I16 | Scalar::U16 => types::I16,
        Scalar::I32 | Scalar::U32 => types::I32,
        Scalar::I64 | Scalar::U64 => types::I64,
        Scalar::F32 => types::F32,
        Scalar::F64 => types::F64,
    }
}

/// Most places that something is known of: far more than a processor has registers, and few enough that long pieces do
/// not take long to compile or fill the stack.
const MOST: usize = 256;

impl Base {
    /// One of which nothing more is known.
    pub(super) const fn new(pointer: Value) -> Self {
        Self { pointer, within: None }
    }
}

impl Translation<'_> {
    /// Notes what the places of an instance lie in, and gives its beginning.
    pub(super) fn instance(&mut self, pointer: Value, within: Option<(Spot, u32)>) -> Spot {
        let base = self.bases.len() as u32;
        self.bases.push(Base { pointer, within });
        Spot { base, offset: 0 }
    }

    /// Where a place of the running unit lies.
    pub(super) fn spot(&self, word: u32) -> Spot {
        let place = Place::from_word(word);
        if place.is_relative() {
            self.body.instance.behind(place.offset())
        } else {
            Spot::absolute(place.offset())
        }
    }

    /// Whether a place lies in the frame of a unit, where no instance lies ([`crate::DataLayout::frames`]).
    pub(super) fn in_frame(&self, spot: Spot) -> bool {
        let region = self.shared.image.layout.frames;
        spot.base == 0 && spot.offset.wrapping_sub(region.start) < region.size
    }

    /// Whether two places can have bytes in common.
    pub(super) fn overlap(&self, mut one: (Spot, u32), mut other: (Spot, u32)) -> bool {
        while one.0.base != other.0.base {
            if self.in_frame(one.0) || self.in_frame(other.0) {
                return false;
            }
            // The instance that was noted last may be an element of what was known before.
            let last = if one.0.base > other.0.base { &mut one } else { &mut other };
            match self.bases.get(last.0.base as usize).and_then(|base| base.within) {
                Some(within) => *last = within,
                None => return true,
            }
        }
        one.0.offset < other.0.offset.saturating_add(other.1)
            && other.0.offset < one.0.offset.saturating_add(one.1)
    }

    /// Whether an instance may lie anywhere.
    pub(super) fn is_open(&self, spot: Spot) -> bool {
        // The function's own is what places are told apart by.
        spot.base > 1 && self.bases.get(spot.base as usize).is_none_or(|base| base.within.is_none())
    }

    /// The pointer that a place lies at, and its distance.
    pub(super) fn pointer(&self, spot: Spot) -> (Value, i32) {
        let base = self.bases.get(spot.base as usize).map_or(self.data, |base| base.pointer);
        // Offsets in the data image are far below 2^31.
        (base, spot.offset as i32)
    }

    /// Reads a place itself.
    pub(super) fn load_place(&mut self, spot: Spot, kind: Type) -> Value {
        let (pointer, offset) = self.pointer(spot);
        self.builder.ins().load(kind, MEMORY, pointer, offset)
    }

    pub(super) fn store_place(&mut self, spot: Spot, value: Value) {
        let (pointer, offset) = self.pointer(spot);
        self.builder.ins().store(MEMORY, value, pointer, offset);
    }

    /// The same bits as another type of the same width.
    pub(super) fn as_kind(&mut self, value: Value, wanted: Type) -> Value {
        let has = self.builder.func.dfg.value_type(value);
        if has == wanted { value } else { self.builder.ins().bitcast(wanted, MemFlags::new(), value) }
    }

    /// The value at a place.
    pub(super) fn get(&mut self, word: u32, scalar: Scalar) -> Value {
        match self.constant(word, scalar) {
            Some(value) => value,
            None => self.get_spot(self.spot(word), scalar.size(), kind(scalar)),
        }
    }

    /// The value at a place that is no constant of the program.
    pub(super) fn get_spot(&mut self, spot: Spot, bytes: u32, wanted: Type) -> Value {
        if let Some(known) = self.facts.find(spot, bytes) {
            let value = known.value;
            return self.as_kind(value, wanted);
        }
        let value = match self.kept_value(spot, bytes) {
            Some(value) => value,
            None => {
                self.write_overlapping((spot, bytes), false);
                self.load_place(spot, wanted)
            }
        };
        self.note(spot, value);
        self.as_kind(value, wanted)
    }

    /// Writes a place, as the result of the current instruction.
    pub(super) fn set(&mut self, word: u32, value: Value) {
        self.set_known(word, value, None);
    }

    /// Writes an address.
    pub(super) fn set_address(&mut self, word: u32, address: Address) {
        let value = self.builder.ins().ireduce(types::I32, address.value);
        self.set_known(word, value, Some(address));
    }

    /// Writes a place with a value that may be an address of which more is known.
    pub(super) fn set_known(&mut self, word: u32, value: Value, address: Option<Address>) {
        self.set_spot(self.spot(word), value, address);
    }

    pub(super) fn set_spot(&mut self, spot: Spot, value: Value, address: Option<Address>) {
        let bytes = self.builder.func.dfg.value_type(value).bytes();
        self.forget((spot, bytes));
        let unwritten = self.shared.lifetimes.ends_in_piece(self.index as usize).then_some(self.index);
        if unwritten.is_none() {
            self.store_place(spot, value);
        }
        for kept in self.kept.clone() {
            if kept.spot == spot && kept.bytes == bytes {
                self.keep(&kept, value);
            } else if self.overlap((kept.spot, kept.bytes), (spot, bytes)) {
                self.read_kept(&kept);
            }
        }
        self.facts.known.push(Known { spot, bytes, value, unwritten, address });
    }

    /// Notes the value that a place has, of which nothing is known.
    pub(super) fn note(&mut self, spot: Spot, value: Value) {
        let bytes = self.builder.func.dfg.value_type(value).bytes();
        self.facts.known.push(Known { spot, bytes, value, unwritten: None, address: None });
    }

    /// What is known of a place that holds an address.
    pub(super) fn known_address(&self, word: u32) -> Option<Address> {
        self.facts.find(self.spot(word), 4)?.address
    }

    /// Notes what has been found out of the address that a place holds.
    pub(super) fn note_address(&mut self, word: u32, address: Address) {
        let spot = self.spot(word);
        let mut known = self.facts.known.iter_mut();
        if let Some(known) = known.find(|known| known.spot == spot && known.bytes == 4) {
            known.address = Some(address);
        }
    }

    /// Forgets what overlaps a place that something else has written.
    pub(super) fn forget_span(&mut self, span: (Spot, u32)) {
        self.forget(span);
        for kept in self.kept.clone() {
            if self.overlap((kept.spot, kept.bytes), span) {
                self.read_kept(&kept);
            }
        }
    }

    /// Forgets what overlaps a place that is about to be written. What would be lost with it is written first.
    fn forget(&mut self, span: (Spot, u32)) {
        self.write_overlapping(span, true);
        let mut known = std::mem::take(&mut self.facts.known);
        known.retain(|known| !self.overlap((known.spot, known.bytes), span));
        self.facts.known = known;
    }

    /// Writes unwritten values that overlap a span. One that is the very span is left out where it is overwritten.
    fn write_overlapping(&mut self, span: (Spot, u32), overwritten: bool) {
        for index in 0..self.facts.known.len() {
            let Some(known) = self.facts.known.get(index).copied() else { continue };
            let same = overwritten && (known.spot, known.bytes) == span;
            // Nothing is lost with a value that was read for the last time.
            let read = |writer| {
                !self
                    .shared
                    .lifetimes
                    .ends_by(writer as usize, (self.index as usize).saturating_sub(usize::from(!overwritten)))
            };
            if !same && known.unwritten.is_some_and(read) && self.overlap((known.spot, known.bytes), span) {
                self.store_place(known.spot, known.value);
                if let Some(known) = self.facts.known.get_mut(index) {
                    known.unwritten = None;
                }
            }
        }
    }

    /// The value of a temporary that an instruction before `first` has left and that its place does not have.
    pub(super) fn unwritten_before(&self, spot: Spot, bytes: u32, first: u32) -> Option<Value> {
        let known = self.facts.find(spot, bytes)?;
        known.unwritten.filter(|writer| *writer < first).map(|_| known.value)
    }

    /// Forgets all that a write at an unknown address may change. No address leads to an unwritten temporary.
    pub(super) fn forget_reachable(&mut self) {
        self.facts.known.retain(|known| known.unwritten.is_some());
        self.read_all_kept();
    }

    /// Starts anew where too much is known. What waits to be looked at still needs its operands as they were.
    pub(super) fn limit_known(&mut self) {
        if self.facts.known.len() < MOST || self.something_waits() {
            return;
        }
        for known in std::mem::take(&mut self.facts.known) {
            if known.unwritten.is_some() {
                self.store_place(known.spot, known.value);
            }
        }
    }

    /// Writes the values that the plain instruction reads or writes in part, for good.
    pub(super) fn write_operands(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        for (kind, word) in opcode.operands().iter().zip(operands) {
            if let Some(bytes) = kind.width(opcode.scalar()) {
                self.write_overlapping((self.spot(*word), bytes), false);
            }
        }
    }

    /// Writes the values that the plain instruction reads, for this way alone.
    pub(super) fn write_operands_for_step(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        for (kind, word) in opcode.operands().iter().zip(operands) {
            let Some(bytes) = kind.width(opcode.scalar()) else { continue };
            let span = (self.spot(*word), bytes);
            for index in 0..self.facts.known.len() {
                let Some(known) = self.facts.known.get(index).copied() else { continue };
                if known.unwritten.is_some() && self.overlap((known.spot, known.bytes), span) {
                    self.store_place(known.spot, known.value);
                }
            }
        }
    }

    /// Forgets what an instruction may have written that the machine has run.
    pub(super) fn forget_written(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        let scalar = opcode.scalar();
        let plain = opcode.operands().iter().all(|kind| {
            kind.width(scalar).is_some()
                || matches!(kind, OperandKind::Range | OperandKind::Immediate | OperandKind::Dispatch)
        });
        // Through an address, in a region or an instance: anywhere but in temporaries that the piece knows.
        let reaches = opcode.operands().iter().any(|kind| matches!(kind, OperandKind::Address))
            && !matches!(opcode.family(), Family::Fits | Family::CompareWideString);
        if !plain || reaches {
            self.forget_reachable();
        }
        for (kind, word) in opcode.operands().iter().zip(operands) {
            if kind.is_written()
                && let Some(bytes) = kind.width(scalar)
            {
                self.forget_span((self.spot(*word), bytes));
            }
        }
    }
}

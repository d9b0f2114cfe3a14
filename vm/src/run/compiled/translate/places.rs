//! Reading and writing places, and what is known of them within a straight piece of code.
//!
//! A value that was read or written is kept as long as nothing else may have changed its place. A temporary that
//! nothing reads behind the piece is not written at all; it is written for the machine alone, where that runs an
//! instruction that reads it.

use super::unit::{MEMORY, Translation};
use crate::instruction::{Family, Opcode, OperandKind};
use crate::place::Place;
use crate::types::Scalar;
use cranelift_codegen::ir::{InstBuilder, MemFlags, Type, Value, types};

/// A value that is known to be at a place.
#[derive(Clone, Copy)]
pub(super) struct Known {
    place: Place,
    bytes: u32,
    value: Value,
    /// The instruction that wrote it, where the place itself does not have it.
    unwritten: Option<u32>,
    /// Where it is an address: what more is known of it.
    pub(super) address: Option<Address>,
}

/// An address in 64 bits.
#[derive(Clone, Copy)]
pub(super) struct Address {
    pub(super) value: Value,
    /// The highest that it can be; the greatest of 32 bits where that is not known.
    pub(super) highest: u32,
    /// The array that it lies in: its place, and how far behind it the address can be.
    pub(super) inside: Option<(Place, u32)>,
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

/// Most places of a straight piece that something is known of: far more than a processor has registers, and few enough
/// that long pieces do not take long to compile or fill the stack.
const MOST: usize = 256;

impl Translation<'_> {
    /// Whether a place lies in the frame of a unit. The instance of a running unit does not lie in a frame that this unit
    /// reaches by place: its own, or that of a unit it calls.
    fn in_frame(&self, place: Place) -> bool {
        let region = self.shared.image.layout.frames;
        !place.is_relative() && place.offset().wrapping_sub(region.start) < region.size
    }

    /// Whether two places can have bytes in common.
    fn overlap(&self, one: (Place, u32), other: (Place, u32)) -> bool {
        if one.0.is_relative() == other.0.is_relative() {
            one.0.offset() < other.0.offset().saturating_add(other.1)
                && other.0.offset() < one.0.offset().saturating_add(one.1)
        } else {
            !self.in_frame(one.0) && !self.in_frame(other.0)
        }
    }

    /// The pointer that a place lies at, and its distance.
    pub(super) fn pointer(&self, place: Place) -> (Value, i32) {
        // Offsets in the data image are far below 2^31.
        (if place.is_relative() { self.base } else { self.data }, place.offset() as i32)
    }

    /// Reads a place itself.
    pub(super) fn load_place(&mut self, word: u32, kind: Type) -> Value {
        let (pointer, offset) = self.pointer(Place::from_word(word));
        self.builder.ins().load(kind, MEMORY, pointer, offset)
    }

    pub(super) fn store_place(&mut self, place: Place, value: Value) {
        let (pointer, offset) = self.pointer(place);
        self.builder.ins().store(MEMORY, value, pointer, offset);
    }

    /// The same bits as another type of the same width.
    pub(super) fn as_kind(&mut self, value: Value, wanted: Type) -> Value {
        let has = self.builder.func.dfg.value_type(value);
        if has == wanted { value } else { self.builder.ins().bitcast(wanted, MemFlags::new(), value) }
    }

    /// The value at a place.
    pub(super) fn get(&mut self, word: u32, scalar: Scalar) -> Value {
        let (place, bytes, wanted) = (Place::from_word(word), scalar.size(), kind(scalar));
        if let Some(value) = self.constant(word, scalar) {
            return value;
        }
        if let Some(known) = self.known.iter().find(|known| known.place == place && known.bytes == bytes) {
            let value = known.value;
            return self.as_kind(value, wanted);
        }
        if let Some(value) = self.kept_value(place, bytes) {
            return self.as_kind(value, wanted);
        }
        self.write_overlapping((place, bytes), false);
        let value = self.load_place(word, wanted);
        self.known.push(Known { place, bytes, value, unwritten: None, address: None });
        value
    }

    /// The value of a constant.
    fn constant(&mut self, word: u32, scalar: Scalar) -> Option<Value> {
        let constants = &self.shared.constants;
        Some(match scalar {
            Scalar::I8 | Scalar::U8 => {
                let number = i8::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().iconst(types::I8, i64::from(number as u8))
            }
            Scalar::I16 | Scalar::U16 => {
                let number = u16::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().iconst(types::I16, i64::from(number))
            }
            Scalar::I32 | Scalar::U32 => {
                let number = u32::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().iconst(types::I32, i64::from(number))
            }
            Scalar::I64 | Scalar::U64 => {
                let number = i64::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().iconst(types::I64, number)
            }
            Scalar::F32 => {
                let number = f32::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().f32const(number)
            }
            Scalar::F64 => {
                let number = f64::from_le_bytes(constants.bytes(word)?);
                self.builder.ins().f64const(number)
            }
        })
    }

    /// An integer constant of the program.
    pub(super) fn known_integer(&self, word: u32, scalar: Scalar) -> Option<i64> {
        let constants = &self.shared.constants;
        Some(match scalar {
            Scalar::I8 => i64::from(i8::from_le_bytes(constants.bytes(word)?)),
            Scalar::U8 => i64::from(u8::from_le_bytes(constants.bytes(word)?)),
            Scalar::I16 => i64::from(i16::from_le_bytes(constants.bytes(word)?)),
            Scalar::U16 => i64::from(u16::from_le_bytes(constants.bytes(word)?)),
            Scalar::I32 => i64::from(i32::from_le_bytes(constants.bytes(word)?)),
            Scalar::U32 => i64::from(u32::from_le_bytes(constants.bytes(word)?)),
            Scalar::I64 => i64::from_le_bytes(constants.bytes(word)?),
            _ => return None,
        })
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

    fn set_known(&mut self, word: u32, value: Value, address: Option<Address>) {
        let place = Place::from_word(word);
        let bytes = self.builder.func.dfg.value_type(value).bytes();
        self.forget((place, bytes));
        let unwritten = self.shared.lifetimes.ends_in_piece(self.index as usize).then_some(self.index);
        if unwritten.is_none() {
            self.store_place(place, value);
        }
        for kept in self.kept.clone() {
            if kept.place == place && kept.bytes == bytes {
                self.keep(&kept, value);
            } else if kept.place.is_relative() != place.is_relative()
                && self.overlap((kept.place, kept.bytes), (place, bytes))
            {
                self.read_kept(&kept);
            }
        }
        self.known.push(Known { place, bytes, value, unwritten, address });
    }

    /// Notes the value that an instruction has written at a place, of which nothing is known any more.
    pub(super) fn note(&mut self, place: Place, value: Value) {
        let bytes = self.builder.func.dfg.value_type(value).bytes();
        self.known.push(Known { place, bytes, value, unwritten: None, address: None });
    }

    /// What is known of a place that holds an address.
    pub(super) fn known_address(&self, word: u32) -> Option<Address> {
        let place = Place::from_word(word);
        self.known.iter().find(|known| known.place == place && known.bytes == 4)?.address
    }

    /// Forgets what overlaps a place that something else has written.
    pub(super) fn forget_span(&mut self, span: (Place, u32)) {
        self.forget(span);
        for kept in self.kept.clone() {
            if self.overlap((kept.place, kept.bytes), span) {
                self.read_kept(&kept);
            }
        }
    }

    /// Forgets what overlaps a place that is about to be written. What would be lost with it is written first.
    fn forget(&mut self, span: (Place, u32)) {
        self.write_overlapping(span, true);
        let known = std::mem::take(&mut self.known);
        self.known =
            known.into_iter().filter(|known| !self.overlap((known.place, known.bytes), span)).collect();
    }

    /// Writes unwritten values that overlap a span. One that is the very span is left out where it is overwritten.
    fn write_overlapping(&mut self, span: (Place, u32), overwritten: bool) {
        for index in 0..self.known.len() {
            let Some(known) = self.known.get(index).copied() else { continue };
            let same = overwritten && (known.place, known.bytes) == span;
            // Nothing is lost with a value that was read for the last time.
            let read = |writer| {
                !self
                    .shared
                    .lifetimes
                    .ends_by(writer as usize, (self.index as usize).saturating_sub(usize::from(!overwritten)))
            };
            if !same && known.unwritten.is_some_and(read) && self.overlap((known.place, known.bytes), span) {
                self.store_place(known.place, known.value);
                if let Some(known) = self.known.get_mut(index) {
                    known.unwritten = None;
                }
            }
        }
    }

    /// The value of a temporary that an instruction before `first` has left and that its place does not have.
    pub(super) fn unwritten_before(&self, place: Place, bytes: u32, first: u32) -> Option<Value> {
        let known = self.known.iter().find(|known| known.place == place && known.bytes == bytes)?;
        known.unwritten.filter(|writer| *writer < first).map(|_| known.value)
    }

    /// Forgets all that a write at an unknown address may change. No address leads to an unwritten temporary.
    pub(super) fn forget_reachable(&mut self) {
        self.known.retain(|known| known.unwritten.is_some());
        self.read_all_kept();
    }

    /// Starts anew where too much is known. What waits to be looked at still needs its operands as they were.
    pub(super) fn limit_known(&mut self) {
        if self.known.len() < MOST || self.something_waits() {
            return;
        }
        for known in std::mem::take(&mut self.known) {
            if known.unwritten.is_some() {
                self.store_place(known.place, known.value);
            }
        }
    }

    /// Writes the values that the plain instruction reads or writes in part, for good.
    pub(super) fn write_operands(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        for (kind, word) in opcode.operands().iter().zip(operands) {
            if let Some(bytes) = kind.width(opcode.scalar()) {
                self.write_overlapping((Place::from_word(*word), bytes), false);
            }
        }
    }

    /// Writes the values that the plain instruction reads, for this way alone.
    pub(super) fn write_operands_for_step(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        for (kind, word) in opcode.operands().iter().zip(operands) {
            let Some(bytes) = kind.width(opcode.scalar()) else { continue };
            let span = (Place::from_word(*word), bytes);
            for index in 0..self.known.len() {
                let Some(known) = self.known.get(index).copied() else { continue };
                if known.unwritten.is_some() && self.overlap((known.place, known.bytes), span) {
                    self.store_place(known.place, known.value);
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
            && !matches!(opcode.family(), Family::Fits | Family::IndexCharacter | Family::IndexWideCharacter)
            && !matches!(opcode.family(), Family::CompareString | Family::CompareWideString);
        if !plain || reaches {
            self.forget_reachable();
        }
        for (kind, word) in opcode.operands().iter().zip(operands) {
            if kind.is_written()
                && let Some(bytes) = kind.width(scalar)
            {
                self.forget_span((Place::from_word(*word), bytes));
            }
        }
    }
}

//! Copies, addresses, array elements, and accesses through addresses.

use super::super::support;
use super::unit::{MEMORY, Translation};
use crate::image::IndexRange;
use crate::instruction::{Family, Opcode};
use crate::place::{Place, SYSTEM_BYTES};
use crate::types::Scalar;
use cranelift_codegen::ir::{InstBuilder, Value, condcodes::IntCC, types};

use super::places::{Address, Spot, kind};

/// Longest copy that is made of single loads and stores, in bytes.
const SHORT: u32 = 64;

impl Translation<'_> {
    /// Translates what moves values; tells whether the instruction was one of these.
    pub(super) fn moved(&mut self, opcode: Opcode, operands: &[u32; 4]) -> bool {
        let [a, b, c, d] = *operands;
        let scalar = opcode.scalar();
        match opcode.family() {
            Family::Move => {
                let value = self.get(b, scalar);
                let address = if scalar.size() == 4 { self.known_address(b) } else { None };
                self.set_known(a, value, address);
            }
            Family::Copy => {
                let (to, from) = (self.place_pointer(a), self.place_pointer(b));
                self.copy(to, from, c);
            }
            Family::Address => {
                let address = self.place_address(b);
                // The place may be the empty end of an empty instance, which may begin at NULL.
                let place = Place::from_word(b);
                let some = if place.is_relative() {
                    self.body.instance_bytes > 0
                } else {
                    place.offset() >= SYSTEM_BYTES
                };
                if some {
                    self.set_address(a, address);
                } else {
                    let value = self.builder.ins().ireduce(types::I32, address.value);
                    self.set(a, value);
                }
            }
            Family::OffsetAddress => {
                let address = self.used(b, opcode, operands);
                let address = self.constant_step(address, c);
                self.set_address(a, address);
            }
            Family::Load => {
                let pointer = self.through(b, c, scalar.size(), opcode, operands);
                let value = match self.exact(b) {
                    Some(spot) => self.get_spot(spot.behind(c), scalar.size(), kind(scalar)),
                    None => self.builder.ins().load(kind(scalar), MEMORY, pointer, 0),
                };
                self.set(a, value);
            }
            Family::Store => {
                let pointer = self.through(a, b, scalar.size(), opcode, operands);
                let value = self.get(c, scalar);
                if let Some(spot) = self.exact(a) {
                    self.set_spot(spot.behind(b), value, None);
                    return true;
                }
                let inside = self.known_address(a).and_then(|address| address.inside);
                self.builder.ins().store(MEMORY, value, pointer, 0);
                match inside {
                    Some((spot, reach)) => {
                        let bytes = reach.saturating_add(b).saturating_add(scalar.size());
                        self.forget_span((spot, bytes));
                    }
                    None => self.forget_reachable(),
                }
            }
            Family::CopyFrom => {
                let from = self.through(b, 0, c, opcode, operands);
                let to = self.place_pointer(a);
                self.copy(to, from, c);
            }
            Family::CopyTo => {
                let to = self.through(a, 0, c, opcode, operands);
                let from = self.place_pointer(b);
                self.copy(to, from, c);
            }
            Family::CopyBetween => {
                let to = self.through(a, 0, c, opcode, operands);
                let from = self.through(b, 0, c, opcode, operands);
                self.copy(to, from, c);
            }
            Family::Index => {
                let address = self.place_address(b);
                self.element(a, address, (c, d), opcode, operands);
            }
            Family::IndexAddress => {
                let address = self.used(b, opcode, operands);
                self.element(a, address, (c, d), opcode, operands);
            }
            Family::IndexCharacter => self.character(1, opcode, operands),
            Family::IndexWideCharacter => self.character(2, opcode, operands),
            _ => return false,
        }
        true
    }

    /// The place that the address that a place holds surely is.
    pub(super) fn exact(&self, word: u32) -> Option<Spot> {
        let (spot, reach) = self.known_address(word)?.inside?;
        (reach == 0).then_some(spot)
    }

    /// The pointer to a place.
    pub(super) fn place_pointer(&mut self, word: u32) -> Value {
        let (pointer, offset) = self.pointer(self.spot(word));
        self.builder.ins().iadd_imm(pointer, i64::from(offset))
    }

    /// The address of a place.
    pub(super) fn place_address(&mut self, word: u32) -> Address {
        let spot = self.spot(word);
        let pointer = self.place_pointer(word);
        let (value, highest) = match spot.in_data_image() {
            Some(offset) => (self.number(i64::from(offset)), offset),
            None => {
                let data = self.data;
                // V2: the whole instance lies inside the data image, whose size is limited.
                let behind = self.body.instance_bytes.saturating_sub(Place::from_word(word).offset());
                let highest = (self.shared.image.data.len() as u32).saturating_sub(behind);
                (self.builder.ins().isub(pointer, data), highest)
            }
        };
        Address { value, pointer, highest, inside: Some((spot, 0)) }
    }

    /// An address so far behind another, at most `most`. It is at most the greatest of 32 bits, as the plain
    /// instructions keep it.
    fn moved_address(&mut self, address: Address, distance: Value, most: u32) -> Address {
        let highest = address.highest.saturating_add(most);
        let inside = address.inside.map(|(spot, reach)| (spot, reach.saturating_add(most)));
        let value = self.builder.ins().iadd(address.value, distance);
        if highest < u32::MAX {
            let pointer = self.builder.ins().iadd(address.pointer, distance);
            return Address { value, pointer, highest, inside };
        }
        let greatest = self.number(i64::from(u32::MAX));
        let beyond = self.builder.ins().icmp(IntCC::UnsignedGreaterThan, value, greatest);
        let value = self.builder.ins().select(beyond, greatest, value);
        let data = self.data;
        let pointer = self.builder.ins().iadd(data, value);
        Address { value, pointer, highest, inside }
    }

    /// An address so many bytes behind another.
    fn constant_step(&mut self, address: Address, bytes: u32) -> Address {
        let distance = self.number(i64::from(bytes));
        let inside = address.inside.map(|(spot, reach)| (spot.behind(bytes), reach));
        Address { inside, ..self.moved_address(address, distance, bytes) }
    }

    /// An address that a place holds, which is none of the machine's own.
    pub(super) fn used(&mut self, word: u32, opcode: Opcode, operands: &[u32; 4]) -> Address {
        if let Some(known) = self.known_address(word) {
            return known;
        }
        let address = self.get(word, Scalar::U32);
        let value = self.builder.ins().uextend(types::I64, address);
        let low = self.builder.ins().icmp_imm(IntCC::UnsignedLessThan, value, i64::from(SYSTEM_BYTES));
        self.check(low, opcode, operands);
        let data = self.data;
        let pointer = self.builder.ins().iadd(data, value);
        let address = Address { value, pointer, highest: u32::MAX, inside: None };
        self.note_address(word, address);
        address
    }

    /// The pointer for an access to so many bytes at an address that a place holds plus an offset.
    pub(super) fn through(
        &mut self,
        word: u32,
        offset: u32,
        bytes: u32,
        opcode: Opcode,
        operands: &[u32; 4],
    ) -> Value {
        let address = self.used(word, opcode, operands);
        let size = self.shared.image.data.len() as u64;
        if u64::from(address.highest) + u64::from(offset) + u64::from(bytes) > size {
            let accessed = self.builder.ins().iadd_imm(address.value, i64::from(offset));
            // An access longer than the data image is outside wherever it begins.
            let last = size.checked_sub(u64::from(bytes)).map_or(-1, |last| last as i64);
            let outside = self.builder.ins().icmp_imm(IntCC::SignedGreaterThan, accessed, last);
            self.check(outside, opcode, operands);
            // Now it is known to be no higher, which is nothing new where the access was outside in any case.
            let highest = u32::try_from(last - i64::from(offset)).unwrap_or(address.highest);
            self.note_address(word, Address { highest, ..address });
        }
        self.builder.ins().iadd_imm(address.pointer, i64::from(offset))
    }

    fn copy(&mut self, to: Value, from: Value, bytes: u32) {
        if bytes > SHORT {
            let count = self.number(i64::from(bytes));
            let function = support::copy as unsafe extern "C" fn(_, _, _) as usize;
            self.call(function, &[types::I64; 3], None, &[to, from, count]);
            self.forget_reachable();
            return;
        }
        // All of it is read before any of it is written, since the spans may overlap.
        let mut parts = Vec::new();
        let mut offset = 0;
        while offset < bytes {
            let (part, size) = match bytes - offset {
                8.. => (types::I64, 8),
                4.. => (types::I32, 4),
                2.. => (types::I16, 2),
                _ => (types::I8, 1),
            };
            // At most SHORT.
            parts.push((offset as i32, self.builder.ins().load(part, MEMORY, from, offset as i32)));
            offset += size;
        }
        for (offset, value) in parts {
            self.builder.ins().store(MEMORY, value, to, offset);
        }
        self.forget_reachable();
    }

    /// Address of an element of an array at an address.
    fn element(
        &mut self,
        to: u32,
        address: Address,
        (index, range): (u32, u32),
        opcode: Opcode,
        operands: &[u32; 4],
    ) {
        // The verifier has checked the range.
        let Some(range) = self.shared.code.ranges.get(range as usize).copied() else { return };
        let IndexRange { lower, count, stride } = range;
        if let Some(index) = self.known_integer(index, opcode.scalar())
            && let Some(number @ 0..) = index.checked_sub(lower)
            && number < i64::from(count)
            && let Ok(distance) = u32::try_from(number * i64::from(stride))
        {
            let address = self.constant_step(address, distance);
            self.set_address(to, address);
            return;
        }
        let number = self.index_within(index, (lower, count), opcode, operands);
        let distance = self.builder.ins().imul_imm(number, i64::from(stride));
        let last = (u64::from(count) - 1) * u64::from(stride);
        let last = u32::try_from(last).unwrap_or(u32::MAX);
        // Not above the end of the data image, where the array is one that lies at a place.
        let address = self.moved_address(address, distance, last);
        self.set_address(to, address);
    }

    /// Address of a character of a text, whose characters have a width in bytes.
    fn character(&mut self, width: u32, opcode: Opcode, operands: &[u32; 4]) {
        let [to, text, index, _] = *operands;
        // Behind the capacity.
        let pointer = self.through(text, 2, 2, opcode, operands);
        let length = self.builder.ins().load(types::I16, MEMORY, pointer, 0);
        let length = self.builder.ins().uextend(types::I64, length);
        let index = self.get(index, opcode.scalar());
        let index = self.extended(index, opcode.scalar());
        // An index below 1 becomes greater than every length.
        let number = self.builder.ins().iadd_imm(index, -1);
        let outside = self.builder.ins().icmp(IntCC::UnsignedGreaterThanOrEqual, number, length);
        self.check(outside, opcode, operands);
        let distance = self.builder.ins().imul_imm(number, i64::from(width));
        let distance = self.builder.ins().iadd_imm(distance, 4);
        let address = self.used(text, opcode, operands);
        let address = self.moved_address(address, distance, 4 + width * u32::from(u16::MAX));
        self.set_address(to, address);
    }

    /// The number of an element, counted from 0.
    fn index_within(
        &mut self,
        index: u32,
        (lower, count): (i64, u32),
        opcode: Opcode,
        operands: &[u32; 4],
    ) -> Value {
        let index = self.get(index, opcode.scalar());
        let value = self.extended(index, opcode.scalar());
        // The lower bound is limited so that this cannot wrap around into the range (limits::INDEX_LOWER).
        let number = self.builder.ins().iadd_imm(value, lower.wrapping_neg());
        let within = (index, opcode.scalar(), lower, count);
        if self.facts.within.contains(&within) {
            return number;
        }
        let mut outside =
            self.builder.ins().icmp_imm(IntCC::UnsignedGreaterThanOrEqual, number, i64::from(count));
        if opcode.scalar() == Scalar::U64 {
            // Beyond the signed numbers, and so beyond every range.
            let beyond = self.builder.ins().icmp_imm(IntCC::SignedLessThan, value, 0);
            outside = self.builder.ins().bor(outside, beyond);
        }
        self.check(outside, opcode, operands);
        self.facts.within.push(within);
        number
    }

    /// An integer in 64 bits.
    pub(super) fn extended(&mut self, value: Value, scalar: Scalar) -> Value {
        match scalar {
            Scalar::I8 | Scalar::I16 | Scalar::I32 => self.builder.ins().sextend(types::I64, value),
            Scalar::U8 | Scalar::U16 | Scalar::U32 => self.builder.ins().uextend(types::I64, value),
            _ => value,
        }
    }
}

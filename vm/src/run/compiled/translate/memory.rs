//! Copies, addresses, array elements, and accesses through addresses.

use super::super::support;
use super::unit::{MEMORY, Translation};
use crate::image::IndexRange;
use crate::instruction::{Family, Opcode};
use crate::place::{Place, SYSTEM_BYTES};
use crate::types::Scalar;
use cranelift_codegen::ir::{InstBuilder, Value, condcodes::IntCC, types};

use super::places::{Address, kind};

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
                self.set(a, value);
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
                    self.instance_bytes > 0
                } else {
                    place.offset() >= SYSTEM_BYTES
                };
                if some {
                    self.set_address(a, Address { inside: None, ..address });
                } else {
                    let value = self.builder.ins().ireduce(types::I32, address.value);
                    self.set(a, value);
                }
            }
            Family::OffsetAddress => {
                let Address { value, highest, inside } = self.used(b, opcode, operands);
                let value = self.builder.ins().iadd_imm(value, i64::from(c));
                let highest = highest.saturating_add(c);
                let value = self.saturated(value, highest);
                let inside = inside.map(|(place, reach)| (place, reach.saturating_add(c)));
                self.set_address(a, Address { value, highest, inside });
            }
            Family::Load => {
                let pointer = self.through(b, c, scalar.size(), opcode, operands);
                let value = self.builder.ins().load(kind(scalar), MEMORY, pointer, 0);
                self.set(a, value);
            }
            Family::Store => {
                let pointer = self.through(a, b, scalar.size(), opcode, operands);
                let value = self.get(c, scalar);
                let inside = self.known_address(a).and_then(|address| address.inside);
                self.builder.ins().store(MEMORY, value, pointer, 0);
                match inside {
                    Some((place, reach)) => {
                        let bytes = reach.saturating_add(b).saturating_add(scalar.size());
                        self.forget_span((place, bytes));
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
            _ => return false,
        }
        true
    }

    /// The pointer to a place.
    fn place_pointer(&mut self, word: u32) -> Value {
        let (pointer, offset) = self.pointer(Place::from_word(word));
        self.builder.ins().iadd_imm(pointer, i64::from(offset))
    }

    /// The address of a place.
    pub(super) fn place_address(&mut self, word: u32) -> Address {
        let place = Place::from_word(word);
        let inside = Some((place, 0));
        if place.is_relative() {
            let pointer = self.place_pointer(word);
            let data = self.data;
            // V2: the place lies inside the instance, and that inside the data image, whose size is limited.
            let highest = self.shared.image.data.len() as u32;
            Address { value: self.builder.ins().isub(pointer, data), highest, inside }
        } else {
            Address { value: self.number(i64::from(place.offset())), highest: place.offset(), inside }
        }
    }

    /// An address that is at most the greatest of 32 bits, as the plain instructions keep it.
    fn saturated(&mut self, value: Value, highest: u32) -> Value {
        if highest < u32::MAX {
            return value;
        }
        let greatest = self.number(i64::from(u32::MAX));
        let beyond = self.builder.ins().icmp(IntCC::UnsignedGreaterThan, value, greatest);
        self.builder.ins().select(beyond, greatest, value)
    }

    /// An address that a place holds, which is none of the machine's own.
    pub(super) fn used(&mut self, word: u32, opcode: Opcode, operands: &[u32; 4]) -> Address {
        if let Some(known) = self.known_address(word) {
            return known;
        }
        let address = self.get(word, Scalar::U32);
        let wide = self.builder.ins().uextend(types::I64, address);
        let low = self.builder.ins().icmp_imm(IntCC::UnsignedLessThan, wide, i64::from(SYSTEM_BYTES));
        self.check(low, opcode, operands);
        Address { value: wide, highest: u32::MAX, inside: None }
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
        let Address { value, highest, .. } = self.used(word, opcode, operands);
        let address = self.builder.ins().iadd_imm(value, i64::from(offset));
        let size = self.shared.image.data.len() as u64;
        if u64::from(highest) + u64::from(offset) + u64::from(bytes) > size {
            // An access longer than the data image is outside wherever it begins.
            let last = size.checked_sub(u64::from(bytes)).map_or(-1, |last| last as i64);
            let outside = self.builder.ins().icmp_imm(IntCC::SignedGreaterThan, address, last);
            self.check(outside, opcode, operands);
        }
        let data = self.data;
        self.builder.ins().iadd(data, address)
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
        let number = if let Some(index) = self.known_integer(index, opcode.scalar())
            && let Some(number @ 0..) = index.checked_sub(lower)
            && number < i64::from(count)
        {
            self.number(number)
        } else {
            let value = self.get(index, opcode.scalar());
            let value = self.extended(value, opcode.scalar());
            // The lower bound is limited so that this cannot wrap around into the range (limits::INDEX_LOWER).
            let number = self.builder.ins().iadd_imm(value, lower.wrapping_neg());
            let mut outside =
                self.builder.ins().icmp_imm(IntCC::UnsignedGreaterThanOrEqual, number, i64::from(count));
            if opcode.scalar() == Scalar::U64 {
                // Beyond the signed numbers, and so beyond every range.
                let beyond = self.builder.ins().icmp_imm(IntCC::SignedLessThan, value, 0);
                outside = self.builder.ins().bor(outside, beyond);
            }
            self.check(outside, opcode, operands);
            number
        };
        let offset = self.builder.ins().imul_imm(number, i64::from(stride));
        let value = self.builder.ins().iadd(address.value, offset);
        // Not above the end of the data image, where the array is one that lies at a place.
        let last = (u64::from(count) - 1) * u64::from(stride);
        let last = u32::try_from(last).unwrap_or(u32::MAX);
        let highest = address.highest.saturating_add(last);
        let value = self.saturated(value, highest);
        let inside = address.inside.map(|(place, reach)| (place, reach.saturating_add(last)));
        self.set_address(to, Address { value, highest, inside });
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

//! Located variables of 8 bits and more that share storage with located bits.
//!
//! A located bit lives in a byte of its own, which the machine packs into its area between scans. Within a scan the
//! two must agree too: before a wider variable is read, the bits in it are brought up to date; after it is written,
//! the bits are taken from it. Implements IEC 61131-3:2013, 6.5.5 with our choice that the same address always is
//! the same storage.

use latchwork_vm::{Family, Scalar};

use super::unit::Lowering;
use crate::{
    layout::{
        Base, Spot,
        areas::{Bit, width},
    },
    typed::Root,
};

impl Lowering<'_> {
    /// The located bits that share bytes with a variable, if it is a located one of 8 bits and more.
    fn shared_bits(&mut self, root: &Root) -> Vec<Bit> {
        let context = self.context;
        let (spot, size) = match root {
            Root::Direct(address) => (context.storage.areas.spot(address), width(address.size)),
            Root::Global(id) => {
                let variable = context.program.globals.get(id.0 as usize);
                let Some(variable) = variable.filter(|variable| variable.location.is_some()) else {
                    return Vec::new();
                };
                let Some(spot) = context.storage.globals.get(id.0 as usize) else { return Vec::new() };
                (*spot, self.size(variable.kind))
            }
            Root::Variable(id) => {
                let Some(variable) = self.unit.variables.get(id.0 as usize) else { return Vec::new() };
                let (kind, outside) = (variable.kind, variable.global.is_some());
                if variable.location.is_none() && !outside {
                    return Vec::new();
                }
                let Some(storage) = self.places.variables.get(id.0 as usize) else { return Vec::new() };
                if storage.indirect {
                    return Vec::new();
                }
                let spot = storage.spot;
                (spot, self.size(kind))
            }
            Root::This => return Vec::new(),
        };
        if spot.base != Base::Data {
            return Vec::new();
        }
        context.storage.areas.bits_within(spot.offset, size).to_vec()
    }

    /// Brings the bits of a variable up to date before it is read.
    pub(super) fn gather_bits(&mut self, root: &Root) {
        for bit in self.shared_bits(root) {
            let (byte, slot, mask, zero) = self.places_of(&bit);
            let rest = self.integer(i128::from(!(1u8 << bit.bit)), Scalar::U8);
            let mark = self.top;
            let part = self.scalar_temporary(Scalar::U8);
            self.top = mark;
            self.emit(Family::And, Scalar::U8, &[byte.into(), byte.into(), rest.into()]);
            let choice = [part.into(), slot.into(), zero.into(), mask.into()];
            self.emit(Family::Select, Scalar::U8, &choice);
            self.emit(Family::Or, Scalar::U8, &[byte.into(), byte.into(), part.into()]);
        }
    }

    /// Takes the bits of a variable from it after it has been written.
    pub(super) fn scatter_bits(&mut self, root: &Root) {
        for bit in self.shared_bits(root) {
            let (byte, slot, mask, zero) = self.places_of(&bit);
            let mark = self.top;
            let part = self.scalar_temporary(Scalar::U8);
            self.top = mark;
            self.emit(Family::And, Scalar::U8, &[part.into(), byte.into(), mask.into()]);
            self.emit(Family::NotEqual, Scalar::U8, &[slot.into(), part.into(), zero.into()]);
        }
    }

    /// The byte and the slot of a bit, its mask, and zero.
    fn places_of(&mut self, bit: &Bit) -> (Spot, Spot, Spot, Spot) {
        let mask = self.integer(1 << bit.bit, Scalar::U8);
        let zero = self.integer(0, Scalar::U8);
        (Spot::new(Base::Data, bit.byte), Spot::new(Base::Data, bit.slot), mask, zero)
    }
}

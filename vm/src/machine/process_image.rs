//! Moving values between the packed areas, the places of located bits, and what an interrupted release keeps of them
//! (IEC 61131-3:2013 Table 16).
//!
//! A release sees its inputs as they were when it began, and its outputs reach the terminals when it ends. Where it is
//! interrupted in between, [`Terminals`] takes its view out of the data image and puts it back later.

use crate::image::{AreaKind, Image, Region};
use crate::program::PackedBit;

/// Input bits from their area to their places.
pub(super) fn unpack(data: &mut [u8], bits: &[PackedBit]) {
    for bit in bits {
        let value = data.get(bit.byte as usize).map_or(0, |byte| byte >> bit.bit & 1);
        if let Some(place) = data.get_mut(bit.place as usize) {
            *place = value;
        }
    }
}

/// Output and memory bits from their places to their areas.
pub(super) fn pack(data: &mut [u8], bits: &[PackedBit]) {
    for bit in bits {
        let value = data.get(bit.place as usize).map_or(0, |place| place & 1);
        if let Some(byte) = data.get_mut(bit.byte as usize) {
            *byte = (*byte & !(1 << bit.bit)) | (value << bit.bit);
        }
    }
}

/// A packed area together with the places of its located bits.
#[derive(Clone, Debug)]
pub(super) struct Terminals {
    area: Region,
    places: Vec<u32>,
}

impl Terminals {
    pub(super) fn of(image: &Image, kind: AreaKind) -> Self {
        let area = match kind {
            AreaKind::Input => image.layout.inputs,
            AreaKind::Output => image.layout.outputs,
            AreaKind::Memory => image.layout.memory,
        };
        let mut places: Vec<u32> =
            image.bits.iter().filter(|bit| bit.area == kind).map(|bit| bit.place).collect();
        places.sort_unstable();
        places.dedup();
        Self { area, places }
    }

    /// All its bytes.
    pub(super) fn gather(&self, data: &[u8]) -> Vec<u8> {
        let mut bytes = region(data, self.area).to_vec();
        bytes.extend(self.places.iter().map(|place| data.get(*place as usize).copied().unwrap_or(0)));
        bytes
    }

    /// Puts back what [`Terminals::gather`] gave.
    pub(super) fn scatter(&self, data: &mut [u8], bytes: &[u8]) {
        let (area, places) = bytes.split_at(bytes.len().min(self.area.size as usize));
        put_region(data, self.area, area);
        for (place, byte) in self.places.iter().zip(places) {
            if let Some(target) = data.get_mut(*place as usize) {
                *target = *byte;
            }
        }
    }
}

pub(super) fn region(data: &[u8], region: Region) -> &[u8] {
    let start = region.start as usize;
    data.get(start..start.saturating_add(region.size as usize)).unwrap_or_default()
}

/// Writes the bytes of a region; they are as many as it has.
pub(super) fn put_region(data: &mut [u8], region: Region, bytes: &[u8]) {
    let start = region.start as usize;
    if let Some(target) = data.get_mut(start..start.saturating_add(bytes.len())) {
        target.copy_from_slice(bytes);
    }
}

/// Bits of the outputs that a release has changed, with their values.
#[derive(Clone, Debug, Default)]
pub(super) struct Changes {
    mask: Vec<u8>,
    values: Vec<u8>,
}

impl Changes {
    /// The changed bits over the bytes that are published.
    pub(super) fn over(&self, published: &[u8]) -> Vec<u8> {
        let own = self.mask.iter().zip(&self.values).chain(std::iter::repeat((&0, &0)));
        published.iter().zip(own).map(|(byte, (mask, value))| byte & !mask | value & mask).collect()
    }

    /// Takes in what changed since the release went on: what differs from the published bytes has changed, and what
    /// had changed before stays so.
    pub(super) fn take(&mut self, published: &[u8], now: Vec<u8>) {
        self.mask.resize(now.len(), 0);
        for ((mask, before), after) in self.mask.iter_mut().zip(published).zip(&now) {
            *mask |= before ^ after;
        }
        self.values = now;
    }
}

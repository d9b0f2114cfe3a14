//! Moving values between the packed areas, the places of located bits, and what an interrupted release keeps of them
//! (IEC 61131-3:2013 Table 16).
//!
//! A release sees its inputs as they were when it began, and its outputs reach the terminals when it ends. Where it is
//! interrupted in between, [`Terminals`] takes its view out of the data image and puts it back later.

use crate::image::{AreaKind, Image, LocatedBit, Region};

/// Located bits that follow one another in a byte of their area, and whose places do too.
#[derive(Clone, Copy, Debug)]
pub(crate) struct BitRun {
    pub(crate) place: u32,
    pub(crate) byte: u32,
    pub(crate) first: u8,
    /// 1 to 8.
    pub(crate) count: u8,
}

/// The value 1 in every byte.
const ONES: u64 = u64::from_le_bytes([1; 8]);

impl BitRun {
    /// The runs of some bits, in the order of the bits: where two places mirror one bit, the later one counts.
    pub(crate) fn all<'a>(bits: impl Iterator<Item = &'a LocatedBit>) -> Vec<Self> {
        let mut runs: Vec<Self> = Vec::new();
        for bit in bits {
            match runs.last_mut() {
                Some(run)
                    if run.byte == bit.byte
                        && run.first + run.count == bit.bit
                        && run.place.checked_add(u32::from(run.count)) == Some(bit.place) =>
                {
                    run.count += 1;
                }
                _ => runs.push(Self { place: bit.place, byte: bit.byte, first: bit.bit, count: 1 }),
            }
        }
        runs
    }

    /// All ones in the bytes of the places, of eight that begin with the first.
    const fn places(self) -> u64 {
        // A byte has eight bits, so a run has 1 to 8.
        u64::MAX >> (64 - 8 * self.count as u32)
    }

    /// All ones in the bits of the byte.
    pub(crate) const fn bits(self) -> u8 {
        (0xff >> (8 - self.count)) << self.first
    }

    /// Whether the next run of outputs can be read before this one is written, and both be written together: they are
    /// bits of one byte, and that byte is no place of the next.
    #[cfg(compiled_form)]
    pub(crate) fn continued_by(&self, next: &Self) -> bool {
        let places = next.place..next.place.saturating_add(next.count.into());
        next.byte == self.byte && next.first >= self.first + self.count && !places.contains(&next.byte)
    }
}

/// Input bits from their area to their places.
#[inline]
pub(super) fn unpack(data: &mut [u8], runs: &[BitRun]) {
    for run in runs {
        let bits = data.get(run.byte as usize).map_or(0, |byte| byte >> run.first);
        // The bits as bytes: a copy of the byte for each, with its bit alone, and that made 1.
        let alone = u64::from(bits).wrapping_mul(ONES) & 0x8040_2010_0804_0201;
        let bytes = alone.wrapping_add(0x7f * ONES) >> 7 & ONES;
        match eight(data, run.place) {
            Some(places) => {
                let others = u64::from_le_bytes(*places) & !run.places();
                *places = (others | bytes & run.places()).to_le_bytes();
            }
            // At the very end of the data image.
            None => {
                let places = data.get_mut(run.place as usize..).unwrap_or_default();
                for (place, value) in places.iter_mut().zip(bytes.to_le_bytes()).take(run.count.into()) {
                    *place = value;
                }
            }
        }
    }
}

/// Output and memory bits from their places to their areas.
#[inline]
pub(super) fn pack(data: &mut [u8], runs: &[BitRun]) {
    for run in runs {
        let places = match eight(data, run.place) {
            Some(places) => *places,
            None => {
                let mut places = [0; 8];
                for (copy, place) in places.iter_mut().zip(data.get(run.place as usize..).unwrap_or_default())
                {
                    *copy = *place;
                }
                places
            }
        };
        // The lowest bits of eight bytes, gathered in the highest byte of the product.
        let values = (u64::from_le_bytes(places) & ONES).wrapping_mul(0x0102_0408_1020_4080) >> 56;
        if let Some(byte) = data.get_mut(run.byte as usize) {
            *byte = (*byte & !run.bits()) | ((values as u8) << run.first & run.bits());
        }
    }
}

/// Eight bytes of the data image.
#[inline]
fn eight(data: &mut [u8], start: u32) -> Option<&mut [u8; 8]> {
    data.get_mut(start as usize..)?.first_chunk_mut()
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

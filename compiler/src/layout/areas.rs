//! The areas of directly represented variables and the one-byte slots of located bits.
//!
//! Implements IEC 61131-3:2013, table 16 with these choices: the number counts units of the letter's own
//! size (`%QW1` is bytes 2 and 3), `%X3.5` is bit 5 of byte 3 and the same as `%X29`, and with more numbers
//! each leading path is an area of its own; those lie one after another behind the main area. Variables
//! of 8 bits and more lie in the area itself; a bit has a byte of its own, which the machine packs and
//! unpacks. The same address always is the same storage.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::tree::{AddressSize, Area, DirectAddress};

use super::{Base, Spot, align_up};

/// An area by its letter and leading path.
type AreaKey = (Area, Vec<u32>);

/// Where an address points to inside its area.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Position {
    key: AreaKey,
    /// Bit number for bits, else byte number.
    number: u64,
    /// Bytes; 0 for a bit.
    width: u64,
}

/// Bytes of one unit of a size letter; 0 for a bit.
pub(crate) const fn width(size: AddressSize) -> u32 {
    match size {
        AddressSize::Bit => 0,
        AddressSize::Byte => 1,
        AddressSize::Word => 2,
        AddressSize::DoubleWord => 4,
        AddressSize::LongWord => 8,
    }
}

fn position(address: &DirectAddress) -> Position {
    let width = u64::from(width(address.size));
    let (leading, number) = match (address.path.as_slice(), width) {
        ([leading @ .., byte, bit], 0) => (leading, u64::from(*byte) * 8 + u64::from(*bit)),
        ([leading @ .., last], 0) => (leading, u64::from(*last)),
        ([leading @ .., last], width) => (leading, u64::from(*last) * width),
        // Partly specified addresses are refused by the checker.
        ([], _) => (&[][..], 0),
    };
    Position { key: (address.area, leading.to_vec()), number, width }
}

/// The standard's text of an address: `%IX0.0`, `%QW3`.
pub(crate) fn text(address: &DirectAddress) -> String {
    let area = match address.area {
        Area::Input => 'I',
        Area::Output => 'Q',
        Area::Memory => 'M',
    };
    let size = match address.size {
        AddressSize::Bit => 'X',
        AddressSize::Byte => 'B',
        AddressSize::Word => 'W',
        AddressSize::DoubleWord => 'D',
        AddressSize::LongWord => 'L',
    };
    let numbers: Vec<String> = address.path.iter().map(u32::to_string).collect();
    format!("%{area}{size}{}", numbers.join("."))
}

/// Collects the addresses a program uses.
#[derive(Debug, Default)]
pub(crate) struct AreaCollector {
    sizes: BTreeMap<AreaKey, u64>,
    bits: BTreeSet<(AreaKey, u64)>,
}

/// Too many located bits.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TooManyBits;

impl AreaCollector {
    /// Notes that `count` consecutive units from an address on are used. `limit` bounds the number of
    /// located bits.
    pub(crate) fn add(
        &mut self,
        address: &DirectAddress,
        count: u64,
        limit: usize,
    ) -> Result<(), TooManyBits> {
        let Position { key, number, width } = position(address);
        let end = if width == 0 {
            if count > limit as u64 || self.bits.len() > limit {
                return Err(TooManyBits);
            }
            self.bits.extend((0..count).map(|index| (key.clone(), number + index)));
            (number + count).div_ceil(8)
        } else {
            number.saturating_add(width.saturating_mul(count))
        };
        let size = self.sizes.entry(key).or_insert(0);
        *size = (*size).max(end);
        Ok(())
    }

    /// Lays out the areas from an offset on: inputs, outputs, memory, then the slots of the bits.
    pub(crate) fn finish(self, start: u64) -> Areas {
        let mut areas = Areas {
            bases: BTreeMap::new(),
            slots: BTreeMap::new(),
            shared: Vec::new(),
            regions: [(0, 0); 3],
            end: 0,
        };
        let mut next = start;
        for (index, area) in [Area::Input, Area::Output, Area::Memory].into_iter().enumerate() {
            let first = next;
            for (key, size) in self.sizes.iter().filter(|(key, _)| key.0 == area) {
                areas.bases.insert(key.clone(), next);
                next = align_up(next.saturating_add(*size), 8);
            }
            areas.regions[index] = (first, next - first);
        }
        for bit in self.bits {
            areas.slots.insert(bit, next);
            next = next.saturating_add(1);
        }
        areas.end = align_up(next, 8);
        areas.shared = areas.bits().filter(|bit| bit.area != Area::Input).collect();
        areas.shared.sort_by_key(|bit| (bit.byte, bit.bit));
        areas
    }
}

/// A located bit: its slot and its place in the packed area.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bit {
    /// Byte offset of the slot in the data image.
    pub slot: u32,
    /// Byte offset of the packed byte in the data image.
    pub byte: u32,
    /// 0 to 7.
    pub bit: u8,
    /// Which area.
    pub area: Area,
}

/// The areas with their final places.
#[derive(Debug)]
pub(crate) struct Areas {
    bases: BTreeMap<AreaKey, u64>,
    slots: BTreeMap<(AreaKey, u64), u64>,
    /// The bits of outputs and memory in the order of their bytes.
    shared: Vec<Bit>,
    /// Start and size of the inputs, outputs and memory.
    pub regions: [(u64, u64); 3],
    /// First free byte behind the slots.
    pub end: u64,
}

impl Areas {
    /// Where the variable at an address lives: in its area, or in the slot of a bit.
    pub(crate) fn spot(&self, address: &DirectAddress) -> Spot {
        let Position { key, number, width } = position(address);
        let offset = if width == 0 {
            self.slots.get(&(key, number)).copied()
        } else {
            self.bases.get(&key).map(|base| base.saturating_add(number))
        };
        // Every address of the program has been collected, and the total size is checked.
        Spot::new(Base::Data, offset.and_then(|offset| u32::try_from(offset).ok()).unwrap_or(u32::MAX))
    }

    /// The located bits of outputs and memory that share bytes with something of `size` bytes at an offset.
    pub(crate) fn bits_within(&self, offset: u32, size: u32) -> &[Bit] {
        let first = self.shared.partition_point(|bit| bit.byte < offset);
        let rest = self.shared.get(first..).unwrap_or_default();
        let end = offset.saturating_add(size);
        rest.get(..rest.partition_point(|bit| bit.byte < end)).unwrap_or_default()
    }

    /// All located bits in the order of their slots.
    pub(crate) fn bits(&self) -> impl Iterator<Item = Bit> + '_ {
        self.slots.iter().filter_map(|((key, number), slot)| {
            let byte = self.bases.get(key)?.saturating_add(number / 8);
            Some(Bit {
                slot: u32::try_from(*slot).ok()?,
                byte: u32::try_from(byte).ok()?,
                bit: (number % 8) as u8,
                area: key.0,
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use latchwork_grammar::Span;

    use super::*;

    fn address(area: Area, size: AddressSize, path: &[u32]) -> DirectAddress {
        DirectAddress { area, size, path: path.to_vec(), span: Span::default() }
    }

    #[test]
    fn numbers_count_units_of_their_own_size() {
        let word = position(&address(Area::Output, AddressSize::Word, &[3]));
        assert_eq!((word.number, word.width), (6, 2));
        let bit = position(&address(Area::Input, AddressSize::Bit, &[3, 5]));
        assert_eq!(bit, position(&address(Area::Input, AddressSize::Bit, &[29])));
    }

    #[test]
    fn each_leading_path_is_an_area_of_its_own() {
        let main = address(Area::Memory, AddressSize::Word, &[0]);
        let other = address(Area::Memory, AddressSize::Word, &[2, 0]);
        let mut collector = AreaCollector::default();
        for one in [&main, &other] {
            assert!(collector.add(one, 1, 10).is_ok());
        }
        let areas = collector.finish(16);
        assert_eq!(areas.spot(&main).offset, 16);
        assert_eq!(areas.spot(&other).offset, 24);
        assert_eq!(areas.regions[2], (16, 16));
    }

    #[test]
    fn bits_of_an_array_have_neighbouring_slots() {
        let mut collector = AreaCollector::default();
        assert!(collector.add(&address(Area::Input, AddressSize::Bit, &[0, 6]), 4, 10).is_ok());
        assert!(collector.add(&address(Area::Input, AddressSize::Bit, &[0, 0]), 1, 10).is_ok());
        let areas = collector.finish(16);
        let first = areas.spot(&address(Area::Input, AddressSize::Bit, &[0, 6])).offset;
        assert_eq!(areas.spot(&address(Area::Input, AddressSize::Bit, &[1, 1])).offset, first + 3);
        assert!(AreaCollector::default().add(&address(Area::Input, AddressSize::Bit, &[0]), 11, 10).is_err());
    }
}

//! The constants of a program: every distinct value once.
//!
//! A constant is a run of bytes, or the absolute address of a place that is not known before everything is
//! laid out. The pool knows nothing of types.

use std::collections::{BTreeMap, HashMap};

use latchwork_vm::limits;

use super::{Base, Spot, align_up};

/// A scalar is never larger.
const SMALL_BYTES: usize = size_of::<u64>();

/// What tells small constants apart: content, length, alignment.
type SmallKey = (u64, u8, u32);

/// How many small constants are found without a search.
const RECENT: usize = 64;

/// Constants collected while lowering.
#[derive(Debug, Default)]
pub(crate) struct Pool {
    bytes: Vec<u8>,
    known: HashMap<(Vec<u8>, u32), u32>,
    /// Those of up to [`SMALL_BYTES`], which nearly all are.
    small: HashMap<SmallKey, u32>,
    /// Some that were asked for last: a program has a few constants in very many places.
    recent: Recent,
    addresses: BTreeMap<Spot, u32>,
    overflowed: bool,
}

impl Pool {
    /// The place of a constant with this content and alignment.
    pub(crate) fn constant(&mut self, content: &[u8], align: u32) -> Spot {
        if content.len() <= SMALL_BYTES {
            let mut bytes = [0; SMALL_BYTES];
            bytes.iter_mut().zip(content).for_each(|(to, from)| *to = *from);
            let key = (u64::from_le_bytes(bytes), content.len() as u8, align);
            if let Some(offset) = self.recent.find(key) {
                return Spot::new(Base::Constants, offset);
            }
            let offset = match self.small.get(&key) {
                Some(offset) => *offset,
                None => {
                    let offset = self.append(content, align);
                    self.small.insert(key, offset);
                    offset
                }
            };
            self.recent.note(key, offset);
            return Spot::new(Base::Constants, offset);
        }
        let key = (content.to_vec(), align);
        if let Some(offset) = self.known.get(&key) {
            return Spot::new(Base::Constants, *offset);
        }
        let offset = self.append(content, align);
        self.known.insert(key, offset);
        Spot::new(Base::Constants, offset)
    }

    /// The place of a 32-bit constant that holds the absolute address of a spot. The spot must not be
    /// relative to an instance.
    pub(crate) fn address_of(&mut self, spot: Spot) -> Spot {
        debug_assert!(spot.base != Base::Instance);
        if let Some(offset) = self.addresses.get(&spot) {
            return Spot::new(Base::Constants, *offset);
        }
        let offset = self.append(&[0; 4], 4);
        self.addresses.insert(spot, offset);
        Spot::new(Base::Constants, offset)
    }

    fn append(&mut self, content: &[u8], align: u32) -> u32 {
        let start = align_up(self.bytes.len() as u64, align);
        if start + content.len() as u64 > limits::DATA_BYTES as u64 {
            self.overflowed = true;
            return 0;
        }
        // Below DATA_BYTES, so it fits both.
        self.bytes.resize(start as usize, 0);
        self.bytes.extend_from_slice(content);
        start as u32
    }

    /// Whether something did not fit into the largest possible data image.
    pub(crate) fn overflowed(&self) -> bool {
        self.overflowed
    }

    /// Number of bytes.
    pub(crate) fn len(&self) -> u32 {
        self.bytes.len() as u32
    }

    /// The content, with addresses filled in by `resolve`.
    pub(crate) fn finish(mut self, resolve: impl Fn(Spot) -> u32) -> Vec<u8> {
        for (spot, offset) in &self.addresses {
            let at = *offset as usize;
            if let Some(slot) = self.bytes.get_mut(at..at + 4) {
                slot.copy_from_slice(&resolve(*spot).to_le_bytes());
            }
        }
        self.bytes
    }
}

/// Small constants with their offsets, each in the one entry that it may have.
#[derive(Debug)]
struct Recent([Option<(SmallKey, u32)>; RECENT]);

impl Default for Recent {
    fn default() -> Self {
        Recent([None; RECENT])
    }
}

impl Recent {
    fn entry((content, length, _): SmallKey) -> usize {
        // Small numbers differ at one end, real numbers at the other.
        let mixed = content ^ content >> 20 ^ content >> 48 ^ u64::from(length) << 4;
        (mixed % RECENT as u64) as usize
    }

    fn find(&self, key: SmallKey) -> Option<u32> {
        let (known, offset) = (*self.0.get(Self::entry(key))?)?;
        (known == key).then_some(offset)
    }

    fn note(&mut self, key: SmallKey, offset: u32) {
        if let Some(entry) = self.0.get_mut(Self::entry(key)) {
            *entry = Some((key, offset));
        }
    }
}

//! Interned names: letter case does not matter in identifiers (IEC 61131-3:2013, 6.1.2), so two spellings
//! of one name become one [`Name`] and compare as one number.

use std::hash::{BuildHasher, RandomState};

/// An identifier without its letter case. Compare with `==`; ask [`Names::spelling`] for its text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Name(pub u32);

/// The table of all names of one compilation.
///
/// Asked for every identifier of a text: it compares without regard to letter case instead of folding, and holds the
/// texts in one piece. Names are numbered as they come; nothing of the order inside the table can be seen.
#[derive(Clone, Debug)]
pub struct Names {
    /// All spellings, one behind the other.
    text: String,
    /// Where in `text` the spelling of each name ends.
    ends: Vec<usize>,
    /// Open addressing with steps of one; never more than half full, and a power of two long once it is not empty.
    slots: Vec<Slot>,
    /// Drawn anew for every table, so that no text can be written whose names collide.
    key: u64,
}

/// A place of the table.
#[derive(Clone, Copy, Debug)]
struct Slot {
    /// Upper half of the hash.
    hash: u32,
    /// Number of the name, or [`EMPTY`].
    name: u32,
}

const EMPTY: u32 = u32::MAX;

/// Slots of the first table.
const SLOTS_MIN: usize = 256;

/// Hash of a text without regard to the case of letters. Other characters may fall together, too.
fn hash_of(text: &str, key: u64) -> u64 {
    /// Takes the bit that tells small letters from capital ones out of eight characters.
    const FOLD: u64 = 0xdfdf_dfdf_dfdf_dfdf;
    /// The golden ratio in 64 bits (D. E. Knuth, The Art of Computer Programming, volume 3, 6.4; from memory).
    const FACTOR: u64 = 0x9e37_79b9_7f4a_7c15;
    let mix = |hash: u64, characters: u64| {
        let product = u128::from(hash ^ (characters & FOLD)) * u128::from(FACTOR);
        (product as u64 ^ (product >> 64) as u64).wrapping_add(key)
    };
    let bytes = text.as_bytes();
    let mut hash = key ^ bytes.len() as u64;
    // All characters take part, some of them twice.
    let last = if let Some(last) = bytes.last_chunk::<8>() {
        let (whole, _) = bytes.as_chunks::<8>();
        for characters in whole {
            hash = mix(hash, u64::from_le_bytes(*characters));
        }
        u64::from_le_bytes(*last)
    } else if let (Some(first), Some(last)) = (bytes.first_chunk::<4>(), bytes.last_chunk::<4>()) {
        u64::from(u32::from_le_bytes(*first)) << 32 | u64::from(u32::from_le_bytes(*last))
    } else {
        bytes.iter().fold(0, |last, byte| last << 8 | u64::from(*byte))
    };
    mix(mix(hash, last), 0)
}

impl Default for Names {
    fn default() -> Self {
        Names {
            text: String::new(),
            ends: Vec::new(),
            slots: Vec::new(),
            key: RandomState::new().hash_one(0),
        }
    }
}

impl Names {
    /// An empty table.
    pub fn new() -> Self {
        Self::default()
    }

    /// The name of an identifier, entered if it is new.
    pub fn intern(&mut self, spelling: &str) -> Name {
        let hash = hash_of(spelling, self.key);
        match self.look_up(spelling, hash) {
            Ok(name) => name,
            Err(place) => self.enter(spelling, hash, place),
        }
    }

    /// The name of an identifier if it has occurred.
    pub fn find(&self, spelling: &str) -> Option<Name> {
        self.look_up(spelling, hash_of(spelling, self.key)).ok()
    }

    /// The text of a name as it was first written.
    ///
    /// # Panics
    /// If the name is of another table.
    pub fn spelling(&self, name: Name) -> &str {
        let index = name.0 as usize;
        let start = index.checked_sub(1).map_or(0, |before| self.ends[before]);
        &self.text[start..self.ends[index]]
    }

    /// The spelling of a name of this table.
    fn bytes(&self, name: Name) -> &[u8] {
        let index = name.0 as usize;
        let start = index.checked_sub(1).and_then(|before| self.ends.get(before)).copied().unwrap_or(0);
        let end = self.ends.get(index).copied().unwrap_or(start);
        self.text.as_bytes().get(start..end).unwrap_or(&[])
    }

    /// The name of a text, or the free slot where the search for it ended.
    fn look_up(&self, spelling: &str, hash: u64) -> Result<Name, usize> {
        let mask = self.slots.len().wrapping_sub(1);
        let mut place = hash as usize & mask;
        // Ends: at least half of the slots are free.
        while let Some(slot) = self.slots.get(place) {
            if slot.name == EMPTY {
                return Err(place);
            }
            if slot.hash == (hash >> 32) as u32 {
                let known = self.bytes(Name(slot.name));
                let spelling = spelling.as_bytes();
                if known.len() == spelling.len()
                    && (known == spelling || known.eq_ignore_ascii_case(spelling))
                {
                    return Ok(Name(slot.name));
                }
            }
            place = (place + 1) & mask;
        }
        Err(place)
    }

    fn enter(&mut self, spelling: &str, hash: u64, place: usize) -> Name {
        let name = Name(self.ends.len() as u32);
        self.text.push_str(spelling);
        self.ends.push(self.text.len());
        if self.ends.len() * 2 > self.slots.len() {
            self.grow();
        } else if let Some(slot) = self.slots.get_mut(place) {
            *slot = Slot { hash: (hash >> 32) as u32, name: name.0 };
        }
        name
    }

    /// Makes a larger table, with a slot for every name there is.
    fn grow(&mut self) {
        let count = (self.slots.len() * 2).max(SLOTS_MIN);
        let mut slots = vec![Slot { hash: 0, name: EMPTY }; count];
        for name in 0..self.ends.len() as u32 {
            let hash = hash_of(self.spelling(Name(name)), self.key);
            let mut place = hash as usize & (count - 1);
            while slots.get(place).is_some_and(|slot| slot.name != EMPTY) {
                place = (place + 1) & (count - 1);
            }
            if let Some(slot) = slots.get_mut(place) {
                *slot = Slot { hash: (hash >> 32) as u32, name };
            }
        }
        self.slots = slots;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::{collection::vec, prelude::*};
    use std::collections::HashMap;

    proptest! {
        /// Few letters, so that names meet again in another case; long names go through the steps of eight.
        #[test]
        fn names_are_one_without_regard_to_case(spellings in vec("[abAB_01.é]{1,3}|[aA]{6,20}", 0..600)) {
            let mut names = Names::new();
            let mut expected: HashMap<String, (Name, String)> = HashMap::new();
            for spelling in &spellings {
                let folded = spelling.to_ascii_uppercase();
                prop_assert_eq!(names.find(spelling), expected.get(&folded).map(|entry| entry.0));
                let name = names.intern(spelling);
                let next = Name(expected.len() as u32);
                let entry = expected.entry(folded).or_insert((next, spelling.clone()));
                prop_assert_eq!(name, entry.0);
                prop_assert_eq!(names.spelling(name), entry.1.as_str());
            }
            for (folded, (name, _)) in &expected {
                prop_assert_eq!(names.find(&folded.to_ascii_lowercase()), Some(*name));
            }
        }
    }

    #[test]
    fn nothing_is_found_in_an_empty_table() {
        assert_eq!(Names::new().find("a"), None);
    }
}

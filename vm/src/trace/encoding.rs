//! How one change is written in bytes: the scans since the change before it, then the value.
//!
//! Numbers are varints: seven bits a byte, the lowest first, the highest bit set where more follow. A BOOL shares the
//! number of scans. Whole numbers, times and characters are differences to the value before, since counters and measured
//! values mostly move a little; signs alternate (0, -1, 1, -2…). Reals, whose bits have no such order, are their own
//! bytes. What the first change of a block refers to stands in its mark.

use crate::types::ElementaryType;

/// How the values of a block of changes are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// An elementary type other than a string.
    Elementary(ElementaryType),
    /// STRING: number of characters, characters.
    Text,
    /// WSTRING: the same.
    WideText,
    /// Enumerations: the number, then which of the names that this number had.
    Named,
}

/// Appends a varint.
#[inline]
pub(super) fn put_number(bytes: &mut Vec<u8>, mut number: u64) {
    while number >= 0x80 {
        // Cut to the low seven bits.
        bytes.push(number as u8 | 0x80);
        number >>= 7;
    }
    bytes.push(number as u8);
}

/// A reader over the bytes of a block. Bytes that are missing count as 0, which only a foreign block would have.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reader<'a> {
    pub(super) bytes: &'a [u8],
}

impl<'a> Reader<'a> {
    #[inline]
    pub(super) fn number(&mut self) -> u64 {
        let mut number = 0u64;
        for shift in (0..64).step_by(7) {
            let Some((byte, rest)) = self.bytes.split_first() else { break };
            self.bytes = rest;
            number |= u64::from(byte & 0x7f) << shift;
            if byte & 0x80 == 0 {
                break;
            }
        }
        number
    }

    pub(super) fn take(&mut self, length: usize) -> &'a [u8] {
        let (taken, rest) = self.bytes.split_at(length.min(self.bytes.len()));
        self.bytes = rest;
        taken
    }

    pub(super) fn fixed(&mut self, length: usize) -> u64 {
        self.take(length).iter().rev().fold(0, |number, byte| number << 8 | u64::from(*byte))
    }
}

/// Signed differences as numbers that are small where the difference is.
pub(super) const fn folded(difference: i64) -> u64 {
    // The arithmetic shift gives all ones for negative differences.
    (difference << 1) as u64 ^ (difference >> 63) as u64
}

/// The inverse of [`folded`].
pub(super) const fn unfolded(number: u64) -> i64 {
    (number >> 1) as i64 ^ -((number & 1) as i64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn numbers_come_back(numbers in proptest::collection::vec(any::<u64>(), 0..8), shift in 0u32..64) {
            let numbers: Vec<u64> = numbers.iter().map(|number| number >> shift).collect();
            let mut bytes = Vec::new();
            for number in &numbers {
                put_number(&mut bytes, *number);
            }
            let mut reader = Reader { bytes: &bytes };
            for number in &numbers {
                prop_assert_eq!(reader.number(), *number);
                prop_assert_eq!(folded(unfolded(*number)), *number);
            }
            prop_assert!(reader.bytes.is_empty());
        }
    }

    #[test]
    fn small_differences_are_short() {
        assert_eq!([0, -1, 1, -2, 2].map(folded), [0, 1, 2, 3, 4]);
        assert_eq!(unfolded(folded(i64::MIN)), i64::MIN);
    }
}

//! Hashes that are the same on every platform and in every run.

/// The offset basis and the prime of FNV-1a with 64 bits (G. Fowler, L. C. Noll, K.-P. Vo; from memory).
const BASIS: u64 = 0xcbf2_9ce4_8422_2325;
const PRIME: u64 = 0x0000_0100_0000_01b3;

/// Numbers of 2^53 and more are not exact in every reader of JSON.
const BITS: u32 = 53;

/// The hash of a text.
pub(super) fn text(text: &str) -> u64 {
    text.bytes().fold(BASIS, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(PRIME))
}

/// A hash of numbers in their order.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hasher(u64);

impl Default for Hasher {
    fn default() -> Self {
        Hasher(BASIS)
    }
}

impl Hasher {
    /// Takes a number in.
    pub(super) fn add(&mut self, number: u64) {
        self.0 = mixed(self.0 ^ number);
    }

    /// The hash so far.
    pub(super) fn value(self) -> u64 {
        self.0 >> (64 - BITS)
    }
}

/// Every bit of the number in every bit of the result: the last steps of MurmurHash3 with 64 bits (A. Appleby; from memory).
const fn mixed(mut number: u64) -> u64 {
    number ^= number >> 33;
    number = number.wrapping_mul(0xff51_afd7_ed55_8ccd);
    number ^= number >> 33;
    number = number.wrapping_mul(0xc4ce_b9fe_1a85_ec53);
    number ^ (number >> 33)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_values() {
        // From the test vectors of FNV-1a with 64 bits, from memory.
        assert_eq!(text(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(text("a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(text("foobar"), 0x8594_4171_f739_67e8);
        let mut hasher = Hasher::default();
        hasher.add(1);
        assert!(hasher.value() < 1 << 53);
        let one = hasher.value();
        hasher.add(0);
        assert_ne!(hasher.value(), one);
    }
}

//! A source of random numbers with a state of 64 bits.

/// SplitMix64 (Steele, Lea and Flood 2014): equal seeds give equal sequences on every platform.
#[derive(Clone, Debug)]
pub struct Random(u64);

impl Random {
    /// A sequence; neighbouring seeds give unrelated ones.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number below `limit`, which is at least 1.
    pub const fn below(&mut self, limit: usize) -> usize {
        (self.bits() >> 32) as usize % limit
    }

    /// A number from `least` to `greatest`, both included.
    pub const fn between(&mut self, least: usize, greatest: usize) -> usize {
        least + self.below(greatest - least + 1)
    }

    /// TRUE in so many of a hundred cases.
    pub const fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    /// One of some choices, of which there is at least one.
    pub const fn pick<'a, T>(&mut self, choices: &'a [T]) -> &'a T {
        &choices[self.below(choices.len())]
    }

    /// The index of a choice, by the weights of all.
    pub fn weighted(&mut self, weights: &[usize]) -> usize {
        let mut rest = self.below(weights.iter().sum());
        for (index, weight) in weights.iter().enumerate() {
            match rest.checked_sub(*weight) {
                Some(less) => rest = less,
                None => return index,
            }
        }
        weights.len() - 1
    }
}

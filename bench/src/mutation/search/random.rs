//! Random numbers that are the same on every platform.

/// SplitMix64 (Steele, Lea and Flood 2014).
#[derive(Clone, Debug)]
pub(super) struct Random(u64);

impl Random {
    /// A sequence; neighbouring seeds give unrelated ones.
    pub(super) const fn new(seed: u64) -> Self {
        Random(seed)
    }

    const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number below `limit`; 0 if that is 0.
    pub(super) const fn below(&mut self, limit: usize) -> usize {
        match ((self.bits() >> 32) as usize).checked_rem(limit) {
            Some(number) => number,
            None => 0,
        }
    }

    /// TRUE in so many of a hundred cases.
    pub(super) const fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    /// One of some choices, if there are some.
    pub(super) fn pick<'a, T>(&mut self, choices: &'a [T]) -> Option<&'a T> {
        choices.get(self.below(choices.len()))
    }
}

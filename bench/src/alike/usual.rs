//! How usual a similarity is in a class.

use serde::{Deserialize, Serialize};

/// Bands of similarity: below 10 %, below 20 % and so on; the last one has 100 % in it.
pub const BANDS: usize = 10;

/// The similarities of all pairs of a class, counted.
#[derive(Clone, Debug)]
pub(super) struct Counts([u64; 1001]);

impl Default for Counts {
    fn default() -> Self {
        Counts([0; 1001])
    }
}

impl Counts {
    /// Takes a pair in, with its similarity in parts of a thousand.
    pub(super) fn add(&mut self, similarity: u16) {
        if let Some(count) = self.0.get_mut(usize::from(similarity)) {
            *count += 1;
        }
    }

    fn pairs(&self) -> u64 {
        self.0.iter().sum()
    }

    /// How many pairs are less alike, in parts of a thousand of all pairs.
    pub(super) fn below(&self, similarity: u16) -> u16 {
        let below: u64 = self.0.iter().take(usize::from(similarity)).sum();
        (below * 1000 / self.pairs().max(1)) as u16
    }

    /// The similarity that so many parts of a hundred of the pairs do not exceed.
    fn quantile(&self, percent: u64) -> u16 {
        let wanted = (self.pairs() * percent).div_ceil(100);
        let mut seen = 0;
        let found = self.0.iter().position(|count| {
            seen += count;
            seen >= wanted.max(1)
        });
        found.unwrap_or(0) as u16
    }

    /// What it comes to.
    pub(super) fn usual(&self) -> Usual {
        let mut bands = [0; BANDS];
        for (similarity, count) in self.0.iter().enumerate() {
            if let Some(band) = bands.get_mut((similarity * BANDS / 1000).min(BANDS - 1)) {
                *band += count;
            }
        }
        Usual {
            pairs: self.pairs(),
            median: self.quantile(50),
            upper: self.quantile(90),
            highest: self.0.iter().rposition(|count| *count > 0).unwrap_or(0) as u16,
            bands,
        }
    }
}

/// The similarities of all pairs of a class in few figures; in parts of a thousand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Usual {
    /// Pairs of different texts that were compared.
    pub pairs: u64,
    /// Half of the pairs are not more alike than this.
    pub median: u16,
    /// Nine of ten pairs are not more alike than this.
    pub upper: u16,
    /// The most alike pair.
    pub highest: u16,
    /// Pairs in each band of similarity.
    pub bands: [u64; BANDS],
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_of_a_small_class() {
        let mut counts = Counts::default();
        [0, 0, 100, 250, 990, 1000].into_iter().for_each(|similarity| counts.add(similarity));
        let usual = counts.usual();
        assert_eq!((usual.pairs, usual.median, usual.upper, usual.highest), (6, 100, 1000, 1000));
        assert_eq!(usual.bands, [2, 1, 1, 0, 0, 0, 0, 0, 0, 2]);
        assert_eq!((counts.below(0), counts.below(990), counts.below(1000)), (0, 666, 833));
        assert_eq!(Counts::default().usual(), Usual::default());
        assert_eq!(Counts::default().below(500), 0);
    }
}

//! How the marks of a class are spread.

use super::sums::{SCORE_MAX, quotient, variance};
use crate::marking::Points;

/// In how many equal parts of the points marks are counted.
pub const BINS: usize = 10;

/// The marks of some students.
#[derive(Clone, Debug, PartialEq)]
pub struct Distribution {
    /// How many students.
    pub students: usize,
    /// Mean, in points.
    pub mean: Option<f64>,
    /// The mark in the middle, in points; of an even number of students the mean of both in the middle.
    pub median: Option<f64>,
    /// Standard deviation, in points, of n − 1; for two students and more.
    pub deviation: Option<f64>,
    /// The lowest mark.
    pub lowest: Option<Points>,
    /// The highest mark.
    pub highest: Option<Points>,
    /// How many students earned less than half of the points.
    pub below_half: usize,
    /// How many students lie in each tenth of the points; full marks are in the last.
    pub bins: [usize; BINS],
}

impl Distribution {
    /// Of these marks out of so many points.
    pub fn of(out_of: Points, totals: impl Iterator<Item = Points>) -> Self {
        let mut totals: Vec<i64> =
            totals.map(|total| total.hundredths().clamp(0, SCORE_MAX * 10_000)).collect();
        totals.sort_unstable();
        let count = totals.len();
        let sum: i128 = totals.iter().map(|total| i128::from(*total)).sum();
        let at = |index: usize| totals.get(index).copied();
        let median = at(count / 2).zip(at(count.saturating_sub(1) / 2));
        let median = median.map(|(above, below)| (i128::from(above) + i128::from(below)) as f64 / 200.0);
        let all = i128::from(out_of.hundredths());
        let mut bins = [0; BINS];
        for total in &totals {
            let bin = quotient_down(i128::from(*total) * BINS as i128, all).min(BINS - 1);
            if let Some(counted) = bins.get_mut(bin) {
                *counted += 1;
            }
        }
        Distribution {
            students: count,
            mean: quotient(sum, count as i128 * 100),
            median,
            deviation: quotient(variance(&totals), count as i128 * (count as i128 - 1))
                .map(|squared| squared.sqrt() / 100.0),
            lowest: totals.first().copied().map(Points::of_hundredths),
            highest: totals.last().copied().map(Points::of_hundredths),
            below_half: totals.iter().filter(|total| i128::from(**total) * 2 < all).count(),
            bins,
        }
    }
}

/// A quotient of numbers that are not negative, rounded down; of nothing, all.
fn quotient_down(numerator: i128, denominator: i128) -> usize {
    if denominator <= 0 {
        return usize::MAX;
    }
    usize::try_from(numerator / denominator).unwrap_or(usize::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(out_of: i64, totals: &[i64]) -> Distribution {
        Distribution::of(
            Points::of_hundredths(out_of),
            totals.iter().map(|total| Points::of_hundredths(*total)),
        )
    }

    #[test]
    fn marks_by_hand() {
        // 2, 4, 4, 4, 5, 5, 7, 9 of 10: mean 5, deviation √(32 / 7).
        let found = of(1000, &[900, 200, 400, 500, 400, 700, 400, 500]);
        assert_eq!((found.mean, found.median), (Some(5.0), Some(4.5)));
        assert_eq!(found.deviation, Some((32.0f64 / 7.0).sqrt()));
        assert_eq!(found.bins, [0, 0, 1, 0, 3, 2, 0, 1, 0, 1]);
        assert_eq!(found.below_half, 4);
        assert_eq!((found.lowest, found.highest), (Some(Points::of(2.0)), Some(Points::of(9.0))));
    }

    #[test]
    fn of_nobody_of_one_and_of_nothing() {
        let nobody = of(1000, &[]);
        assert_eq!((nobody.mean, nobody.median, nobody.deviation, nobody.lowest), (None, None, None, None));
        let one = of(1000, &[1000]);
        assert_eq!((one.mean, one.median, one.deviation), (Some(10.0), Some(10.0), None));
        assert_eq!(one.bins[BINS - 1], 1);
        let nothing = of(0, &[0, 0]);
        assert_eq!((nothing.below_half, nothing.deviation), (0, Some(0.0)));
    }
}

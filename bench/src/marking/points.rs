//! Points: what something is worth, counted in hundredths so that sums are the same wherever they are made.

use std::{fmt, iter::Sum};

use serde::{Deserialize, Serialize};

/// Most points of one thing: a million.
const POINTS_MAX: f64 = 1_000_000.0;

/// A number of points, in hundredths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Points(i64);

impl Points {
    /// None.
    pub const ZERO: Points = Points(0);

    /// From hundredths.
    pub const fn of_hundredths(hundredths: i64) -> Self {
        Points(hundredths)
    }

    /// From a number as people write it, to the nearest hundredth, halves up; brought into 0 to a million.
    pub fn of(points: f64) -> Self {
        if points.is_nan() {
            return Points::ZERO;
        }
        // In the range of an i64 by the clamp.
        Points((points.clamp(0.0, POINTS_MAX) * 100.0 + 0.5).floor() as i64)
    }

    /// In hundredths.
    pub const fn hundredths(self) -> i64 {
        self.0
    }

    /// A share of them, `met` of `all`, to the nearest hundredth, halves up. All of them if `all` is zero.
    pub const fn share(self, met: u64, all: u64) -> Self {
        if all == 0 || met >= all {
            return self;
        }
        // In i128 nothing can overflow: hundredths are at most 64 bits, as is the share.
        let doubled = 2 * self.0 as i128 * met as i128 + all as i128;
        Points((doubled / (2 * all as i128)) as i64)
    }

    /// The sum, at most what an i64 holds.
    #[must_use]
    pub const fn plus(self, other: Points) -> Self {
        Points(self.0.saturating_add(other.0))
    }

    /// The difference, never below zero.
    #[must_use]
    pub const fn less(self, other: Points) -> Self {
        let left = self.0.saturating_sub(other.0);
        Points(if left < 0 { 0 } else { left })
    }

    /// How many of `all` they are, 0 to 1; 1 of nothing.
    pub fn of_all(self, all: Points) -> f64 {
        if all.0 <= 0 { 1.0 } else { self.0 as f64 / all.0 as f64 }
    }

    /// With its noun: "1 point", "2.5 points".
    pub fn counted(self) -> String {
        if self.0 == 100 { "1 point".to_owned() } else { format!("{self} points") }
    }
}

impl Sum for Points {
    fn sum<I: Iterator<Item = Points>>(points: I) -> Points {
        points.fold(Points::ZERO, Points::plus)
    }
}

impl fmt::Display for Points {
    /// As people write it: `2`, `2.5`, `0.25`.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, rest) = (self.0 / 100, (self.0 % 100).abs());
        let sign = if self.0 < 0 && whole == 0 { "-" } else { "" };
        match rest {
            0 => write!(formatter, "{whole}"),
            _ if rest % 10 == 0 => write!(formatter, "{sign}{whole}.{}", rest / 10),
            _ => write!(formatter, "{sign}{whole}.{rest:02}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn points_are_written_as_people_write_them() {
        let texts: Vec<String> =
            [0, 5, 50, 100, 125, 250, 1000].map(|hundredths| Points(hundredths).to_string()).into();
        assert_eq!(texts, ["0", "0.05", "0.5", "1", "1.25", "2.5", "10"]);
        assert_eq!(Points::of(1.0).counted(), "1 point");
        assert_eq!(Points::of(0.5).counted(), "0.5 points");
    }

    #[test]
    fn numbers_are_brought_to_the_nearest_hundredth() {
        assert_eq!(Points::of(1.005_000_001), Points(101));
        assert_eq!(Points::of(-3.0), Points::ZERO);
        assert_eq!(Points::of(f64::INFINITY), Points(100_000_000));
        assert_eq!(Points::of(f64::NAN), Points::ZERO);
    }

    proptest! {
        #[test]
        fn a_share_lies_between_nothing_and_all(points in 0..1_000_000i64, met in 0..50u64, more in 0..50u64) {
            let all = met + more;
            let share = Points(points).share(met, all);
            prop_assert!(share <= Points(points));
            if all > 0 {
                let exact = points as f64 * met as f64 / all as f64;
                prop_assert!((share.0 as f64 - exact).abs() <= 0.5);
            }
        }
    }
}

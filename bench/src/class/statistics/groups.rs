//! The upper-lower index of discrimination: how much more of an item the best students earn than the weakest.
//!
//! The groups are the 27 % of students with the highest totals and the 27 % with the lowest (T. L. Kelley, "The selection
//! of upper and lower groups for the validation of test items", J. Educ. Psychol. 30 (1939) 17–24), rounded to whole
//! students, halves up. The index is the mean share of the item's points in the upper group less that in the lower one.
//!
//! **Ties.** Often more students have the same total at the edge of a group than there are places left in it. Which of them
//! belong to it must not depend on the order of names, so all of them do in part: each counts with the same weight, the
//! places left divided by how many they are. It is the mean over all ways to choose among them.
//!
//! **Small classes.** Groups of fewer than [`GROUP_MIN`] students say nothing, so there is no index below 10 students; and
//! none where all totals are the same, for then there is no better and no weaker.

use super::sums::quotient;

/// Fewest students in a group.
pub const GROUP_MIN: usize = 3;

/// How many students a group has.
pub const fn group_size(students: usize) -> usize {
    (students * 27 + 50) / 100
}

/// The two groups of a class, as weights of its students: numbers over a common denominator for each group.
pub(super) struct Groups {
    upper: Group,
    lower: Group,
    size: usize,
}

struct Group {
    /// Weight of each student, times `denominator`.
    weights: Vec<i128>,
    denominator: i128,
}

impl Groups {
    /// Of students with these totals.
    pub(super) fn of(totals: &[i64]) -> Option<Groups> {
        let size = group_size(totals.len());
        if size < GROUP_MIN {
            return None;
        }
        let mut sorted = totals.to_vec();
        sorted.sort_unstable();
        let (lowest, highest) = (sorted.first()?, sorted.last()?);
        if lowest == highest {
            return None;
        }
        let lower_edge = *sorted.get(size - 1)?;
        let upper_edge = *sorted.get(sorted.len() - size)?;
        Some(Groups {
            upper: Group::of(totals, size, upper_edge, |total| total > upper_edge),
            lower: Group::of(totals, size, lower_edge, |total| total < lower_edge),
            size,
        })
    }

    /// The index of an item with these scores, of so much each; −1 to 1.
    pub(super) fn index(&self, scores: &[i64], worth: i64) -> Option<f64> {
        let (upper, lower) = (self.upper.sum(scores), self.lower.sum(scores));
        let difference = upper * self.lower.denominator - lower * self.upper.denominator;
        let all = self.size as i128 * i128::from(worth);
        quotient(difference, all * self.upper.denominator * self.lower.denominator)
    }
}

impl Group {
    fn of(totals: &[i64], size: usize, edge: i64, is_inside: impl Fn(i64) -> bool) -> Group {
        let inside = totals.iter().filter(|total| is_inside(**total)).count();
        let tied = totals.iter().filter(|total| **total == edge).count() as i128;
        let places = size.saturating_sub(inside) as i128;
        let weight = |total: i64| match total {
            total if is_inside(total) => tied,
            total if total == edge => places,
            _ => 0,
        };
        Group { weights: totals.iter().map(|total| weight(*total)).collect(), denominator: tied }
    }

    fn sum(&self, scores: &[i64]) -> i128 {
        self.weights.iter().zip(scores).map(|(weight, score)| weight * i128::from(*score)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_are_27_percent_rounded() {
        let sizes: Vec<usize> = [0, 1, 2, 5, 9, 10, 11, 50, 100, 370].map(group_size).into();
        assert_eq!(sizes, [0, 0, 1, 1, 2, 3, 3, 14, 27, 100]);
    }

    /// Ten students, so three in a group. Totals 9 8 7 7 7 5 5 4 1 0: upper group 9, 8 and one place for three students with
    /// 7; lower group 0, 1, 4.
    #[test]
    fn students_at_the_edge_share_the_places_left() {
        let totals = [7, 9, 5, 7, 8, 5, 7, 0, 4, 1];
        let groups = Groups::of(&totals).unwrap();
        // Of the three with 7 the first has the item, as have 9 and 4: (1 + 1/3) / 3 − 1 / 3 = 1/9.
        let scores = [1, 1, 0, 0, 0, 0, 0, 0, 1, 0];
        assert_eq!(groups.index(&scores, 1), Some(1.0 / 9.0));
        // All above the middle have it, nobody below: 1.
        assert_eq!(groups.index(&[1, 1, 1, 1, 1, 1, 1, 0, 0, 0], 1), Some(1.0));
        assert_eq!(groups.index(&[0, 0, 0, 0, 0, 0, 0, 6, 6, 6], 6), Some(-1.0));
    }

    #[test]
    fn there_is_no_index_of_few_or_of_equals() {
        assert!(Groups::of(&[1, 2, 3, 4, 5, 6, 7, 8, 9]).is_none());
        assert!(Groups::of(&[4; 40]).is_none());
        assert!(Groups::of(&[]).is_none());
    }
}

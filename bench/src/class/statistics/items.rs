//! The analysis of items by the scores of some students.

use super::{
    groups::Groups,
    reliability::{alpha, error_of_measurement},
    sums::{SCORE_MAX, correlation, quotient},
};
use crate::{
    class::Member,
    marking::{Item, ItemVerdict},
};

/// Items by the scores of some students.
#[derive(Clone, Debug, PartialEq)]
pub struct Analysis {
    /// How many students.
    pub students: usize,
    /// Every item of the scheme, in its order.
    pub items: Vec<ItemAnalysis>,
    /// Cronbach's alpha of all items that are worth something, at most 1. `None` for fewer than two such items or students,
    /// or if all totals are the same.
    pub alpha: Option<f64>,
    /// Standard error of measurement of a total, in points; `None` where alpha is not known or negative.
    pub error_of_measurement: Option<f64>,
}

/// What the scores say of an item.
#[derive(Clone, Debug, PartialEq)]
pub struct ItemAnalysis {
    /// How many students passed it.
    pub passed: usize,
    /// How many passed it in part.
    pub partly: usize,
    /// The mean share of its points that was earned, 0 (nobody earned anything) to 1 (everybody all): the classical
    /// difficulty p, which is higher the easier the item is. `None` without students or if it is worth nothing.
    pub difficulty: Option<f64>,
    /// Whether every student earned either all or nothing. Then the correlations below are point-biserial.
    pub all_or_nothing: bool,
    /// Correlation of its score with the total of the *other* items (item-rest, corrected), −1 to 1: the correlation that is
    /// shown, because a total that contains the item agrees with it in part by itself. `None` if one of both has no variance.
    pub with_rest: Option<f64>,
    /// Correlation of its score with the total of all items, −1 to 1.
    pub with_total: Option<f64>,
    /// Upper-lower index of discrimination, −1 to 1: see [`super::group_size`]. `None` below 10 students, if all totals are the
    /// same, or if it is worth nothing.
    pub upper_lower: Option<f64>,
}

impl Analysis {
    /// Of the scores of some students; each must have results of these items.
    pub(super) fn of(items: &[Item], members: &[&Member]) -> Self {
        let worths: Vec<i64> = items.iter().map(|item| score(item.points.hundredths())).collect();
        let scores: Vec<Vec<i64>> = (0..items.len())
            .map(|index| {
                let worth = worths.get(index).copied().unwrap_or(0);
                let earned = |member: &&Member| member.items.get(index).map_or(0, |it| it.1.hundredths());
                members.iter().map(|member| score(earned(member)).min(worth)).collect()
            })
            .collect();
        let verdicts = |index: usize, verdict: ItemVerdict| {
            members.iter().filter(|it| it.items.get(index).is_some_and(|it| it.0 == verdict)).count()
        };
        let mut analysis = Analysis::of_scores(&worths, &scores);
        for (index, item) in analysis.items.iter_mut().enumerate() {
            item.passed = verdicts(index, ItemVerdict::Passed);
            item.partly = verdicts(index, ItemVerdict::Partly);
        }
        analysis.students = members.len();
        analysis
    }

    /// Of scores in hundredths of points, a list for each item with one score a student, and what each item is worth. Who
    /// passed is left open.
    pub(super) fn of_scores(worths: &[i64], scores: &[Vec<i64>]) -> Self {
        let students = scores.first().map_or(0, Vec::len);
        let totals: Vec<i64> = (0..students)
            .map(|student| scores.iter().filter_map(|scores| scores.get(student)).sum())
            .collect();
        let groups = Groups::of(&totals);
        let items = worths
            .iter()
            .zip(scores)
            .map(|(worth, scores)| {
                let rest: Vec<i64> = totals.iter().zip(scores).map(|(total, score)| total - score).collect();
                let sum: i128 = scores.iter().map(|score| i128::from(*score)).sum();
                ItemAnalysis {
                    passed: 0,
                    partly: 0,
                    difficulty: quotient(sum, students as i128 * i128::from(*worth)),
                    all_or_nothing: scores.iter().all(|score| *score == 0 || score == worth),
                    with_rest: correlation(scores, &rest),
                    with_total: correlation(scores, &totals),
                    upper_lower: groups.as_ref().and_then(|groups| groups.index(scores, *worth)),
                }
            })
            .collect();
        let counted: Vec<&[i64]> = worths
            .iter()
            .zip(scores)
            .filter(|(worth, _)| **worth > 0)
            .map(|(_, scores)| scores.as_slice())
            .collect();
        let alpha = alpha(&counted, &totals);
        let error = error_of_measurement(alpha, &totals).map(|error| error / 100.0);
        Analysis { students, items, alpha, error_of_measurement: error }
    }
}

/// Hundredths brought into what sums are proven for.
fn score(hundredths: i64) -> i64 {
    hundredths.clamp(0, SCORE_MAX)
}

//! What holds for every class.

use latchwork_bench::class::{
    ClassResults,
    statistics::{Analysis, group_size},
};
use proptest::prelude::*;

use crate::made::class;

/// Worths of some items in hundredths, and students with what they earned of each in quarters.
fn classes(all_or_nothing: bool) -> impl Strategy<Value = (Vec<i64>, Vec<Vec<i64>>)> {
    (1..7usize, 0..40usize).prop_flat_map(move |(items, students)| {
        let quarter =
            if all_or_nothing { prop_oneof![Just(0i64), Just(4)].boxed() } else { (0..=4i64).boxed() };
        let worth = prop_oneof![Just(0i64), Just(100), Just(200), 4..1_000_000i64];
        let earned = prop::collection::vec(prop::collection::vec(quarter, items), students);
        (prop::collection::vec(worth, items), earned).prop_map(|(worths, quarters)| {
            let student = |row: Vec<i64>| row.iter().zip(&worths).map(|(q, worth)| worth * q / 4).collect();
            let earned = quarters.into_iter().map(student).collect();
            (worths, earned)
        })
    })
}

fn analysed(results: &ClassResults) -> &Analysis {
    &results.statistics.ran
}

proptest! {
    #[test]
    fn figures_lie_within_their_bounds((worths, students) in classes(false)) {
        let results = class(&worths, &students);
        let analysis = analysed(&results);
        prop_assert!(analysis.alpha.is_none_or(|alpha| alpha.is_finite() && alpha <= 1.0));
        prop_assert!(analysis.error_of_measurement.is_none_or(|error| error.is_finite() && error >= 0.0));
        for item in &analysis.items {
            prop_assert!(item.difficulty.is_none_or(|figure| (0.0..=1.0).contains(&figure)));
            for figure in [item.with_rest, item.with_total, item.upper_lower].into_iter().flatten() {
                prop_assert!((-1.0..=1.0).contains(&figure), "{figure}");
            }
        }
        let totals = &results.statistics.totals;
        prop_assert_eq!(totals.bins.iter().sum::<usize>(), students.len());
        if let (Some(mean), Some(lowest), Some(highest)) = (totals.mean, totals.lowest, totals.highest) {
            prop_assert!(lowest.hundredths() as f64 <= mean * 100.0 + 1e-6);
            prop_assert!(mean * 100.0 - 1e-6 <= highest.hundredths() as f64);
        }
    }

    /// To the last bit.
    #[test]
    fn the_order_of_students_changes_nothing(
        ((worths, students), mixed) in classes(false).prop_flat_map(|(worths, students)| {
            (Just((worths, students.clone())), Just(students).prop_shuffle())
        })
    ) {
        let (one, other) = (class(&worths, &students), class(&worths, &mixed));
        prop_assert_eq!(&one.statistics, &other.statistics);
    }

    /// Points are a unit: an exercise worth twice as much is no other exercise.
    #[test]
    fn the_unit_of_points_changes_nothing((worths, students) in classes(false), factor in 2..5i64) {
        let times = |list: &Vec<i64>| list.iter().map(|one| one * factor).collect::<Vec<i64>>();
        let larger: Vec<Vec<i64>> = students.iter().map(times).collect();
        let (one, other) = (class(&worths, &students), class(&times(&worths), &larger));
        let close = |one: Option<f64>, other: Option<f64>| match (one, other) {
            (Some(one), Some(other)) => (one - other).abs() < 1e-9 * one.abs().max(1.0),
            (one, other) => one == other,
        };
        prop_assert!(close(analysed(&one).alpha, analysed(&other).alpha));
        for (one, other) in analysed(&one).items.iter().zip(&analysed(&other).items) {
            prop_assert!(close(one.difficulty, other.difficulty));
            prop_assert!(close(one.with_rest, other.with_rest));
            prop_assert!(close(one.upper_lower, other.upper_lower));
        }
    }

    /// Kuder and Richardson's formula 20, from its own definition, for items of one point that are right or wrong.
    #[test]
    fn alpha_of_right_or_wrong_is_formula_20((worths, students) in classes(true)) {
        let ones: Vec<Vec<i64>> = students
            .iter()
            .map(|row| row.iter().zip(&worths).map(|(earned, worth)| if *worth > 0 && earned == worth { 100 } else { 0 }).collect())
            .collect();
        let count = worths.len();
        let results = class(&vec![100; count], &ones);
        let n = ones.len() as f64;
        let product: f64 = (0..count)
            .map(|item| ones.iter().filter(|row| row[item] > 0).count() as f64 / n)
            .map(|p| p * (1.0 - p))
            .sum();
        let totals: Vec<f64> = ones.iter().map(|row| row.iter().sum::<i64>() as f64 / 100.0).collect();
        let mean = totals.iter().sum::<f64>() / n;
        let variance = totals.iter().map(|total| (total - mean) * (total - mean)).sum::<f64>() / n;
        match analysed(&results).alpha {
            Some(alpha) => {
                let expected = count as f64 / (count as f64 - 1.0) * (1.0 - product / variance);
                prop_assert!((alpha - expected).abs() < 1e-6 * expected.abs().max(1.0), "{alpha} {expected}");
            }
            None => prop_assert!(count < 2 || ones.len() < 2 || variance < 1e-9),
        }
    }

    /// The point-biserial correlation by its own formula: (M₁ − M₀) / s · √(p q).
    #[test]
    fn the_correlation_of_right_or_wrong_is_point_biserial((worths, students) in classes(true)) {
        let results = class(&worths, &students);
        for (index, item) in analysed(&results).items.iter().enumerate() {
            prop_assert!(item.all_or_nothing);
            let Some(found) = item.with_rest else { continue };
            let rest = |row: &Vec<i64>| (row.iter().sum::<i64>() - row[index]) as f64;
            let mean = |list: &[f64]| list.iter().sum::<f64>() / list.len() as f64;
            let (right, wrong): (Vec<_>, Vec<_>) = students.iter().partition(|row| row[index] > 0);
            let [all, right, wrong] = [students.iter().collect(), right, wrong]
                .map(|rows: Vec<&Vec<i64>>| rows.into_iter().map(rest).collect::<Vec<f64>>());
            let deviation =
                (all.iter().map(|one| (one - mean(&all)) * (one - mean(&all))).sum::<f64>() / all.len() as f64).sqrt();
            let p = right.len() as f64 / all.len() as f64;
            let expected = (mean(&right) - mean(&wrong)) / deviation * (p * (1.0 - p)).sqrt();
            prop_assert!((found - expected).abs() < 1e-6, "{found} {expected}");
        }
    }

    /// Without ties at the edges the groups are plain: the first and the last of the ranking.
    #[test]
    fn groups_without_ties_are_the_ends_of_the_ranking(seed in prop::collection::vec(any::<bool>(), 10..60)) {
        // The second item ranks the students without ties, whatever the first gives.
        let count = seed.len() as i64;
        let students: Vec<Vec<i64>> =
            seed.iter().zip(0..).map(|(right, rank)| vec![i64::from(*right), rank * 2]).collect();
        let results = class(&[1, count * 2], &students);
        let size = group_size(seed.len());
        let share = |part: &[bool]| part.iter().filter(|right| **right).count() as f64 / size as f64;
        let expected = share(&seed[seed.len() - size..]) - share(&seed[..size]);
        let found = analysed(&results).items[0].upper_lower.unwrap();
        prop_assert!((found - expected).abs() < 1e-12, "{found} {expected}");
    }
}

//! Figures against arithmetic by hand and against general libraries.

use latchwork_bench::{
    class::statistics::{Analysis, ItemAnalysis},
    marking::{Points, State},
};
use serde_json::Value;

use crate::made::{class, finished, in_state, ran, scheme};

#[track_caller]
fn assert_close(found: Option<f64>, expected: Option<f64>) {
    match (found, expected) {
        (None, None) => {}
        (Some(found), Some(expected)) if (found - expected).abs() < 1e-12 => {}
        _ => panic!("found {found:?}, expected {expected:?}"),
    }
}

/// Five students on four items of one point, a perfect scale: whoever passes an item passes all easier ones.
///
/// ```text
///            1  2  3  4   total
///     A      1  1  1  1     4
///     B      1  1  1  0     3
///     C      1  1  0  0     2
///     D      1  0  0  0     1
///     E      0  0  0  0     0
/// ```
///
/// Difficulties 4/5, 3/5, 2/5, 1/5. Variances (of n) of the items p(1 − p): 4/25, 6/25, 6/25, 4/25, together 4/5; of the totals
/// (4 + 1 + 0 + 1 + 4)/5 = 2. Alpha = 4/3 · (1 − (4/5)/2) = 4/5.
///
/// Item 1 with the total: covariance (4 + 3 + 2 + 1)/5 − 4/5 · 2 = 2/5; r = (2/5) / (2/5 · √2) = 1/√2. With the rest (3, 2, 1, 0,
/// 0): mean 6/5, variance 14/5 − 36/25 = 34/25, covariance 6/5 − 4/5 · 6/5 = 6/25; r = (6/25) / (2/5 · √34/5) = 3/√34.
///
/// Item 2 with the rest (3, 2, 1, 1, 0): mean 7/5, variance 15/5 − 49/25 = 26/25, covariance 6/5 − 3/5 · 7/5 = 9/25; r = (9/25) /
/// (√6/5 · √26/5) = 9/√156.
///
/// Standard error of measurement: variance of the totals (of n − 1) 10/4; √(5/2 · (1 − 4/5)) = √(1/2).
#[test]
fn a_perfect_scale_by_hand() {
    let rows: Vec<Vec<i64>> = [[1, 1, 1, 1], [1, 1, 1, 0], [1, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0]]
        .map(|row| row.map(|one| one * 100).into())
        .into();
    let results = class(&[100; 4], &rows);
    let Analysis { students, items, alpha, error_of_measurement } = &results.statistics.ran;
    assert_eq!((*students, items.len()), (5, 4));
    let difficulties: Vec<Option<f64>> = items.iter().map(|item| item.difficulty).collect();
    assert_eq!(difficulties, [Some(0.8), Some(0.6), Some(0.4), Some(0.2)]);
    assert_close(*alpha, Some(0.8));
    assert_close(*error_of_measurement, Some(0.5f64.sqrt()));
    assert_close(items[0].with_total, Some(0.5f64.sqrt()));
    assert_close(items[0].with_rest, Some(3.0 / 34.0f64.sqrt()));
    assert_close(items[1].with_rest, Some(9.0 / 156.0f64.sqrt()));
    // The scale read from the other end is the same scale.
    assert_close(items[3].with_rest, items[0].with_rest);
    assert_close(items[2].with_rest, items[1].with_rest);
    assert!(items.iter().all(|item| item.all_or_nothing && item.upper_lower.is_none()));
    let passed: Vec<usize> = items.iter().map(|item| item.passed).collect();
    assert_eq!(passed, [4, 3, 2, 1]);
}

/// Two items of two and four points, earned in part: (2, 4), (1, 2), (0, 1), (1, 1).
///
/// Sums: x 4, y 8, x² 6, y² 22, xy 11; 4·6 − 16 = 8, 4·22 − 64 = 24, 4·11 − 32 = 12. The rest of one item is the other:
/// r = 12/√(8·24) = √3/2. Totals 6, 3, 1, 2: 4·50 − 144 = 56; alpha = 2 · (1 − (8 + 24)/56) = 6/7.
#[test]
fn items_earned_in_part_by_hand() {
    let rows = [[2, 4], [1, 2], [0, 1], [1, 1]].map(|row| row.map(|one| one * 100).to_vec());
    let results = class(&[200, 400], &rows);
    let analysis = &results.statistics.ran;
    for item in &analysis.items {
        assert!(!item.all_or_nothing);
        assert_close(item.with_rest, Some(0.75f64.sqrt()));
    }
    assert_close(analysis.items[0].difficulty, Some(0.5));
    assert_close(analysis.alpha, Some(6.0 / 7.0));
    assert_eq!((analysis.items[1].passed, analysis.items[1].partly), (1, 3));
}

#[test]
fn figures_agree_with_numpy_and_scipy() {
    let document: Value = serde_json::from_str(include_str!("item_analysis.json")).unwrap();
    let cases = document["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 8);
    for case in cases {
        let list = |value: &Value| -> Vec<i64> {
            value.as_array().unwrap().iter().map(|number| number.as_i64().unwrap()).collect()
        };
        let rows: Vec<Vec<i64>> = case["scores"].as_array().unwrap().iter().map(list).collect();
        let results = class(&list(&case["worths"]), &rows);
        let analysis = &results.statistics.ran;
        assert_close(analysis.alpha, case["alpha"].as_f64());
        assert_close(analysis.error_of_measurement, case["error_of_measurement"].as_f64());
        let expected = case["items"].as_array().unwrap();
        assert_eq!(expected.len(), analysis.items.len());
        for (item, expected) in analysis.items.iter().zip(expected) {
            assert_close(item.difficulty, expected["difficulty"].as_f64());
            assert_close(item.with_total, expected["with_total"].as_f64());
            assert_close(item.with_rest, expected["with_rest"].as_f64());
            assert_close(item.upper_lower, expected["upper_lower"].as_f64());
            assert_eq!(Some(item.all_or_nothing), expected["all_or_nothing"].as_bool());
        }
        if let Some(expected) = case["kr20"].as_f64() {
            assert_close(analysis.alpha, Some(expected));
        }
    }
}

#[test]
fn what_is_not_defined_is_no_number() {
    let nothing = |item: &ItemAnalysis| (item.with_rest, item.with_total, item.upper_lower);
    // Nobody.
    let results = class(&[100, 100], &[]);
    let analysis = &results.statistics.ran;
    assert_eq!((analysis.alpha, analysis.items[0].difficulty), (None, None));
    assert_eq!(nothing(&analysis.items[0]), (None, None, None));
    // One student.
    let results = class(&[100, 100], &[vec![100, 0]]);
    let analysis = &results.statistics.ran;
    assert_eq!((analysis.alpha, analysis.items[0].difficulty), (None, Some(1.0)));
    assert_eq!(nothing(&analysis.items[0]), (None, None, None));
    // Everybody the same.
    let results = class(&[100, 100], &vec![vec![100, 0]; 40]);
    assert_eq!(results.statistics.ran.alpha, None);
    assert_eq!(nothing(&results.statistics.ran.items[1]), (None, None, None));
    // One item.
    let results = class(&[100], &[vec![100], vec![0]]);
    assert_eq!(results.statistics.ran.alpha, None);
    assert_eq!(nothing(&results.statistics.ran.items[0]), (None, Some(1.0), None));
    // An item that is worth nothing.
    let results = class(&[100, 0], &[vec![100, 0], vec![0, 0]]);
    let item = &results.statistics.ran.items[1];
    assert_eq!((item.difficulty, nothing(item)), (None, (None, None, None)));
}

#[test]
fn only_work_that_was_handed_in_counts() {
    let scheme = scheme(&[100, 100]);
    let mut marked = vec![ran("a", &scheme, &[100, 100]), ran("b", &scheme, &[100, 0])];
    let all = State::ALL.iter().filter(|state| **state != State::Ran);
    marked.extend(all.map(|state| in_state(state.words(), &scheme, *state)));
    let statistics = finished(&scheme, &marked).statistics;
    assert_eq!((statistics.ran.students, statistics.handed_in.students), (2, 6));
    assert_eq!(statistics.ran.items[0].difficulty, Some(1.0));
    assert_close(statistics.handed_in.items[0].difficulty, Some(2.0 / 6.0));
    assert_eq!(statistics.totals.students, 6);
    assert_close(statistics.totals.mean, Some(0.5));
    assert_eq!(statistics.totals.highest, Some(Points::of(2.0)));
    assert_eq!(statistics.count(State::NothingHandedIn), 1);
    assert_eq!(statistics.states.values().sum::<usize>(), 8);
}

#[test]
fn few_students_are_told() {
    let caution = |students: usize| class(&[100, 100], &vec![vec![100, 0]; students]).statistics.caution();
    assert_eq!(caution(0).unwrap(), "No program ran, so nothing can be said about the items.");
    assert!(caution(1).unwrap().starts_with("Only one program ran"));
    assert!(
        caution(29)
            .unwrap()
            .starts_with("Only 29 programs ran. With fewer than 30 these figures are unsteady")
    );
    assert_eq!(caution(30), None);
}

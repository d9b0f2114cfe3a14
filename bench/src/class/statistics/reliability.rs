//! Cronbach's alpha: whether the items of an exercise measure one thing.
//!
//! L. J. Cronbach, "Coefficient alpha and the internal structure of tests", Psychometrika 16 (1951) 297–334: with k items,
//! k / (k − 1) · (1 − Σ variances of the items / variance of the totals). For items that are right or wrong it is formula 20
//! of G. F. Kuder and M. W. Richardson, "The theory of the estimation of test reliability", Psychometrika 2 (1937) 151–160.
//! Whether variances are divided by n or n − 1 makes no difference. It is at most 1 and may be negative.

use super::sums::{quotient, variance};

/// Alpha of items with these scores, each a list with one score a student. `None` for fewer than two items or students, or
/// if all totals are the same.
pub(super) fn alpha(items: &[&[i64]], totals: &[i64]) -> Option<f64> {
    let count = items.len() as i128;
    if count < 2 {
        return None;
    }
    let of_items: i128 = items.iter().map(|scores| variance(scores)).sum();
    let of_totals = variance(totals);
    quotient(count * (of_totals - of_items), (count - 1) * of_totals)
}

/// The standard error of measurement, in the unit of the totals: their standard deviation (of n − 1) times the square root
/// of 1 − alpha. `None` where alpha is not known or negative.
///
/// F. M. Lord and M. R. Novick, "Statistical Theories of Mental Test Scores" (1968), from memory.
pub(super) fn error_of_measurement(alpha: Option<f64>, totals: &[i64]) -> Option<f64> {
    let alpha = alpha.filter(|alpha| (0.0..=1.0).contains(alpha))?;
    let count = totals.len() as i128;
    let squared = quotient(variance(totals), count * (count - 1))?;
    Some(squared.sqrt() * (1.0 - alpha).sqrt())
}

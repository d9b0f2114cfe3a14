//! Sums of products, exact, and what comes from them by one division.
//!
//! Scores are hundredths of points, at most [`SCORE_MAX`] an item; with at most 100,000 students and 10,000 items every
//! value here stays below 10^36 and so within an `i128`.

/// Largest score on one item, in hundredths: a million points. Others are brought to it.
pub(super) const SCORE_MAX: i64 = 100_000_000;

/// n Σxy − Σx Σy: the covariance of two lists of equal length, times n².
pub(super) fn covariance(x: &[i64], y: &[i64]) -> i128 {
    let count = x.len().min(y.len()) as i128;
    let (mut products, mut sum_x, mut sum_y) = (0i128, 0i128, 0i128);
    for (x, y) in x.iter().zip(y) {
        products += i128::from(*x) * i128::from(*y);
        sum_x += i128::from(*x);
        sum_y += i128::from(*y);
    }
    count * products - sum_x * sum_y
}

/// The variance of a list, times n²; never negative.
pub(super) fn variance(x: &[i64]) -> i128 {
    covariance(x, x)
}

/// The product-moment correlation of two lists of equal length, −1 to 1. `None` if there are fewer than two pairs, or one
/// of the lists has the same value throughout.
///
/// K. Pearson, "Notes on regression and inheritance in the case of two parents", Proc. Royal Society of London 58 (1895)
/// 240–242. Where one list has two values only, it is the point-biserial correlation.
pub(super) fn correlation(x: &[i64], y: &[i64]) -> Option<f64> {
    let (of_x, of_y) = (variance(x), variance(y));
    if of_x == 0 || of_y == 0 {
        return None;
    }
    let figure = covariance(x, y) as f64 / ((of_x as f64).sqrt() * (of_y as f64).sqrt());
    // Rounding may lead past the ends by the last bit.
    Some(figure.clamp(-1.0, 1.0))
}

/// A quotient; `None` of nothing.
pub(super) fn quotient(numerator: i128, denominator: i128) -> Option<f64> {
    (denominator != 0).then(|| numerator as f64 / denominator as f64)
}

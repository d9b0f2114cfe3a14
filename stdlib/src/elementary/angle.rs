//! The angle of a point, as ATAN2 gives it.
//!
//! The quotient of the coordinates is reduced with the addition theorem of the arc tangent to at most 1/16 and kept to
//! twice the precision until the last addition; so the error stays just above half a unit in the last place.

use super::pair::{Pair, product, sum};

const PI: Pair = Pair { high: std::f64::consts::PI, low: 1.2246467991473532e-16 };
const HALF_PI: Pair = Pair { high: std::f64::consts::FRAC_PI_2, low: 6.123233995736766e-17 };

/// Arc tangents of 0, 1/8 … 1, computed with mpmath at 400 bits.
const EIGHTHS: [Pair; 9] = [
    Pair { high: 0.0, low: 0.0 },
    Pair { high: 0.12435499454676144, low: -3.1253241424539383e-18 },
    Pair { high: 0.24497866312686414, low: 1.0698755618734451e-17 },
    Pair { high: 0.35877067027057225, low: -2.4623815582638635e-17 },
    Pair { high: 0.4636476090008061, low: 2.2698777452961687e-17 },
    Pair { high: 0.5585993153435624, low: -5.4556305485916264e-18 },
    Pair { high: 0.6435011087932844, low: 1.5834785051444286e-17 },
    Pair { high: 0.7188299996216245, low: -2.1478388444456983e-17 },
    Pair { high: std::f64::consts::FRAC_PI_4, low: 3.061616997868383e-17 },
];

/// Beyond this ratio of the coordinates the series has one term.
const FAR: f64 = 18_446_744_073_709_551_616.0;

/// The angle from the positive x axis to the point, in radians, from -pi to pi. Zeros and infinities as ISO/IEC 9899
/// (C), F.10.1.4, has them.
pub(crate) fn angle(y: f64, x: f64) -> f64 {
    if y == 0.0 || x == 0.0 || !y.is_finite() || !x.is_finite() {
        return libm::atan2(y, x);
    }
    let (height, width) = (y.abs(), x.abs());
    let size = if height / width >= FAR {
        let rest = x / height;
        HALF_PI.high + (HALF_PI.low - rest)
    } else if width / height >= FAR {
        if x > 0.0 { height / width } else { PI.high + (PI.low - height / width) }
    } else {
        let mut size = if height > width {
            rest(HALF_PI, small_angle(width, height))
        } else {
            small_angle(height, width)
        };
        if x < 0.0 {
            size = rest(PI, size);
        }
        size.high + size.low
    };
    size.copysign(y)
}

/// What is left of an angle.
fn rest(whole: Pair, part: Pair) -> Pair {
    let high = sum(whole.high, -part.high);
    Pair { high: high.high, low: high.low + (whole.low - part.low) }
}

/// The arc tangent of a quotient from 2^-64 to 1 of positive numbers.
fn small_angle(numerator: f64, denominator: f64) -> Pair {
    // Both near 1: nothing below is too large or subnormal.
    let scale = -libm::ilogb(denominator);
    let (numerator, denominator) = (libm::scalbn(numerator, scale), libm::scalbn(denominator, scale));
    // At most 8, so it is an index.
    let nearest = libm::rint(8.0 * numerator / denominator);
    let eighth = EIGHTHS.get(nearest as usize).copied().unwrap_or(EIGHTHS[0]);
    let tangent = nearest / 8.0;
    // (n - t d) / (d + t n)
    let taken = product(tangent, denominator);
    let above = sum(numerator, -taken.high);
    let above = sum(above.high, above.low - taken.low);
    let added = product(tangent, numerator);
    let below = sum(denominator, added.high);
    let below = sum(below.high, below.low + added.low);
    let quotient = above.high / below.high;
    let left = libm::fma(-quotient, below.high, above.high);
    let correction = (left + above.low - quotient * below.low) / below.high;
    let turned = sum(eighth.high, quotient);
    Pair { high: turned.high, low: turned.low + (eighth.low + correction + beyond_linear(quotient)) }
}

/// The arc tangent less its argument, for arguments up to 1/16: eight terms of the series.
fn beyond_linear(argument: f64) -> f64 {
    let square = argument * argument;
    let mut series = 0.0;
    for divisor in [15.0, 13.0, 11.0, 9.0, 7.0, 5.0, 3.0] {
        series = 1.0 / divisor - square * series;
    }
    -argument * square * series
}

//! Powers, as EXPT gives them.
//!
//! `libm` takes the logarithm of a base next to 1 by a product that it holds to be exact and that is not; a large
//! exponent makes an error of hundreds of units of it. There the logarithm and the exponential are taken here, with
//! pairs of numbers until the last addition.

use super::pair::{Pair, product, sum};

/// How far from 1 a base may be, and how large the exponent must be, for `libm` to take its way for them.
const NEAR: f64 = 1.0 / 1_048_576.0;
const LARGE: f64 = 2_147_483_648.0;

/// The natural logarithm of 2: its first 40 bits, and the rest.
const LN_2: Pair = Pair { high: 0.693_147_180_559_208_2, low: 7.371_002_565_167_799e-13 };

/// A number raised to a power; special operands as ISO/IEC 9899 (C), F.10.4.4, has them.
pub(crate) fn power(base: f64, exponent: f64) -> f64 {
    // Exact next to 1.
    let beyond = base.abs() - 1.0;
    let near = beyond != 0.0 && beyond.abs() <= NEAR;
    let whole = exponent.trunc() == exponent;
    if !near || exponent.abs() < LARGE || exponent.is_infinite() || (base < 0.0 && !whole) {
        return libm::pow(base, exponent);
    }
    let odd = whole && (exponent / 2.0).trunc() != exponent / 2.0;
    let size = exponential(scaled_logarithm(beyond, exponent));
    if base < 0.0 && odd { -size } else { size }
}

/// The logarithm of `1 + beyond`, times the exponent.
fn scaled_logarithm(beyond: f64, exponent: f64) -> Pair {
    let square = product(beyond, beyond);
    let first = sum(beyond, -square.high / 2.0);
    let further = beyond * square.high * (1.0 / 3.0 - beyond * (1.0 / 4.0 - beyond / 5.0));
    let low = first.low - square.low / 2.0 + further;
    let scaled = product(exponent, first.high);
    sum(scaled.high, scaled.low + exponent * low)
}

/// e raised to a pair.
fn exponential(argument: Pair) -> f64 {
    if argument.high > 710.0 {
        return f64::INFINITY;
    }
    if argument.high < -746.0 {
        return 0.0;
    }
    // At most 1077, so that its products with the first part of the logarithm are exact.
    let twos = libm::rint(argument.high / std::f64::consts::LN_2);
    let rest = sum(argument.high - twos * LN_2.high, argument.low - twos * LN_2.low);
    let (rest, low) = (rest.high, rest.low);
    let square = product(rest, rest);
    // What follows 1 + r + r^2/2 in the series, for arguments up to 0.35.
    let mut series = 0.0;
    for divisor in [15.0, 14.0, 13.0, 12.0, 11.0, 10.0, 9.0, 8.0, 7.0, 6.0, 5.0, 4.0] {
        series = (1.0 + rest * series) / divisor;
    }
    let further = rest * square.high * ((1.0 + rest * series) / 6.0);
    let first = sum(1.0, rest);
    let second = sum(first.high, square.high / 2.0);
    let tail = first.low + second.low + (square.low / 2.0 + low + low * rest) + further;
    libm::scalbn(second.high + tail, twos as i32)
}

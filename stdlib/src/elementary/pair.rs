//! Numbers of about twice the precision: the unevaluated sum of two LREAL values.
//!
//! Source: T. J. Dekker, A floating-point technique for extending the available precision, Numerische Mathematik 18
//! (1971); the sum is that of D. E. Knuth, The Art of Computer Programming 2, 4.2.2, Theorem B.

/// `high + low`, where `low` is small beside `high`.
#[derive(Clone, Copy)]
pub(super) struct Pair {
    pub(super) high: f64,
    pub(super) low: f64,
}

/// The exact sum of two numbers.
pub(super) fn sum(a: f64, b: f64) -> Pair {
    let high = a + b;
    let of_b = high - a;
    let of_a = high - of_b;
    Pair { high, low: (a - of_a) + (b - of_b) }
}

/// The exact product of two numbers, unless it is subnormal or too large.
pub(super) fn product(a: f64, b: f64) -> Pair {
    let high = a * b;
    Pair { high, low: libm::fma(a, b, -high) }
}

//! Arithmetic, comparison and selection of reals, bit for bit against the arithmetic of Rust (IEEE 754, to nearest,
//! ties to even), in 32 and in 64 bits.
//!
//! Source of the models: IEEE 754-2019; IEC 61131-3:2013, Tables 28, 29, 32 and 33. MAX and MIN are maximumNumber and
//! minimumNumber of IEEE 754-2019, 9.6 (a choice that the rows state).

use latchwork_vm::{ElementaryType as T, EventKind};
use proptest::prelude::*;

use crate::harness::bank::{Bank, Given};

const NAMES: [&str; 12] = ["ADD", "SUB", "MUL", "DIV", "MAX", "MIN", "GT", "GE", "EQ", "LE", "LT", "NE"];

/// A type and its model.
macro_rules! width {
    ($module:ident, $ty:ident, $float:ident, $bits:ident, $nan:literal) => {
        mod $module {
            use super::*;

            fn result(value: $float) -> u64 {
                u64::from(if value.is_nan() { $nan } else { value.to_bits() })
            }

            /// A result with the event that IEEE 754 calls an exception: invalid, division by zero, overflow.
            fn arithmetic(value: $float, a: $float, b: $float, divides: bool) -> Given {
                let finite = a.is_finite() && b.is_finite();
                let event = if a.is_nan() || b.is_nan() {
                    None
                } else if divides && b == 0.0 && a.is_finite() {
                    Some(EventKind::DivisionByZero)
                } else if value.is_nan() || (value.is_infinite() && finite) {
                    Some(EventKind::Overflow)
                } else {
                    None
                };
                (result(value), event)
            }

            fn wanted(name: &str, a: $float, b: $float) -> Given {
                match name {
                    "ADD" => arithmetic(a + b, a, b, false),
                    "SUB" => arithmetic(a - b, a, b, false),
                    "MUL" => arithmetic(a * b, a, b, false),
                    "DIV" => arithmetic(a / b, a, b, true),
                    "MAX" | "MIN" if a.is_nan() => (result(b), None),
                    "MAX" | "MIN" if b.is_nan() => (result(a), None),
                    // The total order has the zeros the right way round.
                    "MAX" => (result(if a.total_cmp(&b).is_gt() { a } else { b }), None),
                    "MIN" => (result(if a.total_cmp(&b).is_gt() { b } else { a }), None),
                    "GT" => (u64::from(a > b), None),
                    "GE" => (u64::from(a >= b), None),
                    "EQ" => (u64::from(a == b), None),
                    "LE" => (u64::from(a <= b), None),
                    "LT" => (u64::from(a < b), None),
                    _ => (u64::from(a != b), None),
                }
            }

            pub(super) fn check(bank: &mut Bank, absolute: &mut Bank, a: u64, b: u64) {
                let (first, second) = ($float::from_bits(a as $bits), $float::from_bits(b as $bits));
                for (name, given) in NAMES.iter().zip(bank.run(&[a, b])) {
                    let wanted = wanted(name, first, second);
                    assert_eq!(*given, wanted, "{name}({first:e}, {second:e}): {:X} {:X}", given.0, wanted.0);
                }
                assert_eq!(absolute.run(&[a]), [(result(first.abs()), None)], "ABS({first:e})");
            }

            pub(super) fn banks() -> (Bank, Bank) {
                (Bank::new(&NAMES, &[T::$ty; 2]), Bank::new(&["ABS"], &[T::$ty]))
            }

            /// Zeros, the ends of the subnormal and the normal numbers, 1 and its neighbours, infinities, NaN.
            pub(super) fn specials() -> Vec<u64> {
                let plain = [
                    0.0,
                    $float::from_bits(1),
                    $float::MIN_POSITIVE.next_down(),
                    $float::MIN_POSITIVE,
                    $float::EPSILON,
                    0.1,
                    $float::from_bits($float::to_bits(1.0) - 1),
                    1.0,
                    1.0 + $float::EPSILON,
                    3.0,
                    $float::MAX / 2.0,
                    $float::MAX,
                    $float::INFINITY,
                    $float::NAN,
                ];
                let signed = plain.into_iter().flat_map(|value| [value, -value]);
                // A NaN with a payload, and one that signals.
                let quiet = $float::NAN.to_bits();
                let odd = [quiet | 0x1234, quiet - 1];
                signed.map(|value| u64::from(value.to_bits())).chain(odd.map(u64::from)).collect()
            }
        }
    };
}

width!(real, Real, f32, u32, 0x7FC0_0000_u32);
width!(lreal, Lreal, f64, u64, 0x7FF8_0000_0000_0000_u64);

#[test]
fn special_values_with_each_other() {
    let (mut bank, mut absolute) = real::banks();
    for a in real::specials() {
        real::specials().into_iter().for_each(|b| real::check(&mut bank, &mut absolute, a, b));
    }
    let (mut bank, mut absolute) = lreal::banks();
    for a in lreal::specials() {
        lreal::specials().into_iter().for_each(|b| lreal::check(&mut bank, &mut absolute, a, b));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4))]

    /// Any patterns, and pairs of one size, whose sums and differences round and cancel.
    #[test]
    fn any_values(pairs in proptest::collection::vec((any::<[u64; 2]>(), 0..4_u64), 400)) {
        let (mut short, mut short_absolute) = real::banks();
        let (mut long, mut long_absolute) = lreal::banks();
        for ([a, b], apart) in pairs {
            lreal::check(&mut long, &mut long_absolute, a, b);
            let near = a & !(0x7FF << 52) | ((a >> 52 & 0x7FF).saturating_sub(apart)) << 52;
            lreal::check(&mut long, &mut long_absolute, a, near ^ b >> 12 & 0x8000_0000_000F_FFFF);
            let (a, b) = (a & 0xFFFF_FFFF, b & 0xFFFF_FFFF);
            real::check(&mut short, &mut short_absolute, a, b);
            let near = a & !(0xFF << 23) | ((a >> 23 & 0xFF).saturating_sub(apart)) << 23;
            real::check(&mut short, &mut short_absolute, a, near ^ b & 0x8000_0FFF);
        }
    }
}

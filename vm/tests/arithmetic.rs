//! Every operation of every scalar against an oracle in 128-bit integers or in 64-bit floats, at the edges of the types
//! and on random operands.
//!
//! Sources: IEC 61131-3:2013 Tables 22, 28 to 33; IEEE 754 for floats (the oracle calculates REAL in 64 bits and rounds
//! once, which is exact for + - * / by Figueroa's theorem: 53 >= 2 * 24 + 2).

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{EventKind, Family, FaultKind, Machine, Scalar};
use proptest::prelude::*;
use support::{at, machine, one, put, take};

const TO: u32 = 32;
const LEFT: u32 = 48;
const RIGHT: u32 = 64;

const INTEGERS: [Scalar; 8] =
    [Scalar::I8, Scalar::I16, Scalar::I32, Scalar::I64, Scalar::U8, Scalar::U16, Scalar::U32, Scalar::U64];

fn bits_of(scalar: Scalar) -> u32 {
    scalar.size() * 8
}

fn minimum(scalar: Scalar) -> i128 {
    if scalar.is_signed() { -(1 << (bits_of(scalar) - 1)) } else { 0 }
}

fn maximum(scalar: Scalar) -> i128 {
    if scalar.is_signed() { (1 << (bits_of(scalar) - 1)) - 1 } else { (1 << bits_of(scalar)) - 1 }
}

/// The value of the low bits, as the scalar reads them.
fn wrap(value: i128, scalar: Scalar) -> i128 {
    let modulus = 1i128 << bits_of(scalar);
    let low = value.rem_euclid(modulus);
    if low > maximum(scalar) { low - modulus } else { low }
}

fn edges(scalar: Scalar) -> Vec<i128> {
    let (low, high) = (minimum(scalar), maximum(scalar));
    let mut edges = vec![low, low + 1, high, high - 1, high / 2, high / 2 + 1, 0, 1, 2, 3, 7, 10];
    if scalar.is_signed() {
        edges.extend([-1, -2, -3, -7]);
    }
    edges
}

struct Bench {
    machine: Machine,
}

impl Bench {
    fn binary(family: Family, scalar: Scalar) -> Self {
        Self { machine: machine(one(family, scalar, &[at(TO), at(LEFT), at(RIGHT)])) }
    }

    fn unary(family: Family, scalar: Scalar) -> Self {
        Self { machine: machine(one(family, scalar, &[at(TO), at(LEFT)])) }
    }

    /// Bytes of the result and the events of one run, or the fault.
    fn run(&mut self, left: u64, right: u64) -> Result<(u64, Vec<EventKind>), FaultKind> {
        self.machine.restart(latchwork_vm::Restart::Cold);
        self.machine.clear_events();
        put(&mut self.machine, TO, &0u64.to_le_bytes());
        put(&mut self.machine, LEFT, &left.to_le_bytes());
        put(&mut self.machine, RIGHT, &right.to_le_bytes());
        self.machine.scan(0).map_err(|fault| fault.kind)?;
        let events = self.machine.events().iter().map(|entry| entry.kind).collect();
        Ok((u64::from_le_bytes(take(&self.machine, TO)), events))
    }
}

fn read(bits: u64, scalar: Scalar) -> i128 {
    wrap(i128::from(bits), scalar)
}

fn check_integers(bench: &mut Bench, family: Family, scalar: Scalar, a: i128, b: i128) {
    let outcome = bench.run(a as u64, b as u64);
    let exact = match family {
        Family::Add => Some(a + b),
        Family::Subtract => Some(a - b),
        // Two numbers of 64 bits without sign can exceed 127 bits; the low ones stay right.
        Family::Multiply => Some(a.wrapping_mul(b)),
        Family::Divide if b == 0 => {
            assert_eq!(outcome, Err(FaultKind::DivisionByZero));
            return;
        }
        Family::Divide => Some(a / b),
        Family::Modulo if b == 0 => None,
        Family::Modulo => Some(a % b),
        Family::Minimum => Some(a.min(b)),
        Family::Maximum => Some(a.max(b)),
        _ => unreachable!(),
    };
    let (bits, events) = outcome.unwrap();
    let expected = exact.unwrap_or(0);
    assert_eq!(read(bits, scalar), wrap(expected, scalar), "{family:?} {scalar:?} {a} {b}");
    let expected_event = match exact {
        None => vec![EventKind::ModuloByZero],
        Some(_) if family == Family::Multiply && a.checked_mul(b).is_none() => vec![EventKind::Overflow],
        Some(value) if wrap(value, scalar) != value => vec![EventKind::Overflow],
        Some(_) => vec![],
    };
    assert_eq!(events, expected_event, "{family:?} {scalar:?} {a} {b}");
}

const INTEGER_FAMILIES: [Family; 7] = [
    Family::Add,
    Family::Subtract,
    Family::Multiply,
    Family::Divide,
    Family::Modulo,
    Family::Minimum,
    Family::Maximum,
];

#[test]
fn integers_at_their_edges() {
    for family in INTEGER_FAMILIES {
        for scalar in INTEGERS {
            let mut bench = Bench::binary(family, scalar);
            for a in edges(scalar) {
                for b in edges(scalar) {
                    check_integers(&mut bench, family, scalar, a, b);
                }
            }
        }
    }
}

#[test]
fn signs_at_their_edges() {
    for scalar in INTEGERS.into_iter().filter(|scalar| scalar.is_signed()) {
        for (family, oracle) in
            [(Family::Negate, (|a: i128| -a) as fn(i128) -> i128), (Family::Absolute, |a: i128| a.abs())]
        {
            let mut bench = Bench::unary(family, scalar);
            for a in edges(scalar) {
                let (bits, events) = bench.run(a as u64, 0).unwrap();
                assert_eq!(read(bits, scalar), wrap(oracle(a), scalar), "{family:?} {scalar:?} {a}");
                assert_eq!(events.is_empty(), wrap(oracle(a), scalar) == oracle(a));
            }
        }
    }
}

#[test]
fn comparisons_of_integers() {
    for scalar in INTEGERS {
        let mut less = Bench::binary(Family::Less, scalar);
        let mut at_most = Bench::binary(Family::LessOrEqual, scalar);
        for a in edges(scalar) {
            for b in edges(scalar) {
                assert_eq!(less.run(a as u64, b as u64).unwrap().0, u64::from(a < b));
                assert_eq!(at_most.run(a as u64, b as u64).unwrap().0, u64::from(a <= b));
                if scalar == scalar.bits() {
                    let equal = Bench::binary(Family::Equal, scalar).run(a as u64, b as u64).unwrap().0;
                    let differ = Bench::binary(Family::NotEqual, scalar).run(a as u64, b as u64).unwrap().0;
                    assert_eq!((equal, differ), (u64::from(a == b), u64::from(a != b)));
                }
            }
        }
    }
}

#[test]
fn bits_and_shifts() {
    let widths = [Scalar::U8, Scalar::U16, Scalar::U32, Scalar::U64];
    let patterns = [0u64, 1, 0x80, 0xa5, 0xffff, 0x8001, 0x1234_5678_9abc_def0, u64::MAX];
    let counts =
        [i64::MIN, -1, 0, 1, 3, 7, 8, 9, 15, 16, 31, 32, 33, 63, 64, 65, 1 << 32, (1 << 32) + 1, i64::MAX];
    for scalar in widths {
        let width = i64::from(bits_of(scalar));
        let mask = u64::MAX >> (64 - width);
        for pattern in patterns {
            for other in patterns {
                let run = |family| Bench::binary(family, scalar).run(pattern, other).unwrap().0;
                assert_eq!(run(Family::And), pattern & other & mask);
                assert_eq!(run(Family::Or), (pattern | other) & mask);
                assert_eq!(run(Family::Xor), (pattern ^ other) & mask);
            }
            assert_eq!(Bench::unary(Family::Complement, scalar).run(pattern, 0).unwrap().0, !pattern & mask);
            for count in counts {
                let run = |family| Bench::binary(family, scalar).run(pattern, count as u64).unwrap().0;
                let value = pattern & mask;
                // One place at a time, as the standard describes shifting.
                let repeat = |step: fn(u64, i64) -> u64, times: i64| {
                    (0..times).fold(value, |value, _| step(value, width) & mask)
                };
                let shifts = count.clamp(0, width);
                let turns = count.max(0) % width;
                assert_eq!(
                    run(Family::ShiftLeft),
                    repeat(|value, _| value << 1, shifts),
                    "{scalar:?} {count}"
                );
                assert_eq!(
                    run(Family::ShiftRight),
                    repeat(|value, _| value >> 1, shifts),
                    "{scalar:?} {count}"
                );
                assert_eq!(
                    run(Family::RotateLeft),
                    repeat(|value, width| value << 1 | value >> (width - 1), turns),
                    "{scalar:?} {count}"
                );
                assert_eq!(
                    run(Family::RotateRight),
                    repeat(|value, width| value >> 1 | (value & 1) << (width - 1), turns),
                    "{scalar:?} {count}"
                );
            }
        }
    }
}

#[test]
fn booleans() {
    for (a, b) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
        let run = |family| Bench::binary(family, Scalar::U8).run(a, b).unwrap().0;
        assert_eq!(run(Family::AndNot), a & (1 - b));
        assert_eq!(run(Family::OrNot), a | (1 - b));
        assert_eq!(run(Family::BoolAnd), a & b);
        assert_eq!(run(Family::BoolOr), a | b);
        assert_eq!(run(Family::BoolXor), u64::from(a != b));
        assert_eq!(run(Family::BoolEqual), u64::from(a == b));
        assert_eq!(Bench::unary(Family::Not, Scalar::U8).run(a, 0).unwrap().0, 1 - a);
    }
}

#[test]
fn select_takes_the_third_operand_where_true() {
    for scalar in [Scalar::U8, Scalar::U16, Scalar::U32, Scalar::U64] {
        let mut machine = machine(one(Family::Select, scalar, &[at(TO), at(80), at(LEFT), at(RIGHT)]));
        put(&mut machine, LEFT, &[0x11; 8]);
        put(&mut machine, RIGHT, &[0x22; 8]);
        machine.scan(0).unwrap();
        let mut expected = [0u8; 8];
        expected[..scalar.size() as usize].fill(0x11);
        assert_eq!(take(&machine, TO), expected);
        put(&mut machine, 80, &[1]);
        machine.scan(0).unwrap();
        expected[..scalar.size() as usize].fill(0x22);
        assert_eq!(take(&machine, TO), expected);
    }
}

const CONVERSIONS: [(Family, Scalar); 8] = [
    (Family::ToI8, Scalar::I8),
    (Family::ToI16, Scalar::I16),
    (Family::ToI32, Scalar::I32),
    (Family::ToI64, Scalar::I64),
    (Family::ToU8, Scalar::U8),
    (Family::ToU16, Scalar::U16),
    (Family::ToU32, Scalar::U32),
    (Family::ToU64, Scalar::U64),
];

const TRUNCATIONS: [(Family, Scalar); 8] = [
    (Family::TruncateI8, Scalar::I8),
    (Family::TruncateI16, Scalar::I16),
    (Family::TruncateI32, Scalar::I32),
    (Family::TruncateI64, Scalar::I64),
    (Family::TruncateU8, Scalar::U8),
    (Family::TruncateU16, Scalar::U16),
    (Family::TruncateU32, Scalar::U32),
    (Family::TruncateU64, Scalar::U64),
];

fn conversion_event(changed: bool) -> Vec<EventKind> {
    if changed { vec![EventKind::Conversion] } else { vec![] }
}

#[test]
fn integers_to_integers_keep_the_low_bits() {
    for (family, target) in CONVERSIONS {
        for source in INTEGERS {
            let mut bench = Bench::unary(family, source);
            for value in edges(source) {
                let (bits, events) = bench.run(value as u64, 0).unwrap();
                assert_eq!(read(bits, target), wrap(value, target), "{source:?} {value} to {target:?}");
                assert_eq!(events, conversion_event(wrap(value, target) != value));
            }
        }
    }
}

/// The nearest integer, ties to even, of a float below 2^100, found without the float's own rounding functions.
fn nearest_even(value: f64) -> i128 {
    let floor = floor_of(value);
    let fraction = value - floor as f64;
    if fraction > 0.5 || (fraction == 0.5 && floor % 2 != 0) { floor + 1 } else { floor }
}

fn floor_of(value: f64) -> i128 {
    let towards_zero = value as i128;
    if (towards_zero as f64) > value { towards_zero - 1 } else { towards_zero }
}

const FLOATS: [f64; 40] = [
    0.0,
    -0.0,
    0.4,
    0.5,
    0.6,
    -0.5,
    -0.6,
    -0.999,
    1.4,
    1.5,
    2.5,
    -1.5,
    -2.5,
    126.5,
    127.0,
    127.4,
    127.5,
    -128.0,
    -128.5,
    -128.6,
    -129.0,
    255.4,
    255.5,
    256.0,
    32_767.5,
    -32_768.5,
    65_535.5,
    2_147_483_647.0,
    2_147_483_647.5,
    -2_147_483_648.5,
    -2_147_483_649.0,
    4_294_967_295.5,
    9_223_372_036_854_775_807.0,
    -9_223_372_036_854_775_808.0,
    -9_223_372_036_854_777_856.0,
    18_446_744_073_709_551_615.0,
    1.0e30,
    -1.0e30,
    f64::INFINITY,
    f64::NEG_INFINITY,
];

fn check_float_to_integer(
    value: f64,
    target: Scalar,
    exact: fn(f64) -> i128,
    outcome: (u64, Vec<EventKind>),
) {
    let (low, high) = (minimum(target), maximum(target));
    let (expected, changed) = if value.is_nan() {
        (0, true)
    } else if value.abs() > 1.0e25 {
        (if value > 0.0 { high } else { low }, true)
    } else {
        let integer = exact(value);
        (integer.clamp(low, high), integer < low || integer > high)
    };
    assert_eq!(read(outcome.0, target), expected, "{value} to {target:?}");
    assert_eq!(outcome.1, conversion_event(changed), "{value} to {target:?}");
}

#[test]
fn floats_to_integers_round_or_truncate_and_saturate() {
    for (families, exact) in
        [(CONVERSIONS, nearest_even as fn(f64) -> i128), (TRUNCATIONS, |value: f64| value as i128)]
    {
        for (family, target) in families {
            let mut double = Bench::unary(family, Scalar::F64);
            let mut single = Bench::unary(family, Scalar::F32);
            for value in FLOATS.into_iter().chain([f64::NAN]) {
                check_float_to_integer(value, target, exact, double.run(value.to_bits(), 0).unwrap());
                let narrow = value as f32;
                let outcome = single.run(u64::from(narrow.to_bits()), 0).unwrap();
                check_float_to_integer(f64::from(narrow), target, exact, outcome);
            }
        }
    }
}

#[test]
fn conversions_to_floats() {
    // 16777217 = 2^24 + 1 lies between two binary32 numbers and goes to the even one.
    let (bits, events) = Bench::unary(Family::ToF32, Scalar::I32).run(16_777_217, 0).unwrap();
    assert_eq!((f32::from_bits(bits as u32), events), (16_777_216.0, vec![]));
    let (bits, _) = Bench::unary(Family::ToF32, Scalar::I32).run(16_777_219, 0).unwrap();
    assert_eq!(f32::from_bits(bits as u32), 16_777_220.0);
    // 2^64 - 1 rounds up to 2^64 in binary64.
    let (bits, _) = Bench::unary(Family::ToF64, Scalar::U64).run(u64::MAX, 0).unwrap();
    assert_eq!(f64::from_bits(bits), 18_446_744_073_709_551_616.0);
    let (bits, _) = Bench::unary(Family::ToF64, Scalar::I8).run(0x80, 0).unwrap();
    assert_eq!(f64::from_bits(bits), -128.0);
    // 1.0E39 is above the largest binary32 number.
    let (bits, events) = Bench::unary(Family::ToF32, Scalar::F64).run(1.0e39f64.to_bits(), 0).unwrap();
    assert_eq!((f32::from_bits(bits as u32), events), (f32::INFINITY, vec![EventKind::Conversion]));
    let (bits, events) = Bench::unary(Family::ToF32, Scalar::F64).run(f64::INFINITY.to_bits(), 0).unwrap();
    assert_eq!((f32::from_bits(bits as u32), events), (f32::INFINITY, vec![]));
    let (bits, _) = Bench::unary(Family::ToF64, Scalar::F32).run(0xffc1_2345, 0).unwrap();
    assert_eq!(bits, 0x7ff8_0000_0000_0000, "NaN becomes the canonical one");
}

const FLOAT_FAMILIES: [Family; 6] =
    [Family::Add, Family::Subtract, Family::Multiply, Family::Divide, Family::Minimum, Family::Maximum];

fn float_oracle(family: Family, a: f64, b: f64) -> f64 {
    let of_both = |pick: fn(f64, f64) -> bool| match (a.is_nan(), b.is_nan()) {
        (true, _) => b,
        (false, true) => a,
        // Zeros are ordered by their signs.
        _ if a == b => {
            if pick(1.0f64.copysign(a), 1.0f64.copysign(b)) {
                a
            } else {
                b
            }
        }
        _ => {
            if pick(a, b) {
                a
            } else {
                b
            }
        }
    };
    match family {
        Family::Add => a + b,
        Family::Subtract => a - b,
        Family::Multiply => a * b,
        Family::Divide => a / b,
        Family::Minimum => of_both(|a, b| a < b),
        Family::Maximum => of_both(|a, b| a > b),
        _ => unreachable!(),
    }
}

fn check_floats(family: Family, a: f64, b: f64) {
    let arithmetic = !matches!(family, Family::Minimum | Family::Maximum);
    // IEEE 754: an invalid operation makes a NaN of numbers, an overflow an infinity of finite ones.
    let events = |result: f64, a: f64, b: f64| {
        let invalid = result.is_nan() && !a.is_nan() && !b.is_nan();
        let unbounded = result.is_infinite() && a.is_finite() && b.is_finite();
        let divisor_zero = b == 0.0;
        if !arithmetic || !(invalid || unbounded) {
            vec![]
        } else if family == Family::Divide && divisor_zero {
            vec![EventKind::DivisionByZero]
        } else {
            vec![EventKind::Overflow]
        }
    };
    let expected = float_oracle(family, a, b);
    let (bits, found) = Bench::binary(family, Scalar::F64).run(a.to_bits(), b.to_bits()).unwrap();
    let expected_bits = if expected.is_nan() { 0x7ff8_0000_0000_0000 } else { expected.to_bits() };
    assert_eq!(bits, expected_bits, "{family:?} {a} {b}");
    assert_eq!(found, events(expected, a, b), "{family:?} {a} {b}");

    let (a, b) = (a as f32, b as f32);
    let expected = float_oracle(family, f64::from(a), f64::from(b)) as f32;
    let (bits, found) =
        Bench::binary(family, Scalar::F32).run(u64::from(a.to_bits()), u64::from(b.to_bits())).unwrap();
    let expected_bits = if expected.is_nan() { 0x7fc0_0000 } else { expected.to_bits() };
    assert_eq!(bits as u32, expected_bits, "{family:?} {a} {b}");
    assert_eq!(found, events(f64::from(expected), f64::from(a), f64::from(b)), "{family:?} {a} {b}");
}

#[test]
fn floats_at_their_edges() {
    let edges = [
        0.0,
        -0.0,
        1.0,
        -1.0,
        0.1,
        3.0,
        f64::MIN_POSITIVE,
        5.0e-324,
        1.0e-45,
        f64::MAX,
        f64::MIN,
        3.4e38,
        1.0e20,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::NAN,
    ];
    for family in FLOAT_FAMILIES {
        for a in edges {
            for b in edges {
                check_floats(family, a, b);
            }
        }
    }
}

#[test]
fn comparisons_of_floats_follow_ieee_754() {
    for (a, b) in
        [(1.0, 2.0), (2.0, 1.0), (0.0, -0.0), (f64::NAN, 1.0), (1.0, f64::NAN), (f64::NAN, f64::NAN)]
    {
        let run = |family| Bench::binary(family, Scalar::F64).run(a.to_bits(), b.to_bits()).unwrap().0 == 1;
        let narrow = |family| {
            let (a, b) = ((a as f32).to_bits(), (b as f32).to_bits());
            Bench::binary(family, Scalar::F32).run(u64::from(a), u64::from(b)).unwrap().0 == 1
        };
        for run in [&run as &dyn Fn(Family) -> bool, &narrow] {
            assert_eq!(run(Family::Less), a < b);
            assert_eq!(run(Family::LessOrEqual), a <= b);
            assert_eq!(run(Family::Equal), a == b);
            assert_eq!(run(Family::NotEqual), a != b);
        }
    }
}

#[test]
fn signs_of_floats() {
    let run = |family, value: f64| Bench::unary(family, Scalar::F64).run(value.to_bits(), 0).unwrap();
    assert_eq!(run(Family::Absolute, -0.0), (0.0f64.to_bits(), vec![]));
    assert_eq!(run(Family::Absolute, f64::NEG_INFINITY), (f64::INFINITY.to_bits(), vec![]));
    assert_eq!(run(Family::Negate, 0.0), ((-0.0f64).to_bits(), vec![]));
    assert_eq!(run(Family::Negate, f64::NAN), (0x7ff8_0000_0000_0000, vec![]));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: if cfg!(miri) { 4 } else { 2000 }, ..ProptestConfig::default() })]

    #[test]
    fn random_integers(family in 0..7usize, scalar in 0..8usize, a: i64, b: i64, shift in 0..60u32) {
        let (family, scalar) = (INTEGER_FAMILIES[family], INTEGERS[scalar]);
        let (a, b) = (wrap(i128::from(a), scalar), wrap(i128::from(b >> shift), scalar));
        check_integers(&mut Bench::binary(family, scalar), family, scalar, a, b);
    }

    #[test]
    fn random_floats(family in 0..6usize, a: f64, b: f64, near in -40..40i32) {
        let b = if near < 0 { b } else { a * f64::from(near) };
        check_floats(FLOAT_FAMILIES[family], a, b);
    }

    #[test]
    fn random_conversions(pair in 0..8usize, a: i64, scale in 0..62u32, half in 0..4u32) {
        let value = (a >> scale) as f64 + f64::from(half) * 0.5;
        let (family, target) = CONVERSIONS[pair];
        let outcome = Bench::unary(family, Scalar::F64).run(value.to_bits(), 0).unwrap();
        check_float_to_integer(value, target, nearest_even, outcome);
        let (family, target) = TRUNCATIONS[pair];
        let outcome = Bench::unary(family, Scalar::F64).run(value.to_bits(), 0).unwrap();
        check_float_to_integer(value, target, |value| value as i128, outcome);
    }
}

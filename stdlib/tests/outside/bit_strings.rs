//! Shifts, rotations and bitwise functions against rows of single bits.
//!
//! Source of the models: IEC 61131-3:2013, Tables 30 and 31. A count of the width or more and a negative count are
//! choices that the rows state.

use latchwork_vm::{ElementaryType as T, EventKind};
use proptest::prelude::*;

use crate::harness::bank::{Bank, Given};

const SHIFTS: [&str; 4] = ["SHL", "SHR", "ROL", "ROR"];
const WIDTHS: [(T, usize); 5] = [(T::Bool, 1), (T::Byte, 8), (T::Word, 16), (T::Dword, 32), (T::Lword, 64)];

/// The bits of a value, the rightmost first.
fn row(value: u64, width: usize) -> Vec<bool> {
    (0..width).map(|at| value >> at & 1 == 1).collect()
}

fn value(row: &[bool]) -> u64 {
    row.iter().rev().fold(0, |value, bit| value << 1 | u64::from(*bit))
}

/// The model: one place at a time.
fn shifted(name: &str, bits: u64, width: usize, count: i128) -> Given {
    if count < 0 {
        return (bits, Some(EventKind::Domain));
    }
    let mut row = row(bits, width);
    let rotates = name.starts_with("RO");
    // After as many places as there are bits, nothing new happens.
    let steps = if rotates { count % width as i128 } else { count.min(width as i128) };
    for _ in 0..steps {
        if name.ends_with('L') {
            let out = row.pop().expect("a bit");
            row.insert(0, rotates && out);
        } else {
            let out = row.remove(0);
            row.push(rotates && out);
        }
    }
    (value(&row), None)
}

fn check(bank: &mut Bank, width: usize, bits: u64, count: i128) {
    let given = bank.run(&[bits, count as u64]);
    for (name, given) in SHIFTS.iter().zip(given) {
        assert_eq!(
            *given,
            shifted(name, bits, width, count),
            "{name} of 16#{bits:X} ({width} bits) by {count}"
        );
    }
}

#[test]
fn every_byte_by_every_count() {
    for (ty, width) in [(T::Bool, 1), (T::Byte, 8)] {
        for count_type in [T::Sint, T::Int, T::Dint, T::Lint, T::Usint, T::Uint, T::Udint, T::Ulint] {
            let mut bank = Bank::new(&SHIFTS, &[ty, count_type]);
            let first = if count_type.is_signed() { -3 } else { 0 };
            for bits in 0..1 << width {
                (first..=20).for_each(|count| check(&mut bank, width, bits, count));
            }
        }
    }
}

#[test]
fn every_byte_with_every_byte() {
    let names = ["AND", "OR", "XOR"];
    let mut bank = Bank::new(&names, &[T::Byte, T::Byte]);
    for a in 0..=0xFF {
        for b in 0..=0xFF {
            let pairs: Vec<(bool, bool)> = row(a, 8).into_iter().zip(row(b, 8)).collect();
            let each = |join: fn(bool, bool) -> bool| {
                value(&pairs.iter().map(|(a, b)| join(*a, *b)).collect::<Vec<_>>())
            };
            let wanted = [each(|a, b| a && b), each(|a, b| a || b), each(|a, b| a != b)];
            let given = bank.run(&[a, b]).iter().map(|given| given.0).collect::<Vec<_>>();
            assert_eq!(given, wanted, "16#{a:X} and 16#{b:X}");
        }
        let mut not = Bank::new(&["NOT"], &[T::Byte]);
        assert_eq!(not.run(&[a])[0], (255 - a, None));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn wide_shifts(
        values in proptest::collection::vec(any::<u64>(), 20),
        counts in proptest::collection::vec(prop_oneof![
            4 => -2..70_i128,
            1 => any::<i64>().prop_map(i128::from),
            1 => any::<u64>().prop_map(i128::from),
        ], 20),
    ) {
        for (ty, width) in WIDTHS {
            let mut signed = Bank::new(&SHIFTS, &[ty, T::Lint]);
            let mut unsigned = Bank::new(&SHIFTS, &[ty, T::Ulint]);
            for (bits, count) in values.iter().zip(&counts) {
                let bits = bits & (u64::MAX >> (64 - width));
                if i64::try_from(*count).is_ok() {
                    check(&mut signed, width, bits, *count);
                }
                if *count >= 0 {
                    check(&mut unsigned, width, bits, *count);
                }
            }
        }
    }

    /// XOR of any number of operands tells whether an odd number of them is TRUE.
    #[test]
    fn exclusive_or_is_parity(bits in proptest::collection::vec(any::<bool>(), 2..12)) {
        let mut bank = Bank::new(&["XOR", "OR", "AND"], &vec![T::Bool; bits.len()]);
        let operands: Vec<u64> = bits.iter().map(|bit| u64::from(*bit)).collect();
        let ones = bits.iter().filter(|bit| **bit).count();
        let wanted = [ones % 2 == 1, ones > 0, ones == bits.len()].map(|bit| (u64::from(bit), None));
        prop_assert_eq!(bank.run(&operands), wanted);
    }
}

//! Conversions of numbers and bit strings: all values of every type of 8 and 16 bits, many of the wider ones.
//!
//! Source of the models: IEC 61131-3:2013, Tables 22 to 27, and IEC 60559 for reals. The values where a number does not
//! fit (low bits of an integer, the nearest limit for a real, 0 for NaN) are choices that the rows of the function
//! table state.

#![allow(clippy::disallowed_methods, reason = "powers of two of the platform are exact")]

use std::collections::BTreeSet;

use latchwork_stdlib::function;
use latchwork_vm::{ElementaryType as T, EventKind};
use proptest::prelude::*;

use crate::harness::bank::{Bank, Given};

/// What the model knows of a type.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Class {
    Bit,
    Bits,
    Signed,
    Unsigned,
    Real,
    Character,
}

use Class::{Bit, Bits, Character, Real, Signed, Unsigned};

/// The types of the model.
const TYPES: [T; 17] = [
    T::Bool,
    T::Byte,
    T::Word,
    T::Dword,
    T::Lword,
    T::Sint,
    T::Int,
    T::Dint,
    T::Lint,
    T::Usint,
    T::Uint,
    T::Udint,
    T::Ulint,
    T::Real,
    T::Lreal,
    T::Char,
    T::Wchar,
];

/// What the model knows of a type: its class and its number of bits.
fn of(ty: T) -> (Class, u32) {
    match ty {
        T::Bool => (Bit, 1),
        T::Byte => (Bits, 8),
        T::Word => (Bits, 16),
        T::Dword => (Bits, 32),
        T::Lword => (Bits, 64),
        T::Sint => (Signed, 8),
        T::Int => (Signed, 16),
        T::Dint => (Signed, 32),
        T::Lint => (Signed, 64),
        T::Usint => (Unsigned, 8),
        T::Uint => (Unsigned, 16),
        T::Udint => (Unsigned, 32),
        T::Ulint => (Unsigned, 64),
        T::Real => (Real, 32),
        T::Lreal => (Real, 64),
        T::Char => (Character, 8),
        T::Wchar => (Character, 16),
        _ => panic!("{} is no type of the model", ty.name()),
    }
}

/// Whether the tables have a conversion between two different types.
fn offered(from: T, to: T) -> bool {
    let ((source, source_width), (target, target_width)) = (of(from), of(to));
    match (source, target) {
        (Bits, Real) | (Real, Bits) => source_width == target_width,
        (Real, Bit) | (Character, Bit) | (Bit, Character) => false,
        // Table 27: CHAR and every bit string, WCHAR and those from WORD on.
        (Bits, Character) => to == T::Char || source_width >= 16,
        (Character, Bits) => from == T::Char || target_width >= 16,
        (Character, Signed | Unsigned | Real) | (Signed | Unsigned | Real, Character) => false,
        _ => true,
    }
}

fn low(value: i128, width: u32) -> u64 {
    (value as u64) & (u64::MAX >> (64 - width))
}

/// The number that the bits of an integer stand for.
fn number(ty: T, bits: u64) -> i128 {
    match ty {
        T::Sint => i128::from(bits as i8),
        T::Int => i128::from(bits as i16),
        T::Dint => i128::from(bits as i32),
        T::Lint => i128::from(bits as i64),
        _ => i128::from(bits),
    }
}

/// The model: bits and event of a conversion.
fn wanted(from: T, to: T, bits: u64, truncate: bool) -> Given {
    const CHANGED: Option<EventKind> = Some(EventKind::Conversion);
    let ((source, _), (target, width)) = (of(from), of(to));
    if from == to {
        return (bits, None);
    }
    match (source, target) {
        (Signed | Unsigned, Signed | Unsigned) => {
            let exact = number(from, bits);
            let kept = low(exact, width);
            (kept, if number(to, kept) == exact { None } else { CHANGED })
        }
        (Bit | Signed | Unsigned, Real) if to == T::Real => {
            (u64::from((number(from, bits) as f32).to_bits()), None)
        }
        (Bit | Signed | Unsigned, Real) => ((number(from, bits) as f64).to_bits(), None),
        (Real, Signed | Unsigned) => {
            let value = real(from, bits);
            let whole = if truncate { value.trunc() } else { value.round_ties_even() };
            let kept = match to {
                T::Sint => i128::from(whole as i8),
                T::Int => i128::from(whole as i16),
                T::Dint => i128::from(whole as i32),
                T::Lint => i128::from(whole as i64),
                T::Usint => i128::from(whole as u8),
                T::Uint => i128::from(whole as u16),
                T::Udint => i128::from(whole as u32),
                _ => i128::from(whole as u64),
            };
            let same = !value.is_nan() && whole as i128 == kept;
            (low(kept, width), if same { None } else { CHANGED })
        }
        (Real, Real) if to == T::Lreal => (real(from, bits).to_bits(), None),
        (Real, Real) => {
            let value = f64::from_bits(bits);
            let nearest = value as f32;
            let changed = nearest.is_infinite() && value.is_finite();
            (u64::from(nearest.to_bits()), if changed { CHANGED } else { None })
        }
        (Character, Character) if to == T::Char && bits > 0xFF => (u64::from(b'?'), CHANGED),
        // Bit strings, characters, the bits of a real: the rightmost bits, filled with zeros.
        _ => (low(i128::from(bits), width), None),
    }
}

fn real(ty: T, bits: u64) -> f64 {
    if ty == T::Real { f64::from(f32::from_bits(bits as u32)) } else { f64::from_bits(bits) }
}

/// The one NaN that every operation on a NaN gives.
fn one_nan(to: T, given: u64) -> bool {
    given == if to == T::Real { 0x7FC0_0000 } else { 0x7FF8_0000_0000_0000 }
}

/// All conversions from a type by all their names, on one machine.
struct Conversions {
    from: T,
    targets: Vec<(String, T, bool)>,
    bank: Bank,
}

impl Conversions {
    fn new(from: T) -> Self {
        Self::named(from, true)
    }

    /// With the typed names only: the overloaded ones are the same conversions, and half the time.
    fn typed(from: T) -> Self {
        Self::named(from, false)
    }

    fn named(from: T, overloaded: bool) -> Self {
        let mut targets = Vec::new();
        for to in TYPES {
            if from == to || offered(from, to) {
                targets.push((format!("{}_TO_{}", from.name(), to.name()), to, false));
                if overloaded {
                    targets.push((format!("TO_{}", to.name()), to, false));
                }
            }
            if of(from).0 == Real && matches!(of(to).0, Signed | Unsigned) {
                targets.push((format!("{}_TRUNC_{}", from.name(), to.name()), to, true));
                if overloaded {
                    targets.push((format!("TRUNC_{}", to.name()), to, true));
                }
            }
        }
        let names: Vec<&str> = targets.iter().map(|(name, ..)| name.as_str()).collect();
        let bank = Bank::new(&names, &[from]);
        Self { from, targets, bank }
    }

    /// Converts a value to all types and compares.
    fn check(&mut self, bits: u64) {
        let results = self.bank.run(&[bits]);
        for ((name, to, truncate), given) in self.targets.iter().zip(results) {
            let wanted = wanted(self.from, *to, bits, *truncate);
            let nan = of(self.from).0 == Real && of(*to).0 == Real && real(self.from, bits).is_nan();
            let right = if nan && self.from != *to {
                one_nan(*to, given.0) && given.1 == wanted.1
            } else {
                *given == wanted
            };
            assert!(right, "{name} of 16#{bits:X}: {given:X?} instead of {wanted:X?}");
        }
    }
}

/// The functions that exist are those of the tables: no more and no fewer, by either name.
#[test]
fn the_conversions_of_the_tables_exist() {
    for from in TYPES {
        for to in TYPES {
            let ((source, _), (target, _)) = (of(from), of(to));
            let name = format!("{}_TO_{}", from.name(), to.name());
            assert_eq!(function(&name).is_some(), from == to || offered(from, to), "{name}");
            let name = format!("{}_TRUNC_{}", from.name(), to.name());
            assert_eq!(
                function(&name).is_some(),
                source == Real && matches!(target, Signed | Unsigned),
                "{name}"
            );
        }
    }
}

#[test]
fn every_value_of_8_bits() {
    let mut conversions = Conversions::new(T::Bool);
    conversions.check(0);
    conversions.check(1);
    for from in [T::Byte, T::Sint, T::Usint, T::Char] {
        let mut conversions = Conversions::new(from);
        (0..=0xFF).for_each(|bits| conversions.check(bits));
    }
}

#[test]
fn every_value_of_16_bits() {
    for from in [T::Word, T::Int, T::Uint, T::Wchar] {
        let mut conversions = Conversions::typed(from);
        (0..=0xFFFF).for_each(|bits| conversions.check(bits));
    }
}

/// Reals where something changes: around 0, the integers and halves, the limits of the integer types, the ends of the
/// ranges, NaN with different payloads.
fn corners(ty: T) -> BTreeSet<u64> {
    let mut corners = BTreeSet::new();
    let mut around = |value: f64| {
        let middle = if ty == T::Real { u64::from((value as f32).to_bits()) } else { value.to_bits() };
        corners.extend(
            (middle.saturating_sub(3)..=middle.saturating_add(3))
                .filter(|bits| low(i128::from(*bits), of(ty).1) == *bits),
        );
    };
    for sign in [1.0, -1.0] {
        for power in [0, 7, 8, 15, 16, 23, 24, 31, 32, 52, 53, 63, 64, 127] {
            for offset in [-1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5] {
                around(sign * (2.0_f64.powi(power) + offset));
            }
        }
        for half in 0..40 {
            around(sign * f64::from(half) / 2.0);
        }
        for value in [
            f64::MIN_POSITIVE,
            f64::MAX,
            f64::INFINITY,
            f64::from(f32::MIN_POSITIVE),
            f64::from(f32::MAX),
            // Halfway between the greatest REAL and the next power of two: rounds to infinity.
            3.402_823_567_797_336_6e38,
            // Half the least REAL: rounds to zero.
            7.006_492_321_624_085e-46,
        ] {
            around(sign * value);
        }
    }
    corners
}

#[test]
fn reals_at_the_corners() {
    for from in [T::Real, T::Lreal] {
        let mut conversions = Conversions::new(from);
        corners(from).into_iter().for_each(|bits| conversions.check(bits));
    }
}

/// REAL values from one end of the patterns to the other.
#[test]
fn reals_of_every_exponent() {
    let mut conversions = Conversions::typed(T::Real);
    (0..=u64::from(u32::MAX)).step_by(100_003).for_each(|bits| conversions.check(bits));
}

/// Integers at the limits of every type and next to them.
#[test]
fn wide_integers_at_the_limits() {
    for from in TYPES.into_iter().filter(|ty| of(*ty).0 != Real && of(*ty).1 >= 32) {
        let width = of(from).1;
        let mut conversions = Conversions::new(from);
        for power in [0, 7, 8, 15, 16, 23, 24, 25, 31, 32, 53, 54, 55, 63, 64] {
            for offset in -3..=3 {
                conversions.check(low((1_i128 << power) + offset, width));
                conversions.check(low(-(1_i128 << power) + offset, width));
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4))]

    #[test]
    fn wide_values(values in proptest::collection::vec((any::<u64>(), 0..64_u32), 100)) {
        for from in TYPES.into_iter().filter(|ty| of(*ty).1 >= 32) {
            let width = of(from).1;
            let mut conversions = Conversions::new(from);
            for (value, shift) in &values {
                // Shifted, so that small numbers come up too; of both signs.
                conversions.check(low(i128::from(value >> shift), width));
                conversions.check(low(i128::from((*value as i64) >> shift), width));
                // A real whose integer part has any number of digits.
                if from == T::Lreal {
                    conversions.check(((*value as i64) as f64 / 2.0_f64.powi(*shift as i32)).to_bits());
                }
                if from == T::Real {
                    conversions.check(u64::from(((*value as i64) as f32 / 2.0_f32.powi(*shift as i32)).to_bits()));
                }
            }
        }
    }
}

//! Binary coded decimal numbers against decimal text: the digits of a BCD number are the digits that it shows in base
//! 16.
//!
//! Source of the models: IEC 61131-3:2013, Table 22, 3 and 4, and Table 39 for IS_VALID_BCD. Values in error are
//! choices that the rows state.

use latchwork_vm::{ElementaryType as T, EventKind};
use proptest::prelude::*;

use crate::harness::bank::{Bank, Given};

const STRINGS: [(T, u32); 4] = [(T::Byte, 8), (T::Word, 16), (T::Dword, 32), (T::Lword, 64)];
const NUMBERS: [(T, u32); 4] = [(T::Usint, 8), (T::Uint, 16), (T::Udint, 32), (T::Ulint, 64)];

fn low(bits: u64, width: u32) -> u64 {
    bits & (u64::MAX >> (64 - width))
}

/// The number that a text in base 16 shows as a decimal number.
fn number(bits: u64, width: u32) -> Given {
    match format!("{bits:X}").parse::<u64>() {
        Err(_) => (0, Some(EventKind::InvalidDigit)),
        Ok(number) if low(number, width) == number => (number, None),
        Ok(number) => (low(number, width), Some(EventKind::Conversion)),
    }
}

/// The last digits of a decimal text, read in base 16.
fn digits(value: u64, width: u32) -> Given {
    let text = format!("{value}");
    let cut = text.len().saturating_sub(width as usize / 4);
    let bits = u64::from_str_radix(&text[cut..], 16).expect("digits");
    // Leading zeros of what was cut off say nothing.
    (bits, if cut > 0 { Some(EventKind::Conversion) } else { None })
}

/// Conversions between one type and all of the other kind, by both names.
struct Decimal {
    from: T,
    model: fn(u64, u32) -> Given,
    names: Vec<(String, u32)>,
    bank: Bank,
}

impl Decimal {
    fn new(from: T) -> Self {
        let to_number = STRINGS.iter().any(|(ty, _)| *ty == from);
        let (targets, word): (_, &str) = if to_number { (NUMBERS, "BCD_TO_") } else { (STRINGS, "TO_BCD_") };
        let mut names = Vec::new();
        for (to, width) in targets {
            names.push((format!("{}_{word}{}", from.name(), to.name()), width));
            names.push((format!("{word}{}", to.name()), width));
        }
        let bank = Bank::new(&names.iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>(), &[from]);
        Self { from, model: if to_number { number } else { digits }, names, bank }
    }

    fn check(&mut self, bits: u64) {
        for ((name, width), given) in self.names.iter().zip(self.bank.run(&[bits])) {
            assert_eq!(*given, (self.model)(bits, *width), "{name} of {} 16#{bits:X}", self.from.name());
        }
    }
}

#[test]
fn every_value_of_8_and_16_bits() {
    for (from, width) in STRINGS.into_iter().chain(NUMBERS).filter(|(_, width)| *width <= 16) {
        let mut decimal = Decimal::new(from);
        (0..1 << width).for_each(|bits| decimal.check(bits));
    }
}

/// The greatest numbers that fit the digits, the next ones, and the greatest of each type.
#[test]
fn wide_numbers_at_the_limits() {
    for (from, width) in [(T::Udint, 32), (T::Ulint, 64)] {
        let mut decimal = Decimal::new(from);
        for digits in [2, 4, 8, 16] {
            for offset in 0..3 {
                decimal.check(low(10_u64.pow(digits) - 1 + offset, width));
            }
        }
        decimal.check(low(u64::MAX, width));
        decimal.check(low(u64::MAX - 1, width));
    }
}

#[test]
fn valid_digits_are_those_of_decimal_text() {
    for (ty, width) in [(T::Byte, 8), (T::Word, 16)] {
        let mut bank = Bank::new(&["IS_VALID_BCD"], &[ty]);
        for bits in 0..1 << width {
            let decimal = format!("{bits:X}").parse::<u64>().is_ok();
            assert_eq!(bank.run(&[bits])[0], (u64::from(decimal), None), "16#{bits:X}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4))]

    /// There: any digits; and back: any number. One wrong digit anywhere is found.
    #[test]
    fn wide_values(values in proptest::collection::vec((0..10_u64.pow(16), 0..16_u32, 10..16_u64, any::<u64>()), 100)) {
        for (ty, width) in [(T::Dword, 32), (T::Lword, 64)] {
            let mut decimal = Decimal::new(ty);
            let mut valid = Bank::new(&["IS_VALID_BCD"], &[ty]);
            for (value, place, wrong, _) in &values {
                let text = format!("{value}");
                let bits = u64::from_str_radix(&text[text.len().saturating_sub(width as usize / 4)..], 16).expect("digits");
                decimal.check(bits);
                prop_assert_eq!(valid.run(&[bits])[0].0, 1);
                let at = place % (width / 4) * 4;
                let bad = bits & !(15 << at) | wrong << at;
                decimal.check(bad);
                prop_assert_eq!(valid.run(&[bad])[0].0, 0);
            }
        }
        for (ty, width) in [(T::Udint, 32), (T::Ulint, 64)] {
            let mut decimal = Decimal::new(ty);
            for (_, shift, _, value) in &values {
                decimal.check(low(value >> (shift * 4), width));
            }
        }
    }
}

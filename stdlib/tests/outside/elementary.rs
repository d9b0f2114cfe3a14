//! Elementary functions against reference values of a library for arithmetic of any precision
//! (`data/elementary/reference.py` says which and how).
//!
//! The square root is exact to the last bit (IEEE 754), the others lie within one unit in the last place of the true
//! value. Results that are no numbers, infinities, and zeros where the true value is zero, agree bit for bit.

use std::collections::BTreeMap;

use latchwork_vm::{ElementaryType as T, EventKind};

use crate::harness::bank::Bank;

/// Greatest error of a function, in units in the last place.
const TOLERANCE: f64 = 1.0;

struct Width {
    ty: T,
    sign: u64,
    infinity: u64,
}

const LREAL: Width = Width { ty: T::Lreal, sign: 1 << 63, infinity: 0x7FF0_0000_0000_0000 };
const REAL: Width = Width { ty: T::Real, sign: 1 << 31, infinity: 0x7F80_0000 };

impl Width {
    fn is_finite(&self, bits: u64) -> bool {
        bits & self.infinity != self.infinity
    }

    fn is_nan(&self, bits: u64) -> bool {
        bits & !self.sign > self.infinity
    }

    /// How far a result lies from the true value, in units in the last place of it; infinite where the two are not to
    /// be compared.
    fn error(&self, given: u64, wanted: u64, thousandths: f64) -> f64 {
        let comparable =
            given & self.sign == wanted & self.sign && self.is_finite(given) && self.is_finite(wanted);
        if given == wanted && thousandths == 0.0 {
            0.0
        } else if !comparable {
            f64::INFINITY
        } else {
            // Neighbouring patterns are neighbouring values.
            let steps = (given & !self.sign) as i64 - (wanted & !self.sign) as i64;
            steps as f64 - thousandths / 1000.0
        }
    }

    /// The event that a result demands: a result that is no number from operands that are numbers, an infinity from
    /// finite ones.
    fn event(&self, operands: &[u64], wanted: u64) -> Option<EventKind> {
        if self.is_nan(wanted) {
            let from_nan = operands.iter().any(|operand| self.is_nan(*operand));
            return if from_nan { None } else { Some(EventKind::Domain) };
        }
        if self.is_finite(wanted) || operands.iter().any(|operand| !self.is_finite(*operand)) {
            return None;
        }
        // An infinity at 0 is a pole, elsewhere the value is too large.
        let pole = operands[0] & !self.sign == 0;
        Some(if pole { EventKind::Domain } else { EventKind::Overflow })
    }
}

/// The worst error of each function and where it is.
type Worst = BTreeMap<&'static str, (f64, &'static str)>;

fn check(text: &'static str, width: &Width) -> Worst {
    let mut worst = Worst::new();
    let mut failures = Vec::new();
    let mut function = ("", Bank::new(&[], &[]));
    for line in text.lines().filter(|line| !line.starts_with('#')) {
        if let Some(name) = line.strip_prefix('[') {
            let name = name.trim_end_matches(']');
            let operands = if matches!(name, "ATAN2" | "EXPT") { 2 } else { 1 };
            function = (name, Bank::new(&[name], &vec![width.ty; operands]));
            continue;
        }
        let (name, bank) = &mut function;
        let (patterns, thousandths) = line.rsplit_once(' ').expect("a remainder at the end");
        let thousandths: f64 = thousandths.parse().expect("a number");
        let mut operands: Vec<u64> =
            patterns.split(' ').map(|bits| u64::from_str_radix(bits, 16).expect("a pattern")).collect();
        let wanted = operands.pop().expect("a result");
        let (given, event) = bank.run(&operands)[0];
        let error = width.error(given, wanted, thousandths).abs();
        let tolerance = if *name == "SQRT" { 0.5 } else { TOLERANCE };
        if error > tolerance || event != width.event(&operands, wanted) {
            failures.push(format!("{name} {line}: 16#{given:X}, {error} units, event {event:?}"));
        }
        let entry = worst.entry(*name).or_insert((0.0, line));
        if error > entry.0 {
            *entry = (error, line);
        }
    }
    for (name, (error, line)) in &worst {
        println!("{:5} {name:5} at most {error:.3} units in the last place, for {line}", width.ty.name());
    }
    assert!(failures.is_empty(), "{} failures:\n{}", failures.len(), failures.join("\n"));
    assert_eq!(worst.len(), 12, "the data file is complete");
    worst
}

#[test]
fn lreal_functions_are_within_one_unit_in_the_last_place() {
    check(include_str!("../data/elementary/lreal.txt"), &LREAL);
}

/// The REAL form is the LREAL form rounded once, so it is hardly worse than correctly rounded.
#[test]
fn real_functions_are_within_one_unit_in_the_last_place() {
    for (name, (error, line)) in check(include_str!("../data/elementary/real.txt"), &REAL) {
        assert!(error <= 0.501, "{name}: {error} units for {line}");
    }
}

/// A base next to 1 with a large exponent: the way through a logarithm needs more digits than a double has. Values by
/// mpmath at 400 bits.
#[test]
fn powers_of_a_base_next_to_one_keep_their_digits() {
    let mut bank = Bank::new(&["EXPT"], &[T::Lreal, T::Lreal]);
    for (base, exponent, wanted) in [
        (0x3FEF_FFFF_CB49_ABC1, 0x41F4_C803_39AC_C822, 0x0E8C_27CE_7E2C_B03C_u64),
        (0x3FEF_FFFF_D2A8_5289, 0x41FB_3DD7_5D8D_966A, 0x083F_CDCC_D919_411F),
        (0x3FF0_0000_0520_FE07, 0xC21F_CF50_BBB2_FF24, 0x0516_B4A7_04E9_7BD2),
    ] {
        let (given, event) = bank.run(&[base, exponent])[0];
        assert!(given.abs_diff(wanted) <= 1, "16#{given:X} instead of 16#{wanted:X}");
        assert_eq!(event, None);
    }
}

/// An invalid operation gives the NaN that every platform gives, not that of the processor.
#[test]
fn invalid_operations_give_the_one_nan() {
    let minus_two = (-2.0_f64).to_bits();
    for name in ["SQRT", "LN", "LOG", "ASIN", "ACOS"] {
        assert_eq!(Bank::new(&[name], &[T::Lreal]).run(&[minus_two])[0].0, 0x7FF8_0000_0000_0000, "{name}");
        let real = u64::from((-2.0_f32).to_bits());
        assert_eq!(Bank::new(&[name], &[T::Real]).run(&[real])[0].0, 0x7FC0_0000, "{name}");
    }
    // A NaN that goes in comes out as the one NaN.
    for name in ["SQRT", "LN", "LOG", "EXP", "SIN", "COS", "TAN", "ASIN", "ACOS", "ATAN"] {
        let mut bank = Bank::new(&[name], &[T::Lreal]);
        assert_eq!(bank.run(&[0xFFF8_0000_0000_1234]), [(0x7FF8_0000_0000_0000, None)], "{name}");
    }
}

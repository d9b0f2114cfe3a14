//! Arithmetic, selection and comparison of integers: all pairs of 8 bits, many of the wider ones, against 128-bit
//! integers.
//!
//! Source of the models: IEC 61131-3:2013, Tables 28, 29, 32 and 33; the low bits of a result outside its type are a
//! choice that the rows state.

use latchwork_vm::{ElementaryType as T, EventKind};
use proptest::prelude::*;

use crate::harness::{
    bank::{Bank, Given},
    call::call,
    value::Typed,
};

const TYPES: [(T, bool, u32); 8] = [
    (T::Sint, true, 8),
    (T::Usint, false, 8),
    (T::Int, true, 16),
    (T::Uint, false, 16),
    (T::Dint, true, 32),
    (T::Udint, false, 32),
    (T::Lint, true, 64),
    (T::Ulint, false, 64),
];

/// An integer type of the model.
#[derive(Clone, Copy)]
struct Kind {
    ty: T,
    signed: bool,
    width: u32,
}

impl Kind {
    fn all() -> impl Iterator<Item = Self> {
        TYPES.into_iter().map(|(ty, signed, width)| Self { ty, signed, width })
    }

    fn least(self) -> i128 {
        if self.signed { -(1 << (self.width - 1)) } else { 0 }
    }

    fn greatest(self) -> i128 {
        self.least() + (1 << self.width) - 1
    }

    fn bits(self, value: i128) -> u64 {
        (value as u64) & (u64::MAX >> (64 - self.width))
    }

    /// The low bits of an exact result, with an event where they are another number.
    fn kept(self, exact: i128) -> Given {
        let fits = (self.least()..=self.greatest()).contains(&exact);
        (self.bits(exact), if fits { None } else { Some(EventKind::Overflow) })
    }

    /// The number within the range that differs from a value by a multiple of the number of values.
    fn number(self, value: u64) -> i128 {
        let value = i128::from(value & (u64::MAX >> (64 - self.width)));
        if value > self.greatest() { value - (1 << self.width) } else { value }
    }
}

const BINARY: [&str; 12] = ["ADD", "SUB", "MUL", "MOD", "MAX", "MIN", "GT", "GE", "EQ", "LE", "LT", "NE"];

/// The model of a function of two integers.
fn wanted(name: &str, kind: Kind, a: i128, b: i128) -> Given {
    match name {
        "ADD" => kind.kept(a + b),
        "SUB" => kind.kept(a - b),
        // Two factors of 64 bits have a product of 128: beyond that of signed ones, the low bits are what counts.
        "MUL" => match a.checked_mul(b) {
            Some(exact) => kind.kept(exact),
            None => (kind.bits(a.wrapping_mul(b)), Some(EventKind::Overflow)),
        },
        "DIV" => kind.kept(a / b),
        "MOD" if b == 0 => (0, Some(EventKind::ModuloByZero)),
        "MOD" => (kind.bits(a - a / b * b), None),
        "MAX" => (kind.bits(a.max(b)), None),
        "MIN" => (kind.bits(a.min(b)), None),
        "GT" => (u64::from(a > b), None),
        "GE" => (u64::from(a >= b), None),
        "EQ" => (u64::from(a == b), None),
        "LE" => (u64::from(a <= b), None),
        "LT" => (u64::from(a < b), None),
        _ => (u64::from(a != b), None),
    }
}

/// The calls for one type.
struct Arithmetic {
    kind: Kind,
    binary: Bank,
    division: Bank,
    unary: Bank,
}

impl Arithmetic {
    fn new(kind: Kind) -> Self {
        Self {
            kind,
            binary: Bank::new(&BINARY, &[kind.ty, kind.ty]),
            division: Bank::new(&["DIV"], &[kind.ty, kind.ty]),
            unary: Bank::new(&["ABS"], &[kind.ty]),
        }
    }

    fn check(&mut self, a: i128, b: i128) {
        let kind = self.kind;
        let operands = [kind.bits(a), kind.bits(b)];
        for (name, given) in BINARY.iter().zip(self.binary.run(&operands)) {
            assert_eq!(*given, wanted(name, kind, a, b), "{name}({a}, {b}) of {}", kind.ty.name());
        }
        if b != 0 {
            let given = self.division.run(&operands)[0];
            assert_eq!(given, wanted("DIV", kind, a, b), "DIV({a}, {b}) of {}", kind.ty.name());
        }
        let given = self.unary.run(&operands[..1])[0];
        assert_eq!(given, kind.kept(a.abs()), "ABS({a}) of {}", kind.ty.name());
    }
}

#[test]
fn every_pair_of_8_bits() {
    for kind in Kind::all().filter(|kind| kind.width == 8) {
        let mut arithmetic = Arithmetic::new(kind);
        for a in kind.least()..=kind.greatest() {
            for b in kind.least()..=kind.greatest() {
                arithmetic.check(a, b);
            }
        }
    }
}

/// Division by zero stops the run, whatever the dividend.
#[test]
fn division_by_zero_stops() {
    for kind in Kind::all() {
        for a in [kind.least(), kind.least() + 1, 0, 1, kind.greatest()] {
            let operands = [Typed::new(kind.ty, kind.bits(a)), Typed::new(kind.ty, 0)];
            let outcome = call("DIV", &operands);
            assert!(outcome.is_err_and(|fault| fault == "division-by-zero"), "{a} / 0 of {}", kind.ty.name());
        }
    }
}

/// Pairs around the limits of every type, and around the square roots of them, where products begin not to fit.
#[test]
fn pairs_at_the_limits() {
    for kind in Kind::all().filter(|kind| kind.width > 8) {
        let mut arithmetic = Arithmetic::new(kind);
        let mut values = Vec::new();
        for middle in [kind.least(), 0, kind.greatest(), 1 << (kind.width / 2), -(1 << (kind.width / 2))] {
            values.extend((-2..=2).map(|offset| middle + offset));
        }
        values.retain(|value| (kind.least()..=kind.greatest()).contains(value));
        for a in &values {
            for b in &values {
                arithmetic.check(*a, *b);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4))]

    #[test]
    fn wide_pairs(pairs in proptest::collection::vec((any::<[u64; 2]>(), 0..64_u32, 0..64_u32), 150)) {
        for kind in Kind::all().filter(|kind| kind.width > 8) {
            let mut arithmetic = Arithmetic::new(kind);
            for ([a, b], c, d) in &pairs {
                // Shifted with their sign, so that small numbers come up too.
                let (a, b) = ((*a as i64 >> c) as u64, (*b as i64 >> d) as u64);
                arithmetic.check(kind.number(a), kind.number(b));
            }
        }
    }

    /// LIMIT keeps a value within its bounds; the upper bound wins where they are crossed.
    #[test]
    fn limits(triples in proptest::collection::vec(any::<[i8; 3]>(), 500)) {
        let mut bank = Bank::new(&["LIMIT"], &[T::Sint; 3]);
        for [low, value, high] in triples {
            let given = bank.run(&[low as u8, value as u8, high as u8].map(u64::from))[0].0;
            let wanted = if low <= high { value.clamp(low, high) } else { high };
            prop_assert_eq!(given, u64::from(wanted as u8), "LIMIT({}, {}, {})", low, value, high);
        }
    }

    /// More operands than two: folded from the left; comparisons hold between neighbours.
    #[test]
    fn several_operands(rows in proptest::collection::vec(any::<[i16; 4]>(), 200), few in any::<bool>()) {
        let folded = ["ADD", "MUL", "MAX", "MIN", "GT", "GE", "EQ", "LE", "LT"];
        let mut bank = Bank::new(&folded, &[T::Int; 4]);
        for row in rows {
            // Small, so that no sum or product leaves the type; of few values, so that equal neighbours come up.
            let row = row.map(|value| if few { value & 1 } else { value % 13 });
            let fold = |step: fn(i16, i16) -> i16| row.into_iter().reduce(step).map_or(0, |value| value as u16);
            let chain = |holds: fn(&i16, &i16) -> bool| u16::from(row.windows(2).all(|pair| holds(&pair[0], &pair[1])));
            let wanted = [
                fold(|a, b| a + b), fold(|a, b| a * b), fold(i16::max), fold(i16::min),
                chain(i16::gt), chain(i16::ge), chain(i16::eq), chain(i16::le), chain(i16::lt),
            ];
            let given = bank.run(&row.map(|value| u64::from(value as u16)));
            for ((name, given), wanted) in folded.iter().zip(given).zip(wanted) {
                prop_assert_eq!(*given, (u64::from(wanted), None), "{} of {:?}", name, row);
            }
        }
    }
}

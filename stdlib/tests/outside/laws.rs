//! Laws that hold for all operands: of arithmetic modulo 2^n, of Boolean algebra (De Morgan), of orders, of parity, of
//! conversions there and back. No model says what one function gives; the functions hold one another to it.

use latchwork_vm::ElementaryType as T;
use proptest::prelude::*;

use crate::harness::bank::Bank;

const INTEGERS: [T; 8] = [T::Sint, T::Usint, T::Int, T::Uint, T::Dint, T::Udint, T::Lint, T::Ulint];
const STRINGS: [(T, u64); 4] = [(T::Byte, 8), (T::Word, 16), (T::Dword, 32), (T::Lword, 64)];

/// Functions of two operands of one type, to be combined.
struct Pair {
    names: Vec<&'static str>,
    bank: Bank,
}

impl Pair {
    fn new(ty: T, names: &[&'static str]) -> Self {
        Self { names: names.to_vec(), bank: Bank::new(names, &[ty, ty]) }
    }

    fn of(&mut self, name: &str, a: u64, b: u64) -> u64 {
        let index = self.names.iter().position(|known| *known == name).expect("a function of the bank");
        self.bank.run(&[a, b])[index].0
    }
}

fn cut(ty: T, bits: u64) -> u64 {
    bits & (u64::MAX >> (64 - 8 * ty.size().expect("scalars only")))
}

/// Operands of every size.
fn operands() -> impl Strategy<Value = Vec<[u64; 3]>> {
    let operand = || (any::<i64>(), 0..64_u32).prop_map(|(value, shift)| (value >> shift) as u64);
    proptest::collection::vec([operand(), operand(), operand()], 60)
}

/// Reals of every size, with zeros, infinities and NaN among them.
fn reals() -> impl Strategy<Value = Vec<[f64; 3]>> {
    let special =
        prop::sample::select(vec![0.0, -0.0, 1.0, -1.0, f64::INFINITY, f64::NEG_INFINITY, f64::NAN]);
    let real =
        || prop_oneof![2 => any::<u64>().prop_map(f64::from_bits), 1 => special.clone(), 2 => -9.0..9.0_f64];
    proptest::collection::vec([real(), real(), real()], 60)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4))]

    #[test]
    fn arithmetic_modulo_a_power_of_two(rows in operands()) {
        for ty in INTEGERS {
            let mut pair = Pair::new(ty, &["ADD", "SUB", "MUL", "MOD"]);
            let mut division = Pair::new(ty, &["DIV"]);
            for [a, b, c] in &rows {
                let (a, b, c) = (cut(ty, *a), cut(ty, *b), cut(ty, *c));
                let sum = pair.of("ADD", a, b);
                prop_assert_eq!(sum, pair.of("ADD", b, a));
                prop_assert_eq!(pair.of("SUB", sum, b), a, "a sum less its second operand");
                prop_assert_eq!(pair.of("MUL", a, b), pair.of("MUL", b, a));
                let right = pair.of("ADD", b, c);
                prop_assert_eq!(pair.of("ADD", sum, c), pair.of("ADD", a, right));
                let (left, other) = (pair.of("MUL", a, c), pair.of("MUL", b, c));
                prop_assert_eq!(pair.of("MUL", sum, c), pair.of("ADD", left, other), "distributive");
                let quotient = if b == 0 { 0 } else { division.of("DIV", a, b) };
                let (whole, rest) = (pair.of("MUL", quotient, b), pair.of("MOD", a, b));
                if b == 0 {
                    prop_assert_eq!(rest, 0, "the body of MOD in the standard");
                } else {
                    prop_assert_eq!(pair.of("ADD", whole, rest), a, "a = (a / b) * b + a MOD b");
                }
            }
        }
    }

    #[test]
    fn boolean_algebra(rows in operands()) {
        for (ty, _) in STRINGS {
            let mut pair = Pair::new(ty, &["AND", "OR", "XOR"]);
            let mut not = Bank::new(&["NOT"], &[ty]);
            let mut inverse = |bits| not.run(&[bits])[0].0;
            for [a, b, c] in &rows {
                let (a, b, c) = (cut(ty, *a), cut(ty, *b), cut(ty, *c));
                let (both, either) = (pair.of("AND", a, b), pair.of("OR", a, b));
                let (not_a, not_b) = (inverse(a), inverse(b));
                let (not_both, neither) = (inverse(both), inverse(either));
                prop_assert_eq!(not_both, pair.of("OR", not_a, not_b), "De Morgan");
                prop_assert_eq!(neither, pair.of("AND", not_a, not_b), "De Morgan");
                prop_assert_eq!(inverse(not_a), a);
                prop_assert_eq!(pair.of("XOR", a, b), pair.of("AND", either, not_both));
                let one = pair.of("XOR", a, b);
                prop_assert_eq!(pair.of("XOR", one, b), a);
                let (left, right) = (pair.of("AND", a, c), pair.of("AND", b, c));
                prop_assert_eq!(pair.of("AND", either, c), pair.of("OR", left, right), "distributive");
            }
        }
    }

    #[test]
    fn rotations_come_back(rows in operands(), count in 0..200_u64) {
        for (ty, width) in STRINGS {
            let names = ["ROL", "ROR", "SHL", "SHR"];
            let mut shifts = Bank::new(&names, &[ty, T::Int]);
            for [a, ..] in &rows {
                let a = cut(ty, *a);
                let turned = shifts.run(&[a, count]).to_vec();
                prop_assert_eq!(shifts.run(&[turned[0].0, count])[1].0, a, "ROR takes back ROL");
                prop_assert_eq!(shifts.run(&[turned[0].0, width - count % width])[0].0, a, "the whole width");
                prop_assert_eq!(shifts.run(&[a, width])[0].0, a, "ROL by the width");
                if count < width {
                    let back = shifts.run(&[a, width - count]).to_vec();
                    prop_assert_eq!(turned[0].0, turned[2].0 | back[3].0, "a rotation is two shifts");
                }
            }
        }
    }

    /// MAX and MIN do not depend on the order of their operands, with NaN and both zeros among them.
    #[test]
    fn extremes_have_no_order(rows in reals()) {
        let names = ["MAX", "MIN"];
        for ty in [T::Lreal, T::Real] {
            let bits = |value: f64| if ty == T::Real { u64::from((value as f32).to_bits()) } else { value.to_bits() };
            let mut pair = Pair::new(ty, &names);
            let mut three = Bank::new(&names, &[ty; 3]);
            for row in &rows {
                let [a, b, c] = row.map(bits);
                for (index, name) in names.iter().enumerate() {
                    let ab = pair.of(name, a, b);
                    prop_assert_eq!(ab, pair.of(name, b, a), "{}({:?}) turned round", name, row);
                    let (left, right) = (pair.of(name, ab, c), pair.of(name, b, c));
                    prop_assert_eq!(left, pair.of(name, a, right), "{}({:?}) associative", name, row);
                    prop_assert_eq!(three.run(&[a, b, c])[index].0, left, "{}({:?})", name, row);
                }
            }
        }
    }

    #[test]
    fn comparisons_agree(rows in reals()) {
        let mut pair = Pair::new(T::Lreal, &["GT", "GE", "EQ", "LE", "LT", "NE"]);
        for [a, b, _] in rows {
            let (first, second) = (a.to_bits(), b.to_bits());
            let mut holds = |name, a, b| pair.of(name, a, b) == 1;
            prop_assert_eq!(holds("GT", first, second), holds("LT", second, first));
            prop_assert_eq!(holds("GE", first, second), holds("LE", second, first));
            prop_assert_eq!(holds("EQ", first, second), !holds("NE", first, second));
            let one = ["GT", "EQ", "LT"].into_iter().filter(|name| holds(name, first, second)).count();
            prop_assert_eq!(one, usize::from(!a.is_nan() && !b.is_nan()), "one of three, none with NaN");
        }
    }

    /// Even and odd functions are so to the last bit; a power with a whole exponent is a product where it is exact.
    #[test]
    fn parity_and_powers(rows in reals(), base in -15..15_i64, exponent in 0..13_u32) {
        let names = ["SIN", "TAN", "ASIN", "ATAN", "COS", "ABS"];
        let mut bank = Bank::new(&names, &[T::Lreal]);
        let mut angle = Bank::new(&["ATAN2"], &[T::Lreal; 2]);
        for [a, b, _] in rows {
            let plain = bank.run(&[a.to_bits()]).to_vec();
            let turned = bank.run(&[(-a).to_bits()]);
            for ((name, (plain, _)), (turned, _)) in names.iter().zip(plain).zip(turned) {
                let value = f64::from_bits(plain);
                let even = matches!(*name, "COS" | "ABS") || value.is_nan();
                prop_assert_eq!(*turned, if even { plain } else { (-value).to_bits() }, "{}({})", name, a);
            }
            let up = angle.run(&[a.to_bits(), b.to_bits()])[0].0;
            let down = angle.run(&[(-a).to_bits(), b.to_bits()])[0].0;
            let value = f64::from_bits(up);
            prop_assert_eq!(down, if value.is_nan() { up } else { (-value).to_bits() }, "ATAN2({}, {})", a, b);
        }
        let product = base.pow(exponent);
        let mut bank = Bank::new(&["EXPT"], &[T::Dint, T::Uint]);
        let given = bank.run(&[u64::from(base as i32 as u32), u64::from(exponent)])[0].0;
        prop_assert_eq!(f64::from_bits(given), product as f64, "EXPT({}, {})", base, exponent);
    }

    /// What keeps every value loses none on the way there and back.
    #[test]
    fn conversions_come_back(rows in operands()) {
        for from in T::ALL.iter().filter(|ty| ty.is_integer() || ty.is_bit()) {
            for to in T::ALL.iter().filter(|to| *to != from && latchwork_stdlib::implicitly_converts(*from, **to)) {
                let there = format!("{}_TO_{}", from.name(), to.name());
                let back = format!("{}_TO_{}", to.name(), from.name());
                let (mut there, mut back) = (Bank::new(&[&there], &[*from]), Bank::new(&[&back], &[*to]));
                for [a, ..] in &rows {
                    let a = if *from == T::Bool { a & 1 } else { cut(*from, *a) };
                    let between = there.run(&[a])[0];
                    prop_assert_eq!(between.1, None);
                    prop_assert_eq!(back.run(&[between.0])[0], (a, None), "{} over {}", from.name(), to.name());
                }
            }
        }
    }
}

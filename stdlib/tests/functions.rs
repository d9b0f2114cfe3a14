//! Functions against check values from published sources (`data/values.txt`) and against oracles: wide
//! integers, the LREAL form rounded once, plain shifts.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]
#![allow(clippy::disallowed_methods, reason = "the functions of the platform are what is compared with")]

mod harness;

use harness::{call::call, value::Typed};
use latchwork_vm::ElementaryType;
use proptest::prelude::*;

/// The rows of a data file: line number and fields.
fn rows(text: &'static str, fields: usize) -> impl Iterator<Item = (usize, Vec<&'static str>)> {
    text.lines().enumerate().filter(|(_, line)| !line.is_empty() && !line.starts_with('#')).map(
        move |(index, line)| {
            let row: Vec<&str> = line.split('|').map(str::trim).collect();
            assert_eq!(row.len(), fields, "line {}: {line}", index + 1);
            (index + 1, row)
        },
    )
}

#[test]
fn check_values() {
    let mut failures = Vec::new();
    let mut count = 0;
    for (line, row) in rows(include_str!("data/values.txt"), 6) {
        let [name, operands, result, events, units, source] = row[..] else { unreachable!() };
        let operands: Vec<Typed> = operands.split_whitespace().map(Typed::parse).collect();
        let units: u64 = units.parse().expect("a tolerance");
        count += 1;
        let right = match (call(name, &operands), events.strip_prefix("fault:")) {
            (Err(fault), Some(wanted)) => fault == wanted,
            (Ok((given, raised)), None) => {
                let wanted: Vec<&str> = events.split_whitespace().filter(|name| *name != "-").collect();
                given.agrees(Typed::parse(result), units) && raised == wanted
            }
            _ => false,
        };
        if !right {
            let given = call(name, &operands);
            failures
                .push(format!("line {line}: {name} gave {given:X?}, wanted {result} {events} ({source})"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert!(count > 150, "the data file is complete");
}

/// Reals of every size, the special ones included.
fn any_real() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<u64>().prop_map(f64::from_bits),
        -10.0..10.0_f64,
        prop_oneof![Just(0.0), Just(-0.0), Just(f64::INFINITY), Just(f64::NEG_INFINITY), Just(f64::NAN)],
    ]
}

/// Nanoseconds of every size.
fn any_time() -> impl Strategy<Value = i64> {
    prop_oneof![any::<i64>(), -1000..1000_i64, prop_oneof![Just(i64::MIN), Just(i64::MAX)]]
}

fn lreal(value: f64) -> Typed {
    Typed::new(ElementaryType::Lreal, value.to_bits())
}

fn real(value: f32) -> Typed {
    Typed::new(ElementaryType::Real, u64::from(value.to_bits()))
}

fn time(value: i64) -> Typed {
    Typed::new(ElementaryType::Time, value as u64)
}

/// Low 64 bits, and whether they are not the whole.
fn wrapped(exact: i128) -> (i64, bool) {
    (exact as i64, i128::from(exact as i64) != exact)
}

const UNARY: [&str; 10] = ["SQRT", "LN", "LOG", "EXP", "SIN", "COS", "TAN", "ASIN", "ACOS", "ATAN"];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// The REAL form of each function is its LREAL form rounded once, and an error is reported exactly when
    /// the result is a NaN or an infinity that was not in the operand.
    #[test]
    fn real_is_lreal_rounded_once(function in 0..UNARY.len(), operand in any_real()) {
        let name = UNARY[function];
        let narrow = operand as f32;
        let (given, events) = call(name, &[real(narrow)]).expect("no fault");
        let (wide, _) = call(name, &[lreal(f64::from(narrow))]).expect("no fault");
        prop_assert!(given.agrees(real(wide.real() as f32), 0), "{name}({narrow}): {given:?}");
        let result = given.real();
        let wrong = (result.is_nan() && !narrow.is_nan()) || (result.is_infinite() && narrow.is_finite());
        prop_assert_eq!(events.len(), usize::from(wrong), "{}({}): {:?}", name, narrow, events);
    }

    /// SQRT is exact in both widths: the host's instruction is an oracle, IEEE 754 fixes every bit.
    #[test]
    fn square_root_is_exact(operand in any_real()) {
        let (wide, _) = call("SQRT", &[lreal(operand)]).expect("no fault");
        prop_assert!(wide.agrees(lreal(operand.sqrt()), 0));
        let narrow = operand as f32;
        let (given, _) = call("SQRT", &[real(narrow)]).expect("no fault");
        prop_assert!(given.agrees(real(narrow.sqrt()), 0));
    }

    /// Elementary functions stay within two units of the host's library (each of the two is within one of
    /// the true value).
    #[test]
    fn elementary_functions_agree_with_the_host(function in 0..UNARY.len(), operand in -20.0..20.0_f64) {
        let name = UNARY[function];
        let host = [f64::sqrt, f64::ln, f64::log10, f64::exp, f64::sin, f64::cos, f64::tan, f64::asin,
            f64::acos, f64::atan][function](operand);
        let (given, _) = call(name, &[lreal(operand)]).expect("no fault");
        prop_assert!(given.agrees(lreal(host), 2), "{name}({operand}): {} and {host}", given.real());
    }

    #[test]
    fn powers_agree_with_the_host(base in 0.01..100.0_f64, exponent in -50.0..50.0_f64) {
        let (given, _) = call("EXPT", &[lreal(base), lreal(exponent)]).expect("no fault");
        prop_assert!(given.agrees(lreal(base.powf(exponent)), 2));
        let narrow = base as f32;
        let (given, _) = call("EXPT", &[real(narrow), lreal(exponent)]).expect("no fault");
        let (wide, _) = call("EXPT", &[lreal(f64::from(narrow)), lreal(exponent)]).expect("no fault");
        prop_assert!(given.agrees(real(wide.real() as f32), 0));
    }

    #[test]
    fn angles_agree_with_the_host(y in any_real(), x in any_real()) {
        let (given, events) = call("ATAN2", &[lreal(y), lreal(x)]).expect("no fault");
        prop_assert!(given.agrees(lreal(y.atan2(x)), 2), "ATAN2({y}, {x}): {}", given.real());
        prop_assert!(events.is_empty());
    }

    /// Integers, durations and their mixtures against wide integers.
    #[test]
    fn durations_times_and_by_integers(duration in any_time(), number in any_time()) {
        let (product, changed) = wrapped(i128::from(duration) * i128::from(number));
        let given = call("MUL_TIME", &[time(duration), Typed::new(ElementaryType::Lint, number as u64)]);
        let (given, events) = given.expect("no fault");
        prop_assert_eq!((given.bits as i64, !events.is_empty()), (product, changed));

        let unsigned = number as u64;
        let (product, changed) = wrapped(i128::from(duration) * i128::from(unsigned));
        let (given, events) =
            call("MUL_TIME", &[time(duration), Typed::new(ElementaryType::Ulint, unsigned)]).expect("no fault");
        prop_assert_eq!((given.bits as i64, !events.is_empty()), (product, changed));

        let (given, events) = call("DIV_TIME", &[time(duration), Typed::new(ElementaryType::Lint, unsigned)])
            .expect("division of durations raises no fault");
        if number == 0 {
            prop_assert_eq!((given.bits, events), (0, vec!["division-by-zero"]));
        } else {
            let (quotient, changed) = wrapped(i128::from(duration) / i128::from(number));
            prop_assert_eq!((given.bits as i64, !events.is_empty()), (quotient, changed));
        }
        let (given, events) =
            call("DIV_TIME", &[time(duration), Typed::new(ElementaryType::Ulint, unsigned)]).expect("no fault");
        if unsigned == 0 {
            prop_assert_eq!((given.bits, events), (0, vec!["division-by-zero"]));
        } else {
            let quotient = i128::from(duration) / i128::from(unsigned);
            prop_assert_eq!((i128::from(given.bits as i64), events), (quotient, vec![]));
        }
    }

    /// A real factor or divisor: computed in LREAL, rounded to the nearest nanosecond, ties to even, kept
    /// within the range.
    #[test]
    fn durations_times_and_by_reals(duration in any_time(), number in any_real()) {
        for (name, exact) in
            [("MUL_TIME", duration as f64 * number), ("DIV_TIME", duration as f64 / number)]
        {
            let (given, events) = call(name, &[time(duration), lreal(number)]).expect("no fault");
            let by_zero = name == "DIV_TIME" && number == 0.0;
            let nearest = exact.round_ties_even();
            let wanted = if by_zero { 0 } else { nearest as i64 };
            prop_assert_eq!(given.bits as i64, wanted, "{} {} {}", name, duration, number);
            let inside = (-(2.0_f64.powi(63))..2.0_f64.powi(63)).contains(&nearest);
            prop_assert_eq!(events.is_empty(), !by_zero && inside);
        }
    }

    #[test]
    fn times_of_day_stay_within_the_day(start in 0..86_400_000_000_000_i64, duration in any_time()) {
        const DAY: i128 = 86_400_000_000_000;
        let operands = [Typed::new(ElementaryType::TimeOfDay, start as u64), time(duration)];
        for (name, exact) in [
            ("ADD_TOD_TIME", i128::from(start) + i128::from(duration)),
            ("SUB_TOD_TIME", i128::from(start) - i128::from(duration)),
        ] {
            let (given, events) = call(name, &operands).expect("no fault");
            prop_assert_eq!(given.integer(), exact.rem_euclid(DAY));
            prop_assert_eq!(events.is_empty(), (0..DAY).contains(&exact));
        }
    }

    /// A date and time is its date and its time of day.
    #[test]
    fn dates_and_times_split(moment in (i64::MIN + 86_400_000_000_000)..i64::MAX) {
        let operand = [Typed::new(ElementaryType::LdateAndTime, moment as u64)];
        let (date, _) = call("LDT_TO_LDATE", &operand).expect("no fault");
        let (time_of_day, _) = call("LDT_TO_LTOD", &operand).expect("no fault");
        prop_assert_eq!(date.integer() + time_of_day.integer(), i128::from(moment));
        prop_assert!((0..86_400_000_000_000).contains(&time_of_day.integer()));
        prop_assert_eq!(date.integer().rem_euclid(86_400_000_000_000), 0);
    }

    /// Shifts and rotations of every width by counts of every type, bit by bit.
    #[test]
    fn shifts_move_bits(
        function in 0..4_usize,
        width in 0..5_usize,
        value in any::<u64>(),
        count in prop_oneof![0..130_i128, any::<i64>().prop_map(i128::from), any::<u64>().prop_map(i128::from)],
    ) {
        let name = ["SHL", "SHR", "ROL", "ROR"][function];
        let ty = [ElementaryType::Bool, ElementaryType::Byte, ElementaryType::Word, ElementaryType::Dword,
            ElementaryType::Lword][width];
        let bits: i128 = [1, 8, 16, 32, 64][width];
        let value = if ty == ElementaryType::Bool { value & 1 } else { value };
        let operand = Typed::new(ty, value);
        let count_type = if count < 0 { ElementaryType::Lint } else { ElementaryType::Ulint };
        let (given, _) = call(name, &[operand, Typed::new(count_type, count as u64)]).expect("no fault");
        let bit = |at: i128| u64::from((0..bits).contains(&at)) & (operand.bits >> at.clamp(0, 63));
        let mut wanted = 0;
        for at in 0..bits {
            let from = match name {
                "SHL" => at - count,
                "SHR" => at + count,
                "ROL" => (at - count).rem_euclid(bits),
                _ => (at + count).rem_euclid(bits),
            };
            wanted |= (bit(from) & 1) << at;
        }
        let wanted = if count < 0 { operand.bits } else { wanted };
        prop_assert_eq!(given.bits, wanted, "{} {:?} {}", name, operand, count);
        if let Ok(short) = i64::try_from(count) {
            let (again, _) = call(name, &[operand, Typed::new(ElementaryType::Lint, short as u64)]).expect("no fault");
            prop_assert_eq!(again.bits, wanted);
        }
    }
}

/// The first day of the range of dates has no midnight inside it: the first moment stands for it.
#[test]
fn the_first_day_has_no_midnight() {
    let operand = [Typed::new(ElementaryType::LdateAndTime, i64::MIN as u64)];
    let (date, _) = call("LDT_TO_LDATE", &operand).expect("no fault");
    assert_eq!(date.integer(), i128::from(i64::MIN));
}

/// Conversions among all integers, bit strings and reals, by their meaning: integers keep the number or its
/// low bits, bit strings keep the rightmost bits and fill with zeros.
#[test]
fn conversions_keep_numbers_and_bits() {
    use ElementaryType as T;
    let samples: [u64; 12] = [
        0,
        1,
        2,
        0x7F,
        0x80,
        0xFF,
        0x7FFF,
        0x8000,
        0xFFFF_FFFF,
        0x8000_0000,
        u64::MAX,
        0x1234_5678_9ABC_DEF0,
    ];
    let mut count = 0;
    for from in T::ALL.iter().filter(|ty| ty.is_integer() || ty.is_bit()) {
        for to in T::ALL.iter().filter(|ty| ty.is_integer() || ty.is_bit() || ty.is_real()) {
            if (from.is_bit() && *from != T::Bool) && to.is_real() {
                continue;
            }
            let name = format!("{}_TO_{}", from.name(), to.name());
            for bits in samples {
                let bits = if *from == T::Bool { bits & 1 } else { bits };
                let operand = Typed::new(*from, bits);
                let (given, events) = call(&name, &[operand]).expect("no fault");
                count += 1;
                if to.is_real() {
                    let wanted = if *to == T::Real {
                        operand.integer() as f32 as f64
                    } else {
                        operand.integer() as f64
                    };
                    assert_eq!(given.real(), wanted, "{name} of {operand:?}");
                    assert!(events.is_empty(), "{name} of {operand:?}");
                } else if from.is_integer() && to.is_integer() {
                    let wanted = Typed::new(*to, operand.integer() as u64);
                    assert_eq!(given.bits, wanted.bits, "{name} of {operand:?}");
                    let kept = wanted.integer() == operand.integer();
                    assert_eq!(events.is_empty(), kept, "{name} of {operand:?}");
                } else {
                    let mask = if *to == T::Bool { 1 } else { u64::MAX };
                    let wanted = Typed::new(*to, operand.bits & mask);
                    assert_eq!(given.bits, wanted.bits, "{name} of {operand:?}");
                    assert!(events.is_empty(), "{name} of {operand:?}");
                }
            }
        }
    }
    assert!(count > 1500);
}

/// Reals become the nearest integer within the range of every integer type.
#[test]
fn reals_become_integers() {
    let samples = [
        0.0,
        -0.0,
        0.5,
        1.5,
        -0.5,
        -1.5,
        2.5,
        127.5,
        128.4,
        32767.5,
        -32768.5,
        1e10,
        -1e10,
        1e19,
        -1e19,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::NAN,
    ];
    for to in ElementaryType::ALL.iter().filter(|ty| ty.is_integer()) {
        let width = 8 * to.size().expect("integers have one");
        let (least, greatest) = if to.is_signed() {
            (-(1_i128 << (width - 1)), (1_i128 << (width - 1)) - 1)
        } else {
            (0, (1_i128 << width) - 1)
        };
        for sample in samples {
            for (word, rounded) in [("TO", sample.round_ties_even()), ("TRUNC", sample.trunc())] {
                let name = format!("LREAL_{word}_{}", to.name());
                let (given, events) = call(&name, &[lreal(sample)]).expect("no fault");
                // The cast to 128 bits saturates far outside and gives 0 for NaN.
                let wanted = (rounded as i128).clamp(least, greatest);
                assert_eq!(given.integer(), wanted, "{name}({sample})");
                let inside = !sample.is_nan() && (least..=greatest).contains(&(rounded as i128));
                assert_eq!(events.is_empty(), inside, "{name}({sample}): {events:?}");
            }
        }
    }
}

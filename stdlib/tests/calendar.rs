//! Dates taken apart: every day of the range against a calendar that counts days one by one, and back through the
//! functions that put dates together. Source: IEC 61131-3:2013, Table 36; the lengths of months and the rule of leap
//! years are those of the Gregorian calendar (ISO 8601-1:2019, 4.2.1).

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]

mod harness;

use harness::{call::call, outputs::Outputs, value::Typed};
use latchwork_vm::ElementaryType as T;
use proptest::prelude::*;

const DAY: i64 = 86_400_000_000_000;

fn typed(ty: T, value: i64) -> Typed {
    Typed::new(ty, value as u64)
}

fn integers(values: &[Typed]) -> Vec<i128> {
    values.iter().map(|value| value.integer()).collect()
}

/// Nanoseconds of every size, the days around 1970 and the limits among them.
fn any_moment() -> impl Strategy<Value = i64> {
    prop_oneof![
        any::<i64>(),
        -3 * DAY..3 * DAY,
        (-106_751..106_751_i64).prop_map(|day| day * DAY),
        (-106_751..106_751_i64).prop_map(|day| day * DAY - 1),
        prop_oneof![Just(i64::MIN), Just(i64::MAX), Just(-1), Just(0)],
    ]
}

#[test]
fn every_day_of_the_range_is_counted() {
    let mut split = Outputs::new("SPLIT_DATE");
    // 1677-09-22 is the first whole day, 106_751 days before 1970-01-01.
    let (mut year, mut month, mut day) = (1677, 9, 22);
    for number in -106_751..=106_751_i64 {
        let parts = integers(&split.of(&[typed(T::Date, number * DAY)]));
        assert_eq!(parts, [year, month, day], "day {number}");
        let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        let length = [31, if leap { 29 } else { 28 }, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
        day += 1;
        if day > length[month as usize - 1] {
            (day, month) = (1, month + 1);
        }
        if month > 12 {
            (month, year) = (1, year + 1);
        }
    }
    assert_eq!((year, month, day), (2262, 4, 12), "2262-04-11 is the last day that begins");
}

#[test]
fn values_of_the_limits() {
    // -2^63 ns is 9_223_372_036.854775808 s before 1970, 2^63-1 ns as much less 1 ns after it.
    let mut split = Outputs::new("SPLIT_LDT");
    let first = integers(&split.of(&[typed(T::LdateAndTime, i64::MIN)]));
    assert_eq!(first, [1677, 9, 21, 0, 12, 43, 145, 224, 192]);
    let last = integers(&split.of(&[typed(T::LdateAndTime, i64::MAX)]));
    assert_eq!(last, [2262, 4, 11, 23, 47, 16, 854, 775, 807]);
    // A date inside a day is the day.
    let mut split = Outputs::new("SPLIT_DATE");
    assert_eq!(integers(&split.of(&[typed(T::Date, -1)])), [1969, 12, 31]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// SPLIT_DT and CONCAT_DT are inverse on whole milliseconds.
    #[test]
    fn a_moment_put_together_again(moment in any_moment()) {
        // The first day begins outside the range, so CONCAT_DT does not give it, its date alone neither.
        prop_assume!(moment >= i64::MIN + 1_000_000);
        let moment = moment.div_euclid(1_000_000) * 1_000_000;
        let parts = Outputs::new("SPLIT_DT").of(&[typed(T::DateAndTime, moment)]);
        let (back, events) = call("CONCAT_DT", &parts).expect("no fault");
        prop_assert_eq!(back.integer(), i128::from(moment));
        prop_assert!(events.is_empty());
    }

    /// The parts of a long moment give it by the rule of mixed radices, and are those of its date and time of day.
    #[test]
    fn a_long_moment_is_its_parts(moment in any_moment()) {
        let parts = integers(&Outputs::new("SPLIT_LDT").of(&[typed(T::LdateAndTime, moment)]));
        let limits = [24, 60, 60, 1000, 1000, 1000];
        let mut since_midnight = 0;
        for (part, limit) in parts[3..].iter().zip(limits) {
            prop_assert!((0..limit).contains(part));
            since_midnight = since_midnight * limit + part;
        }
        prop_assert_eq!(since_midnight, i128::from(moment.rem_euclid(DAY)));
        let date = integers(&Outputs::new("SPLIT_DATE").of(&[typed(T::Date, moment)]));
        prop_assert_eq!(&date, &parts[..3]);
        let time = typed(T::LtimeOfDay, moment.rem_euclid(DAY));
        prop_assert_eq!(&integers(&Outputs::new("SPLIT_LTOD").of(&[time])), &parts[3..]);
    }

    /// SPLIT_DATE and CONCAT_DATE, SPLIT_TOD and CONCAT_TOD, from both sides.
    #[test]
    fn dates_and_times_of_day_put_together_again(
        day in -106_751..=106_751_i64,
        time in 0..86_400_000_i64,
    ) {
        let parts = Outputs::new("SPLIT_DATE").of(&[typed(T::Date, day * DAY)]);
        let (back, _) = call("CONCAT_DATE", &parts).expect("no fault");
        prop_assert_eq!(back.integer(), i128::from(day * DAY));
        let parts = Outputs::new("SPLIT_TOD").of(&[typed(T::TimeOfDay, time * 1_000_000)]);
        let (back, _) = call("CONCAT_TOD", &parts).expect("no fault");
        prop_assert_eq!(back.integer(), i128::from(time * 1_000_000));
    }
}

//! Dates, times of day and durations against the calendar library `chrono`, over the whole range of the types.
//!
//! Source of the rules: IEC 61131-3:2013, Tables 35 and 36. The range (1677-09-21-00:12:43.145224192 to
//! 2262-04-11-23:47:16.854775807, what 64 bits of nanoseconds since 1970 hold) and the values in error are choices that
//! the rows state.

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Timelike};
use latchwork_vm::{ElementaryType as T, EventKind, Value};
use proptest::prelude::*;

use crate::harness::{
    bank::{Bank, Given},
    outputs::Outputs,
    value::Typed,
};

const DAY: i64 = 86_400_000_000_000;
const NO_DATE: Given = (0, Some(EventKind::CalendarDate));

/// Midnight of a day in nanoseconds, if the day exists and its midnight has them.
fn midnight(year: i32, month: u32, day: u32) -> Option<i64> {
    nanoseconds(NaiveDate::from_ymd_opt(year, month, day)?.and_time(NaiveTime::MIN))
}

fn nanoseconds(moment: NaiveDateTime) -> Option<i64> {
    moment.and_utc().timestamp_nanos_opt()
}

fn moment(nanoseconds: i64) -> NaiveDateTime {
    DateTime::from_timestamp_nanos(nanoseconds).naive_utc()
}

fn time_of_day(nanoseconds: i64) -> NaiveTime {
    moment(nanoseconds).time()
}

fn given(value: Option<i64>) -> Given {
    value.map_or(NO_DATE, |value| (value as u64, None))
}

/// Operands of type INT.
fn integers<const N: usize>(values: [i32; N]) -> [u64; N] {
    values.map(|value| u64::from(value as i16 as u16))
}

/// Every day that has a midnight.
fn days() -> impl Iterator<Item = NaiveDate> {
    let first = NaiveDate::from_ymd_opt(1677, 9, 22).expect("a date");
    first.iter_days().take_while(|date| nanoseconds(date.and_time(NaiveTime::MIN)).is_some())
}

#[test]
fn every_day_of_the_range() {
    let mut concat = Bank::new(&["CONCAT_DATE"], &[T::Int; 3]);
    let mut weekday = Bank::new(&["DAY_OF_WEEK"], &[T::Date]);
    let mut count = 0;
    for date in days() {
        let parts = [date.year(), date.month() as i32, date.day() as i32];
        let start = nanoseconds(date.and_time(NaiveTime::MIN)).expect("within the range") as u64;
        assert_eq!(concat.run(&integers(parts)), [(start, None)], "{date}");
        let weekdays = u64::from(date.weekday().num_days_from_sunday());
        assert_eq!(weekday.run(&[start]), [(weekdays, None)], "{date}");
        assert_eq!(Value::Date(start as i64, T::Date).to_string(), format!("D#{date}"));
        count += 1;
    }
    assert_eq!(count, 213_503, "106,751 days before 1970-01-01 and 106,752 from it on");
}

/// The date and the time of day of a moment of every day, up to its last nanosecond.
#[test]
fn moments_of_every_day() {
    let mut parts = Bank::new(&["DT_TO_DATE", "DT_TO_TOD"], &[T::DateAndTime]);
    let mut long = Bank::new(&["LDT_TO_LDATE", "LDT_TO_LTOD"], &[T::LdateAndTime]);
    let mut last = 0;
    for date in days().step_by(3) {
        let start = nanoseconds(date.and_time(NaiveTime::MIN)).expect("within the range");
        // Any time of day, the first and the last; the last day of the range ends before midnight.
        last = (last + 61_803_398_874_989) % DAY;
        for within in [0, last, DAY - 1] {
            let Some(moment) = start.checked_add(within) else { continue };
            let wanted = [(start as u64, None), (within as u64, None)];
            assert_eq!(parts.run(&[moment as u64]), wanted, "{date} and {within} ns");
            if within == last {
                assert_eq!(long.run(&[moment as u64]), wanted, "{date} and {within} ns");
            }
        }
    }
}

/// The parts of a moment of every third day, before and after 1970.
#[test]
fn parts_of_moments() {
    let mut date_parts = Outputs::new("SPLIT_DATE");
    let mut all_parts = Outputs::new("SPLIT_LDT");
    let mut within = 0;
    for date in days().step_by(3) {
        let start = nanoseconds(date.and_time(NaiveTime::MIN)).expect("within the range");
        within = (within + 61_803_398_874_989) % DAY;
        let Some(nanoseconds) = start.checked_add(within) else { continue };
        let time = time_of_day(within);
        let wanted_date = [i128::from(date.year()), i128::from(date.month()), i128::from(date.day())];
        let parts = date_parts.of(&[Typed::new(T::Date, start as u64)]);
        assert!(parts.into_iter().map(Typed::integer).eq(wanted_date), "{date}");
        let fraction = time.nanosecond();
        let wanted_time = [
            time.hour(),
            time.minute(),
            time.second(),
            fraction / 1_000_000,
            fraction / 1000 % 1000,
            fraction % 1000,
        ];
        let wanted = wanted_date.into_iter().chain(wanted_time.map(i128::from));
        let parts = all_parts.of(&[Typed::new(T::LdateAndTime, nanoseconds as u64)]);
        assert!(parts.into_iter().map(Typed::integer).eq(wanted), "{date} {time}");
    }
}

/// Days that no calendar has, in every year of the range, and days beyond the range.
#[test]
fn days_that_do_not_exist() {
    let mut concat = Bank::new(&["CONCAT_DATE"], &[T::Int; 3]);
    let mut refused = 0;
    for year in (1676..=2263).chain([-32768, -1, 0, 1, 4, 1582, 1600, 2400, 9999, 32767]) {
        for month in [-1, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13] {
            for day in [-1, 0, 1, 28, 29, 30, 31, 32] {
                let existing = u32::try_from(month).ok().zip(u32::try_from(day).ok());
                let wanted = existing.and_then(|(month, day)| midnight(year, month, day));
                assert_eq!(
                    concat.run(&integers([year, month, day])),
                    [given(wanted)],
                    "{year}-{month}-{day}"
                );
                refused += usize::from(wanted.is_none());
            }
        }
    }
    assert!(refused > 30_000);
    // The first day of the range begins before it, the last day ends behind it.
    assert_eq!((midnight(1677, 9, 21), midnight(2262, 4, 12)), (None, None));
}

/// Parts of other types than INT, beyond what the routine works with.
#[test]
fn parts_of_any_integer_type() {
    let mut long = Bank::new(&["CONCAT_DATE"], &[T::Lint; 3]);
    for part in [i64::MIN, i64::MIN + 1970, -1, 1 << 32 | 1, i64::MAX] {
        for parts in [[part, 1, 1], [1970, part, 1], [1970, 1, part]] {
            assert_eq!(long.run(&parts.map(|part| part as u64)), [NO_DATE], "{parts:?}");
        }
    }
    let mut mixed = Bank::new(&["CONCAT_DATE"], &[T::Uint, T::Usint, T::Sint]);
    let leap_day = midnight(2000, 2, 29);
    assert_eq!(mixed.run(&[2000, 2, 29]), [given(leap_day)]);
    assert_eq!(mixed.run(&[65_535, 2, 29]), [NO_DATE]);
}

/// Every second of a day, each with another millisecond, and times of day that do not exist.
#[test]
fn every_second_of_a_day() {
    let mut concat = Bank::new(&["CONCAT_TOD", "CONCAT_LTOD"], &[T::Int; 4]);
    let mut check = |parts: [i32; 4]| {
        let [hour, minute, second, millisecond] = parts.map(|part| u32::try_from(part).unwrap_or(u32::MAX));
        // The library knows leap seconds as milliseconds from 1000 on; the standard does not.
        let time =
            NaiveTime::from_hms_milli_opt(hour, minute, second, millisecond).filter(|_| millisecond < 1000);
        let since_midnight = time.map(|time| (time - NaiveTime::MIN).num_nanoseconds().expect("a day fits"));
        assert_eq!(concat.run(&integers(parts)), [given(since_midnight); 2], "{parts:?}");
        if let Some(value) = since_midnight {
            let shown = Value::TimeOfDay(value, T::TimeOfDay).to_string();
            let fraction = shown.len() - "TOD#00:00:00".len();
            let text = time_of_day(value).format("TOD#%H:%M:%S%.3f").to_string();
            assert!(text.starts_with(&shown), "{shown} and {text}");
            assert_eq!(fraction == 0, millisecond == 0, "{shown}");
        }
    };
    for second in 0..86_400 {
        check([second / 3600, second / 60 % 60, second % 60, second * 7919 % 1000]);
    }
    for wrong in [-32768, -1, 60, 61, 1000, 32767] {
        for place in 0..4 {
            let mut parts = [1, 2, 3, 4];
            parts[place] = wrong;
            check(parts);
        }
    }
    check([23, 59, 59, 999]);
    check([24, 0, 0, 0]);
    check([23, 59, 60, 0]);
}

/// The literal of a moment, written by the library: a fraction only where there is one, without zeros at its end.
fn literal(nanoseconds: i64, prefix: &str) -> String {
    let text = moment(nanoseconds).format("%Y-%m-%d-%H:%M:%S%.f").to_string();
    // The library writes three, six or nine digits.
    let text = if text.contains('.') { text.trim_end_matches('0') } else { text.as_str() };
    format!("{prefix}#{text}")
}

/// Any moment; moments at both ends of the range; whole seconds.
fn any_moment() -> impl Strategy<Value = i64> {
    prop_oneof![
        4 => any::<i64>(),
        1 => (0..3 * DAY).prop_map(|distance| i64::MIN + distance),
        1 => (0..3 * DAY).prop_map(|distance| i64::MAX - distance),
        1 => (-9_000_000_000..9_000_000_000_i64).prop_map(|seconds| seconds * 1_000_000_000),
    ]
}

fn overflowing(value: Option<i64>, low: i64) -> Given {
    value.map_or((low as u64, Some(EventKind::Overflow)), |value| (value as u64, None))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    /// CONCAT_DT of any parts, and of the parts of any moment, at the ends of the range too.
    #[test]
    fn moments_of_parts(moments in proptest::collection::vec(any_moment(), 100), years in 1676..2264_i32) {
        let mut concat = Bank::new(&["CONCAT_DT", "CONCAT_LDT"], &[T::Int; 7]);
        let mut joined = Bank::new(&["CONCAT_DATE_TOD"], &[T::Date, T::TimeOfDay]);
        let mut long = Bank::new(&["CONCAT_DATE_LTOD"], &[T::Date, T::LtimeOfDay]);
        for nanoseconds_of in moments {
            let at = moment(nanoseconds_of);
            for (year, month, day) in [(at.year(), at.month(), at.day()), (years, at.month(), at.day()), (2261, 2, 29)] {
                for millisecond in [at.nanosecond() / 1_000_000, 999, 1000] {
                    let time = NaiveTime::from_hms_milli_opt(at.hour(), at.minute(), at.second(), millisecond);
                    let time = time.filter(|_| millisecond < 1000);
                    let wanted = NaiveDate::from_ymd_opt(year, month, day)
                        .zip(time)
                        .and_then(|(date, time)| nanoseconds(date.and_time(time)));
                    let parts = [month, day, at.hour(), at.minute(), at.second(), millisecond].map(|part| part as i32);
                    let [month, day, hour, minute, second, millisecond] = parts;
                    let operands = integers([year, month, day, hour, minute, second, millisecond]);
                    prop_assert_eq!(concat.run(&operands), [given(wanted); 2], "{}-{:?}", year, parts);
                }
            }
            let start = at.date().and_time(NaiveTime::MIN);
            if let Some(start) = nanoseconds(start) {
                let within = (nanoseconds_of - start) as u64;
                let wanted = [(nanoseconds_of as u64, None)];
                prop_assert_eq!(joined.run(&[start as u64, within]), wanted);
                prop_assert_eq!(long.run(&[start as u64, within]), wanted);
            }
        }
    }

    /// A moment and a duration; the difference of two moments, of two dates.
    #[test]
    fn moments_and_durations(
        rows in proptest::collection::vec((any_moment(), any_moment(), 0..64_u32), 150),
    ) {
        let mut short = Bank::new(&["ADD_DT_TIME", "SUB_DT_TIME"], &[T::DateAndTime, T::Time]);
        let mut long = Bank::new(&["ADD_LDT_LTIME", "SUB_LDT_LTIME"], &[T::LdateAndTime, T::Ltime]);
        let mut between = Bank::new(&["SUB_DT_DT"], &[T::DateAndTime; 2]);
        let mut long_between = Bank::new(&["SUB_LDT_LDT"], &[T::LdateAndTime; 2]);
        let mut dates = Bank::new(&["SUB_DATE_DATE"], &[T::Date; 2]);
        let mut long_dates = Bank::new(&["SUB_LDATE_LDATE"], &[T::Ldate; 2]);
        for (first, second, shift) in rows {
            let (at, other) = (moment(first), moment(second));
            let duration = second >> shift;
            let delta = TimeDelta::nanoseconds(duration);
            let later = at.checked_add_signed(delta).and_then(nanoseconds);
            let earlier = at.checked_sub_signed(delta).and_then(nanoseconds);
            let wanted = [
                overflowing(later, first.wrapping_add(duration)),
                overflowing(earlier, first.wrapping_sub(duration)),
            ];
            let operands = [first as u64, duration as u64];
            prop_assert_eq!(short.run(&operands), wanted, "{} and {} ns", at, duration);
            prop_assert_eq!(long.run(&operands), wanted, "{} and {} ns", at, duration);

            let wanted = [overflowing((at - other).num_nanoseconds(), first.wrapping_sub(second))];
            let operands = [first as u64, second as u64];
            prop_assert_eq!(between.run(&operands), wanted, "{} and {}", at, other);
            prop_assert_eq!(long_between.run(&operands), wanted, "{} and {}", at, other);

            let midnights = [at, other].map(|moment| moment.date().and_time(NaiveTime::MIN));
            if let [Some(one), Some(two)] = midnights.map(nanoseconds) {
                let days = (at.date() - other.date()).num_days();
                let wanted = [overflowing(days.checked_mul(DAY), one.wrapping_sub(two))];
                prop_assert_eq!(dates.run(&[one as u64, two as u64]), wanted, "{} and {}", at, other);
                prop_assert_eq!(long_dates.run(&[one as u64, two as u64]), wanted, "{} and {}", at, other);
            }
        }
    }

    /// A time of day and a duration: over midnight on the other day, with an event.
    #[test]
    fn times_of_day_and_durations(rows in proptest::collection::vec((0..DAY, any::<i64>(), 0..50_u32), 150)) {
        let mut short = Bank::new(&["ADD_TOD_TIME", "SUB_TOD_TIME"], &[T::TimeOfDay, T::Time]);
        let mut long = Bank::new(&["ADD_LTOD_LTIME", "SUB_LTOD_LTIME"], &[T::LtimeOfDay, T::Ltime]);
        let mut between = Bank::new(&["SUB_TOD_TOD"], &[T::TimeOfDay; 2]);
        for (start, duration, shift) in rows {
            let duration = duration >> shift;
            let delta = TimeDelta::nanoseconds(duration);
            let time = time_of_day(start);
            let wanted = [time.overflowing_add_signed(delta), time.overflowing_sub_signed(delta)].map(|(time, over)| {
                let value = (time - NaiveTime::MIN).num_nanoseconds().expect("a day fits");
                (value as u64, if over == 0 { None } else { Some(EventKind::DayOverflow) })
            });
            let operands = [start as u64, duration as u64];
            prop_assert_eq!(short.run(&operands), wanted, "{} and {} ns", time, duration);
            prop_assert_eq!(long.run(&operands), wanted, "{} and {} ns", time, duration);
            let other = duration.rem_euclid(DAY);
            let difference = (time - time_of_day(other)).num_nanoseconds().expect("a day fits");
            prop_assert_eq!(between.run(&[start as u64, other as u64]), [(difference as u64, None)]);
        }
    }

    /// Moments are shown as literals of the standard.
    #[test]
    fn moments_are_shown_as_literals(moments in proptest::collection::vec((any_moment(), 0..10_u32), 500)) {
        for (nanoseconds, digits) in moments {
            // Fractions of any length.
            let unit = 10_i64.pow(digits);
            let rounded = nanoseconds / unit * unit;
            prop_assert_eq!(Value::DateAndTime(rounded, T::DateAndTime).to_string(), literal(rounded, "DT"));
            prop_assert_eq!(Value::DateAndTime(rounded, T::LdateAndTime).to_string(), literal(rounded, "LDT"));
            let day = moment(rounded).format("LDATE#%Y-%m-%d").to_string();
            prop_assert_eq!(Value::Date(rounded, T::Ldate).to_string(), day);
        }
    }
}

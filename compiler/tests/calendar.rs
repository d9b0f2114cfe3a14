//! Literals of dates and times of day against the calendar library `chrono`: what is accepted, what is refused, and the
//! value.
//!
//! Source of the rules: IEC 61131-3:2013, Table 9. The range is our choice: what 64 bits of nanoseconds since 1970 hold.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use std::{collections::BTreeSet, fmt::Write as _, sync::Arc};

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime};
use latchwork_compiler::compile;
use latchwork_grammar::{Severity, Sources};
use latchwork_vm::{Machine, Program, Value};
use proptest::prelude::*;

/// A literal, the type of its variable, and its value in nanoseconds; no value: it must be refused.
type Literal = (String, &'static str, Option<i64>);

/// Checks literals, so many at a time that no error is left out of the list of the compiler for its length.
fn check_all(literals: &[Literal]) {
    let mut start = 0;
    let mut errors = 0;
    for (index, (.., value)) in literals.iter().enumerate() {
        errors += usize::from(value.is_none());
        if errors == 40 || index + 1 == literals.len() {
            check(&literals[start..=index]);
            (start, errors) = (index + 1, 0);
        }
    }
}

/// Compiles one variable for each literal and compares its value. What is refused must be refused on its line.
fn check(literals: &[Literal]) {
    let program = |left_out: &BTreeSet<usize>| {
        let mut text = String::from("PROGRAM Main\nVAR\n");
        for (index, (literal, ty, _)) in literals.iter().enumerate() {
            let value = if left_out.contains(&index) { String::new() } else { format!(" := {literal}") };
            writeln!(text, "  v{index} : {ty}{value};").unwrap();
        }
        text.push_str("END_VAR\nEND_PROGRAM\n");
        text
    };
    let refused: BTreeSet<usize> = (0..literals.len()).filter(|index| literals[*index].2.is_none()).collect();
    let text = program(&BTreeSet::new());
    let mut sources = Sources::new();
    sources.add("literals.st", text.as_str());
    let found: BTreeSet<usize> = compile(&sources)
        .diagnostics
        .iter()
        .filter(|diagnostic| diagnostic.severity == Severity::Error)
        // The declarations begin on the third line.
        .map(|error| text[..error.primary.span.start as usize].matches('\n').count() - 2)
        .collect();
    if let Some(index) = found.symmetric_difference(&refused).next() {
        panic!("{} is refused: {}", literals[*index].0, found.contains(index));
    }
    let mut sources = Sources::new();
    sources.add("literals.st", program(&refused));
    let image = compile(&sources).image.unwrap();
    let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
    let machine = Machine::new(Arc::clone(&program));
    for (index, (literal, _, wanted)) in literals.iter().enumerate() {
        let Some(wanted) = wanted else { continue };
        let value = match machine.read(&program.resolve(&format!("Main.v{index}")).unwrap()) {
            Value::Date(value, _) | Value::TimeOfDay(value, _) | Value::DateAndTime(value, _) => value,
            other => panic!("{literal} is {other}"),
        };
        assert_eq!(value, *wanted, "{literal}");
    }
}

fn nanoseconds(moment: NaiveDateTime) -> Option<i64> {
    moment.and_utc().timestamp_nanos_opt()
}

fn midnight(year: i32, month: u32, day: u32) -> Option<i64> {
    nanoseconds(NaiveDate::from_ymd_opt(year, month, day)?.and_time(NaiveTime::MIN))
}

/// The last days of each month of every year and the days behind them; now and then what no month has.
#[test]
fn days_at_the_ends_of_every_month() {
    let mut literals = Vec::new();
    for year in 1676..=2263 {
        for month in 0..=13 {
            for day in [0, 1, 28, 29, 30, 31, 32] {
                let in_a_month = (1..=12).contains(&month) && (1..=31).contains(&day);
                if in_a_month && (day > 29 || month == 2) || year % 20 == 0 {
                    let literal = format!("D#{year:04}-{month:02}-{day:02}");
                    literals.push((literal, "DATE", midnight(year, month, day)));
                }
            }
        }
    }
    check_all(&literals);
}

#[test]
fn times_of_day_at_the_ends_of_every_part() {
    let mut literals = Vec::new();
    for hour in [0, 1, 12, 23, 24, 99] {
        for minute in [0, 1, 59, 60, 99] {
            for second in [0, 1, 59, 60, 61] {
                let time = NaiveTime::from_hms_opt(hour, minute, second);
                let since_midnight = time.and_then(|time| (time - NaiveTime::MIN).num_nanoseconds());
                let literal = format!("{hour:02}:{minute:02}:{second:02}");
                literals.push((format!("TOD#{literal}"), "TOD", since_midnight));
                literals.push((format!("LTIME_OF_DAY#{literal}"), "LTOD", since_midnight));
            }
        }
    }
    check_all(&literals);
}

/// Any moment; moments at both ends of the range.
fn any_moment() -> impl Strategy<Value = i64> {
    const DAYS: i64 = 3 * 86_400_000_000_000;
    prop_oneof![
        4 => any::<i64>(),
        1 => (0..DAYS).prop_map(|distance| i64::MIN + distance),
        1 => (0..DAYS).prop_map(|distance| i64::MAX - distance),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4, max_shrink_iters: 100, ..ProptestConfig::default() })]

    /// Moments with all digits of their fraction, with their values as the literals of a machine's values too.
    #[test]
    fn moments(values in prop::collection::vec((any_moment(), -400..400_i64), 100)) {
        let mut literals = Vec::new();
        for (value, years) in values {
            let moment = DateTime::from_timestamp_nanos(value).naive_utc();
            let (date, time) = (moment.format("%Y-%m-%d").to_string(), moment.format("%H:%M:%S%.9f").to_string());
            let since_midnight = (moment.time() - NaiveTime::MIN).num_nanoseconds();
            literals.push((format!("DT#{date}-{time}"), "DT", Some(value)));
            literals.push((format!("LDATE_AND_TIME#{date}-{time}"), "LDT", Some(value)));
            literals.push((format!("TIME_OF_DAY#{time}"), "TOD", since_midnight));
            literals.push((format!("LTOD#{time}"), "LTOD", since_midnight));
            literals.push((format!("DATE#{date}"), "DATE", nanoseconds(moment.date().and_time(NaiveTime::MIN))));
            let shown = Value::DateAndTime(value, latchwork_vm::ElementaryType::DateAndTime).to_string();
            literals.push((shown, "DT", Some(value)));
            // The same day of another year, which may be none, or outside the range.
            let year = moment.year() + years as i32;
            if (0..=9999).contains(&year) {
                let other = moment.with_year(year);
                let literal = format!("LDT#{year:04}-{}-{time}", moment.format("%m-%d"));
                literals.push((literal, "LDT", other.and_then(nanoseconds)));
            }
        }
        check_all(&literals);
    }
}

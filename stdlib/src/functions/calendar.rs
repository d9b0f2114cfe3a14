//! Functions of the calendar: dates and times from their parts. The other way is in `calendar_parts`.
//!
//! Source: IEC 61131-3:2013, Table 36. Gregorian throughout, without leap seconds (our choice). Parts that are no
//! date or time of day give the default of the type, with an event (our choice).

use latchwork_vm::{ElementaryType as T, EventKind, Family, NativeCall, NativeFunction};

use super::time_natives::NANOSECONDS_A_DAY;
use crate::{
    definition::{Example, FunctionDefinition, Lowering, Overload, Parameter, ROW, ResultType, own},
    types::TypeClass,
};

const INTEGER: TypeClass = TypeClass::AnyInt;
const DATE: &[Parameter] = &[own("YEAR", INTEGER), own("MONTH", INTEGER), own("DAY", INTEGER)];
const TIME: &[Parameter] =
    &[own("HOUR", INTEGER), own("MINUTE", INTEGER), own("SECOND", INTEGER), own("MILLISECOND", INTEGER)];
const BOTH: &[Parameter] = &[
    own("YEAR", INTEGER),
    own("MONTH", INTEGER),
    own("DAY", INTEGER),
    own("HOUR", INTEGER),
    own("MINUTE", INTEGER),
    own("SECOND", INTEGER),
    own("MILLISECOND", INTEGER),
];

const NO_DATE: &str = "Parts that are no date or time of day: the default of the type, event.";

/// A function of whole numbers, which are brought to LINT.
macro_rules! row {
    ($name:literal, $parameters:ident, $count:literal, $result:ident, $native:literal, $summary:literal, $examples:expr) => {
        FunctionDefinition {
            name: $name,
            parameters: $parameters,
            result: ResultType::Exact(T::$result),
            lowering: Lowering::Overloaded,
            overloads: &[Overload {
                accepts: &[INTEGER; $count],
                operands: &[T::Lint; $count],
                result: ResultType::Exact(T::$result),
                lowering: Lowering::Native($native),
            }],
            clause: "Table 36",
            summary: $summary,
            errors: NO_DATE,
            examples: $examples,
            ..ROW
        }
    };
}

/// A date and a time of day are nanoseconds both: their sum. The names DATE and TOD, which the standard draws, are
/// keywords, with which no call could be written: IN1 and IN2 are our choice.
macro_rules! joined {
    ($name:literal, $time:ident => $result:ident, $summary:literal, $examples:expr) => {
        FunctionDefinition {
            name: $name,
            parameters: &[own("IN1", TypeClass::Exact(T::Date)), own("IN2", TypeClass::Exact(T::$time))],
            result: ResultType::Exact(T::$result),
            lowering: Lowering::Family(Family::Add),
            clause: "Table 36",
            summary: $summary,
            errors: "Outside 64-bit nanoseconds: the low bits, event overflow.",
            examples: $examples,
            ..ROW
        }
    };
}

/// The rows of Table 36.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    joined!("CONCAT_DATE_TOD", TimeOfDay => DateAndTime, "The moment of a date and a time of day.", &[
        Example::new(&["D#2026-03-01", "TOD#06:30:00"], "DT#2026-03-01-06:30:00"),
    ]),
    joined!("CONCAT_DATE_LTOD", LtimeOfDay => LdateAndTime, "The moment of a date and a long time of day.", &[
        Example::new(&["D#2026-03-01", "LTOD#06:30:00.000001"], "LDT#2026-03-01-06:30:00.000001"),
    ]),
    row!(
        "CONCAT_DATE",
        DATE,
        3,
        Date,
        "CONCAT_DATE",
        "The date of a year, a month and a day.",
        &[
            Example::new(&["INT#2028", "INT#2", "INT#29"], "D#2028-02-29"),
            Example::new(&["Year", "INT#2", "INT#29"], "D#1970-01-01")
                .with("Year : INT := 2026;")
                .event(EventKind::CalendarDate),
        ]
    ),
    row!(
        "CONCAT_TOD",
        TIME,
        4,
        TimeOfDay,
        "CONCAT_TOD",
        "The time of day of its parts.",
        &[
            Example::new(&["INT#6", "INT#30", "INT#15", "INT#250"], "TOD#06:30:15.250"),
            Example::new(&["Hour", "INT#0", "INT#0", "INT#0"], "TOD#00:00:00")
                .with("Hour : INT := 24;")
                .event(EventKind::CalendarDate),
        ]
    ),
    row!(
        "CONCAT_LTOD",
        TIME,
        4,
        LtimeOfDay,
        "CONCAT_TOD",
        "The long time of day of its parts.",
        &[Example::new(&["INT#23", "INT#59", "INT#59", "INT#999"], "LTOD#23:59:59.999"),]
    ),
    row!(
        "CONCAT_DT",
        BOTH,
        7,
        DateAndTime,
        "CONCAT_DT",
        "The moment of its parts.",
        &[Example::new(
            &["INT#2026", "INT#3", "INT#1", "INT#6", "INT#30", "INT#0", "INT#0"],
            "DT#2026-03-01-06:30:00"
        ),]
    ),
    row!(
        "CONCAT_LDT",
        BOTH,
        7,
        LdateAndTime,
        "CONCAT_DT",
        "The long moment of its parts.",
        &[Example::new(
            &["INT#2026", "INT#12", "INT#31", "INT#23", "INT#59", "INT#59", "INT#500"],
            "LDT#2026-12-31-23:59:59.5"
        ),]
    ),
];

/// Days since 1970-01-01 of a Gregorian date; `None` if there is no such day.
pub(super) fn days(year: i64, month: i64, day: i64) -> Option<i64> {
    // Beyond these years no moment has 64-bit nanoseconds; the sums below stay small.
    if !(1600..=2400).contains(&year) || !(1..=12).contains(&month) || day < 1 {
        return None;
    }
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let length = match month {
        2 => 28 + i64::from(leap),
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    };
    if day > length {
        return None;
    }
    // Years that begin in March have their leap day at the end.
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let before_year = 365 * year + year / 4 - year / 100 + year / 400;
    // 719_468 days lie between 0000-03-01 and 1970-01-01.
    Some(before_year + (153 * month + 2) / 5 + day - 1 - 719_468)
}

/// Nanoseconds since midnight; `None` if there is no such time of day.
fn since_midnight(hour: i64, minute: i64, second: i64, millisecond: i64) -> Option<i64> {
    let exists = (0..24).contains(&hour)
        && (0..60).contains(&minute)
        && (0..60).contains(&second)
        && (0..1000).contains(&millisecond);
    exists.then(|| (((hour * 60 + minute) * 60 + second) * 1000 + millisecond) * 1_000_000)
}

fn given(call: &mut NativeCall<'_>, offset: u32, result: Option<i64>) {
    let value = result.unwrap_or_else(|| {
        call.event(EventKind::CalendarDate);
        0
    });
    call.set_i64(offset, value);
}

fn concat_date(call: &mut NativeCall<'_>) {
    let days = days(call.i64(0), call.i64(8), call.i64(16));
    given(call, 24, days.and_then(|days| days.checked_mul(NANOSECONDS_A_DAY)));
}

fn concat_time_of_day(call: &mut NativeCall<'_>) {
    let time = since_midnight(call.i64(0), call.i64(8), call.i64(16), call.i64(24));
    given(call, 32, time);
}

fn concat_date_and_time(call: &mut NativeCall<'_>) {
    let days = days(call.i64(0), call.i64(8), call.i64(16));
    let time = since_midnight(call.i64(24), call.i64(32), call.i64(40), call.i64(48));
    let moment = days.zip(time).and_then(|(days, time)| {
        let moment = i128::from(days) * i128::from(NANOSECONDS_A_DAY) + i128::from(time);
        i64::try_from(moment).ok()
    });
    given(call, 56, moment);
}

/// The routines of this family.
pub(crate) fn natives() -> Vec<NativeFunction> {
    vec![
        NativeFunction::new("CONCAT_DATE", 32, concat_date),
        NativeFunction::new("CONCAT_TOD", 40, concat_time_of_day),
        NativeFunction::new("CONCAT_DT", 64, concat_date_and_time),
    ]
}

//! Functions that take dates apart: their parts, and the day of the week.
//!
//! Source: IEC 61131-3:2013, Table 36. Gregorian throughout, without leap seconds (our choice). The parts are INT,
//! and the long types have microseconds and nanoseconds too (our choice). A moment before 1970 lies in the second
//! and on the day that began before it, so that every part is 0 or more.

use latchwork_vm::{ElementaryType as T, NativeCall, NativeFunction};

use super::time_natives::NANOSECONDS_A_DAY;
use crate::{
    definition::{Example, FunctionDefinition, Lowering, Output, ROW, ResultType, own},
    types::TypeClass,
};

const fn part(name: &'static str) -> Output {
    Output { name, ty: T::Int }
}

/// Of a date.
const DATE: &[Output] = &[part("YEAR"), part("MONTH"), part("DAY")];
/// Of a time of day.
const TIME: &[Output] = &[part("HOUR"), part("MINUTE"), part("SECOND"), part("MILLISECOND")];
/// Of a long time of day.
const LONG_TIME: &[Output] = &[
    part("HOUR"),
    part("MINUTE"),
    part("SECOND"),
    part("MILLISECOND"),
    part("MICROSECOND"),
    part("NANOSECOND"),
];
/// Of a date and time.
const MOMENT: &[Output] = &[
    part("YEAR"),
    part("MONTH"),
    part("DAY"),
    part("HOUR"),
    part("MINUTE"),
    part("SECOND"),
    part("MILLISECOND"),
];
/// Of a long date and time.
const LONG_MOMENT: &[Output] = &[
    part("YEAR"),
    part("MONTH"),
    part("DAY"),
    part("HOUR"),
    part("MINUTE"),
    part("SECOND"),
    part("MILLISECOND"),
    part("MICROSECOND"),
    part("NANOSECOND"),
];

macro_rules! row {
    ($name:literal, $input:ident => $outputs:ident, $summary:literal, $errors:literal,
     $($example:literal => $parts:expr),+) => {
        FunctionDefinition {
            name: $name,
            parameters: &[own("IN", TypeClass::Exact(T::$input))],
            result: ResultType::Nothing,
            lowering: Lowering::Native($name),
            clause: "Table 36",
            summary: $summary,
            errors: $errors,
            outputs: $outputs,
            examples: &[$(Example::new(&[$example], "").giving(&$parts)),+],
            ..ROW
        }
    };
}

/// The rows of Table 36 that take apart.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    row!(
        "SPLIT_DATE", Date => DATE,
        "The year, the month and the day of a date.",
        "None, also before 1970.",
        "DATE#2024-02-29" => ["INT#2024", "INT#2", "INT#29"],
        "DATE#1969-12-31" => ["INT#1969", "INT#12", "INT#31"]
    ),
    row!(
        "SPLIT_TOD", TimeOfDay => TIME,
        "The parts of a time of day.",
        "None. What is below a millisecond is left out.",
        "TIME_OF_DAY#13:14:15.678" => ["INT#13", "INT#14", "INT#15", "INT#678"]
    ),
    row!(
        "SPLIT_LTOD", LtimeOfDay => LONG_TIME,
        "The parts of a long time of day, down to the nanosecond.",
        "None.",
        "LTIME_OF_DAY#23:59:59.123456789" =>
            ["INT#23", "INT#59", "INT#59", "INT#123", "INT#456", "INT#789"]
    ),
    row!(
        "SPLIT_DT", DateAndTime => MOMENT,
        "The parts of a date and time.",
        "None, also before 1970. What is below a millisecond is left out.",
        "DATE_AND_TIME#2024-02-29-13:14:15.678" =>
            ["INT#2024", "INT#2", "INT#29", "INT#13", "INT#14", "INT#15", "INT#678"]
    ),
    row!(
        "SPLIT_LDT", LdateAndTime => LONG_MOMENT,
        "The parts of a long date and time, down to the nanosecond.",
        "None, also before 1970.",
        "LDATE_AND_TIME#1984-06-25-15:36:55.360227400" =>
            ["INT#1984", "INT#6", "INT#25", "INT#15", "INT#36", "INT#55", "INT#360", "INT#227", "INT#400"],
        "LDATE_AND_TIME#1969-12-31-23:59:59.999999999" =>
            ["INT#1969", "INT#12", "INT#31", "INT#23", "INT#59", "INT#59", "INT#999", "INT#999", "INT#999"]
    ),
    FunctionDefinition {
        name: "DAY_OF_WEEK",
        parameters: &[own("IN", TypeClass::Exact(T::Date))],
        result: ResultType::Exact(T::Int),
        lowering: Lowering::Native("DAY_OF_WEEK"),
        clause: "Table 36",
        summary: "The day of the week, 0 for Sunday to 6 for Saturday.",
        examples: &[Example::new(&["DATE#2024-02-29"], "INT#4"), Example::new(&["DATE#1969-12-28"], "INT#0")],
        ..ROW
    },
];

/// Year, month and day of a number of days since 1970-01-01. A moment of 64-bit nanoseconds lies in the years 1677 to
/// 2262, so everything stays small.
fn civil(days: i64) -> [i64; 3] {
    const DAYS_IN_400_YEARS: i64 = 146_097;
    // 719_468 days lie between 0000-03-01 and 1970-01-01. Years that begin in March have their leap day at the end.
    let days = days + 719_468;
    let era = days.div_euclid(DAYS_IN_400_YEARS);
    let day_of_era = days.rem_euclid(DAYS_IN_400_YEARS);
    // Without the leap days before it the era has 400 years of 365 days.
    let leap_days = day_of_era / 1460 - day_of_era / 36_524 + day_of_era / 146_096;
    let year_of_era = (day_of_era - leap_days) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month + 2) / 5 + 1;
    let (month, next_year) = if month < 10 { (month + 3, 0) } else { (month - 9, 1) };
    [400 * era + year_of_era + next_year, month, day]
}

/// Hour, minute, second, millisecond, microsecond and nanosecond of a number of nanoseconds since midnight.
fn clock(nanoseconds: i64) -> [i64; 6] {
    let seconds = nanoseconds / 1_000_000_000;
    [
        seconds / 3600,
        seconds / 60 % 60,
        seconds % 60,
        nanoseconds / 1_000_000 % 1000,
        nanoseconds / 1000 % 1000,
        nanoseconds % 1000,
    ]
}

/// Days since 1970-01-01 and nanoseconds since midnight.
fn day_and_time(moment: i64) -> (i64, i64) {
    (moment.div_euclid(NANOSECONDS_A_DAY), moment.rem_euclid(NANOSECONDS_A_DAY))
}

/// Stores parts behind the one operand.
fn store(call: &mut NativeCall<'_>, parts: impl IntoIterator<Item = i64>) {
    for (part, slot) in parts.into_iter().zip(1u32..) {
        // A year has four digits, everything else fewer.
        call.set_i16(8 * slot, part as i16);
    }
}

fn split_date(call: &mut NativeCall<'_>) {
    let (day, _) = day_and_time(call.i64(0));
    store(call, civil(day));
}

fn split_time_of_day(call: &mut NativeCall<'_>) {
    let (_, time) = day_and_time(call.i64(0));
    store(call, clock(time).into_iter().take(TIME.len()));
}

fn split_long_time_of_day(call: &mut NativeCall<'_>) {
    let (_, time) = day_and_time(call.i64(0));
    store(call, clock(time));
}

fn split_date_and_time(call: &mut NativeCall<'_>) {
    let (day, time) = day_and_time(call.i64(0));
    store(call, civil(day).into_iter().chain(clock(time).into_iter().take(TIME.len())));
}

fn split_long_date_and_time(call: &mut NativeCall<'_>) {
    let (day, time) = day_and_time(call.i64(0));
    store(call, civil(day).into_iter().chain(clock(time)));
}

fn day_of_week(call: &mut NativeCall<'_>) {
    // 1970-01-01 was a Thursday. The remainder is below 7.
    let (day, _) = day_and_time(call.i64(0));
    call.set_i16(8, (day + 4).rem_euclid(7) as i16);
}

/// The frame of a routine with one operand and so many outputs.
const fn frame(outputs: &[Output]) -> u32 {
    8 * (1 + outputs.len() as u32)
}

/// The routines of this family.
pub(crate) fn natives() -> Vec<NativeFunction> {
    vec![
        NativeFunction::new("SPLIT_DATE", frame(DATE), split_date),
        NativeFunction::new("SPLIT_TOD", frame(TIME), split_time_of_day),
        NativeFunction::new("SPLIT_LTOD", frame(LONG_TIME), split_long_time_of_day),
        NativeFunction::new("SPLIT_DT", frame(MOMENT), split_date_and_time),
        NativeFunction::new("SPLIT_LDT", frame(LONG_MOMENT), split_long_date_and_time),
        NativeFunction::new("DAY_OF_WEEK", 16, day_of_week),
    ]
}

//! How values are written: as literals of the standard, without type prefix except for times and dates.
//!
//! IEC 61131-3:2013 Tables 5 (numeric), 6 and 7 (character strings), 8 (duration), 9 (date and time of day). Choices
//! of ours: bit strings in base 16 at full width, reals by the shortest text that reads back equal, durations with
//! zero parts left out.

use super::Value;
use crate::types::ElementaryType;
use std::fmt::{self, Write as _};

const SECOND: u64 = 1_000_000_000;
const DAY: u64 = 86_400 * SECOND;

impl fmt::Display for Value {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bool(value) => formatter.write_str(if *value { "TRUE" } else { "FALSE" }),
            Self::Signed(value, _) => write!(formatter, "{value}"),
            Self::Unsigned(value, _) => write!(formatter, "{value}"),
            Self::Bits(value, kind) => {
                let digits = kind.size().map_or(16, |bytes| 2 * bytes as usize);
                write!(formatter, "16#{value:0digits$X}")
            }
            Self::Real(value) => {
                real(formatter, f64::from(*value), &format!("{value:e}"), &format!("{value}"))
            }
            Self::Lreal(value) => real(formatter, *value, &format!("{value:e}"), &format!("{value}")),
            Self::Duration(value, kind) => {
                duration(formatter, *value, if *kind == ElementaryType::Ltime { "LTIME" } else { "T" })
            }
            Self::Date(value, kind) => {
                let prefix = if *kind == ElementaryType::Ldate { "LDATE" } else { "D" };
                write!(formatter, "{prefix}#")?;
                date(formatter, *value)
            }
            Self::TimeOfDay(value, kind) => {
                let prefix = if *kind == ElementaryType::LtimeOfDay { "LTOD" } else { "TOD" };
                write!(formatter, "{prefix}#")?;
                time_of_day(formatter, *value)
            }
            Self::DateAndTime(value, kind) => {
                let prefix = if *kind == ElementaryType::LdateAndTime { "LDT" } else { "DT" };
                write!(formatter, "{prefix}#")?;
                date(formatter, *value)?;
                formatter.write_char('-')?;
                time_of_day(formatter, *value)
            }
            Self::Char(value) => quoted(formatter, '\'', [u16::from(*value)].into_iter(), 2),
            Self::Wchar(value) => quoted(formatter, '"', [*value].into_iter(), 4),
            Self::String(text) => quoted(formatter, '\'', text.iter().map(|code| u16::from(*code)), 2),
            Self::WideString(text) => quoted(formatter, '"', text.iter().copied(), 4),
            Self::Enumeration { name: Some(name), .. } => formatter.write_str(name),
            Self::Enumeration { value, name: None } => write!(formatter, "{value}"),
        }
    }
}

/// Shortest text that reads back equal, always with a point; exponent form below 1.0E-5 and from 1.0E16 on.
fn real(formatter: &mut fmt::Formatter<'_>, value: f64, exponent_form: &str, plain: &str) -> fmt::Result {
    if value.is_nan() {
        return formatter.write_str("NAN");
    }
    if value.is_infinite() {
        return formatter.write_str(if value > 0.0 { "INF" } else { "-INF" });
    }
    let (digits, exponent) = exponent_form.split_once('e').unwrap_or((exponent_form, "0"));
    let power: i32 = exponent.parse().unwrap_or(0);
    if !(-5..16).contains(&power) {
        let point = if digits.contains('.') { "" } else { ".0" };
        return write!(formatter, "{digits}{point}E{power}");
    }
    let point = if plain.contains('.') { "" } else { ".0" };
    write!(formatter, "{plain}{point}")
}

fn duration(formatter: &mut fmt::Formatter<'_>, value: i64, prefix: &str) -> fmt::Result {
    write!(formatter, "{prefix}#")?;
    if value == 0 {
        return formatter.write_str("0s");
    }
    if value < 0 {
        formatter.write_char('-')?;
    }
    let mut rest = value.unsigned_abs();
    let units = [
        ("d", DAY),
        ("h", 3_600 * SECOND),
        ("m", 60 * SECOND),
        ("s", SECOND),
        ("ms", 1_000_000),
        ("us", 1_000),
        ("ns", 1),
    ];
    for (name, size) in units {
        let count = rest / size;
        rest %= size;
        if count > 0 {
            write!(formatter, "{count}{name}")?;
        }
    }
    Ok(())
}

/// Year, month and day of a number of days since 1970-01-01 in the proleptic Gregorian calendar.
///
/// Counts in eras of 400 years (146 097 days) that begin on 1 March, so that the leap day is the last of its year.
pub(crate) const fn civil_from_days(days: i64) -> (i64, i64, i64) {
    let shifted = days + 719_468;
    let era = shifted.div_euclid(146_097);
    let day_of_era = shifted.rem_euclid(146_097);
    let year_of_era = (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
    let year = year_of_era + era * 400 + if month <= 2 { 1 } else { 0 };
    (year, month, day)
}

fn date(formatter: &mut fmt::Formatter<'_>, value: i64) -> fmt::Result {
    let (year, month, day) = civil_from_days(value.div_euclid(DAY as i64));
    write!(formatter, "{year:04}-{month:02}-{day:02}")
}

fn time_of_day(formatter: &mut fmt::Formatter<'_>, value: i64) -> fmt::Result {
    let nanoseconds = value.rem_euclid(DAY as i64) as u64;
    let seconds = nanoseconds / SECOND;
    write!(formatter, "{:02}:{:02}:{:02}", seconds / 3_600, seconds / 60 % 60, seconds % 60)?;
    let fraction = nanoseconds % SECOND;
    if fraction > 0 {
        let digits = format!("{fraction:09}");
        write!(formatter, ".{}", digits.trim_end_matches('0'))?;
    }
    Ok(())
}

fn quoted(
    formatter: &mut fmt::Formatter<'_>,
    quote: char,
    codes: impl Iterator<Item = u16>,
    digits: usize,
) -> fmt::Result {
    formatter.write_char(quote)?;
    for code in codes {
        match u8::try_from(code).map(char::from) {
            Ok('$') => formatter.write_str("$$")?,
            Ok(character) if character == quote => write!(formatter, "${quote}")?,
            Ok('\n') => formatter.write_str("$L")?,
            Ok('\x0c') => formatter.write_str("$P")?,
            Ok('\r') => formatter.write_str("$R")?,
            Ok('\t') => formatter.write_str("$T")?,
            Ok(character @ ' '..='~') => formatter.write_char(character)?,
            _ => write!(formatter, "${code:0digits$X}")?,
        }
    }
    formatter.write_char(quote)
}

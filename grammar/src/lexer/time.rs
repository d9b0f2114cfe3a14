//! Durations, dates and times of day (6.3.4, 6.3.5, tables 8 and 9). All values are 64-bit nanoseconds;
//! the calendar is the proleptic Gregorian one, without leap seconds and time zones.

use super::{
    Lexer, TokenKind, Value,
    number::{integer_of, is_digit_or_underscore, underscores_are_single},
};
use crate::{diagnostic::Diagnostic, literal::Literal};

const NANOSECONDS_PER_SECOND: i128 = 1_000_000_000;
const NANOSECONDS_PER_DAY: i128 = 86_400 * NANOSECONDS_PER_SECOND;

/// The units of a duration from big to small: name, nanoseconds, and how many fit into the next bigger one.
const UNITS: [(&str, i128, u64); 7] = [
    ("d", NANOSECONDS_PER_DAY, u64::MAX),
    ("h", 3_600 * NANOSECONDS_PER_SECOND, 24),
    ("m", 60 * NANOSECONDS_PER_SECOND, 60),
    ("s", NANOSECONDS_PER_SECOND, 60),
    ("ms", 1_000_000, 1000),
    ("us", 1_000, 1000),
    ("ns", 1, 1000),
];

/// Why a literal is wrong: message and label.
type Wrong = (String, String);

fn wrong<T>(message: impl Into<String>, label: impl Into<String>) -> Result<T, Wrong> {
    Err((message.into(), label.into()))
}

/// Nanoseconds, and whether digits finer than that were lost.
struct Nanoseconds {
    value: i128,
    inexact: bool,
}

impl Lexer<'_> {
    /// A duration whose prefix and `#` have been read.
    pub(super) fn duration(&mut self, start: usize, long: bool) {
        let blank = self.blank_in_literal();
        let from = self.position();
        if matches!(self.peek(0), b'+' | b'-') {
            self.scanner.bump(1);
        }
        loop {
            self.take_while(|byte| byte.is_ascii_alphanumeric() || byte == b'_');
            if self.peek(0) == b'.' && self.peek(1) != b'.' {
                self.scanner.bump(1);
            } else {
                break;
            }
        }
        let text = self.text.get(from..self.position()).unwrap_or("").to_ascii_lowercase();
        let negative = text.starts_with('-');
        let result = if blank {
            wrong("a duration literal contains no blanks", "one literal is one word")
        } else {
            parse_duration(text.trim_start_matches(['+', '-']))
        };
        let mut nanoseconds = 0;
        match result {
            Err((message, label)) => self.error("malformed-duration", start, message, label),
            Ok(duration) => {
                let value = if negative { -duration.value } else { duration.value };
                match i64::try_from(value) {
                    Ok(value) => nanoseconds = value,
                    Err(_) => self.error(
                        "literal-out-of-range",
                        start,
                        format!("the duration `{}` is too long", self.text_of(start)),
                        "the limit is about 106751 days",
                    ),
                }
                self.warn_inexact(start, duration.inexact);
            }
        }
        self.push_value(TokenKind::TimeLiteral, start, Value::Plain(Literal::Duration { nanoseconds, long }));
    }

    fn warn_inexact(&mut self, start: usize, inexact: bool) {
        if inexact {
            let span = self.span(start, self.position());
            let message = format!("`{}` is finer than one nanosecond and is rounded", self.text_of(start));
            self.report(
                Diagnostic::warning("inexact-literal", span, message).label("times count whole nanoseconds"),
            );
        }
    }

    /// A date, time of day or date and time whose prefix and `#` have been read.
    pub(super) fn date_or_time(&mut self, start: usize, has_date: bool, has_time: bool, long: bool) {
        let blank = self.blank_in_literal();
        let from = self.position();
        loop {
            self.take_while(is_digit_or_underscore);
            let next_is_digit = self.peek(1).is_ascii_digit();
            let joins = match self.peek(0) {
                b'-' => has_date && next_is_digit,
                b':' => has_time && next_is_digit,
                b'.' => has_time && next_is_digit,
                _ => false,
            };
            if !joins {
                break;
            }
            self.scanner.bump(1);
        }
        if self.peek(0).is_ascii_alphabetic() {
            self.take_while(|byte| byte.is_ascii_alphanumeric() || byte == b'_');
        }
        let text = self.text.get(from..self.position()).unwrap_or("");
        let result = if blank {
            wrong("a date or time literal contains no blanks", "one literal is one word")
        } else {
            parse_date_or_time(text, has_date, has_time)
        };
        let mut nanoseconds = 0;
        match result {
            Err((message, label)) => self.error("malformed-date", start, message, label),
            Ok(time) => {
                match i64::try_from(time.value) {
                    Ok(value) => nanoseconds = value,
                    Err(_) => self.error(
                        "literal-out-of-range",
                        start,
                        format!("the date `{text}` is out of range"),
                        "dates reach from 1677-09-22 to 2262-04-11",
                    ),
                }
                self.warn_inexact(start, time.inexact);
            }
        }
        let literal = match (has_date, has_time) {
            (true, true) => Literal::DateAndTime { nanoseconds, long },
            (true, false) => Literal::Date { nanoseconds, long },
            _ => Literal::TimeOfDay { nanoseconds, long },
        };
        self.push_value(TokenKind::TimeLiteral, start, Value::Plain(literal));
    }

    /// Skips blanks behind the `#` of a literal when a value follows them on the same line.
    pub(super) fn blank_in_literal(&mut self) -> bool {
        let rest = self.rest();
        let behind = rest.trim_start_matches([' ', '\t']);
        let blanks = rest.len() - behind.len();
        if blanks == 0
            || !behind.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '\'' | '"'))
        {
            return false;
        }
        self.scanner.bump(blanks);
        true
    }
}

/// `1h_30m`, in small letters, without sign.
fn parse_duration(text: &str) -> Result<Nanoseconds, Wrong> {
    if text.is_empty() {
        return wrong("a duration is missing here", "expected a number and a unit, such as `5s`");
    }
    let mut rest = text;
    let mut total: i128 = 0;
    let mut inexact = false;
    let mut last_unit: Option<usize> = None;
    let mut fraction_before = false;
    while !rest.is_empty() {
        if last_unit.is_some() && rest.starts_with('_') {
            rest = rest.get(1..).unwrap_or("");
            if !rest.starts_with(|c: char| c.is_ascii_digit()) {
                return wrong(
                    "an underscore is misplaced in this duration",
                    "a single `_` may stand between two parts",
                );
            }
        }
        let number_length = rest.bytes().take_while(|b| is_digit_or_underscore(*b) || *b == b'.').count();
        let (number, behind) = rest.split_at(number_length);
        let unit_length = behind.bytes().take_while(u8::is_ascii_alphabetic).count();
        let (unit, behind) = behind.split_at(unit_length);
        rest = behind;
        let (whole, fraction) = match number.split_once('.') {
            Some((whole, fraction)) => (whole, Some(fraction)),
            None => (number, None),
        };
        if number.is_empty() {
            return wrong(
                format!("a number is missing before `{unit}`"),
                "expected a number and a unit, such as `5s`",
            );
        }
        if whole.is_empty() || fraction.is_some_and(|f| f.is_empty() || f.contains('.')) {
            return wrong("a fraction has digits on both sides of its point", "write `0.5s`, not `.5s`");
        }
        if !underscores_are_single(whole, 10) || fraction.is_some_and(|f| !underscores_are_single(f, 10)) {
            return wrong(
                "an underscore is misplaced in this duration",
                "a single `_` may stand between two digits or two parts",
            );
        }
        if unit.is_empty() {
            return wrong(
                format!("the unit is missing behind `{number}`"),
                "the units are `d`, `h`, `m`, `s`, `ms`, `us`, `ns`",
            );
        }
        let Some(place) = UNITS.iter().position(|(name, ..)| *name == unit) else {
            return wrong(
                format!("`{unit}` is not a unit of time"),
                "the units are `d`, `h`, `m`, `s`, `ms`, `us`, `ns`",
            );
        };
        let (name, nanoseconds, limit) = UNITS[place]; // `place` is a position in `UNITS`.
        if let Some(last) = last_unit {
            if place == last {
                return wrong(format!("the unit `{name}` occurs twice"), "each unit stands at most once");
            }
            if place < last {
                return wrong(
                    format!("`{name}` stands behind a smaller unit"),
                    "units go from big to small: `d`, `h`, `m`, `s`, `ms`, `us`, `ns`",
                );
            }
        }
        if fraction_before {
            return wrong(
                "only the last part of a duration may have a fraction",
                "the part before this has one",
            );
        }
        let Some(count) = integer_of(whole, 10) else {
            return wrong("this number is too big for a duration", "the limit is about 106751 days");
        };
        if last_unit.is_some() && count >= limit {
            return wrong(
                format!("`{number}{unit}` is too big behind a bigger unit"),
                format!("only the first part may be that big; here `{name}` stays below {limit}"),
            );
        }
        // Fits: below 2^64 * 2^47.
        total += i128::from(count) * nanoseconds;
        if let Some(fraction) = fraction {
            let part = fraction_of(fraction, nanoseconds, total % 2 == 1);
            total += part.value;
            inexact |= part.inexact;
            fraction_before = true;
        }
        last_unit = Some(place);
    }
    Ok(Nanoseconds { value: total, inexact })
}

/// The value of digits behind a point in a unit of `nanoseconds`, rounded so that the sum with what stands
/// before the point, odd or not, is the even one of two that are equally near.
fn fraction_of(digits: &str, nanoseconds: i128, before_is_odd: bool) -> Nanoseconds {
    // 18 digits keep the product below 2^127; later ones only decide ties.
    const KEPT: u32 = 18;
    let mut numerator: i128 = 0;
    let mut denominator: i128 = 1;
    let mut rest_is_zero = true;
    for (index, digit) in digits.bytes().filter(u8::is_ascii_digit).enumerate() {
        if index < KEPT as usize {
            numerator = numerator * 10 + i128::from(digit - b'0');
            denominator *= 10;
        } else if digit != b'0' {
            rest_is_zero = false;
        }
    }
    let product = numerator * nanoseconds;
    let mut value = product / denominator;
    let remainder = product % denominator;
    let twice = remainder * 2;
    if twice > denominator || (twice == denominator && (!rest_is_zero || (value % 2 == 1) != before_is_odd)) {
        value += 1;
    }
    Nanoseconds { value, inexact: remainder != 0 || !rest_is_zero }
}

fn parse_date_or_time(text: &str, has_date: bool, has_time: bool) -> Result<Nanoseconds, Wrong> {
    let form = match (has_date, has_time) {
        (true, true) => "expected year-month-day-hour:minute:second, such as `2026-03-01-08:30:00`",
        (true, false) => "expected year-month-day, such as `2026-03-01`",
        _ => "expected hour:minute:second, such as `08:30:00`",
    };
    let malformed = || wrong("this date or time is not complete or not well formed", form);
    let mut time_text = text;
    let mut value: i128 = 0;
    if has_date {
        let mut parts = text.splitn(4, '-');
        let (Some(year), Some(month), Some(day)) = (parts.next(), parts.next(), parts.next()) else {
            return malformed();
        };
        let behind = parts.next();
        if behind.is_some() != has_time {
            return malformed();
        }
        time_text = behind.unwrap_or("");
        let (Some(year), Some(month), Some(day)) = (field(year, 4, 4), field(month, 1, 2), field(day, 1, 2))
        else {
            return malformed();
        };
        if !(1..=12).contains(&month) {
            return wrong(format!("there is no month {month}"), "months are 1 to 12");
        }
        let length = month_length(year, month);
        if !(1..=length).contains(&day) {
            return wrong(
                format!("there is no day {day} in month {month} of {year}"),
                format!("that month has {length} days"),
            );
        }
        value += i128::from(days_from_1970(year, month, day)) * NANOSECONDS_PER_DAY;
    }
    let mut inexact = false;
    if has_time {
        let mut parts = time_text.split(':');
        let (Some(hour), Some(minute), Some(second), None) =
            (parts.next(), parts.next(), parts.next(), parts.next())
        else {
            return malformed();
        };
        let (second, fraction) = match second.split_once('.') {
            Some((second, fraction)) => (second, Some(fraction)),
            None => (second, None),
        };
        let (Some(hour), Some(minute), Some(second)) =
            (field(hour, 1, 2), field(minute, 1, 2), field(second, 1, 2))
        else {
            return malformed();
        };
        if fraction.is_some_and(|f| f.is_empty() || f.contains('.') || !underscores_are_single(f, 10)) {
            return malformed();
        }
        if hour > 23 {
            return wrong(format!("there is no hour {hour}"), "hours are 0 to 23");
        }
        if minute > 59 {
            return wrong(format!("there is no minute {minute}"), "minutes are 0 to 59");
        }
        if second > 59 {
            return wrong(format!("there is no second {second}"), "seconds are 0 to 59");
        }
        value += i128::from((hour * 60 + minute) * 60 + second) * NANOSECONDS_PER_SECOND;
        if let Some(fraction) = fraction {
            let part = fraction_of(fraction, NANOSECONDS_PER_SECOND, false);
            value += part.value;
            inexact = part.inexact;
            if !has_date && value >= NANOSECONDS_PER_DAY {
                // Rounding must not leave the day.
                value = NANOSECONDS_PER_DAY - 1;
            }
        }
    }
    Ok(Nanoseconds { value, inexact })
}

/// A number of `least` to `most` digits.
fn field(text: &str, least: usize, most: usize) -> Option<i64> {
    let well_formed = (least..=most).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    if well_formed { text.parse().ok() } else { None }
}

fn month_length(year: i64, month: i64) -> i64 {
    match month {
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// Days from 1970-01-01 of the proleptic Gregorian calendar: whole 400-year cycles, then the day within one,
/// counting years from 1 March so that the leap day comes last.
fn days_from_1970(year: i64, month: i64, day: i64) -> i64 {
    const DAYS_PER_CYCLE: i64 = 146_097;
    /// From 0000-03-01 to 1970-01-01.
    const DAYS_TO_1970: i64 = 719_468;
    let year = if month <= 2 { year - 1 } else { year };
    let cycle = year.div_euclid(400);
    let year_of_cycle = year.rem_euclid(400);
    let months_since_march = (month + 9) % 12;
    let day_of_year = (153 * months_since_march + 2) / 5 + day - 1;
    let day_of_cycle = year_of_cycle * 365 + year_of_cycle / 4 - year_of_cycle / 100 + day_of_year;
    cycle * DAYS_PER_CYCLE + day_of_cycle - DAYS_TO_1970
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_follow_one_another_through_every_month_and_leap_year() {
        let mut expected = days_from_1970(1600, 1, 1);
        for year in 1600..2300 {
            for month in 1..=12 {
                for day in 1..=month_length(year, month) {
                    assert_eq!(days_from_1970(year, month, day), expected, "{year}-{month}-{day}");
                    expected += 1;
                }
            }
        }
        assert_eq!(days_from_1970(1970, 1, 1), 0);
        assert_eq!(days_from_1970(2000, 3, 1), 11_017);
    }

    #[test]
    fn fractions_round_half_to_even() {
        let value = |digits: &str, unit: i128| fraction_of(digits, unit, false).value;
        assert_eq!(value("5", 1), 0);
        assert_eq!(value("50000000000000000000000001", 1), 1);
        assert_eq!(value("5", 3), 2);
        assert_eq!(fraction_of("5", 1, true).value, 1);
        assert_eq!(fraction_of("5", 3, true).value, 1);
        assert_eq!(value("1", 1), 0);
        assert_eq!(value("7", 1_000_000_000), 700_000_000);
        assert_eq!(value("999999999999999999999", NANOSECONDS_PER_DAY), NANOSECONDS_PER_DAY);
    }
}

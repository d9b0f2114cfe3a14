//! What a text stands for as a duration, a date or a time of day.
//!
//! Source: IEC 61131-3:2013, Tables 8 and 9. The text has the prefix of the wanted type, as in a source text, where
//! without it `5s` or `2024-02-29` is no literal. Parts finer than a nanosecond are rounded to the nearest, halves
//! to the even one.

use latchwork_vm::ElementaryType;

use super::{
    calendar::days,
    time_natives::NANOSECONDS_A_DAY,
    value_of_text::{are_digits, integer},
};

const SECOND: i128 = 1_000_000_000;
const DAY: i128 = NANOSECONDS_A_DAY as i128;

/// The units of a duration from big to small: name, nanoseconds, and how many make the next bigger one.
const UNITS: [(&str, i128, u64); 7] = [
    ("d", DAY, u64::MAX),
    ("h", 3_600 * SECOND, 24),
    ("m", 60 * SECOND, 60),
    ("s", SECOND, 60),
    ("ms", 1_000_000, 1_000),
    ("us", 1_000, 1_000),
    ("ns", 1, 1_000),
];

/// The nanoseconds of a literal of a duration, date, time of day, or date and time; `None` if the text is none of
/// this type, or 64 bits do not hold it.
pub(super) fn nanoseconds(text: &str, kind: ElementaryType) -> Option<i64> {
    use ElementaryType as T;
    let (prefix, text) = text.split_once('#')?;
    let short = match kind {
        T::Time => Some("T"),
        T::Ltime => Some("LT"),
        T::Date => Some("D"),
        T::Ldate => Some("LD"),
        _ => None,
    };
    let is_short = short.is_some_and(|short| prefix.eq_ignore_ascii_case(short));
    if !is_short && ElementaryType::from_name(prefix) != Some(kind) {
        return None;
    }
    let value = match kind {
        T::Time | T::Ltime => {
            let (negative, text) = match text.strip_prefix('-') {
                Some(text) => (true, text),
                None => (false, text.strip_prefix('+').unwrap_or(text)),
            };
            let value = duration(&text.to_ascii_lowercase())?;
            if negative { -value } else { value }
        }
        T::Date | T::Ldate => date(text)?,
        T::TimeOfDay | T::LtimeOfDay => time_of_day(text)?.min(DAY - 1), // Rounding does not leave the day.
        _ => {
            // The third hyphen stands between date and time.
            let (at, _) = text.match_indices('-').nth(2)?;
            date(text.get(..at)?)? + time_of_day(text.get(at + 1..)?)?
        }
    };
    i64::try_from(value).ok()
}

/// `1d_2h30m`, in small letters, without sign.
fn duration(text: &str) -> Option<i128> {
    let mut rest = text;
    let mut total = 0;
    let mut last: Option<usize> = None;
    loop {
        let number_end = rest.find(|c: char| c.is_ascii_lowercase())?;
        let (number, behind) = rest.split_at(number_end);
        let unit_end = behind.find(|c: char| !c.is_ascii_lowercase()).unwrap_or(behind.len());
        let (unit, behind) = behind.split_at(unit_end);
        let place = UNITS.iter().position(|(name, ..)| *name == unit)?;
        let (_, size, limit) = UNITS[place]; // `place` is a position in `UNITS`.
        let (whole, fraction) = match number.split_once('.') {
            Some((whole, fraction)) => (whole, Some(fraction)),
            None => (number, None),
        };
        let count = integer(whole, 10)?;
        if last.is_some_and(|last| place <= last || count >= limit) {
            return None;
        }
        // Below 2^64 * 2^47, and at most seven of them.
        total += i128::from(count) * size;
        if let Some(fraction) = fraction {
            // Only the last part has one.
            return if behind.is_empty() { with_fraction(total, fraction, size) } else { None };
        }
        if behind.is_empty() {
            return Some(total);
        }
        last = Some(place);
        rest = behind.strip_prefix('_').unwrap_or(behind);
    }
}

/// A whole number of nanoseconds and the digits behind the point in units of `size` nanoseconds; of two sums that
/// are equally near the even one.
fn with_fraction(whole: i128, digits: &str, size: i128) -> Option<i128> {
    // So many digits keep the product below 2^127; later ones only tell whether a half is more than a half.
    const KEPT: usize = 18;
    if !are_digits(digits, 10) {
        return None;
    }
    let mut numerator = 0_i128;
    let mut denominator = 1_i128;
    let mut more = false;
    for (index, digit) in digits.bytes().filter(u8::is_ascii_digit).enumerate() {
        if index < KEPT {
            numerator = numerator * 10 + i128::from(digit - b'0');
            denominator *= 10;
        } else {
            more |= digit != b'0';
        }
    }
    let product = numerator * size;
    let sum = whole + product / denominator;
    let twice = product % denominator * 2;
    let up = twice > denominator || (twice == denominator && (more || sum % 2 == 1));
    Some(sum + i128::from(up))
}

/// `2024-02-29` as nanoseconds since 1970-01-01.
fn date(text: &str) -> Option<i128> {
    let mut parts = text.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() {
        return None;
    }
    let days = days(field(year, 4, 4)?, field(month, 1, 2)?, field(day, 1, 2)?)?;
    Some(i128::from(days) * DAY)
}

/// `13:14:15.678` as nanoseconds since midnight; rounding may reach the next midnight.
fn time_of_day(text: &str) -> Option<i128> {
    let mut parts = text.split(':');
    let (hour, minute, second) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() {
        return None;
    }
    let (second, fraction) = match second.split_once('.') {
        Some((second, fraction)) => (second, fraction),
        None => (second, "0"),
    };
    let mut whole = 0;
    for (part, limit) in [(hour, 24), (minute, 60), (second, 60)] {
        let value = field(part, 1, 2).filter(|value| *value < limit)?;
        whole = whole * 60 + i128::from(value);
    }
    with_fraction(whole * SECOND, fraction, SECOND)
}

/// A number of `least` to `most` digits.
fn field(text: &str, least: usize, most: usize) -> Option<i64> {
    let well_formed = (least..=most).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    if well_formed { text.parse().ok() } else { None }
}

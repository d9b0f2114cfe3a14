//! How values are written as texts and read from them, in words.
//!
//! The literals shown are made by the machine's own way to write values, so that they are what a program gets.

use latchwork_vm::{ElementaryType, ElementaryType as T, Value};

/// A morning in March, in nanoseconds since 1970.
const MORNING: i64 = (20_513 * 86_400 + 6 * 3_600 + 30 * 60) * 1_000_000_000;
const DAY: i64 = 86_400_000_000_000;

/// A time as a literal of its type.
fn literal(ty: ElementaryType, nanoseconds: i64) -> String {
    match ty {
        T::Date | T::Ldate => Value::Date(nanoseconds - nanoseconds.rem_euclid(DAY), ty),
        T::TimeOfDay | T::LtimeOfDay => Value::TimeOfDay(nanoseconds.rem_euclid(DAY), ty),
        T::DateAndTime | T::LdateAndTime => Value::DateAndTime(nanoseconds, ty),
        _ => Value::Duration(nanoseconds, ty),
    }
    .to_string()
}

/// How a value is written as a text.
pub(super) fn written(from: ElementaryType, to: ElementaryType) -> String {
    match from {
        T::Bool => "The text TRUE or FALSE.".to_owned(),
        T::Wchar if to == T::String => {
            "A text of this one character. One that STRING does not have: a question mark, event.".to_owned()
        }
        T::Char | T::Wchar => "A text of this one character.".to_owned(),
        T::Wstring => {
            "The same characters. Those that STRING does not have: question marks, one event.".to_owned()
        }
        T::String => "The same characters.".to_owned(),
        _ if from.is_bit() => {
            format!("All bits as hexadecimal digits: {}.", Value::Bits(0xAF, from))
        }
        _ if from.is_integer() => {
            "The decimal digits, behind a minus sign where the number is negative: 12, -12.".to_owned()
        }
        _ if from.is_real() => {
            "The shortest number that reads back as the same value, always with a point: 0.1, 1.0E21; otherwise INF, \
             -INF, NAN."
                .to_owned()
        }
        _ if from.is_duration() => format!(
            "The literal, without the parts that are 0: {}, {}.",
            literal(from, 93_784_005_000_000),
            literal(from, 0)
        ),
        T::Date | T::Ldate => format!("The literal: {}.", literal(from, MORNING)),
        _ => format!(
            "The literal: {}; with a fraction of a second only where it is not 0.",
            literal(from, MORNING)
        ),
    }
}

/// How a value is read from a text.
pub(super) fn read(from: ElementaryType, to: ElementaryType) -> String {
    if to.is_char() {
        let missing = if from == T::Wstring && to == T::Char {
            " One that CHAR does not have: a question mark, event."
        } else {
            ""
        };
        return format!("The first character.{missing} Empty text: the character with the code 0, event.");
    }
    let (what, default) = match to {
        T::Bool => ("TRUE, FALSE, 1 or 0".to_owned(), "FALSE".to_owned()),
        _ if to.is_duration() => {
            (format!("a duration such as {}", literal(to, 90_000_000_000)), literal(to, 0))
        }
        _ if to.is_date() => (format!("a literal such as {}", literal(to, MORNING)), literal(to, 0)),
        _ => (format!("a literal of {}, with or without {0}# in front", to.name()), "0".to_owned()),
    };
    format!(
        "Reads {what}, as in the text of a program; blanks around it do not matter. Any other text, and a value that \
         {} does not have: {default}, event.",
        to.name()
    )
}

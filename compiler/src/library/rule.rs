//! What a conversion does with a value, in words.
//!
//! Source: IEC 61131-3:2013, Tables 22 to 27. The words follow the rule that the table of conversions gives for the
//! pair of types, so that they cannot say anything else than the program does.

use latchwork_stdlib::{ConversionRule, conversion, implicitly_converts};
use latchwork_vm::ElementaryType;

use super::text_rule;

/// The rule of a pair; `None` if there is no such conversion, or none with words of its own.
pub(super) fn rule(from: ElementaryType, to: ElementaryType, truncate: bool) -> Option<String> {
    let rule = conversion(from, to, truncate)?;
    let bits = |ty: ElementaryType| ty.size().unwrap_or(0) * 8;
    let words = match rule {
        _ if truncate => format!(
            "The fraction is cut off, towards zero. Outside {to}: the nearest limit of {to}, event. NaN: 0, event.",
            to = to.name()
        ),
        _ if from == to => "The value as it is.".to_owned(),
        ConversionRule::Instruction(..) if from.is_real() && to.is_integer() => format!(
            "Rounded to the nearest integer, halves to the even one (2.5 gives 2, 3.5 gives 4). Outside {to}: the \
             nearest limit of {to}, event. NaN: 0, event.",
            to = to.name()
        ),
        ConversionRule::Instruction(..) if from.is_integer() && to.is_integer() => {
            if implicitly_converts(from, to) {
                "The same number; every value fits.".to_owned()
            } else {
                format!("The same number. Outside {to}: its low {} bits, event.", bits(to), to = to.name())
            }
        }
        ConversionRule::Instruction(..)
            if to.is_real() && (from.is_number() || from == ElementaryType::Bool) =>
        {
            if from == ElementaryType::Bool {
                "FALSE gives 0.0, TRUE gives 1.0.".to_owned()
            } else if implicitly_converts(from, to) {
                "The same number; every value fits.".to_owned()
            } else if from.is_real() {
                "Rounded to the nearest REAL. Too large: infinity, event.".to_owned()
            } else {
                format!("The nearest {}; long numbers lose their last digits.", to.name())
            }
        }
        ConversionRule::Copy(_) | ConversionRule::Instruction(..) if from == ElementaryType::Bool => {
            "FALSE gives 0, TRUE gives 1.".to_owned()
        }
        ConversionRule::LowestBit => {
            "The rightmost bit: TRUE for an odd number, FALSE for an even one.".to_owned()
        }
        ConversionRule::Copy(_) if from.is_real() || to.is_real() => {
            "Binary transfer: the bits of the IEC 60559 form as they are, not the number.".to_owned()
        }
        ConversionRule::Copy(_) if from.is_duration() || from.is_date() => {
            "The same time: both types hold nanoseconds, so that nothing is lost.".to_owned()
        }
        ConversionRule::Copy(_) | ConversionRule::Instruction(..) => {
            let how = match bits(from).cmp(&bits(to)) {
                std::cmp::Ordering::Less => {
                    format!("; the {} bits at the left become 0", bits(to) - bits(from))
                }
                std::cmp::Ordering::Equal => String::new(),
                std::cmp::Ordering::Greater => {
                    format!("; the {} bits at the left are cut off", bits(from) - bits(to))
                }
            };
            let sign = if to.is_signed() && bits(from) == bits(to) {
                "; the leftmost bit becomes the sign"
            } else if to.is_signed() && bits(from) < bits(to) {
                ", so that the result is never negative"
            } else {
                ""
            };
            format!("Binary transfer: the bits as they are, aligned at the right{how}{sign}. Never an error.")
        }
        ConversionRule::Native("DT_TO_DATE") => "The day of the moment.".to_owned(),
        ConversionRule::Native("DT_TO_TOD") => "The time of day of the moment.".to_owned(),
        ConversionRule::Native("WCHAR_TO_CHAR") => {
            "The same character. One that CHAR does not have: a question mark, event.".to_owned()
        }
        ConversionRule::Text { .. } => text_rule::written(from, to),
        ConversionRule::Native(_) if from.is_string() => text_rule::read(from, to),
        ConversionRule::Native(_) => return None,
    };
    Some(if implicitly_converts(from, to) && from != to && !truncate {
        format!(
            "{words} The conversion is implicit too: {} may stand where {} is wanted.",
            from.name(),
            to.name()
        )
    } else {
        words
    })
}

//! Words of a diagram: headings of rows, values as text, and text made harmless for a terminal or a file.
//!
//! Knows the roles of rows and the standard's literals, nothing of time or of any output form.

use latchwork_vm::value::Value;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::recording::{Contact, Role};

/// Longest text kept of a name, a title or a value, in columns; longer ones end in "…". Keeps a picture of
/// hostile or broken names small.
const TEXT_COLUMNS_MAX: usize = 200;

/// `text` without anything that could move a cursor, change the writing direction or hide characters: each
/// such character becomes "?". At most 200 columns are kept.
pub fn harmless(text: &str) -> String {
    let mut clean = String::new();
    let mut columns = 0;
    for character in text.chars() {
        let character = if is_harmless(character) { character } else { '?' };
        columns += character.width().unwrap_or(1);
        if columns >= TEXT_COLUMNS_MAX {
            clean.push('…');
            break;
        }
        clean.push(character);
    }
    clean
}

/// As [`harmless`], of any length: for texts of which the parts from outside are short already.
pub(crate) fn harmless_whole(text: &str) -> String {
    text.chars().map(|character| if is_harmless(character) { character } else { '?' }).collect()
}

/// Whether a character shows as itself and takes up room.
fn is_harmless(character: char) -> bool {
    let combines = matches!(character, '\u{0300}'..='\u{036F}');
    let steers = matches!(character,
        '\u{061C}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}'
        | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{FFF9}'..='\u{FFFF}' | '\u{E0000}'..='\u{E0FFF}');
    !character.is_control() && !steers && (combines || character.width().is_some_and(|width| width > 0))
}

/// `text` in at most `columns` columns; a cut text ends in `mark` (one column wide).
pub fn crop(text: &str, columns: usize, mark: char) -> String {
    if text.width() <= columns {
        return text.to_owned();
    }
    let mut cropped = String::new();
    let mut used = 0;
    for character in text.chars() {
        let width = character.width().unwrap_or(0);
        if used + width + 1 > columns {
            break;
        }
        cropped.push(character);
        used += width;
    }
    if columns > 0 {
        cropped.push(mark);
    }
    cropped
}

/// The value as a person reads it in a diagram: the standard's literal, an enumeration by its value's name.
pub fn value_text(value: &Value) -> String {
    harmless(&value.to_string())
}

/// The value as a number, if its type has an order worth drawing; durations in nanoseconds. NaN and the
/// infinities are returned as they are.
pub fn value_number(value: &Value) -> Option<f64> {
    match value {
        Value::Bool(level) => Some(f64::from(u8::from(*level))),
        // Drawing needs no more than the 53 bits that remain.
        Value::Signed(number, _) | Value::Duration(number, _) => Some(*number as f64),
        Value::Unsigned(number, _) => Some(*number as f64),
        Value::Real(number) => Some(f64::from(*number)),
        Value::Lreal(number) => Some(*number),
        _ => None,
    }
}

/// The data type of a value, in the standard's keyword where it has one.
pub fn type_word(value: &Value) -> &'static str {
    match value {
        Value::Bool(_) => "BOOL",
        Value::Signed(_, kind)
        | Value::Unsigned(_, kind)
        | Value::Bits(_, kind)
        | Value::Duration(_, kind)
        | Value::Date(_, kind)
        | Value::TimeOfDay(_, kind)
        | Value::DateAndTime(_, kind) => kind.name(),
        Value::Real(_) => "REAL",
        Value::Lreal(_) => "LREAL",
        Value::Char(_) => "CHAR",
        Value::Wchar(_) => "WCHAR",
        Value::String(_) => "STRING",
        Value::WideString(_) => "WSTRING",
        Value::Enumeration { .. } => "enumeration",
    }
}

/// What stands beside a row.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Heading {
    /// The row's name.
    pub name: String,
    /// The word for its role: "device", "terminal", "output", "plant", "variable".
    pub role: &'static str,
    /// What else is to be said of it, most important first: "NC", "open wire", "%IX0.1", "°C", "INT".
    pub details: Vec<String>,
    /// The word for the upper level of a two-state row; the highest value of a number.
    pub high: String,
    /// The word for the lower level; the lowest value of a number.
    pub low: String,
    /// The engineering unit of a number.
    pub unit: Option<String>,
}

/// The heading of a row. `device_above` tells that the row just above is the device wired to this terminal.
pub fn heading(
    role: &Role,
    name: &str,
    location: Option<&str>,
    value: Option<&Value>,
    device_above: bool,
) -> Heading {
    let mut heading = Heading { name: harmless(name), ..Heading::default() };
    let two_state = matches!(value, Some(Value::Bool(_)) | None);
    if two_state {
        heading.high = "TRUE".to_owned();
        heading.low = "FALSE".to_owned();
    }
    // A nameless located variable has its address for a name already.
    let address = location.filter(|location| !location.eq_ignore_ascii_case(name)).map(harmless);
    let type_if_number = value.filter(|_| !two_state).map(|value| type_word(value).to_owned());
    match role {
        Role::Device { actuated, contact, unit, fault } => {
            heading.role = "device";
            heading.details.extend(contact.map(|contact| contact_word(contact).to_owned()));
            heading.details.extend(fault.as_deref().map(harmless));
            heading.unit = unit.as_deref().map(harmless);
            heading.details.extend(heading.unit.clone());
            if two_state {
                heading.high = harmless(actuated);
                heading.low = "at rest".to_owned();
            }
        }
        Role::Terminal { device } => {
            heading.role = "terminal";
            heading.details.extend(address);
            heading.details.extend(type_if_number);
            if !device_above {
                heading.details.extend(device.as_deref().map(|device| format!("from {}", harmless(device))));
            }
        }
        Role::Output { load, unit } => {
            heading.role = "output";
            heading.details.extend(address);
            heading.unit = unit.as_deref().map(harmless);
            heading.details.extend(heading.unit.clone());
            heading.details.extend(load.as_deref().map(harmless));
            heading.details.extend(type_if_number);
        }
        Role::Input => {
            heading.role = "input";
            heading.details.extend(value.map(|value| type_word(value).to_owned()));
        }
        Role::Plant => {
            heading.role = "plant";
            heading.details.extend(value.map(|value| type_word(value).to_owned()));
        }
        Role::Variable => {
            heading.role = "variable";
            heading.details.extend(value.map(|value| type_word(value).to_owned()));
            heading.details.extend(address);
        }
    }
    heading
}

/// The trade's abbreviation of a contact form.
fn contact_word(contact: Contact) -> &'static str {
    match contact {
        Contact::NormallyOpen => "NO",
        Contact::NormallyClosed => "NC",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steering_characters_become_visible() {
        assert_eq!(harmless("a\u{1b}[2Jb\u{7}\u{202E}c\u{200B}"), "a?[2Jb??c?");
        assert_eq!(harmless("Zisterne Süd 水"), "Zisterne Süd 水");
        assert_eq!(harmless(&"x".repeat(1_000)).chars().count(), TEXT_COLUMNS_MAX);
    }

    #[test]
    fn cropping_counts_columns_not_characters() {
        assert_eq!(crop("水水水", 5, '…'), "水水…");
        assert_eq!(crop("水水水", 4, '…'), "水…");
        assert_eq!(crop("Reservoir", 5, '…'), "Rese…");
        assert_eq!(crop("Reservoir", 0, '…'), "");
        assert_eq!(crop("Pump", 4, '…'), "Pump");
    }
}

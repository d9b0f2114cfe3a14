//! Types and literals in words, for messages about cells.

use latchwork_grammar::{Literal, tree};
use latchwork_vm::ElementaryType;

use super::cell::CellType;
use crate::nearest::alternatives;

/// "a value of type INT"
pub(super) fn article(kind: &CellType) -> String {
    format!("a value of type {}", kind_name(kind))
}

/// The name of the type.
pub(crate) fn kind_name(kind: &CellType) -> String {
    match kind {
        CellType::Elementary(kind) => kind.name().to_string(),
        CellType::Text { wide: false, capacity } => format!("STRING[{capacity}]"),
        CellType::Text { wide: true, capacity } => format!("WSTRING[{capacity}]"),
        CellType::Enumeration { name, .. } => name.clone(),
    }
}

/// A sentence that says what to write.
pub(super) fn expected(kind: &CellType) -> String {
    use ElementaryType as T;
    let form = match kind {
        CellType::Elementary(kind) => match kind {
            T::Bool => "TRUE, FALSE, 1 or 0",
            T::Byte | T::Word | T::Dword | T::Lword => "a number without sign such as 255 or 16#FF",
            T::Real | T::Lreal => "a number such as 2.5, with a point, or 1.0E-3",
            T::Time => "a duration such as T#1s500ms",
            T::Ltime => "a duration such as LTIME#1s500ms20us",
            T::Date => "a date such as D#2024-02-29",
            T::Ldate => "a date such as LDATE#2024-02-29",
            T::TimeOfDay => "a time of day such as TOD#13:14:15.5",
            T::LtimeOfDay => "a time of day such as LTOD#13:14:15.5",
            T::DateAndTime => "a date and time such as DT#2024-02-29-13:14:15",
            T::LdateAndTime => "a date and time such as LDT#2024-02-29-13:14:15",
            T::Char => "one character such as 'A'",
            T::Wchar => {
                "one character such as \"\"\"A\"\"\" (a quotation mark within a quoted cell is written twice)"
            }
            T::String | T::Wstring => "text",
            _ if kind.is_signed() => "a whole number such as -5, or 16#FF",
            _ => "a whole number without sign such as 5, or 16#FF",
        },
        CellType::Text { wide: false, .. } => "text between apostrophes such as 'seedlings'",
        CellType::Text { wide: true, .. } => {
            "text such as \"\"\"seedlings\"\"\" (a quotation mark within a quoted cell is written twice)"
        }
        CellType::Enumeration { values, .. } => {
            let known: Vec<&str> = values.iter().take(12).map(|(name, _)| name.as_str()).collect();
            return format!("write {}", alternatives(&known));
        }
    };
    format!("write {form}; an empty cell leaves the value as it is")
}

/// What a literal is, in words.
pub(super) fn literal_name(literal: &Literal) -> &'static str {
    match literal {
        Literal::Boolean(_) => "a BOOL",
        Literal::Integer(_) => "a whole number",
        Literal::Real { .. } => "a number with a point",
        Literal::String(_) => "text between apostrophes",
        Literal::WideString(_) => "text between quotation marks",
        Literal::Duration { long: false, .. } => "a duration",
        Literal::Duration { long: true, .. } => "a duration of type LTIME",
        Literal::Date { long: false, .. } => "a date",
        Literal::Date { long: true, .. } => "a date of type LDATE",
        Literal::TimeOfDay { long: false, .. } => "a time of day",
        Literal::TimeOfDay { long: true, .. } => "a time of day of type LTIME_OF_DAY",
        Literal::DateAndTime { long: false, .. } => "a date and time",
        Literal::DateAndTime { long: true, .. } => "a date and time of type LDATE_AND_TIME",
    }
}

/// The machine's name of an elementary type of the grammar.
pub(super) fn machine_type(kind: tree::ElementaryType) -> ElementaryType {
    use tree::ElementaryType as G;
    match kind {
        G::Bool => ElementaryType::Bool,
        G::Byte => ElementaryType::Byte,
        G::Word => ElementaryType::Word,
        G::Dword => ElementaryType::Dword,
        G::Lword => ElementaryType::Lword,
        G::Sint => ElementaryType::Sint,
        G::Int => ElementaryType::Int,
        G::Dint => ElementaryType::Dint,
        G::Lint => ElementaryType::Lint,
        G::Usint => ElementaryType::Usint,
        G::Uint => ElementaryType::Uint,
        G::Udint => ElementaryType::Udint,
        G::Ulint => ElementaryType::Ulint,
        G::Real => ElementaryType::Real,
        G::Lreal => ElementaryType::Lreal,
        G::Time => ElementaryType::Time,
        G::Ltime => ElementaryType::Ltime,
        G::Date => ElementaryType::Date,
        G::Ldate => ElementaryType::Ldate,
        G::TimeOfDay => ElementaryType::TimeOfDay,
        G::LtimeOfDay => ElementaryType::LtimeOfDay,
        G::DateAndTime => ElementaryType::DateAndTime,
        G::LdateAndTime => ElementaryType::LdateAndTime,
        G::Char => ElementaryType::Char,
        G::Wchar => ElementaryType::Wchar,
    }
}

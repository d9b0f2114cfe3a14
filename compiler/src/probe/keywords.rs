//! The keyword of an elementary type, as trees have it.

use latchwork_grammar::tree::ElementaryType as Written;
use latchwork_vm::ElementaryType;

/// The keyword of an elementary type; `None` for the strings, which have a length.
pub(super) const fn keyword(kind: ElementaryType) -> Option<Written> {
    Some(match kind {
        ElementaryType::Bool => Written::Bool,
        ElementaryType::Byte => Written::Byte,
        ElementaryType::Word => Written::Word,
        ElementaryType::Dword => Written::Dword,
        ElementaryType::Lword => Written::Lword,
        ElementaryType::Sint => Written::Sint,
        ElementaryType::Int => Written::Int,
        ElementaryType::Dint => Written::Dint,
        ElementaryType::Lint => Written::Lint,
        ElementaryType::Usint => Written::Usint,
        ElementaryType::Uint => Written::Uint,
        ElementaryType::Udint => Written::Udint,
        ElementaryType::Ulint => Written::Ulint,
        ElementaryType::Real => Written::Real,
        ElementaryType::Lreal => Written::Lreal,
        ElementaryType::Time => Written::Time,
        ElementaryType::Ltime => Written::Ltime,
        ElementaryType::Date => Written::Date,
        ElementaryType::Ldate => Written::Ldate,
        ElementaryType::TimeOfDay => Written::TimeOfDay,
        ElementaryType::LtimeOfDay => Written::LtimeOfDay,
        ElementaryType::DateAndTime => Written::DateAndTime,
        ElementaryType::LdateAndTime => Written::LdateAndTime,
        ElementaryType::Char => Written::Char,
        ElementaryType::Wchar => Written::Wchar,
        ElementaryType::String | ElementaryType::Wstring => return None,
    })
}

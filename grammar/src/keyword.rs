//! The one table of reserved words (IEC 61131-3:2013, 6.1.3 and annex A).
//!
//! Context words, such as the operators of Instruction List, the action qualifiers and the literal prefixes,
//! are not here: outside their place they are ordinary identifiers, since the standard's own function
//! blocks have inputs named `S`, `R` and `LD`. Must not know of anything but token kinds.

use crate::{lexer::TokenKind, tree::ElementaryType};

/// A reserved word, the token it makes, and for the elementary types their number.
type Entry = (&'static str, TokenKind);

macro_rules! keyword_table {
    ($($text:literal => $kind:ident,)*) => {
        /// Every reserved word in capital letters with its token.
        pub(crate) static KEYWORDS: &[Entry] = &[$(($text, TokenKind::$kind),)*];
        const COUNT: usize = [$($text,)*].len();
        const TEXTS: [&str; COUNT] = [$($text,)*];
    };
}

keyword_table! {
    // Program organization units and file structure
    "PROGRAM" => Program, "END_PROGRAM" => EndProgram,
    "FUNCTION" => Function, "END_FUNCTION" => EndFunction,
    "FUNCTION_BLOCK" => FunctionBlock, "END_FUNCTION_BLOCK" => EndFunctionBlock,
    "CLASS" => Class, "END_CLASS" => EndClass,
    "METHOD" => Method, "END_METHOD" => EndMethod,
    "INTERFACE" => Interface, "END_INTERFACE" => EndInterface,
    "NAMESPACE" => Namespace, "END_NAMESPACE" => EndNamespace,
    "USING" => Using,
    "TYPE" => Type, "END_TYPE" => EndType,
    "STRUCT" => Struct, "END_STRUCT" => EndStruct,
    "CONFIGURATION" => Configuration, "END_CONFIGURATION" => EndConfiguration,
    "RESOURCE" => Resource, "END_RESOURCE" => EndResource,
    // Variable sections
    "VAR" => Var, "VAR_INPUT" => VarInput, "VAR_OUTPUT" => VarOutput, "VAR_IN_OUT" => VarInOut,
    "VAR_TEMP" => VarTemp, "VAR_EXTERNAL" => VarExternal, "VAR_GLOBAL" => VarGlobal,
    "VAR_ACCESS" => VarAccess, "VAR_CONFIG" => VarConfig, "END_VAR" => EndVar,
    "CONSTANT" => Constant, "RETAIN" => Retain, "NON_RETAIN" => NonRetain,
    "AT" => At, "OF" => Of, "ARRAY" => Array, "R_EDGE" => RisingEdge, "F_EDGE" => FallingEdge,
    "READ_ONLY" => ReadOnly, "READ_WRITE" => ReadWrite, "OVERLAP" => Overlap,
    // Objects
    "EXTENDS" => Extends, "IMPLEMENTS" => Implements, "ABSTRACT" => Abstract, "FINAL" => Final,
    "OVERRIDE" => Override, "PUBLIC" => Public, "PRIVATE" => Private, "PROTECTED" => Protected,
    "INTERNAL" => Internal, "THIS" => This, "SUPER" => Super, "REF_TO" => RefTo, "REF" => Ref,
    "NULL" => Null,
    // Statements and operators
    "IF" => If, "THEN" => Then, "ELSIF" => Elsif, "ELSE" => Else, "END_IF" => EndIf,
    "CASE" => Case, "END_CASE" => EndCase,
    "FOR" => For, "TO" => To, "BY" => By, "DO" => Do, "END_FOR" => EndFor,
    "WHILE" => While, "END_WHILE" => EndWhile,
    "REPEAT" => Repeat, "UNTIL" => Until, "END_REPEAT" => EndRepeat,
    "EXIT" => Exit, "CONTINUE" => Continue, "RETURN" => Return,
    "AND" => And, "OR" => Or, "XOR" => Xor, "NOT" => Not, "MOD" => Mod,
    "TRUE" => True, "FALSE" => False,
    // Sequential function chart
    "STEP" => Step, "INITIAL_STEP" => InitialStep, "END_STEP" => EndStep,
    "TRANSITION" => Transition, "END_TRANSITION" => EndTransition, "FROM" => From,
    "ACTION" => Action, "END_ACTION" => EndAction,
    // Tasks
    "TASK" => Task, "WITH" => With, "ON" => On,
    // Elementary types
    "BOOL" => ElementaryType, "BYTE" => ElementaryType, "WORD" => ElementaryType, "DWORD" => ElementaryType,
    "LWORD" => ElementaryType, "SINT" => ElementaryType, "INT" => ElementaryType, "DINT" => ElementaryType,
    "LINT" => ElementaryType, "USINT" => ElementaryType, "UINT" => ElementaryType, "UDINT" => ElementaryType,
    "ULINT" => ElementaryType, "REAL" => ElementaryType, "LREAL" => ElementaryType, "TIME" => ElementaryType,
    "LTIME" => ElementaryType, "DATE" => ElementaryType, "LDATE" => ElementaryType,
    "TIME_OF_DAY" => ElementaryType, "TOD" => ElementaryType, "LTIME_OF_DAY" => ElementaryType,
    "LTOD" => ElementaryType, "DATE_AND_TIME" => ElementaryType, "DT" => ElementaryType,
    "LDATE_AND_TIME" => ElementaryType, "LDT" => ElementaryType, "CHAR" => ElementaryType,
    "WCHAR" => ElementaryType,
    "STRING" => String, "WSTRING" => Wstring,
    // Generic types
    "ANY" => GenericType, "ANY_DERIVED" => GenericType, "ANY_ELEMENTARY" => GenericType,
    "ANY_MAGNITUDE" => GenericType, "ANY_NUM" => GenericType, "ANY_REAL" => GenericType,
    "ANY_INT" => GenericType, "ANY_UNSIGNED" => GenericType, "ANY_SIGNED" => GenericType,
    "ANY_DURATION" => GenericType, "ANY_BIT" => GenericType, "ANY_CHARS" => GenericType,
    "ANY_STRING" => GenericType, "ANY_CHAR" => GenericType, "ANY_DATE" => GenericType,
}

/// The reserved words in capital letters, each with the token it makes.
pub fn keywords() -> &'static [(&'static str, TokenKind)] {
    KEYWORDS
}

const SLOTS: usize = 1024;
const EMPTY: u8 = u8::MAX;

/// Hash of a word that is not empty, without regard to letter case, from its length and four of its letters: it is asked
/// for every word of a text. Other characters may collide with letters, which the comparison in [`find`] settles.
const fn slot_of(word: &[u8]) -> usize {
    let length = word.len();
    let letters =
        u32::from_le_bytes([word[0], word[length / 2], word[length * 3 / 4], word[length - 1]]) & 0xdfdf_dfdf;
    // Found by trial: no search in the table takes more than a few steps; see the tests.
    let hash = (letters ^ (length as u32) << 5).wrapping_mul(0x9e37_79b1);
    (hash >> (u32::BITS - SLOTS.trailing_zeros())) as usize
}

const fn build() -> [u8; SLOTS] {
    let mut table = [EMPTY; SLOTS];
    let mut index = 0;
    while index < COUNT {
        let mut slot = slot_of(TEXTS[index].as_bytes());
        while table[slot] != EMPTY {
            slot = (slot + 1) & (SLOTS - 1);
        }
        table[slot] = index as u8;
        index += 1;
    }
    table
}

static TABLE: [u8; SLOTS] = build();

/// Longest reserved word.
const LENGTH_MAX: usize = 18;

/// The place of a word in the table, if it is reserved.
pub(crate) fn find(word: &str) -> Option<usize> {
    if word.len() > LENGTH_MAX || word.len() < 2 {
        return None;
    }
    let mut slot = slot_of(word.as_bytes());
    loop {
        // The mask in `slot_of` and below keeps `slot` inside the table.
        let index = TABLE[slot];
        if index == EMPTY {
            return None;
        }
        let is_found = |text: &str| text == word || text.eq_ignore_ascii_case(word);
        if KEYWORDS.get(index as usize).is_some_and(|(text, _)| is_found(text)) {
            return Some(index as usize);
        }
        slot = (slot + 1) & (SLOTS - 1);
    }
}

/// The elementary type a reserved word (in any letter case) names, if it is one.
pub(crate) fn elementary_type(word: &str) -> Option<ElementaryType> {
    use ElementaryType as E;
    let (text, kind) = KEYWORDS.get(find(word)?)?;
    if *kind != TokenKind::ElementaryType {
        return None;
    }
    Some(match *text {
        "BOOL" => E::Bool,
        "BYTE" => E::Byte,
        "WORD" => E::Word,
        "DWORD" => E::Dword,
        "LWORD" => E::Lword,
        "SINT" => E::Sint,
        "INT" => E::Int,
        "DINT" => E::Dint,
        "LINT" => E::Lint,
        "USINT" => E::Usint,
        "UINT" => E::Uint,
        "UDINT" => E::Udint,
        "ULINT" => E::Ulint,
        "REAL" => E::Real,
        "LREAL" => E::Lreal,
        "TIME" => E::Time,
        "LTIME" => E::Ltime,
        "DATE" => E::Date,
        "LDATE" => E::Ldate,
        "TIME_OF_DAY" | "TOD" => E::TimeOfDay,
        "LTIME_OF_DAY" | "LTOD" => E::LtimeOfDay,
        "DATE_AND_TIME" | "DT" => E::DateAndTime,
        "LDATE_AND_TIME" | "LDT" => E::LdateAndTime,
        "CHAR" => E::Char,
        "WCHAR" => E::Wchar,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_is_found_in_any_case_and_nothing_else_is() {
        assert!(COUNT < EMPTY as usize);
        for (index, (text, kind)) in KEYWORDS.iter().enumerate() {
            assert_eq!(find(text), Some(index), "{text}");
            assert_eq!(find(&text.to_ascii_lowercase()), Some(index), "{text}");
            assert!(text.len() <= LENGTH_MAX, "{text}");
            assert_eq!(elementary_type(text).is_some(), *kind == TokenKind::ElementaryType, "{text}");
            assert_eq!(find(&format!("{text}X")), None);
        }
        // U+017F and U+212A fold to letters of reserved words in Unicode, and must not here.
        assert_eq!(find("\u{17f}truct"), None);
        assert_eq!(find("tas\u{212a}"), None);
        assert_eq!(find("x"), None);
        // The longest run of slots in use is the longest search.
        let longest = TABLE.split(|index| *index == EMPTY).map(<[u8]>::len).max();
        assert!(longest.is_some_and(|longest| longest <= 4), "{longest:?}");
    }
}

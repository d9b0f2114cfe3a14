//! The rows of the function table, one file for each family of the standard, and the list of natives.
//!
//! A new function is a row in the file of its family and, if it is more than an instruction, a routine
//! beside it. Source: IEC 61131-3:2013, 6.6.2.5.

use std::sync::LazyLock;

use latchwork_vm::NativeFunction;

use crate::definition::FunctionDefinition;

pub mod arithmetic;
pub mod bits;
pub mod bounds;
pub mod calendar;
pub mod calendar_parts;
pub mod comparison;
pub mod conversion;
pub mod decimal;
pub mod endianness;
pub mod numerical;
pub mod operators;
pub mod selection;
pub mod shift_natives;
pub mod string_natives;
pub mod strings;
pub mod text_conversion;
pub mod time_arithmetic;
pub mod time_natives;
pub mod time_of_text;
pub mod validation;
pub mod value_of_text;

/// Functions that belong together.
#[derive(Clone, Copy, Debug)]
pub struct FunctionFamily {
    /// What they are, for a heading.
    pub title: &'static str,
    /// The functions, in the order of the standard's tables.
    pub rows: &'static [FunctionDefinition],
}

/// The families in the order of the standard's tables.
static FAMILIES: &[FunctionFamily] = &[
    FunctionFamily { title: "Bounds of arrays", rows: bounds::ROWS },
    FunctionFamily { title: "Type conversion", rows: conversion::ROWS },
    FunctionFamily { title: "Binary coded decimal numbers", rows: decimal::ROWS },
    FunctionFamily { title: "Numerical functions", rows: numerical::ROWS },
    FunctionFamily { title: "Arithmetic", rows: arithmetic::ROWS },
    FunctionFamily { title: "Bit strings", rows: bits::ROWS },
    FunctionFamily { title: "Selection", rows: selection::ROWS },
    FunctionFamily { title: "Comparison", rows: comparison::ROWS },
    FunctionFamily { title: "Character strings", rows: strings::ROWS },
    FunctionFamily { title: "Arithmetic of times and dates", rows: time_arithmetic::ROWS },
    FunctionFamily { title: "Calendar", rows: calendar::ROWS },
    FunctionFamily { title: "Parts of dates and times", rows: calendar_parts::ROWS },
    FunctionFamily { title: "Byte order", rows: endianness::ROWS },
    FunctionFamily { title: "Validation", rows: validation::ROWS },
];

/// The families in the order of the standard's tables.
pub fn families() -> &'static [FunctionFamily] {
    FAMILIES
}

/// Every standard function, in the order of the standard's tables.
pub fn functions() -> impl Iterator<Item = &'static FunctionDefinition> {
    FAMILIES.iter().flat_map(|family| family.rows)
}

/// The rows by the length of their names: every name of a program is looked up among them.
static BY_LENGTH: LazyLock<Vec<Vec<&'static FunctionDefinition>>> = LazyLock::new(|| {
    let mut rows: Vec<Vec<_>> = Vec::new();
    for row in functions() {
        if row.name.len() >= rows.len() {
            rows.resize_with(row.name.len() + 1, Vec::new);
        }
        if let Some(rows) = rows.get_mut(row.name.len()) {
            rows.push(row);
        }
    }
    rows
});

/// The row of this name, in any case of letters.
pub(crate) fn row(name: &str) -> Option<&'static FunctionDefinition> {
    let mut rows = BY_LENGTH.get(name.len())?.iter().copied();
    rows.find(|row| row.name.eq_ignore_ascii_case(name))
}

static NATIVES: LazyLock<Vec<NativeFunction>> = LazyLock::new(|| {
    let mut natives = Vec::new();
    natives.extend(conversion::natives());
    natives.extend(text_conversion::natives());
    natives.extend(decimal::natives());
    natives.extend(numerical::natives());
    natives.extend(shift_natives::natives());
    natives.extend(string_natives::natives());
    natives.extend(time_natives::natives());
    natives.extend(calendar::natives());
    natives.extend(calendar_parts::natives());
    natives.extend(endianness::natives());
    natives.extend(validation::natives());
    natives
});

/// Every routine a program image may import.
pub fn natives() -> &'static [NativeFunction] {
    &NATIVES
}

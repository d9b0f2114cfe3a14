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

/// The families in the order of the standard's tables.
static FAMILIES: [&[FunctionDefinition]; 14] = [
    bounds::ROWS,
    conversion::ROWS,
    decimal::ROWS,
    numerical::ROWS,
    arithmetic::ROWS,
    bits::ROWS,
    selection::ROWS,
    comparison::ROWS,
    strings::ROWS,
    time_arithmetic::ROWS,
    calendar::ROWS,
    calendar_parts::ROWS,
    endianness::ROWS,
    validation::ROWS,
];

/// Every standard function, in the order of the standard's tables.
pub fn functions() -> impl Iterator<Item = &'static FunctionDefinition> {
    FAMILIES.into_iter().flatten()
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

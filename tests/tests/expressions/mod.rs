//! Expressions made at random, over two variables of each of some types.

#![allow(dead_code, reason = "each test file uses its own part")]

use proptest::prelude::*;

/// Where an expression stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Setting {
    /// In a program with the function `Twice`.
    Program,
    /// Outside of the program, which has no functions there and no elements by variable subscripts.
    Outside,
}

/// Two variables of each of these types are declared, named by type and number.
pub const TYPES: [&str; 12] =
    ["BOOL", "SINT", "INT", "DINT", "LINT", "USINT", "UINT", "UDINT", "REAL", "LREAL", "WORD", "TIME"];

/// The name of a variable of a type.
pub fn variable(kind: usize, number: usize) -> String {
    format!("{}_{number}", TYPES[kind].to_lowercase())
}

/// An operand or an operation of a type, as text.
pub fn expression(kind: usize, setting: Setting) -> BoxedStrategy<String> {
    let leaf = match TYPES[kind] {
        "BOOL" => prop_oneof![
            Just("TRUE".to_owned()),
            Just("Timer.Q".to_owned()),
            (0..2usize).prop_map(|n| variable(0, n))
        ]
        .boxed(),
        "TIME" => {
            prop_oneof![Just("T#20ms".to_owned()), (0..2usize).prop_map(move |n| variable(kind, n))].boxed()
        }
        "REAL" | "LREAL" => {
            prop_oneof![Just("1.5".to_owned()), (0..2usize).prop_map(move |n| variable(kind, n))].boxed()
        }
        "INT" if setting == Setting::Outside => prop_oneof![
            Just("3".to_owned()),
            (0..8usize).prop_map(|index| format!("Seg[{index}]")),
            (0..2usize).prop_map(move |n| variable(kind, n))
        ]
        .boxed(),
        "INT" => prop_oneof![
            Just("3".to_owned()),
            (0..8usize).prop_map(|index| format!("Seg[{index}]")),
            Just("Seg[usint_0 MOD 8]".to_owned()),
            Just("Twice(int_1)".to_owned()),
            (0..2usize).prop_map(move |n| variable(kind, n))
        ]
        .boxed(),
        _ => prop_oneof![Just("5".to_owned()), (0..2usize).prop_map(move |n| variable(kind, n))].boxed(),
    };
    leaf.prop_recursive(3, 12, 3, move |inner| match TYPES[kind] {
        "BOOL" => prop_oneof![
            (inner.clone(), prop::sample::select(vec!["AND", "OR", "XOR"]), inner.clone())
                .prop_map(|(a, op, b)| format!("({a} {op} {b})")),
            inner.clone().prop_map(|a| format!("NOT {a}")),
            (1..TYPES.len(), prop::sample::select(vec!["<", ">=", "=", "<>"]))
                .prop_map(|(kind, op)| format!("({} {op} {})", variable(kind, 0), variable(kind, 1))),
        ]
        .boxed(),
        "WORD" => prop_oneof![
            (inner.clone(), prop::sample::select(vec!["AND", "OR", "XOR"]), inner.clone())
                .prop_map(|(a, op, b)| format!("({a} {op} {b})")),
            inner.clone().prop_map(|a| format!("ROL(word_0 OR {a}, 3)")),
        ]
        .boxed(),
        "TIME" => (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a} + {b})")).boxed(),
        _ => prop_oneof![
            // A variable on the left: arithmetic on literals alone is worked out, and refused, by the checker.
            (prop::sample::select(vec!["+", "-", "*"]), inner.clone())
                .prop_map(move |(op, b)| format!("({} {op} {b})", variable(kind, 1))),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("MAX({a}, {b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("SEL(bool_0, {a}, {b})")),
            // A divisor that may be 0 stops the run.
            (inner.clone(), 0..2usize).prop_map(move |(a, n)| match setting {
                Setting::Program => a,
                Setting::Outside => format!("({a} / {})", variable(kind, n)),
            }),
        ]
        .boxed(),
    })
    .boxed()
}

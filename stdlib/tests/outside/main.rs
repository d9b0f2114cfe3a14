//! The library against sources that know nothing of it: the arithmetic of Rust (128-bit integers, `as`, IEEE 754),
//! decimal text, reference values of a library for arithmetic of any precision, a calendar library; and laws that hold
//! for all operands.
//!
//! The models are written from IEC 61131-3:2013, Tables 22 to 36, not from the code. Value and event are compared.

#![allow(
    clippy::expect_used,
    clippy::print_stdout,
    reason = "a test stops where an assumption fails, and tells its errors"
)]

#[path = "../harness/mod.rs"]
mod harness;

mod bit_strings;
mod calendar;
mod conversions;
mod decimal;
mod elementary;
mod integers;
mod laws;
mod reals;

//! The library against sources that know nothing of it: the arithmetic of Rust (128-bit integers, `as`, IEEE 754),
//! decimal text, reference values of a library for arithmetic of any precision, a calendar library; and laws that hold
//! for all operands.
//!
//! The models are written from IEC 61131-3:2013, Tables 22 to 36, not from the code. Value and event are compared.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]

#[path = "../harness/mod.rs"]
mod harness;

mod conversions;
mod elementary;

//! Routines of date and duration arithmetic that are more than an addition or subtraction.
//!
//! Source: IEC 61131-3:2013, Table 35. Durations are 64-bit nanoseconds; a time of day is in [0, 24 h). The
//! rows are in `time_arithmetic`.

use latchwork_vm::{EventKind, NativeCall, NativeFunction};

/// Nanoseconds of a day; the standard's days have no leap seconds.
pub(crate) const NANOSECONDS_A_DAY: i64 = 86_400_000_000_000;

/// Operands at bytes 0 and 8, result at byte 16.
const FRAME: u32 = 24;

fn day(call: &mut NativeCall<'_>, sum: i128) {
    let within = sum.rem_euclid(i128::from(NANOSECONDS_A_DAY));
    if within != sum {
        call.event(EventKind::DayOverflow);
    }
    // Below a day, so it fits.
    call.set_i64(16, within as i64);
}

fn add_to_time_of_day(call: &mut NativeCall<'_>) {
    let sum = i128::from(call.i64(0)) + i128::from(call.i64(8));
    day(call, sum);
}

fn subtract_from_time_of_day(call: &mut NativeCall<'_>) {
    let difference = i128::from(call.i64(0)) - i128::from(call.i64(8));
    day(call, difference);
}

/// An exact result: its low 64 bits, with an event if that changes it.
fn exact(call: &mut NativeCall<'_>, result: i128) {
    let low = result as i64;
    if i128::from(low) != result {
        call.event(EventKind::Overflow);
    }
    call.set_i64(16, low);
}

/// A real number of nanoseconds: the nearest, ties to even; the nearest limit outside, 0 for NaN.
fn rounded(call: &mut NativeCall<'_>, nanoseconds: f64) {
    // 2^63 as LREAL: from its negative to below it every rounded value fits. No range contains NaN.
    const LIMIT: f64 = 9_223_372_036_854_775_808.0;
    let nearest = libm::rint(nanoseconds);
    if !(-LIMIT..LIMIT).contains(&nearest) {
        call.event(EventKind::Overflow);
    }
    // The cast saturates and gives 0 for NaN.
    call.set_i64(16, nearest as i64);
}

fn multiply_by_unsigned(call: &mut NativeCall<'_>) {
    // At most 63 + 64 bits, so the product fits.
    let product = i128::from(call.i64(0)) * i128::from(call.u64(8));
    exact(call, product);
}

fn multiply_by_real(call: &mut NativeCall<'_>) {
    let product = call.i64(0) as f64 * call.f64(8);
    rounded(call, product);
}

fn by_zero(call: &mut NativeCall<'_>) {
    call.event(EventKind::DivisionByZero);
    call.set_i64(16, 0);
}

fn divide_by_integer(call: &mut NativeCall<'_>) {
    match call.i64(8) {
        0 => by_zero(call),
        divisor => {
            let quotient = i128::from(call.i64(0)) / i128::from(divisor);
            exact(call, quotient);
        }
    }
}

fn divide_by_unsigned(call: &mut NativeCall<'_>) {
    match call.u64(8) {
        0 => by_zero(call),
        divisor => {
            let quotient = i128::from(call.i64(0)) / i128::from(divisor);
            exact(call, quotient);
        }
    }
}

fn divide_by_real(call: &mut NativeCall<'_>) {
    let divisor = call.f64(8);
    if divisor == 0.0 {
        by_zero(call);
    } else {
        let quotient = call.i64(0) as f64 / divisor;
        rounded(call, quotient);
    }
}

/// The routines of this family.
pub(crate) fn natives() -> Vec<NativeFunction> {
    vec![
        NativeFunction::new("ADD_TOD_TIME", FRAME, add_to_time_of_day),
        NativeFunction::new("SUB_TOD_TIME", FRAME, subtract_from_time_of_day),
        NativeFunction::new("MUL_TIME_ULINT", FRAME, multiply_by_unsigned),
        NativeFunction::new("MUL_TIME_LREAL", FRAME, multiply_by_real),
        NativeFunction::new("DIV_TIME_LINT", FRAME, divide_by_integer),
        NativeFunction::new("DIV_TIME_ULINT", FRAME, divide_by_unsigned),
        NativeFunction::new("DIV_TIME_LREAL", FRAME, divide_by_real),
    ]
}

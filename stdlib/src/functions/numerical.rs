//! Numerical functions: ABS, SQRT, LN, LOG, EXP, SIN, COS, TAN, ASIN, ACOS, ATAN, ATAN2.
//!
//! Source: IEC 61131-3:2013, Table 28; reals follow IEC 60559. The functions come from one software library
//! (`libm`, and `elementary` where that is not exact enough) so that every platform gives the same bits; the REAL form is
//! the LREAL form rounded once. SQRT is exact to the last bit, the others within one unit in the last place, which
//! `tests/outside/elementary.rs` holds them to.

use latchwork_vm::{ElementaryType, EventKind, Family, NativeCall, NativeFunction, Value};

use crate::{
    definition::{Example, FunctionDefinition, Lowering, Overload, Parameter, ROW, ResultType, generic},
    elementary::{angle, power},
    types::TypeClass,
};

const REAL: &[Parameter] = &[generic("IN", TypeClass::AnyReal)];

/// A function of one real number: a row with a routine for each of the two types.
macro_rules! row {
    ($name:literal, $summary:literal, $errors:literal, $examples:expr) => {
        FunctionDefinition {
            name: $name,
            parameters: REAL,
            result: ResultType::Generic,
            lowering: Lowering::Overloaded,
            overloads: &[
                Overload {
                    accepts: &[TypeClass::Exact(ElementaryType::Real)],
                    operands: &[],
                    result: ResultType::Generic,
                    lowering: Lowering::Native(concat!($name, "_REAL")),
                },
                Overload {
                    accepts: &[TypeClass::Exact(ElementaryType::Lreal)],
                    operands: &[],
                    result: ResultType::Generic,
                    lowering: Lowering::Native(concat!($name, "_LREAL")),
                },
            ],
            clause: "Table 28",
            summary: $summary,
            errors: $errors,
            examples: $examples,
            ..ROW
        }
    };
}

/// The rows of Table 28.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    FunctionDefinition {
        name: "ABS",
        parameters: &[generic("IN", TypeClass::AnyNum)],
        result: ResultType::Generic,
        lowering: Lowering::Family(Family::Absolute),
        overloads: &[Overload {
            accepts: &[TypeClass::AnyUnsigned],
            operands: &[],
            result: ResultType::Generic,
            lowering: Lowering::Move,
        }],
        clause: "Table 28",
        summary: "The value without its sign.",
        errors: "Least value of a signed integer: itself, event overflow.",
        examples: &[
            Example::new(&["INT#-7"], "INT#7"),
            Example::new(&["REAL#-2.5"], "REAL#2.5"),
            Example::new(&["Value"], "INT#-32768").with("Value : INT := -32768;").event(EventKind::Overflow),
        ],
        ..ROW
    },
    row!(
        "SQRT",
        "Square root.",
        "Negative: NaN, event.",
        &[
            Example::new(&["REAL#2.25"], "REAL#1.5"),
            Example::new(&["LREAL#2.0"], "LREAL#1.4142135623730951"),
            Example::new(&["Value"], "NaN").with("Value : REAL := -1.0;").event(EventKind::Domain),
        ]
    ),
    row!(
        "LN",
        "Natural logarithm.",
        "Zero: minus infinity, event. Negative: NaN, event.",
        &[
            Example::new(&["LREAL#1.0"], "LREAL#0.0"),
            Example::new(&["LREAL#2.718281828459045"], "LREAL#1.0"),
            Example::new(&["Value"], "NaN").with("Value : REAL := -1.0;").event(EventKind::Domain),
            Example::new(&["Value"], "-infinity").with("Value : REAL := 0.0;").event(EventKind::Domain),
        ]
    ),
    row!(
        "LOG",
        "Logarithm to base 10.",
        "Zero: minus infinity, event. Negative: NaN, event.",
        &[
            Example::new(&["REAL#1000.0"], "REAL#3.0"),
            Example::new(&["Value"], "-infinity").with("Value : REAL := 0.0;").event(EventKind::Domain),
        ]
    ),
    row!(
        "EXP",
        "e raised to the power IN.",
        "Overflow: infinity, event.",
        &[
            Example::new(&["REAL#0.0"], "REAL#1.0"),
            Example::new(&["REAL#1.0"], "REAL#2.7182817"),
            Example::new(&["Value"], "infinity").with("Value : REAL := 100.0;").event(EventKind::Overflow),
        ]
    ),
    row!(
        "SIN",
        "Sine of an angle in radians.",
        "Infinity: NaN, event.",
        &[Example::new(&["REAL#0.0"], "REAL#0.0"), Example::new(&["LREAL#1.5707963267948966"], "LREAL#1.0"),]
    ),
    row!(
        "COS",
        "Cosine of an angle in radians.",
        "Infinity: NaN, event.",
        &[Example::new(&["REAL#0.0"], "REAL#1.0"), Example::new(&["LREAL#3.141592653589793"], "LREAL#-1.0"),]
    ),
    row!(
        "TAN",
        "Tangent of an angle in radians.",
        "Infinity: NaN, event.",
        &[Example::new(&["REAL#0.0"], "REAL#0.0"), Example::new(&["REAL#0.7853982"], "REAL#1.0"),]
    ),
    row!(
        "ASIN",
        "Angle in radians, -pi/2 to pi/2, with the sine IN.",
        "Outside -1 to 1: NaN, event.",
        &[
            Example::new(&["LREAL#1.0"], "LREAL#1.5707963267948966"),
            Example::new(&["Value"], "NaN").with("Value : REAL := 2.0;").event(EventKind::Domain),
        ]
    ),
    row!(
        "ACOS",
        "Angle in radians, 0 to pi, with the cosine IN.",
        "Outside -1 to 1: NaN, event.",
        &[
            Example::new(&["REAL#1.0"], "REAL#0.0"),
            Example::new(&["LREAL#-1.0"], "LREAL#3.141592653589793"),
            Example::new(&["Value"], "NaN").with("Value : REAL := 2.0;").event(EventKind::Domain),
        ]
    ),
    row!(
        "ATAN",
        "Angle in radians, -pi/2 to pi/2, with the tangent IN.",
        "",
        &[Example::new(&["LREAL#1.0"], "LREAL#0.7853981633974483"),]
    ),
    FunctionDefinition {
        name: "ATAN2",
        parameters: &[generic("Y", TypeClass::AnyReal), generic("X", TypeClass::AnyReal)],
        result: ResultType::Generic,
        lowering: Lowering::Overloaded,
        overloads: &[
            Overload {
                accepts: &[TypeClass::Exact(ElementaryType::Real), TypeClass::Exact(ElementaryType::Real)],
                operands: &[],
                result: ResultType::Generic,
                lowering: Lowering::Native("ATAN2_REAL"),
            },
            Overload {
                accepts: &[TypeClass::Exact(ElementaryType::Lreal), TypeClass::Exact(ElementaryType::Lreal)],
                operands: &[],
                result: ResultType::Generic,
                lowering: Lowering::Native("ATAN2_LREAL"),
            },
        ],
        clause: "Table 28",
        summary: "Angle in radians, -pi to pi, from the positive x axis to the point (X, Y); 0 for (0, 0).",
        examples: &[
            Example::new(&["LREAL#1.0", "LREAL#1.0"], "LREAL#0.7853981633974483"),
            Example::new(&["LREAL#1.0", "LREAL#-1.0"], "LREAL#2.356194490192345"),
            Example::new(&["REAL#0.0", "REAL#0.0"], "REAL#0.0"),
        ],
        ..ROW
    },
];

/// The error rule of real functions: a NaN from operands that are none, or an infinity from finite operands.
fn report(call: &mut NativeCall<'_>, operands: &[f64], result: f64) {
    let invalid = result.is_nan() && !operands.iter().any(|operand| operand.is_nan());
    let unbounded = result.is_infinite() && operands.iter().all(|operand| operand.is_finite());
    // An infinity at 0 is a pole (logarithm of 0, 0 to a negative power), elsewhere the value is too large.
    let pole = operands.first() == Some(&0.0);
    let kind = match (invalid, unbounded) {
        (true, _) => EventKind::Domain,
        (_, true) if pole => EventKind::Domain,
        (_, true) => EventKind::Overflow,
        _ => return,
    };
    match *operands {
        [operand] => call.event_with(kind, &[("operand", Value::Lreal(operand))]),
        [base, exponent] => {
            call.event_with(kind, &[("base", Value::Lreal(base)), ("exponent", Value::Lreal(exponent))]);
        }
        _ => call.event(kind),
    }
}

/// The value, or the one NaN: which of the many an invalid operation gives, differs from processor to processor.
fn canonical(result: f64) -> f64 {
    if result.is_nan() { f64::from_bits(0x7FF8_0000_0000_0000) } else { result }
}

/// The value rounded to REAL, or the one NaN of REAL.
fn canonical_real(result: f64) -> f32 {
    if result.is_nan() { f32::from_bits(0x7FC0_0000) } else { result as f32 }
}

fn unary_lreal(call: &mut NativeCall<'_>, function: fn(f64) -> f64) {
    let operand = call.f64(0);
    let result = canonical(function(operand));
    report(call, &[operand], result);
    call.set_f64(8, result);
}

fn unary_real(call: &mut NativeCall<'_>, function: fn(f64) -> f64) {
    let operand = f64::from(call.f32(0));
    let result = canonical_real(function(operand));
    report(call, &[operand], f64::from(result));
    call.set_f32(8, result);
}

/// The square root of an LREAL rounded to REAL is the correctly rounded root of a REAL: 53 bits are more than
/// twice 24 plus 2, so rounding twice changes nothing. SQRT therefore needs no routine of its own in REAL.
macro_rules! unary {
    ($($name:literal $function:path),* $(,)?) => {
        [$(
            NativeFunction::new(concat!($name, "_LREAL"), 16, |call| unary_lreal(call, $function)),
            NativeFunction::new(concat!($name, "_REAL"), 16, |call| unary_real(call, $function)),
        )*]
    };
}

fn atan2_lreal(call: &mut NativeCall<'_>) {
    let result = canonical(angle(call.f64(0), call.f64(8)));
    call.set_f64(16, result);
}

fn atan2_real(call: &mut NativeCall<'_>) {
    let result = canonical_real(angle(f64::from(call.f32(0)), f64::from(call.f32(8))));
    call.set_f32(16, result);
}

fn power_lreal(call: &mut NativeCall<'_>) {
    let (base, exponent) = (call.f64(0), call.f64(8));
    let result = canonical(power(base, exponent));
    report(call, &[base, exponent], result);
    call.set_f64(16, result);
}

fn power_real(call: &mut NativeCall<'_>) {
    let (base, exponent) = (f64::from(call.f32(0)), call.f64(8));
    let result = canonical_real(power(base, exponent));
    report(call, &[base, exponent], f64::from(result));
    call.set_f32(16, result);
}

/// The routines of this family, with those of EXPT.
pub(crate) fn natives() -> Vec<NativeFunction> {
    let mut natives = Vec::from(unary!(
        "SQRT" libm::sqrt,
        "LN" libm::log,
        "LOG" libm::log10,
        "EXP" libm::exp,
        "SIN" libm::sin,
        "COS" libm::cos,
        "TAN" libm::tan,
        "ASIN" libm::asin,
        "ACOS" libm::acos,
        "ATAN" libm::atan,
    ));
    natives.extend([
        NativeFunction::new("ATAN2_LREAL", 24, atan2_lreal),
        NativeFunction::new("ATAN2_REAL", 24, atan2_real),
        NativeFunction::new("EXPT_LREAL", 24, power_lreal),
        NativeFunction::new("EXPT_REAL", 24, power_real),
    ]);
    natives
}

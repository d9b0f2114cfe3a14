//! Validation functions: IS_VALID, IS_VALID_BCD.
//!
//! Source: IEC 61131-3:2013, Table 39.

use latchwork_vm::{ElementaryType as T, NativeCall, NativeFunction};

use crate::{
    definition::{Example, FunctionDefinition, Lowering, Overload, ROW, ResultType, generic},
    types::TypeClass,
};

const BOOL: ResultType = ResultType::Exact(T::Bool);

/// The rows of Table 39.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    FunctionDefinition {
        name: "IS_VALID",
        parameters: &[generic("IN", TypeClass::AnyReal)],
        result: BOOL,
        lowering: Lowering::Overloaded,
        overloads: &[Overload {
            accepts: &[TypeClass::AnyReal],
            operands: &[T::Lreal],
            result: BOOL,
            lowering: Lowering::Native("IS_VALID"),
        }],
        clause: "Table 39",
        summary: "Whether a real is a number: neither NaN nor infinite.",
        examples: &[Example::new(&["REAL#2.5"], "TRUE"), Example::new(&["LREAL#-1.0E300"], "TRUE")],
        ..ROW
    },
    FunctionDefinition {
        name: "IS_VALID_BCD",
        parameters: &[generic("IN", TypeClass::AnyBit)],
        result: BOOL,
        lowering: Lowering::Overloaded,
        overloads: &[Overload {
            accepts: &[TypeClass::AnyBit],
            operands: &[T::Lword],
            result: BOOL,
            lowering: Lowering::Native("IS_VALID_BCD"),
        }],
        clause: "Table 39",
        summary: "Whether every group of four bits is a decimal digit.",
        examples: &[Example::new(&["WORD#16#0942"], "TRUE"), Example::new(&["BYTE#16#4A"], "FALSE")],
        ..ROW
    },
];

fn is_valid(call: &mut NativeCall<'_>) {
    // The conversion from REAL keeps NaN and the infinities.
    let finite = call.f64(0).is_finite();
    call.set_bool(8, finite);
}

fn is_valid_bcd(call: &mut NativeCall<'_>) {
    let value = call.u64(0);
    call.set_bool(8, (0..16).all(|digit| value >> (4 * digit) & 15 <= 9));
}

/// The routines of this family.
pub(crate) fn natives() -> Vec<NativeFunction> {
    vec![NativeFunction::new("IS_VALID", 16, is_valid), NativeFunction::new("IS_VALID_BCD", 16, is_valid_bcd)]
}

//! Shifts and rotations that are not one instruction: of a BOOL, and by a ULINT count.
//!
//! Source: IEC 61131-3:2013, Table 30. Shifting by the width or more gives 0; rotating works modulo the
//! width; a negative count is an error (an event) and changes nothing, as with the
//! machine's instructions (our choices). The rows are in `bits`.

use latchwork_vm::{EventKind, NativeCall, NativeFunction};

const LEFT: u8 = 0;
const RIGHT: u8 = 1;
const ROTATE_LEFT: u8 = 2;
const ROTATE_RIGHT: u8 = 3;

/// IN at byte 0, N at byte 8, result at byte 16. `OPERATION` is one of the four above, `WIDTH` the number of
/// bits, `SIGNED` how N is read.
fn shift<const OPERATION: u8, const WIDTH: u32, const SIGNED: bool>(call: &mut NativeCall<'_>) {
    let value = match WIDTH {
        1 => u64::from(call.bool(0)),
        8 => u64::from(call.u8(0)),
        16 => u64::from(call.u16(0)),
        32 => u64::from(call.u32(0)),
        _ => call.u64(0),
    };
    let count = call.u64(8);
    let negative = SIGNED && (count as i64) < 0;
    if negative {
        call.event(EventKind::Domain);
    }
    let result = if negative { value } else { shifted::<OPERATION>(value, count, WIDTH) };
    match WIDTH {
        1 => call.set_bool(16, result & 1 == 1),
        8 => call.set_u8(16, result as u8),
        16 => call.set_u16(16, result as u16),
        32 => call.set_u32(16, result as u32),
        _ => call.set_u64(16, result),
    }
}

/// `value` has no bits above `width`.
fn shifted<const OPERATION: u8>(value: u64, count: u64, width: u32) -> u64 {
    let mask = u64::MAX >> (64 - width);
    // The remainder is below 64, so no cast or shift below loses anything.
    let turn = (count % u64::from(width)) as u32;
    let rotated_left = |turn: u32| {
        if turn == 0 { value } else { (value << turn | value >> (width - turn)) & mask }
    };
    match OPERATION {
        LEFT | RIGHT if count >= u64::from(width) => 0,
        LEFT => (value << turn) & mask,
        RIGHT => value >> turn,
        ROTATE_LEFT => rotated_left(turn),
        _ => rotated_left((width - turn) % width),
    }
}

macro_rules! routines {
    ($($name:literal $operation:ident),*) => {
        vec![$(
            native(concat!($name, "_BOOL_LINT"), shift::<$operation, 1, true>),
            native(concat!($name, "_BOOL_ULINT"), shift::<$operation, 1, false>),
            native(concat!($name, "_BYTE_ULINT"), shift::<$operation, 8, false>),
            native(concat!($name, "_WORD_ULINT"), shift::<$operation, 16, false>),
            native(concat!($name, "_DWORD_ULINT"), shift::<$operation, 32, false>),
            native(concat!($name, "_LWORD_ULINT"), shift::<$operation, 64, false>),
        )*]
    };
}

fn native(name: &'static str, run: fn(&mut NativeCall<'_>)) -> NativeFunction {
    NativeFunction::new(name, 24, run)
}

/// The routines of this family.
pub(crate) fn natives() -> Vec<NativeFunction> {
    routines!("SHL" LEFT, "SHR" RIGHT, "ROL" ROTATE_LEFT, "ROR" ROTATE_RIGHT)
}

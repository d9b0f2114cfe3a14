//! Conversions to and from texts and characters: the routines, one for each pair of types.
//!
//! Source: IEC 61131-3:2013, Tables 22 and 27. What a value is written as is the machine's way to write values; what
//! a text is read as is in `value_of_text`. Choices of ours: a text that is no literal of the type gives its default,
//! an empty text the character with code 0, and a character that a STRING or CHAR does not have a question mark, each
//! with an event.

use latchwork_vm::{ElementaryType, EventKind, NativeCall, NativeFunction, TextOperation, Value};

use super::value_of_text::value_of_text;
use ElementaryType as T;

/// The operand at byte 0 and the result at byte 8; of a text the address of its capacity word.
const FRAME: u32 = 16;

/// A routine for a pair of types.
struct Routine {
    from: ElementaryType,
    to: ElementaryType,
    native: NativeFunction,
}

macro_rules! routine {
    ($from:ident $from_name:literal $to:ident $to_name:literal $run:expr) => {
        Routine {
            from: T::$from,
            to: T::$to,
            native: NativeFunction::new(concat!($from_name, "_TO_", $to_name), FRAME, $run),
        }
    };
}

/// Values that are written as literals: both ways, both widths.
macro_rules! literals {
    ($($kind:ident $name:literal;)*) => {
        &[$(
            routine!($kind $name String "STRING" |call| write(call, T::$kind, false)),
            routine!($kind $name Wstring "WSTRING" |call| write(call, T::$kind, true)),
            routine!(String "STRING" $kind $name |call| read(call, T::$kind, false)),
            routine!(Wstring "WSTRING" $kind $name |call| read(call, T::$kind, true)),
        )*]
    };
}

static LITERALS: &[Routine] = literals! {
    Bool "BOOL";
    Byte "BYTE";
    Word "WORD";
    Dword "DWORD";
    Lword "LWORD";
    Sint "SINT";
    Int "INT";
    Dint "DINT";
    Lint "LINT";
    Usint "USINT";
    Uint "UINT";
    Udint "UDINT";
    Ulint "ULINT";
    Real "REAL";
    Lreal "LREAL";
    Time "TIME";
    Ltime "LTIME";
    Date "DATE";
    Ldate "LDATE";
    TimeOfDay "TIME_OF_DAY";
    LtimeOfDay "LTIME_OF_DAY";
    DateAndTime "DATE_AND_TIME";
    LdateAndTime "LDATE_AND_TIME";
};

static CHARACTERS: &[Routine] = &[
    routine!(String "STRING" String "STRING" |call| copy(call, false)),
    routine!(Wstring "WSTRING" Wstring "WSTRING" |call| copy(call, true)),
    routine!(String "STRING" Wstring "WSTRING" widen),
    routine!(Wstring "WSTRING" String "STRING" narrow),
    routine!(Char "CHAR" String "STRING" |call| single(call, T::Char, false)),
    routine!(Char "CHAR" Wstring "WSTRING" |call| single(call, T::Char, true)),
    routine!(Wchar "WCHAR" String "STRING" |call| single(call, T::Wchar, false)),
    routine!(Wchar "WCHAR" Wstring "WSTRING" |call| single(call, T::Wchar, true)),
    routine!(String "STRING" Char "CHAR" |call| first(call, T::Char, false)),
    routine!(String "STRING" Wchar "WCHAR" |call| first(call, T::Wchar, false)),
    routine!(Wstring "WSTRING" Char "CHAR" |call| first(call, T::Char, true)),
    routine!(Wstring "WSTRING" Wchar "WCHAR" |call| first(call, T::Wchar, true)),
];

/// What a routine does, where compiled code can do that by itself: writing an integer into a STRING.
fn operation(routine: &Routine) -> Option<TextOperation> {
    let is_integer = matches!(
        routine.from,
        T::Sint | T::Int | T::Dint | T::Lint | T::Usint | T::Uint | T::Udint | T::Ulint
    );
    let scalar = routine.from.scalar().filter(|_| is_integer && routine.to == T::String);
    scalar.map(TextOperation::Write)
}

/// The routine that converts, if one of the types is a string.
pub(super) fn routine(from: ElementaryType, to: ElementaryType) -> Option<&'static str> {
    if !from.is_string() && !to.is_string() {
        return None;
    }
    let found = LITERALS.iter().chain(CHARACTERS).find(|routine| routine.from == from && routine.to == to);
    found.map(|routine| routine.native.name)
}

/// Most characters that the text of a value of a type has; `None` for strings, whose texts are as long as they are.
pub fn text_length(kind: ElementaryType) -> Option<u16> {
    Some(match kind {
        T::Char | T::Wchar => 1,
        T::Usint => 3,
        T::Sint => 4,
        T::Bool | T::Byte | T::Uint => 5,
        T::Int => 6,
        T::Word => 7,
        T::Udint => 10,
        T::Dint | T::Dword => 11,
        T::Date => 12, // D#2024-02-29
        T::Ldate => 16,
        T::Lword | T::Real => 19,
        T::Lint | T::Ulint => 20,
        T::TimeOfDay => 22, // TOD#13:14:15.123456789
        T::LtimeOfDay => 23,
        T::Lreal => 24,
        T::DateAndTime => 32, // DT#2024-02-29-13:14:15.123456789
        T::LdateAndTime => 33,
        T::Time => 34, // T#-106751d23h47m16s854ms775us808ns
        T::Ltime => 38,
        T::String | T::Wstring => return None,
    })
}

/// A code as a character of a STRING or CHAR, and whether it is one.
fn narrowed(code: u16) -> (u8, bool) {
    match u8::try_from(code) {
        Ok(code) => (code, true),
        Err(_) => (b'?', false),
    }
}

fn wide(text: &[u8]) -> Vec<u16> {
    text.iter().copied().map(u16::from).collect()
}

fn store(call: &mut NativeCall<'_>, text: &[u8], is_wide: bool) {
    let target = call.u32(8);
    if is_wide {
        call.set_wide_string_at(target, &wide(text));
    } else {
        call.set_string_at(target, text);
    }
}

fn write(call: &mut NativeCall<'_>, kind: ElementaryType, is_wide: bool) {
    let mut digits = [0; DIGITS_MAX];
    let text;
    let written = match Value::from_bits(call.u64(0), kind) {
        Some(Value::Signed(number, _)) => decimal(number.unsigned_abs(), number < 0, &mut digits),
        Some(Value::Unsigned(number, _)) => decimal(number, false, &mut digits),
        // There is a value, since no row of LITERALS has a string for its kind.
        other => {
            text = other.map_or(String::new(), |value| value.to_string());
            text.as_bytes()
        }
    };
    store(call, written, is_wide);
}

/// Most characters of an integer of 64 bits.
const DIGITS_MAX: usize = 20;

/// A number as its display writes it, but without memory of its own: programs write numbers in every scan.
fn decimal(mut number: u64, negative: bool, digits: &mut [u8; DIGITS_MAX]) -> &[u8] {
    let mut start = DIGITS_MAX;
    for digit in digits.iter_mut().rev() {
        // Below 10.
        *digit = b'0' + (number % 10) as u8;
        number /= 10;
        start -= 1;
        if number == 0 {
            break;
        }
    }
    // A negative number has 19 digits at most.
    if negative && let Some(sign) = start.checked_sub(1).and_then(|at| digits.get_mut(at)) {
        *sign = b'-';
        start -= 1;
    }
    digits.get(start..).unwrap_or_default()
}

fn read(call: &mut NativeCall<'_>, kind: ElementaryType, is_wide: bool) {
    let source = call.u32(0);
    let codes = if is_wide { call.wide_string_at(source) } else { wide(call.string_at(source)) };
    // Reading looks at every character a few times.
    call.charge((codes.len() / 16) as u64);
    let bits = value_of_text(codes, kind).unwrap_or_else(|| {
        call.event(EventKind::Conversion);
        0
    });
    call.set_u64(8, bits);
}

fn copy(call: &mut NativeCall<'_>, is_wide: bool) {
    let (source, target) = (call.u32(0), call.u32(8));
    if is_wide {
        let text = call.wide_string_at(source);
        call.set_wide_string_at(target, &text);
    } else {
        let text = call.string_at(source).to_vec();
        call.set_string_at(target, &text);
    }
}

fn widen(call: &mut NativeCall<'_>) {
    let source = call.u32(0);
    let text = call.string_at(source).to_vec();
    store(call, &text, true);
}

fn narrow(call: &mut NativeCall<'_>) {
    let source = call.u32(0);
    let (text, known): (Vec<u8>, Vec<bool>) = call.wide_string_at(source).into_iter().map(narrowed).unzip();
    if known.contains(&false) {
        call.event(EventKind::Conversion);
    }
    store(call, &text, false);
}

/// A character as a text of one.
fn single(call: &mut NativeCall<'_>, kind: ElementaryType, is_wide: bool) {
    let code = if kind == T::Char { u16::from(call.u8(0)) } else { call.u16(0) };
    let target = call.u32(8);
    if is_wide {
        return call.set_wide_string_at(target, &[code]);
    }
    let code = narrow_code(call, code);
    call.set_string_at(target, &[code]);
}

/// The first character of a text.
fn first(call: &mut NativeCall<'_>, kind: ElementaryType, is_wide: bool) {
    let source = call.u32(0);
    let code = if is_wide {
        call.wide_string_at(source).first().copied()
    } else {
        call.string_at(source).first().copied().map(u16::from)
    };
    let code = code.unwrap_or_else(|| {
        call.event(EventKind::Conversion);
        0
    });
    if kind == T::Wchar {
        return call.set_u16(8, code);
    }
    let code = narrow_code(call, code);
    call.set_u8(8, code);
}

/// A code as a character of a STRING or CHAR, with an event if it is none.
fn narrow_code(call: &mut NativeCall<'_>, code: u16) -> u8 {
    let (code, known) = narrowed(code);
    if !known {
        call.event(EventKind::Conversion);
    }
    code
}

/// WCHAR to CHAR.
fn narrow_character(call: &mut NativeCall<'_>) {
    let code = call.u16(0);
    let code = narrow_code(call, code);
    call.set_u8(8, code);
}

/// The routines of this family.
pub(crate) fn natives() -> Vec<NativeFunction> {
    let native = |routine: &Routine| NativeFunction { operation: operation(routine), ..routine.native };
    let mut natives: Vec<NativeFunction> = LITERALS.iter().chain(CHARACTERS).map(native).collect();
    natives.push(NativeFunction::new("WCHAR_TO_CHAR", FRAME, narrow_character));
    natives
}

//! The routines of the character string functions.
//!
//! Source: IEC 61131-3:2013, 6.6.2.5.11. Each exists for characters of one byte and of two; both are one routine
//! with the width for a parameter. Texts are put together in the data image, character block by character
//! block, so that no routine but FIND needs memory of its own. A frame holds the address of a text operand, a
//! number as LINT, and behind the operands the address of the result, which is empty with room for all of it.

use std::ops::Range;

use latchwork_vm::{ElementaryType as T, EventKind, NativeCall, NativeFunction, TextOperation, Value};

/// Everything from a position on.
const REST: usize = usize::MAX;

/// Current number of characters.
fn length(call: &mut NativeCall<'_>) {
    let text = call.u32(0);
    let length = call.length_at(text);
    // A string has at most 32767 characters.
    call.set_i16(8, i16::try_from(length).unwrap_or(i16::MAX));
}

/// A position or a number of characters that the text does not have.
fn outside(call: &mut NativeCall<'_>, text: u32, position: Option<i64>, count: Option<i64>) {
    let length = call.length_at(text) as u64;
    let number = |value| Value::Signed(value, T::Lint);
    let position = position.map(|value| ("position", number(value)));
    let count = count.map(|value| ("count", number(value)));
    let values: Vec<_> =
        position.into_iter().chain(count).chain([("length", Value::Unsigned(length, T::Uint))]).collect();
    call.event_with(EventKind::StringPosition, &values);
}

/// Puts parts of texts one behind the other into an empty text; one event if they do not fit.
fn join<const WIDTH: usize>(call: &mut NativeCall<'_>, result: u32, parts: &[(u32, Range<usize>)]) {
    let mut lost = 0;
    for (text, characters) in parts {
        lost += call.append_at(result, *text, WIDTH, characters.clone());
    }
    cut(call, result, lost);
}

/// The event for characters that found no room in a text, which is full then.
fn cut(call: &mut NativeCall<'_>, text: u32, lost: usize) {
    if lost > 0 {
        let capacity = call.capacity_at(text);
        let number = |count: usize| Value::Unsigned(count as u64, T::Uint);
        let values = [("length", number(capacity + lost)), ("capacity", number(capacity))];
        call.event_with(EventKind::StringCut, &values);
    }
}

/// How many characters L means of so many that there are, and whether it means as many as that.
fn counted(wanted: i64, available: usize) -> (usize, bool) {
    match usize::try_from(wanted) {
        Ok(count) => (count.min(available), count <= available),
        Err(_) if wanted < 0 => (0, false),
        Err(_) => (available, false),
    }
}

fn left<const WIDTH: usize>(call: &mut NativeCall<'_>) {
    let (text, wanted, result) = (call.u32(0), call.i64(8), call.u32(16));
    let (count, exact) = counted(wanted, call.length_at(text));
    join::<WIDTH>(call, result, &[(text, 0..count)]);
    if !exact {
        outside(call, text, None, Some(wanted));
    }
}

fn right<const WIDTH: usize>(call: &mut NativeCall<'_>) {
    let (text, wanted, result) = (call.u32(0), call.i64(8), call.u32(16));
    let length = call.length_at(text);
    let (count, exact) = counted(wanted, length);
    join::<WIDTH>(call, result, &[(text, length - count..length)]);
    if !exact {
        outside(call, text, None, Some(wanted));
    }
}

/// Which characters, counted from 0, L from the P-th on are, and whether all of them are there. `None`: L is
/// negative, or the text has no such position; no character at all may be one behind the last.
fn part(length: usize, count: i64, position: i64) -> Option<(Range<usize>, bool)> {
    let start = usize::try_from(position.checked_sub(1)?).ok()?;
    if count < 0 || start > length || (start == length && count > 0) {
        return None;
    }
    let (count, exact) = counted(count, length - start);
    Some((start..start + count, exact))
}

/// The part that L and P mean, with the event if there is no such part or less of it.
fn checked_part(call: &mut NativeCall<'_>, text: u32, count: i64, position: i64) -> Option<Range<usize>> {
    let length = call.length_at(text);
    let part = part(length, count, position);
    if !matches!(part, Some((_, true))) {
        outside(call, text, Some(position), Some(count));
    }
    part.map(|(characters, _)| characters)
}

fn middle<const WIDTH: usize>(call: &mut NativeCall<'_>) {
    let (text, count, position, result) = (call.u32(0), call.i64(8), call.i64(16), call.u32(24));
    if let Some(characters) = checked_part(call, text, count, position) {
        join::<WIDTH>(call, result, &[(text, characters)]);
    }
}

/// One operand behind those before it.
fn append<const WIDTH: usize>(call: &mut NativeCall<'_>) {
    let (text, result) = (call.u32(0), call.u32(8));
    join::<WIDTH>(call, result, &[(text, 0..REST)]);
}

fn insert<const WIDTH: usize>(call: &mut NativeCall<'_>) {
    let (text, inserted, position, result) = (call.u32(0), call.u32(8), call.i64(16), call.u32(24));
    let length = call.length_at(text);
    match usize::try_from(position).ok().filter(|position| *position <= length) {
        Some(at) => join::<WIDTH>(call, result, &[(text, 0..at), (inserted, 0..REST), (text, at..REST)]),
        None => {
            join::<WIDTH>(call, result, &[(text, 0..REST)]);
            outside(call, text, Some(position), None);
        }
    }
}

fn delete<const WIDTH: usize>(call: &mut NativeCall<'_>) {
    let (text, count, position, result) = (call.u32(0), call.i64(8), call.i64(16), call.u32(24));
    match checked_part(call, text, count, position) {
        Some(removed) => {
            join::<WIDTH>(call, result, &[(text, 0..removed.start), (text, removed.end..REST)]);
        }
        None => join::<WIDTH>(call, result, &[(text, 0..REST)]),
    }
}

fn replace<const WIDTH: usize>(call: &mut NativeCall<'_>) {
    let (text, put) = (call.u32(0), call.u32(8));
    let (count, position, result) = (call.i64(16), call.i64(24), call.u32(32));
    match checked_part(call, text, count, position) {
        Some(removed) => {
            let parts = [(text, 0..removed.start), (put, 0..REST), (text, removed.end..REST)];
            join::<WIDTH>(call, result, &parts);
        }
        None => join::<WIDTH>(call, result, &[(text, 0..REST)]),
    }
}

fn find_narrow(call: &mut NativeCall<'_>) {
    let (text, wanted) = (call.u32(0), call.u32(8));
    // Two texts cannot be looked at at the same time. What is looked for is short as a rule.
    let mut short = [0; 32];
    let wanted = call.string_at(wanted);
    let count = wanted.len();
    let found = match short.get_mut(..count) {
        Some(copy) => {
            copy.copy_from_slice(wanted);
            first(call.string_at(text), copy)
        }
        None => {
            let copy = wanted.to_vec();
            first(call.string_at(text), &copy)
        }
    };
    place_found(call, found, count);
}

fn find_wide(call: &mut NativeCall<'_>) {
    let (text, wanted) = (call.u32(0), call.u32(8));
    let (text, wanted) = (call.wide_string_at(text), call.wide_string_at(wanted));
    let found = first(&text, &wanted);
    place_found(call, found, wanted.len());
}

/// What the search cost, and its result as a position from 1 on.
fn place_found(call: &mut NativeCall<'_>, (found, looked_at): (Option<usize>, usize), wanted: usize) {
    call.charge(((looked_at + wanted) / 16) as u64);
    // A string has at most 32767 characters.
    let position = found.map_or(0, |at| i16::try_from(at + 1).unwrap_or(i16::MAX));
    call.set_i16(16, position);
}

/// Where one text begins in another for the first time, and how many characters were looked at. The time grows
/// with the sum of both lengths: Knuth, Morris and Pratt, Fast pattern matching in strings, 1977.
fn first<C: Copy + PartialEq>(text: &[C], wanted: &[C]) -> (Option<usize>, usize) {
    let Some(head) = wanted.first() else { return (None, 0) };
    if wanted.len() > text.len() {
        return (None, 0);
    }
    let Some(start) = text.iter().position(|character| character == head) else { return (None, text.len()) };
    if wanted.len() == 1 {
        return (Some(start), start + 1);
    }
    // For each beginning of what is wanted, how long its longest proper beginning is that is its end too.
    let mut borders = vec![0usize; wanted.len()];
    let mut border = 0;
    for (index, character) in wanted.iter().enumerate().skip(1) {
        border = extend(wanted, &borders, border, *character);
        if let Some(place) = borders.get_mut(index) {
            *place = border;
        }
    }
    let mut matched = 0;
    for (index, character) in text.iter().enumerate().skip(start) {
        matched = extend(wanted, &borders, matched, *character);
        if matched == wanted.len() {
            return (Some(index + 1 - matched), index + 1);
        }
    }
    (None, text.len())
}

/// How many characters match once one more is read, after `matched`, which are less than all.
fn extend<C: Copy + PartialEq>(wanted: &[C], borders: &[usize], mut matched: usize, character: C) -> usize {
    loop {
        if wanted.get(matched) == Some(&character) {
            return matched + 1;
        }
        match matched.checked_sub(1).and_then(|last| borders.get(last)) {
            Some(shorter) => matched = *shorter,
            None => return 0,
        }
    }
}

/// The routines of this family.
pub(crate) fn natives() -> Vec<NativeFunction> {
    vec![
        NativeFunction::new("LEN_STRING", 16, length).operating(TextOperation::Length),
        NativeFunction::new("LEN_WSTRING", 16, length),
        NativeFunction::new("LEFT_STRING", 24, left::<1>).operating(TextOperation::Left),
        NativeFunction::new("LEFT_WSTRING", 24, left::<2>),
        NativeFunction::new("RIGHT_STRING", 24, right::<1>).operating(TextOperation::Right),
        NativeFunction::new("RIGHT_WSTRING", 24, right::<2>),
        NativeFunction::new("MID_STRING", 32, middle::<1>).operating(TextOperation::Middle),
        NativeFunction::new("MID_WSTRING", 32, middle::<2>),
        NativeFunction::new("CONCAT_STRING", 16, append::<1>).operating(TextOperation::Append),
        NativeFunction::new("CONCAT_WSTRING", 16, append::<2>),
        NativeFunction::new("INSERT_STRING", 32, insert::<1>).operating(TextOperation::Insert),
        NativeFunction::new("INSERT_WSTRING", 32, insert::<2>),
        NativeFunction::new("DELETE_STRING", 32, delete::<1>).operating(TextOperation::Delete),
        NativeFunction::new("DELETE_WSTRING", 32, delete::<2>),
        NativeFunction::new("REPLACE_STRING", 40, replace::<1>).operating(TextOperation::Replace),
        NativeFunction::new("REPLACE_WSTRING", 40, replace::<2>),
        NativeFunction::new("FIND_STRING", 24, find_narrow).operating(TextOperation::Find),
        NativeFunction::new("FIND_WSTRING", 24, find_wide),
    ]
}

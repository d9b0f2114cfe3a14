//! Strings: comparison and assignment (IEC 61131-3:2013 Tables 33 and 34; the shorter operand of a comparison is filled
//! with code 0 at the right).
//!
//! A string is a capacity word, a length word, then the characters. Everything is inlined into the handlers: where a part
//! of them took the access by its address, they would lose their tail calls.

use super::handler;
use crate::event::EventKind;
use crate::instruction::BYTES_PER_COUNT;
use crate::run::access::Access;
use crate::run::number::Number;
use crate::run::{Outcome, Step, Stop};
use crate::types::ElementaryType;
use crate::value::Value;
use std::cmp::Ordering;

/// A string in the data image: addresses and sizes in bytes.
#[derive(Clone, Copy)]
struct Text {
    head: u32,
    capacity: u32,
    length: u32,
}

impl Text {
    const fn start(self) -> u32 {
        self.head + 4
    }
}

/// The string whose address is at a place, all of its capacity inside the data image.
#[inline(always)]
fn text<X: Access>(x: &mut X, place: u32, width: u32) -> Result<Text, Stop> {
    let address = x.get::<u32>(place);
    let head = x.used_address(address)?;
    let (Some(capacity), Some(length)) = (x.get_at::<u16>(head), x.get_at::<u16>(head.saturating_add(2)))
    else {
        return Err(x.outside(head));
    };
    let text =
        Text { head, capacity: width * u32::from(capacity), length: width * u32::from(length.min(capacity)) };
    // The head was inside the data image, so none of this exceeds 32 bits.
    if text.start() + text.capacity > x.size() {
        return Err(x.outside(head));
    }
    Ok(text)
}

/// The character at an address.
#[inline(always)]
fn unit<X: Access>(x: &mut X, address: u32, width: u32) -> Option<u16> {
    if width == 1 { x.get_at::<u8>(address).map(u16::from) } else { x.get_at::<u16>(address) }
}

/// The order of two strings that lie inside the data image.
#[inline(always)]
fn order<X: Access>(x: &mut X, left: Text, right: Text, width: u32) -> Option<Ordering> {
    let common = left.length.min(right.length);
    let mut at = 0;
    // Eight bytes at a time, as long as they are equal.
    while at + 8 <= common {
        let differ = x.get_at::<u64>(left.start() + at)? ^ x.get_at::<u64>(right.start() + at)?;
        if differ != 0 {
            // The first byte that differs, and the beginning of its character.
            at += differ.trailing_zeros() / 8 / width * width;
            break;
        }
        at += 8;
    }
    while at < common {
        let (one, other) = (unit(x, left.start() + at, width)?, unit(x, right.start() + at, width)?);
        if one != other {
            return Some(one.cmp(&other));
        }
        at += width;
    }
    let (longer, order) =
        if left.length > right.length { (left, Ordering::Greater) } else { (right, Ordering::Less) };
    while at < longer.length {
        if unit(x, longer.start() + at, width)? != 0 {
            return Some(order);
        }
        at += width;
    }
    Some(Ordering::Equal)
}

#[inline(always)]
fn compare<X: Access>(x: &mut X, operands: [u32; 4], width: u32) -> Outcome {
    let [to, left, right, _] = operands;
    if width == 1 {
        let (left, right) = (x.get::<u32>(left), x.get::<u32>(right));
        if let Some((order, charged)) = x.compare_strings(left, right) {
            x.charge(charged);
            x.set(to, order);
            return Ok(Step::Next);
        }
    }
    let (left, right) = (text(x, left, width)?, text(x, right, width)?);
    let Some(order) = order(x, left, right, width) else {
        return Err(x.outside(left.head.max(right.head)));
    };
    charge(x, left.length.max(right.length));
    x.set(to, order as i8);
    Ok(Step::Next)
}

#[inline(always)]
fn copy<X: Access>(x: &mut X, operands: [u32; 4], width: u32) -> Outcome {
    let [to, from, _, _] = operands;
    if width == 1 {
        let (to, from) = (x.get::<u32>(to), x.get::<u32>(from));
        if let Some(charged) = x.copy_string(to, from) {
            x.charge(charged);
            return Ok(Step::Next);
        }
    }
    let (to, from) = (text(x, to, width)?, text(x, from, width)?);
    let kept = from.length.min(to.capacity);
    if kept < from.length {
        let values = || {
            let number = |bytes: u32| Value::Unsigned(u64::from(bytes / width), ElementaryType::Uint);
            vec![("length".to_owned(), number(from.length)), ("capacity".to_owned(), number(to.capacity))]
        };
        x.event(EventKind::StringCut, values)?;
    }
    // Both strings were checked to lie in the data image, and no more than either holds is copied.
    let copied = x.copy(to.start(), from.start(), kept);
    let length = x.set_at(to.head + 2, (kept / width) as u16);
    if copied.and(length).is_none() {
        return Err(x.outside(to.head.max(from.head)));
    }
    charge(x, kept);
    Ok(Step::Next)
}

#[inline(always)]
fn charge<X: Access>(x: &mut X, bytes: u32) {
    x.charge(u64::from(bytes / BYTES_PER_COUNT));
}

handler! {
    CompareString<S: Number>(x, operands) {
        compare(x, operands, size_of::<S>() as u32)
    }

    CompareWideString<S: Number>(x, operands) {
        compare(x, operands, size_of::<S>() as u32)
    }

    CopyString<S: Number>(x, operands) {
        copy(x, operands, size_of::<S>() as u32)
    }

    CopyWideString<S: Number>(x, operands) {
        copy(x, operands, size_of::<S>() as u32)
    }
}

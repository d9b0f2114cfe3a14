//! Texts compared, and one looked for in another.

use super::{DataImage, Text, charged, rare, read};
use std::cmp::Ordering;

/// Compares two texts, as `compare-string`: the order in the low 8 bits.
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn compare(image: DataImage, left: u32, right: u32) -> i64 {
    // SAFETY: as the caller says.
    unsafe {
        let Some(left) = Text::at(image, left) else { return rare() };
        let Some(right) = Text::at(image, right) else { return rare() };
        let order = order(left, right) as u8;
        charged(left.length.max(right.length)) << 8 | i64::from(order)
    }
}

/// The order of two texts, the shorter filled with code 0.
///
/// # Safety
/// Texts of a run.
#[inline(always)]
unsafe fn order(left: Text, right: Text) -> Ordering {
    // SAFETY: nothing is read behind the length of either text, which is at most its capacity.
    unsafe {
        let common = left.length.min(right.length);
        let (one, other) = keys(left.characters(), right.characters(), common);
        if one != other || left.length == right.length {
            return one.cmp(&other);
        }
        let (longer, order) =
            if left.length > right.length { (left, Ordering::Greater) } else { (right, Ordering::Less) };
        let rest = longer.characters().wrapping_add(common);
        let filled = (0..longer.length - common).all(|at| rest.wrapping_add(at).read() == 0);
        if filled { Ordering::Equal } else { order }
    }
}

/// Numbers in the order of so many bytes at each of two places.
///
/// # Safety
/// The bytes lie inside the data image.
#[inline(always)]
unsafe fn keys(one: *const u8, other: *const u8, bytes: usize) -> (u64, u64) {
    // SAFETY: as the caller says.
    unsafe {
        if bytes >= 8 {
            let word = |from: *const u8, at| u64::from_be_bytes(read(from.wrapping_add(at)));
            let last = bytes - 8;
            let mut at = 0;
            while at < last {
                let (one, other) = (word(one, at), word(other, at));
                if one != other {
                    return (one, other);
                }
                at += 8;
            }
            // With bytes that have been found equal.
            return (word(one, last), word(other, last));
        }
        let key = |from: *const u8| {
            if bytes >= 4 {
                let end = from.wrapping_add(bytes - 4);
                u64::from(u32::from_be_bytes(read(from))) << 32 | u64::from(u32::from_be_bytes(read(end)))
            } else if bytes >= 2 {
                let end = from.wrapping_add(bytes - 2);
                u64::from(u16::from_be_bytes(read(from))) << 16 | u64::from(u16::from_be_bytes(read(end)))
            } else if bytes == 1 {
                u64::from(from.read())
            } else {
                0
            }
        };
        (key(one), key(other))
    }
}

/// [`crate::TextOperation::Find`] of up to eight characters: the position in the low 16 bits.
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn find(image: DataImage, text: u32, wanted: u32) -> i64 {
    // SAFETY: as the caller says; that whole words lie inside the data image is checked.
    unsafe {
        let Some(text) = Text::at(image, text) else { return rare() };
        let Some(wanted) = Text::at(image, wanted) else { return rare() };
        let count = wanted.length;
        if !(1..=8).contains(&count)
            || text.length > i16::MAX as usize
            || !text.has_words(image, text.length.max(1))
            || !wanted.has_words(image, 1)
        {
            return rare();
        }
        let (found, seen) = if count > text.length {
            (None, 0)
        } else {
            let word = u64::from_le_bytes(read(wanted.characters()));
            let found = first(text.characters(), text.length - count, (word, count));
            (found, found.map_or(text.length, |at| at + count))
        };
        let charged = text.charged() + wanted.charged() + ((seen + count) / 16) as i64;
        charged << 16 | found.map_or(0, |at| at as i64 + 1)
    }
}

/// The first place up to the last one from which so many bytes of a word, at least 1, stand.
///
/// # Safety
/// Eight bytes from each of the places on lie inside the data image.
#[inline(always)]
unsafe fn first(text: *const u8, last: usize, (word, count): (u64, usize)) -> Option<usize> {
    const ONES: u64 = 0x0101_0101_0101_0101;
    let mask = u64::MAX >> (64 - 8 * count);
    let head = (word & 0xff) * ONES;
    let mut at = 0;
    while at <= last {
        // SAFETY: as the caller says.
        let differ = u64::from_le_bytes(unsafe { read(text.wrapping_add(at)) }) ^ head;
        // The highest bit of each byte that is 0, and of some bytes of 1 behind such a byte.
        let mut heads = differ.wrapping_sub(ONES) & !differ & (ONES << 7);
        while heads != 0 {
            let place = at + heads.trailing_zeros() as usize / 8;
            if place > last {
                return None;
            }
            // SAFETY: as the caller says.
            let stands = u64::from_le_bytes(unsafe { read(text.wrapping_add(place)) });
            if (stands ^ word) & mask == 0 {
                return Some(place);
            }
            heads &= heads - 1;
        }
        at += 8;
    }
    None
}

//! What native functions do with STRINGs: one function an operation.

use super::search::find;
use super::{DataImage, Text, rare};
use crate::text_operation::TextOperation;
use crate::types::Scalar;

/// [`crate::TextOperation::Length`]: the length in the low 16 bits.
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn length(image: DataImage, text: u32) -> i64 {
    // SAFETY: as the caller says.
    match unsafe { Text::at(image, text) } {
        Some(text) if text.length <= i16::MAX as usize => text.charged() << 16 | text.length as i64,
        _ => rare(),
    }
}

/// [`crate::TextOperation::Append`].
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn append(image: DataImage, source: u32, result: u32) -> i64 {
    // SAFETY: as the caller says; there is room for the whole source.
    unsafe {
        let Some(source) = Text::at(image, source) else { return rare() };
        let Some(result) = Text::at(image, result) else { return rare() };
        if source.length > result.capacity - result.length {
            return rare();
        }
        result.append(source, 0, source.length, 0)
    }
}

/// [`crate::TextOperation::Middle`], and `Left` from the first character on.
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn middle(
    image: DataImage,
    source: u32,
    count: u64,
    position: u64,
    result: u32,
) -> i64 {
    // SAFETY: as the caller says; the characters are there, and there is room for them.
    unsafe {
        let Some(source) = Text::at(image, source) else { return rare() };
        let Some(result) = Text::at(image, result) else { return rare() };
        let Some((start, count)) = part(source, count, position) else { return rare() };
        if count > result.capacity - result.length {
            return rare();
        }
        result.append(source, start, count, source.charged())
    }
}

/// [`crate::TextOperation::Right`].
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn right(image: DataImage, source: u32, count: u64, result: u32) -> i64 {
    // SAFETY: as the caller says; the characters are there, and there is room for them.
    unsafe {
        let Some(source) = Text::at(image, source) else { return rare() };
        let Some(result) = Text::at(image, result) else { return rare() };
        // A negative number is far above every length.
        if count > source.length as u64 || count as usize > result.capacity - result.length {
            return rare();
        }
        let count = count as usize;
        result.append(source, source.length - count, count, source.charged())
    }
}

/// Appends parts of texts, each given by the first character and how many, to a text without bytes in common with them.
///
/// # Safety
/// Texts of a run, which have these characters.
#[inline(always)]
unsafe fn join<const COUNT: usize>(result: Text, parts: [(Text, usize, usize); COUNT], before: i64) -> i64 {
    let added: usize = parts.iter().map(|(.., count)| *count).sum();
    let apart = parts.iter().all(|(source, ..)| source.is_apart_from(result));
    if !apart || added > result.capacity - result.length {
        return rare();
    }
    let (mut growing, mut charged) = (result, before);
    for (source, start, count) in parts {
        // SAFETY: as the caller says; there is room for all parts, and none of them changes a source.
        charged = unsafe { growing.append(source, start, count, charged) };
        growing.length += count;
    }
    charged
}

/// The first of so many characters from a position on, counted from 0, and how many; `None` where the text does not have
/// all of them.
#[inline(always)]
fn part(text: Text, count: u64, position: u64) -> Option<(usize, usize)> {
    let (start, there) = (position.wrapping_sub(1), text.length as u64);
    // Negative numbers are far above every length.
    (start <= there && count <= there - start).then_some((start as usize, count as usize))
}

/// [`crate::TextOperation::Insert`].
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn insert(
    image: DataImage,
    source: u32,
    inserted: u32,
    behind: u64,
    result: u32,
) -> i64 {
    // SAFETY: as the caller says; the characters are there.
    unsafe {
        let Some(source) = Text::at(image, source) else { return rare() };
        let Some(inserted) = Text::at(image, inserted) else { return rare() };
        let Some(result) = Text::at(image, result) else { return rare() };
        // A negative number is far above every length.
        if behind > source.length as u64 {
            return rare();
        }
        let at = behind as usize;
        let parts = [(source, 0, at), (inserted, 0, inserted.length), (source, at, source.length - at)];
        join(result, parts, source.charged())
    }
}

/// [`crate::TextOperation::Delete`].
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn delete(
    image: DataImage,
    source: u32,
    count: u64,
    position: u64,
    result: u32,
) -> i64 {
    // SAFETY: as the caller says; the characters are there.
    unsafe {
        let Some(source) = Text::at(image, source) else { return rare() };
        let Some(result) = Text::at(image, result) else { return rare() };
        let Some((start, count)) = part(source, count, position) else { return rare() };
        let end = start + count;
        join(result, [(source, 0, start), (source, end, source.length - end)], source.charged())
    }
}

/// [`crate::TextOperation::Replace`].
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn replace(
    image: DataImage,
    source: u32,
    put: u32,
    count: u64,
    position: u64,
    result: u32,
) -> i64 {
    // SAFETY: as the caller says; the characters are there.
    unsafe {
        let Some(source) = Text::at(image, source) else { return rare() };
        let Some(put) = Text::at(image, put) else { return rare() };
        let Some(result) = Text::at(image, result) else { return rare() };
        let Some((start, count)) = part(source, count, position) else { return rare() };
        let end = start + count;
        let parts = [(source, 0, start), (put, 0, put.length), (source, end, source.length - end)];
        join(result, parts, source.charged())
    }
}

/// [`crate::TextOperation::Write`] of a number given by its magnitude.
///
/// # Safety
/// The data image is that of a run.
unsafe fn write(image: DataImage, magnitude: u64, is_negative: bool, result: u32) -> i64 {
    const PAIRS: [[u8; 2]; 100] = {
        let mut pairs = [[b'0'; 2]; 100];
        let mut number = 0;
        while number < 100 {
            // Digits, below 10.
            pairs[number] = [b'0' + (number / 10) as u8, b'0' + (number % 10) as u8];
            number += 1;
        }
        pairs
    };
    // SAFETY: as the caller says; the result has room for the sign and as many digits as there are.
    unsafe {
        let Some(result) = Text::at(image, result) else { return rare() };
        let length =
            magnitude.checked_ilog10().map_or(1, |tens| tens as usize + 1) + usize::from(is_negative);
        if length > result.capacity {
            return rare();
        }
        let mut end = result.characters().wrapping_add(length);
        let mut rest = magnitude;
        while rest >= 10 {
            end = end.wrapping_sub(2);
            end.cast::<[u8; 2]>().write(PAIRS.get((rest % 100) as usize).copied().unwrap_or_default());
            rest /= 100;
        }
        if rest > 0 || magnitude == 0 {
            end = end.wrapping_sub(1);
            // A digit.
            end.write(b'0' + rest as u8);
        }
        if is_negative {
            result.characters().write(b'-');
        }
        result.set_length(length);
        result.charged()
    }
}

/// [`crate::TextOperation::Write`] of a number with a sign.
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn write_signed(image: DataImage, number: i64, result: u32) -> i64 {
    // SAFETY: as the caller says.
    unsafe { write(image, number.unsigned_abs(), number < 0, result) }
}

/// [`crate::TextOperation::Write`] of a number without a sign.
///
/// # Safety
/// The data image is that of a run.
pub(in crate::run) unsafe fn write_unsigned(image: DataImage, number: u64, result: u32) -> i64 {
    // SAFETY: as the caller says.
    unsafe { write(image, number, false, result) }
}

/// Does an operation on the frame at an address. The result is what it charges; negative, and nothing done, where
/// something is rare.
///
/// # Safety
/// The data image is that of a run, and the frame lies in it as far as 8 bytes behind the start of its result.
pub(in crate::run) unsafe fn on_frame(image: DataImage, operation: TextOperation, frame: u32) -> i64 {
    let slot = |offset: u32| image.data.wrapping_add(frame as usize + offset as usize);
    // SAFETY: as the caller says: no slot is behind the result.
    let (text, number) = unsafe {
        (
            |offset| u32::from_le_bytes(slot(offset).cast::<[u8; 4]>().read()),
            |offset| u64::from_le_bytes(slot(offset).cast::<[u8; 8]>().read()),
        )
    };
    // SAFETY: as above.
    unsafe {
        let last = operation.result();
        let given = match operation {
            TextOperation::Length => length(image, text(0)),
            TextOperation::Find => find(image, text(0), text(8)),
            TextOperation::Append => return append(image, text(0), text(last)),
            TextOperation::Left => return middle(image, text(0), number(8), 1, text(last)),
            TextOperation::Right => return right(image, text(0), number(8), text(last)),
            TextOperation::Middle => return middle(image, text(0), number(8), number(16), text(last)),
            TextOperation::Insert => return insert(image, text(0), text(8), number(16), text(last)),
            TextOperation::Delete => return delete(image, text(0), number(8), number(16), text(last)),
            TextOperation::Replace => {
                return replace(image, text(0), text(8), number(16), number(24), text(last));
            }
            TextOperation::Write(scalar) => {
                let (bits, result) = (number(0), text(last));
                return match scalar {
                    // Casts cut to the width of the number.
                    Scalar::I8 => write_signed(image, i64::from(bits as i8), result),
                    Scalar::I16 => write_signed(image, i64::from(bits as i16), result),
                    Scalar::I32 => write_signed(image, i64::from(bits as i32), result),
                    Scalar::I64 => write_signed(image, bits as i64, result),
                    Scalar::U8 => write_unsigned(image, u64::from(bits as u8), result),
                    Scalar::U16 => write_unsigned(image, u64::from(bits as u16), result),
                    Scalar::U32 => write_unsigned(image, u64::from(bits as u32), result),
                    Scalar::U64 => write_unsigned(image, bits, result),
                    Scalar::F32 | Scalar::F64 => rare(),
                };
            }
        };
        if given >= 0 {
            // The low 16 bits are the value.
            slot(last).cast::<[u8; 2]>().write((given as u16).to_le_bytes());
        }
        given >> 16
    }
}

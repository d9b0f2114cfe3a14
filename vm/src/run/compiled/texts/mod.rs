//! What compiled code calls to work on STRINGs, as long as nothing rare happens.
//!
//! Each function gets addresses, checks them with the data image, and does what its instruction or native function does
//! ([`crate::TextOperation`]); or it changes nothing and gives [`RARE`], and the plain instruction runs. A result that is
//! not negative holds a value in its low bits, where there is one, and in the others what the instruction charges.

mod search;

pub(super) use search::{compare, find};

use super::support::Context;
use crate::instruction::BYTES_PER_COUNT;
use crate::place::SYSTEM_BYTES;

/// The plain instruction is to run.
const RARE: i64 = i64::MIN;

/// [`RARE`], in a function that is rarely called, so that ordinary cases come first.
#[cold]
#[inline(never)]
const fn rare() -> i64 {
    RARE
}

/// A STRING whose whole capacity lies inside the data image.
#[derive(Clone, Copy)]
struct Text {
    head: *mut u8,
    capacity: usize,
    length: usize,
}

impl Text {
    /// The STRING at an address; `None` where there cannot be one.
    ///
    /// # Safety
    /// The context is that of a run.
    #[inline(always)]
    unsafe fn at(context: &Context, address: u32) -> Option<Self> {
        let at = address as usize;
        // Neither NULL nor the machine's own, for which the plain instructions have different answers.
        if address < SYSTEM_BYTES || at + 4 > context.size {
            return None;
        }
        let head = context.data.wrapping_add(at);
        // SAFETY: the four bytes lie inside the data image, and need no alignment.
        let word = u32::from_le(unsafe { head.cast::<u32>().read_unaligned() });
        // Words of 16 bits.
        let (capacity, length) = ((word & 0xffff) as usize, (word >> 16) as usize);
        (at + 4 + capacity <= context.size).then(|| Self { head, capacity, length: length.min(capacity) })
    }

    #[inline(always)]
    const fn characters(self) -> *mut u8 {
        self.head.wrapping_add(4)
    }

    /// What asking for a text charges: it is as long as it is.
    #[inline(always)]
    const fn charged(self) -> i64 {
        charged(self.length)
    }

    /// # Safety
    /// The length is at most the capacity.
    #[inline(always)]
    unsafe fn set_length(self, length: usize) {
        // The whole head: what is read soon in one piece is better written in one. Both are numbers of 16 bits.
        let word = (self.capacity | length << 16) as u32;
        // SAFETY: the head lies inside the data image.
        unsafe { self.head.cast::<u32>().write_unaligned(word.to_le()) };
    }

    /// Puts characters behind the first `at` ones, as the last ones. The result is what is given for it.
    ///
    /// # Safety
    /// So many characters lie inside the data image, and there is room for them.
    #[inline(always)]
    unsafe fn put(self, at: usize, from: *const u8, count: usize, charged: i64) -> i64 {
        // SAFETY: as the caller says.
        unsafe {
            if count > SHORT {
                return self.put_many(at, from, count, charged);
            }
            copy_short(self.characters().wrapping_add(at), from, count);
            self.set_length(at + count);
        }
        charged
    }

    /// As [`Text::put`]; a function of its own, so that short texts need no registers preserved.
    ///
    /// # Safety
    /// As for [`Text::put`].
    #[inline(never)]
    unsafe fn put_many(self, at: usize, from: *const u8, count: usize, charged: i64) -> i64 {
        // SAFETY: as the caller says.
        unsafe {
            from.copy_to(self.characters().wrapping_add(at), count);
            self.set_length(at + count);
        }
        charged
    }

    /// Appends characters of a text, for which there is room. The result is what that charges, and what has been charged.
    ///
    /// # Safety
    /// The other text has the characters `start..start + count`, and this one has room for them.
    #[inline(always)]
    unsafe fn append(self, source: Self, start: usize, count: usize, before: i64) -> i64 {
        let charged = before + source.charged() + self.charged() + charged(count);
        // SAFETY: both spans lie inside the capacities of the texts, and those inside the data image.
        unsafe { self.put(self.length, source.characters().wrapping_add(start), count, charged) }
    }

    /// Whether eight bytes from each of so many first characters on lie inside the data image.
    #[inline(always)]
    fn has_words(self, context: &Context, characters: usize) -> bool {
        self.characters().addr() - context.data.addr() + characters + 7 <= context.size
    }
}

/// What so many characters charge.
#[inline(always)]
const fn charged(characters: usize) -> i64 {
    // At most 65535 characters.
    (characters / BYTES_PER_COUNT as usize) as i64
}

/// # Safety
/// The bytes lie inside the data image.
#[inline(always)]
unsafe fn read<const COUNT: usize>(from: *const u8) -> [u8; COUNT] {
    // SAFETY: as the caller says. Bytes need no alignment.
    unsafe { from.cast::<[u8; COUNT]>().read() }
}

/// Most bytes that [`copy_short`] copies.
const SHORT: usize = 64;

/// Copies the first and the last bytes as numbers of a size, which may have bytes in common.
///
/// # Safety
/// As for [`copy_short`]; there are at least as many bytes as one number has.
#[inline(always)]
unsafe fn copy_ends<N: Copy>(to: *mut u8, from: *const u8, bytes: usize) {
    let last = bytes - size_of::<N>();
    // SAFETY: as the caller says. All is read before anything is written.
    unsafe {
        let ends = (from.cast::<N>().read_unaligned(), from.wrapping_add(last).cast::<N>().read_unaligned());
        to.cast::<N>().write_unaligned(ends.0);
        to.wrapping_add(last).cast::<N>().write_unaligned(ends.1);
    }
}

/// Copies at most [`SHORT`] bytes without a loop. The spans may overlap.
///
/// # Safety
/// Both spans lie inside the data image.
#[inline(always)]
unsafe fn copy_short(to: *mut u8, from: *const u8, bytes: usize) {
    // SAFETY: as the caller says; each way copies no more than there is, and reads all of it before it writes.
    unsafe {
        if bytes > 32 {
            let middle = bytes - 32;
            let parts = [0, 16, middle, middle + 16];
            let read = parts.map(|part| from.wrapping_add(part).cast::<u128>().read_unaligned());
            for (part, value) in parts.into_iter().zip(read) {
                to.wrapping_add(part).cast::<u128>().write_unaligned(value);
            }
        } else if bytes > 16 {
            copy_ends::<u128>(to, from, bytes);
        } else if bytes >= 8 {
            copy_ends::<u64>(to, from, bytes);
        } else if bytes >= 4 {
            copy_ends::<u32>(to, from, bytes);
        } else if bytes >= 2 {
            copy_ends::<u16>(to, from, bytes);
        } else if bytes == 1 {
            to.write(from.read());
        }
    }
}

/// Copies a text, as `copy-string`.
///
/// # Safety
/// The context is that of a run.
pub(super) unsafe extern "C" fn copy_text(context: *mut Context, to: u32, from: u32) -> i64 {
    // SAFETY: as the caller says; what is copied is no longer than either capacity.
    unsafe {
        let context = &*context;
        let Some(to) = Text::at(context, to) else { return rare() };
        let Some(from) = Text::at(context, from) else { return rare() };
        if from.length > to.capacity {
            return rare();
        }
        to.put(0, from.characters(), from.length, from.charged())
    }
}

/// [`crate::TextOperation::Length`]: the length in the low 16 bits.
///
/// # Safety
/// The context is that of a run.
pub(super) unsafe extern "C" fn length(context: *mut Context, text: u32) -> i64 {
    // SAFETY: as the caller says.
    match unsafe { Text::at(&*context, text) } {
        Some(text) if text.length <= i16::MAX as usize => text.charged() << 16 | text.length as i64,
        _ => rare(),
    }
}

/// [`crate::TextOperation::Append`].
///
/// # Safety
/// The context is that of a run.
pub(super) unsafe extern "C" fn append(context: *mut Context, source: u32, result: u32) -> i64 {
    // SAFETY: as the caller says; there is room for the whole source.
    unsafe {
        let context = &*context;
        let Some(source) = Text::at(context, source) else { return rare() };
        let Some(result) = Text::at(context, result) else { return rare() };
        if source.length > result.capacity - result.length {
            return rare();
        }
        result.append(source, 0, source.length, 0)
    }
}

/// [`crate::TextOperation::Middle`], and `Left` from the first character on.
///
/// # Safety
/// The context is that of a run.
pub(super) unsafe extern "C" fn middle(
    context: *mut Context,
    source: u32,
    count: u64,
    position: u64,
    result: u32,
) -> i64 {
    // SAFETY: as the caller says; the characters are there, and there is room for them.
    unsafe {
        let context = &*context;
        let Some(source) = Text::at(context, source) else { return rare() };
        let Some(result) = Text::at(context, result) else { return rare() };
        let start = position.wrapping_sub(1);
        let there = source.length as u64;
        // Negative numbers are far above every length.
        if start > there || count > there - start || count as usize > result.capacity - result.length {
            return rare();
        }
        result.append(source, start as usize, count as usize, source.charged())
    }
}

/// [`crate::TextOperation::Right`].
///
/// # Safety
/// The context is that of a run.
pub(super) unsafe extern "C" fn right(context: *mut Context, source: u32, count: u64, result: u32) -> i64 {
    // SAFETY: as the caller says; the characters are there, and there is room for them.
    unsafe {
        let context = &*context;
        let Some(source) = Text::at(context, source) else { return rare() };
        let Some(result) = Text::at(context, result) else { return rare() };
        // A negative number is far above every length.
        if count > source.length as u64 || count as usize > result.capacity - result.length {
            return rare();
        }
        let count = count as usize;
        result.append(source, source.length - count, count, source.charged())
    }
}

/// [`crate::TextOperation::Write`] of a number given by its magnitude.
///
/// # Safety
/// The context is that of a run.
unsafe fn write(context: *mut Context, magnitude: u64, is_negative: bool, result: u32) -> i64 {
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
        let context = &*context;
        let Some(result) = Text::at(context, result) else { return rare() };
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
/// The context is that of a run.
pub(super) unsafe extern "C" fn write_signed(context: *mut Context, number: i64, result: u32) -> i64 {
    // SAFETY: as the caller says.
    unsafe { write(context, number.unsigned_abs(), number < 0, result) }
}

/// [`crate::TextOperation::Write`] of a number without a sign.
///
/// # Safety
/// The context is that of a run.
pub(super) unsafe extern "C" fn write_unsigned(context: *mut Context, number: u64, result: u32) -> i64 {
    // SAFETY: as the caller says.
    unsafe { write(context, number, false, result) }
}

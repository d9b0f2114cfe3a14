//! Work on STRINGs, as long as nothing rare happens: for compiled code and for the threaded dispatcher.
//!
//! Each function gets addresses, checks them with the data image, and does what its instruction or native function does
//! ([`crate::TextOperation`]); or it changes nothing and gives [`RARE`], and the plain instruction runs. A result that is
//! not negative holds a value in its low bits, where there is one, and in the others what the instruction charges.

#![allow(unsafe_code)]

pub(super) mod operations;
pub(super) mod search;

pub(super) use operations::on_frame;
#[cfg(threaded_dispatch)]
pub(super) use search::compare;

use crate::instruction::BYTES_PER_COUNT;
use crate::place::SYSTEM_BYTES;

/// The data image of a run.
#[derive(Clone, Copy)]
pub(super) struct DataImage {
    pub(super) data: *mut u8,
    pub(super) size: usize,
}

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
    /// The data image is that of a run.
    #[inline(always)]
    unsafe fn at(image: DataImage, address: u32) -> Option<Self> {
        let at = address as usize;
        // Neither NULL nor the machine's own, for which the plain instructions have different answers.
        if address < SYSTEM_BYTES || at + 4 > image.size {
            return None;
        }
        let head = image.data.wrapping_add(at);
        // SAFETY: the four bytes lie inside the data image, and need no alignment.
        let word = u32::from_le(unsafe { head.cast::<u32>().read_unaligned() });
        // Words of 16 bits.
        let (capacity, length) = ((word & 0xffff) as usize, (word >> 16) as usize);
        (at + 4 + capacity <= image.size).then(|| Self { head, capacity, length: length.min(capacity) })
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

    /// The head with another length, which is at most the capacity: both are numbers of 16 bits. Heads are written as a
    /// whole, since what is read soon in one piece is better written in one.
    #[inline(always)]
    const fn with_length(self, length: usize) -> u32 {
        (self.capacity | length << 16) as u32
    }

    /// # Safety
    /// The length is at most the capacity.
    #[inline(always)]
    unsafe fn set_length(self, length: usize) {
        // SAFETY: the head lies inside the data image.
        unsafe { self.head.cast::<u32>().write_unaligned(self.with_length(length).to_le()) };
    }

    /// Puts characters behind the first `at` ones, as the last ones. The result is what is given for it.
    ///
    /// # Safety
    /// So many characters lie inside the data image, and there is room for them.
    #[inline(always)]
    unsafe fn put(self, at: usize, from: *const u8, count: usize, charged: i64) -> i64 {
        let to = self.characters().wrapping_add(at);
        // SAFETY: as the caller says.
        unsafe {
            if count > SHORT {
                return put_many(self.head, self.with_length(at + count), to, from, count, charged);
            }
            copy_short(to, from, count);
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

    /// Whether it has no byte in common with another text.
    #[inline(always)]
    fn is_apart_from(self, other: Self) -> bool {
        let end = |text: Self| text.characters().addr() + text.capacity;
        end(self) <= other.head.addr() || end(other) <= self.head.addr()
    }

    /// Whether eight bytes from each of so many first characters on lie inside the data image.
    #[inline(always)]
    fn has_words(self, image: DataImage, characters: usize) -> bool {
        self.characters().addr() - image.data.addr() + characters + 7 <= image.size
    }
}

/// As [`Text::put`], with the new head; a function of its own, so that short texts need no registers preserved.
///
/// # Safety
/// As for [`Text::put`].
#[inline(never)]
unsafe fn put_many(
    head: *mut u8,
    word: u32,
    to: *mut u8,
    from: *const u8,
    count: usize,
    charged: i64,
) -> i64 {
    // SAFETY: as the caller says.
    unsafe {
        from.copy_to(to, count);
        head.cast::<u32>().write_unaligned(word.to_le());
    }
    charged
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
/// The data image is that of a run.
pub(super) unsafe fn copy_text(image: DataImage, to: u32, from: u32) -> i64 {
    // SAFETY: as the caller says; what is copied is no longer than either capacity.
    unsafe {
        let Some(to) = Text::at(image, to) else { return rare() };
        let Some(from) = Text::at(image, from) else { return rare() };
        if from.length > to.capacity {
            return rare();
        }
        to.put(0, from.characters(), from.length, from.charged())
    }
}

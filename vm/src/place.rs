//! Where an operand lives: an offset into the data image or into the instance of the running unit.
//!
//! Every variable, temporary and constant has a place that is known when the image is built; the machine has no
//! other memory. This module knows nothing of what is stored at a place.

use serde::{Deserialize, Serialize};
use std::fmt;

const RELATIVE: u32 = 1 << 31;

/// Bytes at the start of every data image that belong to the machine itself: the time of the previous scan and
/// the number of completed scans. No variable lives there, so that address 0 can stand for NULL.
pub const SYSTEM_BYTES: u32 = 16;

/// The address that a reference holds when it refers to nothing.
pub const NULL_ADDRESS: u32 = 0;

/// A place: either absolute in the data image, or relative to the base of the running unit's instance.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Place(u32);

impl Place {
    /// The largest offset that a place can hold, in bytes.
    pub const MAXIMUM_OFFSET: u32 = RELATIVE - 1;

    /// A place at a byte offset from the start of the data image. Offsets above [`Self::MAXIMUM_OFFSET`] are
    /// clamped to it, which no verified image accepts.
    #[must_use]
    pub const fn absolute(offset: u32) -> Self {
        Self(if offset > Self::MAXIMUM_OFFSET { Self::MAXIMUM_OFFSET } else { offset })
    }

    /// A place at a byte offset from the instance base of the running unit; clamped as [`Self::absolute`].
    #[must_use]
    pub const fn relative(offset: u32) -> Self {
        Self(Self::absolute(offset).0 | RELATIVE)
    }

    /// Whether the place is relative to the instance base.
    #[must_use]
    pub const fn is_relative(self) -> bool {
        self.0 & RELATIVE != 0
    }

    /// The offset in bytes.
    #[must_use]
    pub const fn offset(self) -> u32 {
        self.0 & !RELATIVE
    }

    /// The place so many bytes further on.
    #[must_use]
    pub const fn plus(self, bytes: u32) -> Self {
        let offset = self.offset().saturating_add(bytes);
        if self.is_relative() { Self::relative(offset) } else { Self::absolute(offset) }
    }

    /// The operand word: the offset, with the top bit set for a relative place.
    #[must_use]
    pub const fn word(self) -> u32 {
        self.0
    }

    /// The place for an operand word.
    #[must_use]
    pub const fn from_word(word: u32) -> Self {
        Self(word)
    }
}

impl fmt::Display for Place {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mark = if self.is_relative() { '+' } else { '@' };
        write!(formatter, "{mark}{:04x}", self.offset())
    }
}

impl fmt::Debug for Place {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, formatter)
    }
}

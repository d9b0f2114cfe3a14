//! What native functions on STRINGs do that the machine can do by itself.

use crate::types::Scalar;

/// What a native function does, where it is one of those that compiled code and the threaded dispatcher do by themselves
/// as long as nothing rare happens: no event, no fault.
///
/// The function remains the definition, and runs where something is rare. Operands lie 8 bytes apart from the start of
/// the frame: texts by the 32-bit absolute addresses of their capacity words, numbers as LINT. The result lies behind
/// them; where it is a text, its address does. The function reads and writes nothing but what its operation tells, and
/// charges one instruction for every 64 characters of each text that it asks for and of those that it appends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TextOperation {
    /// The number of characters of a text, as INT: the text.
    Length,
    /// Appends a text to the result, which has room for it.
    Append,
    /// Appends the first characters of a text to the result: the text, how many.
    Left,
    /// Appends the last characters of a text to the result: the text, how many.
    Right,
    /// Appends characters of a text to the result: the text, how many, the position of the first, from 1 on.
    ///
    /// Of the text of this operation, of Left, Right, Insert, Delete and Replace the length is asked for once more.
    Middle,
    /// Appends a text with another one behind so many characters of it to the result, part by part: the text, the other
    /// one, how many.
    Insert,
    /// Appends a text without some characters to the result, part by part: the text, how many, the position of the first,
    /// from 1 on.
    Delete,
    /// Appends a text with another one in the place of some characters to the result, part by part: the text, the other
    /// one, how many, the position of the first, from 1 on.
    Replace,
    /// Where a text contains another one first, from 1 on, as INT, 0 where it does not: the text, the other one. Every
    /// 16 characters that are looked at or looked for charge one instruction more; none is looked at where the other one
    /// is empty or longer than the text.
    Find,
    /// Writes an integer in decimal digits into the result, whatever that held: the integer, as wide as it is.
    Write(Scalar),
}

impl TextOperation {
    /// Where the result lies, in bytes from the start of the frame.
    #[must_use]
    pub const fn result(self) -> u32 {
        match self {
            Self::Length | Self::Append | Self::Write(_) => 8,
            Self::Left | Self::Right | Self::Find => 16,
            Self::Middle | Self::Insert | Self::Delete => 24,
            Self::Replace => 32,
        }
    }
}

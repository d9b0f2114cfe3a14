//! Directly represented addresses as text: `%IX0.0`, `%QW2` (IEC 61131-3:2013, 6.5.5, table 16).
//!
//! Knows the form of an address and which bits of its area it covers; knows nothing of programs. The numbers
//! count units of the letter's own size, so `%IW1` is bytes 2 and 3; in `%IX3.5` they are byte and bit.

use std::{fmt, ops::Range};

use latchwork_grammar::tree::{AddressSize, Area};

/// A complete address.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Address {
    /// `I`, `Q` or `M`.
    pub area: Area,
    /// The size letter.
    pub size: AddressSize,
    /// The numbers between the points, at least one.
    pub path: Vec<u32>,
}

/// Most numbers in one address.
const LEVELS_MAX: usize = 8;

impl Address {
    /// Reads an address; letter case does not matter.
    ///
    /// # Errors
    /// A sentence that says what is wrong and what an address looks like.
    pub fn parse(text: &str) -> Result<Self, String> {
        const FORM: &str =
            "an address is `%`, the area I, Q or M, the size X, B, W, D or L, and numbers: `%IX0.0`";
        let Some(rest) = text.strip_prefix('%') else {
            return Err(format!("an address begins with `%`; {FORM}"));
        };
        let mut letters = rest.chars().peekable();
        let area = match letters.next().map(|letter| letter.to_ascii_uppercase()) {
            Some('I') => Area::Input,
            Some('Q') => Area::Output,
            Some('M') => Area::Memory,
            Some(other) => return Err(format!("there is no area `{other}`; {FORM}")),
            None => return Err(format!("the area is missing after `%`; {FORM}")),
        };
        let size = match letters.peek().map(|letter| letter.to_ascii_uppercase()) {
            Some('X') => Some(AddressSize::Bit),
            Some('B') => Some(AddressSize::Byte),
            Some('W') => Some(AddressSize::Word),
            Some('D') => Some(AddressSize::DoubleWord),
            Some('L') => Some(AddressSize::LongWord),
            _ => None,
        };
        if size.is_some() {
            letters.next();
        }
        let size = size.unwrap_or(AddressSize::Bit);
        let numbers: String = letters.collect();
        let mut path = Vec::new();
        for number in numbers.split('.') {
            if number.is_empty() {
                return Err(format!("a number is missing; {FORM}"));
            }
            if !number.bytes().all(|byte| byte.is_ascii_digit()) {
                return Err(format!("`{number}` is not a number; {FORM}"));
            }
            let Ok(value) = number.parse::<u32>() else {
                return Err(format!("the number {number} is too big for an address"));
            };
            if path.len() == LEVELS_MAX {
                return Err(format!("an address has at most {LEVELS_MAX} numbers"));
            }
            path.push(value);
        }
        if let (AddressSize::Bit, [_, bit]) = (size, path.as_slice())
            && *bit > 7
        {
            return Err(format!("a byte has the bits 0 to 7, not {bit}"));
        }
        Ok(Address { area, size, path })
    }

    /// The bits of its area that the address covers; `None` for an address of more levels than its size letter
    /// needs, whose place is the program's own business.
    pub fn bits(&self) -> Option<Range<u64>> {
        let width = self.width();
        match (self.size, self.path.as_slice()) {
            (AddressSize::Bit, [byte, bit]) => {
                let start = u64::from(*byte) * 8 + u64::from(*bit);
                Some(start..start + 1)
            }
            (_, [unit]) => {
                let start = u64::from(*unit) * width;
                Some(start..start + width)
            }
            _ => None,
        }
    }

    /// Number of bits of the size letter.
    pub fn width(&self) -> u64 {
        match self.size {
            AddressSize::Bit => 1,
            AddressSize::Byte => 8,
            AddressSize::Word => 16,
            AddressSize::DoubleWord => 32,
            AddressSize::LongWord => 64,
        }
    }

    /// Whether both addresses cover a common bit.
    pub fn overlaps(&self, other: &Address) -> bool {
        if self.area != other.area {
            return false;
        }
        match (self.bits(), other.bits()) {
            (Some(own), Some(others)) => own.start < others.end && others.start < own.end,
            _ => self.size == other.size && self.path == other.path,
        }
    }
}

impl fmt::Display for Address {
    /// The form with size letter, bits as byte and bit: `%I5` is `%IX0.5`.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let area = match self.area {
            Area::Input => 'I',
            Area::Output => 'Q',
            Area::Memory => 'M',
        };
        let size = match self.size {
            AddressSize::Bit => 'X',
            AddressSize::Byte => 'B',
            AddressSize::Word => 'W',
            AddressSize::DoubleWord => 'D',
            AddressSize::LongWord => 'L',
        };
        write!(out, "%{area}{size}")?;
        if let (AddressSize::Bit, [bit]) = (self.size, self.path.as_slice()) {
            return write!(out, "{}.{}", bit / 8, bit % 8);
        }
        for (index, number) in self.path.iter().enumerate() {
            if index > 0 {
                out.write_str(".")?;
            }
            write!(out, "{number}")?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::Address;

    fn address(text: &str) -> Address {
        Address::parse(text).unwrap()
    }

    #[test]
    fn spellings_of_one_bit_are_one_address() {
        for text in ["%IX3.5", "%ix3.5", "%I3.5", "%IX29", "%i29"] {
            assert_eq!(address(text).to_string(), "%IX3.5", "{text}");
            assert_eq!(address(text).bits(), Some(29..30), "{text}");
        }
    }

    #[test]
    fn numbers_count_units_of_the_size() {
        assert_eq!(address("%QB3").bits(), Some(24..32));
        assert_eq!(address("%QW1").bits(), Some(16..32));
        assert_eq!(address("%MD1").bits(), Some(32..64));
        assert_eq!(address("%ML1").bits(), Some(64..128));
        assert_eq!(address("%IW2.5.7.1").bits(), None);
    }

    #[test]
    fn overlap_is_by_bits_within_one_area() {
        assert!(address("%IW0").overlaps(&address("%IX1.7")));
        assert!(!address("%IW0").overlaps(&address("%IX2.0")));
        assert!(!address("%IW0").overlaps(&address("%QW0")));
        assert!(address("%IW1.2").overlaps(&address("%iw1.2")));
        assert!(!address("%IW1.2").overlaps(&address("%IW1")));
    }

    #[test]
    fn wrong_forms_are_refused() {
        for text in [
            "",
            "IX0.0",
            "%",
            "%Z1",
            "%IK3",
            "%I",
            "%I1.",
            "%IX0.8",
            "%I*",
            "%IX-1",
            "%IX1.2.",
            "%IW99999999999",
        ] {
            assert!(Address::parse(text).is_err(), "{text}");
        }
        assert!(Address::parse(&format!("%IW{}", "1.".repeat(100))).is_err());
    }
}

//! Archives in the ZIP form, good and bad. Names and sizes are written as they are given, so that they may lie.
//!
//! The form: APPNOTE.TXT of the ZIP file format, 4.3 (from memory). Deflate with fixed codes: RFC 1951, 3.2.6.

use std::io;

/// How the bytes of a file are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// As they are.
    Stored,
    /// As a deflate stream that is made of the first byte alone, repeated: a thousandth of the size.
    RunOf(u64),
    /// As a symbolic link to what the bytes say.
    Link,
}

/// An archive that is being made.
#[derive(Debug, Default)]
pub struct Archive {
    bytes: Vec<u8>,
    directory: Vec<u8>,
    count: u16,
}

impl Archive {
    /// Without files.
    pub fn new() -> Self {
        Archive::default()
    }

    /// Adds a file.
    ///
    /// # Errors
    /// If the archive is larger than the form allows: 4 GiB, 65,535 files, names of 65,535 bytes.
    pub fn add(&mut self, name: &[u8], content: &[u8], method: Method) -> io::Result<()> {
        let too_large = |_| io::Error::other("too large for an archive of this form");
        let place = u32::try_from(self.bytes.len()).map_err(too_large)?;
        let (packed, size, number) = match method {
            Method::Stored | Method::Link => (content.to_vec(), content.len() as u64, 0_u16),
            Method::RunOf(count) => (run(content.first().copied().unwrap_or(b' '), count), count, 8),
        };
        let packed_size = u32::try_from(packed.len()).map_err(too_large)?;
        let size = u32::try_from(size).map_err(too_large)?;
        let name_size = u16::try_from(name.len()).map_err(too_large)?;
        // A reader that trusts the checksum of a run will find it wrong, but only when it has read all of it.
        let sum = checksum(content);
        let mut common = Vec::new();
        for half in [20_u16, 0x0800, number, 0, 0x5b7e] {
            common.extend(half.to_le_bytes());
        }
        for word in [sum, packed_size, size] {
            common.extend(word.to_le_bytes());
        }
        common.extend(name_size.to_le_bytes());
        common.extend(0_u16.to_le_bytes());

        self.bytes.extend(b"PK\x03\x04");
        self.bytes.extend(&common);
        self.bytes.extend(name);
        self.bytes.extend(packed);

        let mode: u32 = if method == Method::Link { 0o120_777 } else { 0o100_644 };
        self.directory.extend(b"PK\x01\x02\x14\x03");
        self.directory.extend(&common);
        self.directory.extend([0; 6]);
        self.directory.extend((mode << 16).to_le_bytes());
        self.directory.extend(place.to_le_bytes());
        self.directory.extend(name);
        self.count = self.count.checked_add(1).ok_or_else(|| io::Error::other("too many files"))?;
        Ok(())
    }

    /// The bytes of the archive.
    pub fn finish(self) -> Vec<u8> {
        let mut bytes = self.bytes;
        // Both fit: `add` checked the places of the files, and a directory is no longer than its files with their names.
        let (place, size) = (bytes.len() as u32, self.directory.len() as u32);
        bytes.extend(&self.directory);
        bytes.extend(b"PK\x05\x06\0\0\0\0");
        bytes.extend(self.count.to_le_bytes());
        bytes.extend(self.count.to_le_bytes());
        bytes.extend(size.to_le_bytes());
        bytes.extend(place.to_le_bytes());
        bytes.extend(0_u16.to_le_bytes());
        bytes
    }
}

/// CRC-32 as the form wants it.
fn checksum(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0, |sum: u32, byte| {
        (0..8).fold(sum ^ u32::from(*byte), |sum, _| (sum >> 1) ^ (0xedb8_8320 & (sum & 1).wrapping_neg()))
    })
}

/// A deflate stream of one byte repeated: the byte, then as many copies of 258 bytes from one place before as fit, then
/// the byte again. At most 257 fewer bytes than asked for come out of the copies.
fn run(byte: u8, count: u64) -> Vec<u8> {
    let mut bits = Bits::default();
    // The last block, with fixed codes.
    bits.put(0b011, 3);
    bits.literal(byte);
    for _ in 0..count.saturating_sub(1) / 258 {
        // Length 258 is the symbol 285, distance 1 the symbol 0.
        bits.code(0xc5, 8);
        bits.code(0, 5);
    }
    for _ in 0..count.saturating_sub(1) % 258 {
        bits.literal(byte);
    }
    // The end of the block is the symbol 256.
    bits.code(0, 7);
    bits.finish()
}

/// Bits, the first of each byte at its low end.
#[derive(Default)]
struct Bits {
    bytes: Vec<u8>,
    held: u32,
    count: u32,
}

impl Bits {
    fn put(&mut self, bits: u32, count: u32) {
        self.held |= bits << self.count;
        self.count += count;
        while self.count >= 8 {
            self.bytes.push(self.held as u8);
            self.held >>= 8;
            self.count -= 8;
        }
    }

    /// A Huffman code, whose high bit comes first.
    fn code(&mut self, code: u32, length: u32) {
        self.put(code.reverse_bits() >> (32 - length), length);
    }

    fn literal(&mut self, byte: u8) {
        match byte {
            0..=143 => self.code(0x30 + u32::from(byte), 8),
            _ => self.code(0x190 + u32::from(byte) - 144, 9),
        }
    }

    fn finish(mut self) -> Vec<u8> {
        self.put(0, 7);
        self.bytes
    }
}

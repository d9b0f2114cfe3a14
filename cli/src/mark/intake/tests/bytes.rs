//! Zips written byte by byte, so that they may say of themselves whatever a test wants (APPNOTE 6.3, sections 4.3 and 4.4).

use std::io::Write;

use flate2::{Compress, Compression, Crc, FlushCompress, write::DeflateEncoder};

/// An entry, and what the zip says of it.
#[derive(Clone, Debug)]
pub(super) struct RawEntry {
    pub(super) name: Vec<u8>,
    pub(super) data: Vec<u8>,
    pub(super) method: u16,
    pub(super) flags: u16,
    pub(super) crc: u32,
    pub(super) size: u32,
    /// Bytes in the zip, if not those of `data`.
    pub(super) packed: Option<u32>,
    /// The mode of a file of POSIX.
    pub(super) mode: u32,
    /// The place of the local header, if not its own.
    pub(super) offset: Option<u32>,
    pub(super) extra: Vec<u8>,
    pub(super) comment: Vec<u8>,
}

/// A stored file.
pub(super) fn stored(name: impl AsRef<[u8]>, data: impl AsRef<[u8]>) -> RawEntry {
    let mut crc = Crc::new();
    crc.update(data.as_ref());
    RawEntry {
        name: name.as_ref().to_vec(),
        data: data.as_ref().to_vec(),
        method: 0,
        flags: 0,
        crc: crc.sum(),
        size: data.as_ref().len() as u32,
        packed: None,
        mode: 0o100_644,
        offset: None,
        extra: Vec::new(),
        comment: Vec::new(),
    }
}

/// A deflated file.
pub(super) fn deflated(name: impl AsRef<[u8]>, data: impl AsRef<[u8]>) -> RawEntry {
    let mut encoder = DeflateEncoder::new(Vec::new(), Compression::default());
    encoder.write_all(data.as_ref()).unwrap();
    RawEntry { data: encoder.finish().unwrap(), method: 8, ..stored(name, data) }
}

/// A file of so many million zeros, deflated.
pub(super) fn zeros(name: &str, millions: usize) -> RawEntry {
    let zeros = vec![0_u8; 1_000_000];
    let mut block = vec![0_u8; 10_000];
    let mut compress = Compress::new(Compression::best(), false);
    compress.compress(&zeros, &mut block, FlushCompress::Sync).unwrap();
    assert_eq!(compress.total_in(), 1_000_000);
    block.truncate(compress.total_out() as usize);
    // Each block begins at a byte and looks back at zeros, so it may follow itself; the last one is empty and final.
    let mut data = block.repeat(millions);
    data.extend([3, 0]);
    RawEntry { data, method: 8, size: u32::MAX - 1, crc: 0, ..stored(name, "") }
}

/// The bytes of a zip.
pub(super) fn zip(entries: &[RawEntry]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut directory = Vec::new();
    for entry in entries {
        let packed = entry.packed.unwrap_or(entry.data.len() as u32);
        let offset = entry.offset.unwrap_or(bytes.len() as u32);
        let mut common = Vec::new();
        short(&mut common, entry.flags);
        short(&mut common, entry.method);
        // 1980-01-01, midnight.
        short(&mut common, 0);
        short(&mut common, 0x21);
        long(&mut common, entry.crc);
        long(&mut common, packed);
        long(&mut common, entry.size);
        short(&mut common, entry.name.len() as u16);

        bytes.extend(b"PK\x03\x04");
        short(&mut bytes, 20);
        bytes.extend(&common);
        short(&mut bytes, 0);
        bytes.extend(&entry.name);
        bytes.extend(&entry.data);

        directory.extend(b"PK\x01\x02");
        // Made on a system with modes.
        short(&mut directory, 3 << 8 | 20);
        short(&mut directory, 20);
        directory.extend(&common);
        short(&mut directory, entry.extra.len() as u16);
        short(&mut directory, entry.comment.len() as u16);
        short(&mut directory, 0);
        short(&mut directory, 0);
        long(&mut directory, entry.mode << 16);
        long(&mut directory, offset);
        directory.extend(&entry.name);
        directory.extend(&entry.extra);
        directory.extend(&entry.comment);
    }
    let (start, size) = (bytes.len() as u32, directory.len() as u32);
    bytes.extend(directory);
    if entries.len() >= 0xffff {
        end_of_large(&mut bytes, entries.len() as u64, start, size);
    }
    let count = entries.len().min(0xffff) as u16;
    bytes.extend(b"PK\x05\x06");
    long(&mut bytes, 0);
    short(&mut bytes, count);
    short(&mut bytes, count);
    long(&mut bytes, size);
    long(&mut bytes, start);
    short(&mut bytes, 0);
    bytes
}

/// The two further records of a zip with many entries (ZIP64).
pub(super) fn end_of_large(bytes: &mut Vec<u8>, count: u64, start: u32, size: u32) {
    let place = bytes.len() as u64;
    bytes.extend(b"PK\x06\x06");
    bytes.extend(44_u64.to_le_bytes());
    short(bytes, 45);
    short(bytes, 45);
    long(bytes, 0);
    long(bytes, 0);
    bytes.extend(count.to_le_bytes());
    bytes.extend(count.to_le_bytes());
    bytes.extend(u64::from(size).to_le_bytes());
    bytes.extend(u64::from(start).to_le_bytes());
    bytes.extend(b"PK\x06\x07");
    long(bytes, 0);
    bytes.extend(place.to_le_bytes());
    long(bytes, 1);
}

fn short(bytes: &mut Vec<u8>, number: u16) {
    bytes.extend(number.to_le_bytes());
}

fn long(bytes: &mut Vec<u8>, number: u32) {
    bytes.extend(number.to_le_bytes());
}

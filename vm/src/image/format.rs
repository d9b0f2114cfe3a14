//! The file form of an image: magic `LTWK`, version (u16), length of the body (u32), CRC-32 of the body (u32), body
//! (postcard). All numbers little endian.
//!
//! Reading checks magic, version, length and checksum before it looks at the body; reading allocates no more than a
//! small multiple of the bytes that are really there.

use super::Image;
use crate::limits;
use std::fmt;

/// Version of the file form that this crate writes and reads.
pub const FORMAT_VERSION: u16 = 8;

const MAGIC: [u8; 4] = *b"LTWK";
const HEADER_BYTES: usize = 14;

/// Why bytes are no image that this program can read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ImageError {
    /// The bytes do not begin with the mark of an image.
    NotAnImage,
    /// The image was written in another version of the format.
    Version {
        /// Version found.
        found: u16,
    },
    /// The bytes end early.
    Truncated {
        /// Bytes that the header announces.
        expected: usize,
        /// Bytes that are there.
        found: usize,
    },
    /// Bytes follow after the end of the image.
    TrailingBytes {
        /// How many.
        count: usize,
    },
    /// The body does not match its checksum.
    Checksum,
    /// The image is larger than [`limits::IMAGE_BYTES`].
    TooLarge {
        /// Size in bytes.
        size: usize,
    },
    /// The body is not well formed although its checksum is right.
    Malformed {
        /// What the decoder said.
        detail: String,
    },
}

impl fmt::Display for ImageError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAnImage => {
                formatter.write_str("this is not a compiled program image; compile the source again")
            }
            Self::Version { found } => write!(
                formatter,
                "the image has format version {found}, this program reads version {FORMAT_VERSION}; compile the source again"
            ),
            Self::Truncated { expected, found } => write!(
                formatter,
                "the image is cut off: {expected} bytes expected, {found} found; copy or compile it again"
            ),
            Self::TrailingBytes { count } => {
                write!(formatter, "{count} bytes follow after the end of the image; compile the source again")
            }
            Self::Checksum => formatter
                .write_str("the image is damaged (its checksum does not match); compile the source again"),
            Self::TooLarge { size } => write!(
                formatter,
                "the image has {size} bytes, the limit is {}; make arrays or strings smaller",
                limits::IMAGE_BYTES
            ),
            Self::Malformed { detail } => {
                write!(formatter, "the image is not well formed ({detail}); compile the source again")
            }
        }
    }
}

impl std::error::Error for ImageError {}

impl Image {
    /// The file form of the image.
    ///
    /// # Errors
    /// [`ImageError::TooLarge`] when it would exceed [`limits::IMAGE_BYTES`].
    pub fn to_bytes(&self) -> Result<Vec<u8>, ImageError> {
        let body = postcard::to_allocvec(self)
            .map_err(|error| ImageError::Malformed { detail: error.to_string() })?;
        let size = body.len() + HEADER_BYTES;
        let length = u32::try_from(body.len())
            .ok()
            .filter(|_| size <= limits::IMAGE_BYTES)
            .ok_or(ImageError::TooLarge { size })?;
        let mut bytes = Vec::with_capacity(size);
        bytes.extend_from_slice(&MAGIC);
        bytes.extend_from_slice(&FORMAT_VERSION.to_le_bytes());
        bytes.extend_from_slice(&length.to_le_bytes());
        bytes.extend_from_slice(&crc32fast::hash(&body).to_le_bytes());
        bytes.extend_from_slice(&body);
        Ok(bytes)
    }

    /// Reads the file form. The result is well formed, but not verified: [`crate::Program::load`] does that.
    ///
    /// # Errors
    /// [`ImageError`] says what is wrong with the bytes.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, ImageError> {
        let mut rest = bytes;
        if take::<4>(&mut rest) != Some(MAGIC) {
            // A cut inside the mark itself is a cut, not a foreign file.
            let cut = !bytes.is_empty() && MAGIC.starts_with(bytes);
            return Err(if cut { truncated(HEADER_BYTES, bytes) } else { ImageError::NotAnImage });
        }
        let version = u16::from_le_bytes(take(&mut rest).ok_or_else(|| truncated(HEADER_BYTES, bytes))?);
        if version != FORMAT_VERSION {
            return Err(ImageError::Version { found: version });
        }
        let length =
            u32::from_le_bytes(take(&mut rest).ok_or_else(|| truncated(HEADER_BYTES, bytes))?) as usize;
        let checksum = u32::from_le_bytes(take(&mut rest).ok_or_else(|| truncated(HEADER_BYTES, bytes))?);
        let size = length.saturating_add(HEADER_BYTES);
        if size > limits::IMAGE_BYTES {
            return Err(ImageError::TooLarge { size });
        }
        if rest.len() < length {
            return Err(truncated(size, bytes));
        }
        if rest.len() > length {
            return Err(ImageError::TrailingBytes { count: rest.len() - length });
        }
        if crc32fast::hash(rest) != checksum {
            return Err(ImageError::Checksum);
        }
        match postcard::take_from_bytes::<Self>(rest) {
            Ok((image, [])) => Ok(image),
            Ok((_, left)) => Err(ImageError::Malformed { detail: format!("{} bytes left over", left.len()) }),
            Err(error) => Err(ImageError::Malformed { detail: error.to_string() }),
        }
    }
}

fn take<const N: usize>(rest: &mut &[u8]) -> Option<[u8; N]> {
    let (head, tail) = rest.split_first_chunk::<N>()?;
    *rest = tail;
    Some(*head)
}

const fn truncated(expected: usize, bytes: &[u8]) -> ImageError {
    ImageError::Truncated { expected, found: bytes.len() }
}

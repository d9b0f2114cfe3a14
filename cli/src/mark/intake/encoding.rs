//! Bytes of a file -> text, whatever wrote them.
//!
//! In this order: the mark at the beginning of UTF-8 or UTF-16; zero bytes in every other place, as UTF-16 has them where
//! programs are mostly ASCII; valid UTF-8; otherwise Latin-1 as the Encoding Standard of the WHATWG understands it, that is
//! windows-1252. Nothing is refused for its encoding; what holds a zero character is no text.

use encoding_rs::{UTF_16BE, UTF_16LE, WINDOWS_1252};

/// How the characters of a file are written as bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Encoding {
    /// UTF-8, with or without a mark.
    Utf8,
    /// UTF-16 of either byte order.
    Utf16,
    /// Latin-1; with the characters of windows-1252.
    Latin1,
}

impl Encoding {
    /// As it is shown.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Encoding::Utf8 => "UTF-8",
            Encoding::Utf16 => "UTF-16",
            Encoding::Latin1 => "Latin-1",
        }
    }
}

/// The text of a file.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Decoded {
    /// Without the mark of the encoding.
    pub(super) text: String,
    pub(super) encoding: Encoding,
    /// Some of the bytes are no characters in this encoding; U+FFFD stands for them.
    pub(super) replaced: bool,
}

/// Reads bytes as text; an error is why they are none.
pub(super) fn decode(bytes: &[u8]) -> Result<Decoded, &'static str> {
    if let Some(what) = known_form(bytes) {
        return Err(what);
    }
    let decoded = decode_any(bytes);
    if decoded.text.contains('\0') { Err("no text: it holds zero bytes") } else { Ok(decoded) }
}

fn decode_any(bytes: &[u8]) -> Decoded {
    let utf16 = |encoding: &'static encoding_rs::Encoding, bytes: &[u8]| {
        let (text, replaced) = encoding.decode_without_bom_handling(bytes);
        Decoded { text: text.into_owned(), encoding: Encoding::Utf16, replaced }
    };
    match bytes {
        [0xff, 0xfe, rest @ ..] => return utf16(UTF_16LE, rest),
        [0xfe, 0xff, rest @ ..] => return utf16(UTF_16BE, rest),
        _ => {}
    }
    match zeros(bytes) {
        Zeros::None | Zeros::Anywhere => {}
        Zeros::Second => return utf16(UTF_16LE, bytes),
        Zeros::First => return utf16(UTF_16BE, bytes),
    }
    let marked = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]);
    match (std::str::from_utf8(marked.unwrap_or(bytes)), marked) {
        (Ok(text), _) => Decoded { text: text.to_string(), encoding: Encoding::Utf8, replaced: false },
        // It says that it is UTF-8, so it is that with slips.
        (Err(_), Some(rest)) => Decoded {
            text: String::from_utf8_lossy(rest).into_owned(),
            encoding: Encoding::Utf8,
            replaced: true,
        },
        (Err(_), None) => {
            let (text, replaced) = WINDOWS_1252.decode_without_bom_handling(bytes);
            Decoded { text: text.into_owned(), encoding: Encoding::Latin1, replaced }
        }
    }
}

enum Zeros {
    None,
    /// Nearly all in the first byte of two.
    First,
    /// Nearly all in the second byte of two.
    Second,
    Anywhere,
}

/// Where the zero bytes are, by the pairs of bytes. Three quarters of the characters must be of the first 256, and at most
/// one in sixteen may have a zero byte at the other place, as U+2500 has.
fn zeros(bytes: &[u8]) -> Zeros {
    let (pairs, _) = bytes.as_chunks::<2>();
    let first = pairs.iter().filter(|pair| pair[0] == 0).count();
    let second = pairs.iter().filter(|pair| pair[1] == 0).count();
    let many = |count: usize| count > 0 && count * 4 >= pairs.len() * 3;
    let few = |count: usize| count * 16 <= pairs.len();
    match (first, second) {
        _ if many(first) && few(second) => Zeros::First,
        _ if many(second) && few(first) => Zeros::Second,
        (0, 0) => Zeros::None,
        _ => Zeros::Anywhere,
    }
}

/// Why a file with this beginning is no program, whatever its name.
fn known_form(head: &[u8]) -> Option<&'static str> {
    /// First bytes of the forms that are handed in by mistake.
    const FORMS: [(&[u8], &str); 8] = [
        (b"%PDF-", "a PDF document, not text"),
        (b"{\\rtf", "a document of a word processor (RTF), not plain text"),
        (b"PK\x03\x04", "a zip, or a document of a word processor, not text"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a document of a word processor, not text"),
        (b"\x89PNG\r\n\x1a\n", "a picture, not text"),
        (b"\xff\xd8\xff", "a picture, not text"),
        (b"GIF8", "a picture, not text"),
        (b"LTWK", "an image, not the text of a program"),
    ];
    FORMS.iter().find(|(magic, _)| head.starts_with(magic)).map(|(_, what)| *what)
}

/// Why a file that nobody called a program is not read on after its first bytes.
pub(super) fn refused_by_head(head: &[u8]) -> Option<&'static str> {
    let marked = head.starts_with(&[0xff, 0xfe]) || head.starts_with(&[0xfe, 0xff]);
    let zero = !marked && matches!(zeros(head), Zeros::Anywhere);
    known_form(head).or(zero.then_some("no text: it holds zero bytes"))
}

/// Whether text that nobody called a program looks like text at all: no control characters but those of lines and pages.
pub(super) fn is_plain(text: &str) -> bool {
    !text.chars().any(|character| matches!(character, '\0'..='\x08' | '\x0e'..='\x19' | '\x1b'..='\x1f'))
}

/// Whether there is a declaration in a text, by the words that close one. A note to the teacher has none, and no
/// program is without.
pub(super) fn declares(text: &str) -> bool {
    const CLOSING: [&str; 9] = [
        "END_VAR",
        "END_PROGRAM",
        "END_FUNCTION",
        "END_TYPE",
        "END_CONFIGURATION",
        "END_NAMESPACE",
        "END_CLASS",
        "END_INTERFACE",
        "END_RESOURCE",
    ];
    // Every one of them begins with the same four letters, so the text is gone through once.
    text.as_bytes().windows(4).enumerate().any(|(at, window)| {
        window.eq_ignore_ascii_case(b"END_")
            && CLOSING.iter().any(|word| {
                text.as_bytes()
                    .get(at..at + word.len())
                    .is_some_and(|found| found.eq_ignore_ascii_case(word.as_bytes()))
            })
    })
}

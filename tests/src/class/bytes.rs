//! Submissions whose bytes no file of a repository should have: other encodings, no text at all, archives.

use std::io;

use super::archive::{Archive, Method};
use crate::workbench::sample;

/// A file of a submission: its path among the submissions, and its bytes.
pub type SubmittedBytes = (&'static str, Vec<u8>);

/// The submissions that are made here, as files. Those that are right have the text of a right answer of the class.
///
/// # Errors
/// If the right answers cannot be read.
pub fn byte_level() -> Result<Vec<SubmittedBytes>, String> {
    let right = sample("exercises/tray-watering/submissions/s01.st")?;
    let draft = sample("exercises/tray-watering/submissions/s35.st")?;
    let plain = right.as_bytes().to_vec();
    // The mark of a draft, and of what else a computer leaves in folders.
    let hidden = b"\x00\x05\x16\x07\x00\x02\x00\x00Mac OS X".to_vec();
    Ok(vec![
        ("b01.st", utf16(&right, u16::to_le_bytes)),
        ("b02.st", utf16(&right, u16::to_be_bytes)),
        ("b03.st", latin1(&umlauts(&right))),
        ("b04.st", [b"\xef\xbb\xbf", plain.as_slice()].concat()),
        ("b05.st", Vec::new()),
        ("b06.st", b"  \r\n\t\r\n\n   \n".to_vec()),
        ("b07.st", b"(* Watering station for seedling trays.\n   I was ill. *)\n// sorry\n".to_vec()),
        ("b08.st", noise(4096)),
        ("b09.st", page()),
        ("b10.st", right.replace('\n', "\r\n").into_bytes()),
        ("b11.st", right.replace('\n', "\r").into_bytes()),
        ("b12.st", [plain.as_slice(), &[0; 512]].concat()),
        ("b13/main.st", plain.clone()),
        ("b13/.DS_Store", hidden.clone()),
        ("b13/._main.st", hidden),
        ("b14/draft.st", draft.into_bytes()),
        ("b14/main.st", plain.clone()),
        ("b15.zip", packed(&plain).map_err(|error| error.to_string())?),
        ("b16/watering/work/main.st", plain),
    ])
}

/// With the mark of its byte order in front.
fn utf16(text: &str, order: fn(u16) -> [u8; 2]) -> Vec<u8> {
    std::iter::once(0xfeff).chain(text.encode_utf16()).flat_map(order).collect()
}

/// Comments as a student writes them whose keyboard has the letters.
fn umlauts(text: &str) -> String {
    format!("(* Bew\u{e4}sserung f\u{fc}r S\u{e4}mlinge; \u{d6}ffner: Stop, Float *)\n{text}")
}

/// A text of the first 256 characters only.
fn latin1(text: &str) -> Vec<u8> {
    text.chars().map(|character| u8::try_from(u32::from(character)).unwrap_or(b'?')).collect()
}

/// Bytes without a form, the same every time; one in 256 is zero.
fn noise(count: usize) -> Vec<u8> {
    let mut state = 0x2545_f491_u32;
    let mut next = || {
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        (state >> 24) as u8
    };
    (0..count).map(|_| next()).collect()
}

/// The beginning of a printed page: text at first, then packed bytes.
fn page() -> Vec<u8> {
    let head = b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n1 0 obj\n<< /Type /Catalog /Pages 2 0 R >>\nendobj\nstream\n";
    [head.as_slice(), &noise(2048), b"\nendstream\n%%EOF\n"].concat()
}

fn packed(text: &[u8]) -> io::Result<Vec<u8>> {
    let mut archive = Archive::new();
    archive.add(b"answer/main.st", text, Method::Stored)?;
    Ok(archive.finish())
}

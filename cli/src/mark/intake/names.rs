//! What the names of files and entries tell.

use std::ffi::OsStr;

/// What a file is by its extension.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum FileKind {
    /// A program: `.st`, `.il`.
    Program,
    /// Text that may be a program: `.txt`.
    Text,
    /// A zip.
    Zip,
    /// Anything else.
    Other,
}

/// What a file is by its extension, in any case.
pub(super) fn kind(name: &str) -> FileKind {
    let file = name.rsplit('/').next().unwrap_or(name);
    let extension = file.rsplit_once('.').map(|(_, extension)| extension.to_ascii_lowercase());
    match extension.as_deref() {
        Some("st" | "il") => FileKind::Program,
        Some("txt") => FileKind::Text,
        Some("zip") => FileKind::Zip,
        _ => FileKind::Other,
    }
}

/// Why a file or folder of this name is never looked at: what systems put beside the files of people.
pub(super) fn clutter(name: &str) -> Option<&'static str> {
    // Two points are a slip of somebody who meant a folder.
    if name.starts_with('.') && !name.starts_with("..") {
        return Some("hidden");
    }
    let system = ["__macosx", "thumbs.db", "desktop.ini"];
    system
        .iter()
        .any(|known| name.eq_ignore_ascii_case(known))
        .then_some("made by the system, not by a person")
}

/// The name without the extension of a file. What begins with a point is no extension.
pub(super) fn stem(name: &str) -> &str {
    match name.rsplit_once('.') {
        Some((stem, _)) if !stem.is_empty() => stem,
        _ => name,
    }
}

/// A name of the file system as text. Bytes that are no UTF-8 become `\xFF` each, so that different names stay different.
pub(super) fn text_of(name: &OsStr) -> String {
    let mut text = String::new();
    for chunk in name.as_encoded_bytes().utf8_chunks() {
        text.push_str(chunk.valid());
        for byte in chunk.invalid() {
            text.push_str(&format!("\\x{byte:02X}"));
        }
    }
    text
}

/// Where an entry of a zip would lie, as the names of its folders and its own; an error is why that is nowhere inside. A
/// backslash separates too, since some programs write it.
pub(super) fn entry_path(name: &str) -> Result<Vec<&str>, &'static str> {
    if name.contains('\0') {
        return Err("a zero character in its name");
    }
    let drive =
        name.as_bytes().get(1) == Some(&b':') && name.as_bytes().first().is_some_and(u8::is_ascii_alphabetic);
    if drive || name.starts_with(['/', '\\']) {
        return Err("its name is that of a place outside the zip");
    }
    let parts: Vec<&str> = name.split(['/', '\\']).filter(|part| !part.is_empty() && *part != ".").collect();
    if parts.contains(&"..") {
        return Err("its name leads out of the zip");
    }
    if parts.is_empty() {
        return Err("it has no name");
    }
    Ok(parts)
}

/// The beginning of a name that is too long to be told.
pub(super) fn beginning(name: &str) -> String {
    const SHOWN: usize = 60;
    match name.char_indices().nth(SHOWN) {
        Some((end, _)) => format!("{}…", &name[..end]),
        None => name.to_string(),
    }
}

//! The submissions of the whole class as files in a folder.

use std::{fs, io, path::Path};

use super::{bytes::byte_level, expected::EXERCISE};
use crate::workbench::samples;

/// Writes the submissions of the class into a folder that is there: those that stand beside the exercise, and those whose
/// bytes are made.
///
/// # Errors
/// If something cannot be read or written.
pub fn write_class(folder: &Path) -> io::Result<()> {
    copy(&samples().join(EXERCISE).join("submissions"), folder)?;
    for (path, bytes) in byte_level().map_err(io::Error::other)? {
        let path = folder.join(path);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent)?;
        }
        fs::write(path, bytes)?;
    }
    Ok(())
}

fn copy(from: &Path, to: &Path) -> io::Result<()> {
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let target = to.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            fs::create_dir_all(&target)?;
            copy(&entry.path(), &target)?;
        } else {
            fs::copy(entry.path(), target)?;
        }
    }
    Ok(())
}

//! Submissions in folders: what lies in them, and opening it without being led elsewhere.

use std::{
    fs::{self, File, FileType},
    io::{self, Read},
    path::Path,
};

use super::{
    limits::{DEPTH_MAX, ENTRIES_MAX, NAME_BYTES_MAX},
    listing::{Found, Listing, Place, TOO_MANY, Trouble},
    names::{clutter, text_of},
};

/// What was read of a file.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Piece {
    pub(super) bytes: Vec<u8>,
    /// There is no more of it.
    pub(super) whole: bool,
}

/// Notes every file in a folder and in the folders in it, as deep as [`DEPTH_MAX`].
pub(super) fn walk(folder: &Path, listing: &mut Listing) {
    let whole = folder.file_name().map(text_of).unwrap_or_default();
    let mut waiting = vec![(folder.to_path_buf(), String::new(), 0_usize)];
    while let Some((folder, prefix, depth)) = waiting.pop() {
        let entries = match fs::read_dir(&folder) {
            Ok(entries) => entries,
            Err(error) => {
                let name = if prefix.is_empty() { whole.as_str() } else { prefix.trim_end_matches('/') };
                listing.trouble(name, &unreadable(&error));
                continue;
            }
        };
        for entry in entries {
            listing.seen += 1;
            if listing.seen > ENTRIES_MAX {
                return listing.refuse(&too_many());
            }
            let entry = match entry {
                Ok(entry) => entry,
                Err(error) => {
                    listing.trouble(&format!("{prefix}…"), &unreadable(&error));
                    continue;
                }
            };
            let own = text_of(&entry.file_name());
            let name = format!("{prefix}{own}");
            if let Some(why) = clutter(&own) {
                listing.leave_out(&name, why);
                continue;
            }
            if let Some(trouble) = unusable_name(&name) {
                listing.trouble(&name, &trouble);
                continue;
            }
            match entry.file_type() {
                Ok(kind) if kind.is_dir() && depth >= DEPTH_MAX => listing.trouble(&name, &too_deep()),
                Ok(kind) if kind.is_dir() => waiting.push((entry.path(), format!("{name}/"), depth + 1)),
                Ok(kind) if kind.is_file() => {
                    listing.files.push(Found { name, place: Place::Disk(entry.path()) });
                }
                Ok(kind) => listing.trouble(&name, &special(kind)),
                Err(error) => listing.trouble(&name, &unreadable(&error)),
            }
        }
    }
}

/// More files than are looked at.
pub(super) fn too_many() -> Trouble {
    Trouble::new(
        TOO_MANY,
        format!(
            "more than {ENTRIES_MAX} files and folders were handed in, so none was read; hand in the program alone"
        ),
    )
}

/// Folders too deep in one another.
pub(super) fn too_deep() -> Trouble {
    Trouble::new("too-deep", format!("more than {DEPTH_MAX} folders lie in one another"))
}

/// Names that cannot be told.
pub(super) fn unusable_name(name: &str) -> Option<Trouble> {
    (name.len() > NAME_BYTES_MAX)
        .then(|| Trouble::new("name-too-long", format!("its name is longer than {NAME_BYTES_MAX} bytes")))
}

/// Neither file nor folder.
pub(super) fn special(kind: FileType) -> Trouble {
    if kind.is_symlink() { link() } else { device() }
}

/// A symbolic link.
pub(super) fn link() -> Trouble {
    Trouble::new("symbolic-link", "it is a symbolic link, which is not followed; hand in the file itself")
}

/// What is no file, no folder and no link.
pub(super) fn device() -> Trouble {
    Trouble::new("special-file", "it is a device, a pipe or a socket, which is never opened")
}

/// An error of the file system, in words that are the same everywhere.
pub(super) fn unreadable(error: &io::Error) -> Trouble {
    match error.kind() {
        io::ErrorKind::NotFound => Trouble::new("vanished", "it was gone when it was to be read"),
        io::ErrorKind::PermissionDenied => Trouble::new("unreadable", "there is no permission to read it"),
        kind => Trouble::new("unreadable", format!("it cannot be read ({kind})")),
    }
}

/// Opens a plain file, and nothing else: whatever took its place since it was listed is not waited for and not followed.
pub(super) fn open(path: &Path) -> Result<File, Trouble> {
    let kind = fs::symlink_metadata(path).map_err(|error| unreadable(&error))?.file_type();
    if !kind.is_file() {
        return Err(special(kind));
    }
    let mut options = File::options();
    options.read(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.custom_flags(libc::O_NOFOLLOW | libc::O_NONBLOCK | libc::O_NOCTTY);
    }
    let file = options.open(path).map_err(|error| unreadable(&error))?;
    let kind = file.metadata().map_err(|error| unreadable(&error))?.file_type();
    if kind.is_file() { Ok(file) } else { Err(special(kind)) }
}

/// Reads at most so many bytes of what is open. Those that were read are added to `spent`, even if it ends in an error.
pub(super) fn read(from: &mut impl Read, bytes_max: u64, spent: &mut u64) -> io::Result<Piece> {
    let mut bytes = Vec::new();
    let done = from.take(bytes_max.saturating_add(1)).read_to_end(&mut bytes);
    *spent = spent.saturating_add(bytes.len() as u64);
    done?;
    let whole = bytes.len() as u64 <= bytes_max;
    if !whole {
        bytes.pop();
    }
    Ok(Piece { bytes, whole })
}

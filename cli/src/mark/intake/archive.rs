//! Zips: their directories, and single entries of them read into memory. Nothing is ever unpacked into the file system.
//!
//! The directory is read once, entry by entry, so that entries with the same name stay apart and what the zip says of
//! itself reserves no memory. Afterwards any number of threads read entries, each from its own handle.

use std::{
    fs::File,
    io::{self, Cursor, Read, Seek, SeekFrom},
    path::{Path, PathBuf},
    sync::Arc,
    time::SystemTime,
};

use zip::{
    CompressionMethod, HasZipMetadata, ZipReadOptions,
    read::{ArchiveOffset, Config, OwnedZipFileEntry},
    result::ZipError,
    unstable::read::ZipIterable,
};

use super::{
    disk::{self, Piece, device, link, unreadable, unusable_name},
    limits::ZIP_DIRECTORY_BYTES_MAX,
    listing::{TOO_MANY, Trouble},
    names::{beginning, entry_path},
};

/// A zip whose directory was read.
#[derive(Debug)]
pub(super) struct Archive {
    source: Source,
    /// In the order of the directory.
    pub(super) entries: Vec<Entry>,
}

/// An entry of a zip.
#[derive(Debug)]
pub(super) struct Entry {
    /// The names of its folders and its own; none where its name leads nowhere inside.
    pub(super) path: Vec<String>,
    /// The beginning of such a name.
    pub(super) unplaced: Option<String>,
    /// It is a folder.
    pub(super) folder: bool,
    /// Why it is not read.
    pub(super) trouble: Option<Trouble>,
    data: OwnedZipFileEntry,
}

/// Where the bytes of a zip are.
#[derive(Clone, Debug)]
enum Source {
    File { path: PathBuf, bytes: u64, modified: Option<SystemTime> },
    Memory(Arc<[u8]>),
}

/// An open handle of a zip.
#[derive(Debug)]
enum Handle {
    File(File),
    Memory(Cursor<Arc<[u8]>>),
}

impl Archive {
    /// Reads the directory of a zip in the file system.
    pub(super) fn in_file(path: &Path, bytes_max: u64, entries_max: usize) -> Result<Self, Trouble> {
        let file = disk::open(path)?;
        let metadata = file.metadata().map_err(|error| unreadable(&error))?;
        if metadata.len() > bytes_max {
            return Err(too_large(bytes_max));
        }
        let source = Source::File {
            path: path.to_path_buf(),
            bytes: metadata.len(),
            modified: metadata.modified().ok(),
        };
        Self::open(source, Handle::File(file), entries_max)
    }

    /// Reads the directory of a zip in memory.
    pub(super) fn in_memory(bytes: Vec<u8>, entries_max: usize) -> Result<Self, Trouble> {
        let bytes: Arc<[u8]> = bytes.into();
        Self::open(Source::Memory(Arc::clone(&bytes)), Handle::Memory(Cursor::new(bytes)), entries_max)
    }

    fn open(source: Source, mut handle: Handle, entries_max: usize) -> Result<Self, Trouble> {
        let mut entries = Vec::new();
        {
            // Without the search for a zip behind other bytes, which a hostile one draws out.
            let config = Config { archive_offset: ArchiveOffset::Known(0) };
            let mut zip =
                ZipIterable::try_new(&mut handle, config).map_err(|error| damaged(&error, DIRECTORY))?;
            if zip.len() > entries_max {
                let why = format!("the zip has more than {entries_max} entries; pack the programs alone");
                return Err(Trouble::new(TOO_MANY, why));
            }
            let mut directory_start = None;
            for data in zip.files().map_err(|error| damaged(&error, DIRECTORY))? {
                let data = data.map_err(|error| damaged(&error, DIRECTORY))?;
                let start = *directory_start.get_or_insert(data.central_header_start());
                if data.central_header_start().saturating_sub(start) > ZIP_DIRECTORY_BYTES_MAX {
                    let limit = ZIP_DIRECTORY_BYTES_MAX / 1024 / 1024;
                    let why = format!("the names in the zip take more than {limit} MiB");
                    return Err(Trouble::new(TOO_MANY, why));
                }
                entries.push(Entry::new(OwnedZipFileEntry::from(data)));
            }
        }
        let mut archive = Archive { source, entries };
        archive.refuse_overlaps(&mut handle);
        Ok(archive)
    }

    /// Entries that share bytes are how a small zip becomes a huge folder; no program that packs files writes them.
    fn refuse_overlaps(&mut self, handle: &mut Handle) {
        let directory = self.entries.first().map_or(0, |entry| entry.data.central_header_start());
        let mut ranges: Vec<(u64, u64, usize)> = Vec::with_capacity(self.entries.len());
        for (index, entry) in self.entries.iter_mut().enumerate() {
            let data = entry.data.get_metadata();
            let end = data.data_start(handle).map(|start| start.saturating_add(data.compressed_size));
            match end {
                Ok(end) if end <= directory => ranges.push((data.header_start, end, index)),
                Ok(_) => refuse(entry, overlapping()),
                Err(error) => refuse(entry, damaged(&error, ENTRY)),
            }
        }
        ranges.sort_unstable();
        let mut last = None;
        for (start, end, index) in ranges {
            if let Some((last_end, last_index)) = last
                && last_end > start
            {
                refuse(&mut self.entries[index], overlapping());
                refuse(&mut self.entries[last_index], overlapping());
            }
            if last.is_none_or(|(last_end, _)| last_end < end) {
                last = Some((end, index));
            }
        }
    }

    /// Reads at most so many bytes of an entry. What the zip says about its size counts for nothing, except that more than
    /// it says is an error. The bytes that were unpacked are added to `spent`, even if it ends in an error.
    pub(super) fn read(&self, entry: usize, bytes_max: u64, spent: &mut u64) -> Result<Piece, Trouble> {
        let Some(entry) = self.entries.get(entry) else {
            return Err(Trouble::new("vanished", "it was gone when it was to be read"));
        };
        if let Some(trouble) = &entry.trouble {
            return Err(trouble.clone());
        }
        let mut handle = self.source.open()?;
        let mut file = entry
            .data
            .as_ref()
            .with_reader(&mut handle, ZipReadOptions::new())
            .map_err(|error| damaged(&error, ENTRY))?;
        disk::read(&mut file, bytes_max, spent).map_err(|error| damaged(&ZipError::Io(error), ENTRY))
    }
}

impl Entry {
    fn new(data: OwnedZipFileEntry) -> Self {
        let name = data.name().map_or_else(|_| String::new(), std::borrow::Cow::into_owned);
        let folder = data.is_dir();
        // Names that are too long are not kept, since there may be many.
        let place = match unusable_name(&name) {
            Some(trouble) => Err(trouble),
            None => entry_path(&name).map_err(|why| Trouble::new("climbing-name", why)),
        };
        let (path, unplaced, trouble) = match place {
            Ok(path) => (path.into_iter().map(str::to_string).collect(), None, unreadable_kind(&data)),
            Err(trouble) => (Vec::new(), Some(beginning(&name)), Some(trouble)),
        };
        Entry { path, unplaced, folder, trouble, data }
    }
}

/// Why an entry is nothing that is read, by what the directory says it is.
fn unreadable_kind(data: &OwnedZipFileEntry) -> Option<Trouble> {
    /// What a file is, as the upper bits of a mode of POSIX tell it (`sys/stat.h`; the values are from memory).
    const KIND: u32 = 0o170_000;
    match data.unix_mode().unwrap_or_default() & KIND {
        0o120_000 => Some(link()),
        // Nothing said, a folder, a file.
        0 | 0o040_000 | 0o100_000 if data.is_dir() => None,
        0 | 0o040_000 | 0o100_000 if data.encrypted() => {
            Some(Trouble::new("zip-encrypted", "it is encrypted; hand in a zip without a password"))
        }
        0 | 0o040_000 | 0o100_000 => {
            let known =
                [CompressionMethod::Stored, CompressionMethod::Deflated].contains(&data.compression());
            (!known).then(unknown_method)
        }
        _ => Some(device()),
    }
}

impl Source {
    fn open(&self) -> Result<Handle, Trouble> {
        match self {
            Source::Memory(bytes) => Ok(Handle::Memory(Cursor::new(Arc::clone(bytes)))),
            Source::File { path, bytes, modified } => {
                let file = disk::open(path)?;
                let metadata = file.metadata().map_err(|error| unreadable(&error))?;
                if metadata.len() != *bytes || metadata.modified().ok() != *modified {
                    return Err(Trouble::new("changed", "the zip changed while it was read"));
                }
                Ok(Handle::File(file))
            }
        }
    }
}

impl Read for Handle {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self {
            Handle::File(file) => file.read(buffer),
            Handle::Memory(bytes) => bytes.read(buffer),
        }
    }
}

impl Seek for Handle {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        match self {
            Handle::File(file) => file.seek(to),
            Handle::Memory(bytes) => bytes.seek(to),
        }
    }
}

fn refuse(entry: &mut Entry, trouble: Trouble) {
    entry.trouble.get_or_insert(trouble);
}

fn overlapping() -> Trouble {
    Trouble::new("zip-overlap", "its bytes in the zip belong to something else too; pack the files again")
}

fn unknown_method() -> Trouble {
    Trouble::new("zip-method", "it is packed in a way that is not supported; pack it as an ordinary zip")
}

/// A zip of too many bytes.
pub(super) fn too_large(bytes_max: u64) -> Trouble {
    Trouble::new("zip-too-large", format!("the zip is larger than {} MiB", bytes_max / 1024 / 1024))
}

/// What is wrong with a zip, in words; `broken` is the part of it that was looked at. What the reader of zips says is
/// for those who write such programs.
fn damaged(error: &ZipError, broken: &str) -> Trouble {
    let damaged =
        |what: &str| Trouble::new("zip-damaged", format!("the zip is damaged: {what}; pack it again"));
    match error {
        ZipError::CompressionMethodNotSupported(_) => unknown_method(),
        ZipError::UnsupportedArchive(_) => Trouble::new(
            "zip-method",
            "the zip is one of several parts, or of another kind that is not supported",
        ),
        ZipError::Io(error) => match error.kind() {
            io::ErrorKind::UnexpectedEof => damaged("it ends too early"),
            // What unpacks says nothing else.
            io::ErrorKind::InvalidData | io::ErrorKind::InvalidInput => {
                damaged("an entry does not have the size or the checksum it should have")
            }
            _ => unreadable(error),
        },
        _ => damaged(broken),
    }
}

/// Of the end of a zip and of its directory.
const DIRECTORY: &str = "its directory cannot be read, or it is no zip";

/// Of an entry.
const ENTRY: &str = "an entry is not where the directory says";

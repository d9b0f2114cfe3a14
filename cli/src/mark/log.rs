//! The log of results: what keeps a run that was broken off from being lost.
//!
//! One line a record: its check sum (CRC-32 in hexadecimal), a blank, a JSON document. The first line tells what the
//! results belong to. Records are appended as they come, so a run that ends at any moment leaves whole records and at
//! most one torn line behind, which the next run cuts off. When a run is complete the log is written anew in the order
//! of the class, so that it does not tell how often it was broken off.

use std::{
    collections::BTreeMap,
    fs::{File, OpenOptions},
    io::{BufRead, BufReader, Read, Seek, SeekFrom, Write},
    path::{Path, PathBuf},
};

use latchwork_bench::{
    alike::Fingerprints,
    marking::{Marked, MarkingScheme},
};
use serde::{Deserialize, Serialize, de::DeserializeOwned};

use crate::{
    exit::Failure,
    files::{self, cannot},
};

/// Version of the form of records.
const FORMAT: u32 = 1;

/// Longest line read, in bytes: a record with the texts of a submission of the largest size, escaped.
const LINE_BYTES_MAX: u64 = 256 * 1024 * 1024;

/// What the results of a log belong to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Header {
    format: u32,
    /// The version of this program.
    version: String,
    /// The digest of the exercise.
    pub(super) exercise: String,
    /// What is asked.
    pub(super) scheme: MarkingScheme,
    /// What was handed out.
    pub(super) skeleton: Option<Fingerprints>,
    /// Which share of the class: number, from 1, and how many there are.
    pub(super) shard: Option<(u32, u32)>,
}

impl Header {
    /// Of a run.
    pub(super) fn new(
        exercise: String,
        scheme: MarkingScheme,
        skeleton: Option<Fingerprints>,
        shard: Option<(u32, u32)>,
    ) -> Self {
        Header {
            format: FORMAT,
            version: env!("CARGO_PKG_VERSION").to_owned(),
            exercise,
            scheme,
            skeleton,
            shard,
        }
    }

    /// The same for the whole class.
    pub(super) fn of_whole_class(&self) -> Self {
        Header { shard: None, ..self.clone() }
    }
}

/// The result of one submission.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Entry {
    /// Its place in the class, from 0.
    pub(super) place: usize,
    /// How many are in the class.
    pub(super) members: usize,
    /// The digest of all that the result depends on besides the exercise.
    pub(super) key: String,
    /// The name of its pages, without extension.
    pub(super) slug: String,
    /// The result.
    pub(super) marked: Marked,
    /// What is compared with others.
    pub(super) fingerprints: Fingerprints,
    /// The texts handed in, for showing pairs.
    pub(super) texts: Vec<(String, String)>,
}

/// Where a record lies in a log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct At(u64);

/// A log that is open for reading and appending.
#[derive(Debug)]
pub(super) struct Log {
    path: PathBuf,
    file: File,
    end: u64,
    /// Records by their keys.
    known: BTreeMap<String, At>,
}

impl Log {
    /// Opens the log of a run; what is there of the same exercise and share is kept, anything else is begun anew.
    pub(super) fn open(path: &Path, header: &Header) -> Result<Self, Failure> {
        let failed = |error: &std::io::Error| cannot("write", path, error);
        if let Ok(file) = File::open(path) {
            let found = scan(&file, path)?;
            if found.header.as_ref() == Some(header) {
                let file =
                    OpenOptions::new().read(true).write(true).open(path).map_err(|error| failed(&error))?;
                // What is torn is cut off.
                file.set_len(found.end).map_err(|error| failed(&error))?;
                return Ok(Log { path: path.to_owned(), file, end: found.end, known: found.known });
            }
        }
        files::write(path, line(header)?.as_bytes())?;
        let file = OpenOptions::new().read(true).write(true).open(path).map_err(|error| failed(&error))?;
        let end = file.metadata().map_err(|error| failed(&error))?.len();
        Ok(Log { path: path.to_owned(), file, end, known: BTreeMap::new() })
    }

    /// Opens a log that another run has left, with what it belongs to.
    pub(super) fn of_another(path: &Path) -> Result<(Self, Header), Failure> {
        let file = File::open(path).map_err(|error| cannot("read", path, &error))?;
        let found = scan(&file, path)?;
        let Some(header) = found.header.filter(|header| header.format == FORMAT) else {
            return Err(Failure::usage(format!(
                "{}: these are no results that this version of latchwork can read",
                path.display()
            )));
        };
        Ok((Log { path: path.to_owned(), file, end: found.end, known: found.known }, header))
    }

    /// Where the record with a key lies.
    pub(super) fn find(&self, key: &str) -> Option<At> {
        self.known.get(key).copied()
    }

    /// Where all records lie, in no particular order.
    pub(super) fn all(&self) -> Vec<At> {
        self.known.values().copied().collect()
    }

    /// Appends a record.
    pub(super) fn append(&mut self, entry: &Entry) -> Result<At, Failure> {
        let line = line(entry)?;
        let at = At(self.end);
        let written =
            self.file.seek(SeekFrom::Start(self.end)).and_then(|_| self.file.write_all(line.as_bytes()));
        written.map_err(|error| cannot("write", &self.path, &error))?;
        self.end += line.len() as u64;
        self.known.insert(entry.key.clone(), at);
        Ok(at)
    }

    /// Waits until the disk has everything.
    pub(super) fn sync(&self) -> Result<(), Failure> {
        self.file.sync_data().map_err(|error| cannot("write", &self.path, &error))
    }

    /// Reads a record.
    pub(super) fn read(&self, at: At) -> Result<Entry, Failure> {
        let failed = |error: &std::io::Error| cannot("read", &self.path, error);
        let mut file = &self.file;
        file.seek(SeekFrom::Start(at.0)).map_err(|error| failed(&error))?;
        let mut line = Vec::new();
        BufReader::new(file)
            .take(LINE_BYTES_MAX)
            .read_until(b'\n', &mut line)
            .map_err(|error| failed(&error))?;
        document(&line).ok_or_else(|| {
            Failure::usage(format!("{}: a record was changed while it was read", self.path.display()))
        })
    }

    /// Writes the log anew: these records in this order, with their places in the class, which has so many members.
    pub(super) fn rewrite(
        self,
        header: &Header,
        order: &[(usize, At)],
        members: usize,
    ) -> Result<(Self, Vec<At>), Failure> {
        let mut output = files::Output::begin(&self.path)?;
        let first = line(header)?;
        output.put(first.as_bytes());
        let mut end = first.len() as u64;
        let mut places = Vec::with_capacity(order.len());
        let mut known = BTreeMap::new();
        for (place, at) in order {
            // A record that was kept may stem from a time when the class was another.
            let entry = Entry { place: *place, members, ..self.read(*at)? };
            let line = line(&entry)?;
            output.put(line.as_bytes());
            known.insert(entry.key, At(end));
            places.push(At(end));
            end += line.len() as u64;
        }
        output.finish()?;
        let file = File::open(&self.path).map_err(|error| cannot("read", &self.path, &error))?;
        Ok((Log { path: self.path, file, end, known }, places))
    }
}

/// What is found in a log.
struct Scanned {
    header: Option<Header>,
    known: BTreeMap<String, At>,
    /// Where the whole records end.
    end: u64,
}

/// Only the key of a record.
#[derive(Deserialize)]
struct Keyed {
    key: String,
}

fn scan(file: &File, path: &Path) -> Result<Scanned, Failure> {
    let mut reader = BufReader::new(file);
    let mut found = Scanned { header: None, known: BTreeMap::new(), end: 0 };
    let mut line = Vec::new();
    loop {
        line.clear();
        let read = reader.by_ref().take(LINE_BYTES_MAX).read_until(b'\n', &mut line);
        let length = read.map_err(|error| cannot("read", path, &error))? as u64;
        if found.end == 0 {
            let Some(header) = document(&line) else { return Ok(found) };
            found.header = Some(header);
        } else {
            // What follows a record that is not whole is not looked at.
            let Some(Keyed { key }) = document(&line) else { return Ok(found) };
            found.known.insert(key, At(found.end));
        }
        found.end += length;
    }
}

fn line(value: &impl Serialize) -> Result<String, Failure> {
    let json = serde_json::to_string(value)
        .map_err(|error| Failure::internal(format!("a result cannot be written: {error}")))?;
    Ok(format!("{:08x} {json}\n", crc32fast::hash(json.as_bytes())))
}

/// The document of a whole line.
fn document<T: DeserializeOwned>(line: &[u8]) -> Option<T> {
    let json = line.strip_suffix(b"\n")?;
    let (sum, json) = json.split_at_checked(9)?;
    let sum = std::str::from_utf8(sum).ok()?.strip_suffix(' ')?;
    (u32::from_str_radix(sum, 16).ok()? == crc32fast::hash(json))
        .then(|| serde_json::from_slice(json).ok())?
}

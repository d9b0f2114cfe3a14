//! Reading what the user named and writing what was made of it.
//!
//! Whatever a path leads to — nothing, a folder, an endless device, a file of gigabytes, bytes that are no text —
//! there is an error that says so. What is written is either complete or not there.

use std::{
    fmt,
    fs::{self, File},
    io::{self, BufWriter, Read, Seek, SeekFrom, Write},
    path::{Path, PathBuf},
};

use latchwork_grammar::source::SOURCE_BYTES_MAX;
use latchwork_vm::limits::IMAGE_BYTES;
use tempfile::NamedTempFile;

use crate::exit::Failure;

/// First bytes of an image file.
const IMAGE_MAGIC: &[u8] = b"LTWK";

/// How the names of files begin that are being written.
const UNFINISHED: &str = ".latchwork-";

/// What a program is given as.
#[derive(Debug)]
pub(crate) enum Input {
    /// Source text.
    Source(String),
    /// The bytes of an image file.
    Image(Vec<u8>),
}

/// Reads a source or image file; the first bytes tell which it is.
pub(crate) fn input(path: &Path) -> Result<Input, Failure> {
    let mut file = open(path)?;
    let mut bytes = Vec::new();
    read(&mut file, path, &mut bytes, IMAGE_MAGIC.len())?;
    if bytes == IMAGE_MAGIC {
        read_all(&mut file, path, &mut bytes, IMAGE_BYTES, "an image")?;
        return Ok(Input::Image(bytes));
    }
    read_all(&mut file, path, &mut bytes, SOURCE_BYTES_MAX, "a source file")?;
    text(path, bytes).map(Input::Source)
}

/// Reads a source file.
pub(crate) fn source(path: &Path) -> Result<String, Failure> {
    match input(path)? {
        Input::Source(text) => Ok(text),
        Input::Image(_) => Err(Failure::usage(format!(
            "{}: this is an image; give the source files it was built from",
            path.display()
        ))),
    }
}

/// Reads a text file of at most `bytes_max` bytes; `what` is what it should be, "a station".
pub(crate) fn text_file(path: &Path, bytes_max: usize, what: &str) -> Result<String, Failure> {
    let mut file = open(path)?;
    let mut bytes = Vec::new();
    read_all(&mut file, path, &mut bytes, bytes_max, what)?;
    text(path, bytes)
}

fn open(path: &Path) -> Result<File, Failure> {
    let file = File::open(path).map_err(|error| cannot("read", path, &error))?;
    if file.metadata().is_ok_and(|metadata| metadata.is_dir()) {
        return Err(Failure::usage(format!("{}: this is a folder; name the files in it", path.display())));
    }
    Ok(file)
}

/// Reads on until `bytes` holds `bytes_max` bytes or the file ends.
fn read(file: &mut File, path: &Path, bytes: &mut Vec<u8>, bytes_max: usize) -> Result<(), Failure> {
    let left = bytes_max.saturating_sub(bytes.len()) as u64;
    file.take(left).read_to_end(bytes).map_err(|error| cannot("read", path, &error))?;
    Ok(())
}

/// Reads the rest of a file that may have `bytes_max` bytes; `what` is what it should be.
fn read_all(
    file: &mut File,
    path: &Path,
    bytes: &mut Vec<u8>,
    bytes_max: usize,
    what: &str,
) -> Result<(), Failure> {
    read(file, path, bytes, bytes_max + 1)?;
    if bytes.len() > bytes_max {
        let limit = bytes_max / 1024 / 1024;
        let name = path.display();
        return Err(Failure::usage(format!("{name}: larger than {limit} MiB, the most {what} may have")));
    }
    Ok(())
}

fn text(path: &Path, bytes: Vec<u8>) -> Result<String, Failure> {
    let name = path.display();
    let remedy = "a source must be text in UTF-8; save it as such in an editor";
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(Failure::usage(format!(
            "{name}: byte offset 0: this is text in UTF-16; save it as UTF-8"
        )));
    }
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        return Err(Failure::usage(format!(
            "{name}: byte offset {at}: a zero byte, so this is no text; {remedy}"
        )));
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let byte = error.as_bytes().get(at).copied().unwrap_or_default();
        Failure::usage(format!("{name}: byte offset {at}: 16#{byte:02X} is not valid UTF-8; {remedy}"))
    })
}

/// What is said of a file that cannot be opened, read or written; `what` is that verb.
pub(crate) fn cannot(what: &str, path: &Path, error: &io::Error) -> Failure {
    let name = path.display();
    let reason = match error.kind() {
        io::ErrorKind::NotFound => "there is no such file".to_string(),
        io::ErrorKind::PermissionDenied => format!("no permission to {what} it"),
        io::ErrorKind::IsADirectory => "this is a folder".to_string(),
        _ => error.to_string(),
    };
    Failure::usage(format!("{name}: cannot {what}: {reason}"))
}

/// Refuses outputs that would overwrite an input or each other. Call it before any work is done.
pub(crate) fn check_outputs<'a>(
    inputs: impl Iterator<Item = &'a PathBuf>,
    outputs: impl Iterator<Item = &'a PathBuf>,
) -> Result<(), Failure> {
    let inputs: Vec<&PathBuf> = inputs.collect();
    let mut seen: Vec<&PathBuf> = Vec::new();
    for output in outputs {
        if inputs.iter().any(|input| same(input, output)) {
            return Err(Failure::usage(format!(
                "{}: this file is read, so it is not written over; name another output",
                output.display()
            )));
        }
        if seen.iter().any(|other| same(other, output)) && !is_stream(output) {
            return Err(Failure::usage(format!("{}: two outputs cannot go to one file", output.display())));
        }
        seen.push(output);
    }
    Ok(())
}

/// Refuses an output that cannot be written, without writing to it. Call it before any work is done.
pub(crate) fn check_writable(path: &Path) -> Result<(), Failure> {
    if path.is_dir() {
        return Err(is_folder(path));
    }
    if is_stream(path) {
        return Ok(());
    }
    let path = &resolved(path);
    tempfile::Builder::new()
        .prefix(UNFINISHED)
        .tempfile_in(folder(path))
        .map(|_| ())
        .map_err(|error| cannot("write", path, &error))
}

fn is_folder(path: &Path) -> Failure {
    Failure::usage(format!("{}: this is a folder; name a file to write", path.display()))
}

/// Whether two paths lead to one file, by way of links too.
pub(crate) fn same(one: &Path, other: &Path) -> bool {
    #[cfg(unix)]
    if let (Ok(one), Ok(other)) = (fs::metadata(one), fs::metadata(other)) {
        use std::os::unix::fs::MetadataExt;
        return (one.dev(), one.ino()) == (other.dev(), other.ino());
    }
    resolved(one) == resolved(other)
}

/// The path without links; the file itself need not exist yet.
fn resolved(path: &Path) -> PathBuf {
    if let Ok(path) = fs::canonicalize(path) {
        return path;
    }
    let folder = folder(path);
    match (fs::canonicalize(folder), path.file_name()) {
        (Ok(folder), Some(name)) => folder.join(name),
        _ => path.to_path_buf(),
    }
}

fn folder(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// A device or pipe, which is written to directly.
pub(crate) fn is_stream(path: &Path) -> bool {
    fs::metadata(path).is_ok_and(|metadata| !metadata.is_file() && !metadata.is_dir())
}

/// Writes a file as a whole.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let mut output = Output::begin(path)?;
    output.put(bytes);
    output.finish()
}

/// Removes what runs that were killed have left unfinished in a folder that nobody else writes to. What cannot be removed
/// is in nobody's way.
pub(crate) fn clear_unfinished(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        if entry.file_name().to_str().is_some_and(|name| name.starts_with(UNFINISHED)) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// A file on its way: written into a temporary file beside its place, which takes the place when all is written. What is
/// left unfinished is gone. A device or pipe is written to directly.
#[derive(Debug)]
pub(crate) struct Output {
    /// As the user wrote it.
    path: PathBuf,
    to: To,
    /// The first error; nothing is written after it.
    failed: Option<io::Error>,
}

#[derive(Debug)]
enum To {
    /// The temporary file, and the place it will take.
    Beside(BufWriter<NamedTempFile>, PathBuf),
    Stream(BufWriter<File>),
}

impl Output {
    /// Begins a file.
    pub(crate) fn begin(path: &Path) -> Result<Self, Failure> {
        let failed = |error: &io::Error| cannot("write", path, error);
        if is_stream(path) {
            let file = fs::OpenOptions::new().write(true).open(path).map_err(|error| failed(&error))?;
            return Ok(Output { path: path.to_owned(), to: To::Stream(BufWriter::new(file)), failed: None });
        }
        if path.is_dir() {
            return Err(is_folder(path));
        }
        // A link keeps pointing to what it pointed to.
        let place = resolved(path);
        let mut builder = tempfile::Builder::new();
        builder.prefix(UNFINISHED);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // What an existing file allows stays; a new one gets what the user's mask leaves.
            let mode = fs::metadata(&place).map_or(0o666, |metadata| metadata.permissions().mode() & 0o777);
            builder.permissions(fs::Permissions::from_mode(mode));
        }
        let file = builder.tempfile_in(folder(&place)).map_err(|error| failed(&error))?;
        let to = To::Beside(BufWriter::new(file), place);
        Ok(Output { path: path.to_owned(), to, failed: None })
    }

    /// A file without a name, for what must wait for something that stands in front of it. On the same device as the
    /// output, where that is a file.
    pub(crate) fn spool(&self) -> io::Result<File> {
        match &self.to {
            To::Beside(_, place) => tempfile::tempfile_in(folder(place)),
            To::Stream(_) => tempfile::tempfile(),
        }
    }

    /// Writes on. An error is told by [`Output::finish`].
    pub(crate) fn put(&mut self, bytes: &[u8]) {
        if self.failed.is_none() {
            let done = match &mut self.to {
                To::Beside(file, _) => file.write_all(bytes),
                To::Stream(file) => file.write_all(bytes),
            };
            self.failed = done.err();
        }
    }

    /// Writes on with what another file holds from its start.
    pub(crate) fn put_file(&mut self, file: &mut File) {
        if self.failed.is_none() {
            let copied = file.seek(SeekFrom::Start(0)).and_then(|_| match &mut self.to {
                To::Beside(output, _) => io::copy(file, output),
                To::Stream(output) => io::copy(file, output),
            });
            self.failed = copied.err();
        }
    }

    /// Notes an error that came elsewhere and spoils the output.
    pub(crate) fn fail(&mut self, error: io::Error) {
        self.failed.get_or_insert(error);
    }

    /// Whether it cannot be finished any more. That a reader has gone away is another thing.
    pub(crate) fn is_spoilt(&self) -> bool {
        self.failed.as_ref().is_some_and(|error| error.kind() != io::ErrorKind::BrokenPipe)
    }

    /// Lets the file take its place. Nothing of it is there if anything went wrong on the way; a reader at the other end of
    /// a pipe that has gone away is no error.
    pub(crate) fn finish(self) -> Result<(), Failure> {
        let Output { path, to, failed } = self;
        let written = match (failed, to) {
            (Some(error), To::Stream(stream)) => {
                // Its buffer must not be written when it goes.
                drop(stream.into_parts());
                Err(error)
            }
            (Some(error), To::Beside(file, _)) => {
                drop(file.into_parts());
                Err(error)
            }
            (None, To::Stream(mut stream)) => stream.flush(),
            (None, To::Beside(file, place)) => file
                .into_inner()
                .map_err(io::IntoInnerError::into_error)
                .and_then(|file| file.persist(place).map(|_| ()).map_err(|error| error.error)),
        };
        match written {
            Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(cannot("write", &path, &error)),
            _ => Ok(()),
        }
    }
}

impl fmt::Write for Output {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.put(text.as_bytes());
        if self.failed.is_some() { Err(fmt::Error) } else { Ok(()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_read_is_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let source = folder.path().join("pump.st");
        fs::write(&source, "x").unwrap();
        let around = folder.path().join(".").join("pump.st");
        let other = folder.path().join("pump.image");
        let check = |outputs: &[PathBuf]| check_outputs([source.clone()].iter(), outputs.iter()).is_ok();
        assert!(!check(&[around]));
        assert!(check(std::slice::from_ref(&other)));
        assert!(!check(&[other.clone(), other.clone()]));
        #[cfg(unix)]
        {
            let link = folder.path().join("link");
            fs::hard_link(&source, &link).unwrap();
            assert!(!check(&[link]));
        }
    }

    #[test]
    fn writing_replaces_as_a_whole_and_leaves_nothing_behind() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("trace.csv");
        write(&path, b"one").unwrap();
        write(&path, b"two").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"two");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        assert!(write(&folder.path().join("missing").join("trace.csv"), b"").is_err());
        assert!(write(folder.path(), b"").is_err());
    }

    #[cfg(unix)]
    #[test]
    fn permissions_of_an_existing_file_stay() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("trace.csv");
        fs::write(&path, "old").unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
        write(&path, b"new").unwrap();
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o640);
    }

    #[test]
    fn text_that_is_none_names_the_byte() {
        let message = |bytes: &[u8]| text(Path::new("a.st"), bytes.to_vec()).unwrap_err().message;
        assert!(message(b"ab\xffcd").contains("byte offset 2: 16#FF"));
        assert!(message(b"ab\0cd").contains("byte offset 2: a zero byte"));
        assert!(message(b"\xff\xfea\0").contains("UTF-16"));
    }
}

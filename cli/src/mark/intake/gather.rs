//! One submission: which of its files are its program, and reading them.
//!
//! Files ending in `.st` and `.il` are. A `.txt` is where it holds a declaration, or where no file does. Zips are opened
//! where no such file lies beside them, one level. If there is nothing of all that, every file that is text is taken.

use super::{
    Budget, Gravity, Outcome, Problem, Student, Submission,
    archive::{Archive, too_large},
    disk::{self, Piece, too_deep, too_many, unreadable},
    encoding::{Decoded, declares, decode, is_plain, refused_by_head},
    limits::{DEPTH_MAX, ENTRIES_MAX, HEAD_BYTES, READ_BYTES_MAX, ZIP_BYTES_MAX},
    listing::{Found, Listing, Place, Trouble},
    names::{FileKind, clutter, kind},
    result,
};

/// A file that was read as text.
#[derive(Debug)]
pub(super) struct Taken {
    pub(super) name: String,
    pub(super) raw: Vec<u8>,
    pub(super) decoded: Decoded,
    kind: FileKind,
    /// There is a declaration in it.
    declares: bool,
}

/// Reading of one submission.
struct Gathering<'a> {
    listing: Listing,
    budget: &'a Budget,
    /// The zip of the class, where the submission lies in one.
    class: Option<&'a Archive>,
    /// Zips of the submission.
    own: Vec<Archive>,
    /// Bytes that may still be read.
    left: u64,
}

/// Number of the class's zip in [`Place::Zip`]; those of the submission follow.
pub(super) const CLASS_ZIP: usize = 0;

/// Reads what a listing names.
pub(super) fn gather(
    student: Student,
    mut listing: Listing,
    class: Option<&Archive>,
    budget: &Budget,
) -> Submission {
    listing.files.sort_by(|one, other| one.name.cmp(&other.name));
    let nothing = listing.files.is_empty() && listing.left_out.is_empty() && !listing.refused;
    let mut gathering = Gathering { listing, budget, class, own: Vec::new(), left: READ_BYTES_MAX };
    gathering.open_zips();
    gathering.keep_last_of_same_name();
    let (taken, over) = gathering.take();
    let listing = gathering.listing;
    let outcome = match (&taken, over) {
        _ if nothing => Outcome::NothingHandedIn,
        (_, true) => Outcome::OverBudget,
        (taken, _) if !taken.is_empty() => Outcome::Read,
        _ if listing.refused || listing.troubles > 0 => Outcome::Unreadable,
        _ => Outcome::NoProgram,
    };
    result::of(student, outcome, taken, listing)
}

impl Gathering<'_> {
    /// Puts the files of zips in the place of the zips, if these are all that may hold a program.
    fn open_zips(&mut self) {
        let is_zip = |found: &Found| kind(&found.name) == FileKind::Zip;
        let is_program = |found: &Found| matches!(kind(&found.name), FileKind::Program | FileKind::Text);
        let (zips, rest): (Vec<Found>, Vec<Found>) =
            std::mem::take(&mut self.listing.files).into_iter().partition(is_zip);
        self.listing.files = rest;
        if self.listing.files.iter().any(is_program) {
            for zip in &zips {
                self.listing.leave_out(&zip.name, "a zip beside programs is not opened");
            }
            return;
        }
        // The files of a zip that is all there is have the names that they have in it.
        let alone = zips.len() == 1 && self.listing.files.is_empty();
        for zip in zips {
            if self.listing.refused {
                return;
            }
            let prefix = if alone { String::new() } else { format!("{}/", zip.name) };
            match self.open_zip(&zip) {
                Ok(archive) => {
                    let number = self.own.len() + 1;
                    list_entries(&archive, 0..archive.entries.len(), 0, number, &prefix, &mut self.listing);
                    self.own.push(archive);
                }
                Err(trouble) => self.listing.trouble(&zip.name, &trouble),
            }
        }
        // Nothing is opened in these.
        let (zips, rest): (Vec<Found>, Vec<Found>) =
            std::mem::take(&mut self.listing.files).into_iter().partition(is_zip);
        self.listing.files = rest;
        for zip in &zips {
            self.listing.trouble(&zip.name, &Trouble::new("zip-in-zip", "a zip in a zip is not opened"));
        }
        self.listing.files.sort_by(|one, other| one.name.cmp(&other.name));
    }

    fn open_zip(&mut self, zip: &Found) -> Result<Archive, Trouble> {
        match &zip.place {
            Place::Disk(path) => Archive::in_file(path, ZIP_BYTES_MAX, ENTRIES_MAX),
            Place::Zip(..) => {
                let piece = self.read(zip, ZIP_BYTES_MAX)?;
                if !piece.whole {
                    return Err(too_large(ZIP_BYTES_MAX));
                }
                Archive::in_memory(piece.bytes, ENTRIES_MAX)
            }
        }
    }

    /// A zip may hold a name twice; as when it is unpacked, the last one stays. Sorting kept their order.
    fn keep_last_of_same_name(&mut self) {
        let mut kept: Vec<Found> = Vec::new();
        for found in std::mem::take(&mut self.listing.files) {
            if let Some(last) = kept.last_mut().filter(|last| last.name == found.name) {
                let why = "the zip holds a later file of the same name, which counts";
                self.listing.trouble(&found.name, &Trouble::new("same-name", why));
                *last = found;
            } else {
                kept.push(found);
            }
        }
        self.listing.files = kept;
    }

    /// Reads the files that are the program. True if they are more than the exercise allows.
    fn take(&mut self) -> (Vec<Taken>, bool) {
        let mut files = std::mem::take(&mut self.listing.files);
        let named = files.iter().any(|found| matches!(kind(&found.name), FileKind::Program | FileKind::Text));
        if named {
            files.retain(|found| {
                let stays = kind(&found.name) != FileKind::Other;
                if !stays {
                    self.listing.leave_out(&found.name, "no program: those end in .st, .il or .txt");
                }
                stays
            });
        }
        // What surely is the program comes first, so that it is not kept out by what may be.
        files.sort_by(|one, other| (kind(&one.name), &one.name).cmp(&(kind(&other.name), &other.name)));
        let mut taken: Vec<Taken> = Vec::new();
        let mut over = false;
        for found in &files {
            let room =
                self.budget.text_bytes.saturating_sub(taken.iter().map(|taken| taken.raw.len() as u64).sum());
            match self.take_one(found, room) {
                Ok((file, whole)) => {
                    let counts = kind(&found.name) != FileKind::Text
                        || file.declares
                        || !taken.iter().any(Taken::is_program);
                    if !whole && counts {
                        over = true;
                        let limit = self.budget.text_bytes;
                        self.problem("over-budget", Gravity::Error, None, format!(
                            "the files are larger than {limit} bytes together, which is all that this exercise takes"
                        ));
                        taken.push(file);
                        break;
                    }
                    if whole {
                        taken.push(file);
                    } else {
                        self.listing.leave_out(&found.name, NO_DECLARATION);
                    }
                }
                Err(trouble) if trouble.name == NO_TEXT && !named => {
                    self.listing.leave_out(&found.name, &trouble.why);
                }
                Err(trouble) => self.listing.trouble(&found.name, &trouble),
            }
        }
        self.drop_notes(&mut taken);
        taken.sort_by(|one, other| one.name.cmp(&other.name));
        if taken.len() > self.budget.files {
            over = true;
            let (count, limit) = (taken.len(), self.budget.files);
            let message = format!("{count} files were handed in; this exercise takes {limit}");
            self.problem("over-budget", Gravity::Error, None, message);
        }
        (taken, over)
    }

    /// A `.txt` without a declaration is no program, if any other file is one.
    fn drop_notes(&mut self, taken: &mut Vec<Taken>) {
        if taken.iter().any(Taken::is_program) {
            taken.retain(|taken| {
                let stays = taken.is_program() || taken.kind != FileKind::Text;
                if !stays {
                    self.listing.leave_out(&taken.name, NO_DECLARATION);
                }
                stays
            });
        }
    }

    fn take_one(&mut self, found: &Found, room: u64) -> Result<(Taken, bool), Trouble> {
        let kind = kind(&found.name);
        if kind == FileKind::Other {
            let head = self.read(found, HEAD_BYTES)?;
            if let Some(why) = refused_by_head(&head.bytes) {
                return Err(Trouble::new(NO_TEXT, why));
            }
        }
        let piece = self.read(found, room)?;
        let decoded = decode(&piece.bytes).map_err(|why| Trouble::new(NO_TEXT, why))?;
        if kind == FileKind::Other && !is_plain(&decoded.text) {
            return Err(Trouble::new(NO_TEXT, "no text: it holds control characters"));
        }
        let declares = declares(&decoded.text);
        Ok((Taken { name: found.name.clone(), raw: piece.bytes, decoded, kind, declares }, piece.whole))
    }

    /// Reads at most so many bytes of a file, within what may be read of the submission.
    fn read(&mut self, found: &Found, bytes_max: u64) -> Result<Piece, Trouble> {
        let clipped = bytes_max > self.left;
        let bytes_max = bytes_max.min(self.left);
        let mut spent = 0;
        let piece = match &found.place {
            Place::Disk(path) => disk::open(path).and_then(|mut file| {
                disk::read(&mut file, bytes_max, &mut spent).map_err(|error| unreadable(&error))
            }),
            Place::Zip(zip, entry) => {
                let archive = if *zip == CLASS_ZIP { self.class } else { self.own.get(zip - 1) };
                archive
                    .ok_or_else(|| Trouble::new("vanished", "it was gone when it was to be read"))
                    .and_then(|archive| archive.read(*entry, bytes_max, &mut spent))
            }
        };
        self.left = self.left.saturating_sub(spent);
        let piece = piece?;
        if clipped && !piece.whole {
            let limit = READ_BYTES_MAX / 1024 / 1024;
            let why = format!("more than {limit} MiB were handed in; hand in the program alone");
            return Err(Trouble::new("too-much-to-read", why));
        }
        Ok(piece)
    }

    fn problem(&mut self, name: &'static str, severity: Gravity, file: Option<&str>, message: String) {
        self.listing.problems.push(Problem { name, severity, message, file: file.map(str::to_string) });
    }
}

impl Taken {
    fn is_program(&self) -> bool {
        self.kind == FileKind::Program || self.declares
    }
}

const NO_TEXT: &str = "no-text";
const NO_DECLARATION: &str = "no program: there is no declaration in it";

/// Notes entries of a zip as files of a submission: those with these numbers, by their names below so many folders.
pub(super) fn list_entries(
    archive: &Archive,
    numbers: impl IntoIterator<Item = usize>,
    folders: usize,
    zip: usize,
    prefix: &str,
    listing: &mut Listing,
) {
    for (number, entry) in
        numbers.into_iter().filter_map(|number| Some((number, archive.entries.get(number)?)))
    {
        listing.seen += 1;
        if listing.seen > ENTRIES_MAX {
            return listing.refuse(&too_many());
        }
        let below = entry.path.get(folders..).unwrap_or_default();
        let own = match (&entry.unplaced, below) {
            (Some(name), _) => name.clone(),
            // A file that has the name of the folder beside it.
            (None, []) => entry.path.last().cloned().unwrap_or_default(),
            (None, below) => below.join("/"),
        };
        let name = format!("{prefix}{own}");
        if let Some(why) = below.iter().find_map(|part| clutter(part)) {
            if !entry.folder {
                listing.leave_out(&name, why);
            }
        } else if let Some(trouble) = &entry.trouble {
            listing.trouble(&name, trouble);
        } else if below.len() > DEPTH_MAX + 1 {
            listing.trouble(&name, &too_deep());
        } else if !entry.folder {
            listing.files.push(Found { name, place: Place::Zip(zip, number) });
        }
    }
}

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
    listing::{Found, Listing, Place, TOO_MANY, Trouble},
    names::{FileKind, clutter, kind},
    result,
};

/// A file that was read as text.
#[derive(Debug)]
pub(super) struct Taken {
    pub(super) name: String,
    pub(super) raw: Vec<u8>,
    /// There is no more of it.
    whole: bool,
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
        _ if listing.refused => Outcome::OverBudget,
        (taken, _) if !taken.is_empty() => Outcome::Read,
        _ if listing.troubles > 0 => Outcome::Unreadable,
        _ => Outcome::NoProgram,
    };
    result::of(student, outcome, taken, listing)
}

impl Gathering<'_> {
    /// Puts the files of zips in the place of the zips, if these are all that may hold a program.
    fn open_zips(&mut self) {
        let zips = self.take_zips();
        if zips.is_empty() {
            return;
        }
        if self.has_loose_program() {
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
                Err(trouble) if trouble.name == TOO_MANY => self.listing.refuse(&trouble),
                Err(trouble) => self.listing.trouble(&zip.name, &trouble),
            }
        }
        // Nothing is opened in these.
        for zip in self.take_zips() {
            self.listing.trouble(&zip.name, &Trouble::new("zip-in-zip", "a zip in a zip is not opened"));
        }
        self.listing.files.sort_by(|one, other| one.name.cmp(&other.name));
    }

    fn take_zips(&mut self) -> Vec<Found> {
        let is_zip = |found: &Found| kind(&found.name) == FileKind::Zip;
        let (zips, rest) = std::mem::take(&mut self.listing.files).into_iter().partition(is_zip);
        self.listing.files = rest;
        zips
    }

    /// Whether a program lies outside all zips; a note beside a zip is none.
    fn has_loose_program(&mut self) -> bool {
        let files = self.listing.files.clone();
        files.iter().any(|found| match kind(&found.name) {
            FileKind::Program => true,
            FileKind::Text => self.take_one(found, self.budget.text_bytes).is_ok_and(|file| file.declares),
            FileKind::Zip | FileKind::Other => false,
        })
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
        // Text without a declaration, which costs nothing until it is known to be all there is.
        let mut notes: Vec<Taken> = Vec::new();
        let mut used = 0;
        for found in &files {
            match self.take_one(found, self.budget.text_bytes.saturating_sub(used)) {
                Ok(file) if file.kind == FileKind::Text && !file.declares => notes.push(file),
                Ok(file) => {
                    used += file.raw.len() as u64;
                    let whole = file.whole;
                    taken.push(file);
                    if !whole {
                        break;
                    }
                }
                Err(trouble) if trouble.name == NO_TEXT && !named => {
                    self.listing.leave_out(&found.name, &trouble.why);
                }
                Err(trouble) => self.listing.trouble(&found.name, &trouble),
            }
        }
        if taken.is_empty() && !files.iter().any(|found| kind(&found.name) == FileKind::Program) {
            taken = notes;
        } else {
            for note in notes {
                self.listing.leave_out(&note.name, "no program: there is no declaration in it");
            }
        }
        taken.sort_by(|one, other| one.name.cmp(&other.name));
        let over = self.is_over_budget(&taken);
        (taken, over)
    }

    /// Whether the program is more than the exercise allows, which is told.
    fn is_over_budget(&mut self, taken: &[Taken]) -> bool {
        let Budget { text_bytes, files } = *self.budget;
        let count = taken.len();
        let message = if count > files {
            format!("{count} files were handed in; this exercise takes {files}")
        } else if taken.iter().any(|file| !file.whole) || bytes_of(taken) > text_bytes {
            format!(
                "the files are larger than {text_bytes} bytes together, which is all that this exercise takes"
            )
        } else {
            return false;
        };
        let problem = Problem { name: "over-budget", severity: Gravity::Error, message, file: None };
        self.listing.problems.push(problem);
        true
    }

    fn take_one(&mut self, found: &Found, room: u64) -> Result<Taken, Trouble> {
        let kind = kind(&found.name);
        if kind == FileKind::Other {
            let head = self.read(found, HEAD_BYTES)?;
            if let Some(why) = refused_by_head(&head.bytes) {
                return Err(Trouble::new(NO_TEXT, why));
            }
        }
        let Piece { bytes: raw, whole } = self.read(found, room)?;
        let decoded = decode(&raw).map_err(|why| Trouble::new(NO_TEXT, why))?;
        if kind == FileKind::Other && !is_plain(&decoded.text) {
            return Err(Trouble::new(NO_TEXT, "no text: it holds control characters"));
        }
        let declares = declares(&decoded.text);
        Ok(Taken { name: found.name.clone(), raw, whole, decoded, kind, declares })
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
}

fn bytes_of(taken: &[Taken]) -> u64 {
    taken.iter().map(|file| file.raw.len() as u64).sum()
}

const NO_TEXT: &str = "no-text";

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

//! What an image notes of the statements that it runs, so that a reader can be told why a value is what it is: which
//! statements ran, for which instance, with which values of their parts, and where those parts lie.
//!
//! Noting instructions stand in images that were compiled for it ([`crate::Family::journals`]). They read and note, and
//! nothing else: they count for nothing, raise nothing and write nothing of the data image. What the numbers mean is
//! known to whoever compiled the image.
//!
//! Nothing is noted before [`crate::Machine::keep_journal`] was called. The notes of one scan stand in the order in
//! which things happened; whoever runs the machine takes them after each scan.

/// Most notes that are kept until they are taken: some more than a program of ordinary size has in a scan, and few
/// enough that a loop without an end does not take all memory.
pub const NOTES_MAX: usize = 1 << 20;

/// Something that happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Note {
    /// Number of the statement or part.
    pub number: u32,
    /// What happened with it.
    pub kind: NoteKind,
    /// The base address of the instance; the address; or the bytes of the value, the lowest first, the others 0.
    pub word: u64,
}

/// What a note tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoteKind {
    /// The statement begins.
    Statement,
    /// The part has this value.
    Value,
    /// The part is at this address.
    Place,
}

/// The notes since they were taken last.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Journal {
    notes: Vec<Note>,
    left_out: u64,
}

impl Journal {
    /// The notes in the order in which things happened.
    #[must_use]
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// How many notes at the end were left out because there were more than [`NOTES_MAX`].
    #[must_use]
    pub const fn left_out(&self) -> u64 {
        self.left_out
    }

    /// Forgets all notes.
    pub fn clear(&mut self) {
        self.notes.clear();
        self.left_out = 0;
    }

    pub(crate) fn note(&mut self, number: u32, kind: NoteKind, word: u64) {
        if self.notes.len() < NOTES_MAX {
            self.notes.push(Note { number, kind, word });
        } else {
            self.left_out += 1;
        }
    }
}

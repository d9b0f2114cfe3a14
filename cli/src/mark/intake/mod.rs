//! Reading a class's submissions, whatever is in them.
//!
//! A class is listed first, which is cheap: who handed in what, and where it lies. Its submissions are read one at a time
//! when they are asked for, by any number of threads. What a student handed in never ends a run: it becomes a problem of
//! that submission. Only a class that cannot be listed at all is a failure.

mod archive;
mod class;
mod digest;
mod disk;
mod encoding;
mod gather;
mod identity;
mod limits;
mod listing;
mod names;
mod pattern;
mod result;
mod roster;
mod slug;
#[cfg(test)]
mod tests;

use std::{cmp::Ordering, path::PathBuf};

pub(crate) use latchwork_bench::marking::{Gravity, Student};

pub(crate) use self::{class::Class, encoding::Encoding, pattern::Pattern, roster::Roster, slug::file_slug};

/// How a class is read.
#[derive(Clone, Debug, Default)]
pub(crate) struct IntakeOptions {
    /// What the exercise allows a submission.
    pub(crate) budget: Budget,
    /// Where the student's id is in the name of a submission; without, it is the whole name of the folder, or of the file
    /// without its extension.
    pub(crate) pattern: Option<Pattern>,
    /// The members of the class.
    pub(crate) roster: Option<Roster>,
    /// Files and folders that are no submissions even where they lie among them: the roster, the folder of results.
    pub(crate) besides: Vec<PathBuf>,
}

/// What an exercise allows a submission.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Budget {
    /// Bytes of all files together.
    pub(crate) text_bytes: u64,
    /// Number of files.
    pub(crate) files: usize,
}

impl Default for Budget {
    fn default() -> Self {
        Budget { text_bytes: 262_144, files: 20 }
    }
}

/// A submission that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Submission {
    pub(crate) student: Student,
    pub(crate) outcome: Outcome,
    /// The program, in the order of the names' bytes. Without texts where the outcome is not [`Outcome::Read`].
    pub(crate) files: Vec<SubmittedFile>,
    /// What was not read, in the order of names; of more than 50 the last says how many there are.
    pub(crate) left_out: Vec<LeftOut>,
    /// What its owner has to know, errors first; at most 50, and then the number of the rest.
    pub(crate) problems: Vec<Problem>,
    /// SHA-256 in hexadecimal of all that the result depends on, besides the student: names and bytes of `files`, what was
    /// left out, problems.
    pub(crate) digest: String,
}

/// How far reading came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// There is a program.
    Read,
    /// There is nothing, or only an empty folder.
    NothingHandedIn,
    /// More bytes or files than the exercise allows, or than are looked at; reading stopped there.
    OverBudget,
    /// Something was handed in, but no program.
    NoProgram,
    /// Something was handed in that could not be read, and nothing else.
    Unreadable,
}

impl Outcome {
    /// Its stable name.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Outcome::Read => "read",
            Outcome::NothingHandedIn => "nothing-handed-in",
            Outcome::OverBudget => "over-budget",
            Outcome::NoProgram => "no-program",
            Outcome::Unreadable => "unreadable",
        }
    }
}

/// A file of the program that was handed in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct SubmittedFile {
    /// Its name in the submission, with folders and `/` between them. Raw text.
    pub(crate) name: String,
    /// Its text, without a mark of the encoding.
    pub(crate) text: String,
    /// How it was written.
    pub(crate) encoding: Encoding,
    /// Its bytes; of one that is over budget, those that were read.
    pub(crate) bytes: u64,
}

/// A file that was not read.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct LeftOut {
    /// Its name. Raw text.
    pub(crate) name: String,
    /// Why; goes on behind the name.
    pub(crate) why: String,
}

/// Something about what was handed in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Problem {
    /// An error means that there is nothing to mark, a warning that something was not read that may have been meant.
    pub(crate) severity: Gravity,
    /// Stable name: `symbolic-link`.
    pub(crate) name: &'static str,
    /// The file it is about. Raw text.
    pub(crate) file: Option<String>,
    /// One sentence without a full stop; names in it are raw text.
    pub(crate) message: String,
}

impl Problem {
    /// Errors first, then by names: an order that does not depend on that of the file system.
    fn order(&self, other: &Self) -> Ordering {
        let key = |problem: &Self| (problem.severity as u8, problem.name);
        (key(self), &self.file, &self.message).cmp(&(key(other), &other.file, &other.message))
    }
}

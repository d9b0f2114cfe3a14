//! What lies in a submission before anything of it is read.

use std::path::PathBuf;

use super::{Gravity, LeftOut, Problem, names::beginning};

/// A file of a submission.
#[derive(Clone, Debug)]
pub(super) struct Found {
    /// Its name with its folders, `/` between them.
    pub(super) name: String,
    pub(super) place: Place,
}

/// Where a file lies.
#[derive(Clone, Debug)]
pub(super) enum Place {
    /// In the file system.
    Disk(PathBuf),
    /// In a zip: which of those that are open, which of its entries.
    Zip(usize, usize),
}

/// The problem of a submission that is more than can be looked at, and is given up for it.
pub(super) const TOO_MANY: &str = "too-many-entries";

/// Why something could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Trouble {
    /// The stable name of the problem.
    pub(super) name: &'static str,
    /// What goes on behind the name of the file: "a symbolic link, which is not followed".
    pub(super) why: String,
}

impl Trouble {
    pub(super) fn new(name: &'static str, why: impl Into<String>) -> Self {
        Trouble { name, why: why.into() }
    }
}

/// The files of a submission, and what was noticed on the way to them.
#[derive(Debug, Default)]
pub(super) struct Listing {
    pub(super) files: Vec<Found>,
    pub(super) left_out: Vec<LeftOut>,
    pub(super) problems: Vec<Problem>,
    /// What was known of it before anything was listed.
    pub(super) known: Vec<Problem>,
    /// How often something could not be read.
    pub(super) troubles: usize,
    /// Nothing of it is read at all.
    pub(super) refused: bool,
    /// Files and folders that were seen.
    pub(super) seen: usize,
}

impl Listing {
    /// Notes that something is not read, as may well be.
    pub(super) fn leave_out(&mut self, name: &str, why: &str) {
        self.left_out.push(LeftOut { name: name.to_string(), why: why.to_string() });
    }

    /// Notes that something is not read, which its owner has to know.
    pub(super) fn trouble(&mut self, name: &str, trouble: &Trouble) {
        let name = beginning_of_long(name);
        self.troubles += 1;
        self.leave_out(&name, &trouble.why);
        self.problems.push(Problem {
            name: trouble.name,
            severity: Gravity::Warning,
            message: format!("`{name}` was not read: {}", trouble.why),
            file: Some(name),
        });
    }

    /// Gives the submission up. Which of its files were seen by then depends on the file system, so none is told.
    pub(super) fn refuse(&mut self, trouble: &Trouble) {
        self.files.clear();
        self.left_out.clear();
        self.problems.clear();
        self.refused = true;
        self.problems.push(Problem {
            name: trouble.name,
            severity: Gravity::Error,
            message: trouble.why.clone(),
            file: None,
        });
    }
}

/// Names are told whole unless they are too long to be read at all.
fn beginning_of_long(name: &str) -> String {
    if name.len() > super::limits::NAME_BYTES_MAX { beginning(name) } else { name.to_string() }
}

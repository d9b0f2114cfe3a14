//! The folder of results: what lies where in it, and that nobody else writes to it.

use std::{
    fs::{self, File},
    path::{Path, PathBuf},
};

use crate::{exit::Failure, files};

/// Folder of the log, and its name in it.
const WORK: &str = "work";
const LOG: &str = "results.log";

/// Folder of the students' pages.
pub(super) const FEEDBACK: &str = "feedback";

/// Marks of all, for people.
pub(super) const GRADEBOOK: &str = "gradebook.csv";
/// Results of all, for tools.
pub(super) const DOCUMENT: &str = "results.json";
/// The same as JUnit XML.
pub(super) const JUNIT: &str = "results.xml";
/// The page of the class.
pub(super) const CLASS: &str = "class.html";
/// The page about submissions that are alike.
pub(super) const ALIKE: &str = "alike.html";

/// The log of a folder of results.
pub(super) fn log_path(out: &Path) -> PathBuf {
    out.join(WORK).join(LOG)
}

/// The pages of a student.
pub(super) fn pages(feedback: &Path, slug: &str) -> [PathBuf; 2] {
    [feedback.join(format!("{slug}.html")), feedback.join(format!("{slug}.md"))]
}

/// Makes the folder of results, and sees to it that nobody else writes to it until the file is closed. A folder that is
/// read is refused, and one that has such files without being one of ours.
pub(super) fn claim(out: &Path, read: &[&Path]) -> Result<File, Failure> {
    if read.iter().any(|read| files::same(read, out)) {
        return Err(Failure::usage(format!(
            "{}: this folder is read, so results do not go to it; name another one with --out",
            out.display()
        )));
    }
    let foreign = [GRADEBOOK, DOCUMENT, JUNIT, CLASS, ALIKE].into_iter().find(|name| out.join(name).exists());
    if let Some(name) = foreign.filter(|_| !log_path(out).exists()) {
        return Err(Failure::usage(format!(
            "{}: there is a file {name} that is not from here, which would be written over; name another folder with --out",
            out.display()
        )));
    }
    make(&out.join(WORK))?;
    make(&out.join(FEEDBACK))?;
    let path = out.join(WORK).join("lock");
    let file = File::create(&path).map_err(|error| files::cannot("write", &path, &error))?;
    if let Err(fs::TryLockError::WouldBlock) = file.try_lock() {
        return Err(Failure::usage(format!(
            "{}: somebody else is writing results to this folder; wait, or name another one with --out",
            out.display()
        )));
    }
    // Some network folders know no locks; there the user has to see to it.
    [out.to_path_buf(), out.join(WORK), out.join(FEEDBACK)]
        .iter()
        .for_each(|folder| files::clear_unfinished(folder));
    Ok(file)
}

/// Makes a folder, and those around it.
fn make(path: &Path) -> Result<(), Failure> {
    fs::create_dir_all(path).map_err(|error| files::cannot("make", path, &error))
}

//! The submissions of a class: listed at once, read one by one.

use std::{
    collections::BTreeMap,
    fs,
    path::{Path, PathBuf},
};

use super::{
    Budget, Gravity, IntakeOptions, LeftOut, Problem, Student, Submission,
    archive::Archive,
    disk::{self, special, unreadable},
    gather::{CLASS_ZIP, gather, list_entries},
    identity::{Identified, Named, identify},
    limits::{CLASS_ZIP_BYTES_MAX, CLASS_ZIP_ENTRIES_MAX, SUBMISSIONS_MAX},
    listing::{Found, Listing, Place, Trouble},
    names::{clutter, stem, text_of},
    result,
};
use crate::{exit::Failure, files::cannot};

/// A class, listed. Its submissions may be read by several threads at once.
#[derive(Debug)]
pub(crate) struct Class {
    members: Vec<Identified<Where>>,
    /// The zip of the whole class.
    zip: Option<Archive>,
    budget: Budget,
    left_out: Vec<LeftOut>,
    problems: Vec<Problem>,
}

/// Where a submission lies.
#[derive(Debug)]
enum Where {
    File(PathBuf, String),
    Folder(PathBuf),
    /// Entries of the zip of the class, and how many of the folders that they lie in are not the submission's own.
    Entries(Vec<usize>, usize),
    /// At a name that holds nothing readable.
    Nowhere(String, Trouble),
}

/// What lies among the submissions.
#[derive(Default)]
struct Content {
    submissions: Vec<Named<Where>>,
    left_out: Vec<LeftOut>,
    problems: Vec<Problem>,
}

impl Class {
    /// Lists the submissions in a folder or a zip.
    ///
    /// Every file, folder and zip in it is the submission of one student. A zip that holds a single folder, as it comes of
    /// packing the folder of a class, is taken as what is in that folder, and a note says so; unless the folder's name fits
    /// the pattern, or is the id of somebody on the roster.
    ///
    /// # Errors
    ///
    /// If there is no such folder or zip, if it cannot be read, if it holds more than is allowed, or if there is nobody in
    /// the class.
    pub(crate) fn list(path: &Path, options: &IntakeOptions) -> Result<Self, Failure> {
        let metadata = fs::metadata(path).map_err(|error| cannot("read", path, &error))?;
        if metadata.is_dir() {
            return Self::assemble(in_folder(path, options)?, None, options, path);
        }
        if !metadata.is_file() {
            let name = path.display();
            return Err(Failure::usage(format!("{name}: give a folder of submissions, or a zip of one")));
        }
        // The user may name it by a link.
        let place = fs::canonicalize(path).map_err(|error| cannot("read", path, &error))?;
        let archive =
            Archive::in_file(&place, CLASS_ZIP_BYTES_MAX, CLASS_ZIP_ENTRIES_MAX).map_err(|trouble| {
                let name = path.display();
                Failure::usage(format!(
                    "{name}: not a folder of submissions or a zip of one: {}",
                    trouble.why
                ))
            })?;
        Self::of_zip(archive, options, path)
    }

    /// Lists the submissions in a zip; `path` is only told.
    pub(super) fn of_zip(archive: Archive, options: &IntakeOptions, path: &Path) -> Result<Self, Failure> {
        Self::assemble(in_zip(&archive, options), Some(archive), options, path)
    }

    fn assemble(
        mut content: Content,
        zip: Option<Archive>,
        options: &IntakeOptions,
        path: &Path,
    ) -> Result<Self, Failure> {
        if content.submissions.len() > SUBMISSIONS_MAX {
            return Err(too_many(path));
        }
        let (members, problems) =
            identify(content.submissions, options.pattern.as_ref(), options.roster.as_ref());
        if members.is_empty() {
            return Err(Failure::nothing(format!("{}: there are no submissions in it", path.display())));
        }
        content.problems.extend(problems);
        let Content { mut left_out, mut problems, .. } = content;
        result::bound(&mut left_out, &mut problems);
        Ok(Class { members, zip, budget: options.budget, left_out, problems })
    }

    /// The number of members, those without a submission among them.
    pub(crate) fn len(&self) -> usize {
        self.members.len()
    }

    /// The student at a place in the order of the class.
    pub(crate) fn student(&self, index: usize) -> Option<&Student> {
        self.members.get(index).map(|member| &member.student)
    }

    /// What lies among the submissions and is none, in the order of names; of more than 50 the last is their number.
    pub(crate) fn left_out(&self) -> &[LeftOut] {
        &self.left_out
    }

    /// What has to be told of the class as a whole; of more than 50 problems the last is their number.
    pub(crate) fn problems(&self) -> &[Problem] {
        &self.problems
    }

    /// Reads the submission at a place in the order of the class; `None` behind the last.
    pub(crate) fn read(&self, index: usize) -> Option<Submission> {
        let member = self.members.get(index)?;
        let mut listing = Listing { known: member.problems.clone(), ..Listing::default() };
        match &member.what {
            None => {}
            Some(Where::File(path, name)) => {
                listing.files.push(Found { name: name.clone(), place: Place::Disk(path.clone()) });
            }
            Some(Where::Folder(path)) => disk::walk(path, &mut listing),
            Some(Where::Entries(numbers, folders)) => {
                if let Some(zip) = &self.zip {
                    list_entries(zip, numbers.iter().copied(), *folders, CLASS_ZIP, "", &mut listing);
                }
            }
            Some(Where::Nowhere(name, trouble)) => listing.trouble(name, trouble),
        }
        Some(gather(member.student.clone(), listing, self.zip.as_ref(), &self.budget))
    }
}

fn too_many(path: &Path) -> Failure {
    let name = path.display();
    Failure::usage(format!("{name}: more than {SUBMISSIONS_MAX} submissions; mark them in several parts"))
}

fn in_folder(path: &Path, options: &IntakeOptions) -> Result<Content, Failure> {
    let roster = options.roster.as_ref().and_then(|roster| roster.path.as_ref());
    let besides: Vec<PathBuf> =
        options.besides.iter().chain(roster).filter_map(|path| fs::canonicalize(path).ok()).collect();
    let folder = fs::canonicalize(path).map_err(|error| cannot("read", path, &error))?;
    let mut content = Content::default();
    for entry in fs::read_dir(path).map_err(|error| cannot("read", path, &error))? {
        let entry = entry.map_err(|error| cannot("read", path, &error))?;
        if content.submissions.len() > SUBMISSIONS_MAX || content.left_out.len() > SUBMISSIONS_MAX {
            return Err(too_many(path));
        }
        let name = text_of(&entry.file_name());
        if let Some(why) = clutter(&name) {
            content.left_out.push(LeftOut { name, why: why.to_string() });
            continue;
        }
        if besides.contains(&folder.join(entry.file_name())) {
            content.left_out.push(LeftOut { name, why: "no submission".to_string() });
            continue;
        }
        let named = match entry.file_type() {
            Ok(kind) if kind.is_dir() => {
                Named { stem: name.clone(), name, what: Where::Folder(entry.path()) }
            }
            Ok(kind) if kind.is_file() => {
                Named { stem: stem(&name).to_string(), what: Where::File(entry.path(), name.clone()), name }
            }
            Ok(kind) => nowhere(name, special(kind)),
            Err(error) => nowhere(name, unreadable(&error)),
        };
        content.submissions.push(named);
    }
    Ok(content)
}

fn nowhere(name: String, trouble: Trouble) -> Named<Where> {
    Named { stem: stem(&name).to_string(), what: Where::Nowhere(name.clone(), trouble), name }
}

fn in_zip(archive: &Archive, options: &IntakeOptions) -> Content {
    let mut content = Content::default();
    let mut placed: Vec<usize> = Vec::new();
    for (number, entry) in archive.entries.iter().enumerate() {
        match (&entry.unplaced, &entry.trouble) {
            (Some(name), trouble) => {
                let trouble =
                    trouble.clone().unwrap_or_else(|| Trouble::new("climbing-name", "it has no place"));
                let mut listing = Listing::default();
                listing.trouble(name, &trouble);
                content.left_out.append(&mut listing.left_out);
                content.problems.append(&mut listing.problems);
            }
            (None, _) => placed.push(number),
        }
    }
    let mut groups = group(archive, &placed, 0);
    let mut folders = 0;
    if let [(only, numbers)] = usable(&groups).as_slice()
        && is_folder(archive, numbers, 0)
        && !names_student(only, options)
    {
        content.problems.push(Problem {
            severity: Gravity::Note,
            name: "single-folder",
            file: Some((*only).to_string()),
            message: format!(
                "the zip holds the folder `{only}` alone; what is in it was taken as the submissions"
            ),
        });
        let inner: Vec<usize> = numbers.to_vec();
        folders = 1;
        for (name, why) in groups.keys().filter_map(|name| Some((name, clutter(name)?))) {
            content.left_out.push(LeftOut { name: name.clone(), why: why.to_string() });
        }
        groups = group(archive, &inner, folders);
    }
    for (name, numbers) in groups {
        if let Some(why) = clutter(&name) {
            content.left_out.push(LeftOut { name, why: why.to_string() });
            continue;
        }
        let is_folder = is_folder(archive, &numbers, folders);
        let stem = if is_folder { name.clone() } else { stem(&name).to_string() };
        let what = Where::Entries(numbers, if is_folder { folders + 1 } else { folders });
        content.submissions.push(Named { name, stem, what });
    }
    content
}

/// Entries by their name below so many folders.
fn group(archive: &Archive, numbers: &[usize], folders: usize) -> BTreeMap<String, Vec<usize>> {
    let mut groups: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for number in numbers {
        if let Some(name) = archive.entries.get(*number).and_then(|entry| entry.path.get(folders)) {
            groups.entry(name.clone()).or_default().push(*number);
        }
    }
    groups
}

fn usable(groups: &BTreeMap<String, Vec<usize>>) -> Vec<(&str, &[usize])> {
    groups
        .iter()
        .filter(|(name, _)| clutter(name).is_none())
        .map(|(name, numbers)| (name.as_str(), numbers.as_slice()))
        .collect()
}

/// Whether entries with the same name below so many folders are the content of a folder.
fn is_folder(archive: &Archive, numbers: &[usize], folders: usize) -> bool {
    numbers
        .iter()
        .filter_map(|number| archive.entries.get(*number))
        .any(|entry| entry.folder || entry.path.len() > folders + 1)
}

/// Whether a folder that is alone in a zip is that of a student.
fn names_student(name: &str, options: &IntakeOptions) -> bool {
    let by_pattern = options.pattern.as_ref().is_some_and(|pattern| pattern.find(name).is_some());
    let on_roster = options.roster.as_ref().is_some_and(|roster| {
        roster.members.iter().any(|member| {
            member.student == name
                || member.submission.as_ref().is_some_and(|pattern| pattern.find(name).is_some())
        })
    });
    by_pattern || on_roster
}

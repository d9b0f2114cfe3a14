//! What failed the last time, kept in a small file for people and for `--last-failed`.
//!
//! One procedure a line: file, title and program, separated by tabs. A run changes the lines of what it ran and keeps
//! the others, so that several runs of parts are together like one of the whole.

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

use super::{
    select::{self, Case},
    suite::Suite,
};
use crate::{exit::Failure, files};

/// The folder, in that which is worked in.
const FOLDER: &str = ".latchwork";

/// The file in it.
const FILE: &str = "last-failed";

/// Most bytes of it.
const BYTES_MAX: usize = 16 * 1024 * 1024;

const HEADING: &str = "\
# Procedures that did not pass when they last ran, for `latchwork test --last-failed`: file, title, program.
# This file may be deleted, and has no place in version control.
";

/// One line.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Entry {
    file: String,
    title: String,
    variant: String,
}

impl Entry {
    /// The line of a case.
    pub(super) fn of(suite: &Suite, case: Case) -> Self {
        Entry {
            file: suite.name(),
            title: select::title(suite, case).unwrap_or_default().to_owned(),
            variant: suite.variant(case.variant).to_owned(),
        }
    }

    fn line(&self) -> String {
        [&self.file, &self.title, &self.variant].map(|field| escaped(field)).join("\t")
    }

    fn read(line: &str) -> Option<Self> {
        let mut fields = line.split('\t').map(unescaped);
        Some(Entry {
            file: fields.next()?,
            title: fields.next()?,
            variant: fields.next().unwrap_or_default(),
        })
    }
}

/// What is between tabs must have none, nor the end of a line.
fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\").replace('\t', "\\t").replace('\n', "\\n").replace('\r', "\\r")
}

fn unescaped(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    let mut characters = text.chars();
    while let Some(character) = characters.next() {
        let escape = if character == '\\' { characters.next() } else { None };
        plain.push(match escape {
            Some('t') => '\t',
            Some('n') => '\n',
            Some('r') => '\r',
            Some(other) => other,
            None => character,
        });
    }
    plain
}

fn path() -> PathBuf {
    Path::new(FOLDER).join(FILE)
}

/// What failed the last time; nothing if there is no such file.
pub(super) fn read() -> Result<BTreeSet<Entry>, Failure> {
    let path = path();
    if !path.exists() {
        return Ok(BTreeSet::new());
    }
    let text = files::text_file(&path, BYTES_MAX, "this file")?;
    Ok(text.lines().filter(|line| !line.starts_with('#')).filter_map(Entry::read).collect())
}

/// Notes what became of the cases that ran. Without anything to note no file is made.
pub(super) fn write(passed: &BTreeSet<Entry>, failed: BTreeSet<Entry>) -> Result<(), Failure> {
    // What cannot be read is no reason to lose what is known now.
    let before = read().unwrap_or_default();
    let mut entries: BTreeSet<Entry> = before.difference(passed).cloned().collect();
    entries.extend(failed);
    if entries == before || (entries.is_empty() && !path().exists()) {
        return Ok(());
    }
    fs::create_dir_all(FOLDER)
        .map_err(|error| Failure::usage(format!("{FOLDER}: cannot make this folder: {error}")))?;
    let lines = entries.iter().map(|entry| entry.line() + "\n").collect::<String>();
    files::write(&path(), format!("{HEADING}{lines}").as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_title_comes_back() {
        let entry = Entry {
            file: "a\\t.steps".into(),
            title: "\tone\nline # \\n\r".into(),
            variant: "pump.st, blocks.st".into(),
        };
        let line = entry.line();
        assert!(!line.contains(['\n', '\r']) && line.matches('\t').count() == 2, "{line}");
        assert_eq!(Entry::read(&line), Some(entry));
        assert_eq!(Entry::read("no tab"), None);
    }
}

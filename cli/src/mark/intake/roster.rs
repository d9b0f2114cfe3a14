//! The roster of a class: a CSV file with a header.

use std::{
    collections::BTreeMap,
    fs::File,
    path::{Path, PathBuf},
};

use super::{
    disk,
    encoding::decode,
    limits::{ROSTER_BYTES_MAX, ROSTER_MEMBERS_MAX},
    pattern::Pattern,
};
use crate::{exit::Failure, files::cannot};

/// Who is in the class, in the order of the file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Roster {
    pub(super) members: Vec<RosterMember>,
    /// Where it was read.
    pub(super) path: Option<PathBuf>,
}

/// A member of the class.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct RosterMember {
    pub(super) student: String,
    pub(super) name: Option<String>,
    /// The name of what was handed in, where it does not follow from the id.
    pub(super) submission: Option<Pattern>,
}

impl Roster {
    /// Reads a roster: a header with the column `student` and perhaps `name` and `submission`, commas or semicolons between
    /// fields, and a line for each member.
    pub(crate) fn read(path: &Path) -> Result<Self, Failure> {
        let mut file = File::open(path).map_err(|error| cannot("read", path, &error))?;
        let piece = disk::read(&mut file, ROSTER_BYTES_MAX as u64, &mut 0)
            .map_err(|error| cannot("read", path, &error))?;
        let about = |what: &str| Failure::usage(format!("{}: {what}", path.display()));
        if !piece.whole {
            let limit = ROSTER_BYTES_MAX / 1024 / 1024;
            return Err(about(&format!("larger than {limit} MiB, the most a roster may have")));
        }
        let decoded = decode(&piece.bytes).map_err(about)?;
        let members = parse(&decoded.text).map_err(|what| about(&what))?;
        Ok(Roster { members, path: Some(path.to_path_buf()) })
    }
}

/// Reads the text of a roster; an error says what is wrong and in which line.
pub(super) fn parse(text: &str) -> Result<Vec<RosterMember>, String> {
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter(text))
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let header = reader.headers().map_err(|error| wrong(&error))?.clone();
    let column = |wanted: &str| header.iter().position(|name| name.eq_ignore_ascii_case(wanted));
    let Some(student_column) = column("student") else {
        return Err(
            "line 1: there is no column `student`; a roster begins with a line of names of columns, \
             like `student,name`"
                .into(),
        );
    };
    let (name_column, submission_column) = (column("name"), column("submission"));
    let mut members: Vec<RosterMember> = Vec::new();
    let mut lines: BTreeMap<String, u64> = BTreeMap::new();
    for record in reader.records() {
        let record = record.map_err(|error| wrong(&error))?;
        let line = record.position().map_or(0, csv::Position::line);
        if record.len() > header.len() {
            let (fields, columns) = (record.len(), header.len());
            return Err(format!(
                "line {line}: {fields} fields, but the header has {columns} columns; put a field with a separator in \
                 it between quotation marks"
            ));
        }
        if record.iter().any(|field| field.contains(['\n', '\r'])) {
            return Err(format!(
                "line {line}: a field goes on over the end of the line; a quotation mark in it is not closed"
            ));
        }
        let field = |column: Option<usize>| {
            column.and_then(|column| record.get(column)).filter(|text| !text.is_empty()).map(str::to_string)
        };
        let Some(student) = field(Some(student_column)) else {
            if record.iter().all(str::is_empty) {
                continue;
            }
            return Err(format!("line {line}: the field `student` is empty"));
        };
        if let Some(first) = lines.insert(student.clone(), line) {
            return Err(format!(
                "line {line}: `{student}` is in line {first} already; every student has one line"
            ));
        }
        let submission = field(submission_column)
            .map(|text| Pattern::of_submission(&text))
            .transpose()
            .map_err(|what| format!("line {line}: the field `submission`: {what}"))?;
        members.push(RosterMember { student, name: field(name_column), submission });
        if members.len() > ROSTER_MEMBERS_MAX {
            return Err(format!("line {line}: more than {ROSTER_MEMBERS_MAX} students"));
        }
    }
    if members.is_empty() {
        return Err("there is no student in it".into());
    }
    Ok(members)
}

/// The separator of the first line that is not between quotation marks.
fn delimiter(text: &str) -> u8 {
    let mut quoted = false;
    for sign in text.chars() {
        match sign {
            '"' => quoted = !quoted,
            ';' if !quoted => return b';',
            ',' if !quoted => return b',',
            '\n' if !quoted => break,
            _ => {}
        }
    }
    b','
}

fn wrong(error: &csv::Error) -> String {
    let line = error.position().map_or(1, csv::Position::line);
    format!("line {line}: not a line of a CSV file")
}

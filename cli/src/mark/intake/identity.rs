//! Whose each submission is.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    Gravity, Problem, Student,
    pattern::{Match, Pattern},
    roster::{Roster, RosterMember},
};

/// A name among the submissions, and what it is the name of.
#[derive(Debug)]
pub(super) struct Named<T> {
    /// The whole name.
    pub(super) name: String,
    /// Without the extension, where it is that of a file.
    pub(super) stem: String,
    pub(super) what: T,
}

/// A member of the class.
#[derive(Debug)]
pub(super) struct Identified<T> {
    pub(super) student: Student,
    /// What was handed in; nothing for those who are only on the roster.
    pub(super) what: Option<T>,
    /// What has to be told of this one.
    pub(super) problems: Vec<Problem>,
}

/// Somebody of the class on the way to an id of their own.
struct Row<T> {
    /// The row of the roster; behind all rows for those who are not on it.
    row: usize,
    student: Student,
    /// What was handed in, and its name.
    submission: Option<(String, T)>,
}

/// Finds the student of each submission, and puts the class in order: that of the roster, then, or without one, by the
/// bytes of the ids. A second submission of the same student follows the first, in the order of the names' bytes, under an
/// id with `(2)` behind it. The problems are those that concern the class.
pub(super) fn identify<T>(
    mut submissions: Vec<Named<T>>,
    pattern: Option<&Pattern>,
    roster: Option<&Roster>,
) -> (Vec<Identified<T>>, Vec<Problem>) {
    submissions.sort_by(|one, other| one.name.cmp(&other.name));
    let mut problems = Vec::new();
    let roster = roster.map(Members::of);
    let mut rows: Vec<Row<T>> = Vec::with_capacity(submissions.len());
    for Named { name, stem, what } in submissions {
        let fit = pattern.and_then(|pattern| fit(pattern, &stem, &name));
        if pattern.is_some() && fit.is_none() {
            let message = format!(
                "the name `{name}` does not fit the pattern of `--student`, so all of it is taken as the student's id"
            );
            problems.push(told("no-student", &name, message));
        }
        let Match { student, name: by_pattern } =
            fit.unwrap_or_else(|| Match { student: stem.clone(), name: None });
        let member = roster.as_ref().and_then(|roster| roster.find(&name, &stem, &student));
        let (row, student) = match member {
            Some((row, member)) => {
                (row, Student { id: member.student.clone(), name: member.name.clone().or(by_pattern) })
            }
            None => (usize::MAX, Student { id: student, name: by_pattern }),
        };
        if roster.is_some() && row == usize::MAX {
            let id = &student.id;
            let message = format!(
                "`{name}` was handed in by `{id}`, who is not on the roster; it is marked all the same"
            );
            problems.push(told("not-on-roster", &name, message));
        }
        rows.push(Row { row, student, submission: Some((name, what)) });
    }
    let handed_in: BTreeSet<usize> = rows.iter().map(|row| row.row).collect();
    for (row, member) in roster.iter().flat_map(|roster| roster.members.iter().enumerate()) {
        if !handed_in.contains(&row) {
            let student = Student { id: member.student.clone(), name: member.name.clone() };
            rows.push(Row { row, student, submission: None });
        }
    }
    // Stable, so that the submissions of one student stay in the order of their names.
    rows.sort_by(|one, other| (one.row, &one.student.id).cmp(&(other.row, &other.student.id)));
    (number(rows, &mut problems), problems)
}

/// Gives every submission an id of its own.
fn number<T>(rows: Vec<Row<T>>, problems: &mut Vec<Problem>) -> Vec<Identified<T>> {
    let mut names: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for Row { student, submission, .. } in &rows {
        let of_student = names.entry(student.id.clone()).or_default();
        of_student.extend(submission.as_ref().map(|(name, _)| name.clone()));
    }
    for (id, names) in names.iter().filter(|(_, names)| names.len() > 1) {
        problems.push(told("same-student", &names[0], same_student(id, names)));
    }
    problems.extend(similar_students(names.keys().map(String::as_str)));
    let mut taken: BTreeSet<String> = names.keys().cloned().collect();
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut identified = Vec::with_capacity(rows.len());
    for Row { student: Student { id: original, name }, submission, .. } in rows {
        let count = seen.entry(original.clone()).or_default();
        *count += 1;
        let mut id = original.clone();
        if *count > 1 {
            id = format!("{original} ({count})");
            while !taken.insert(id.clone()) {
                *count += 1;
                id = format!("{original} ({count})");
            }
        }
        let of_student = names.get(&original).map(Vec::as_slice).unwrap_or_default();
        let (file, what) = submission.map_or((None, None), |(name, what)| (Some(name), Some(what)));
        let problems = if of_student.len() > 1 {
            vec![told("same-student", &file.unwrap_or_default(), same_student(&original, of_student))]
        } else {
            Vec::new()
        };
        identified.push(Identified { student: Student { id, name }, what, problems });
    }
    identified
}

fn same_student(id: &str, names: &[String]) -> String {
    const TOLD: usize = 5;
    let mut list: Vec<String> = names.iter().take(TOLD).map(|name| format!("`{name}`")).collect();
    if names.len() > TOLD {
        list.push(format!("{} more", names.len() - TOLD));
    }
    format!("`{id}` handed in more than once: {}; each is marked by itself", list.join(", "))
}

/// Ids that differ in case alone may be two students, or one who wrote the name in two ways.
fn similar_students<'a>(ids: impl Iterator<Item = &'a str>) -> Vec<Problem> {
    let mut folded: Vec<(String, &str)> = ids.map(|id| (id.to_lowercase(), id)).collect();
    folded.sort_unstable();
    let pairs = folded.windows(2).filter(|pair| pair[0].0 == pair[1].0);
    pairs
        .map(|pair| {
            let (one, other) = (pair[0].1, pair[1].1);
            told(
                "similar-students",
                other,
                format!("`{one}` and `{other}` differ in case alone; they are taken for two students"),
            )
        })
        .collect()
}

fn told(name: &'static str, file: &str, message: String) -> Problem {
    Problem { severity: Gravity::Warning, name, file: Some(file.to_string()), message }
}

/// The id and the name in the name of a submission, which is given without and with its extension.
fn fit(pattern: &Pattern, stem: &str, name: &str) -> Option<Match> {
    let found = pattern.find(stem).or_else(|| pattern.find(name))?;
    (!found.student.trim().is_empty()).then_some(found)
}

/// The roster, made ready for looking up. Where several rows fit, the first counts.
struct Members<'a> {
    members: &'a [RosterMember],
    by_id: BTreeMap<&'a str, usize>,
    by_submission: BTreeMap<&'a str, usize>,
    patterns: Vec<(usize, &'a Pattern)>,
}

impl<'a> Members<'a> {
    fn of(roster: &'a Roster) -> Self {
        let members = roster.members.as_slice();
        let mut rows =
            Members { members, by_id: BTreeMap::new(), by_submission: BTreeMap::new(), patterns: Vec::new() };
        for (row, member) in members.iter().enumerate() {
            rows.by_id.entry(&member.student).or_insert(row);
            match member.submission.as_ref().map(|pattern| (pattern, pattern.only_name())) {
                Some((_, Some(name))) => {
                    rows.by_submission.entry(name).or_insert(row);
                }
                Some((pattern, None)) => rows.patterns.push((row, pattern)),
                None => {}
            }
        }
        rows
    }

    /// The member whose field `submission` is this name, or fits it; otherwise the one with this id.
    fn find(&self, name: &str, stem: &str, id: &str) -> Option<(usize, &'a RosterMember)> {
        let exact = self.by_submission.get(name).or_else(|| self.by_submission.get(stem));
        let fits = |pattern: &Pattern| pattern.find(name).is_some() || pattern.find(stem).is_some();
        let row = exact
            .copied()
            .or_else(|| self.patterns.iter().find(|(_, pattern)| fits(pattern)).map(|(row, _)| *row))
            .or_else(|| self.by_id.get(id).or_else(|| self.by_id.get(id.trim())).copied())?;
        Some((row, self.members.get(row)?))
    }
}

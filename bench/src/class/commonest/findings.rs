//! Findings by their names.

use std::collections::BTreeMap;

use crate::marking::{Finding, FindingKind, Gravity, Marked, Student};

/// What was found in several submissions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CommonFinding {
    /// Where it comes from.
    pub kind: FindingKind,
    /// Its stable name.
    pub name: String,
    /// How grave it is where it was found first.
    pub severity: Gravity,
    /// How often it was found.
    pub count: u64,
    /// How many students have it.
    pub students: u64,
    /// The first one, as an example.
    pub example: Example,
}

/// A finding as it stood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Example {
    /// Whose it is.
    pub student: Student,
    /// The message.
    pub message: String,
    /// The file.
    pub file: Option<String>,
    /// The line, from 1.
    pub line: Option<u32>,
}

/// Findings being counted. Their names come from the catalogues of this program, so there are only so many.
#[derive(Clone, Debug, Default)]
pub(in crate::class) struct Findings {
    by_name: BTreeMap<(u8, String), CommonFinding>,
}

impl Findings {
    /// Counts those of a student. Defects of this program are nobody's findings.
    pub(in crate::class) fn add(&mut self, marked: &Marked) {
        let mut own: BTreeMap<(u8, &str), (&Finding, u64)> = BTreeMap::new();
        for finding in marked.findings.iter().filter(|it| it.kind != FindingKind::Internal) {
            own.entry((place(finding.kind), &finding.name)).or_insert((finding, 0)).1 += 1;
        }
        for ((kind, name), (finding, count)) in own {
            let known = self.by_name.entry((kind, name.to_owned())).or_insert_with(|| CommonFinding {
                kind: finding.kind,
                name: name.to_owned(),
                severity: finding.severity,
                count: 0,
                students: 0,
                example: Example {
                    student: marked.student.clone(),
                    message: finding.message.clone(),
                    file: finding.file.clone(),
                    line: finding.line,
                },
            });
            known.count += count;
            known.students += 1;
        }
    }

    /// All of them: those that most students have first, then the more frequent, then by name.
    pub(in crate::class) fn finish(self) -> Vec<CommonFinding> {
        // Sorting keeps the order of kinds and names among equals.
        let mut findings: Vec<CommonFinding> = self.by_name.into_values().collect();
        findings.sort_by_key(|it| std::cmp::Reverse((it.students, it.count)));
        findings
    }
}

/// The order in which a submission is looked at.
const fn place(kind: FindingKind) -> u8 {
    match kind {
        FindingKind::Intake => 0,
        FindingKind::Budget => 1,
        FindingKind::Compile => 2,
        FindingKind::Interface => 3,
        FindingKind::Constraint => 4,
        FindingKind::Internal => 5,
    }
}

//! A class: from the records of many submissions to the gradebook, the judgement of the exercise by its results, the page
//! of the class and the documents that other programs read.
//!
//! A [`Class`] takes one [`Marked`] after the other and keeps of each only what the whole needs ([`Member`] and counts): no
//! messages, sources or excerpts. Whatever tells every student at length ([`gradebook`], [`results_json`], [`junit`]) is
//! written student by student. So ten thousand students take some megabytes, whatever they handed in.

pub mod commonest;
pub mod gradebook;
pub mod junit;
mod names;
pub mod page;
pub mod results_json;
pub mod statistics;
pub mod summary;

use std::fmt;

use self::{
    commonest::{CommonDivergence, CommonFinding, Divergences, Findings},
    statistics::Statistics,
};
use crate::marking::{ItemVerdict, Marked, MarkingScheme, Points, State, Student};

/// Most students of one class.
pub const STUDENTS_MAX: usize = 100_000;

/// Most items of the exercise of a class.
pub const ITEMS_MAX: usize = 10_000;

/// Fewer students than these give figures that the next class will not confirm.
pub const STEADY_STUDENTS: usize = 30;

/// A class being put together.
#[derive(Clone, Debug)]
pub struct Class {
    scheme: MarkingScheme,
    members: Vec<Member>,
    findings: Findings,
    divergences: Divergences,
}

/// What is kept of a student.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    /// Who it is.
    pub student: Student,
    /// How far the submission came.
    pub state: State,
    /// Verdict and points of each item of the scheme.
    pub items: Vec<(ItemVerdict, Points)>,
    /// Taken off.
    pub deducted: Points,
    /// What it earned.
    pub total: Points,
    /// Name of the first error that was found, such as `type-mismatch`.
    pub first_error: Option<String>,
}

impl Member {
    /// Whether fewer than half of the points were earned; nobody does of nothing.
    pub fn is_below_half(&self, out_of: Points) -> bool {
        self.total.hundredths().saturating_mul(2) < out_of.hundredths()
    }
}

/// A class with everything that is known of it as a whole.
#[derive(Clone, Debug)]
pub struct ClassResults {
    /// What was asked.
    pub scheme: MarkingScheme,
    /// The students in the order in which they were added.
    pub members: Vec<Member>,
    /// The exercise judged by its results.
    pub statistics: Statistics,
    /// What was found most often, the commonest first.
    pub findings: Vec<CommonFinding>,
    /// For each item the first moments of divergence, the commonest first.
    pub divergences: Vec<Vec<CommonDivergence>>,
}

/// Why a record is not taken into a class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotTaken {
    /// There are [`STUDENTS_MAX`] already.
    TooMany,
    /// The exercise has more than [`ITEMS_MAX`] items.
    TooManyItems,
    /// It has results of another number of items than the exercise has.
    OtherItems {
        /// Those of the record.
        found: usize,
        /// Those of the exercise.
        expected: usize,
    },
}

impl fmt::Display for NotTaken {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NotTaken::TooMany => write!(
                formatter,
                "a class has at most {STUDENTS_MAX} students; mark the submissions in several classes"
            ),
            NotTaken::TooManyItems => write!(
                formatter,
                "an exercise for a class has at most {ITEMS_MAX} items; put some of its procedures together"
            ),
            NotTaken::OtherItems { found, expected } => write!(
                formatter,
                "the record has results of {found} items, but the exercise has {expected}: it was marked with another \
                 state of the exercise and must be marked again"
            ),
        }
    }
}

impl std::error::Error for NotTaken {}

impl Class {
    /// Nobody in it yet.
    pub fn new(scheme: &MarkingScheme) -> Self {
        Class {
            scheme: scheme.clone(),
            members: Vec::new(),
            findings: Findings::default(),
            divergences: Divergences::new(scheme.items.len()),
        }
    }

    /// Adds a student.
    ///
    /// # Errors
    /// If there are too many, or the record is of another exercise. Then nothing of it is taken.
    pub fn add(&mut self, marked: &Marked) -> Result<(), NotTaken> {
        if self.members.len() >= STUDENTS_MAX {
            return Err(NotTaken::TooMany);
        }
        let (found, expected) = (marked.items.len(), self.scheme.items.len());
        if found != expected {
            return Err(NotTaken::OtherItems { found, expected });
        }
        if expected > ITEMS_MAX {
            return Err(NotTaken::TooManyItems);
        }
        self.findings.add(marked);
        self.divergences.add(marked);
        self.members.push(Member {
            student: marked.student.clone(),
            state: marked.state,
            items: marked.items.iter().map(|item| (item.verdict, item.points)).collect(),
            deducted: marked.deducted,
            total: marked.total,
            first_error: commonest::first_error(marked).map(|finding| finding.name.clone()),
        });
        Ok(())
    }

    /// Everything about the class as a whole.
    pub fn finish(self) -> ClassResults {
        let statistics = Statistics::of(&self.scheme, &self.members);
        ClassResults {
            scheme: self.scheme,
            members: self.members,
            statistics,
            findings: self.findings.finish(),
            divergences: self.divergences.finish(),
        }
    }
}

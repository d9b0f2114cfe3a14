//! One submission, from reading it to its pages.

use std::{
    any::Any,
    panic::{AssertUnwindSafe, catch_unwind},
    path::PathBuf,
};

use latchwork_bench::{
    alike::{Demanded, Fingerprints, Handed, fingerprints},
    marking::{
        Evidence, ExerciseTexts, Finding, FindingKind, Gravity, ItemEvidence, Marked, MarkedFile, Marker,
        State, Student, Submitted, feedback,
    },
};
use sha2::{Digest, Sha256};

use super::{
    folder::pages,
    intake::{self, Class, Outcome, Submission, file_slug},
    log::{At, Entry},
};
use crate::{exit::Failure, files};

/// All that marking needs.
pub(super) struct Work<'w> {
    pub(super) marker: &'w Marker<'w>,
    pub(super) texts: ExerciseTexts<'w>,
    pub(super) demanded: &'w [Demanded],
    pub(super) class: &'w Class,
    /// Where the pages go.
    pub(super) feedback: PathBuf,
}

/// What became of a submission.
pub(super) enum Done {
    /// It was marked before and has not changed.
    Kept(At),
    /// It was marked.
    Marked(Box<Entry>),
    /// Its pages could not be written.
    Failed(Failure),
}

impl Work<'_> {
    /// Marks the submission at a place, unless `known` finds its key and its pages are there.
    pub(super) fn mark(&self, place: usize, known: impl Fn(&str) -> Option<At>) -> Done {
        let Some(student) = self.class.student(place) else {
            return Done::Failed(Failure::internal("a submission that is not there"));
        };
        let submission = match isolated(student, self.marker, || self.class.read(place)) {
            Ok(Some(submission)) => submission,
            Ok(None) => return Done::Failed(Failure::internal("a submission that is not there")),
            Err(marked) => {
                let handed = Handed { student: student.id.clone(), texts: Vec::new() };
                return self.faulty(place, key(student, "unread"), handed, *marked);
            }
        };
        let key = key(student, &submission.digest);
        let is_kept = |page: &PathBuf| page.exists();
        if let Some(at) = known(&key)
            && pages(&self.feedback, &file_slug(&student.id)).iter().all(is_kept)
        {
            return Done::Kept(at);
        }
        let handed = handed(&submission);
        let made = isolated(student, self.marker, || {
            let (marked, evidence) = self.marker.mark(submitted(submission));
            let fingerprints = fingerprints(&handed, self.demanded);
            let pages = self.told(&marked, &evidence);
            (marked, fingerprints, pages)
        });
        match made {
            Ok((marked, fingerprints, pages)) => self.done(place, key, handed, marked, fingerprints, pages),
            Err(marked) => self.faulty(place, key, handed, *marked),
        }
    }

    /// The pages of a student: HTML and Markdown.
    fn told(&self, marked: &Marked, evidence: &Evidence) -> [String; 2] {
        [feedback::html(&self.texts, marked, evidence), feedback::markdown(&self.texts, marked, evidence)]
    }

    /// A submission with which a defect of this program showed.
    fn faulty(&self, place: usize, key: String, handed: Handed, marked: Marked) -> Done {
        let items = vec![ItemEvidence::default(); marked.items.len()];
        let pages = self.told(&marked, &Evidence { items, ..Evidence::default() });
        self.done(place, key, handed, marked, Fingerprints::default(), pages)
    }

    /// Writes the pages of a submission that is marked.
    fn done(
        &self,
        place: usize,
        key: String,
        handed: Handed,
        marked: Marked,
        fingerprints: Fingerprints,
        texts: [String; 2],
    ) -> Done {
        let slug = file_slug(&marked.student.id);
        for (page, text) in pages(&self.feedback, &slug).iter().zip(texts) {
            if let Err(failure) = files::write(page, text.as_bytes()) {
                return Done::Failed(failure);
            }
        }
        let members = self.class.len();
        let texts = handed.texts;
        Done::Marked(Box::new(Entry { place, members, key, slug, marked, fingerprints, texts }))
    }
}

/// Does the work on a submission. If a defect of this program shows, it ends this work alone: the mark then says that
/// there is none.
fn isolated<T>(student: &Student, marker: &Marker<'_>, work: impl FnOnce() -> T) -> Result<T, Box<Marked>> {
    catch_unwind(AssertUnwindSafe(work)).map_err(|panic| {
        let message = format!("a defect of latchwork showed with this submission: {}", said(panic.as_ref()));
        let finding = Finding::without_place(FindingKind::Internal, "internal", Gravity::Error, message);
        let state = Some(State::InternalFault);
        let files = Vec::new();
        Box::new(marker.mark(Submitted { student: student.clone(), files, findings: vec![finding], state }).0)
    })
}

fn said(panic: &(dyn Any + Send)) -> &str {
    panic
        .downcast_ref::<&str>()
        .copied()
        .or_else(|| panic.downcast_ref::<String>().map(String::as_str))
        .unwrap_or("no further information")
}

/// The digest of all that a result depends on besides the exercise; `digest` is that of what was handed in.
fn key(student: &Student, digest: &str) -> String {
    let mut hasher = Sha256::new();
    let name = student.name.as_deref();
    for part in [student.id.as_str(), name.unwrap_or_default(), digest] {
        hasher.update((part.len() as u64).to_le_bytes());
        hasher.update(part);
    }
    hasher.update([u8::from(name.is_some())]);
    hasher.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

fn handed(submission: &Submission) -> Handed {
    let texts = submission.files.iter().map(|file| (file.name.clone(), file.text.clone()));
    Handed { student: submission.student.id.clone(), texts: texts.collect() }
}

fn submitted(submission: Submission) -> Submitted {
    let findings = submission.problems.iter().map(finding).collect();
    let state = match submission.outcome {
        Outcome::Read => None,
        Outcome::NoProgram => Some(State::Empty),
        Outcome::NothingHandedIn => Some(State::NothingHandedIn),
        Outcome::OverBudget => Some(State::OverBudget),
        Outcome::Unreadable => Some(State::Unreadable),
    };
    let read = submission.files.into_iter().map(|file| {
        let encoding = Some(file.encoding.name().to_owned());
        (MarkedFile { name: file.name, bytes: file.bytes, lines: 0, encoding }, Some(file.text))
    });
    let left_out = submission
        .left_out
        .into_iter()
        .map(|file| (MarkedFile { name: file.name, bytes: 0, lines: 0, encoding: None }, None));
    Submitted { student: submission.student, files: read.chain(left_out).collect(), findings, state }
}

fn finding(problem: &intake::Problem) -> Finding {
    let message = problem.message.clone();
    let file = problem.file.clone();
    Finding { file, ..Finding::without_place(FindingKind::Intake, problem.name, problem.severity, message) }
}

#[cfg(test)]
mod tests {
    use latchwork_tests::class::exercise::SampleExercise;

    use super::*;

    #[test]
    fn a_defect_of_this_program_ends_the_work_on_one_submission_alone() {
        let exercise = SampleExercise::read().unwrap();
        let marker = exercise.marker().unwrap();
        let student = Student { id: "s1".to_owned(), name: None };
        let marked = isolated::<()>(&student, &marker, || panic!("the float is stuck")).unwrap_err();
        assert_eq!(marked.state, State::InternalFault);
        assert_eq!(marked.student, student);
        assert_eq!(marked.items.len(), marker.scheme().items.len());
        let finding = marked.findings.first().unwrap();
        assert!(finding.message.contains("the float is stuck"), "{}", finding.message);
        // The same marker goes on as if nothing had been.
        assert_eq!(isolated(&student, &marker, || 7).unwrap(), 7);
    }
}

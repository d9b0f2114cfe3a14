//! What is written of a class when all of it is marked, from the log alone and in its order.

use std::{collections::BTreeSet, path::Path};

use latchwork_bench::{
    alike::{self, CompareOptions, Handed},
    class::{
        Class, ClassResults, gradebook::GradebookWriter, junit::JunitWriter, page,
        results_json::ResultsWriter, summary,
    },
    marking::{Marked, State, Student},
};

use super::{
    folder,
    intake::file_slug,
    log::{At, Header, Log},
};
use crate::{
    exit::Failure,
    files::{self, Output},
};

/// Most students in the table for the terminal; all of them stand in the gradebook.
const LISTED_MAX: usize = 40;

/// What is told of a class at the end.
pub(super) struct Summary {
    /// Submissions marked.
    pub(super) students: u64,
    /// With which a defect of this program showed.
    pub(super) internal: u64,
    results: ClassResults,
    /// What is alike, in a few lines; empty for a share.
    alike: String,
}

impl Summary {
    /// For the terminal.
    pub(super) fn table(&self, width: usize) -> String {
        format!("{}\n{}", summary::summary(&self.results, width, LISTED_MAX), self.alike)
    }

    /// Whether somebody has less than so many per cent of the points.
    pub(super) fn below(&self, percent: u8) -> bool {
        let least = i128::from(self.results.scheme.out_of.hundredths()) * i128::from(percent);
        self.results.members.iter().any(|member| i128::from(member.total.hundredths()) * 100 < least)
    }
}

/// The names of pages of some records.
pub(super) fn slugs(log: &Log, records: &[At]) -> Result<BTreeSet<String>, Failure> {
    records.iter().map(|at| log.read(*at).map(|entry| entry.slug)).collect()
}

/// Sums up without writing anything.
pub(super) fn summary(header: &Header, log: &Log, order: &[At]) -> Result<Summary, Failure> {
    let mut class = Class::new(&header.scheme);
    for at in order {
        add(&mut class, &log.read(*at)?.marked)?;
    }
    Ok(told(class.finish(), String::new()))
}

fn add(class: &mut Class, marked: &Marked) -> Result<(), Failure> {
    class.add(marked).map_err(|reason| Failure::usage(reason.to_string()))
}

fn told(results: ClassResults, alike: String) -> Summary {
    let students = results.members.len() as u64;
    let internal =
        results.members.iter().filter(|member| member.state == State::InternalFault).count() as u64;
    Summary { students, internal, results, alike }
}

/// Writes everything that is told of a class.
pub(super) fn write(out: &Path, header: &Header, log: &Log, order: &[At]) -> Result<Summary, Failure> {
    let scheme = &header.scheme;
    let mut class = Class::new(scheme);
    let mut fingerprints = Vec::with_capacity(order.len());
    let mut gradebook = Output::begin(&out.join(folder::GRADEBOOK))?;
    let mut document = Output::begin(&out.join(folder::DOCUMENT))?;
    let mut junit = Output::begin(&out.join(folder::JUNIT))?;
    // What goes wrong with an output is kept by it and told when it is finished.
    let mut rows = GradebookWriter::begin(scheme, &mut gradebook).ok();
    let mut entries = ResultsWriter::begin(scheme, &mut document).ok();
    let mut suites = JunitWriter::begin(scheme, &mut junit).ok();
    for at in order {
        let entry = log.read(*at)?;
        let marked = &entry.marked;
        add(&mut class, marked)?;
        let _ = rows.as_mut().map(|rows| rows.student(marked, &mut gradebook));
        let _ = entries.as_mut().map(|entries| entries.student(marked, &mut document));
        let _ = suites.as_mut().map(|suites| suites.student(marked, &mut junit));
        fingerprints.push(entry.fingerprints);
    }
    let results = class.finish();
    let _ = entries.map(|entries| entries.finish(&results, true, &mut document));
    let _ = suites.map(|suites| suites.finish(&mut junit));
    gradebook.finish()?;
    document.finish()?;
    junit.finish()?;
    let own = |student: &Student| Some(format!("{}/{}.html", folder::FEEDBACK, file_slug(&student.id)));
    files::write(&out.join(folder::CLASS), page::page(&results, &own).as_bytes())?;
    let comparison = alike::compare(&fingerprints, header.skeleton.as_ref(), &CompareOptions::default());
    let text = |index: usize| handed(log, order, index);
    let page = alike::page(&scheme.title, &fingerprints, &comparison, &text);
    files::write(&out.join(folder::ALIKE), page.as_bytes())?;
    Ok(told(results, alike::summary(&fingerprints, &comparison)))
}

/// The texts of a submission, for whoever shows pairs.
fn handed(log: &Log, order: &[At], index: usize) -> Option<Handed> {
    let entry = log.read(*order.get(index)?).ok()?;
    Some(Handed { student: entry.marked.student.id, texts: entry.texts })
}

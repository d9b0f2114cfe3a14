//! The comparisons of a procedure with recorded traces: what they need before a run, and what is found behind it.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, FileId, Names, Severity, Sources, Span,
    steps::tree::{Comparison, Procedure},
};
use latchwork_vm::{ElementaryType, Program, Value};

use super::outcome::{Departed, FailureKind};
use crate::{
    comparison::{CompareError, Expected, Rules, Subject, approved},
    recording::Recording,
    station::Station,
    stimulus::cell::{self, CellType},
};

/// The texts of the traces that the procedures of a file name, read by whoever reads files.
#[derive(Clone, Debug, Default)]
pub struct Traces {
    files: BTreeMap<Span, TraceFile>,
}

/// The trace of one comparison.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TraceFile {
    /// Its text is among the sources of the script.
    Read(FileId),
    /// There is no approved trace yet; it would be at this path.
    NotApproved(String),
}

impl Traces {
    /// Notes the trace of a comparison.
    pub fn insert(&mut self, comparison: &Comparison, file: TraceFile) {
        self.files.insert(comparison.span, file);
    }
}

/// A comparison that is ready.
pub(super) struct Followed {
    span: Span,
    subjects: Vec<Subject>,
    rules: Rules,
    trace: Trace,
}

enum Trace {
    Expected(Box<Expected>),
    /// With the path at which it would be.
    NotApproved(String),
    /// It will be the approved one.
    ToApprove,
}

/// What a procedure is compared with.
pub(super) struct Comparisons<'s> {
    pub(super) program: &'s Program,
    pub(super) station: Option<&'s Station>,
    pub(super) sources: &'s Sources,
    pub(super) traces: &'s Traces,
    /// Whether approved traces are to be written.
    pub(super) approve: bool,
}

impl Comparisons<'_> {
    /// Reads the traces of a procedure.
    pub(super) fn ready(&self, procedure: &Procedure) -> Result<Vec<Followed>, Vec<Diagnostic>> {
        let mut ready = Vec::new();
        let mut found = Vec::new();
        for comparison in &procedure.comparisons {
            let subjects = self.subjects(comparison, &mut found);
            let rules = self.rules(comparison, &mut found);
            let trace = match self.traces.files.get(&comparison.span) {
                _ if self.approve && comparison.file.is_none() => Some(Trace::ToApprove),
                Some(TraceFile::Read(file)) => {
                    let text = &self.sources.file(*file).text;
                    let (expected, problems) = Expected::read(*file, text, &subjects);
                    found.extend(problems);
                    expected.map(|expected| Trace::Expected(Box::new(expected)))
                }
                Some(TraceFile::NotApproved(path)) => Some(Trace::NotApproved(path.clone())),
                None => Some(Trace::NotApproved(String::new())),
            };
            if let Some(trace) = trace {
                ready.push(Followed { span: comparison.span, subjects, rules, trace });
            }
        }
        let failed = found.iter().any(|problem| problem.severity == Severity::Error);
        if failed { Err(found) } else { Ok(ready) }
    }

    fn subjects(&self, comparison: &Comparison, found: &mut Vec<Diagnostic>) -> Vec<Subject> {
        let mut subjects = Vec::new();
        for name in &comparison.names {
            let text = self.sources.text(name.span);
            match Subject::find(text, self.program, self.station) {
                Ok(subject) => subjects.push(subject),
                Err(error) => {
                    found.push(Diagnostic::error(error.name, name.span, error.message).label(error.remedy))
                }
            }
        }
        subjects
    }

    fn rules(&self, comparison: &Comparison, found: &mut Vec<Diagnostic>) -> Rules {
        let mut rules =
            Rules { shift_ns: comparison.shift.map_or(0, |shift| shift.nanoseconds), ..Rules::default() };
        let Some(tolerance) = &comparison.tolerance else { return rules };
        let text = self.sources.text(tolerance.span);
        let constant = |kind| cell::read(text, &CellType::Elementary(kind), &mut Names::new()).ok();
        let number = constant(ElementaryType::Lreal).or_else(|| constant(ElementaryType::Ltime));
        match number {
            Some(Value::Lreal(number)) if number >= 0.0 => rules.tolerance = number,
            Some(Value::Duration(nanoseconds, _)) if nanoseconds >= 0 => {
                rules.duration_tolerance_ns = nanoseconds;
            }
            _ => {
                let message = "the tolerance of a comparison is neither a number nor a duration";
                found.push(
                    Diagnostic::error("trace-tolerance", tolerance.span, message)
                        .label("write a number such as 0.5, or T#20ms for durations"),
                );
            }
        }
        rules
    }
}

/// The first departure of a run from its traces.
pub(super) struct Parted {
    /// The comparison.
    pub(super) span: Span,
    pub(super) kind: FailureKind,
    /// In nanoseconds of the run.
    pub(super) time_ns: i64,
    pub(super) scan: u32,
}

/// Compares a run, which began behind what prepares it, with the traces; the earliest departure.
pub(super) fn compare(followed: &[Followed], recording: &Recording, started_ns: i64) -> Option<Parted> {
    let mut first: Option<Parted> = None;
    for one in followed {
        let rules = Rules { from_ns: started_ns, ..one.rules };
        let parted = match &one.trace {
            Trace::ToApprove => None,
            Trace::NotApproved(path) => {
                Some(at_end(one, recording, FailureKind::NotApproved { path: path.clone() }))
            }
            Trace::Expected(expected) => match expected.compare(recording, &rules) {
                Ok(comparison) => comparison
                    .first()
                    .map(|(_, departure)| (departure.time_ns, departure.scan))
                    .map(|(time_ns, scan)| Parted {
                        span: one.span,
                        time_ns,
                        scan,
                        kind: FailureKind::Trace(Box::new(Departed {
                            expected: (**expected).clone(),
                            comparison,
                        })),
                    }),
                Err(error) => Some(at_end(one, recording, not_compared(&error))),
            },
        };
        if let Some(parted) = parted
            && first.as_ref().is_none_or(|first| parted.time_ns < first.time_ns)
        {
            first = Some(parted);
        }
    }
    first
}

/// Something that is only told when the run is over.
fn at_end(followed: &Followed, recording: &Recording, kind: FailureKind) -> Parted {
    let scan = u32::try_from(recording.scans.len()).unwrap_or(u32::MAX).saturating_sub(1);
    let time_ns = recording.scans.last().map_or(0, |scan| scan.time_ns);
    Parted { span: followed.span, kind, time_ns, scan }
}

fn not_compared(error: &CompareError) -> FailureKind {
    FailureKind::NotCompared { reason: error.to_string() }
}

/// The trace to be approved, if a comparison of the procedure needs one.
pub(super) fn to_approve(
    followed: &[Followed],
    recording: &Recording,
    started_ns: i64,
    title: &str,
) -> Option<String> {
    let one = followed.iter().find(|one| matches!(one.trace, Trace::ToApprove))?;
    Some(approved(recording, &one.subjects, started_ns, title))
}

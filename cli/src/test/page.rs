//! Results as a page to read.

use latchwork_bench::{
    coverage::Report,
    diagram::{counted, scale::time_text},
    report::{self, Fact, FileVerdicts, ProcedureVerdict, SessionParts, VerdictWord},
};

use super::{
    case::{Told, Verdict},
    select::{self, Case},
    suite::Suite,
    tally::{Tally, points_text},
};
use crate::{program, report::version};

/// A page being made.
#[derive(Default)]
pub(super) struct Page {
    /// The suite of the last file.
    suite: Option<usize>,
    files: Vec<FileVerdicts>,
    programs: Vec<String>,
    stations: Vec<String>,
    scans: u64,
    simulated_ns: i64,
}

impl Page {
    /// Adds a case.
    pub(super) fn case(&mut self, suite: &Suite, case: Case, told: &mut Told) {
        if self.suite != Some(case.suite) {
            self.suite = Some(case.suite);
            self.files.push(FileVerdicts { name: suite.name(), procedures: Vec::new() });
            if let Some(station) = &suite.station {
                note(&mut self.stations, station.inputs.first().map(|path| program::name(path)));
            }
        }
        note(&mut self.programs, suite.variants.get(case.variant).map(|it| program::names(&it.paths)));
        self.scans += told.scans;
        self.simulated_ns = self.simulated_ns.saturating_add(told.end_ns);
        let title = select::title(suite, case).unwrap_or_default();
        let title = if suite.has_variants() {
            format!("{title} ({})", suite.variant(case.variant))
        } else {
            title.to_owned()
        };
        let (message, text, picture) = match told.reason.as_mut() {
            Some(reason) => {
                let (text, picture) = reason.page.take().unwrap_or_default();
                (reason.message.clone(), text, picture)
            }
            None => Default::default(),
        };
        let verdict = ProcedureVerdict {
            title,
            verdict: word(told.verdict),
            remarks: remarks(told),
            message,
            text,
            picture,
        };
        if let Some(file) = self.files.last_mut() {
            file.procedures.push(verdict);
        }
    }

    /// The page.
    pub(super) fn finish(&self, tally: &Tally, complete: bool, coverage: Option<&Report>) -> String {
        let counts = [
            (tally.passed, VerdictWord::Passed),
            (tally.failed, VerdictWord::Failed),
            (tally.refused, VerdictWord::Refused),
            (tally.not_run, VerdictWord::NotRun),
        ];
        let counts: Vec<String> = counts
            .iter()
            .filter(|(count, _)| *count > 0)
            .map(|(count, word)| format!("{count} {}", word.word()))
            .collect();
        let summary = format!(
            "{}: {}; {} of {} points",
            counted(tally.procedures() as u64, "procedure"),
            counts.join(", "),
            points_text(tally.points_reached),
            points_text(tally.points)
        );
        let fact = |term, text| Fact { term, text };
        let named = |names: &[String]| if names.is_empty() { "none".to_owned() } else { names.join(", ") };
        let facts = [
            fact("Programs", named(&self.programs)),
            fact("Stations", named(&self.stations)),
            fact(
                "Time",
                format!(
                    "{} of all procedures together, {}",
                    time_text(self.simulated_ns),
                    counted(self.scans, "scan")
                ),
            ),
            version(),
        ];
        report::session(&SessionParts {
            files: &self.files,
            summary: &summary,
            complete,
            coverage,
            facts: &facts,
        })
    }
}

fn note(names: &mut Vec<String>, name: Option<String>) {
    names.extend(name.filter(|name| !names.contains(name)));
}

fn word(verdict: Verdict) -> VerdictWord {
    match verdict {
        Verdict::Passed => VerdictWord::Passed,
        Verdict::Failed => VerdictWord::Failed,
        Verdict::Refused => VerdictWord::Refused,
        Verdict::NotRun => VerdictWord::NotRun,
    }
}

fn remarks(told: &Told) -> String {
    let mut remarks = Vec::new();
    if told.points > 0.0 {
        remarks.push(format!(
            "{} {}",
            points_text(told.points),
            if told.points == 1.0 { "point" } else { "points" }
        ));
    }
    if told.scans > 0 {
        remarks.push(time_text(told.end_ns));
    }
    if told.events > 0 {
        remarks.push(counted(told.events, "event"));
    }
    remarks.join(", ")
}

//! One procedure on one program: run, and told in the forms that are asked for. Nothing else of the run is kept, so
//! that thousands of procedures need no more memory than their results.

use std::{
    sync::{Arc, atomic::AtomicBool},
    time::{Duration, Instant},
};

use latchwork_bench::{
    procedure::{
        Failure, Outcome, RunOptions, Verdict as Ended,
        report::{self, ReportOptions, ReportSources},
    },
    report::{Evidence, Picture},
};
use latchwork_compiler::{logic::Logic, render};
use latchwork_grammar::{Diagnostic, Sources};
use latchwork_vm::CoverageLog;
use serde_json::Value;

use super::{
    json,
    program::Compiled,
    select::Case,
    suite::{Refusal, Scripts, Suite},
};
use crate::arguments::LanguageArguments;

/// Width of the diagrams in reports for tools.
const REPORT_COLUMNS: usize = 100;

/// What became of a case.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Verdict {
    /// As expected.
    Passed,
    /// Not as expected.
    Failed,
    /// It cannot be run as it stands.
    Refused,
    /// The run ended before.
    NotRun,
}

/// A case that is done with.
#[derive(Debug)]
pub(super) struct Told {
    pub(super) verdict: Verdict,
    /// What it is worth.
    pub(super) points: f64,
    pub(super) scans: u64,
    /// Simulated time at its end, in nanoseconds.
    pub(super) end_ns: i64,
    /// Events of the program.
    pub(super) events: u64,
    /// Time it took here.
    pub(super) took: Duration,
    /// Why it did not pass.
    pub(super) reason: Option<Reason>,
    /// What is questionable about it, for people; empty if that is not asked for.
    pub(super) warnings: String,
    /// What of the program it has run, if coverage is measured.
    pub(super) coverage: Option<CoverageLog>,
    /// The trace to be approved.
    pub(super) approved: Option<String>,
}

/// Why a case did not pass.
#[derive(Debug)]
pub(super) struct Reason {
    /// Stable name.
    pub(super) name: String,
    /// One line.
    pub(super) message: String,
    /// It is refused because the program is wrong, not because the procedure is.
    pub(super) of_program: bool,
    /// For the terminal; empty if it is told once for the whole file.
    pub(super) shown: String,
    /// For reports, without colour; empty if there are none.
    pub(super) plain: String,
    /// For a JSON report.
    pub(super) json: Option<Value>,
    /// For a page: without colour, and the rows concerned apart from the text.
    pub(super) page: Option<(String, Option<Picture>)>,
}

/// In which forms cases are told.
#[derive(Clone, Copy, Debug)]
pub(super) struct Forms {
    /// On the terminal; `None` if it gets something else.
    pub(super) shown: Option<ReportOptions>,
    /// As text in a report.
    pub(super) plain: bool,
    /// In a JSON report.
    pub(super) json: bool,
    /// On a page, which has pictures.
    pub(super) page: bool,
    /// Whether warnings are told, and if so in colour.
    pub(super) warnings: Option<bool>,
}

/// The suites of a run with what is made of them on the way.
pub(super) struct Work<'s> {
    pub(super) suites: &'s [Suite],
    pub(super) scripts: Vec<Scripts<'s>>,
    pub(super) language: LanguageArguments,
    pub(super) forms: Forms,
    /// Whether traces are approved instead of followed.
    pub(super) approve: bool,
    /// Set when nobody waits for a result any more.
    pub(super) halt: Arc<AtomicBool>,
}

impl<'s> Work<'s> {
    /// Nothing done yet.
    pub(super) fn new(suites: &'s [Suite], language: LanguageArguments, forms: Forms) -> Self {
        let scripts = suites.iter().map(Scripts::new).collect();
        Work { suites, scripts, language, forms, approve: false, halt: Arc::default() }
    }

    /// Runs a case.
    pub(super) fn run(&self, case: Case) -> Told {
        let Some((suite, scripts)) = self.suites.get(case.suite).zip(self.scripts.get(case.suite)) else {
            return Told::not_run(0.0);
        };
        let points = points(suite, case);
        match scripts.get(suite, case.variant, self.language) {
            Ok(prepared) => {
                let options = RunOptions {
                    approve: self.approve,
                    halt: Some(Arc::clone(&self.halt)),
                    account_failure: self.logic(suite, case),
                    ..RunOptions::default()
                };
                let began = Instant::now();
                let outcome = prepared.script.run(case.procedure.unwrap_or(0), &options);
                let took = began.elapsed();
                self.told(suite, case, outcome, took)
            }
            Err(refusal) => Told {
                verdict: Verdict::Refused,
                reason: Some(self.refusal(suite, case, refusal)),
                ..Told::not_run(points)
            },
        }
    }

    /// What the image of a case notes in its journal, if the page tells reasons.
    fn logic(&self, suite: &Suite, case: Case) -> Option<Arc<Logic>> {
        match suite.variants.get(case.variant)?.compiled(self.language) {
            Compiled::Ready { logic, .. } if self.forms.page => logic.clone(),
            _ => None,
        }
    }

    /// What is known of the run of a failure besides its recording.
    fn evidence<'e>(&self, suite: &'e Suite, case: Case, failure: &'e Failure) -> Option<Evidence<'e>> {
        let account = failure.account.as_ref()?;
        let station = suite.station.as_ref().and_then(|station| station.station.as_ref());
        match suite.variants.get(case.variant)?.compiled(self.language) {
            Compiled::Ready { program, sources, .. } => Some(Evidence { account, program, station, sources }),
            _ => None,
        }
    }

    fn told(&self, suite: &Suite, case: Case, outcome: Outcome, took: Duration) -> Told {
        let none = Sources::new();
        let program = match suite.variants.get(case.variant).map(|program| program.compiled(self.language)) {
            Some(Compiled::Ready { sources, .. }) => sources,
            _ => &none,
        };
        let plant = suite.station.as_ref().map_or(&none, |station| &station.sources);
        let sources = ReportSources { procedure: &suite.sources, program, plant };
        let (verdict, reason) = match &outcome.verdict {
            Ended::Passed => (Verdict::Passed, None),
            Ended::Failed(failure) => {
                let evidence = self.evidence(suite, case, failure);
                (Verdict::Failed, Some(self.failure(failure, &outcome, sources, evidence)))
            }
            Ended::Refused(problems) => {
                (Verdict::Refused, Some(self.problems(problems, &suite.sources, true)))
            }
        };
        Told {
            verdict,
            points: points(suite, case),
            scans: outcome.scans,
            end_ns: outcome.end_ns,
            events: outcome.events.total(),
            took,
            reason,
            coverage: outcome.coverage,
            warnings: match self.forms.warnings {
                // The same procedure on another program has the same ones.
                Some(colour) if case.variant == 0 => {
                    render::excerpts(&outcome.warnings, &suite.sources, colour)
                }
                _ => String::new(),
            },
            approved: outcome.approved,
        }
    }

    fn failure(
        &self,
        failure: &Failure,
        outcome: &Outcome,
        sources: ReportSources<'_>,
        evidence: Option<Evidence<'_>>,
    ) -> Reason {
        let events = render::events(&outcome.events) + &render::plant_events(&outcome.plant_events);
        let with_events = |mut text: String| {
            if !events.is_empty() {
                text.push_str(&events);
                text.push('\n');
            }
            text
        };
        let text = |options: &ReportOptions| with_events(report::text(failure, sources, options));
        let page = || {
            let picture = Picture::of_failure(failure, evidence).filter(|picture| !picture.is_too_large());
            (with_events(report::message(failure, sources, false)), picture)
        };
        let plain = ReportOptions { width: REPORT_COLUMNS, colour: false, ascii: false };
        Reason {
            name: report::failure_name(&failure.kind).to_owned(),
            message: report::headline(failure, sources),
            of_program: false,
            shown: self.forms.shown.as_ref().map(text).unwrap_or_default(),
            plain: if self.forms.plain { text(&plain) } else { String::new() },
            json: self.forms.json.then(|| json::failure(failure, sources)),
            page: self.forms.page.then(page),
        }
    }

    fn problems(&self, problems: &[Diagnostic], sources: &Sources, shown: bool) -> Reason {
        let first = problems.first();
        let text = |colour: bool| render::excerpts(problems, sources, colour);
        Reason {
            name: first.map_or("refused", |problem| problem.name).to_owned(),
            message: first.map_or_else(String::new, |problem| problem.message.clone()),
            of_program: false,
            shown: self.forms.shown.filter(|_| shown).map(|options| text(options.colour)).unwrap_or_default(),
            plain: if self.forms.plain { text(false) } else { String::new() },
            json: self.forms.json.then(|| render::entries(problems, sources)),
            page: self.forms.page.then(|| (text(false), None)),
        }
    }

    /// Why a file cannot be run; what is shown of it is shown once, by [`Work::refused_as_a_whole`].
    fn refusal(&self, suite: &Suite, case: Case, refusal: &Refusal) -> Reason {
        let in_words = |message: &str| Reason {
            name: "refused".to_owned(),
            message: message.to_owned(),
            of_program: false,
            shown: String::new(),
            plain: if self.forms.plain { format!("{message}\n") } else { String::new() },
            json: None,
            page: self.forms.page.then(|| (format!("{message}\n"), None)),
        };
        match refusal {
            Refusal::Suite => match &suite.unreadable {
                Some(message) => in_words(message),
                None => self.problems(&suite.problems, &suite.sources, false),
            },
            Refusal::Station => match &suite.station {
                Some(station) => self.problems(&station.problems, &station.sources, false),
                None => in_words("the station cannot be used"),
            },
            Refusal::Unfit(problems) => match &suite.station {
                Some(station) => self.problems(problems, &station.sources, false),
                None => in_words("the station does not fit the program"),
            },
            Refusal::Problems(problems) => self.problems(problems, &suite.sources, false),
            Refusal::Program => {
                match suite.variants.get(case.variant).map(|program| program.compiled(self.language)) {
                    Some(Compiled::Errors { diagnostics, sources }) => {
                        Reason { of_program: true, ..self.problems(diagnostics, sources, false) }
                    }
                    Some(Compiled::Unusable(message)) => in_words(message),
                    _ => in_words("the program cannot be run"),
                }
            }
        }
    }

    /// What is questionable about a file on a variant, as text for the terminal; empty if that is not asked for.
    pub(super) fn warnings(&self, case: Case) -> String {
        let found = || {
            let (suite, scripts) = self.suites.get(case.suite).zip(self.scripts.get(case.suite))?;
            let prepared = scripts.get(suite, case.variant, self.language).ok()?;
            Some(render::excerpts(&prepared.warnings, &suite.sources, self.forms.warnings?))
        };
        found().unwrap_or_default()
    }

    /// Why a file cannot be run on a variant, as text for the terminal.
    pub(super) fn refused_as_a_whole(&self, case: Case, colour: bool) -> Option<String> {
        let (suite, scripts) = self.suites.get(case.suite).zip(self.scripts.get(case.suite))?;
        let refusal = scripts.get(suite, case.variant, self.language).err()?;
        let shown =
            |problems: &Vec<Diagnostic>, sources: &Sources| render::excerpts(problems, sources, colour);
        let line = |message: &str| {
            let lines: Vec<String> = message.lines().map(render::visible).collect();
            format!("{}\n\n", lines.join("\n"))
        };
        Some(match refusal {
            Refusal::Suite => match &suite.unreadable {
                Some(message) => line(message),
                None => shown(&suite.problems, &suite.sources),
            },
            Refusal::Station => {
                let station = suite.station.as_ref()?;
                shown(&station.problems, &station.sources)
            }
            Refusal::Unfit(problems) => shown(problems, &suite.station.as_ref()?.sources),
            Refusal::Problems(problems) => shown(problems, &suite.sources),
            Refusal::Program => match suite.variants.get(case.variant)?.compiled(self.language) {
                Compiled::Errors { diagnostics, sources } => shown(diagnostics, sources),
                Compiled::Unusable(message) => line(message),
                Compiled::Ready { .. } => return None,
            },
        })
    }
}

impl Told {
    /// A case that the run did not come to.
    pub(super) fn not_run(points: f64) -> Self {
        Told {
            verdict: Verdict::NotRun,
            points,
            scans: 0,
            end_ns: 0,
            events: 0,
            took: Duration::ZERO,
            reason: None,
            warnings: String::new(),
            coverage: None,
            approved: None,
        }
    }
}

/// What a case is worth: one point unless its procedure says otherwise, none for a file without procedures.
pub(super) fn points(suite: &Suite, case: Case) -> f64 {
    match case.procedure.and_then(|index| suite.procedure(index)) {
        Some(procedure) => procedure.points.unwrap_or(1.0),
        None => 0.0,
    }
}

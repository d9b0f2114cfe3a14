//! Results as they come, handed to everything that tells them; and what is left to do at the end.

use std::collections::BTreeSet;

use super::{
    approve::Approvals,
    arguments::{ReportArguments, ResultForm, TestArguments},
    case::{Told, Verdict, Work},
    coverage::Logs,
    json::Json,
    junit::Junit,
    last_failed::{self, Entry},
    page::Page,
    select::Case,
    tally::Tally,
    text::{Text, TextOptions},
};
use crate::{
    coverage::CoverageArguments,
    exit::{Exit, Failure},
    files,
    progress::Progress,
    terminal::Terminal,
};

/// A run being told.
pub(super) struct Telling<'w, 's> {
    work: &'w Work<'s>,
    arguments: &'w ReportArguments,
    coverage: &'w CoverageArguments,
    terminal: &'w mut Terminal,
    /// Of all cases that were to run.
    count: usize,
    tally: Tally,
    text: Option<Text>,
    junit: Option<Junit>,
    json: Option<Json>,
    page: Option<Page>,
    progress: Progress,
    passed: BTreeSet<Entry>,
    failed: BTreeSet<Entry>,
    /// Suites and variants that were warned of, and what was said.
    warned: BTreeSet<(usize, usize)>,
    warnings: BTreeSet<String>,
    /// A procedure was refused although the program has no errors.
    misused: bool,
    logs: Logs,
    /// Traces being approved, if they are.
    approvals: Option<Approvals>,
}

impl<'w, 's> Telling<'w, 's> {
    /// Nothing told yet.
    pub(super) fn new(
        work: &'w Work<'s>,
        TestArguments { reports: arguments, coverage, .. }: &'w TestArguments,
        terminal: &'w mut Terminal,
        count: usize,
    ) -> Self {
        let options = TextOptions {
            colour: terminal.result_colour(),
            quiet: arguments.quiet,
            timings: arguments.timings,
        };
        let json = arguments.json.is_some() || arguments.format == ResultForm::Json;
        Telling {
            work,
            arguments,
            coverage,
            terminal,
            count,
            tally: Tally::default(),
            text: (arguments.format == ResultForm::Text).then(|| Text::new(options)),
            junit: arguments.junit.is_some().then(|| Junit::new(arguments.timings)),
            json: json.then(|| Json::new(arguments.timings)),
            page: arguments.report.is_some().then(Page::default),
            progress: Progress::new(arguments.quiet),
            passed: BTreeSet::new(),
            failed: BTreeSet::new(),
            warned: BTreeSet::new(),
            warnings: BTreeSet::new(),
            misused: false,
            logs: Logs::default(),
            approvals: work.approve.then(Approvals::default),
        }
    }

    /// Tells a case; `true` if it did not pass.
    pub(super) fn tell(&mut self, case: Case, mut told: Told) -> Result<bool, Failure> {
        let Some(suite) = self.work.suites.get(case.suite) else { return Ok(false) };
        self.tally.count(&told);
        if let Some(log) = told.coverage.take() {
            self.logs.add(suite, case, log);
        }
        let approval = match &mut self.approvals {
            Some(approvals) => approvals.take(suite, case, &mut told)?,
            None => None,
        };
        if let Some(text) = &mut self.text {
            let lines = text.case(self.work, case, &told);
            if !lines.is_empty() {
                self.progress.clear();
                self.terminal.result(&lines)?;
            }
        }
        self.warn(case, &told);
        if let Some(junit) = &mut self.junit {
            junit.case(suite, case, &told);
        }
        if let Some(page) = &mut self.page {
            page.case(suite, case, &mut told);
        }
        if let Some(json) = &mut self.json {
            json.case(suite, case, &mut told, approval);
        }
        self.misused |=
            told.verdict == Verdict::Refused && told.reason.as_ref().is_none_or(|reason| !reason.of_program);
        match told.verdict {
            Verdict::Passed => _ = self.passed.insert(Entry::of(suite, case)),
            Verdict::Failed | Verdict::Refused => _ = self.failed.insert(Entry::of(suite, case)),
            Verdict::NotRun => {}
        }
        let (done, count) = (self.tally.procedures(), self.count);
        let wrong = self.tally.failed + self.tally.refused;
        self.progress.show(|| match wrong {
            0 => format!("{done} of {count}"),
            _ => format!("{done} of {count}, {wrong} not passed"),
        });
        Ok(matches!(told.verdict, Verdict::Failed | Verdict::Refused))
    }

    /// Says what is questionable about a file, once, and about a procedure of it.
    fn warn(&mut self, case: Case, told: &Told) {
        let mut text = String::new();
        if told.verdict != Verdict::NotRun && self.warned.insert((case.suite, case.variant)) {
            let of_file = self.work.warnings(case);
            // On another program it is mostly the same.
            if self.warnings.insert(of_file.clone()) {
                text.push_str(&of_file);
            }
        }
        text.push_str(&told.warnings);
        if !text.is_empty() {
            self.progress.clear();
            self.terminal.say(&text);
        }
    }

    /// Writes the summary and the reports.
    pub(super) fn finish(mut self, complete: bool) -> Result<Exit, Failure> {
        self.progress.clear();
        if let Some(approvals) = &self.approvals {
            let told = approvals.told(self.work.suites, self.arguments.quiet);
            match &mut self.text {
                Some(text) => self.terminal.result(&text.apart(&told))?,
                None => self.terminal.say(&told),
            }
        }
        if let Some(text) = &self.text {
            let summary = text.summary(&self.tally);
            self.terminal.result(&summary)?;
        }
        let json = self.json.as_ref().map(|json| json.finish(&self.tally, complete));
        if let Some(json) = json.as_ref().filter(|_| self.arguments.format == ResultForm::Json) {
            self.terminal.result(json)?;
        }
        if let Some((path, json)) = self.arguments.json.as_ref().zip(json) {
            files::write(path, json.as_bytes())?;
        }
        if let Some((path, junit)) = self.arguments.junit.as_ref().zip(self.junit.as_ref()) {
            files::write(path, junit.finish(&self.tally).as_bytes())?;
        }
        let report =
            (self.coverage.measures() || self.page.is_some()).then(|| self.logs.report(self.work.language));
        if let Some((path, page)) = self.arguments.report.as_ref().zip(self.page.as_ref()) {
            let covered = report.as_ref().filter(|report| !report.files.is_empty());
            files::write(path, page.finish(&self.tally, complete, covered).as_bytes())?;
        }
        if let Some(report) = report.filter(|_| self.coverage.measures()) {
            let is_result = self.arguments.format == ResultForm::Text;
            if is_result && self.coverage.coverage {
                self.terminal.result("\n")?;
            }
            self.coverage.write(&report, is_result, self.terminal)?;
        }
        if let Err(failure) = last_failed::write(&self.passed, std::mem::take(&mut self.failed)) {
            // The results are there; only the next --last-failed will not know of them.
            self.terminal.say(&format!("what failed is not kept: {}\n", failure.message));
        }
        Ok(if self.misused {
            Exit::Usage
        } else if self.tally.failed + self.tally.refused > 0 {
            Exit::Findings
        } else {
            Exit::Good
        })
    }
}

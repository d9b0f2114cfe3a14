//! Results as JUnit XML, the form in which most tools take them: a suite for each file and program, a case for each
//! procedure. (There is no standard of it; this is the part that readers agree on: common practice, no source.)

use std::{collections::BTreeMap, fmt::Write as _};

use latchwork_bench::render::xml::{attribute as escape, content};
use latchwork_compiler::render;

use super::{
    case::{Told, Verdict},
    select::{self, Case},
    suite::Suite,
    tally::{Tally, points_text},
};

/// A document being made.
#[derive(Default)]
pub(super) struct Junit {
    /// By file and program.
    suites: BTreeMap<(usize, usize), SuiteText>,
    timings: bool,
}

#[derive(Default)]
struct SuiteText {
    name: String,
    file: String,
    tally: Tally,
    seconds: f64,
    cases: String,
}

impl Junit {
    /// Nothing in it yet; with `timings` it tells how long each procedure took on this computer.
    pub(super) fn new(timings: bool) -> Self {
        Junit { suites: BTreeMap::new(), timings }
    }

    /// Adds a case.
    pub(super) fn case(&mut self, suite: &Suite, case: Case, told: &Told) {
        let entry = self.suites.entry((case.suite, case.variant)).or_default();
        if entry.name.is_empty() {
            entry.file = suite.name();
            entry.name = match suite.variant(case.variant) {
                "" => entry.file.clone(),
                variant => format!("{} ({variant})", entry.file),
            };
        }
        entry.tally.count(told);
        entry.seconds += told.took.as_secs_f64();
        let procedure = case.procedure.and_then(|index| suite.procedure(index));
        let line = procedure
            .and_then(|procedure| render::position(&suite.sources, procedure.heading))
            .map_or(1, |position| position.line);
        let title = select::title(suite, case).unwrap_or("(the file)");
        let out = &mut entry.cases;
        let _ = write!(
            out,
            "    <testcase name=\"{}\" classname=\"{}\" file=\"{}\" line=\"{line}\"",
            escape(title),
            escape(&entry.name),
            escape(&entry.file)
        );
        if self.timings {
            let _ = write!(out, " time=\"{:.6}\"", told.took.as_secs_f64());
        }
        out.push_str(">\n      <properties>\n");
        let reached = if told.verdict == Verdict::Passed { told.points } else { 0.0 };
        let simulated = format!("{}.{:09}", told.end_ns / 1_000_000_000, told.end_ns % 1_000_000_000);
        for (name, value) in [
            ("points", points_text(told.points)),
            ("points_reached", points_text(reached)),
            ("scans", told.scans.to_string()),
            ("simulated_seconds", simulated),
            ("events", told.events.to_string()),
        ] {
            let _ = writeln!(out, "        <property name=\"{name}\" value=\"{value}\"/>");
        }
        out.push_str("      </properties>\n");
        let reason = told.reason.as_ref();
        let element = match told.verdict {
            Verdict::Passed => None,
            Verdict::Failed => Some("failure"),
            Verdict::Refused => Some("error"),
            Verdict::NotRun => {
                out.push_str("      <skipped message=\"not run\"/>\n");
                None
            }
        };
        if let Some((element, reason)) = element.zip(reason) {
            let _ = writeln!(
                out,
                "      <{element} message=\"{}\" type=\"{}\">{}</{element}>",
                escape(&reason.message),
                escape(&reason.name),
                content(&reason.plain)
            );
        }
        out.push_str("    </testcase>\n");
    }

    /// The document.
    pub(super) fn finish(&self, tally: &Tally) -> String {
        let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
        let seconds: f64 = self.suites.values().map(|suite| suite.seconds).sum();
        let _ = write!(out, "<testsuites name=\"latchwork test\"{}", counts(tally));
        self.time(seconds, &mut out);
        out.push_str(">\n");
        for suite in self.suites.values() {
            let _ = write!(
                out,
                "  <testsuite name=\"{}\" file=\"{}\"{}",
                escape(&suite.name),
                escape(&suite.file),
                counts(&suite.tally)
            );
            self.time(suite.seconds, &mut out);
            let _ = write!(
                out,
                ">\n    <properties>\n      <property name=\"points\" value=\"{}\"/>\n      \
                 <property name=\"points_reached\" value=\"{}\"/>\n    </properties>\n{}  </testsuite>\n",
                points_text(suite.tally.points),
                points_text(suite.tally.points_reached),
                suite.cases
            );
        }
        out.push_str("</testsuites>\n");
        out
    }

    fn time(&self, seconds: f64, out: &mut String) {
        if self.timings {
            let _ = write!(out, " time=\"{seconds:.6}\"");
        }
    }
}

fn counts(tally: &Tally) -> String {
    format!(
        " tests=\"{}\" failures=\"{}\" errors=\"{}\" skipped=\"{}\"",
        tally.procedures(),
        tally.failed,
        tally.refused,
        tally.not_run
    )
}

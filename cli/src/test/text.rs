//! Results as text: one line a procedure, failures in full below it, a summary at the end.

use std::collections::BTreeSet;

use latchwork_bench::diagram::{SAFETY_SENTENCE, counted, scale::time_text, words::harmless};
use unicode_width::UnicodeWidthStr;

use super::{
    case::{Told, Verdict, Work},
    select::{self, Case},
    suite::Suite,
    tally::{Tally, points_text},
};

/// Most columns of titles; a longer one pushes what stands behind it.
const TITLE_COLUMNS_MAX: usize = 68;

/// Columns of the longest verdict.
const VERDICT_COLUMNS: usize = 7;

/// What is shown of results.
#[derive(Clone, Copy, Debug)]
pub(super) struct TextOptions {
    pub(super) colour: bool,
    /// What passed is not shown.
    pub(super) quiet: bool,
    /// How long each took on this computer is.
    pub(super) timings: bool,
}

/// Results being written.
pub(super) struct Text {
    options: TextOptions,
    /// The suite whose heading was written last.
    suite: Option<usize>,
    columns: Columns,
    /// Suites and variants whose refusal has been told.
    told: BTreeSet<(usize, usize)>,
    /// What was told of a file as a whole, which may be the same for the next one.
    reasons: BTreeSet<String>,
    /// What was written last ends with an empty line, or nothing was written.
    apart: bool,
}

impl Text {
    /// Nothing written yet.
    pub(super) fn new(options: TextOptions) -> Self {
        Text {
            options,
            suite: None,
            columns: Columns::default(),
            told: BTreeSet::new(),
            reasons: BTreeSet::new(),
            apart: true,
        }
    }

    /// The lines of a case; nothing for what did not run.
    pub(super) fn case(&mut self, work: &Work<'_>, case: Case, told: &Told) -> String {
        let Some(suite) = work.suites.get(case.suite) else { return String::new() };
        if told.verdict == Verdict::NotRun || (told.verdict == Verdict::Passed && self.options.quiet) {
            return String::new();
        }
        let mut out = self.heading(case, suite);
        if told.verdict == Verdict::Refused && self.told.insert((case.suite, case.variant)) {
            if let Some(text) = work.refused_as_a_whole(case, self.options.colour) {
                if self.reasons.contains(&text) {
                    out.push_str("for the reason told above:\n");
                } else {
                    out.push_str(&text);
                    self.reasons.insert(text);
                }
            } else {
                // The procedure alone is refused, and tells it itself.
                self.told.remove(&(case.suite, case.variant));
            }
        }
        if case.procedure.is_some() {
            out.push_str(&self.line(suite, case, told));
        }
        if let Some(reason) = told.reason.as_ref().filter(|reason| !reason.shown.is_empty()) {
            out.push('\n');
            out.push_str(&reason.shown);
        }
        self.apart = out.ends_with("\n\n");
        out
    }

    /// The name of a file in front of the first of its lines.
    fn heading(&mut self, case: Case, suite: &Suite) -> String {
        if self.suite == Some(case.suite) {
            return String::new();
        }
        let gap = if self.apart { "" } else { "\n" };
        self.suite = Some(case.suite);
        self.columns = Columns::of(suite);
        format!("{gap}{}\n", paint(self.options.colour, "1", &harmless(&suite.name())))
    }

    fn line(&self, suite: &Suite, case: Case, told: &Told) -> String {
        let colour = self.options.colour;
        let (code, word) = match told.verdict {
            Verdict::Passed => ("32", "passed"),
            Verdict::Failed => ("1;31", "failed"),
            Verdict::Refused => ("1;33", "refused"),
            Verdict::NotRun => ("2", "not run"),
        };
        let mut line = format!("  {}", paint(colour, code, word));
        line.push_str(&" ".repeat(VERDICT_COLUMNS.saturating_sub(word.len()) + 2));
        let mut remarks = Vec::new();
        if told.scans > 0 {
            remarks.push(time_text(told.end_ns));
        }
        if told.events > 0 {
            remarks.push(counted(told.events, "event"));
        }
        if self.options.timings && told.scans > 0 {
            remarks.push(format!("took {}", took(told)));
        }
        let rest = format!("{}{}", self.columns.points(told.points), remarks.join("  "));
        match rest.trim_end() {
            "" => line.push_str(self.columns.title(suite, case).trim_end()),
            rest => {
                line.push_str(&self.columns.title(suite, case));
                line.push_str(&paint(colour, "2", rest));
            }
        }
        line.push('\n');
        line
    }

    /// A block of lines, apart from what stands before it.
    pub(super) fn apart(&mut self, block: &str) -> String {
        if block.is_empty() {
            return String::new();
        }
        let gap = if self.apart { "" } else { "\n" };
        self.apart = false;
        format!("{gap}{block}")
    }

    /// The counts, the points, and the word on safety.
    pub(super) fn summary(&self, tally: &Tally) -> String {
        let colour = self.options.colour;
        let counts = [
            (tally.passed, "passed", "32"),
            (tally.failed, "failed", "1;31"),
            (tally.refused, "refused", "1;33"),
            (tally.not_run, "not run", "1"),
        ];
        let counts: Vec<String> = counts
            .iter()
            .filter(|(count, _, _)| *count > 0)
            .map(|(count, word, code)| paint(colour, code, &format!("{count} {word}")))
            .collect();
        let gap = if self.apart { "" } else { "\n" };
        format!(
            "{gap}{}: {}; {} of {} points\n{SAFETY_SENTENCE}\n",
            counted(tally.procedures() as u64, "procedure"),
            counts.join(", "),
            points_text(tally.points_reached),
            points_text(tally.points),
        )
    }
}

/// Time on this computer, in milliseconds.
pub(super) fn took(told: &Told) -> String {
    format!("{:.1} ms", told.took.as_secs_f64() * 1e3)
}

/// Widths within a suite, so that its lines are a table.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Columns {
    title: usize,
    /// 0 if no procedure says what it is worth.
    points: usize,
}

impl Columns {
    /// Those that the procedures of a suite need.
    pub(super) fn of(suite: &Suite) -> Self {
        let variants = (0..suite.variant_count()).map(|index| suite.variant(index).width()).max();
        let variants = if suite.has_variants() { variants.unwrap_or(0) + " ()".len() } else { 0 };
        let titles = suite.procedures().map(|procedure| harmless(&procedure.title.value).width()).max();
        let said = suite.procedures().any(|procedure| procedure.points.is_some());
        let points =
            suite.procedures().map(|procedure| points_words(procedure.points.unwrap_or(1.0)).len()).max();
        Columns {
            title: (titles.unwrap_or(0) + variants).min(TITLE_COLUMNS_MAX),
            points: points.filter(|_| said).unwrap_or(0),
        }
    }

    /// The title of a case, with the program where there are several, and blanks up to what follows.
    pub(super) fn title(self, suite: &Suite, case: Case) -> String {
        let title = harmless(select::title(suite, case).unwrap_or_default());
        let title =
            if suite.has_variants() { format!("{title} ({})", suite.variant(case.variant)) } else { title };
        let blanks = self.title.saturating_sub(title.width()) + 2;
        title + &" ".repeat(blanks)
    }

    /// What a case is worth, and blanks; nothing where no procedure says it.
    pub(super) fn points(self, points: f64) -> String {
        match self.points {
            0 => String::new(),
            width => format!("{:<width$}  ", points_words(points)),
        }
    }
}

/// "1 point", "2.5 points".
fn points_words(points: f64) -> String {
    let text = points_text(points);
    let plural = if text == "1" { "" } else { "s" };
    format!("{text} point{plural}")
}

/// A text with a parameter of "select graphic rendition" of ECMA-48; colour never carries anything alone.
pub(super) fn paint(colour: bool, parameter: &str, text: &str) -> String {
    if colour { format!("\u{1b}[{parameter}m{text}\u{1b}[0m") } else { text.to_owned() }
}

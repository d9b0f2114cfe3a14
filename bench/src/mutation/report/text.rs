//! The report as text for a terminal.

use latchwork_compiler::render;
use latchwork_grammar::{Diagnostic, Sources};

use super::{FateReport, FaultCounts, FaultReport, MutationReport, SightReport};
use crate::{
    diagram::{
        scale::time_text,
        words::{harmless, harmless_whole},
    },
    mutation::search::SEEN_NS,
    wiring_proof::report::grid::{paragraph, table},
};

/// Most survivors that are shown with their place in the program.
const SHOWN_MAX: usize = 100;

/// Narrowest column of the table.
const COLUMN_LEAST: usize = 8;

/// What a survivor means.
const MEANING: &str = "A fault that survives can be handed in without losing a point: no procedure looks at what it \
changes. Below a survivor stands a procedure that the reference passes and the fault does not, if one was found. Read it \
as a question: must the task demand this? If it must, put the procedure into your file of procedures, or let one of yours \
look at it. If it need not, the fault is another right solution.";

/// What it means that nothing shows it.
const HIDDEN: &str = "no load and no output that was looked at comes to differ with it: a person at the panel sees no \
difference, as far as the search saw";

/// What it means that nothing differs.
const NOTHING: &str = "nothing that was tried makes a difference, not even to a variable: the fault changes nothing, or \
nothing came to where it does";

/// How the report is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TextOptions {
    /// Columns of the terminal; at least 60 are used and at most 100.
    pub width: usize,
    /// Whether colours are used; they tell nothing that words do not.
    pub colour: bool,
}

/// The report; every line ends in a line feed. `sources` are those of the reference.
#[must_use]
pub fn text(report: &MutationReport, sources: &Sources, options: TextOptions) -> String {
    let width = options.width.clamp(60, 100);
    let names: Vec<String> = sources.iter().map(|(_, file)| harmless(&file.name)).collect();
    let mut out = paragraph("", &heading(&names.join(", "), &report.counts), width);
    if report.left_out > 0 {
        let words = format!("{} more were left out, of each kind some.", report.left_out);
        out.push_str(&paragraph("", &words, width));
    }
    for line in sums(report) {
        out.push_str(&paragraph("  - ", &line, width));
    }
    out.push('\n');
    out.push_str(&table(&rows(report), width, COLUMN_LEAST));
    out.push_str(&procedures(report, width));
    let survivors: Vec<&FaultReport> =
        report.faults.iter().filter(|fault| matches!(fault.fate, FateReport::Survived { .. })).collect();
    if survivors.is_empty() {
        return out;
    }
    out.push('\n');
    out.push_str(&paragraph("", MEANING, width));
    out.push('\n');
    for fault in survivors.iter().take(SHOWN_MAX) {
        out.push_str(&survivor(fault, sources, options.colour));
    }
    if let Some(more @ 1..) = survivors.len().checked_sub(SHOWN_MAX) {
        out.push_str(&format!("… and {more} more\n"));
    }
    out
}

fn heading(names: &str, counts: &FaultCounts) -> String {
    let seeded = match counts.seeded {
        0 => "no fault could be seeded".to_owned(),
        1 => "1 fault was seeded".to_owned(),
        count => format!("{count} faults were seeded, one at a time"),
    };
    format!("Mutation of {names}: {seeded}")
}

fn sums(report: &MutationReport) -> Vec<String> {
    let counts = &report.counts;
    let mut lines = vec![match counts.noticed {
        1 => "1 is noticed by a procedure".to_owned(),
        count => format!("{count} are noticed by a procedure"),
    }];
    lines.push(match (counts.survived(), counts.told_apart) {
        (0, _) => "none survives".to_owned(),
        (1, 0) => "1 survives, and nothing was found that shows it".to_owned(),
        (1, _) => "1 survives, and a procedure was found that notices it".to_owned(),
        (survived, 0) => format!("{survived} survive, and nothing was found that shows one of them"),
        (survived, told) if survived == told => {
            format!("{survived} survive, and for each a procedure was found that notices it")
        }
        (survived, told) => {
            format!("{survived} survive; a procedure that notices it was found for {told} of them")
        }
    });
    let short = report.faults.iter().filter(|fault| is_short(&fault.fate)).count();
    if short > 0 {
        lines.push(format!(
            "{short} of those shown differ for less than {} only, which a person hardly sees",
            time_text(SEEN_NS)
        ));
    }
    let nothing = counts.the_same + counts.not_compiled;
    if nothing > 0 {
        lines.push(format!(
            "{nothing} {} for nothing: not compiled {}, the same program {}",
            if nothing == 1 { "counts" } else { "count" },
            counts.not_compiled,
            counts.the_same
        ));
    }
    lines
}

/// Whether what was found is over before a person sees it.
fn is_short(fate: &FateReport) -> bool {
    let FateReport::Survived { found: Some(found), .. } = fate else { return false };
    found.lasts_ns.is_some_and(|lasts_ns| lasts_ns < SEEN_NS)
}

fn rows(report: &MutationReport) -> Vec<Vec<String>> {
    let heading = ["kind of fault", "seeded", "noticed", "survived", "for nothing"];
    let mut rows = vec![heading.map(str::to_owned).to_vec()];
    for own in &report.kinds {
        let counts = &own.counts;
        let numbers =
            [counts.seeded, counts.noticed, counts.survived(), counts.the_same + counts.not_compiled];
        let mut row = vec![own.kind.words().to_owned()];
        row.extend(numbers.map(|number| number.to_string()));
        rows.push(row);
    }
    rows
}

/// Procedures that count for nothing, or may.
fn procedures(report: &MutationReport, width: usize) -> String {
    let mut out = String::new();
    let failed: Vec<String> = report
        .procedures
        .iter()
        .filter(|procedure| !procedure.passed)
        .map(|procedure| format!("'{}'", harmless(&procedure.title)))
        .collect();
    if !failed.is_empty() {
        let words = format!("Left out, since the reference itself does not pass: {}.", failed.join(", "));
        out.push('\n');
        out.push_str(&paragraph("", &words, width));
    }
    let idle: Vec<String> = report
        .procedures
        .iter()
        .filter(|procedure| procedure.passed && procedure.noticed == 0)
        .map(|procedure| format!("'{}'", harmless(&procedure.title)))
        .collect();
    if !idle.is_empty() {
        let words =
            format!("Never the first to notice a fault, in the order of the files: {}.", idle.join(", "));
        out.push('\n');
        out.push_str(&paragraph("", &words, width));
    }
    out
}

/// A survivor with its place in the program, and what would notice it.
fn survivor(fault: &FaultReport, sources: &Sources, colour: bool) -> String {
    let FateReport::Survived { found, sight } = &fault.fate else { return String::new() };
    let message = format!("no procedure notices fault {}: {}", fault.number, fault.words);
    let diagnostic = Diagnostic::error(fault.kind.name(), fault.span(), message).label(fault.kind.words());
    let Some(found) = found else {
        let diagnostic = match sight {
            SightReport::Hidden => diagnostic.note(HIDDEN),
            SightReport::Nothing => diagnostic.note(NOTHING),
            SightReport::Told | SightReport::NotSearched => diagnostic,
        };
        return render::finding("survived", &diagnostic, sources, colour);
    };
    let mut out = render::finding("survived", &diagnostic.note(found.seen.clone()), sources, colour);
    out.push_str("This procedure notices it:\n\n");
    for line in found.procedure.lines() {
        out.push_str(&format!("    {}\n", harmless_whole(line)));
    }
    out.push('\n');
    out
}

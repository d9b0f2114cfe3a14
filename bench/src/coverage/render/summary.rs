//! The summary for a terminal: figures of each unit, and what is missing.

use latchwork_compiler::render::visible;
use unicode_width::UnicodeWidthStr;

use super::{
    table::{HEADINGS, columns, counts, percent, rows},
    wrap::{push_line, wrapped},
};
use crate::coverage::{ConditionReport, DecisionReport, Finding, Report, UnitReport};

/// Most findings that are listed.
const LISTED_MAX: usize = 60;

/// Most rows of the table.
const ROWS_MAX: usize = 60;

/// Widest name in the table.
const NAME_MAX: usize = 32;

/// The summary in lines of at most `width` columns, as far as words can be broken.
pub fn summary(report: &Report, width: usize) -> String {
    let mut text = String::from("Coverage\n");
    figures(report, &mut text);
    let missing: usize = report.units.iter().map(|unit| unit.missing.len()).sum();
    let mut left = LISTED_MAX;
    for unit in report.units.iter().filter(|unit| !unit.missing.is_empty()) {
        let listed = unit.missing.get(..unit.missing.len().min(left)).unwrap_or_default();
        if listed.is_empty() {
            break;
        }
        left -= listed.len();
        text.push('\n');
        push_line(&heading(report, unit), &mut text);
        findings(listed, width, &mut text);
    }
    if missing == 0 {
        text.push_str("\nNothing is missing.\n");
    }
    if missing > LISTED_MAX {
        text.push_str(&format!("\n… and {} more\n", missing - LISTED_MAX));
    }
    for note in notes(report) {
        text.push('\n');
        wrapped("", &note, width, &mut text);
    }
    text
}

fn figures(report: &Report, text: &mut String) {
    let all = rows(report);
    // Units of which something is missing come first where there are too many.
    let last = all.len().saturating_sub(1);
    let mut shown: Vec<usize> = (0..last).collect();
    shown.sort_by_key(|index| all.get(*index).is_some_and(|(_, figures)| figures.is_complete()));
    let hidden = shown.len().saturating_sub(ROWS_MAX);
    shown.truncate(ROWS_MAX);
    shown.sort_unstable();
    let rows: Vec<(String, [String; 5])> = shown
        .into_iter()
        .chain([last])
        .filter_map(|index| all.get(index).cloned())
        .map(|(name, figures)| {
            let cells = columns(figures).map(|figure| format!("{} {:>6}", counts(figure), percent(figure)));
            (cropped(&visible(&name)), cells)
        })
        .collect();
    let names = rows.iter().map(|(name, _)| name.width()).max().unwrap_or(0);
    let mut widths = HEADINGS.map(str::len);
    for (_, cells) in &rows {
        for (width, cell) in widths.iter_mut().zip(cells) {
            *width = (*width).max(cell.trim_end().len());
        }
    }
    let mut line = |name: &str, cells: [&str; 5]| {
        let mut line = format!("  {name}{}", " ".repeat(names.saturating_sub(name.width())));
        for (cell, width) in cells.into_iter().zip(widths) {
            line.push_str(&format!("  {cell:>width$}"));
        }
        push_line(&line, text);
    };
    line("", HEADINGS);
    for (name, cells) in &rows {
        line(name, cells.each_ref().map(|cell| cell.trim_end()));
    }
    if hidden > 0 {
        push_line(&format!("  and {hidden} more units"), text);
    }
}

/// The end of a long name, which says more than the namespaces in front of it.
fn cropped(name: &str) -> String {
    match name.chars().count().checked_sub(NAME_MAX) {
        Some(more @ 1..) => format!("…{}", name.chars().skip(more + 1).collect::<String>()),
        _ => name.to_owned(),
    }
}

fn heading(report: &Report, unit: &UnitReport) -> String {
    let file = report.files.get(unit.place.file as usize).map_or("", |file| file.name.as_str());
    format!("{} ({})", visible(&unit.name), visible(file))
}

/// What is missing; findings about one decision stand together.
fn findings(findings: &[Finding], width: usize, text: &mut String) {
    let numbers = findings.iter().map(|finding| finding.place.line.to_string().len()).max().unwrap_or(1);
    let mut before: Option<&Finding> = None;
    for finding in findings {
        let number = format!("  {:>numbers$}  ", finding.place.line);
        let inner = " ".repeat(number.len());
        match &finding.subject {
            Some(subject) => {
                let again = before
                    .is_some_and(|before| before.place == finding.place && before.subject == finding.subject);
                if !again {
                    wrapped(&number, &visible(&format!("`{subject}`")), width, text);
                }
                wrapped(&format!("{inner}  "), &visible(&finding.message), width, text);
            }
            None => wrapped(&number, &visible(&finding.message), width, text),
        }
        if let Some(advice) = &finding.advice {
            wrapped(&format!("{inner}    "), &visible(advice), width, text);
        }
        before = Some(finding);
    }
}

/// What the figures do not tell.
pub(super) fn notes(report: &Report) -> Vec<String> {
    let decisions = || report.units.iter().flat_map(|unit| &unit.decisions);
    let mut notes = Vec::new();
    let conditions = decisions().flat_map(|decision| &decision.conditions);
    let coupled = conditions.clone().filter(|it| !it.same_as.is_empty()).count();
    if coupled > 0 {
        notes.push(format!(
            "{} twice in one decision, so that no unique cause is possible: judged by masking.",
            counted(coupled, "condition stands", "conditions stand")
        ));
    }
    let masked = conditions.filter(|it| it.shown.masking.is_some() && !it.shown_by_unique_cause()).count();
    if masked > 0 {
        notes.push(format!(
            "{} by masking only.",
            counted(masked, "condition is shown", "conditions are shown")
        ));
    }
    let weak = |decision: &&DecisionReport| {
        let proposed =
            |it: &ConditionReport| matches!(&it.missing, Some(missing) if missing.hint.is_possible());
        decision.conditions.iter().any(|it| !it.shares_with.is_empty())
            && decision.conditions.iter().any(proposed)
    };
    if decisions().any(|decision| weak(&decision)) {
        notes.push(
            "Where conditions of a decision share a variable, values that are proposed may exclude one another."
                .to_owned(),
        );
    }
    let most = latchwork_vm::coverage::CONDITIONS_MAX;
    let long = decisions().filter(|decision| decision.too_long).count();
    if long > 0 {
        notes.push(format!(
            "{} more than {most} conditions, which cannot be followed together: none of them is shown to decide.",
            counted(long, "decision has", "decisions have")
        ));
    }
    let overflowed = decisions().filter(|decision| decision.overflowed).count();
    if overflowed > 0 {
        notes.push(format!(
            "Of {} there were more different values than are kept, so some conditions may be shown that are listed.",
            counted(overflowed, "decision", "decisions")
        ));
    }
    let disturbed: usize = decisions().map(|decision| decision.contradictory).sum();
    if disturbed > 0 {
        notes.push(format!(
            "{} left out: a task changed an operand in the middle.",
            counted(disturbed, "evaluation of a decision is", "evaluations of decisions are")
        ));
    }
    notes
}

/// `1 condition`, `3 conditions`.
fn counted(count: usize, one: &str, several: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {several}") }
}

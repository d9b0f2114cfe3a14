//! The report of one run.

use std::fmt::Write as _;

use latchwork_compiler::render;
use latchwork_grammar::Sources;

use super::{document, facts, head, picture::Picture, source, verdict};
use crate::{
    diagram::{counted, scale::time_text},
    render::page::escaped,
    replay::Replayed,
    report::{Fact, RunParts, VerdictWord},
};

/// The report of a run as one HTML page.
pub fn run(parts: &RunParts<'_>) -> String {
    let RunParts { replayed, sources, coverage, evidence, .. } = *parts;
    let recording = &replayed.recording;
    let title = if recording.title.is_empty() { "A run" } else { &recording.title };
    let mut body = String::new();
    let under = format!(
        "{} · {} · scan {}",
        recording.source,
        time_text(recording.end_ns),
        time_text(recording.scan_ns)
    );
    let mut anchors = vec![("verdict", "Verdict"), ("diagram", "Diagram")];
    if coverage.is_some() {
        anchors.extend([("figures", "Coverage"), ("missing", "What is missing")]);
    }
    anchors.extend([("source", "Source"), ("facts", "Facts")]);
    head(title, &under, &anchors, &mut body);
    body.push_str("<main>\n");
    verdicts(replayed, sources, &mut body);
    body.push_str("<section aria-labelledby=\"diagram\">\n<h2 id=\"diagram\">Diagram</h2>\n");
    Picture::of_run(recording, evidence).push(title, &mut body);
    body.push_str("</section>\n");
    source(coverage, &mut body);
    let mut all = parts.facts.to_vec();
    all.extend(figures(replayed));
    facts(&all, &mut body);
    body.push_str("</main>\n");
    document(&format!("Report: {title}"), body)
}

/// How the run ended, and what was noticed on the way, as the terminal tells it.
fn verdicts(replayed: &Replayed, sources: &Sources, body: &mut String) {
    body.push_str("<section aria-labelledby=\"verdict\">\n<h2 id=\"verdict\">Verdict</h2>\n");
    let stopped = replayed.fault.is_some() || replayed.plant_fault.is_some();
    let word = if stopped { VerdictWord::Stopped } else { VerdictWord::Ended };
    let time = time_text(replayed.recording.end_ns);
    let preposition = if stopped { "after" } else { "of" };
    let _ = writeln!(
        body,
        "<p class=\"outcome\">{} <span class=\"remarks\">{preposition} {time}</span></p>",
        verdict(word)
    );
    if !stopped {
        body.push_str(
            "<p>A run has no expectations, so that nothing here was judged. Procedures do that: \
             <code>latchwork test</code>.</p>\n",
        );
    }
    let mut told = String::new();
    told.extend(replayed.fault.iter().map(|fault| render::fault(fault, sources, false)));
    told.extend(replayed.plant_fault.iter().map(|fault| render::plant_fault(fault, sources, false)));
    told.push_str(&render::events(&replayed.events));
    told.push_str(&render::plant_events(&replayed.plant_events));
    told.push_str(&render::text(&replayed.warnings(), sources, false));
    if replayed.rows_not_applied > 0 {
        let rows = counted(replayed.rows_not_applied as u64, "row");
        let _ = writeln!(told, "the run ended before the last {rows} of the stimulus");
    }
    if !told.trim().is_empty() {
        message(&told, "What was noticed", body);
    }
    body.push_str("</section>\n");
}

/// A message with its lines as they are.
pub(super) fn message(text: &str, label: &str, body: &mut String) {
    let lines: Vec<String> = text.trim_end().lines().map(escaped).collect();
    let _ = writeln!(
        body,
        "<pre class=\"message\" tabindex=\"0\" role=\"group\" aria-label=\"{}\">{}</pre>",
        escaped(label),
        lines.join("\n")
    );
}

/// The run in figures.
fn figures(replayed: &Replayed) -> Vec<Fact> {
    let recording = &replayed.recording;
    let scans = &recording.scans;
    let instructions: u64 = scans.iter().map(|scan| scan.instructions).sum();
    let most = scans.iter().map(|scan| scan.instructions).max().unwrap_or(0);
    let changes: u64 =
        recording.rows.iter().map(|row| row.signal.changes.len().saturating_sub(1) as u64).sum();
    let fact = |term, text| Fact { term, text };
    vec![
        fact(
            "Time",
            format!("{}, a scan every {}", time_text(recording.end_ns), time_text(recording.scan_ns)),
        ),
        fact("Scans", scans.len().to_string()),
        fact("Instructions", format!("{instructions}, at most {most} in a scan")),
        fact(
            "Recorded",
            format!("{}, {}", counted(recording.rows.len() as u64, "row"), counted(changes, "change")),
        ),
    ]
}

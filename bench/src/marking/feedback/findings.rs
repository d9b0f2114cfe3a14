//! The parts of a page about what was found besides the verdicts of procedures: errors, what the interface lacks,
//! constraints, what was noticed while reading.

use std::collections::BTreeMap;

use latchwork_compiler::explain::explain;

use super::{
    model::{Block, Part, Text},
    procedures::lines,
    prose,
};
use crate::{
    diagram::counted,
    marking::{Finding, FindingKind, Gravity, Marked, State},
};

/// Most findings of a kind that are shown.
const SHOWN_MAX: usize = 12;
/// Most names of errors that are explained.
const EXPLAINED_MAX: usize = 5;

/// The parts about findings that there are.
pub(super) fn parts<'a>(marked: &Marked) -> Vec<Part<'a>> {
    let mut parts = Vec::new();
    parts.extend(budget(marked));
    parts.extend(errors(marked));
    parts.extend(interface(marked));
    parts.extend(constraints(marked));
    parts.extend(notes(marked));
    parts
}

fn of(marked: &Marked, wanted: impl Fn(&Finding) -> bool) -> Vec<&Finding> {
    marked.findings.iter().filter(|finding| wanted(finding)).collect()
}

/// What is too large, or a defect of this program.
fn budget<'a>(marked: &Marked) -> Option<Part<'a>> {
    let found = of(marked, |finding| matches!(finding.kind, FindingKind::Budget | FindingKind::Internal));
    if found.is_empty() {
        return None;
    }
    let title =
        if marked.state == State::OverBudget { "What is too large" } else { "What was noticed in the run" };
    let mut part = Part::new("limits", Text::new(title));
    list(&found, &mut part);
    Some(part)
}

/// Why it does not compile, and what each name means.
fn errors<'a>(marked: &Marked) -> Option<Part<'a>> {
    let errors =
        of(marked, |finding| finding.kind == FindingKind::Compile && finding.severity == Gravity::Error);
    let first = errors.first()?;
    if marked.state == State::Empty {
        let mut part = Part::new("errors", Text::new("What is missing"));
        list(&errors, &mut part);
        return Some(part);
    }
    let mut part = Part::new("errors", Text::new("Why it does not compile"));
    part.say(Text::new(match errors.len() {
        1 => "There is one error.".to_owned(),
        count => format!(
            "There are {}. Mend the first one first, then compile again: one slip often brings further errors with it.",
            counted(count as u64, "error")
        ),
    }));
    for (index, finding) in errors.iter().take(SHOWN_MAX).enumerate() {
        let label = format!(
            "Error {}{}",
            index + 1,
            place(finding).map(|place| format!(", {place}")).unwrap_or_default()
        );
        shown(finding, &label, &mut part);
    }
    more(errors.len(), "error", &mut part);
    // How often each name is there, in the order in which it comes first.
    let mut names: Vec<&str> = Vec::new();
    let mut counts: BTreeMap<&str, u64> = BTreeMap::new();
    for finding in &errors {
        let count = counts.entry(&finding.name).or_default();
        *count += 1;
        if *count == 1 {
            names.push(&finding.name);
        }
    }
    let known: Vec<&str> = names.into_iter().filter(|name| explain(name).is_some()).collect();
    if known.is_empty() {
        return Some(part);
    }
    part.blocks.push(Block::Heading(1, Text::new("What the errors mean")));
    for name in known.iter().take(EXPLAINED_MAX) {
        let times = match counts.get(name) {
            Some(1) | None => String::new(),
            Some(count) => format!(", {count} times"),
        };
        part.blocks.extend(explanation(name, Text::default().code(*name).words(times), first.name == **name));
    }
    if known.len() > EXPLAINED_MAX {
        let rest = known.iter().skip(EXPLAINED_MAX).take(SHOWN_MAX);
        let rest = Text::list(rest.map(|name| Text::default().code(*name)).collect());
        let left_out = known.len() - EXPLAINED_MAX;
        part.say(Text::new(format!("And {left_out} more: ")).then(rest).words(". ").then(how_to_ask()));
    }
    Some(part)
}

fn how_to_ask() -> Text {
    Text::default().code("latchwork explain NAME").words(" shows the page of each.")
}

/// The page about a name: prose and what is right; open, or to be opened.
pub(super) fn explanation<'a>(name: &str, heading: Text, open: bool) -> Option<Block<'a>> {
    let page = explain(name)?;
    let mut blocks: Vec<Block<'a>> = Vec::new();
    for block in prose::blocks(page.text) {
        match block {
            // The name itself.
            Block::Heading(1, _) => {}
            Block::Lines(said, _) if said.ends_with("wrong") => {}
            Block::Lines(said, code) if said.ends_with("right") => {
                blocks.push(Block::Paragraph(Text::new("Right is, for example:")));
                blocks.push(Block::Lines("An example that is right".to_owned(), code));
            }
            block => blocks.push(block),
        }
    }
    if open {
        blocks.insert(0, Block::Paragraph(heading));
        return Some(Block::Quote(blocks));
    }
    Some(Block::Folded(heading, blocks))
}

/// What must be there and is not.
fn interface<'a>(marked: &Marked) -> Option<Part<'a>> {
    let found = of(marked, |finding| finding.kind == FindingKind::Interface);
    if found.is_empty() {
        return None;
    }
    let mut part = Part::new("interface", Text::new("What the panel does not find in the program"));
    part.say(Text::new(
        "The panel is wired to names and addresses. What is called otherwise, or lies elsewhere, is not reached.",
    ));
    list(&found, &mut part);
    Some(part)
}

/// What was not kept, with what it costs.
fn constraints<'a>(marked: &Marked) -> Option<Part<'a>> {
    let found = of(marked, |finding| finding.kind == FindingKind::Constraint);
    if found.is_empty() {
        return None;
    }
    let mut part = Part::new("constraints", Text::new("What the task demands besides"));
    let all = counted(found.len() as u64, "demand");
    let (was, costs) = if found.len() == 1 { ("was", "costs") } else { ("were", "together cost") };
    part.say(match marked.deducted.hundredths() {
        0 => Text::new(format!("{all} {was} not kept.")),
        _ => Text::new(format!("{all} {was} not kept, which {costs} "))
            .strong(marked.deducted.counted())
            .words("."),
    });
    list(&found, &mut part);
    Some(part)
}

/// What was noticed while reading and compiling, and costs nothing.
fn notes<'a>(marked: &Marked) -> Option<Part<'a>> {
    let found = of(marked, |finding| match finding.kind {
        // That there is nothing stands at the head.
        FindingKind::Intake => marked.state != State::NothingHandedIn,
        FindingKind::Compile => finding.severity != Gravity::Error,
        _ => false,
    });
    if found.is_empty() {
        return None;
    }
    let mut part = Part::new("notes", Text::new("What else was noticed"));
    list(&found, &mut part);
    Some(part)
}

/// Findings one after the other: those with an excerpt of the text in full, of the others the message.
fn list<'a>(found: &[&Finding], part: &mut Part<'a>) {
    let mut points: Vec<Vec<Block<'a>>> = Vec::new();
    for finding in found.iter().take(SHOWN_MAX) {
        let message = Text::message(&finding.message).sentence();
        // A message about a whole file names it.
        let is_named = |place: &String| finding.line.is_none() && finding.message.contains(place.as_str());
        let place = place(finding).filter(|place| !is_named(place));
        let place = place.map(|place| format!(" ({place})")).unwrap_or_default();
        let mut point = vec![Block::Paragraph(message.words(format!("{place}.")))];
        if has_excerpt(finding) {
            point.push(lines("The place", &finding.shown));
        }
        points.push(point);
    }
    part.blocks.push(Block::List(None, points));
    more(found.len(), "point", part);
}

/// A finding in full.
fn shown(finding: &Finding, label: &str, part: &mut Part<'_>) {
    if has_excerpt(finding) {
        part.blocks.push(lines(label, &finding.shown));
    } else {
        part.say(Text::new(format!("{label}: ")).then(Text::message(&finding.message)).words("."));
    }
}

/// Whether more is shown of it than its message.
fn has_excerpt(finding: &Finding) -> bool {
    finding.shown.trim().lines().count() > 1
}

fn more(all: usize, noun: &str, part: &mut Part<'_>) {
    if let Some(left_out @ 1..) = all.checked_sub(SHOWN_MAX) {
        let plural = if left_out == 1 { "" } else { "s" };
        part.say(Text::new(format!("And {left_out} more {noun}{plural}.")));
    }
}

/// "line 12 of pump.st".
pub(super) fn place(finding: &Finding) -> Option<String> {
    match (finding.line, &finding.file) {
        (Some(line), Some(file)) => Some(format!("line {line} of {file}")),
        (Some(line), None) => Some(format!("line {line}")),
        (None, Some(file)) => Some(file.clone()),
        (None, None) => None,
    }
}

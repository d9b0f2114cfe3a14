//! The parts of a page about procedures: what was asked, what happened, what was expected, and what may help.
//!
//! Of a procedure that is kept back nothing is said but what it earned.

use std::collections::BTreeSet;

use latchwork_compiler::render;
use latchwork_grammar::Sources;

use super::{
    ITEMS_LISTED_MAX, REPORT_BYTES_MAX, cropped, excerpt,
    findings::explanation,
    model::{Block, Part, Text, Tone},
    picture,
};
use crate::{
    diagram::{scale::time_text, words::harmless},
    marking::{
        Divergence, Evidence, ExerciseTexts, Item, ItemEvidence, ItemKind, ItemResult, ItemVerdict, Marked,
        State, names::without_folders,
    },
    procedure::{
        Failure, FailureKind,
        report::{self, ReportSources},
    },
};

/// Most procedures that are told one by one.
const TOLD_MAX: usize = 100;

/// The part about all procedures, with those that passed, and one under it for each other that is shown.
pub(super) fn parts<'a>(texts: &ExerciseTexts<'_>, marked: &Marked, evidence: &'a Evidence) -> Vec<Part<'a>> {
    let mut parts = Vec::new();
    let mut passed = Vec::new();
    let mut more = 0u64;
    let mut explained = BTreeSet::new();
    let procedures = texts.scheme.items.iter().zip(&marked.items).enumerate();
    for (index, (item, result)) in procedures.filter(|(_, (item, _))| item.kind == ItemKind::Procedure) {
        if !item.shown || result.verdict == ItemVerdict::NotRun {
            continue;
        }
        if result.verdict == ItemVerdict::Passed && passed.len() < ITEMS_LISTED_MAX {
            let points = format!("{} of {}", result.points, item.points.counted());
            let title = Text::default()
                .verdict(Tone::Well, result.verdict.words())
                .words(format!(": {}, {points}", harmless(&item.title)));
            passed.push(vec![Block::Paragraph(title)]);
            continue;
        }
        if parts.len() == TOLD_MAX {
            more += 1;
            continue;
        }
        let asked = Asked { texts, evidence, item, result, sources: texts.procedures.get(index).copied() };
        parts.push(asked.part(index, evidence.items.get(index), &mut explained));
    }
    if parts.is_empty() && passed.is_empty() {
        return parts;
    }
    let mut head = Part::new("procedures", Text::new("The procedures one by one"));
    head.say(Text::new(
        "Each procedure works the panel step by step and looks at what the loads do. Of one that does not pass, the first \
         thing is told that is not as expected; what comes behind it may only follow from that.",
    ));
    if more > 0 {
        head.say(Text::new(format!(
            "The first {TOLD_MAX} are told here; {more} more stand in the table of points."
        )));
    }
    if !passed.is_empty() {
        head.blocks.push(Block::List(None, passed));
    }
    parts.insert(0, head);
    parts
}

/// Where the part about an item stands.
pub(super) fn anchor(index: usize) -> String {
    format!("procedure-{}", index + 1)
}

/// A procedure that is shown, and what is known of it.
struct Asked<'t> {
    texts: &'t ExerciseTexts<'t>,
    evidence: &'t Evidence,
    item: &'t Item,
    result: &'t ItemResult,
    sources: Option<&'t Sources>,
}

impl Asked<'_> {
    fn part<'a>(
        &self,
        index: usize,
        evidence: Option<&'a ItemEvidence>,
        explained: &mut BTreeSet<String>,
    ) -> Part<'a> {
        let mut part = Part::new(&anchor(index), Text::new(self.item.title.as_str())).inner();
        part.say(self.outcome());
        let failure = evidence.and_then(|evidence| evidence.failure.as_deref());
        let problems = evidence.map_or(&[][..], |evidence| &evidence.problems);
        let sources = self.sources.filter(|sources| {
            let has = |file| sources.iter().any(|(id, _)| id == file);
            failure.is_none_or(|failure| has(failure.step.file))
                && problems.iter().all(|problem| has(problem.primary.span.file))
        });
        let sources = sources.map(without_folders);
        match (failure, &sources) {
            (Some(failure), Some(sources)) => {
                let expected = evidence.and_then(|evidence| evidence.expected.as_deref());
                self.failed(failure, sources, &mut part);
                part.blocks.extend(picture::blocks(failure, expected));
            }
            (None, Some(sources)) if !problems.is_empty() => {
                part.say(Text::new(
                    "It could not be run on your program: it asks for something that is not there, or not of the kind \
                     that it needs.",
                ));
                let told = render::excerpts(problems, sources, false);
                part.blocks.push(lines("Why it could not be run", &told));
            }
            // The record alone, without what was at hand when it was made.
            _ => part.blocks.extend(self.result.failure.as_ref().map(recorded)),
        }
        let step_hint = failure.and_then(|failure| failure.hint.as_deref());
        if let Some(hint) = step_hint.or(self.item.hint.as_deref()) {
            part.blocks.push(Block::Remark("Hint", Text::message(hint)));
        }
        if let Some(hint) =
            self.item.hint.as_deref().filter(|hint| step_hint.is_some_and(|of_step| of_step != *hint))
        {
            part.blocks.push(Block::Remark("Hint for the whole procedure", Text::message(hint)));
        }
        if let Some(divergence) = &self.result.failure
            && explained.insert(divergence.name.clone())
        {
            let heading = Text::new("What ").code(divergence.name.as_str()).words(" means");
            part.blocks.extend(explanation(&divergence.name, heading, false));
        }
        part
    }

    /// Verdict and points.
    fn outcome(&self) -> Text {
        let Item { points, .. } = self.item;
        let result = self.result;
        let mut text = Text::default().verdict(result.verdict.into(), result.verdict.words()).words(format!(
            ": {} of {}",
            result.points,
            points.counted()
        ));
        if let Some((met, all)) = result.met.filter(|_| result.verdict != ItemVerdict::Passed) {
            text = text.words(format!(", {met} of {all} expectations met"));
        }
        text.words(".")
    }

    fn failed(&self, failure: &Failure, sources: &Sources, part: &mut Part<'_>) {
        if let Some(around) = excerpt::around(failure.step, sources) {
            part.blocks.push(Block::Heading(1, Text::new("What was asked")));
            part.blocks.push(lines("The step, with the procedure up to it", &around));
        }
        let plant = match failure.kind {
            FailureKind::PlantFault(_) => without_folders(self.texts.plant),
            _ => Sources::new(),
        };
        let all = ReportSources { procedure: sources, program: &self.evidence.sources, plant: &plant };
        part.blocks.push(Block::Heading(1, Text::new("What happened")));
        let scan =
            failure.scan.map_or_else(String::new, |scan| format!(", in scan {}", scan.saturating_add(1)));
        // What stopped a run is told with its own time.
        let is_fault = matches!(failure.kind, FailureKind::Fault(_) | FailureKind::PlantFault(_));
        let when = match is_fault {
            true => Text::default(),
            false => Text::new(format!("At {}{scan}: ", time_text(failure.time_ns))),
        };
        let (headline, label) = (report::headline(failure, all), report::label(failure, all));
        let said = when.then(Text::message(&headline));
        // Of a condition that was looked at once the label says the same with the time, which stands in front already.
        let said = match label.starts_with(&headline) {
            true => said,
            false => said.words("; ").then(Text::message(&label)),
        };
        part.say(said.words(".").sentence());
        let told = report::message_without_hint(failure, all, false);
        part.blocks.push(lines("The message in full", &told));
    }
}

/// What the record of a failure says.
fn recorded<'a>(divergence: &Divergence) -> Block<'a> {
    let at = time_text(divergence.time_ns);
    let scan =
        divergence.scan.map_or_else(String::new, |scan| format!(", in scan {}", scan.saturating_add(1)));
    let line = divergence.line.map_or_else(String::new, |line| format!(" (line {line} of the procedure)"));
    Block::Paragraph(
        Text::new(format!("At {at}{scan}: "))
            .then(Text::message(&divergence.message))
            .words(format!("{line}.")),
    )
}

/// Lines as they are, as many as have room.
pub(super) fn lines<'a>(label: &str, text: &str) -> Block<'a> {
    Block::Lines(label.to_owned(), cropped(text, REPORT_BYTES_MAX))
}

/// How all procedures that are kept back went, as the rows of a table would say it.
pub(super) fn kept_back<'a>(texts: &ExerciseTexts<'_>, marked: &Marked) -> Vec<Part<'a>> {
    let all = texts.scheme.items.iter().zip(&marked.items);
    let kept: Vec<_> = all.filter(|(item, _)| !item.shown).collect();
    if kept.is_empty() || marked.state != State::Ran {
        return Vec::new();
    }
    let mut part = Part::new("kept-back", Text::new("Procedures kept back"));
    part.say(Text::new(
        "The exercise tries more than it shows. All that these procedures ask for stands in the task; what they are stays \
         with the instructor.",
    ));
    let rows = kept.iter().take(ITEMS_LISTED_MAX).enumerate().map(|(index, (item, result))| {
        let words = format!("{} of {}", result.points, item.points.counted());
        let text = Text::new(format!("a procedure kept back ({}): ", index + 1));
        vec![Block::Paragraph(text.verdict(Tone::of(result.points, item.points), words))]
    });
    part.blocks.push(Block::List(None, rows.collect()));
    vec![part]
}

//! What the run of a procedure is worth.

use std::sync::Arc;

use latchwork_compiler::render;
use latchwork_grammar::{Diagnostic, Sources, Span};
use latchwork_vm::Program;

use super::{
    evidence::ItemEvidence,
    marker::Marker,
    model::{Divergence, ItemResult, ItemVerdict},
    points::Points,
};
use crate::{
    exercise::Credit,
    procedure::{
        Failure, Outcome, RunOptions, Tally, Verdict,
        report::{self, ReportSources},
    },
};

impl Marker<'_> {
    pub(super) fn options_of(&self, item: usize) -> RunOptions {
        let shown = self.scheme.items.get(item).is_some_and(|item| item.shown);
        RunOptions {
            // Of what is kept back nothing is explained.
            brief: !shown,
            carry_on: self.credit_of(item) == Credit::ByExpectation,
            ..self.run_options()
        }
    }

    fn credit_of(&self, item: usize) -> Credit {
        let file = self.places.get(item).copied().flatten().map(|(file, _)| file);
        let described = file.and_then(|file| self.parts.exercise.procedures.get(file));
        described.map_or(Credit::AllOrNothing, |file| file.credit)
    }

    /// The result of a run, and what is known of it.
    pub(super) fn judged(
        &self,
        index: usize,
        outcome: Outcome,
        program: &Sources,
    ) -> (ItemResult, ItemEvidence) {
        let worth = self.scheme.items.get(index).map_or(Points::ZERO, |item| item.points);
        let met = outcome.tally.map(|tally| (tally.met, tally.all));
        match outcome.verdict {
            Verdict::Passed => {
                let result = ItemResult { verdict: ItemVerdict::Passed, points: worth, met, failure: None };
                (result, ItemEvidence::default())
            }
            Verdict::Refused(problems) => self.refused(index, problems),
            Verdict::Failed(failure) => {
                let points = outcome.tally.map_or(Points::ZERO, |tally| self.share(index, worth, tally));
                let verdict = if points > Points::ZERO { ItemVerdict::Partly } else { ItemVerdict::Failed };
                let failed = Some(self.divergence(index, &failure, program));
                let result = ItemResult { verdict, points, met, failure: failed };
                let shown = self.scheme.items.get(index).is_some_and(|item| item.shown);
                let expected = if shown { self.expected_beside(index, &failure) } else { None };
                let evidence =
                    ItemEvidence { failure: shown.then_some(failure), expected, problems: Vec::new() };
                (result, evidence)
            }
        }
    }

    /// A share of an item's points: for the expectations met, less those that a program meets which does nothing.
    fn share(&self, index: usize, worth: Points, tally: Tally) -> Points {
        let idle = self.by_nothing.get(index).copied().flatten().map_or(0, |tally| tally.met);
        let all = u64::from(tally.all.saturating_sub(idle));
        let met = u64::from(tally.met.saturating_sub(idle));
        // One was not met, or there would be no question.
        worth.share(met.min(all.saturating_sub(1)), all.max(1))
    }

    fn divergence(&self, index: usize, failure: &Failure, program: &Sources) -> Divergence {
        let procedure = self.sources_of(index);
        let sources = ReportSources { procedure, program, plant: self.parts.plant };
        Divergence {
            name: report::failure_name(&failure.kind).to_owned(),
            message: report::headline(failure, sources),
            line: line_of(procedure, failure.step),
            time_ns: failure.time_ns,
            scan: failure.scan,
        }
    }

    pub(super) fn refused(&self, index: usize, problems: Vec<Diagnostic>) -> (ItemResult, ItemEvidence) {
        let procedure = self.sources_of(index);
        let failure = problems.first().map(|problem| Divergence {
            name: problem.name.to_owned(),
            message: problem.message.clone(),
            line: line_of(procedure, problem.primary.span),
            time_ns: 0,
            scan: None,
        });
        let result = ItemResult { verdict: ItemVerdict::Refused, points: Points::ZERO, met: None, failure };
        let shown = self.scheme.items.get(index).is_some_and(|item| item.shown);
        let problems = if shown { problems } else { Vec::new() };
        (result, ItemEvidence { problems, ..ItemEvidence::default() })
    }

    /// Whether any load ever changes in any procedure.
    pub(super) fn works_a_load(&self, program: &Arc<Program>) -> bool {
        let loads = self.parts.station.into_iter().flat_map(|station| &station.loads);
        let loads: Vec<String> = loads.map(|load| load.name.value.clone()).collect();
        if loads.is_empty() {
            return false;
        }
        let options = RunOptions { record: Some(loads), carry_on: true, brief: true, ..self.run_options() };
        self.places.iter().flatten().any(|(file, number)| {
            let Ok(script) = self.script(*file, program) else { return false };
            let recording = script.run(*number, &options).compared;
            recording.is_some_and(|recording| recording.changes().iter().any(|changes| changes.len() > 1))
        })
    }
}

fn line_of(sources: &Sources, span: Span) -> Option<u32> {
    render::position(sources, span).and_then(|place| u32::try_from(place.line).ok())
}

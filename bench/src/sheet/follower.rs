//! The course of a procedure as the steps of a sheet.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Span,
    steps::tree::{ExpectTime, Expected, Step as TreeStep, StepKind},
};

use super::{
    Step, Watch,
    demands::Meaning,
    rows::{self, Start, stopped},
    text::Text,
    words::stopwatch,
};
use crate::procedure::{
    Failure, FailureKind, Outcome, Verdict,
    course::{Course, Entry},
};

/// A procedure as steps.
#[derive(Default)]
pub(super) struct Followed {
    pub(super) steps: Vec<Step>,
    /// What holds all along.
    pub(super) throughout: Vec<Text>,
    /// What is to be said of the whole.
    pub(super) remarks: Vec<Text>,
}

/// Puts a course into steps.
pub(super) struct Follower<'a> {
    meaning: &'a Meaning<'a>,
    tree: &'a BTreeMap<Span, &'a TreeStep>,
    scan_ns: i64,
    /// Number of steps on the sheet before these.
    before: usize,
    /// What is done before the same scan is one step.
    together: bool,
    made: Followed,
    /// Entries that ask for something, with the places of their steps.
    asked: Vec<(Span, usize)>,
    /// The rules that are told already.
    ruled: Vec<Span>,
    /// Expectations whose block is being done: depth, expectation, the step it begins in.
    blocks: Vec<(u32, Span, usize)>,
}

impl<'a> Follower<'a> {
    pub(super) fn new(
        meaning: &'a Meaning<'a>,
        tree: &'a BTreeMap<Span, &'a TreeStep>,
        scan_ns: i64,
        before: usize,
        together: bool,
    ) -> Self {
        Follower {
            meaning,
            tree,
            scan_ns,
            before,
            together,
            made: Followed::default(),
            asked: Vec::new(),
            ruled: Vec::new(),
            blocks: Vec::new(),
        }
    }

    /// The steps of a run, behind a first one that starts it.
    pub(super) fn follow(mut self, outcome: &Outcome, start: &Start) -> Followed {
        let Some(course) = &outcome.course else { return self.made };
        self.made.steps.push(Step { number: self.before + 1, ..Step::default() });
        for (index, entry) in course.entries.iter().enumerate() {
            self.close_blocks(entry.depth, entry.from_ns);
            let has_inner = course.entries.get(index + 1).is_some_and(|next| next.depth > entry.depth);
            self.entry(entry, has_inner);
        }
        self.close_blocks(0, course.end_ns);
        if let Some(first) = self.made.steps.first_mut() {
            first.does = start.does(std::mem::take(&mut first.does));
        }
        self.end(course);
        if course.is_cut {
            self.made.remarks.push(Text::new(
                "The procedure is longer than this sheet: the rest is left out. `latchwork test` runs all of it.",
            ));
        }
        if let Verdict::Failed(failure) = &outcome.verdict {
            self.failed(failure);
        }
        self.made
    }

    fn entry(&mut self, entry: &Entry, has_inner: bool) {
        let Some(step) = self.tree.get(&entry.step).copied() else { return };
        match &step.kind {
            StepKind::Expect(expect) => match &expect.when {
                ExpectTime::While(_) => self.blocks.push((entry.depth, entry.step, self.made.steps.len())),
                _ => {
                    let demand = self.meaning.demand(expect, self.since_ns(entry.from_ns));
                    self.demand(entry.step, demand);
                }
            },
            StepKind::Repeat { .. } if has_inner => {}
            kind => {
                if let Some(rule) = self.meaning.rule(kind) {
                    self.rule(entry.step, rule);
                }
                if let Some(act) = self.meaning.act(step) {
                    self.act(entry.from_ns, act);
                    if self.meaning.is_too_quick(step)
                        && let Some(last) = self.made.steps.last_mut()
                    {
                        last.remarks.push(Text::new(
                            "This is too quick for a hand; leave it out if the board cannot do it.",
                        ));
                    }
                }
            }
        }
    }

    /// How long ago the last thing was done.
    fn since_ns(&self, now_ns: i64) -> i64 {
        self.made.steps.last().map_or(0, |step| now_ns.saturating_sub(step.span_ns.0))
    }

    fn act(&mut self, from_ns: i64, act: Text) {
        let act = act.words(".");
        let number = self.before + self.made.steps.len() + 1;
        // Before the first scan the program has not been started.
        match self.made.steps.last_mut() {
            Some(last) if self.together && last.span_ns.0 == from_ns => last.does.push(act),
            _ => self.made.steps.push(Step {
                number,
                does: vec![act],
                span_ns: (from_ns, from_ns),
                ..Step::default()
            }),
        }
    }

    fn demand(&mut self, asked_by: Span, demand: Text) {
        let demand = demand.words(".").sentence();
        let place = self.made.steps.len().saturating_sub(1);
        if let Some(last) = self.made.steps.last_mut() {
            if last.demands.last() != Some(&demand) {
                last.demands.push(demand);
            }
            self.asked.push((asked_by, place));
        }
    }

    fn rule(&mut self, step: Span, rule: Text) {
        if self.ruled.contains(&step) {
            return;
        }
        self.ruled.push(step);
        let rule = match self.made.steps.len() {
            1 => rule,
            count => Text::new(&format!("from step {} on, ", self.before + count)).then(rule),
        };
        self.made.throughout.push(rule.words(".").sentence());
    }

    /// Tells the expectations about blocks that are done.
    fn close_blocks(&mut self, depth: u32, now_ns: i64) {
        while let Some((_, span, first)) = self.blocks.pop_if(|(of_block, _, _)| *of_block >= depth) {
            let Some(StepKind::Expect(expect)) = self.tree.get(&span).map(|step| &step.kind) else {
                continue;
            };
            let (from, to) = (self.before + first + 1, self.before + self.made.steps.len());
            let during = match (&expect.what, from < to) {
                _ if from > to => String::new(),
                (Expected::Edges { .. }, true) => format!("in steps {from} to {to} together, "),
                (_, true) => format!("in steps {from} to {to}, "),
                (_, false) => "in this step, ".to_owned(),
            };
            let demand = Text::new(&during).then(self.meaning.demand(expect, self.since_ns(now_ns)));
            self.demand(span, demand);
        }
    }

    /// Takes the time of each step, and what the loads do in it.
    fn end(&mut self, course: &Course) {
        let starts: Vec<i64> = self.made.steps.iter().map(|step| step.span_ns.0).collect();
        for (index, step) in self.made.steps.iter_mut().enumerate() {
            let next_ns = starts.get(index + 1).copied();
            let until_ns = next_ns.unwrap_or(course.end_ns);
            step.span_ns.1 = until_ns;
            let long_ns = until_ns.saturating_sub(step.span_ns.0);
            // Behind the last step nothing more is done.
            let ahead = next_ns.and_then(|next_ns| course.ahead.iter().find(|ahead| ahead.at_ns == next_ns));
            let most_ns =
                ahead.and_then(|ahead| ahead.change_ns).map(|change_ns| long_ns.saturating_add(change_ns));
            step.watch = Watch { least_ns: long_ns, most_ns };
            if long_ns > 0 {
                step.expected =
                    rows::behaviours(self.meaning.station, &course.loads, step.span_ns, self.scan_ns);
                step.told = rows::told(self.meaning.station, &step.expected);
            }
        }
    }

    fn failed(&mut self, failure: &Failure) {
        let time_ns = failure.time_ns;
        match &failure.kind {
            FailureKind::Fault(fault) => self.stopped_at(time_ns, stopped(fault, false)),
            FailureKind::PlantFault(fault) => self.stopped_at(time_ns, stopped(fault, true)),
            FailureKind::ConditionFault(fault) => {
                let remark = format!("This cannot be computed in the simulation: {}.", fault.message());
                self.stopped_at(time_ns, Text::new(&remark).trouble());
            }
            FailureKind::TooLong { limit, what } => {
                let remark = format!("The simulation ended here, after {limit} {what}.");
                self.stopped_at(time_ns, Text::new(&remark).trouble());
            }
            FailureKind::ValueRefused { reason } => {
                let remark = format!("This value cannot be set: {reason}.");
                self.stopped_at(time_ns, Text::new(&remark).trouble());
            }
            FailureKind::AlreadyLater { .. } => {
                let remark = "In the simulation it is later already than the procedure says.";
                self.stopped_at(time_ns, Text::new(remark).trouble());
            }
            FailureKind::Trace(_) | FailureKind::NotApproved { .. } | FailureKind::NotCompared { .. } => {
                let remark = "In the simulation this procedure does not follow its recorded trace; see `latchwork test`.";
                self.made.remarks.push(Text::new(remark).trouble());
            }
            FailureKind::Now
            | FailureKind::Within { .. }
            | FailureKind::For { .. }
            | FailureKind::TooEarly { .. }
            | FailureKind::TooLate { .. }
            | FailureKind::While
            | FailureKind::Edges { .. }
            | FailureKind::Always
            | FailureKind::Never
            | FailureKind::Response { .. } => self.not_met(failure),
        }
    }

    /// Something that was asked for and is not so in the simulation.
    fn not_met(&mut self, failure: &Failure) {
        let places = self.asked.iter().filter(|(span, _)| *span == failure.step).map(|(_, place)| *place);
        // Of a step that is done several times the one of that moment.
        let has_begun =
            |place: &usize| self.made.steps.get(*place).is_some_and(|step| step.span_ns.0 <= failure.time_ns);
        let place = places.clone().rfind(has_begun).or(places.clone().next());
        match place.and_then(|place| self.made.steps.get_mut(place)) {
            Some(step) => {
                step.remarks
                    .push(Text::new("In the simulation, what is asked for here is not met.").trouble());
            }
            None => {
                let when = stopwatch(failure.time_ns);
                let remark = format!(
                    "In the simulation, what is asked for in all steps is not kept, {when} after the start."
                );
                self.made.remarks.push(Text::new(&remark).trouble());
            }
        }
    }

    /// Something went wrong at a moment; mostly it ended the run.
    fn stopped_at(&mut self, time_ns: i64, remark: Text) {
        let place = self.made.steps.iter().rposition(|step| step.span_ns.0 <= time_ns).unwrap_or(0);
        let is_last = place + 1 == self.made.steps.len();
        if let Some(step) = self.made.steps.get_mut(place) {
            if is_last {
                // What was seen before it stopped is not what is seen in the end.
                (step.expected, step.told) = Default::default();
                step.remarks.push(remark.words(" The rest of the procedure is left out."));
            } else {
                step.remarks.push(remark);
            }
        }
    }
}

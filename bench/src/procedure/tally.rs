//! How many of the expectations of a procedure are met, in a run that carries on when one is not.

use std::collections::BTreeSet;

use latchwork_grammar::{
    Span,
    steps::tree::{ExpectTime, Procedure, Step, StepKind},
};

/// Expectations met, of all that stand in the procedure. One in a repeated block counts once, and is met if it was every
/// time; one that the run did not come to is not met, and what holds throughout only if the run came to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tally {
    /// Met.
    pub met: u32,
    /// All: expectations, rules, and the comparisons with recorded traces as one.
    pub all: u32,
}

/// What became of the expectations of a run.
#[derive(Clone, Debug, Default)]
pub(super) struct Decided {
    /// Expectations that were decided.
    pub(super) decided: BTreeSet<Span>,
    /// Those, and rules, that were not met.
    pub(super) unmet: BTreeSet<Span>,
}

impl Decided {
    /// Counts when the run is over: whether it came to its end, and whether what was compared was followed.
    pub(super) fn tally(&self, procedure: &Procedure, ended: bool, followed: bool) -> Tally {
        let mut expectations = BTreeSet::new();
        let mut rules = BTreeSet::new();
        collect(&procedure.steps, &mut expectations, &mut rules);
        let expected = expectations.intersection(&self.decided).filter(|span| !self.unmet.contains(*span));
        let held = rules.iter().filter(|span| ended && !self.unmet.contains(*span));
        let compares = !procedure.comparisons.is_empty();
        let traces = usize::from(compares && ended && followed);
        let all = expectations.len() + rules.len() + usize::from(compares);
        // A file of procedures has less than 2^32 bytes.
        Tally { met: (expected.count() + held.count() + traces) as u32, all: all as u32 }
    }
}

fn collect(steps: &[Step], expectations: &mut BTreeSet<Span>, rules: &mut BTreeSet<Span>) {
    for step in steps {
        match &step.kind {
            StepKind::Expect(expect) => {
                expectations.insert(step.span);
                if let ExpectTime::While(steps) = &expect.when {
                    collect(steps, expectations, rules);
                }
            }
            StepKind::Repeat { steps, .. } => collect(steps, expectations, rules),
            StepKind::Always(_) | StepKind::Never(_) | StepKind::Whenever { .. } => {
                _ = rules.insert(step.span)
            }
            _ => {}
        }
    }
}

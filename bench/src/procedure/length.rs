//! How long a procedure takes at least, before it is run: one that can never end in time is refused where it says so.

use latchwork_grammar::Span;

use super::bound::{BoundKind, BoundStep, BoundTime};

/// The least simulated time of steps in nanoseconds, and the step that takes most of it.
pub(super) fn least_ns(steps: &[BoundStep]) -> (i128, Option<Span>) {
    let mut sum = 0;
    let mut longest: Option<(i128, Span)> = None;
    for step in steps {
        let takes = match &step.kind {
            BoundKind::Press { hold_ns: Some(hold_ns), .. } => i128::from(*hold_ns),
            BoundKind::Wait(duration_ns) => i128::from(*duration_ns),
            BoundKind::At(time_ns) => (i128::from(*time_ns) - sum).max(0),
            BoundKind::Repeat { times, steps } => i128::from(*times).saturating_mul(least_ns(steps).0),
            BoundKind::Expect(expect) => match &expect.when {
                BoundTime::For(stay_ns) | BoundTime::WithinFor(_, stay_ns) => i128::from(*stay_ns),
                BoundTime::Between(from_ns, _) => i128::from(*from_ns),
                BoundTime::While(steps) => least_ns(steps).0,
                BoundTime::Now | BoundTime::Within(_) => 0,
            },
            _ => 0,
        };
        sum += takes;
        if longest.is_none_or(|(most, _)| takes > most) {
            longest = Some((takes, step.span));
        }
    }
    (sum, longest.map(|(_, span)| span))
}

/// The number of steps that are run, those of repeated blocks counted each time.
pub(super) fn step_count(steps: &[BoundStep]) -> u128 {
    let count = |step: &BoundStep| match &step.kind {
        BoundKind::Repeat { times, steps } => {
            u128::from(*times).saturating_mul(step_count(steps)).saturating_add(1)
        }
        BoundKind::Expect(expect) => match &expect.when {
            BoundTime::While(steps) => step_count(steps).saturating_add(1),
            _ => 1,
        },
        _ => 1,
    };
    steps.iter().map(count).fold(0, u128::saturating_add)
}

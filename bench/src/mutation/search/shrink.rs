//! Fewer and shorter acts that do the same.

use latchwork_vm::Value;

use super::{
    SHRINK_ROUNDS_MAX,
    beside::{Beside, Came, Difference},
};
use crate::{procedure::Act, station::DeviceForm};

const MILLISECOND_NS: i64 = 1_000_000;

/// Times that a person writes, in milliseconds, shortest first.
const ROUND_MS: [i64; 12] = [10, 20, 50, 100, 200, 500, 1_000, 2_000, 5_000, 10_000, 20_000, 60_000];

/// Acts that let two programs part, up to the scan in which they do, and both behind it.
pub(super) struct Trial<'s> {
    pub(super) acts: Vec<Act>,
    pub(super) difference: Difference,
    /// When the acts began, in nanoseconds from the start of the run.
    pub(super) since_ns: i64,
    pub(super) end: Beside<'s>,
}

/// Does acts on both programs until they part. `terminals`: outputs count as well as loads.
pub(super) fn trial<'s>(
    base: &Beside<'s>,
    acts: &[Act],
    terminals: bool,
    left: &mut u64,
) -> Option<Trial<'s>> {
    let mut both = base.ahead();
    let acts = joined(acts);
    for (index, act) in acts.iter().enumerate() {
        let since_ns = both.reference.now_ns();
        let came = step(&mut both, act, terminals, left);
        let difference = match came {
            Came::Alike => continue,
            Came::Over => return None,
            Came::Apart(difference) => difference,
        };
        // Up to the scan that shows it, which an expectation then runs.
        let mut acts: Vec<Act> = acts.get(..index).unwrap_or_default().to_vec();
        let wait_ns = difference.at_ns.saturating_sub(since_ns);
        if wait_ns > 0 {
            acts.push(Act::Wait(wait_ns));
        }
        return Some(Trial { acts, difference, since_ns: base.reference.now_ns(), end: both });
    }
    None
}

/// The same acts, times one behind the other as one.
fn joined(acts: &[Act]) -> Vec<Act> {
    let mut joined: Vec<Act> = Vec::new();
    for act in acts {
        match (joined.last_mut(), act) {
            (Some(Act::Wait(sum_ns)), Act::Wait(more_ns)) => *sum_ns = sum_ns.saturating_add(*more_ns),
            _ => joined.push(act.clone()),
        }
    }
    joined
}

/// One act; where outputs count, scan by scan, since the first that differs is wanted with both as they are behind it.
fn step(both: &mut Beside<'_>, act: &Act, terminals: bool, left: &mut u64) -> Came {
    let (Act::Wait(duration_ns), true) = (act, terminals) else { return both.act(act, left) };
    let until_ns = both.reference.now_ns().saturating_add(*duration_ns);
    while both.reference.next_ns() < until_ns {
        let next_ns = both.reference.next_ns();
        let wait_ns = next_ns.saturating_add(1).saturating_sub(both.reference.now_ns());
        match both.act(&Act::Wait(wait_ns), left) {
            Came::Alike => {}
            came => return came,
        }
        if let Some(difference) = both.terminal {
            return Came::Apart(difference);
        }
    }
    both.reference.set_now(until_ns);
    both.mutant.set_now(until_ns);
    Came::Alike
}

/// Leaves out what is not needed, and shortens what is waited.
pub(super) fn shrink<'s>(base: &Beside<'s>, found: Trial<'s>, terminals: bool, left: &mut u64) -> Trial<'s> {
    let mut best = found;
    for _ in 0..SHRINK_ROUNDS_MAX {
        let before = best.acts.clone();
        leave_out(base, &mut best, terminals, left);
        work_instead(base, &mut best, terminals, left);
        shorten(base, &mut best, terminals, left);
        round(base, &mut best, terminals, left);
        if best.acts == before || *left == 0 {
            break;
        }
    }
    best
}

fn leave_out<'s>(base: &Beside<'s>, best: &mut Trial<'s>, terminals: bool, left: &mut u64) {
    let mut size = best.acts.len().div_ceil(2);
    while size > 0 {
        let mut end = best.acts.len();
        while end > 0 {
            let start = end.saturating_sub(size);
            let kept = best.acts.iter().enumerate().filter(|(index, _)| !(start..end).contains(index));
            let kept: Vec<Act> = kept.map(|(_, act)| act.clone()).collect();
            try_instead(base, best, kept, terminals, left);
            end = start.min(best.acts.len());
        }
        size /= 2;
    }
}

/// A device that is worked by hand instead of a fault in its wiring.
fn work_instead<'s>(base: &Beside<'s>, best: &mut Trial<'s>, terminals: bool, left: &mut u64) {
    for index in (0..best.acts.len()).rev() {
        for state in [true, false] {
            let Some(Act::PlaceDevice { device, .. }) = best.acts.get(index) else { continue };
            let two_state = base
                .panel()
                .devices()
                .get(*device)
                .is_some_and(|wired| matches!(wired.device.form, DeviceForm::TwoState { .. }));
            let driven = base.panel().plant().is_some_and(|plant| plant.drives(*device));
            if !two_state || driven {
                continue;
            }
            let instead = Act::Actuate { device: *device, state };
            let mut acts = best.acts.clone();
            if let Some(act) = acts.get_mut(index) {
                *act = instead;
            }
            try_instead(base, best, acts, terminals, left);
        }
    }
}

fn shorten<'s>(base: &Beside<'s>, best: &mut Trial<'s>, terminals: bool, left: &mut u64) {
    let mut index = best.acts.len();
    while index > 0 {
        index -= 1;
        let Some(Act::Wait(now_ns)) = best.acts.get(index).cloned() else { continue };
        let rounds = ROUND_MS.iter().map(|round| round * MILLISECOND_NS);
        // Then the same time without its last digits.
        let cut = ROUND_MS.iter().rev().map(|round| now_ns - now_ns % (round * MILLISECOND_NS));
        // What is no number of scans would only move the rest to the next time.
        let scan_ns = base.reference.scan_ns().max(1);
        let shorter = rounds.chain(cut).filter(|shorter| shorter % scan_ns == 0);
        for shorter_ns in shorter.filter(|shorter| (1..now_ns).contains(shorter)) {
            let mut acts = best.acts.clone();
            if let Some(act) = acts.get_mut(index) {
                *act = Act::Wait(shorter_ns);
            }
            if try_instead(base, best, acts, terminals, left) {
                break;
            }
        }
        index = index.min(best.acts.len());
    }
}

/// Values with fewer digits.
fn round<'s>(base: &Beside<'s>, best: &mut Trial<'s>, terminals: bool, left: &mut u64) {
    for index in (0..best.acts.len()).rev() {
        for scale in [1.0, 10.0, 100.0] {
            let mut acts = best.acts.clone();
            let Some(Act::Set { value: Value::Lreal(number), .. }) = acts.get_mut(index) else { continue };
            let rounded = libm::round(*number * scale) / scale;
            if rounded == *number {
                break;
            }
            *number = rounded;
            let more = size(best).1.saturating_add(1);
            if try_below(base, best, acts, terminals, left, (size(best).0, more)) {
                break;
            }
        }
    }
}

/// Takes other acts if they do the same, and are not more.
fn try_instead<'s>(
    base: &Beside<'s>,
    best: &mut Trial<'s>,
    acts: Vec<Act>,
    terminals: bool,
    left: &mut u64,
) -> bool {
    let below = size(best);
    try_below(base, best, acts, terminals, left, below)
}

/// Takes other acts if they do the same, and their size is below a limit.
fn try_below<'s>(
    base: &Beside<'s>,
    best: &mut Trial<'s>,
    acts: Vec<Act>,
    terminals: bool,
    left: &mut u64,
    below: (usize, i64),
) -> bool {
    // The last time ends in the scan that shows it, so the time behind is what it takes to come there.
    let mut longer = acts;
    longer.push(Act::Wait(super::BEHIND_NS));
    match trial(base, &longer, terminals, left) {
        Some(other) if size(&other) < below => {
            *best = other;
            true
        }
        _ => false,
    }
}

/// How much is done, then the time it takes. What is not worked at the panel weighs more.
fn size(trial: &Trial<'_>) -> (usize, i64) {
    let weight = |act: &Act| match act {
        Act::Wait(_) => 0,
        Act::Actuate { .. } | Act::Set { .. } => 1,
        Act::Ramp { .. } | Act::ClearAll => 2,
        Act::PlaceDevice { .. } | Act::PlaceLoad { .. } | Act::Restart(_) => 3,
    };
    (trial.acts.iter().map(weight).sum(), trial.difference.at_ns)
}

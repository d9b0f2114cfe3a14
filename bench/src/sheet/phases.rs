//! From the changes of a two-state load to what a person sees: coming on and going off, flashes, blinking.

use super::behaviour::Phase;

/// A pulse that is shorter is only a flash for a person.
const FLASH_NS: i64 = 150_000_000;

/// Intervals in a row that make changes blinking.
const BLINK_INTERVALS: usize = 3;

/// Changes, alternating, as phases.
pub(super) fn phases(changes: &[(i64, bool)], end_ns: i64, scan_ns: i64) -> Vec<Phase> {
    let mut phases = Vec::new();
    let mut index = 0;
    while let Some((at_ns, on)) = changes.get(index).copied() {
        if let Some((regular, last)) = run_of_blinks(changes, index, scan_ns) {
            let (on_ns, off_ns) = lengths(changes.get(regular..=last).unwrap_or(&[]));
            let (last_ns, is_on) = changes.get(last).copied().unwrap_or((at_ns, on));
            let due_ns = last_ns.saturating_add(if is_on { on_ns } else { off_ns });
            let goes_on = last + 1 == changes.len()
                && end_ns <= due_ns.saturating_add(tolerance(due_ns - last_ns, scan_ns));
            let until_ns = (!goes_on).then_some(last_ns);
            phases.push(Phase::Blinks { from_ns: at_ns, until_ns, on_ns, off_ns });
            index = last + 1;
            continue;
        }
        match changes.get(index + 1) {
            Some((back_ns, _)) if back_ns - at_ns < FLASH_NS => {
                phases.push(Phase::Flash { at_ns, long_ns: back_ns - at_ns, on });
                index += 2;
            }
            _ => {
                phases.push(Phase::To { at_ns, on });
                index += 1;
            }
        }
    }
    phases
}

/// The blinking that begins with a change: the first change from which on it is regular, and the last one. What blinks by
/// a clock of its own may be seen for the rest of a period first.
fn run_of_blinks(changes: &[(i64, bool)], first: usize, scan_ns: i64) -> Option<(usize, usize)> {
    let last = blinking(changes, first, scan_ns);
    if last - first >= BLINK_INTERVALS {
        return Some((first, last));
    }
    let last = blinking(changes, first + 1, scan_ns);
    let length = |index: usize| Some(changes.get(index + 1)?.0 - changes.get(index)?.0);
    let is_rest = length(first)? <= length(first + 2)?;
    (last - (first + 1) >= BLINK_INTERVALS && is_rest).then_some((first + 1, last))
}

/// The last change that belongs to the blinking that begins with one.
fn blinking(changes: &[(i64, bool)], first: usize, scan_ns: i64) -> usize {
    let time = |index: usize| changes.get(index).map(|(time_ns, _)| *time_ns);
    let length = |index: usize| Some(time(index + 1)? - time(index)?);
    let mut last = first + 2;
    while let (Some(before), Some(next)) = (length(last - 2), length(last)) {
        if (before - next).abs() > tolerance(before, scan_ns) {
            break;
        }
        last += 1;
    }
    // The first two intervals may be anything; one that repeats makes it blinking.
    if last == first + 2 { first } else { last }
}

fn tolerance(length_ns: i64, scan_ns: i64) -> i64 {
    scan_ns.saturating_mul(2).saturating_add(length_ns / 50)
}

/// How long it is on and off on the average.
fn lengths(changes: &[(i64, bool)]) -> (i64, i64) {
    let mut sums = [(0_i64, 0_i64); 2];
    for (from, to) in changes.iter().zip(changes.iter().skip(1)) {
        if let Some((sum, count)) = sums.get_mut(usize::from(from.1)) {
            *sum += to.0 - from.0;
            *count += 1;
        }
    }
    let [off, on] = sums.map(|(sum, count)| sum / count.max(1));
    (on, off)
}

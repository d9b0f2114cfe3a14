//! Stretches of time in which nothing changes: found over all rows, folded where that makes a picture finer.
//!
//! A number that goes along a straight line is still too, since its ends tell all of it: automatically only the time of
//! a timer. Every other change ends a stretch, so whatever is folded hides none. Knows lanes and times, nothing of any output form.

use super::lane::Lane;
use super::scale::{duration_words, nice_steps};

/// What of a diagram is folded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Folding {
    /// Long stretches, where the rest gets much finer by it.
    #[default]
    Automatic,
    /// Nothing.
    Never,
    /// Every stretch of at least so many nanoseconds.
    AtLeast(i64),
}

/// Columns are so many times finer where something is folded automatically.
const GAIN_MIN: i64 = 4;
/// What is folded automatically is at least this part of the time shown.
const SHARE_MIN: i64 = 16;
/// What is folded automatically lasts at least so many scans.
const SCANS_MIN: i64 = 1_000;
/// Most stretches that are folded automatically: more would leave a picture in pieces.
const FOLDS_MAX: usize = 6;
/// Most stretches that are folded where somebody asks for it.
const ASKED_FOLDS_MAX: usize = 48;
/// Changes of a straight line follow one another at least so closely, as parts of the shortest stretch.
const STRAIGHT_CHANGES_MIN: i64 = 32;
/// How far a straight line may be missed, as part of the height of the row.
const STRAIGHT_WITHIN: f64 = 1.0 / 64.0;

/// How stretches of time are folded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FoldShape {
    /// Columns that stand for a folded stretch.
    pub columns: usize,
    /// Columns that are kept at both its ends.
    pub margin: usize,
    /// A folded stretch saves at least so many columns.
    pub saved: usize,
    /// Folds begin and end at round times of at least so many columns, where there is room.
    pub grid: usize,
}

impl Folding {
    /// How long a stretch must last to be folded.
    pub(super) fn least_ns(self, start_ns: i64, end_ns: i64, scan_ns: i64) -> i64 {
        let span = end_ns.saturating_sub(start_ns).max(0);
        let least_ns = match self {
            Self::Automatic => (span / SHARE_MIN).max(scan_ns.saturating_mul(SCANS_MIN)),
            // Shorter ones could never be seen as folded.
            Self::AtLeast(least) => least.max(span / 1_000),
            Self::Never => i64::MAX,
        };
        least_ns.max(1)
    }

    /// How many times finer columns must get; 0 folds in any case.
    pub(super) fn gain(self) -> i64 {
        if self == Self::Automatic { GAIN_MIN } else { 0 }
    }
}

/// A stretch of time in which nothing changes, or only numbers move evenly.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quiet {
    /// Its start in nanoseconds: the last change before it, or the start of the time shown.
    pub from_ns: i64,
    /// Its end in nanoseconds: the first change behind it, or the end of the time shown.
    pub until_ns: i64,
    /// Names of the rows whose numbers move evenly in it.
    pub moving: Vec<String>,
}

impl Quiet {
    /// What is to be said where a part of it is folded: "9 min 12 s, nothing changes".
    pub fn words(&self, from_ns: i64, until_ns: i64) -> String {
        let length = duration_words(until_ns.saturating_sub(from_ns));
        match self.moving.as_slice() {
            [] => format!("{length}, nothing changes"),
            [one] => format!("{length}, only {one} moves, evenly"),
            [one, other] => format!("{length}, only {one} and {other} move, evenly"),
            more => format!("{length}, only {} numbers move, evenly", more.len()),
        }
    }
}

/// Finds the stretches in which no row changes.
pub(super) struct QuietSearch {
    folding: Folding,
    whole: (i64, i64),
    least_ns: i64,
    found: Vec<Quiet>,
}

impl QuietSearch {
    /// For the time from `start_ns` to `end_ns`.
    pub(super) fn new(folding: Folding, start_ns: i64, end_ns: i64, scan_ns: i64) -> Self {
        let least_ns = folding.least_ns(start_ns, end_ns, scan_ns);
        let span = end_ns.saturating_sub(start_ns);
        let whole = Quiet { from_ns: start_ns, until_ns: end_ns, moving: Vec::new() };
        let found = if span >= least_ns { vec![whole] } else { Vec::new() };
        QuietSearch { folding, whole: (start_ns, end_ns), least_ns, found }
    }

    /// Within stretches that were found before.
    pub(super) fn among(
        found: Vec<Quiet>,
        folding: Folding,
        start_ns: i64,
        end_ns: i64,
        scan_ns: i64,
    ) -> Self {
        QuietSearch { found, ..QuietSearch::new(folding, start_ns, end_ns, scan_ns) }
    }

    /// Takes a row into account.
    pub(super) fn row(&mut self, name: &str, lane: &Lane) {
        let mut kept = Vec::new();
        // The way of a level or a speed is worth seeing, that of a timer's time is not.
        let straight = self.folding != Folding::Automatic || lane.is_of_durations();
        let gap_ns = if straight { self.least_ns / STRAIGHT_CHANGES_MIN } else { 0 };
        let mut still = Still::new(lane, gap_ns).peekable();
        for quiet in self.found.drain(..) {
            while let Some((from, until, moves)) = still.peek().copied() {
                let (from_ns, until_ns) = (from.max(quiet.from_ns), until.min(quiet.until_ns));
                if until_ns.saturating_sub(from_ns) >= self.least_ns {
                    let mut moving = quiet.moving.clone();
                    moving.extend(moves.then(|| name.to_owned()));
                    kept.push(Quiet { from_ns, until_ns, moving });
                }
                // What reaches further may meet the next one too.
                if until >= quiet.until_ns {
                    break;
                }
                still.next();
            }
        }
        self.found = kept;
    }

    /// What was found, without the shorter ones of too many, in rising order.
    pub(super) fn finish(mut self) -> Vec<Quiet> {
        if self.folding == Folding::Automatic {
            // Where nothing happens at all, there is nothing that could be seen better.
            let whole = self.whole;
            self.found.retain(|quiet| (quiet.from_ns, quiet.until_ns) != whole);
        }
        self.found.sort_by_key(|quiet| std::cmp::Reverse(quiet.until_ns.saturating_sub(quiet.from_ns)));
        self.found.truncate(if self.folding == Folding::Automatic { FOLDS_MAX } else { ASKED_FOLDS_MAX });
        self.found.sort_by_key(|quiet| quiet.from_ns);
        self.found
    }
}

/// What is left of `quiet`, in stretches of at least `least_ns`, between these moments.
pub(super) fn without(
    quiet: Vec<Quiet>,
    moments: impl Iterator<Item = i64> + Clone,
    least_ns: i64,
) -> Vec<Quiet> {
    let split = |quiet: Quiet| {
        let mut inside: Vec<i64> =
            moments.clone().filter(|time| (quiet.from_ns..quiet.until_ns).contains(time)).collect();
        inside.sort_unstable();
        inside.push(quiet.until_ns);
        let mut from_ns = quiet.from_ns;
        let mut parts = Vec::new();
        for until_ns in inside {
            if until_ns.saturating_sub(from_ns) >= least_ns {
                parts.push(Quiet { from_ns, until_ns, moving: quiet.moving.clone() });
            }
            from_ns = until_ns;
        }
        parts
    };
    quiet.into_iter().flat_map(split).collect()
}

/// What of these stretches is folded where columns are `step` long: without margins, between columns.
pub(super) fn worth_folding(quiet: &[(i64, i64)], step: i64, shape: FoldShape) -> Vec<(i64, i64)> {
    let wide = |columns: usize| i64::try_from(columns).unwrap_or(i64::MAX);
    let margin = step.saturating_mul(wide(shape.margin));
    let round = nice_steps().find(|round| *round / step >= wide(shape.grid) && round % step == 0);
    let least = i128::from(step) * i128::from(wide(shape.columns.saturating_add(shape.saved)));
    let between = |from: i64, until: i64, grid: i64| {
        let up = i64::from(from.rem_euclid(grid) != 0);
        let from = from.div_euclid(grid).checked_add(up)?.checked_mul(grid)?;
        let until = until.div_euclid(grid).checked_mul(grid)?;
        (i128::from(until) - i128::from(from) >= least).then_some((from, until))
    };
    let trimmed = quiet.iter().filter_map(|(from, until)| {
        let (from, until) = (from.checked_add(margin)?, until.checked_sub(margin)?);
        round.and_then(|round| between(from, until, round)).or_else(|| between(from, until, step))
    });
    trimmed.collect()
}

/// The stretches between the changes of a lane, and those in which it goes along a straight line.
struct Still<'l> {
    lane: &'l Lane,
    /// The point from which on the next stretch lasts.
    index: usize,
    gap_ns: i64,
    tolerance: f64,
}

impl<'l> Still<'l> {
    fn new(lane: &'l Lane, gap_ns: i64) -> Self {
        let height = lane.extremes().map_or(0.0, |(low, high)| lane.number(high) - lane.number(low));
        Still { lane, index: 0, gap_ns, tolerance: height * STRAIGHT_WITHIN }
    }
}

impl Iterator for Still<'_> {
    /// Start, end, and whether the number moves.
    type Item = (i64, i64, bool);

    fn next(&mut self) -> Option<Self::Item> {
        let points = &self.lane.points;
        let Some(point) = points.get(self.index) else {
            // A row without values changes nowhere.
            let never = points.is_empty() && self.index == 0;
            self.index += 1;
            return never.then_some((i64::MIN, i64::MAX, false));
        };
        let from_ns = if self.index == 0 { i64::MIN } else { point.time_ns };
        let straight = self.lane.straight_until(self.index, self.tolerance, self.gap_ns);
        let moves = straight > self.index + 1;
        self.index = if moves { straight } else { self.index + 1 };
        let until_ns = points.get(self.index).map_or(i64::MAX, |next| next.time_ns);
        Some((from_ns, until_ns, moves))
    }
}

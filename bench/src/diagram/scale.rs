//! The time axis: how much time one column of a picture stands for, where its ticks are, and how times read.
//!
//! Steps are "nice" (1-2-5 up to seconds, then the steps of a clock), so that a person can count columns. Stretches of
//! time may be folded: they take a few columns whatever their length, and times on both sides stay right. Knows
//! nothing of rows or of any output form. Times and durations are integers in nanoseconds throughout.

use super::duration::{IN_SECONDS, SECOND, UNITS};
pub use super::duration::{TimeUnit, decimal, duration_words, rounded_up, time_text};
use super::fold::{FoldShape, worth_folding};

/// Steps above five seconds: those of a clock and of a calendar, in seconds.
const LONG_STEPS: [i64; 26] = [
    10,
    20,
    30,
    60,
    2 * 60,
    5 * 60,
    10 * 60,
    20 * 60,
    30 * 60,
    3_600,
    2 * 3_600,
    6 * 3_600,
    12 * 3_600,
    86_400,
    2 * 86_400,
    5 * 86_400,
    10 * 86_400,
    20 * 86_400,
    50 * 86_400,
    100 * 86_400,
    200 * 86_400,
    500 * 86_400,
    1_000 * 86_400,
    2_000 * 86_400,
    5_000 * 86_400,
    10_000 * 86_400,
];

/// All nice steps in rising order, in nanoseconds.
pub(super) fn nice_steps() -> impl Iterator<Item = i64> {
    let short = (0..10u32).flat_map(|exponent| {
        let decade = 10i64.pow(exponent);
        [decade, 2 * decade, 5 * decade]
    });
    // The last decade reaches 5 s, where the steps of a clock take over.
    short.filter(|step| *step <= 5 * SECOND).chain(LONG_STEPS.iter().map(|seconds| seconds * SECOND))
}

/// One tick of the axis.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tick {
    /// The column whose left edge it marks.
    pub column: usize,
    /// The time it marks, in nanoseconds.
    pub time_ns: i64,
    /// The time as a plain number in the axis' unit.
    pub label: String,
}

/// A stretch of time folded on an axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fold {
    /// Its start in nanoseconds.
    pub from_ns: i64,
    /// Its end in nanoseconds.
    pub until_ns: i64,
    /// The first of the columns that stand for it.
    pub column: usize,
    /// How many columns stand for it.
    pub columns: usize,
}

/// A division of a stretch of time into columns of equal, nice length, but for what is folded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TimeScale {
    /// Left edge of the first column in nanoseconds: a multiple of the column's length.
    pub origin_ns: i64,
    /// Length of one column in nanoseconds, at least 1.
    pub column_ns: i64,
    /// Number of columns; 0 only if there is no time to show.
    pub columns: usize,
    /// What is folded, in rising order and apart.
    pub folds: Vec<Fold>,
}

/// Columns between two folds, before the first or behind the last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Stretch {
    start_ns: i64,
    column: usize,
    columns: usize,
}

impl TimeScale {
    /// The finest nice scale that shows `start_ns..end_ns` in at most `columns_max` columns (at least 1 is
    /// used). A column is never shorter than a tenth of `scan_ns`: finer columns would show nothing more.
    pub fn choose(start_ns: i64, end_ns: i64, scan_ns: i64, columns_max: usize) -> Self {
        let columns_max = columns_max.max(1);
        if end_ns <= start_ns {
            return Self::folded(start_ns, start_ns, scan_ns.max(1), &[], 0);
        }
        let fitting = finer_steps(scan_ns)
            .map(|step| Self::exact(start_ns, end_ns, step, &[], 0))
            .find(|scale| scale.columns <= columns_max);
        fitting.unwrap_or_else(|| Self::exact(start_ns, end_ns, i64::MAX, &[], 0))
    }

    /// As [`Self::choose`], with what of `quiet` (rising and apart) is worth it folded, if columns get `gain` times finer by it; 0 folds in any case. Folds begin and end with columns.
    pub fn choose_folded(
        (start_ns, end_ns): (i64, i64),
        scan_ns: i64,
        columns_max: usize,
        quiet: &[(i64, i64)],
        shape: FoldShape,
        gain: i64,
    ) -> Self {
        let plain = Self::choose(start_ns, end_ns, scan_ns, columns_max);
        let fine_enough = |step: &i64| step.saturating_mul(gain.max(1)) <= plain.column_ns;
        // What is folded automatically shows every scan, and need not do more.
        let steps = finer_steps(scan_ns).filter(|step| gain == 0 || *step >= scan_ns);
        if plain.columns == 0 || quiet.is_empty() {
            return plain;
        }
        let folded = steps.take_while(fine_enough).find_map(|step| {
            let folds = worth_folding(quiet, step, shape);
            let scale = Self::exact(start_ns, end_ns, step, &folds, shape.columns);
            (!folds.is_empty() && scale.columns <= columns_max.max(1)).then_some(scale)
        });
        folded.unwrap_or(plain)
    }

    /// `columns` columns over `start_ns..end_ns`, whatever their length, or a few less where something is folded: for
    /// pictures whose columns nobody counts. The last column may reach beyond the end.
    pub fn even(start_ns: i64, end_ns: i64, columns: usize, folds: &[Fold]) -> Self {
        let Some(first) = folds.first() else { return Self::evenly(start_ns, end_ns, columns) };
        let stretches: Vec<(i64, i64)> = folds.iter().map(|fold| (fold.from_ns, fold.until_ns)).collect();
        let hidden: i128 = stretches.iter().map(|(from, until)| i128::from(*until) - i128::from(*from)).sum();
        let visible = i128::from(end_ns) - i128::from(start_ns) - hidden;
        let taken = folds.len().saturating_mul(first.columns);
        // Each stretch between folds may take one column more.
        let left = columns.saturating_sub(taken + folds.len()).max(1);
        let count = i128::try_from(left).unwrap_or(i128::MAX);
        let column = i64::try_from((visible + count - 1) / count).unwrap_or(i64::MAX).max(1);
        Self::folded(start_ns, end_ns, column, &stretches, first.columns)
    }

    fn evenly(start_ns: i64, end_ns: i64, columns: usize) -> Self {
        let span = i128::from(end_ns) - i128::from(start_ns);
        let count = i128::try_from(columns.max(1)).unwrap_or(i128::MAX);
        if span <= 0 {
            return Self::folded(start_ns, start_ns, 1, &[], 0);
        }
        let column = (span + count - 1) / count;
        Self {
            origin_ns: start_ns,
            column_ns: i64::try_from(column).unwrap_or(i64::MAX),
            columns: columns.max(1),
            folds: Vec::new(),
        }
    }

    /// Columns of `step` nanoseconds, starting at a multiple of the step.
    fn exact(start_ns: i64, end_ns: i64, step: i64, folds: &[(i64, i64)], fold_columns: usize) -> Self {
        let origin = i128::from(start_ns.div_euclid(step)) * i128::from(step);
        // Only a start within one step of the smallest i64 does not fit.
        let origin_ns = i64::try_from(origin).unwrap_or(i64::MIN);
        Self::folded(origin_ns, end_ns, step, folds, fold_columns)
    }

    fn folded(
        origin_ns: i64,
        end_ns: i64,
        column_ns: i64,
        folds: &[(i64, i64)],
        fold_columns: usize,
    ) -> Self {
        let mut scale = Self { origin_ns, column_ns, columns: 0, folds: Vec::new() };
        let (mut start_ns, mut column) = (origin_ns, 0usize);
        for (from_ns, until_ns) in folds.iter().copied() {
            column = column.saturating_add(columns_between(start_ns, from_ns, column_ns));
            scale.folds.push(Fold { from_ns, until_ns, column, columns: fold_columns });
            column = column.saturating_add(fold_columns);
            start_ns = until_ns;
        }
        scale.columns = column.saturating_add(columns_between(start_ns, end_ns, column_ns));
        scale
    }

    /// The column in which `time_ns` lies; times outside are put into the first or last column.
    pub fn column_of(&self, time_ns: i64) -> usize {
        let column = usize::try_from(self.place_of(time_ns, 1)).unwrap_or(usize::MAX);
        column.min(self.columns.saturating_sub(1))
    }

    /// How far `time_ns` lies from the left, where each column counts `parts`: never less for a later time.
    pub fn place_of(&self, time_ns: i64, parts: i64) -> i128 {
        let parts = i128::from(parts.max(1));
        let wide = |columns: usize| i128::try_from(columns).unwrap_or(i128::MAX / 1_000_000) * parts;
        let behind = self.folds.partition_point(|fold| fold.until_ns <= time_ns);
        let before = behind.checked_sub(1).and_then(|index| self.folds.get(index));
        let (start_ns, left) =
            before.map_or((self.origin_ns, 0), |fold| (fold.until_ns, fold.column + fold.columns));
        let offset = (i128::from(time_ns) - i128::from(start_ns)).max(0);
        let place = wide(left) + offset * parts / i128::from(self.column_ns.max(1));
        match self.folds.get(behind) {
            Some(fold) if time_ns >= fold.from_ns => {
                let inside = i128::from(time_ns) - i128::from(fold.from_ns);
                let length = (i128::from(fold.until_ns) - i128::from(fold.from_ns)).max(1);
                wide(fold.column) + inside * wide(fold.columns) / length
            }
            Some(fold) => place.min(wide(fold.column)),
            None => place.min(wide(self.columns)),
        }
    }

    /// Whether a column stands for a folded stretch.
    pub fn is_folded(&self, column: usize) -> bool {
        self.folds.iter().any(|fold| (fold.column..fold.column + fold.columns).contains(&column))
    }

    /// The ranges of columns that are not folded.
    pub fn unfolded(&self) -> Vec<std::ops::Range<usize>> {
        self.stretches().map(|stretch| stretch.column..stretch.column + stretch.columns).collect()
    }

    fn stretches(&self) -> impl Iterator<Item = Stretch> {
        let starts = std::iter::once((self.origin_ns, 0))
            .chain(self.folds.iter().map(|fold| (fold.until_ns, fold.column + fold.columns)));
        let ends = self.folds.iter().map(|fold| fold.column).chain(std::iter::once(self.columns));
        starts.zip(ends).map(|((start_ns, column), end)| Stretch {
            start_ns,
            column,
            columns: end.saturating_sub(column),
        })
    }

    /// Ticks no closer than `columns_min` columns, at nice times and behind each fold, with the unit in which they are
    /// labelled.
    pub fn ticks(&self, columns_min: usize) -> (TimeUnit, Vec<Tick>) {
        self.ticks_of(columns_min, 1)
    }

    /// As [`Self::ticks`], where a character of a label takes so many columns.
    pub fn ticks_of(&self, columns_min: usize, character: usize) -> (TimeUnit, Vec<Tick>) {
        let last = self.stretches().last().map_or(i128::from(self.origin_ns), |stretch| {
            let columns = i128::try_from(stretch.columns).unwrap_or(i128::MAX);
            i128::from(stretch.start_ns) + i128::from(self.column_ns) * columns
        });
        let last = i64::try_from(last).unwrap_or(i64::MAX);
        let mut columns_min = columns_min.max(1);
        // Labels of one axis differ in width by little, so the second or third try fits; the bound is for axes so
        // long that no step fits.
        for _ in 0..4 {
            let (unit, ticks, columns_between) = self.ticks_apart(columns_min, last);
            let widest = ticks.iter().map(|tick| tick.label.len() * character).max().unwrap_or(0);
            // Two blanks keep neighbouring labels apart.
            if widest + 2 * character <= columns_between || columns_between >= self.columns {
                return (unit, self.with_borders(unit, ticks, character));
            }
            columns_min = widest + 2 * character;
        }
        let (unit, mut ticks, _) = self.ticks_apart(columns_min, last);
        ticks.truncate(1);
        (unit, self.with_borders(unit, ticks, character))
    }

    /// Ticks at least `columns_min` columns apart, their unit, and how many columns they are apart.
    fn ticks_apart(&self, columns_min: usize, last_ns: i64) -> (TimeUnit, Vec<Tick>, usize) {
        let column_ns = self.column_ns.max(1);
        let least = i128::from(column_ns) * i128::try_from(columns_min).unwrap_or(i128::MAX);
        let step = nice_steps()
            .find(|step| i128::from(*step) >= least && step % column_ns == 0)
            .unwrap_or_else(|| i64::try_from(least).unwrap_or(i64::MAX))
            .max(1);
        let unit = axis_unit(step, last_ns);
        // Behind a fold the axis goes on wherever it does.
        let exact = |fold: &Fold| fold.until_ns % (unit.ns / 100).max(1) == 0;
        let unit = if self.folds.iter().all(exact) { unit } else { IN_SECONDS };
        let columns_between = usize::try_from(step / column_ns).unwrap_or(usize::MAX);
        (unit, self.ticks_every(step, unit), columns_between)
    }

    /// Ticks at multiples of `step`.
    fn ticks_every(&self, step: i64, unit: TimeUnit) -> Vec<Tick> {
        let mut ticks = Vec::new();
        let step = i128::from(step);
        for stretch in self.stretches() {
            let start = i128::from(stretch.start_ns);
            let mut time = start.div_euclid(step) * step;
            if time < start {
                time += step;
            }
            loop {
                let column = (time - start) / i128::from(self.column_ns.max(1));
                let (Ok(column), Ok(time_ns)) = (usize::try_from(column), i64::try_from(time)) else { break };
                if column >= stretch.columns {
                    break;
                }
                let label = decimal(time_ns, unit.ns);
                ticks.push(Tick { column: stretch.column + column, time_ns, label });
                time += step;
            }
        }
        ticks
    }

    /// The ticks with one behind each fold, in place of those whose labels would stand in its way.
    fn with_borders(&self, unit: TimeUnit, mut ticks: Vec<Tick>, character: usize) -> Vec<Tick> {
        for stretch in self.stretches().skip(1).filter(|stretch| stretch.columns > 0) {
            let label = decimal(stretch.start_ns, unit.ns);
            let border = Tick { column: stretch.column, time_ns: stretch.start_ns, label };
            let room =
                |left: &Tick, right: &Tick| left.column + (left.label.len() + 2) * character <= right.column;
            ticks.retain(|tick| room(tick, &border) || room(&border, tick));
            let place = ticks.partition_point(|tick| tick.column < border.column);
            ticks.insert(place, border);
        }
        ticks
    }
}

/// The nice steps that are not shorter than a tenth of a scan.
fn finer_steps(scan_ns: i64) -> impl Iterator<Item = i64> {
    let floor = (scan_ns / 10).max(1);
    nice_steps().filter(move |step| *step >= floor)
}

/// Columns from one time up to another, the last one begun only.
fn columns_between(from_ns: i64, until_ns: i64, column_ns: i64) -> usize {
    let (span, column) = (i128::from(until_ns) - i128::from(from_ns), i128::from(column_ns.max(1)));
    if span <= 0 { 0 } else { usize::try_from((span + column - 1) / column).unwrap_or(usize::MAX) }
}

/// The unit for an axis whose ticks are `step_ns` apart and whose last time is `last_ns`: minutes and longer only
/// for whole numbers of them, else the longest unit that is reached and needs at most two decimal places.
fn axis_unit(step_ns: i64, last_ns: i64) -> TimeUnit {
    let whole = |unit: &&TimeUnit| step_ns >= unit.ns;
    let short = |unit: &&TimeUnit| unit.ns <= SECOND && last_ns >= unit.ns && step_ns >= unit.ns / 100;
    UNITS.iter().find(|unit| whole(unit) || short(unit)).copied().unwrap_or(IN_SECONDS)
}

#[cfg(test)]
mod tests {
    use super::*;

    const MS: i64 = 1_000_000;

    #[test]
    fn six_seconds_in_sixty_columns_is_a_tenth_of_a_second_each() {
        let scale = TimeScale::choose(0, 6 * SECOND, 10 * MS, 76);
        assert_eq!((scale.column_ns, scale.columns), (100 * MS, 60));
        let (unit, ticks) = scale.ticks(8);
        assert_eq!(unit.symbol, "s");
        let labels: Vec<&str> = ticks.iter().map(|tick| tick.label.as_str()).collect();
        assert_eq!(labels, ["0", "1", "2", "3", "4", "5"]);
        assert_eq!(ticks[3].column, 30);
    }

    #[test]
    fn a_column_is_at_least_a_tenth_of_a_scan() {
        let scale = TimeScale::choose(0, 10 * MS, 10 * MS, 200);
        assert_eq!((scale.column_ns, scale.columns), (MS, 10));
    }

    #[test]
    fn a_window_starts_at_a_multiple_of_the_column() {
        let scale = TimeScale::choose(1_950 * MS, 2_400 * MS, 10 * MS, 50);
        assert_eq!((scale.origin_ns, scale.column_ns, scale.columns), (1_950 * MS, 10 * MS, 45));
        let (unit, ticks) = scale.ticks(8);
        assert_eq!((unit.symbol, ticks[0].label.as_str(), ticks[0].column), ("s", "2", 5));
    }

    #[test]
    fn the_largest_times_have_a_scale() {
        for columns in [1, 40, 400] {
            let scale = TimeScale::choose(i64::MIN, i64::MAX, 1, columns);
            assert!(scale.columns >= 1 && scale.columns <= columns.max(3), "{scale:?}");
            let (_, ticks) = scale.ticks(8);
            assert!(ticks.len() <= scale.columns);
        }
    }
}

//! The time axis: how much time one column of a picture stands for, where its ticks are, and how times read.
//!
//! Steps are "nice" (1-2-5 up to seconds, then the steps of a clock), so that a person can count columns. Knows
//! nothing of rows or of any output form. Times and durations are integers in nanoseconds throughout.

/// Nanoseconds in one second.
const SECOND: i64 = 1_000_000_000;

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
fn nice_steps() -> impl Iterator<Item = i64> {
    let short = (0..10u32).flat_map(|exponent| {
        let decade = 10i64.pow(exponent);
        [decade, 2 * decade, 5 * decade]
    });
    // The last decade reaches 5 s, where the steps of a clock take over.
    short.filter(|step| *step <= 5 * SECOND).chain(LONG_STEPS.iter().map(|seconds| seconds * SECOND))
}

/// A unit in which times are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeUnit {
    /// Its symbol: "ms", "s", "min"…
    pub symbol: &'static str,
    /// Its length in nanoseconds.
    pub ns: i64,
}

/// Units from the longest to the shortest.
const UNITS: [TimeUnit; 7] = [
    TimeUnit { symbol: "d", ns: 86_400 * SECOND },
    TimeUnit { symbol: "h", ns: 3_600 * SECOND },
    TimeUnit { symbol: "min", ns: 60 * SECOND },
    TimeUnit { symbol: "s", ns: SECOND },
    TimeUnit { symbol: "ms", ns: 1_000_000 },
    TimeUnit { symbol: "µs", ns: 1_000 },
    TimeUnit { symbol: "ns", ns: 1 },
];

/// The unit second, used where nothing else fits better.
const IN_SECONDS: TimeUnit = TimeUnit { symbol: "s", ns: SECOND };

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

/// A division of a stretch of time into columns of equal, nice length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TimeScale {
    /// Left edge of the first column in nanoseconds: a multiple of the column's length.
    pub origin_ns: i64,
    /// Length of one column in nanoseconds, at least 1.
    pub column_ns: i64,
    /// Number of columns; 0 only if there is no time to show.
    pub columns: usize,
}

impl TimeScale {
    /// The finest nice scale that shows `start_ns..end_ns` in at most `columns_max` columns (at least 1 is
    /// used). A column is never shorter than a tenth of `scan_ns`: finer columns would show nothing more.
    pub fn choose(start_ns: i64, end_ns: i64, scan_ns: i64, columns_max: usize) -> Self {
        let columns_max = i128::try_from(columns_max.max(1)).unwrap_or(i128::MAX);
        let span = i128::from(end_ns) - i128::from(start_ns);
        if span <= 0 {
            return Self { origin_ns: start_ns, column_ns: scan_ns.max(1), columns: 0 };
        }
        let floor = (scan_ns / 10).max(1);
        let mut scale = Self::exact(start_ns, end_ns, i64::MAX);
        for step in nice_steps().filter(|step| *step >= floor) {
            let candidate = Self::exact(start_ns, end_ns, step);
            if i128::try_from(candidate.columns).unwrap_or(i128::MAX) <= columns_max {
                scale = candidate;
                break;
            }
        }
        scale
    }

    /// Exactly `columns` columns over `start_ns..end_ns`, whatever their length: for pictures whose columns
    /// nobody counts. The last column may reach beyond the end.
    pub fn even(start_ns: i64, end_ns: i64, columns: usize) -> Self {
        let span = i128::from(end_ns) - i128::from(start_ns);
        let count = i128::try_from(columns.max(1)).unwrap_or(i128::MAX);
        if span <= 0 {
            return Self { origin_ns: start_ns, column_ns: 1, columns: 0 };
        }
        let column = (span + count - 1) / count;
        Self {
            origin_ns: start_ns,
            column_ns: i64::try_from(column).unwrap_or(i64::MAX),
            columns: columns.max(1),
        }
    }

    /// Columns of `step` nanoseconds, starting at a multiple of the step.
    fn exact(start_ns: i64, end_ns: i64, step: i64) -> Self {
        let origin = i128::from(start_ns.div_euclid(step)) * i128::from(step);
        let span = i128::from(end_ns) - origin;
        let columns = (span + i128::from(step) - 1) / i128::from(step);
        Self {
            // Only a start within one step of the smallest i64 does not fit.
            origin_ns: i64::try_from(origin).unwrap_or(i64::MIN),
            column_ns: step,
            columns: usize::try_from(columns).unwrap_or(usize::MAX),
        }
    }

    /// The column in which `time_ns` lies; times outside are put into the first or last column.
    pub fn column_of(&self, time_ns: i64) -> usize {
        let offset = i128::from(time_ns) - i128::from(self.origin_ns);
        if offset <= 0 {
            return 0;
        }
        let column = offset / i128::from(self.column_ns.max(1));
        usize::try_from(column).unwrap_or(usize::MAX).min(self.columns.saturating_sub(1))
    }

    /// Ticks no closer than `columns_min` columns, at nice times, with the unit in which they are labelled.
    pub fn ticks(&self, columns_min: usize) -> (TimeUnit, Vec<Tick>) {
        let last = i128::from(self.origin_ns)
            + i128::from(self.column_ns) * i128::try_from(self.columns).unwrap_or(i128::MAX);
        let last = i64::try_from(last).unwrap_or(i64::MAX);
        let mut columns_min = columns_min.max(1);
        // Labels of one axis differ in width by little, so the second or third try fits; the bound is for axes so
        // long that no step fits.
        for _ in 0..4 {
            let (unit, ticks, columns_between) = self.ticks_apart(columns_min, last);
            let widest = ticks.iter().map(|tick| tick.label.len()).max().unwrap_or(0);
            // Two blanks keep neighbouring labels apart.
            if widest + 2 <= columns_between || columns_between >= self.columns {
                return (unit, ticks);
            }
            columns_min = widest + 2;
        }
        let (unit, mut ticks, _) = self.ticks_apart(columns_min, last);
        ticks.truncate(1);
        (unit, ticks)
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
        let columns_between = usize::try_from(step / column_ns).unwrap_or(usize::MAX);
        (unit, self.ticks_every(step, unit), columns_between)
    }

    /// Ticks at multiples of `step`.
    fn ticks_every(&self, step: i64, unit: TimeUnit) -> Vec<Tick> {
        let mut ticks = Vec::new();
        let origin = i128::from(self.origin_ns);
        let step = i128::from(step);
        let mut time = origin.div_euclid(step) * step;
        if time < origin {
            time += step;
        }
        loop {
            let column = (time - origin) / i128::from(self.column_ns.max(1));
            let (Ok(column), Ok(time_ns)) = (usize::try_from(column), i64::try_from(time)) else { break };
            if column >= self.columns {
                break;
            }
            ticks.push(Tick { column, time_ns, label: decimal(time_ns, unit.ns) });
            time += step;
        }
        ticks
    }
}

/// The unit for an axis whose ticks are `step_ns` apart and whose last time is `last_ns`: minutes and longer only
/// for whole numbers of them, else the longest unit that is reached and needs at most two decimal places.
fn axis_unit(step_ns: i64, last_ns: i64) -> TimeUnit {
    let whole = |unit: &&TimeUnit| step_ns >= unit.ns;
    let short = |unit: &&TimeUnit| unit.ns <= SECOND && last_ns >= unit.ns && step_ns >= unit.ns / 100;
    UNITS.iter().find(|unit| whole(unit) || short(unit)).copied().unwrap_or(IN_SECONDS)
}

/// `value_ns` as an exact decimal number of units of `unit_ns` nanoseconds: no exponent, no trailing zeros.
/// For units that are not a power of ten (minutes, hours, days) the number is cut after six places.
pub fn decimal(value_ns: i64, unit_ns: i64) -> String {
    let unit = i128::from(unit_ns.max(1));
    let value = i128::from(value_ns);
    let (whole, mut rest) = (value.abs() / unit, value.abs() % unit);
    let mut text = String::new();
    if value < 0 {
        text.push('-');
    }
    text.push_str(&whole.to_string());
    if rest != 0 {
        text.push('.');
        let places = if unit_ns <= SECOND { 9 } else { 6 };
        for _ in 0..places {
            rest *= 10;
            // A remainder below the unit times ten, divided by the unit, is one decimal digit.
            text.push(char::from(b'0' + u8::try_from(rest / unit).unwrap_or(0)));
            rest %= unit;
            if rest == 0 {
                break;
            }
        }
        while text.ends_with('0') {
            text.pop();
        }
        if text.ends_with('.') {
            text.pop();
        }
    }
    text
}

/// A duration or a time for people: "100 ms", "1.5 s", "20 min". The longest unit in which at most three
/// decimal places tell it exactly.
pub fn time_text(ns: i64) -> String {
    if ns == 0 {
        return "0 s".to_owned();
    }
    let magnitude = i128::from(ns).abs();
    let fits = |unit: &TimeUnit| {
        let unit_ns = i128::from(unit.ns);
        magnitude >= unit_ns && (magnitude * 1_000) % unit_ns == 0
    };
    let unit = UNITS.iter().find(|unit| fits(unit)).copied().unwrap_or(TimeUnit { symbol: "ns", ns: 1 });
    // Five digits and more of a short unit read worse than seconds with many places.
    let unit = if unit.ns < SECOND && magnitude / i128::from(unit.ns) >= 10_000 { IN_SECONDS } else { unit };
    format!("{} {}", decimal(ns, unit.ns), unit.symbol)
}

/// The next duration not shorter than `ns` that two digits tell; for durations that only bound something.
pub fn rounded_up(ns: i64) -> i64 {
    let mut unit = 1i64;
    while ns / unit >= 100 {
        unit *= 10;
    }
    // Only the largest durations of all have no rounder one above them.
    (ns / unit + i64::from(ns % unit != 0)).checked_mul(unit).unwrap_or(ns)
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

    #[test]
    fn times_read_in_the_longest_fitting_unit() {
        let cases = [
            (0, "0 s"),
            (1, "1 ns"),
            (12_500, "12.5 µs"),
            (100 * MS, "100 ms"),
            (1_500 * MS, "1.5 s"),
            (100 * SECOND, "100 s"),
            (90 * SECOND, "1.5 min"),
            (3_600 * SECOND, "1 h"),
            (-2 * SECOND, "-2 s"),
            (1_234_567_891, "1.234567891 s"),
        ];
        for (ns, text) in cases {
            assert_eq!(time_text(ns), text);
        }
    }

    #[test]
    fn bounds_are_rounded_up_to_two_digits() {
        let cases = [(0, 0), (7, 7), (99, 99), (101, 110), (33_333_334, 34_000_000), (i64::MAX, i64::MAX)];
        for (ns, rounded) in cases {
            assert_eq!(rounded_up(ns), rounded);
        }
    }

    #[test]
    fn decimals_are_exact() {
        assert_eq!(decimal(12_500_000, MS), "12.5");
        assert_eq!(decimal(1, SECOND), "0.000000001");
        assert_eq!(decimal(-1_250_000, MS), "-1.25");
        assert_eq!(decimal(i64::MIN, 1), "-9223372036854775808");
    }
}

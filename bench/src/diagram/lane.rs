//! The lane of one row: its values over time, and what of them falls into each column of a scale.
//!
//! The truth a renderer must keep is in the column summaries: every edge and every extreme is counted in the
//! column in which it happened, however many share it. Knows nothing of any output form.

use std::ops::Range;

use latchwork_vm::trace::{Change, Changes, ScanRecord};
use latchwork_vm::value::Value;

use super::scale::TimeScale;
use super::words::{value_number, value_text};

/// Real numbers up to this length are written exactly.
const EXACT_COLUMNS_MAX: usize = 6;

/// How the values of a lane are drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LaneKind {
    /// Two levels.
    Level,
    /// Whole numbers, in steps.
    Steps,
    /// Durations and real numbers: steps, and ramps where they move evenly from scan to scan.
    Curve,
    /// Bit strings, dates, characters, strings and enumerations: each value in a box of its own.
    Boxes,
}

impl LaneKind {
    /// The kind that suits a value.
    pub(super) fn of(value: &Value) -> Self {
        match value {
            Value::Bool(_) => Self::Level,
            Value::Signed(..) | Value::Unsigned(..) => Self::Steps,
            Value::Real(_) | Value::Lreal(_) | Value::Duration(..) => Self::Curve,
            _ => Self::Boxes,
        }
    }
}

/// A value from a moment on.
#[derive(Clone, Debug)]
pub struct Point {
    /// When it was seen first, in nanoseconds.
    pub time_ns: i64,
    /// Index of the scan that brought it.
    pub scan: u32,
    /// The value.
    pub value: Value,
}

impl Point {
    /// Whether it is the nameless value that stands for no step in a band of a chart.
    pub fn is_nothing(&self) -> bool {
        matches!(&self.value, Value::Enumeration { name: Some(name), .. } if name.is_empty())
    }
}

/// The values of one row in the time shown.
#[derive(Clone, Debug)]
pub struct Lane {
    /// How they are drawn.
    pub kind: LaneKind,
    /// The values, in order of time. The first is the one in force at the start; neighbours differ. Empty only
    /// if nothing was recorded.
    pub points: Vec<Point>,
    /// Stretches of time of which nothing is known, in rising order, the ends not included: a lane of a trace has them.
    pub unknown: Vec<(i64, i64)>,
    /// Lowest and highest number of another lane that is drawn at the same heights; `None` if there is none.
    pub beside: Option<(f64, f64)>,
}

/// Two-state summary of one column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LevelColumn {
    /// Level at its left edge.
    pub enters: bool,
    /// Level at its right edge.
    pub leaves: bool,
    /// Edges from FALSE to TRUE within it.
    pub rises: u32,
    /// Edges from TRUE to FALSE within it.
    pub falls: u32,
}

/// Numeric summary of one column. Values that are not finite count as changes but not as extremes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NumberColumn {
    /// Value at its left edge.
    pub enters: f64,
    /// Value at its right edge.
    pub leaves: f64,
    /// Lowest finite value in force at any time within it, or NaN.
    pub lowest: f64,
    /// Highest finite value in force at any time within it, or NaN.
    pub highest: f64,
    /// Changes within it.
    pub changes: u32,
}

/// A stretch of columns that all end with the same value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hold {
    /// The columns; the first is the one in which the value came, or the first of its picture.
    pub columns: Range<usize>,
    /// Index of the value among the lane's points.
    pub point: usize,
    /// Whether the value came in the first column; it did not where the picture begins, or goes on behind a fold.
    pub fresh: bool,
    /// Whether further values came and went within the first column.
    pub crowded: bool,
}

impl Lane {
    /// The lane of a row's changes over `start_ns..end_ns`.
    pub(crate) fn new(changes: &Changes, scans: &[ScanRecord], start_ns: i64, end_ns: i64) -> Self {
        let mut points: Vec<Point> = Vec::new();
        for Change { scan, value } in changes {
            let Some(record) = usize::try_from(scan).ok().and_then(|index| scans.get(index)) else {
                continue;
            };
            if record.time_ns >= end_ns && !points.is_empty() {
                break;
            }
            let point = Point { time_ns: record.time_ns.max(start_ns), scan, value };
            match points.last_mut() {
                Some(last) if last.value == point.value => {}
                // Everything up to the start only decides which value is in force there.
                Some(last) if record.time_ns <= start_ns => *last = point,
                _ => points.push(point),
            }
        }
        let kind = points.first().map_or(LaneKind::Level, |point| LaneKind::of(&point.value));
        Self { kind, points, unknown: Vec::new(), beside: None }
    }

    /// Whether its values are durations.
    pub(super) fn is_of_durations(&self) -> bool {
        matches!(self.points.first(), Some(Point { value: Value::Duration(..), .. }))
    }

    /// Number of changes after the first value.
    pub fn changes(&self) -> usize {
        self.points.len().saturating_sub(1)
    }

    /// For each column the indices of the points whose change falls into it (the first point is none).
    pub fn column_points(&self, scale: &TimeScale) -> Vec<Range<usize>> {
        let mut ranges = Vec::with_capacity(scale.columns);
        let mut next = 1;
        for column in 0..scale.columns {
            let first = next;
            while self.points.get(next).is_some_and(|point| scale.column_of(point.time_ns) <= column) {
                next += 1;
            }
            ranges.push(first..next);
        }
        ranges
    }

    /// The level at a point; FALSE for a value that is none.
    fn level(&self, index: usize) -> bool {
        matches!(self.points.get(index), Some(Point { value: Value::Bool(true), .. }))
    }

    /// The number at a point; NaN for a value that is none.
    pub fn number(&self, index: usize) -> f64 {
        self.points.get(index).and_then(|point| value_number(&point.value)).unwrap_or(f64::NAN)
    }

    /// Two-state summaries of all columns; empty if nothing was recorded.
    pub fn level_columns(&self, scale: &TimeScale) -> Vec<LevelColumn> {
        if self.points.is_empty() {
            return Vec::new();
        }
        let summary = |range: Range<usize>| {
            let enters = self.level(range.start - 1);
            let mut column = LevelColumn { enters, leaves: enters, rises: 0, falls: 0 };
            for level in range.map(|index| self.level(index)) {
                match (column.leaves, level) {
                    (false, true) => column.rises += 1,
                    (true, false) => column.falls += 1,
                    _ => {}
                }
                column.leaves = level;
            }
            column
        };
        self.column_points(scale).into_iter().map(summary).collect()
    }

    /// Numeric summaries of all columns; empty if nothing was recorded.
    pub fn number_columns(&self, scale: &TimeScale) -> Vec<NumberColumn> {
        if self.points.is_empty() {
            return Vec::new();
        }
        let summary = |range: Range<usize>| {
            let enters = self.number(range.start - 1);
            let mut column = NumberColumn {
                enters,
                leaves: enters,
                lowest: finite(enters),
                highest: finite(enters),
                changes: 0,
            };
            for number in range.map(|index| self.number(index)) {
                column.changes += 1;
                column.leaves = number;
                // `min` and `max` pass over NaN.
                column.lowest = column.lowest.min(finite(number));
                column.highest = column.highest.max(finite(number));
            }
            column
        };
        self.column_points(scale).into_iter().map(summary).collect()
    }

    /// The values that columns end with, as stretches of columns in rising order; folded columns lie between them.
    pub fn holds(&self, scale: &TimeScale) -> Vec<Hold> {
        let mut holds: Vec<Hold> = Vec::new();
        if self.points.is_empty() {
            return holds;
        }
        let ranges = self.column_points(scale);
        for unfolded in scale.unfolded() {
            let first = unfolded.start;
            for (column, range) in unfolded.clone().zip(ranges.get(unfolded).unwrap_or_default()) {
                match holds.last_mut() {
                    Some(hold) if range.is_empty() && column > first => hold.columns.end = column + 1,
                    _ => holds.push(Hold {
                        columns: column..column + 1,
                        point: range.end - 1,
                        fresh: !range.is_empty(),
                        crowded: range.len() > 1,
                    }),
                }
            }
        }
        holds
    }

    /// Lowest and highest value with their indices, over finite numbers; `None` if there is none.
    pub fn extremes(&self) -> Option<(usize, usize)> {
        let finite = || (0..self.points.len()).filter(|index| self.number(*index).is_finite());
        let by_number = |a: &usize, b: &usize| self.number(*a).total_cmp(&self.number(*b));
        // `min_by` takes the first of equals, `max_by` the last: both are the same value.
        Some((finite().min_by(by_number)?, finite().max_by(by_number)?))
    }

    /// Lowest and highest number of the heights at which the lane is drawn; `None` without finite numbers.
    pub fn heights(&self) -> Option<(f64, f64)> {
        let own = self.extremes().map(|(lowest, highest)| (self.number(lowest), self.number(highest)));
        match (own, self.beside) {
            (Some((lowest, highest)), Some((low, high))) => Some((lowest.min(low), highest.max(high))),
            (own, beside) => own.or(beside),
        }
    }

    /// The text of the value at a point.
    pub fn text(&self, index: usize) -> String {
        self.points.get(index).map(|point| value_text(&point.value)).unwrap_or_default()
    }

    /// The text of the value at a point as it is written into a picture: a long real number rounded to what can be seen.
    pub fn label(&self, index: usize) -> String {
        let exact = self.text(index);
        let real =
            matches!(self.points.get(index), Some(Point { value: Value::Real(_) | Value::Lreal(_), .. }));
        if !real || exact.len() <= EXACT_COLUMNS_MAX {
            return exact;
        }
        let (lowest, highest) = self.heights().unwrap_or((0.0, 0.0));
        rounded(self.number(index), highest - lowest).unwrap_or(exact)
    }

    /// Index of the last point of the ramp that starts at `first`: a run of at least three changes, one in each
    /// scan and all of the same size. `first` itself if there is no ramp.
    pub fn ramp_end(&self, first: usize) -> usize {
        const CHANGES_MIN: usize = 3;
        if self.kind != LaneKind::Curve {
            return first;
        }
        let mut last = first;
        let mut slope: Option<f64> = None;
        while let (Some(here), Some(next)) = (self.points.get(last), self.points.get(last + 1)) {
            let step = self.number(last + 1) - self.number(last);
            let follows = next.scan == here.scan.saturating_add(1);
            let even = slope.is_none_or(|slope| (step - slope).abs() <= slope.abs() * 1e-6);
            if !(follows && even && step.is_finite() && step != 0.0) {
                break;
            }
            slope = Some(step);
            last += 1;
        }
        if last - first >= CHANGES_MIN { last } else { first }
    }
}

impl Lane {
    /// Index of the last point of the straight line that starts at `first`: its changes follow one another within
    /// `gap_ns` and go one way, and none lies further off the line than `tolerance`. `first` itself if the next value does
    /// not belong to such a line.
    pub(super) fn straight_until(&self, first: usize, tolerance: f64, gap_ns: i64) -> usize {
        let Some(start) = self.points.get(first) else { return first };
        if !matches!(self.kind, LaneKind::Steps | LaneKind::Curve) {
            return first;
        }
        let origin = self.number(first);
        let (mut last, mut end) = (first, first);
        // Between these slopes lie all lines from the first point that pass all others closely enough.
        let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
        while let (Some(here), Some(next)) = (self.points.get(last), self.points.get(last + 1)) {
            let rise = self.number(last + 1) - origin;
            let step = self.number(last + 1) - self.number(last);
            let time = next.time_ns.saturating_sub(start.time_ns) as f64;
            let one_way = rise.is_finite() && step != 0.0 && (step > 0.0) == (rise > 0.0);
            if !one_way || next.time_ns.saturating_sub(here.time_ns) > gap_ns {
                break;
            }
            least = least.max((rise - tolerance) / time);
            most = most.min((rise + tolerance) / time);
            if least > most {
                break;
            }
            last += 1;
            if (least..=most).contains(&(rise / time)) {
                end = last;
            }
        }
        end
    }
}

/// A number rounded to a thousandth of a range; `None` where a plain decimal number would be long or say little.
fn rounded(number: f64, range: f64) -> Option<String> {
    let range = if range > 0.0 { range } else { number.abs() };
    let plain = number.abs() < 1e9 && (1e-6..1e12).contains(&range);
    let mut places = 1;
    let mut scaled = range * 10.0;
    while scaled < 1_000.0 && places < 9 {
        places += 1;
        scaled *= 10.0;
    }
    let text = plain.then(|| format!("{number:.places$}"))?;
    let kept = text.trim_end_matches('0');
    let kept = if kept.ends_with('.') { format!("{kept}0") } else { kept.to_owned() };
    Some(if kept == "-0.0" { "0.0".to_owned() } else { kept })
}

/// NaN for anything not finite, so that `min` and `max` pass over it.
fn finite(number: f64) -> f64 {
    if number.is_finite() { number } else { f64::NAN }
}

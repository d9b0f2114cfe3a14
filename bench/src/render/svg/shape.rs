//! The shapes of one lane: paths in the plot's own units, and values to write beside them.
//!
//! A path never claims more than its resolution: edges that share a column are drawn as a solid bar. Knows nothing
//! of headings or of the page.

use std::fmt::Write as _;

use super::{bands::boxes, curve::numbers};
use crate::diagram::lane::{Lane, LaneKind, LevelColumn};
use crate::diagram::scale::TimeScale;

/// Height of a wave in units.
pub(super) const WAVE_HEIGHT: i64 = 18;
/// Height of the curve of a number that moves much.
pub(super) const CURVE_HEIGHT: i64 = 44;
/// Width of what stands for a folded stretch of time.
pub(super) const FOLD_UNITS: i64 = 24;

/// The time axis of the plot in units.
#[derive(Clone, Debug)]
pub(super) struct Plot {
    /// Columns of equal time, each `column_units` wide.
    pub(super) scale: TimeScale,
    /// Width of one column in units.
    pub(super) column_units: i64,
    /// Width of the plot in units.
    pub(super) width: i64,
}

impl Plot {
    /// The place of a time, in tenths of a unit from the left.
    pub(super) fn tenths(&self, time_ns: i64) -> i64 {
        let hundredths = self.scale.place_of(time_ns, self.column_units * 100);
        // At most ten times the width.
        i64::try_from((hundredths + 5) / 10).unwrap_or(i64::MAX).min(self.width * 10)
    }

    /// The left edge of a column in units.
    pub(super) fn left(&self, column: usize) -> i64 {
        i64::try_from(column).unwrap_or(i64::MAX).saturating_mul(self.column_units).min(self.width)
    }
}

/// A value to write.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Label {
    /// Left edge in tenths of a unit.
    pub(super) tenths: i64,
    /// Baseline in units from the top of the wave.
    pub(super) y: i64,
    pub(super) text: String,
    /// All of it, where the text is cut.
    pub(super) full: Option<String>,
}

/// What a lane is drawn with; empty paths are left out.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Shape {
    /// The line.
    pub(super) wave: String,
    /// Areas under the upper level.
    pub(super) fill: String,
    /// Solid bars where several changes share a column.
    pub(super) busy: String,
    pub(super) labels: Vec<Label>,
    /// Height in units; 0 stands for that of a wave.
    pub(super) height: i64,
}

/// Draws a lane.
pub(super) fn shape(lane: &Lane, plot: &Plot, filled: bool) -> Shape {
    match lane.kind {
        _ if lane.points.is_empty() || plot.scale.columns == 0 => Shape::default(),
        LaneKind::Level => levels(&lane.level_columns(&plot.scale), plot, filled),
        LaneKind::Steps | LaneKind::Curve => numbers(lane, plot),
        LaneKind::Boxes => boxes(lane, plot, filled),
    }
}

/// A two-state lane. One edge in a column is drawn at the column's place, more become a bar.
fn levels(columns: &[LevelColumn], plot: &Plot, filled: bool) -> Shape {
    let mut shape = Shape::default();
    let units = plot.column_units;
    let y = |level: bool| if level { 0 } else { WAVE_HEIGHT };
    let Some(first) = columns.first() else { return shape };
    let _ = write!(shape.wave, "M0 {}", y(first.enters));
    let mut drawn_to = 0;
    let mut busy = Bars::default();
    let mut high_since = first.enters.then_some(0);
    for (index, column) in columns.iter().enumerate() {
        let x = plot.left(index);
        if column.rises + column.falls > 1 {
            busy.add(&mut shape.busy, x, units);
        }
        if column.enters != column.leaves {
            if x > drawn_to {
                let _ = write!(shape.wave, "h{}", x - drawn_to);
                drawn_to = x;
            }
            let _ = write!(shape.wave, "v{}", y(column.leaves) - y(column.enters));
            match (column.leaves, high_since.take()) {
                (true, _) => high_since = Some(x),
                (false, Some(since)) if filled => push_area(&mut shape.fill, since, x),
                _ => {}
            }
        }
    }
    if plot.width > drawn_to {
        let _ = write!(shape.wave, "h{}", plot.width - drawn_to);
    }
    if let Some(since) = high_since.filter(|_| filled) {
        push_area(&mut shape.fill, since, plot.width);
    }
    shape
}

/// An area from the upper to the lower level.
pub(super) fn push_area(path: &mut String, from: i64, to: i64) {
    let _ = write!(path, "M{from} 0h{}v{WAVE_HEIGHT}h-{}z", to - from, to - from);
}

/// Bars at half height, to be stroked as wide as a wave is high; neighbours are joined.
#[derive(Default)]
pub(super) struct Bars {
    open_to: Option<i64>,
}

impl Bars {
    /// Adds a bar for the column from `x` on, `units` wide; never so thin that it gets lost on a grid line.
    pub(super) fn add(&mut self, path: &mut String, x: i64, units: i64) {
        const WIDTH_MIN: i64 = 2;
        let middle = WAVE_HEIGHT / 2;
        let end = x + units.max(WIDTH_MIN);
        let _ = match self.open_to {
            Some(open_to) if open_to >= x => write!(path, "h{}", end - open_to),
            Some(open_to) => write!(path, "m{} 0h{}", x - open_to, end - x),
            None => write!(path, "M{x} {middle}h{}", end - x),
        };
        self.open_to = Some(end);
    }
}

/// Tenths of a unit, written as a decimal number as short as may be.
pub(super) struct Tenths(pub(super) i64);

impl std::fmt::Display for Tenths {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (whole, tenth) = (self.0 / 10, self.0 % 10);
        if tenth == 0 { write!(formatter, "{whole}") } else { write!(formatter, "{whole}.{}", tenth.abs()) }
    }
}

//! The shapes of one lane: paths in the plot's own units, and values to write beside them.
//!
//! A path never claims more than its resolution: edges that share a column are drawn as a solid bar. Knows nothing
//! of headings or of the page.

use std::fmt::Write as _;

use unicode_width::UnicodeWidthStr;

use crate::diagram::lane::{Lane, LaneKind, LevelColumn, NumberColumn};
use crate::diagram::scale::TimeScale;

/// Height of a wave in units.
pub(super) const WAVE_HEIGHT: i64 = 18;
/// Estimated advance of one column of the small figures, in units.
const FIGURE_ADVANCE: f64 = 6.4;
/// More steps and ramps than this are drawn by columns.
const EXACT_SEGMENTS_MAX: usize = 200;

/// The time axis of the plot in units.
#[derive(Clone, Debug)]
pub(super) struct Plot {
    /// Columns of equal time, each `column_units` wide.
    pub(super) scale: TimeScale,
    /// Width of one column in units.
    pub(super) column_units: i64,
    /// Start of the time shown, in nanoseconds.
    pub(super) start_ns: i64,
    /// End of the time shown.
    pub(super) end_ns: i64,
    /// Width of the plot in units.
    pub(super) width: i64,
}

impl Plot {
    /// The place of a time, in tenths of a unit from the left.
    pub(super) fn tenths(&self, time_ns: i64) -> i64 {
        let span = (i128::from(self.end_ns) - i128::from(self.start_ns)).max(1);
        let offset = (i128::from(time_ns) - i128::from(self.start_ns)).clamp(0, span);
        // At most ten times the width.
        i64::try_from(offset * i128::from(self.width) * 10 / span).unwrap_or(0)
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
}

/// Draws a lane.
pub(super) fn shape(lane: &Lane, plot: &Plot, filled: bool) -> Shape {
    match lane.kind {
        _ if lane.points.is_empty() || plot.scale.columns == 0 => Shape::default(),
        LaneKind::Level => levels(&lane.level_columns(&plot.scale), plot, filled),
        LaneKind::Steps | LaneKind::Curve => numbers(lane, plot),
        LaneKind::Boxes => boxes(lane, plot),
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
        let x = i64::try_from(index).unwrap_or(i64::MAX).saturating_mul(units).min(plot.width);
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
fn push_area(path: &mut String, from: i64, to: i64) {
    let _ = write!(path, "M{from} 0h{}v{WAVE_HEIGHT}h-{}z", to - from, to - from);
}

/// Bars at half height, to be stroked as wide as a wave is high; neighbours are joined.
#[derive(Default)]
struct Bars {
    open_to: Option<i64>,
}

impl Bars {
    /// Adds a bar for the column from `x` on, `units` wide; never so thin that it gets lost on a grid line.
    fn add(&mut self, path: &mut String, x: i64, units: i64) {
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

/// A numeric lane: exact steps and ramps while they are few, else the extremes of each column.
fn numbers(lane: &Lane, plot: &Plot) -> Shape {
    let mut shape = Shape::default();
    let Some((lowest, highest)) = lane.heights() else {
        return Shape { labels: hold_labels(lane, plot, &|_| WAVE_HEIGHT * 8 + 70), ..Shape::default() };
    };
    // Tenths of a unit from the top; what is no finite number is labelled at half height.
    let height = |number: f64| -> i64 {
        let share = if highest > lowest {
            (number / 2.0 - lowest / 2.0) / (highest / 2.0 - lowest / 2.0)
        } else {
            0.0
        };
        let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
        // Between 0 and ten times the height.
        WAVE_HEIGHT * 10 - (share * (WAVE_HEIGHT * 10) as f64).round() as i64
    };
    if segments(lane) <= EXACT_SEGMENTS_MAX {
        exact_numbers(lane, plot, &height, &mut shape.wave);
    } else {
        column_numbers(&lane.number_columns(&plot.scale), plot, &height, &mut shape.wave);
    }
    shape.labels = hold_labels(lane, plot, &|index| {
        let number = lane.number(index);
        if number.is_finite() { height(number) } else { WAVE_HEIGHT * 8 + 70 }
    });
    shape
}

/// Number of steps and ramps, counted no further than needed.
fn segments(lane: &Lane) -> usize {
    let mut segments = 0;
    let mut index = 0;
    while index + 1 < lane.points.len() && segments <= EXACT_SEGMENTS_MAX {
        index = lane.ramp_end(index).max(index + 1);
        segments += 1;
    }
    segments
}

/// Steps at their exact places, ramps as slanted lines. A whole number's step too small to be seen gets a tick;
/// the line is
/// broken while there is no finite number.
fn exact_numbers(lane: &Lane, plot: &Plot, height: &dyn Fn(f64) -> i64, path: &mut String) {
    /// Steps below one unit are not seen.
    const VISIBLE_TENTHS: i64 = 10;
    let place = |index: usize| {
        let time = lane.points.get(index).map_or(plot.start_ns, |point| point.time_ns);
        let number = lane.number(index);
        (Tenths(plot.tenths(time)), number.is_finite().then(|| height(number)))
    };
    let (_, mut here) = place(0);
    if let Some(y) = here {
        let _ = write!(path, "M0 {}", Tenths(y));
    }
    let mut index = 0;
    while index + 1 < lane.points.len() {
        let ramp_end = lane.ramp_end(index);
        let is_ramp = ramp_end > index;
        index = ramp_end.max(index + 1);
        let (x, next) = place(index);
        let _ = match (here, next) {
            (Some(_), Some(y)) if is_ramp => write!(path, "L{x} {}", Tenths(y)),
            (Some(from), Some(y)) if lane.kind == LaneKind::Steps && (from - y).abs() < VISIBLE_TENTHS => {
                write!(path, "H{x}v-3v6v-3V{}", Tenths(y))
            }
            (Some(_), Some(y)) => write!(path, "H{x}V{}", Tenths(y)),
            (Some(_), None) => write!(path, "H{x}"),
            (None, Some(y)) => write!(path, "M{x} {}", Tenths(y)),
            (None, None) => Ok(()),
        };
        here = next;
    }
    if here.is_some() {
        let _ = write!(path, "H{}", plot.width);
    }
}

/// In each column with changes a stroke over all finite values in force there; the line is broken while there is no
/// finite number.
fn column_numbers(columns: &[NumberColumn], plot: &Plot, height: &dyn Fn(f64) -> i64, path: &mut String) {
    let units = |number: f64| number.is_finite().then(|| (height(number) + 5) / 10);
    let Some(first) = columns.first() else { return };
    let mut here = units(first.enters);
    let mut drawn_to = 0;
    if let Some(y) = here {
        let _ = write!(path, "M0 {y}");
    }
    for (index, column) in columns.iter().enumerate().filter(|(_, column)| column.changes > 0) {
        let x = i64::try_from(index).unwrap_or(i64::MAX).saturating_mul(plot.column_units).min(plot.width);
        let (Some(top), Some(bottom)) = (units(column.highest), units(column.lowest)) else { continue };
        let leaves = units(column.leaves);
        let mut y = here.unwrap_or_else(|| {
            let _ = write!(path, "M{x} {top}");
            drawn_to = x;
            top
        });
        // Nearer extreme first, so that the stroke is passed over as little as may be.
        let turns = if (y - top).abs() <= (y - bottom).abs() { [top, bottom] } else { [bottom, top] };
        for turn in turns.into_iter().chain(leaves).chain(leaves.is_none().then_some(turns[1])) {
            if turn != y || (leaves.is_none() && x > drawn_to) {
                if x > drawn_to {
                    let _ = write!(path, "h{}", x - drawn_to);
                    drawn_to = x;
                }
                let _ = write!(path, "v{}", turn - y);
                y = turn;
            }
        }
        here = leaves;
    }
    if here.is_some() && plot.width > drawn_to {
        let _ = write!(path, "h{}", plot.width - drawn_to);
    }
}

/// Values written where they hold long enough: above a low line, below a high one.
fn hold_labels(lane: &Lane, plot: &Plot, height: &dyn Fn(usize) -> i64) -> Vec<Label> {
    let mut labels = Vec::new();
    for hold in lane.holds(&plot.scale) {
        let time = lane.points.get(hold.point).map_or(plot.start_ns, |point| point.time_ns);
        let end = lane.points.get(hold.point + 1).map_or(plot.end_ns, |point| point.time_ns);
        let (from, to) = (plot.tenths(time), plot.tenths(end));
        // The column width bounds how many texts there can be, so the text is made only where it may fit.
        if to - from < (FIGURE_ADVANCE * 10.0) as i64 + 60 {
            continue;
        }
        let text = lane.text(hold.point);
        if text.width() as f64 * FIGURE_ADVANCE * 10.0 + 60.0 <= (to - from) as f64 {
            let line = height(hold.point) / 10;
            let y = if line < WAVE_HEIGHT / 2 { line + 12 } else { line - 4 };
            labels.push(Label { tenths: from + 40, y, text });
        }
    }
    labels
}

/// A lane of boxes: two rails, crossed where the value changes.
fn boxes(lane: &Lane, plot: &Plot) -> Shape {
    let mut shape = Shape::default();
    let mut busy = Bars::default();
    let _ = write!(shape.wave, "M0 0H{}M0 {WAVE_HEIGHT}H{}", plot.width, plot.width);
    for hold in lane.holds(&plot.scale) {
        let x = i64::try_from(hold.columns.start)
            .unwrap_or(i64::MAX)
            .saturating_mul(plot.column_units)
            .min(plot.width);
        if hold.crowded {
            busy.add(&mut shape.busy, x, plot.column_units);
        } else if hold.point > 0 {
            let _ = write!(shape.wave, "M{x} 0v{WAVE_HEIGHT}");
        }
    }
    for label in hold_labels(lane, plot, &|_| WAVE_HEIGHT * 10) {
        shape.labels.push(Label { y: WAVE_HEIGHT - 5, ..label });
    }
    cropped_labels(lane, plot, &mut shape.labels);
    shape.labels.sort_by_key(|label| label.tenths);
    shape
}

/// Values that fit only in part, cut to the room they have, where four columns and more of it are left.
fn cropped_labels(lane: &Lane, plot: &Plot, labels: &mut Vec<Label>) {
    for hold in lane.holds(&plot.scale) {
        let time = lane.points.get(hold.point).map_or(plot.start_ns, |point| point.time_ns);
        let end = lane.points.get(hold.point + 1).map_or(plot.end_ns, |point| point.time_ns);
        let (from, to) = (plot.tenths(time), plot.tenths(end));
        // A non-negative number of columns, far below the limits of usize.
        let room = (((to - from) as f64 - 60.0) / (FIGURE_ADVANCE * 10.0)).max(0.0) as usize;
        if room < 4 {
            continue;
        }
        let text = lane.text(hold.point);
        if text.width() > room {
            let text = crate::diagram::words::crop(&text, room, '…');
            labels.push(Label { tenths: from + 40, y: WAVE_HEIGHT - 5, text });
        }
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

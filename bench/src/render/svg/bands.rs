//! Values written along a lane, and lanes of boxes: texts, bit strings, enumerations, steps of charts.

use std::fmt::Write as _;

use unicode_width::UnicodeWidthStr;

use super::shape::{Bars, Label, Plot, Shape, WAVE_HEIGHT, push_area};
use crate::diagram::{
    lane::{Hold, Lane},
    words::crop,
};

/// Estimated advance of one column of the small figures, in units.
const FIGURE_ADVANCE: f64 = 6.4;
/// Room left free at both sides of a value, in tenths of a unit.
const PADDING_TENTHS: i64 = 60;
/// A value that does not fit is cut where so many columns of it are left.
const CUT_COLUMNS_MIN: usize = 4;

/// A value with the room it has, in tenths of a unit.
struct Held {
    hold: Hold,
    from: i64,
    to: i64,
}

impl Held {
    /// Columns of text that fit.
    fn room(&self) -> usize {
        // A non-negative number of columns, far below the limits of usize.
        (((self.to - self.from - PADDING_TENTHS) as f64) / (FIGURE_ADVANCE * 10.0)).max(0.0) as usize
    }
}

/// The values that are held, each with its room; the picture is interrupted where time is folded.
fn held(lane: &Lane, plot: &Plot) -> Vec<Held> {
    let holds = lane.holds(&plot.scale).into_iter();
    let held = holds.map(|hold| {
        let time = |point: usize| lane.points.get(point).map(|point| plot.tenths(point.time_ns));
        let (left, right) = (plot.left(hold.columns.start) * 10, plot.left(hold.columns.end) * 10);
        let from = if hold.fresh { time(hold.point).unwrap_or(left) } else { left };
        let to = time(hold.point + 1).unwrap_or(right).min(right);
        Held { hold, from, to }
    });
    held.collect()
}

/// Values written where they hold long enough: above a low line, below a high one.
pub(super) fn hold_labels(lane: &Lane, plot: &Plot, middle: i64, line: &dyn Fn(usize) -> i64) -> Vec<Label> {
    let mut labels = Vec::new();
    // The column width bounds how many texts there can be, so the text is made only where it may fit.
    for held in held(lane, plot).into_iter().filter(|held| held.room() > 0) {
        let text = lane.label(held.hold.point);
        if text.width() <= held.room() {
            let line = line(held.hold.point) / 10;
            let y = if line < middle { line + 12 } else { line - 4 };
            labels.push(Label { tenths: held.from + 40, y, text, full: None });
        }
    }
    labels
}

/// A lane of boxes: two rails, crossed where the value changes. An empty name is no box: only its lower rail is drawn.
pub(super) fn boxes(lane: &Lane, plot: &Plot, filled: bool) -> Shape {
    let mut shape = Shape::default();
    let mut busy = Bars::default();
    let nothing = |point: usize| lane.points.get(point).is_some_and(|point| point.is_nothing());
    let has_gaps = (0..lane.points.len()).any(nothing);
    if !has_gaps {
        let _ = write!(shape.wave, "M0 0H{}", plot.width);
    }
    let _ = write!(shape.wave, "M0 {WAVE_HEIGHT}H{}", plot.width);
    for held in held(lane, plot) {
        let x = plot.left(held.hold.columns.start);
        let end = plot.left(held.hold.columns.end);
        if held.hold.crowded {
            busy.add(&mut shape.busy, x, plot.column_units);
        } else if held.hold.fresh {
            let _ = write!(shape.wave, "M{x} 0v{WAVE_HEIGHT}");
        }
        let box_here = !nothing(held.hold.point);
        if has_gaps && box_here {
            let _ = write!(shape.wave, "M{x} 0H{end}");
        }
        if filled && box_here {
            push_area(&mut shape.fill, x, end);
        }
        let text = if held.room() > 0 { lane.label(held.hold.point) } else { continue };
        let label = |text: String, full| Label { tenths: held.from + 40, y: WAVE_HEIGHT - 5, text, full };
        if text.width() <= held.room() {
            shape.labels.push(label(text, None));
        } else if held.room() >= CUT_COLUMNS_MIN {
            shape.labels.push(label(crop(&text, held.room(), '…'), Some(text)));
        }
    }
    shape
}

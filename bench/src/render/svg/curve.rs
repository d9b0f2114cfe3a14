//! The curve of a number: steps at their places, and lines where it moves.

use std::fmt::Write as _;

use super::{
    bands::hold_labels,
    shape::{CURVE_HEIGHT, Plot, Shape, Tenths, WAVE_HEIGHT},
};
use crate::diagram::lane::{Lane, LaneKind, NumberColumn};

/// A number with more changes is drawn taller.
const CURVE_CHANGES_MIN: usize = 12;
/// More steps and lines than this are drawn by columns.
const SEGMENTS_MAX: usize = 300;
/// Changes of a tall curve that follow one another so closely are joined by a line, in tenths of a unit.
const JOINED_TENTHS: i64 = 30;
/// A line passes what it stands for within so much, in tenths of a unit.
const LINE_TENTHS: f64 = 4.0;
/// A step of less than this is not seen, in tenths of a unit.
const VISIBLE_TENTHS: i64 = 10;

/// A numeric lane: exact steps and lines while they are few, else the extremes of each column.
pub(super) fn numbers(lane: &Lane, plot: &Plot) -> Shape {
    let mut shape = Shape::default();
    let Some((lowest, highest)) = lane.heights() else {
        return Shape {
            labels: hold_labels(lane, plot, WAVE_HEIGHT / 2, &|_| WAVE_HEIGHT * 8 + 70),
            ..Shape::default()
        };
    };
    let tall = lane.changes() > CURVE_CHANGES_MIN && highest > lowest;
    shape.height = if tall { CURVE_HEIGHT } else { WAVE_HEIGHT };
    let full = shape.height * 10;
    // Tenths of a unit from the top; what is no finite number is labelled at half height.
    let height = |number: f64| -> i64 {
        let share = if highest > lowest {
            (number / 2.0 - lowest / 2.0) / (highest / 2.0 - lowest / 2.0)
        } else {
            0.0
        };
        let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
        // Between 0 and ten times the height.
        full - (share * full as f64).round() as i64
    };
    shape.wave = exact_numbers(lane, plot, &height, tall)
        .unwrap_or_else(|| column_numbers(&lane.number_columns(&plot.scale), plot, &height));
    let middle = shape.height / 2;
    shape.labels = hold_labels(lane, plot, middle, &|index| {
        let number = lane.number(index);
        if number.is_finite() { height(number) } else { middle * 16 + 70 }
    });
    shape
}

/// Steps at their exact places, lines where a tall curve moves. A whole number's step too small to be seen gets a tick;
/// the line is broken while there is no finite number. `None` if that would be too much.
fn exact_numbers(lane: &Lane, plot: &Plot, height: &dyn Fn(f64) -> i64, tall: bool) -> Option<String> {
    let place = |index: usize| {
        let time = lane.points.get(index).map_or(i64::MIN, |point| point.time_ns);
        let number = lane.number(index);
        (plot.tenths(time), number.is_finite().then(|| height(number)))
    };
    let ticked = lane.kind == LaneKind::Steps && !tall;
    let mut path = String::new();
    let (_, mut here) = place(0);
    if let Some(y) = here {
        let _ = write!(path, "M0 {}", Tenths(y));
    }
    let (mut index, mut segments) = (0, 0);
    while index + 1 < lane.points.len() {
        segments += 1;
        if segments > SEGMENTS_MAX {
            return None;
        }
        let ramp_end = lane.ramp_end(index);
        let line = if tall { line(index, lane.points.len(), &place) } else { Vec::new() };
        if ramp_end > index && line.last().is_none_or(|last| *last <= ramp_end) {
            here = place(ramp_end).1;
            ramp(lane, plot, (index, ramp_end), height, &mut path);
            index = ramp_end;
            continue;
        }
        if let Some(last) = line.last() {
            segments += line.len();
            for point in &line {
                let (x, y) = place(*point);
                let _ = write!(path, "L{} {}", Tenths(x), Tenths(y.unwrap_or(0)));
                here = y;
            }
            index = *last;
            continue;
        }
        index += 1;
        let (x, next) = place(index);
        let x = Tenths(x);
        let _ = match (here, next) {
            (Some(from), Some(y)) if ticked && (from - y).abs() < VISIBLE_TENTHS => {
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
    Some(path)
}

/// A slanted line between two points, which folds bend.
fn ramp(
    lane: &Lane,
    plot: &Plot,
    (first, last): (usize, usize),
    height: &dyn Fn(f64) -> i64,
    path: &mut String,
) {
    let (Some(start), Some(end)) = (lane.points.get(first), lane.points.get(last)) else { return };
    let (from, to) = (lane.number(first), lane.number(last));
    let length = end.time_ns.saturating_sub(start.time_ns).max(1) as f64;
    let borders = plot.scale.folds.iter().flat_map(|fold| [fold.from_ns, fold.until_ns]);
    let bends = borders.filter(|time| (start.time_ns..end.time_ns).contains(time));
    for time in bends.chain([end.time_ns]) {
        let share = time.saturating_sub(start.time_ns) as f64 / length;
        let number = if time == end.time_ns { to } else { from + (to - from) * share };
        let _ = write!(path, "L{} {}", Tenths(plot.tenths(time)), Tenths(height(number)));
    }
}

/// The points of a line from `first` on that passes all values up to its last point closely enough; empty where the
/// number does not move, but jumps or waits.
fn line(first: usize, points: usize, place: &dyn Fn(usize) -> (i64, Option<i64>)) -> Vec<usize> {
    let mut line = Vec::new();
    let (mut from, mut last) = (first, first);
    let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
    while last + 1 < points && line.len() < SEGMENTS_MAX {
        let ((x, y), (next_x, next_y)) = (place(last), place(last + 1));
        let (Some(y), Some(next_y), (from_x, Some(from_y))) = (y, next_y, place(from)) else { break };
        // A change by more than a tenth of the height is a step, however close.
        if next_x - x > JOINED_TENTHS || (next_y - y).abs() > CURVE_HEIGHT {
            break;
        }
        let (run, rise) = (((next_x - from_x).max(1)) as f64, (next_y - from_y) as f64);
        let narrowed = (least.max((rise - LINE_TENTHS) / run), most.min((rise + LINE_TENTHS) / run));
        // The line so far ends where the next value would leave it.
        if last > from && (narrowed.0 > narrowed.1 || !(narrowed.0..=narrowed.1).contains(&(rise / run))) {
            line.push(last);
            from = last;
            (least, most) = (f64::NEG_INFINITY, f64::INFINITY);
            continue;
        }
        (least, most) = narrowed;
        last += 1;
    }
    if last > from {
        line.push(last);
    }
    // One change alone is a step.
    if last > first + 1 { line } else { Vec::new() }
}

/// In each column with changes a stroke over all finite values in force there; the line is broken while there is no
/// finite number.
fn column_numbers(columns: &[NumberColumn], plot: &Plot, height: &dyn Fn(f64) -> i64) -> String {
    let mut path = String::new();
    let units = |number: f64| number.is_finite().then(|| (height(number) + 5) / 10);
    let Some(first) = columns.first() else { return path };
    let mut here = units(first.enters);
    let mut drawn_to = 0;
    if let Some(y) = here {
        let _ = write!(path, "M0 {y}");
    }
    for (index, column) in columns.iter().enumerate().filter(|(_, column)| column.changes > 0) {
        let x = plot.left(index);
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
    path
}

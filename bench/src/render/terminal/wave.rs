//! The two lines of characters that draw one lane over the columns of a scale.
//!
//! What happens in a column is drawn in that column; what is too short for it gets a mark of its own, noted in
//! [`Marks`] so that the legend can explain it. Knows nothing of headings or of the page.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use super::glyphs::{Glyphs, WaveGlyphs};
use crate::diagram::RowKind;
use crate::diagram::lane::{Lane, LaneKind, LevelColumn, NumberColumn};
use crate::diagram::scale::TimeScale;
use crate::diagram::words::crop;

/// Values in fewer columns have no room; many of them are a curve.
const VALUE_COLUMNS_MIN: usize = 3;

/// Which marks a diagram used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Marks {
    /// There and back within one column.
    pub(super) spike: bool,
    /// Three edges or more within one column.
    pub(super) busy: bool,
    /// Several new values within one column of boxes.
    pub(super) boundaries: bool,
    /// A change whose value has no room.
    pub(super) unwritten: bool,
    /// A number that is none, or infinite.
    pub(super) no_number: bool,
    /// Heights.
    pub(super) heights: bool,
    /// Highest and lowest value of each column.
    pub(super) envelope: bool,
    /// Nothing is known.
    pub(super) unknown: bool,
    /// Time is folded.
    pub(super) fold: bool,
    /// Something happened to the whole controller.
    pub(super) through: bool,
}

/// The upper and the lower line of a lane, each as wide as the scale has columns.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Wave {
    pub(super) upper: String,
    pub(super) lower: String,
    /// Whether the lines are the highest and the lowest values instead of values and heights.
    pub(super) envelope: bool,
}

/// Draws a lane.
pub(super) fn wave(
    lane: &Lane,
    kind: RowKind,
    scale: &TimeScale,
    glyphs: &Glyphs,
    ascii: bool,
    marks: &mut Marks,
) -> Wave {
    let mut wave = match lane.kind {
        LaneKind::Level => levels(&lane.level_columns(scale), glyphs.wave(kind), glyphs.busy, marks),
        LaneKind::Steps | LaneKind::Curve => numbers(lane, scale, glyphs, ascii, marks),
        LaneKind::Boxes => boxes(lane, scale, glyphs, ascii, marks),
    };
    if !lane.unknown.is_empty() {
        veil(lane, scale, glyphs, &mut wave, marks);
    }
    if !scale.folds.is_empty() {
        marks.fold = true;
        fold(scale, glyphs, &mut wave);
    }
    wave
}

/// Takes out the columns of which nothing is known.
fn veil(lane: &Lane, scale: &TimeScale, glyphs: &Glyphs, wave: &mut Wave, marks: &mut Marks) {
    let mut hidden = vec![false; scale.columns];
    for (from, until) in &lane.unknown {
        // A column that is known in part keeps what is known.
        let left = i128::from(*from) - i128::from(scale.origin_ns);
        let right = i128::from(*until) - i128::from(scale.origin_ns);
        let width = i128::from(scale.column_ns.max(1));
        let left = usize::try_from((left + width - 1).div_euclid(width)).unwrap_or(0);
        let right = usize::try_from(right.div_euclid(width)).unwrap_or(0);
        hidden.iter_mut().take(right).skip(left).for_each(|cell| *cell = true);
    }
    if !hidden.contains(&true) {
        return;
    }
    marks.unknown = true;
    let covered = |column: usize| hidden.get(column).copied().unwrap_or(false);
    wave.upper = overlaid(&wave.upper, |column| covered(column).then_some(' '));
    wave.lower = overlaid(&wave.lower, |column| covered(column).then_some(glyphs.unknown));
}

/// Draws what is folded over a lane.
fn fold(scale: &TimeScale, glyphs: &Glyphs, wave: &mut Wave) {
    let [upper, lower] = &glyphs.fold;
    let sign = |column: usize, line: &[char]| {
        let fold =
            scale.folds.iter().find(|fold| (fold.column..fold.column + fold.columns).contains(&column))?;
        line.get(column - fold.column).copied()
    };
    wave.upper = overlaid(&wave.upper, |column| sign(column, upper));
    wave.lower = overlaid(&wave.lower, |column| sign(column, lower));
}

/// A line with other characters in some columns. A wide character that loses one of its columns loses both.
pub(super) fn overlaid(line: &str, instead: impl Fn(usize) -> Option<char>) -> String {
    let mut drawn = String::new();
    let mut column = 0;
    for character in line.chars() {
        let width = character.width().unwrap_or(0);
        let columns = column..column + width;
        if columns.clone().any(|column| instead(column).is_some()) {
            drawn.extend(columns.map(|column| instead(column).unwrap_or(' ')));
        } else {
            drawn.push(character);
        }
        column += width;
    }
    drawn
}

/// A two-state lane.
fn levels(columns: &[LevelColumn], glyphs: &WaveGlyphs, busy: char, marks: &mut Marks) -> Wave {
    let mut wave = Wave { upper: String::new(), lower: String::new(), envelope: false };
    for column in columns {
        let (upper, lower) = match (column.rises, column.falls) {
            (0, 0) if column.enters => (glyphs.level, ' '),
            (0, 0) => (' ', glyphs.level),
            (1, 0) => glyphs.rise,
            (0, 1) => glyphs.fall,
            (1, 1) => {
                marks.spike = true;
                if column.enters { glyphs.pulse_down } else { glyphs.pulse_up }
            }
            _ => {
                marks.busy = true;
                (busy, busy)
            }
        };
        wave.upper.push(upper);
        wave.lower.push(lower);
    }
    wave
}

/// A numeric lane: values above, heights below; or, where most columns swing to and fro, the highest and the
/// lowest value of each column.
fn numbers(lane: &Lane, scale: &TimeScale, glyphs: &Glyphs, ascii: bool, marks: &mut Marks) -> Wave {
    let columns = lane.number_columns(scale);
    let (lowest, highest) = lane.heights().unwrap_or((f64::NAN, f64::NAN));
    let share = |number: f64| share_of(number, lowest, highest);
    let level = 1.0 / (glyphs.heights.len().max(2) - 1) as f64;
    let swings = |column: &NumberColumn| {
        let (enters, leaves) = (share(column.enters), share(column.leaves));
        share(column.lowest) < enters.min(leaves) - level / 2.0
            || share(column.highest) > enters.max(leaves) + level / 2.0
    };
    let height = |number: f64, marks: &mut Marks| {
        if number.is_finite() {
            glyphs.height(share(number))
        } else {
            marks.no_number = true;
            glyphs.no_number
        }
    };
    marks.heights |= !columns.is_empty();
    let swinging = columns.iter().filter(|column| swings(column)).count();
    if swinging > columns.len() / 4 && swinging > 3 {
        marks.envelope = true;
        let upper = columns.iter().map(|column| height(column.highest, marks)).collect();
        let lower = columns.iter().map(|column| height(column.lowest, marks)).collect();
        return Wave { upper, lower, envelope: true };
    }
    let short =
        lane.holds(scale).iter().filter(|hold| hold.fresh && hold.columns.len() < VALUE_COLUMNS_MIN).count();
    if short > 3 && short > columns.len() / 8 && glyphs.taller {
        let mut wave = chart(&columns, &share, &swings, glyphs, marks);
        write_above(lane, scale, ascii, &mut wave.upper);
        return wave;
    }
    let mut lower = String::new();
    for column in &columns {
        if swings(column) {
            marks.spike = true;
            lower.push(glyphs.spike);
        } else {
            lower.push(height(column.leaves, marks));
        }
    }
    Wave { upper: values(lane, scale, glyphs, ascii, marks), lower, envelope: false }
}

/// A numeric lane that moves all the time: heights over both lines.
fn chart(
    columns: &[NumberColumn],
    share: &dyn Fn(f64) -> f64,
    swings: &dyn Fn(&NumberColumn) -> bool,
    glyphs: &Glyphs,
    marks: &mut Marks,
) -> Wave {
    let mut wave = Wave { upper: String::new(), lower: String::new(), envelope: false };
    for column in columns {
        let (upper, lower) = if !column.leaves.is_finite() {
            marks.no_number = true;
            (' ', glyphs.no_number)
        } else if swings(column) {
            marks.spike = true;
            (glyphs.spike, glyphs.spike)
        } else {
            // The lower line is full where the upper one begins.
            let height = share(column.leaves) * 2.0;
            let upper = if height > 1.0 { glyphs.height(height - 1.0) } else { ' ' };
            (upper, glyphs.height(height))
        };
        wave.upper.push(upper);
        wave.lower.push(lower);
    }
    wave
}

/// Writes values above a low curve, where they hold long enough.
fn write_above(lane: &Lane, scale: &TimeScale, ascii: bool, upper: &mut String) {
    let mut cells: Vec<char> = upper.chars().collect();
    for hold in lane.holds(scale) {
        let text = shown_text(lane, hold.point, ascii);
        let room = cells.get_mut(hold.columns).unwrap_or_default();
        // Numbers are written in characters of one column; a blank stays at both ends.
        if text.chars().count() + 1 < room.len() && room.iter().all(|cell| *cell == ' ') {
            room.iter_mut().skip(1).zip(text.chars()).for_each(|(cell, character)| *cell = character);
        }
    }
    *upper = cells.into_iter().collect();
}

/// The share of the way from `lowest` to `highest`; 0 if they are the same.
fn share_of(number: f64, lowest: f64, highest: f64) -> f64 {
    if highest > lowest {
        // Halves keep the difference of two large numbers finite.
        (number / 2.0 - lowest / 2.0) / (highest / 2.0 - lowest / 2.0)
    } else {
        0.0
    }
}

/// The values of a numeric lane, each from its column on, where there is room for all of it.
fn values(lane: &Lane, scale: &TimeScale, glyphs: &Glyphs, ascii: bool, marks: &mut Marks) -> String {
    let mut line = String::new();
    for hold in lane.holds(scale) {
        let room = hold.columns.len();
        let text = shown_text(lane, hold.point, ascii);
        let width = text.width();
        line.push_str(&" ".repeat(hold.columns.start.saturating_sub(line.width())));
        // One blank keeps a value off what is in front of it where the picture goes on behind a fold.
        let room = if !hold.fresh && hold.columns.start > 0 && width + 1 < room {
            line.push(' ');
            room - 1
        } else {
            room
        };
        // One blank keeps a value from running into the next; the last one needs none.
        if width < room || (width == room && hold.columns.end == scale.columns) {
            line.push_str(&text);
            line.push_str(&" ".repeat(room - width));
        } else {
            if hold.fresh {
                marks.unwritten = true;
                line.push(glyphs.unwritten);
            } else {
                line.push(' ');
            }
            line.push_str(&" ".repeat(room.saturating_sub(1)));
        }
    }
    line
}

/// A lane of boxes: a bar where a value begins, then as much of it as there is room for.
fn boxes(lane: &Lane, scale: &TimeScale, glyphs: &Glyphs, ascii: bool, marks: &mut Marks) -> Wave {
    let mut wave = Wave { upper: String::new(), lower: String::new(), envelope: false };
    for hold in lane.holds(scale) {
        let mut room = hold.columns.len();
        for line in [&mut wave.upper, &mut wave.lower] {
            line.push_str(&" ".repeat(hold.columns.start.saturating_sub(line.width())));
        }
        if hold.fresh {
            let (upper, lower) = if hold.crowded {
                marks.boundaries = true;
                glyphs.boundaries
            } else {
                glyphs.boundary
            };
            wave.upper.push(upper);
            wave.lower.push(lower);
            room -= 1;
        }
        // A single letter of a longer value would mislead more than it tells.
        let mut text = shown_text(lane, hold.point, ascii);
        if text.width() > room {
            text = if room >= 3 { crop(&text, room, glyphs.cropped) } else { String::new() };
        }
        let rest = room.saturating_sub(text.width());
        wave.upper.push_str(&text);
        wave.upper.push_str(&" ".repeat(rest));
        wave.lower.extend(std::iter::repeat_n(glyphs.baseline, room));
    }
    wave
}

/// The text of a value in the characters allowed.
fn shown_text(lane: &Lane, point: usize, ascii: bool) -> String {
    let text = lane.label(point);
    if ascii { super::text::to_ascii(&text) } else { text }
}

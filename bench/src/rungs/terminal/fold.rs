//! Folding of rungs that are wider than the page.

use super::{
    Places,
    canvas::{Canvas, Weight},
};
use crate::{
    render::terminal::text::{Line, Style},
    rungs::letters,
};

/// Columns of a mark at the left and at the right.
const MARK: usize = 4;

/// The lines of a canvas, cut at boundaries of columns where it is wider than `width`. Lines that go on have the same mark
/// at both ends.
pub(super) fn fold(canvas: &Canvas, places: &Places, width: usize, ascii: bool) -> Vec<Line> {
    let end = places.rail + 1;
    if end <= width {
        return (0..places.height).map(|y| canvas.line(y, 0, end)).collect();
    }
    let mut lines = Vec::new();
    let mut marks = 0_usize;
    let mut carried: Vec<(usize, String)> = Vec::new();
    let mut from = 0;
    while from < end {
        let lead = if from == 0 { 0 } else { MARK };
        let room = width.saturating_sub(lead);
        let (to, last) = if end - from <= room {
            (end, true)
        } else {
            let fits = |boundary: &&usize| **boundary >= from && **boundary + 1 - from + MARK <= room;
            let boundary = places.boundaries.iter().rev().find(fits).copied();
            // A single column that is wider than the page is cut where the page ends.
            let cut = boundary.map_or(from + room.saturating_sub(MARK).max(1), |boundary| boundary + 1);
            (cut.max(from + 1), false)
        };
        let mut next = Vec::new();
        if !lines.is_empty() {
            lines.push(Line::default());
        }
        // Of a part that is lower than the rung the empty lines are left out.
        let drawn = |y: &usize| canvas.is_drawn(*y, from, to.min(places.rail));
        let (first, end_of_part) = match from {
            0 => (0, places.height),
            _ => {
                let first = (0..places.height).find(drawn).unwrap_or(0);
                (first, (first..places.height).rev().find(drawn).map_or(first, |last| last + 1))
            }
        };
        for y in first..end_of_part {
            let mut line = Line::default();
            if lead > 0 {
                let mark = carried.iter().find(|(row, _)| *row == y).map(|(_, mark)| mark.as_str());
                let arrow = if ascii { "-" } else { "→" };
                let text = mark.map(|mark| format!("{mark:>2}{arrow} ")).unwrap_or_default();
                line.push(Style::Faint, text).pad_to(MARK);
            }
            line.append(canvas.line(y, from, to));
            if let Some(weight) = canvas.crosses(to.saturating_sub(1), y).filter(|_| !last) {
                marks += 1;
                let mark = letters(marks);
                let arrow = match (ascii, weight) {
                    (true, Weight::Heavy) => "=> ",
                    (true, _) => "-> ",
                    (false, Weight::Heavy) => "━→",
                    (false, _) => "─→",
                };
                line.push(Style::Faint, format!("{arrow}{mark}"));
                next.push((y, mark));
            }
            lines.push(line);
        }
        carried = next;
        from = to;
    }
    lines
}

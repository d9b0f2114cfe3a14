//! A sheet of characters with lines that know how strong they are: where they meet, the character follows.
//!
//! Knows nothing of rungs.

use unicode_width::UnicodeWidthChar;

use crate::render::terminal::text::{Line, Style, to_ascii};

/// Most cells of a canvas.
pub(super) const CELLS_MAX: usize = 4_000_000;

/// How strong a line is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Weight {
    /// No line.
    #[default]
    None,
    /// A plain line.
    Light,
    /// A line with continuity.
    Heavy,
}

/// By the strength of the arms up, right, down, left: light and heavy box drawings of Unicode.
const JUNCTIONS: &str = " ╴╸╷┐┑╻┒┓╶─╾┌┬┭┎┰┱╺╼━┍┮┯┏┲┳╵┘┙│┤┥╽┧┪└┴┵├┼┽┟╁╅┕┶┷┝┾┿┢╆╈╹┚┛╿┦┩┃┨┫┖┸┹┞╀╃┠╂╉┗┺┻┡╄╇┣╊╋";

#[derive(Clone, Copy, Debug, Default)]
struct Cell {
    /// Up, right, down, left.
    arms: [Weight; 4],
    text: Option<(char, Style)>,
    /// The second column of a wide character.
    covered: bool,
}

/// The sheet.
pub(super) struct Canvas {
    width: usize,
    cells: Vec<Cell>,
    ascii: bool,
}

impl Canvas {
    /// An empty sheet; `None` if it would be too large.
    pub(super) fn new(width: usize, height: usize, ascii: bool) -> Option<Self> {
        let cells = width.checked_mul(height).filter(|cells| *cells <= CELLS_MAX)?;
        Some(Canvas { width, cells: vec![Cell::default(); cells], ascii })
    }

    fn cell(&mut self, x: usize, y: usize) -> Option<&mut Cell> {
        if x >= self.width {
            return None;
        }
        self.cells.get_mut(y * self.width + x)
    }

    fn arm(&mut self, x: usize, y: usize, arm: usize, weight: Weight) {
        if let Some(slot) = self.cell(x, y).and_then(|cell| cell.arms.get_mut(arm)) {
            *slot = (*slot).max(weight);
        }
    }

    /// A line from the middle of one cell to the middle of another in the same line.
    pub(super) fn across(&mut self, from: usize, to: usize, y: usize, weight: Weight) {
        for x in from..=to {
            if x < to {
                self.arm(x, y, 1, weight);
            }
            if x > from {
                self.arm(x, y, 3, weight);
            }
        }
    }

    /// A line from the middle of one cell to the middle of one below it.
    pub(super) fn down(&mut self, x: usize, from: usize, to: usize, weight: Weight) {
        for y in from..=to {
            if y < to {
                self.arm(x, y, 2, weight);
            }
            if y > from {
                self.arm(x, y, 0, weight);
            }
        }
    }

    /// A stroke through one cell, from top to bottom.
    pub(super) fn bar(&mut self, x: usize, y: usize, weight: Weight) {
        self.arm(x, y, 0, weight);
        self.arm(x, y, 2, weight);
    }

    /// Text from a column on.
    pub(super) fn write(&mut self, x: usize, y: usize, style: Style, text: &str) {
        let mut x = x;
        for character in self.allowed(text).chars() {
            let width = character.width().unwrap_or(0);
            if let Some(cell) = self.cell(x, y).filter(|_| width > 0) {
                cell.text = Some((character, style));
                cell.covered = false;
            }
            for covered in x + 1..x + width {
                if let Some(cell) = self.cell(covered, y) {
                    cell.covered = true;
                }
            }
            x += width;
        }
    }

    fn allowed(&self, text: &str) -> String {
        if self.ascii { to_ascii(text) } else { text.to_owned() }
    }

    /// Whether a line crosses from a column to the next one.
    pub(super) fn crosses(&self, x: usize, y: usize) -> Option<Weight> {
        let cell = self.cells.get(y * self.width + x).filter(|_| x < self.width)?;
        let [_, right, _, _] = cell.arms;
        (right > Weight::None).then_some(right)
    }

    /// Whether anything stands in some columns of a line.
    pub(super) fn is_drawn(&self, y: usize, from: usize, to: usize) -> bool {
        let cells = self.cells.get(y * self.width + from..y * self.width + to.min(self.width));
        let drawn = |cell: &Cell| cell.arms.iter().any(|arm| *arm > Weight::None);
        cells.into_iter().flatten().any(|cell| cell.text.is_some_and(|(sign, _)| sign != ' ') || drawn(cell))
    }

    /// Some columns of a line.
    pub(super) fn line(&self, y: usize, from: usize, to: usize) -> Line {
        let mut line = Line::default();
        for x in from..to.min(self.width) {
            let Some(cell) = self.cells.get(y * self.width + x) else { break };
            match cell.text {
                _ if cell.covered => {}
                Some((character, style)) => {
                    line.push(style, character.to_string());
                }
                None => {
                    let heavy = cell.arms.contains(&Weight::Heavy);
                    let style = if heavy { Style::Live } else { Style::Plain };
                    line.push(style, junction(cell.arms, self.ascii).to_string());
                }
            }
        }
        line
    }
}

fn junction(arms: [Weight; 4], ascii: bool) -> char {
    let index = arms.iter().fold(0, |index, weight| index * 3 + *weight as usize);
    if !ascii {
        return JUNCTIONS.chars().nth(index).unwrap_or(' ');
    }
    let [up, right, down, left] = arms;
    let (across, along) = (right.max(left), up.max(down));
    match (across, along) {
        (Weight::None, Weight::None) => ' ',
        (Weight::Light, Weight::None) => '-',
        (Weight::Heavy, Weight::None) => '=',
        (Weight::None, Weight::Light) => '|',
        (Weight::None, Weight::Heavy) => 'H',
        (Weight::Heavy, _) | (_, Weight::Heavy) => '#',
        _ => '+',
    }
}

#[cfg(test)]
mod tests {
    use super::{JUNCTIONS, Weight, junction};

    #[test]
    fn every_junction_has_its_character() {
        assert_eq!(JUNCTIONS.chars().count(), 81);
        let (none, light, heavy) = (Weight::None, Weight::Light, Weight::Heavy);
        let cases = [
            ([none, none, none, none], ' '),
            ([none, light, none, light], '─'),
            ([none, heavy, none, heavy], '━'),
            ([light, none, light, heavy], '┥'),
            ([heavy, light, heavy, none], '┠'),
            ([heavy, heavy, heavy, heavy], '╋'),
            ([none, heavy, light, light], '┮'),
            ([light, heavy, none, heavy], '┷'),
        ];
        for (arms, expected) in cases {
            assert_eq!(junction(arms, false), expected, "{arms:?}");
        }
    }
}

//! A line of marks below the time axis: stretches of time as brackets, moments as arrow heads, a few words behind.

use std::collections::BTreeSet;

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use super::{
    Page, single,
    text::{Line, Style, wrap_words},
    wave::{Marks, Wave, overlaid},
};
use crate::diagram::mark::Mark;

impl Page<'_> {
    /// Draws what happened to the whole controller through a row, where nothing else stands.
    pub(super) fn through(&self, wave: &mut Wave, marks: &mut Marks) {
        // What was so from the start divides nothing.
        let shown = self.diagram.start_ns.saturating_add(1)..=self.diagram.end_ns;
        let moments = self.diagram.marks.iter().filter(|mark| mark.through).flat_map(|mark| &mark.moments);
        let columns: BTreeSet<usize> = moments
            .filter(|moment| shown.contains(moment))
            .map(|moment| self.scale.column_of(*moment))
            .collect();
        if columns.is_empty() {
            return;
        }
        marks.through = true;
        for line in [&mut wave.upper, &mut wave.lower] {
            let blank = blanks(line);
            *line = overlaid(line, |column| {
                (columns.contains(&column) && blank.contains(&column)).then_some(self.glyphs.through)
            });
        }
    }

    /// The line of one mark, and where something happened to the whole controller lines for what has no room in it. What
    /// lies outside the time shown is left out; a stretch that reaches beyond it has no end there.
    pub(super) fn mark(&self, mark: &Mark) -> Vec<Line> {
        let (open, between, close, both) = self.glyphs.span;
        let mut cells: Vec<char> = vec![' '; self.scale.columns];
        let first = self.diagram.start_ns;
        let last = self.diagram.end_ns;
        for (from, until) in
            mark.spans.iter().copied().filter(|(from, until)| *from <= last && *until >= first)
        {
            let (left, right) = (self.scale.column_of(from), self.scale.column_of(until));
            for cell in cells.iter_mut().take(right + 1).skip(left) {
                *cell = between;
            }
            let alone = left == right;
            if until <= last
                && let Some(cell) = cells.get_mut(right)
            {
                *cell = if alone { both } else { close };
            }
            if from >= first
                && let Some(cell) = cells.get_mut(left)
            {
                *cell = if alone { both } else { open };
            }
        }
        for moment in mark.moments.iter().copied().filter(|moment| (first..=last).contains(moment)) {
            if let Some(cell) = cells.get_mut(self.scale.column_of(moment)) {
                *cell = self.glyphs.moment;
            }
        }
        let mut drawn: String = cells.into_iter().collect();
        let used = drawn.trim_end().width();
        let text = self.clean(&mark.text);
        let lead = drawn.width() - drawn.trim_start().width();
        let mut apart = Vec::new();
        if used + 1 + text.width() <= self.width - self.plot {
            drawn = format!("{} {text}", drawn.trim_end());
        } else if text.width() + 1 < lead {
            let blanks = " ".repeat(lead - 1 - text.width());
            drawn = format!("{blanks}{text} {}", drawn.trim_start());
        } else if mark.through {
            apart = wrap_words(&format!("   {text}"), 3, self.width);
        }
        let mut line = Line::default();
        line.push(Style::Plain, " ").push(Style::Strong, self.cropped(&mark.name, self.label_width));
        line.pad_to(self.plot).push(Style::Fault, drawn);
        let apart = apart.into_iter().map(|text| single(Style::Fault, text));
        std::iter::once(line).chain(apart).collect()
    }
}

/// The columns of a line that are blank.
fn blanks(line: &str) -> BTreeSet<usize> {
    let mut column = 0;
    let mut blanks = BTreeSet::new();
    for character in line.chars() {
        if character == ' ' {
            blanks.insert(column);
        }
        column += character.width().unwrap_or(0);
    }
    blanks
}

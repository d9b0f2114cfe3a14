//! The time axis of a terminal diagram: times, ticks, headings of groups with the ticks carried on, and what is folded.

use unicode_width::UnicodeWidthStr;

use super::{
    Page,
    glyphs::FOLD_COLUMNS,
    single,
    text::{Line, Style, wrap_words},
};
use crate::diagram::{GroupKind, scale::duration_words};

impl Page<'_> {
    pub(super) fn axis_labels(&self) -> Line {
        let mut labels = String::new();
        for tick in &self.ticks {
            let Some(blanks) = tick.column.checked_sub(labels.len()) else { continue };
            if tick.column + tick.label.len() <= self.width - self.plot {
                labels.push_str(&" ".repeat(blanks));
                labels.push_str(&tick.label);
            }
        }
        let unit = self.cropped(&format!("time in {}", self.unit.symbol), self.plot - 1);
        let mut line = Line::default();
        line.pad_to(self.plot - 1 - unit.width()).push(Style::Faint, unit);
        line.pad_to(self.plot).push(Style::Faint, labels);
        line
    }

    pub(super) fn axis(&self) -> Line {
        let (first, plain, tick) = self.glyphs.axis;
        let mut axis: Vec<char> = vec![plain; self.scale.columns];
        if let Some(start) = axis.first_mut() {
            *start = first;
        }
        for column in self.ticks.iter().map(|tick| tick.column).filter(|column| *column > 0) {
            if let Some(place) = axis.get_mut(column) {
                *place = tick;
            }
        }
        for fold in &self.scale.folds {
            let [_, sign] = &self.glyphs.fold;
            for (cell, character) in axis.iter_mut().skip(fold.column).zip(sign) {
                *cell = *character;
            }
        }
        let mut line = Line::default();
        line.pad_to(self.plot).push(Style::Faint, axis.into_iter().collect::<String>());
        line
    }

    /// The heading of a group, with the ticks carried on through it.
    pub(super) fn group_heading(&self, kind: GroupKind, with_ticks: bool) -> Line {
        let mut line = Line::default();
        line.push(Style::Strong, self.cropped(kind.title(), self.width));
        if with_ticks {
            for tick in &self.ticks {
                let column = self.plot + tick.column;
                if line.width() < column {
                    line.pad_to(column).push(Style::Faint, self.glyphs.tick);
                }
            }
        }
        line
    }

    /// What is folded, in words, below the axis: beside its sign where there is room, as many as fit in a line, else in
    /// lines of their own.
    pub(super) fn folds(&self) -> Vec<Line> {
        let columns = self.width - self.plot;
        let sign: String = self.glyphs.fold.first().into_iter().flatten().collect();
        let sign = sign.trim_end();
        let mut lines: Vec<String> = Vec::new();
        let mut apart = Vec::new();
        for (fold, words) in self.scale.folds.iter().zip(self.diagram.fold_words(&self.scale)) {
            let words = self.clean(&words);
            let (start, text) = if fold.column + FOLD_COLUMNS + 1 + words.width() <= columns {
                (fold.column, format!("{sign} {words}"))
            } else if words.width() < fold.column {
                (fold.column - words.width(), format!("{words}{sign}"))
            } else {
                apart.push(format!(" folded up to {}: {words}", self.clean(&duration_words(fold.until_ns))));
                continue;
            };
            let room = |line: &&mut String| line.width() == 0 || line.width() + 2 <= start;
            match lines.iter_mut().find(room) {
                Some(line) => {
                    let blanks = start - line.width();
                    line.push_str(&" ".repeat(blanks));
                    line.push_str(&text);
                }
                None => lines.push(format!("{}{text}", " ".repeat(start))),
            }
        }
        let beside = lines.into_iter().enumerate().map(|(index, text)| {
            let mut line = Line::default();
            if index == 0 {
                line.push(Style::Plain, " ").push(Style::Strong, self.cropped("folded", self.label_width));
            }
            line.pad_to(self.plot).push(Style::Plain, text);
            line
        });
        let apart = apart.iter().flat_map(|text| wrap_words(text, 3, self.width));
        beside.chain(apart.map(|text| single(Style::Plain, text))).collect()
    }
}

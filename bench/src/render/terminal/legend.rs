//! The legend of a terminal diagram: what its marks mean, only those used.

use unicode_width::UnicodeWidthStr;

use super::{
    Page, single,
    text::{Line, Style, wrap_parts, wrap_words},
    wave::Marks,
};
use crate::diagram::{RowKind, lane::LaneKind, scale::time_text};

impl Page<'_> {
    /// What the marks mean, only those used.
    pub(super) fn legend(&self, marks: Marks) -> Vec<Line> {
        let glyphs = self.glyphs;
        let mut entries: Vec<String> = Vec::new();
        let has = |kind: RowKind| {
            self.diagram.rows().any(|row| row.kind == kind && row.lane_kind == LaneKind::Level)
        };
        let kinds = [
            (RowKind::Device, "device"),
            (RowKind::Terminal, "terminal"),
            (RowKind::Output, "output"),
            (RowKind::Variable, "variable"),
            (RowKind::Expected, "expected"),
            (RowKind::Actual, "actual"),
        ];
        let mut lines: Vec<(char, Vec<&str>)> = Vec::new();
        for (kind, word) in kinds.into_iter().filter(|(kind, _)| has(*kind)) {
            let line = glyphs.wave(kind).level;
            match lines.iter_mut().find(|(known, _)| *known == line) {
                Some((_, words)) => words.push(word),
                None => lines.push((line, vec![word])),
            }
        }
        if lines.len() > 1 && self.scale.columns > 0 && self.options.heading {
            entries.extend(lines.iter().map(|(line, words)| format!("{line}{line} {}", words.join(" or "))));
        }
        let column = time_text(self.scale.column_ns);
        let mut explain = |used: bool, mark: char, text: String| {
            if used {
                entries.push(format!("{mark} {text}"));
            }
        };
        explain(
            marks.spike,
            glyphs.spike,
            format!("there and back within one column: shorter than {column}"),
        );
        explain(marks.busy, glyphs.busy, "three edges or more within one column".to_owned());
        explain(
            marks.boundaries,
            glyphs.boundaries.0,
            "several values within one column, the last is written".to_owned(),
        );
        explain(marks.unwritten, glyphs.unwritten, "the value changes, no room to write it".to_owned());
        explain(marks.no_number, glyphs.no_number, "not a number, or infinite".to_owned());
        explain(marks.unknown, glyphs.unknown, "the trace says nothing".to_owned());
        let sign: String = glyphs.fold.iter().flatten().filter(|cell| **cell != ' ').take(2).collect();
        let fold = "time is folded here: the top says how much, and that nothing else changes";
        entries.extend(marks.fold.then(|| format!("{sign} {fold}")));
        let mut explain = |used: bool, mark: char, text: &str| {
            entries.extend(used.then(|| format!("{mark} {text}")));
        };
        explain(marks.through, glyphs.through, "restart, fault or wiring fault, told at the top");
        if marks.heights {
            let (low, high) = (glyphs.height(0.0), glyphs.height(1.0));
            entries.push(format!("{low} to {high} lowest to highest value of the row"));
        }
        if marks.envelope {
            entries.push("two lines of heights: highest and lowest value within each column".to_owned());
        }
        let entries: Vec<String> = entries.iter().map(|entry| self.clean(entry)).collect();
        let wrapped = wrap_parts(&entries, "   ", self.width).into_iter();
        wrapped
            .flat_map(
                |text| {
                    if text.width() <= self.width { vec![text] } else { wrap_words(&text, 2, self.width) }
                },
            )
            .map(|text| single(Style::Faint, text))
            .collect()
    }
}

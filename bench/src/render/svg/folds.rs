//! What is folded in an SVG diagram: words above the rows, a tear through each group, and a sign in every row.

use std::fmt::Write as _;

use unicode_width::UnicodeWidthStr;

use super::{MARGIN, MARK_HEIGHT, PLOT_LEFT, PLOT_WIDTH, shape::FOLD_UNITS, shape::Plot};
use crate::diagram::Diagram;
use crate::render::markup::escape;

/// Added to the style sheet of a diagram in which something is folded.
pub(super) const FOLD_STYLE: &str = "\
.lw-tear{fill:var(--ground);stroke:none}.lw-edge{fill:none;stroke:var(--faint);stroke-dasharray:4 3}
.lw-slash{fill:none;stroke:var(--ink);stroke-width:1.4}
";

/// Estimated advance of one column of the words, in units.
const ADVANCE: i64 = 6;

/// The words for all folds in lines from `top` on, and the height of these lines.
pub(super) fn folds(diagram: &Diagram<'_>, plot: &Plot, top: i64) -> (String, i64) {
    let mut output = String::new();
    // Where the words of each line end.
    let mut lines: Vec<i64> = Vec::new();
    for (fold, words) in plot.scale.folds.iter().zip(diagram.fold_words(&plot.scale)) {
        let left = plot.left(fold.column);
        let width = i64::try_from(words.width()).unwrap_or(PLOT_WIDTH).saturating_mul(ADVANCE);
        let start = (left + FOLD_UNITS / 2 - width / 2).clamp(0, (PLOT_WIDTH - width).max(0));
        let line = lines.iter().position(|end| end + 4 * ADVANCE <= start).unwrap_or(lines.len());
        match lines.get_mut(line) {
            Some(end) => *end = start + width,
            None => lines.push(start + width),
        }
        let y = top + MARK_HEIGHT * i64::try_from(line).unwrap_or(0);
        let middle = PLOT_LEFT + start + width / 2;
        let _ = write!(
            output,
            "<text class=\"lw-faint\" x=\"{middle}\" y=\"{}\" text-anchor=\"middle\">{}</text>",
            y + 12,
            escape(&words)
        );
    }
    let height = MARK_HEIGHT * i64::try_from(lines.len()).unwrap_or(0);
    if !lines.is_empty() {
        let name = format!("<text class=\"lw-name\" x=\"{MARGIN}\" y=\"{}\">folded</text>", top + 12);
        output = format!("<g>{name}{output}</g>\n");
    }
    (output, height)
}

/// A tear through a group for each fold, with a sign at the middle of every row.
pub(super) fn tears(plot: &Plot, top: i64, bottom: i64, middles: &[i64], output: &mut String) {
    if plot.scale.folds.is_empty() {
        return;
    }
    let (mut tears, mut edges, mut signs) = (String::new(), String::new(), String::new());
    for fold in &plot.scale.folds {
        let left = PLOT_LEFT + plot.left(fold.column);
        let right = PLOT_LEFT + plot.left(fold.column + fold.columns);
        let _ = write!(tears, "M{left} {top}H{right}V{bottom}H{left}Z");
        let _ = write!(edges, "M{left} {top}V{bottom}M{right} {top}V{bottom}");
        let middle = (left + right) / 2;
        for y in middles {
            let _ = write!(signs, "M{} {}l6-12m4 0l-6 12", middle - 5, y + 6);
        }
    }
    let _ = write!(output, "<g aria-hidden=\"true\">");
    for (class, path) in [("lw-tear", tears), ("lw-edge", edges), ("lw-slash", signs)] {
        let _ = write!(output, "<path class=\"{class}\" d=\"{path}\"/>");
    }
    output.push_str("</g>");
}

//! Marks of an SVG diagram: a line for each between the title and the rows, and a shade behind the rows.

use std::fmt::Write as _;

use super::{MARGIN, PLOT_LEFT, PLOT_WIDTH, shape::Plot, shape::Tenths};
use crate::diagram::{Diagram, mark::Mark};
use crate::render::markup::escape;

/// Height of the line of one mark.
pub(super) const MARK_HEIGHT: i64 = 22;

/// Added to the style sheet of a diagram that has marks.
pub(super) const MARK_STYLE: &str = "\
.lw-mark{fill:none;stroke:var(--fault);stroke-width:2}.lw-shade{fill:var(--fault);opacity:.08}
.lw-head{fill:var(--fault);stroke:none}.lw-hair{fill:none;stroke:var(--fault);stroke-dasharray:2 3}
";

/// The lines of all marks from `top` on; shades and hair lines reach down to `bottom`.
pub(super) fn marks(diagram: &Diagram<'_>, plot: &Plot, top: i64, bottom: i64, output: &mut String) {
    for (index, mark) in diagram.marks.iter().enumerate() {
        let y = top + MARK_HEIGHT * i64::try_from(index).unwrap_or(0);
        one(mark, diagram, plot, y, bottom, output);
    }
}

fn one(mark: &Mark, diagram: &Diagram<'_>, plot: &Plot, y: i64, bottom: i64, output: &mut String) {
    let shown = diagram.start_ns..=diagram.end_ns;
    let place = |time: i64| PLOT_LEFT * 10 + plot.tenths(time.clamp(*shown.start(), *shown.end()));
    let middle = y + 10;
    let (mut line, mut shade, mut heads, mut hairs) =
        (String::new(), String::new(), String::new(), String::new());
    let mut last = PLOT_LEFT * 10;
    for (from, until) in &mark.spans {
        if *from > *shown.end() || *until < *shown.start() {
            continue;
        }
        let (left, right) = (place(*from), place(*until));
        last = last.max(right);
        let _ = write!(line, "M{} {middle}H{}", Tenths(left), Tenths(right));
        for (end, x) in [(from, left), (until, right)] {
            if shown.contains(end) {
                let _ = write!(line, "M{} {}V{}", Tenths(x), middle - 5, middle + 5);
            }
        }
        let _ = write!(shade, "M{} {middle}H{}V{bottom}H{}Z", Tenths(left), Tenths(right), Tenths(left));
    }
    for moment in mark.moments.iter().filter(|moment| shown.contains(moment)) {
        let x = place(*moment);
        last = last.max(x);
        let (left, right) = (Tenths(x - 45), Tenths(x + 45));
        let _ = write!(heads, "M{left} {}H{right}L{} {}Z", middle - 4, Tenths(x), middle + 5);
        let _ = write!(hairs, "M{} {}V{bottom}", Tenths(x), middle + 5);
    }
    let _ = write!(
        output,
        "<g><title>{name} {text}</title><text class=\"lw-name\" x=\"{MARGIN}\" y=\"{}\">{name}</text>",
        y + 15,
        name = escape(&mark.name),
        text = escape(&mark.text),
    );
    for (class, path) in [("lw-shade", shade), ("lw-hair", hairs), ("lw-mark", line), ("lw-head", heads)] {
        if !path.is_empty() {
            let _ = write!(output, "<path class=\"{class}\" d=\"{path}\"/>");
        }
    }
    // Words stand behind what is drawn, or in front of its end where they would leave the picture.
    let right = (PLOT_LEFT + PLOT_WIDTH) * 10;
    let (x, anchor) = if last + 3_000 < right { (last + 80, "start") } else { (last.min(right) - 80, "end") };
    let _ = writeln!(
        output,
        "<text class=\"lw-faint\" x=\"{}\" y=\"{}\" text-anchor=\"{anchor}\">{}</text></g>",
        Tenths(x),
        y + 9,
        escape(&mark.text)
    );
}

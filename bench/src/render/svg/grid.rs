//! Times and grid lines of an SVG diagram.

use std::fmt::Write as _;

use super::{
    GROUP_HEIGHT, PLOT_LEFT, PLOT_WIDTH,
    shape::{Plot, Tenths},
};
use crate::diagram::{Diagram, scale::TimeScale};

/// Ticks beside a fold are at least so far apart.
const TICK_UNITS: i64 = 72;
/// Width of a character of a time, with what its unit needs.
const CHARACTER_UNITS: i64 = 9;

/// Times and grid lines behind the rows of one group.
pub(super) fn grid(
    diagram: &Diagram<'_>,
    plot: &Plot,
    nice: &TimeScale,
    top: i64,
    height: i64,
    output: &mut String,
) {
    let (unit, ticks) = if nice.folds.is_empty() {
        TimeScale::choose(diagram.start_ns, diagram.end_ns, diagram.scan_ns, 100).ticks(8)
    } else {
        // Columns of this scale are as wide as those of the plot, or a little narrower.
        let columns = |units: i64| usize::try_from(units / plot.column_units).unwrap_or(1);
        nice.ticks_of(columns(TICK_UNITS), columns(CHARACTER_UNITS))
    };
    let shown = |time: i64| time >= diagram.start_ns && time <= diagram.end_ns;
    let bottom = top + height;
    let (mut minor, mut major, mut texts) = (String::new(), String::new(), String::new());
    // Five divisions to a tick, so that the grid stays quiet; a scale has at most a hundred columns, and with them
    // this loop is short.
    if let (Some(first), Some(second), true) = (ticks.first(), ticks.get(1), nice.folds.is_empty()) {
        let division = (second.time_ns.saturating_sub(first.time_ns) / 5).max(1);
        let mut time = first.time_ns;
        while shown(time) {
            if !ticks.iter().any(|tick| tick.time_ns == time) {
                let x = Tenths(PLOT_LEFT * 10 + plot.tenths(time));
                let _ = write!(minor, "M{x} {}V{bottom}", top + GROUP_HEIGHT - 6);
            }
            let Some(next) = time.checked_add(division) else { break };
            time = next;
        }
    }
    for tick in ticks.iter().filter(|tick| shown(tick.time_ns)) {
        let tenths = plot.tenths(tick.time_ns);
        let x = Tenths(PLOT_LEFT * 10 + tenths);
        let _ = write!(major, "M{x} {}V{bottom}", top + GROUP_HEIGHT - 10);
        if tenths < (PLOT_WIDTH - 40) * 10 {
            let _ = write!(
                texts,
                "<text class=\"lw-time\" x=\"{x}\" y=\"{}\">{} {}</text>",
                top + 17,
                tick.label,
                unit.symbol
            );
        }
    }
    let _ = write!(output, "<g aria-hidden=\"true\">");
    for (class, path) in [("lw-minor", minor), ("lw-major", major)] {
        if !path.is_empty() {
            let _ = write!(output, "<path class=\"{class}\" d=\"{path}\"/>");
        }
    }
    let _ = writeln!(output, "{texts}</g>");
}

//! The straight line of an analog device or load: the keys `range` and `raw`.

use latchwork_grammar::Diagnostic;

use super::{Placed, entry::Entry, read::Reader};
use crate::wiring::Scaling;

impl Reader {
    /// The scaling; `None` without a range.
    pub(super) fn scaling(&mut self, entry: &Entry<'_>) -> Option<Scaling> {
        if entry.value("range").is_none() {
            let remedy = "the ends in engineering units, such as `range = [0, 250]`,";
            entry.missing("range", remedy, &mut self.diagnostics);
        }
        let range = entry.pair("range", &mut self.diagnostics);
        let raw = entry.pair("raw", &mut self.diagnostics);
        if let Some(Placed { value: (low, high), span }) = &range
            && (low >= high || !(high - low).is_finite())
        {
            let label = if low == high {
                "both ends are the same".to_string()
            } else if low > high {
                format!("write the lower end first: `[{high}, {low}]`; to reverse the sense, swap `raw`")
            } else {
                "the ends are too far apart".to_string()
            };
            let message = "the range does not run from a lower to a higher value";
            self.diagnostics.push(Diagnostic::error("station-range", *span, message).label(label));
        }
        if let Some(Placed { value: (low, high), span }) = &raw
            && (low == high || !(high - low).is_finite())
        {
            let (message, label) = if entry.what == "load" {
                (
                    "the output would write the same at both ends of the range",
                    "write what the output writes at the lower and at the upper end",
                )
            } else {
                (
                    "both ends of the range would read the same at the terminal",
                    "write what the terminal reads at the lower and at the upper end",
                )
            };
            self.diagnostics.push(Diagnostic::error("station-range", *span, message).label(label));
        }
        let range = range?.value;
        Some(Scaling { range, raw: raw.map_or(range, |raw| raw.value) })
    }
}

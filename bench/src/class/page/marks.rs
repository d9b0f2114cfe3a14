//! How the marks are spread.

use std::fmt::Write as _;

use super::told::{bar, counted_students, end_table, table};
use crate::{
    class::{ClassResults, statistics::BINS},
    marking::Points,
};

/// The part of the page.
pub(super) fn marks(results: &ClassResults, body: &mut String) {
    let totals = &results.statistics.totals;
    let out_of = results.scheme.out_of;
    let (Some(mean), Some(median), Some(lowest), Some(highest)) =
        (totals.mean, totals.median, totals.lowest, totals.highest)
    else {
        body.push_str("<p>Nobody handed anything in.</p>\n");
        return;
    };
    let _ = write!(
        body,
        "<p>{} handed something in. Of {}: mean {}, median {}, lowest {lowest}, highest {highest}",
        counted_students(totals.students),
        out_of.counted(),
        Points::of(mean),
        Points::of(median),
    );
    if let Some(deviation) = totals.deviation {
        let _ = write!(body, ", standard deviation {}", Points::of(deviation));
    }
    let _ = writeln!(body, ". Below half: {}.</p>", totals.below_half);
    if out_of == Points::ZERO {
        return;
    }
    let most = totals.bins.iter().copied().max().unwrap_or(0).max(1);
    table(
        "spread",
        "Students by points, in tenths of the points",
        &[("", "points"), ("figure", "students"), ("", "<span class=\"unseen\">as a bar</span>")],
        body,
    );
    for (bin, count) in totals.bins.iter().enumerate() {
        let edge = |bin: usize| out_of.share(bin as u64, BINS as u64);
        let range = match bin + 1 {
            BINS => format!("{} to {out_of}", edge(bin)),
            next => format!("{} to under {}", edge(bin), edge(next)),
        };
        let _ = writeln!(
            body,
            "<tr><th scope=\"row\">{range}</th><td class=\"figure\">{count}</td><td class=\"room\">{}</td></tr>",
            bar(*count as f64 * 100.0 / most as f64)
        );
    }
    end_table(body);
}

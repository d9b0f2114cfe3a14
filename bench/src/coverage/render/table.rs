//! The figures of all units as rows, for every form of report.

use crate::coverage::{Figure, Figures, Report};

/// The headings behind the name.
pub(super) const HEADINGS: [&str; 5] = ["statements", "branches", "conditions", "unique cause", "masking"];

/// The figures in the order of the headings.
pub(super) const fn columns(figures: &Figures) -> [Figure; 5] {
    [figures.statements, figures.branches, figures.conditions, figures.unique_cause, figures.masking]
}

/// The rows: name and figures of each unit, then of all together if there are several.
pub(super) fn rows(report: &Report) -> Vec<(String, &Figures)> {
    let mut rows: Vec<(String, &Figures)> =
        report.units.iter().map(|unit| (unit.name.clone(), &unit.figures)).collect();
    if rows.len() != 1 {
        rows.push(("all".to_owned(), &report.figures));
    }
    rows
}

/// `3/4`, or a dash where there is nothing.
pub(super) fn counts(figure: Figure) -> String {
    if figure.total == 0 { "-".to_owned() } else { format!("{}/{}", figure.covered, figure.total) }
}

/// `75 %`, rounded down; empty where there is nothing.
pub(super) fn percent(figure: Figure) -> String {
    figure.permille().map(|permille| format!("{} %", permille / 10)).unwrap_or_default()
}

//! The figures of all units as rows, for every form of report.

use std::collections::BTreeMap;

use crate::coverage::{Figure, Figures, Report, UnitReport};

/// The headings behind the name.
pub(super) const HEADINGS: [&str; 5] = ["statements", "branches", "conditions", "unique cause", "masking"];

/// The figures in the order of the headings.
pub(super) const fn columns(figures: &Figures) -> [Figure; 5] {
    [figures.statements, figures.branches, figures.conditions, figures.unique_cause, figures.masking]
}

/// The rows: name and figures of each unit, then of all together if there are several. Units of the same name, which
/// several programs may have, are told by their files.
pub(super) fn rows(report: &Report) -> Vec<(String, &Figures)> {
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    for unit in &report.units {
        *known.entry(unit.name.to_lowercase()).or_default() += 1;
    }
    let name = |unit: &UnitReport| {
        let file = report.files.get(unit.place.file as usize);
        match (known.get(&unit.name.to_lowercase()), file) {
            (Some(2..), Some(file)) => format!("{} ({})", unit.name, without_folder(&file.name)),
            _ => unit.name.clone(),
        }
    };
    let mut rows: Vec<(String, &Figures)> =
        report.units.iter().map(|unit| (name(unit), &unit.figures)).collect();
    if rows.len() != 1 {
        rows.push(("all".to_owned(), &report.figures));
    }
    rows
}

/// The last part of a path.
fn without_folder(name: &str) -> &str {
    name.rsplit(['/', '\\']).next().unwrap_or(name)
}

/// `3/4`, or a dash where there is nothing.
pub(super) fn counts(figure: Figure) -> String {
    if figure.total == 0 { "-".to_owned() } else { format!("{}/{}", figure.covered, figure.total) }
}

/// `75 %`, rounded down; empty where there is nothing.
pub(super) fn percent(figure: Figure) -> String {
    figure.permille().map(|permille| format!("{} %", permille / 10)).unwrap_or_default()
}

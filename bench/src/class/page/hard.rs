//! Which parts were hard for everyone.

use std::fmt::Write as _;

use super::told::{self, bar, counted_programs, percent};
use crate::class::{ClassResults, statistics::ItemAnalysis};

/// The part of the page.
pub(super) fn hard(results: &ClassResults, body: &mut String) {
    let analysis = &results.statistics.ran;
    let students = analysis.students;
    if students == 0 {
        body.push_str("<p>No program ran, so nothing can be said about the parts.</p>\n");
        return;
    }
    let _ = writeln!(
        body,
        "<p>What {} that ran earned of the points of each item, the hardest first. Programs that did not run are left out: \
         they say nothing about single items.</p>",
        counted_programs(students)
    );
    named(
        results,
        "Nobody passed",
        "Either it is too hard, or the task does not say what it demands.",
        body,
        |it| it.passed == 0,
    );
    named(results, "Everybody passed", "It is understood; it tells nobody apart.", body, |it| {
        it.passed == students
    });
    let mut order: Vec<(usize, &ItemAnalysis)> = analysis.items.iter().enumerate().collect();
    order.sort_by(|(_, one), (_, other)| {
        let share = |item: &ItemAnalysis| item.difficulty.unwrap_or(item.passed as f64 / students as f64);
        share(one).total_cmp(&share(other))
    });
    body.push_str("<ol class=\"bars\">\n");
    for (index, item) in order {
        let Some(asked) = results.scheme.items.get(index) else { continue };
        let share = match item.difficulty {
            Some(share) => format!("{}<strong>{}</strong>", bar(share * 100.0), percent(share)),
            None => "<span class=\"aside\">worth nothing</span>".to_owned(),
        };
        let partly = match item.partly {
            0 => String::new(),
            count => format!(", {count} in part"),
        };
        let _ = writeln!(
            body,
            "<li><span class=\"what\">{}</span><span class=\"measure\">{share} <span class=\"aside\">passed by {} of \
             {students}{partly}</span></span></li>",
            told::item(asked, index + 1),
            item.passed
        );
    }
    body.push_str("</ol>\n");
}

/// Names the items of which something holds, and what it means.
fn named(
    results: &ClassResults,
    what: &str,
    meaning: &str,
    body: &mut String,
    holds: impl Fn(&ItemAnalysis) -> bool,
) {
    let items = results.scheme.items.iter().zip(&results.statistics.ran.items).zip(1..);
    let names: Vec<String> = items
        .filter(|((_, analysed), _)| holds(analysed))
        .map(|((item, _), number)| told::item(item, number))
        .collect();
    if !names.is_empty() {
        let _ = writeln!(
            body,
            "<p><strong>{what}:</strong> {}. <span class=\"aside\">{meaning}</span></p>",
            names.join("; ")
        );
    }
}

//! Whether the exercise is any good: figures in words, and the figures.

use std::fmt::Write as _;

use super::told::{self, counted_programs, end_table, signed, table};
use crate::{
    class::{
        ClassResults,
        statistics::{Agreement, Band, GROUP_MIN, ItemAnalysis, Statistics, two_places},
    },
    marking::Points,
    render::page::escaped,
};

/// Fewest students of whom there are groups.
const GROUPED_MIN: usize = 10;

/// What the figures mean, and where they come from.
const DEFINITIONS: [(&str, &str); 5] = [
    (
        "share (difficulty p)",
        "The mean share of an item's points that was earned, 0 to 1. The higher, the easier the item.",
    ),
    (
        "upper–lower",
        "What the best 27 % earned of the item, less what the weakest 27 % earned (T. L. Kelley, J. Educ. Psychol. 30 (1939) \
         17–24). Students with equal totals at the edge of a group share the places left in it. Bands (R. L. Ebel and D. A. \
         Frisbie, Essentials of Educational Measurement, from memory): 0.40 and up very good, 0.30 to 0.39 reasonably good, \
         0.20 to 0.29 marginal, below that poor; below 0 the weaker students do better.",
    ),
    (
        "with the rest",
        "The correlation of the item with the total of all other items, −1 to 1 (item-rest, corrected): point-biserial where \
         everybody earned all or nothing, else the product-moment. The plain correlation with the whole total is higher, \
         since the item is part of it; it stands in results.json.",
    ),
    (
        "alpha",
        "L. J. Cronbach, Psychometrika 16 (1951) 297–334: 1 if all items measure the same, near 0 if they have nothing in \
         common. More items make it higher. For items that are right or wrong it is Kuder and Richardson's formula 20.",
    ),
    (
        "standard error of measurement",
        "How far the total of a student would typically go up and down if the student were asked other questions of the same \
         kind: standard deviation times the square root of 1 − alpha.",
    ),
];

/// The part of the page.
pub(super) fn analysis(results: &ClassResults, body: &mut String) {
    let statistics = &results.statistics;
    if let Some(caution) = statistics.caution() {
        let _ = writeln!(body, "<p class=\"caution\"><strong>Caution.</strong> {caution}</p>");
    }
    if statistics.ran.students == 0 {
        return;
    }
    alpha(results, body);
    verdict(results, body);
    items(results, body);
    body.push_str("<details>\n<summary>What the figures mean</summary>\n<dl class=\"definitions\">\n");
    for (term, definition) in DEFINITIONS {
        let _ = writeln!(body, "<dt>{term}</dt><dd>{definition}</dd>");
    }
    body.push_str("</dl>\n</details>\n");
}

fn alpha(results: &ClassResults, body: &mut String) {
    let Statistics { ran, handed_in, .. } = &results.statistics;
    let counted = results.scheme.items.iter().filter(|item| item.points > Points::ZERO).count();
    let Some(alpha) = ran.alpha else {
        let why = if counted < 2 {
            "there are fewer than two items that are worth something"
        } else if ran.students < 2 {
            "there are fewer than two programs that ran"
        } else {
            "all programs that ran earned the same"
        };
        let _ = writeln!(body, "<p>Alpha is not defined: {why}.</p>");
        return;
    };
    let _ = write!(
        body,
        "<p><strong>Alpha is {}</strong> ({counted} items, {} that ran). {}",
        two_places(alpha),
        counted_programs(ran.students),
        Agreement::of(alpha).words()
    );
    if let Some(error) = ran.error_of_measurement {
        let _ = write!(
            body,
            " A total is uncertain by about {} (standard error of measurement).",
            Points::of(error).counted()
        );
    }
    body.push_str("</p>\n");
    if let Some(with_all) = handed_in.alpha.filter(|_| handed_in.students > ran.students) {
        let _ = writeln!(
            body,
            "<p class=\"aside\">With the {} that were handed in but did not run, and so have nothing on every item, alpha would \
             be {}. That says more about compiling than about the items.</p>",
            crate::diagram::counted(handed_in.students.saturating_sub(ran.students) as u64, "submission"),
            two_places(with_all)
        );
    }
}

/// Items to be looked at, in a sentence each.
fn verdict(results: &ClassResults, body: &mut String) {
    let analysis = &results.statistics.ran;
    let named = |holds: &dyn Fn(&ItemAnalysis) -> bool| -> Vec<String> {
        let items = results.scheme.items.iter().zip(&analysis.items).zip(1..);
        items.filter(|((_, it), _)| holds(it)).map(|((item, _), number)| told::item(item, number)).collect()
    };
    let band = |item: &ItemAnalysis| item.upper_lower.map(Band::of);
    let reversed = named(&|it| band(it) == Some(Band::Reversed));
    let poor = named(&|it| band(it) == Some(Band::Poor) && it.passed > 0 && it.passed < analysis.students);
    if !reversed.is_empty() {
        let _ = writeln!(
            body,
            "<p><strong>Look at first:</strong> {}. The weaker students do as well there as the stronger ones, or better. Does the procedure \
             demand something that the task does not say?</p>",
            reversed.join("; ")
        );
    }
    if !poor.is_empty() {
        let _ = writeln!(
            body,
            "<p><strong>Tells strong from weak students poorly:</strong> {}.</p>",
            poor.join("; ")
        );
    }
    if reversed.is_empty() && poor.is_empty() && analysis.items.iter().any(|it| it.upper_lower.is_some()) {
        body.push_str("<p>No item stands out as badly made by these figures.</p>\n");
    }
}

fn items(results: &ClassResults, body: &mut String) {
    let analysis = &results.statistics.ran;
    let caption = format!("Items by {} that ran", counted_programs(analysis.students));
    let columns = [
        ("", "item"),
        ("figure", "points"),
        ("figure", "share"),
        ("figure", "passed"),
        ("figure", "upper–lower"),
        ("", "tells strong from weak"),
        ("figure", "with the rest"),
    ];
    table("lines", &caption, &columns, body);
    for ((item, analysed), number) in results.scheme.items.iter().zip(&analysis.items).zip(1..) {
        let figure = |figure: Option<f64>| figure.map_or_else(|| "–".to_owned(), two_places);
        let _ = writeln!(
            body,
            "<tr><th scope=\"row\">{}</th><td class=\"figure\">{}</td><td class=\"figure\">{}</td>\
             <td class=\"figure\">{} of {}</td><td class=\"figure\">{}</td><td>{}</td><td class=\"figure\">{}</td></tr>",
            told::item(item, number),
            item.points,
            figure(analysed.difficulty),
            analysed.passed,
            analysis.students,
            figure(analysed.upper_lower),
            in_words(analysed, item.points, analysis.students),
            figure(analysed.with_rest)
        );
    }
    end_table(body);
}

/// What an item's index says, or why there is none.
fn in_words(item: &ItemAnalysis, points: Points, students: usize) -> String {
    if points == Points::ZERO {
        return "worth nothing".to_owned();
    }
    if item.passed == students {
        return "no: everybody passes".to_owned();
    }
    if item.difficulty == Some(0.0) {
        return "no: nobody earns anything".to_owned();
    }
    match item.upper_lower.map(Band::of) {
        Some(band @ (Band::VeryGood | Band::ReasonablyGood)) => signed("✓", "well", band.words()),
        Some(band @ Band::Marginal) => signed("~", "doubtful", band.words()),
        Some(band @ Band::Poor) => signed("✗", "wrong", band.words()),
        Some(band @ Band::Reversed) => signed("↯", "wrong", band.words()),
        None if students < GROUPED_MIN => {
            escaped(&format!("not defined: groups of 27 % would have fewer than {GROUP_MIN} students"))
        }
        None => "not defined: all totals are the same".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::class::statistics::group_size;

    #[test]
    fn ten_students_are_the_fewest_with_groups() {
        assert!(group_size(GROUPED_MIN) >= GROUP_MIN && group_size(GROUPED_MIN - 1) < GROUP_MIN);
    }
}

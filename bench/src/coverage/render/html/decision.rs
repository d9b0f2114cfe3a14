//! A decision: the values that its conditions had, and what shows each of them to decide.

use std::fmt::Write as _;

use super::super::annotated::letter;
use crate::{
    coverage::{ConditionReport, DecisionReport, Pair, is_true},
    render::page::{escaped, inline},
};

/// Most values of one decision that are listed.
const VECTORS_MAX: usize = 128;

/// Adds the tables of a decision that was evaluated.
pub(super) fn table(decision: &DecisionReport, page: &mut String) {
    let _ = writeln!(page, "<div class=\"decision\">\n<p><code>{}</code></p>", escaped(&decision.text));
    if !decision.too_long {
        vectors(decision, page);
    }
    conditions(decision, page);
    page.push_str("</div>\n");
}

fn vectors(decision: &DecisionReport, page: &mut String) {
    page.push_str(
        "<div class=\"wide\" role=\"group\" aria-label=\"Values of the decision\" tabindex=\"0\">\n",
    );
    page.push_str("<table class=\"vectors\">\n<thead><tr><th scope=\"col\">no.</th>");
    for condition in 0..decision.conditions.len() {
        let _ = write!(page, "<th scope=\"col\">{}</th>", letter(condition));
    }
    page.push_str("<th scope=\"col\">outcome</th></tr></thead>\n<tbody>\n");
    for (vector, number) in decision.vectors.iter().take(VECTORS_MAX).zip(1..) {
        let _ = write!(page, "<tr><td>{number}</td>");
        for (_, condition) in decision.conditions.iter().zip(0u32..) {
            page.push_str(value(is_true(vector.conditions, condition)));
        }
        page.push_str(value(vector.outcome));
        page.push_str("</tr>\n");
    }
    page.push_str("</tbody>\n</table>\n</div>\n");
    if let Some(more @ 1..) = decision.vectors.len().checked_sub(VECTORS_MAX) {
        let _ = writeln!(page, "<p>… and {more} more</p>");
    }
}

const fn value(value: bool) -> &'static str {
    if value { "<td class=\"true\">T</td>" } else { "<td class=\"false\">F</td>" }
}

fn conditions(decision: &DecisionReport, page: &mut String) {
    page.push_str(
        "<table class=\"conditions\">\n<thead><tr><th scope=\"col\" colspan=\"2\">condition</th>\
         <th scope=\"col\">was</th><th scope=\"col\">shown to decide</th></tr></thead>\n<tbody>\n",
    );
    for (index, condition) in decision.conditions.iter().enumerate() {
        let was = match condition.seen {
            [true, true] => "TRUE, FALSE",
            [true, false] => "FALSE",
            [false, true] => "TRUE",
            [false, false] => "–",
        };
        let _ = writeln!(
            page,
            "<tr><td>{}</td><td><code>{}</code></td><td>{was}</td>{}</tr>",
            letter(index),
            escaped(&condition.text),
            shown(decision, condition)
        );
    }
    page.push_str("</tbody>\n</table>\n");
}

fn shown(decision: &DecisionReport, condition: &ConditionReport) -> String {
    let coupled: Vec<String> = condition.same_as.iter().map(|other| letter(*other as usize)).collect();
    let coupled = match coupled.as_slice() {
        [] => String::new(),
        coupled => {
            format!("; always the same as {}, so that no unique cause is possible", coupled.join(", "))
        }
    };
    match (&condition.missing, condition.shown.unique_cause, condition.shown.masking) {
        (Some(missing), _, _) => format!(
            "<td class=\"missed\"><strong>no</strong>: {}{coupled}<br/><span class=\"advice\">{}</span></td>",
            inline(&missing.reason),
            inline(&missing.advice)
        ),
        (None, Some(pair), _) => {
            format!("<td class=\"covered\">yes, by unique cause: {}</td>", numbers(decision, pair))
        }
        (None, None, Some(pair)) => {
            format!("<td class=\"covered\">yes, by masking: {}{coupled}</td>", numbers(decision, pair))
        }
        (None, None, None) => "<td class=\"missed\"><strong>not followed</strong></td>".to_owned(),
    }
}

/// Which two of the values listed show a condition.
fn numbers(decision: &DecisionReport, pair: Pair) -> String {
    let number = |wanted: u64| {
        decision.vectors.iter().position(|vector| vector.conditions == wanted).map_or(0, |index| index + 1)
    };
    let (one, other) = (number(pair.when_false), number(pair.when_true));
    format!("no. {} and {}", one.min(other), one.max(other))
}

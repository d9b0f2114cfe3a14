//! The source text with a mark for each line, and below each decision the values that were seen.

use latchwork_compiler::render::visible;

use super::wrap::{push_line, wrapped};
use crate::coverage::{DecisionReport, Report, is_true, lines};

/// Columns of running text.
const WIDTH: usize = 110;

/// Most values of one decision that are listed.
const VECTORS_MAX: usize = 64;

const LEGEND: &str = "\
+ run, and nothing is missing    ~ run, but something is missing    - not run
Below a decision stand the values that its conditions had, T for TRUE and F for FALSE, and what came out.
";

/// All files, annotated.
pub fn annotated(report: &Report) -> String {
    let mut text = String::from(LEGEND);
    for (index, file) in report.files.iter().enumerate() {
        let lines = lines(report, index);
        let numbers = lines.len().to_string().len();
        text.push_str(&format!("\n{}\n", visible(&file.name)));
        for (line, number) in lines.iter().zip(1..) {
            push_line(
                &format!("{} {number:>numbers$} | {}", line.mark.sign(), visible(line.text)),
                &mut text,
            );
            let margin = format!("  {} : ", " ".repeat(numbers));
            for branch in line.branches.iter().filter(|branch| branch.is_reached()) {
                let missing: Vec<&str> =
                    branch.arms.iter().filter(|arm| !arm.covered).map(|arm| arm.label.as_str()).collect();
                if !missing.is_empty() {
                    let told = format!("{} never: {}", branch.keyword, missing.join(", "));
                    wrapped(&margin, &visible(&told), WIDTH, &mut text);
                }
            }
            for decision in line.decisions.iter().filter(|decision| decision.is_evaluated()) {
                below(decision, &margin, &mut text);
            }
        }
    }
    text
}

/// Letters for conditions: A, B… Z, then A1, B1…
pub(super) fn letter(condition: usize) -> String {
    let name = char::from(b'A' + (condition % 26) as u8);
    match condition / 26 {
        0 => name.to_string(),
        round => format!("{name}{round}"),
    }
}

/// `T` or `F`.
pub(super) const fn sign(value: bool) -> char {
    if value { 'T' } else { 'F' }
}

fn below(decision: &DecisionReport, margin: &str, text: &mut String) {
    if let [condition] = decision.conditions.as_slice() {
        let seen = [(condition.seen[1], "TRUE"), (condition.seen[0], "FALSE")];
        let words: Vec<&str> = seen.iter().filter(|(seen, _)| *seen).map(|(_, word)| *word).collect();
        wrapped(margin, &visible(&format!("{} was {}", condition.name, words.join(" and "))), WIDTH, text);
        return;
    }
    let names = decision.conditions.iter().enumerate();
    let legend: Vec<String> =
        names.map(|(index, condition)| format!("{} `{}`", letter(index), condition.text)).collect();
    wrapped(margin, &visible(&legend.join(", ")), WIDTH, text);
    if !decision.too_long {
        vectors(decision, margin, text);
    }
    for (index, condition) in decision.conditions.iter().enumerate() {
        let letter = letter(index);
        let told = match (&condition.missing, condition.shown.unique_cause, condition.shown.masking) {
            (Some(missing), _, _) => format!("{letter} not shown: {}; {}", missing.reason, missing.advice),
            (None, Some(_), _) => format!("{letter} decides: shown by unique cause"),
            (None, None, Some(_)) => format!("{letter} decides: shown by masking"),
            (None, None, None) => continue,
        };
        wrapped(margin, &visible(&told), WIDTH, text);
    }
}

fn vectors(decision: &DecisionReport, margin: &str, text: &mut String) {
    let letters: Vec<String> = (0..decision.conditions.len()).map(letter).collect();
    push_line(&format!("{margin}{} | outcome", letters.join(" ")), text);
    for vector in decision.vectors.iter().take(VECTORS_MAX) {
        let values: Vec<String> = (0u32..)
            .zip(&letters)
            .map(|(condition, letter)| {
                let value = sign(is_true(vector.conditions, condition));
                format!("{value:<width$}", width = letter.len())
            })
            .collect();
        let outcome = if vector.outcome { "TRUE" } else { "FALSE" };
        push_line(&format!("{margin}{} | {outcome}", values.join(" ")), text);
    }
    if let Some(more @ 1..) = decision.vectors.len().checked_sub(VECTORS_MAX) {
        push_line(&format!("{margin}… and {more} more"), text);
    }
}

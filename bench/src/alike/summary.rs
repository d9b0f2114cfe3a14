//! Likeness in a class as a few lines for a terminal.

use std::fmt::Write as _;

use latchwork_compiler::render::visible;

use super::{Comparison, Fingerprints, sentences};

/// Most groups and most pairs in a summary.
const LISTED_MAX: usize = 10;

/// Groups and pairs in a few lines; names are made fit for a terminal.
pub fn summary(class: &[Fingerprints], comparison: &Comparison) -> String {
    let mut text = format!(
        "Alike submissions: {} compared, {} of the same text, {} at least {} alike\n",
        comparison.submissions - comparison.aside.len(),
        sentences::counted(comparison.groups.len() as u64, "group", "groups"),
        sentences::counted(comparison.pairs.len() as u64 + comparison.further, "pair", "pairs"),
        sentences::percent(comparison.listed_from),
    );
    let _ = writeln!(text, "  {}", sentences::usual(comparison));
    for group in comparison.groups.iter().take(LISTED_MAX) {
        let names = visible(&sentences::names(class, &group.members));
        let _ = writeln!(
            text,
            "  the same text: {} ({})",
            names,
            sentences::counted(u64::from(group.words), "word", "words")
        );
    }
    further(comparison.groups.len() as u64, "group", "groups", &mut text);
    for pair in comparison.pairs.iter().take(LISTED_MAX) {
        let [first, second] =
            pair.members.map(|member| visible(&sentences::with_group(class, comparison, member)));
        let _ = writeln!(
            text,
            "  {:>5}  {first} and {second}: {} of {} fingerprints, more alike than {} of the pairs",
            sentences::percent(pair.similarity),
            pair.shared,
            pair.of,
            sentences::exact_percent(pair.above)
        );
    }
    further(comparison.pairs.len() as u64 + comparison.further, "pair", "pairs", &mut text);
    for (why, members) in sentences::aside(comparison) {
        let _ = writeln!(text, "  not compared, {why}: {}", visible(&sentences::names(class, &members)));
    }
    if !comparison.groups.is_empty() || !comparison.pairs.is_empty() {
        let _ = writeln!(text, "  {}", sentences::CAUTION);
    }
    text
}

fn further(count: u64, one: &str, many: &str, text: &mut String) {
    if let Some(further) = count.checked_sub(LISTED_MAX as u64).filter(|further| *further > 0) {
        let _ = writeln!(
            text,
            "  and {}",
            sentences::counted(further, &format!("further {one}"), &format!("further {many}"))
        );
    }
}

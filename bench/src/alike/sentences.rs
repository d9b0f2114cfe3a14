//! Sentences that the page and the summary share.

use super::{Aside, Comparison, Fingerprints};

/// What stands above everything.
pub(super) const CAUTION: &str = "Alike is a question, not an answer. Who learned from the same board, book or example writes \
     alike, and a small task has few right answers. Talk to the students first: a likeness only tells where to look.";

/// Most names in a list of students.
pub(super) const NAMES_MAX: usize = 60;

/// So many parts of a thousand, as percent without its fraction.
pub(super) fn percent(thousandths: u16) -> String {
    format!("{} %", thousandths / 10)
}

/// So many parts of a thousand, as percent with its fraction.
pub(super) fn exact_percent(thousandths: u16) -> String {
    format!("{}.{} %", thousandths / 10, thousandths % 10)
}

/// A number with its noun.
pub(super) fn counted(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// The name of a student of the class.
pub(super) fn name(class: &[Fingerprints], member: usize) -> &str {
    class.get(member).map_or("", |it| it.student.as_str())
}

/// The names of some students, at most [`NAMES_MAX`]; what they have in common comes from the text of others.
pub(super) fn names(class: &[Fingerprints], members: &[usize]) -> String {
    let mut names: Vec<&str> = members.iter().take(NAMES_MAX).map(|member| name(class, *member)).collect();
    let further = format!("{} more", members.len().saturating_sub(NAMES_MAX));
    if members.len() > NAMES_MAX {
        names.push(&further);
    }
    match names.as_slice() {
        [all @ .., last] if !all.is_empty() => format!("{} and {last}", all.join(", ")),
        _ => names.concat(),
    }
}

/// How alike pairs of this class usually are.
pub(super) fn usual(comparison: &Comparison) -> String {
    let usual = &comparison.usual;
    if usual.pairs == 0 {
        return "There are no two different texts to compare.".to_owned();
    }
    let mut text = format!(
        "{} of different texts: half of them are at most {} alike, nine of ten at most {}; the most alike pair {}.",
        counted(usual.pairs, "pair", "pairs"),
        percent(usual.median),
        percent(usual.upper),
        percent(usual.highest)
    );
    if usual.median >= comparison.listed_from {
        text.push_str(
            " Most pairs of this class are much alike: the task leaves little choice, and a high figure alone says nothing.",
        );
    }
    text
}

/// What was left out.
pub(super) fn left_out(comparison: &Comparison) -> String {
    if comparison.common == 0 {
        let prints = comparison.prints;
        return format!(
            "Of {prints} different fingerprints none is common: so few of the class have each that all count."
        );
    }
    let share = comparison.common * 1000 / comparison.prints.max(1);
    format!(
        "{} of {} different fingerprints ({}) are common: so many of the class have them that they do not count.",
        comparison.common,
        comparison.prints,
        percent(share as u16)
    )
}

/// Why submissions were not compared, with those of which that is true.
pub(super) fn aside(comparison: &Comparison) -> Vec<(&'static str, Vec<usize>)> {
    [
        (Aside::Empty, "no statements"),
        (Aside::Skeleton, "what was handed out, unchanged"),
        (Aside::OtherVersion, "fingerprints of another version of this program; make them anew"),
        (Aside::Little, "too little left to compare, without what is common or was handed out"),
    ]
    .into_iter()
    .filter_map(|(wanted, words)| {
        let of = comparison.aside.iter().filter(|(_, why)| *why == wanted);
        let members: Vec<usize> = of.map(|(member, _)| *member).collect();
        (!members.is_empty()).then_some((words, members))
    })
    .collect()
}

/// A member of a pair, with those who have the same text.
pub(super) fn with_group(class: &[Fingerprints], comparison: &Comparison, member: usize) -> String {
    let group = comparison.groups.iter().find(|group| group.members.contains(&member));
    let others = group.map_or(0, |group| group.members.len() - 1);
    match others {
        0 => name(class, member).to_owned(),
        others => format!(
            "{} (and {} with the same text)",
            name(class, member),
            counted(others as u64, "other", "others")
        ),
    }
}

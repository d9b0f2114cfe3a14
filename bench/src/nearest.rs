//! Finding the known word that a wrong one was probably meant to be, for "did you mean" in messages.
//!
//! Knows nothing of stations or programs. The measure is the number of single-letter slips (a letter left out,
//! added, changed, or two neighbours swapped), letter case aside.

/// Words longer than this are not compared: the cost grows with the product of the lengths.
const LENGTH_MAX: usize = 64;

/// At most this many suggestions are given.
const SUGGESTIONS_MAX: usize = 3;

/// The candidates closest to `word`, nearest first, then in alphabetical order; none that would need more slips
/// than a third of the word's letters (at least one).
pub(crate) fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    let folded = word.to_lowercase();
    let length = folded.chars().count();
    if length == 0 || length > LENGTH_MAX {
        return Vec::new();
    }
    let allowed = (length / 3).max(1);
    let mut found: Vec<(usize, &str)> = candidates
        .into_iter()
        .filter_map(|candidate| {
            let other: String = candidate.chars().take(LENGTH_MAX + 1).flat_map(char::to_lowercase).collect();
            if other.chars().count().abs_diff(length) > allowed {
                return None;
            }
            let slips = strsim::osa_distance(&folded, &other);
            (slips <= allowed).then_some((slips, candidate))
        })
        .collect();
    found.sort_unstable();
    found.dedup();
    found.truncate(SUGGESTIONS_MAX);
    found.into_iter().map(|(_, candidate)| candidate).collect()
}

/// "did you mean `a`?", "did you mean `a` or `b`?"; `None` without suggestions.
pub(crate) fn did_you_mean(suggestions: &[&str]) -> Option<String> {
    (!suggestions.is_empty()).then(|| format!("did you mean {}?", alternatives(suggestions)))
}

/// "`a`", "`a` or `b`", "`a`, `b` or `c`".
pub(crate) fn alternatives(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    match quoted.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::{did_you_mean, nearest};

    #[test]
    fn one_slip_of_each_kind_is_found() {
        for wrong in ["teminal", "terminaal", "terminel", "temrinal", "TERMINAL"] {
            assert_eq!(nearest(wrong, ["label", "terminal", "contact"]), ["terminal"], "{wrong}");
        }
    }

    #[test]
    fn distant_words_are_not_offered() {
        assert!(nearest("valve", ["terminal", "contact"]).is_empty());
        assert!(nearest("", ["a"]).is_empty());
        assert!(nearest(&"x".repeat(1000), ["x"]).is_empty());
    }

    #[test]
    fn suggestions_are_worded() {
        assert_eq!(did_you_mean(&["a", "b", "c"]).as_deref(), Some("did you mean `a`, `b` or `c`?"));
        assert_eq!(did_you_mean(&[]), None);
    }
}

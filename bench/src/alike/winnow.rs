//! Which hashes of a text are kept as its fingerprints.
//!
//! The algorithm and its two guarantees are those of S. Schleimer, D. S. Wilkerson and A. Aiken, "Winnowing: Local
//! Algorithms for Document Fingerprinting", SIGMOD 2003, 3: of every window of `w` hashes of neighbouring k-grams the
//! smallest is kept, the rightmost one of several, and once only where windows share it. Then every run of `w + k - 1`
//! words that two texts have in common gives both a common fingerprint, and no run of fewer than `k` words does.

use std::collections::VecDeque;

/// The places of the hashes that are kept, in increasing order. A text of fewer hashes than a window is one window, so that
/// small bodies are not lost; `window` counts hashes, and 0 is taken as 1.
pub fn winnow(hashes: &[u64], window: usize) -> Vec<usize> {
    let window = window.clamp(1, hashes.len().max(1));
    let mut kept: Vec<usize> = Vec::new();
    // Places of this window whose hash is smaller than all behind it; the first is the smallest.
    let mut smallest: VecDeque<(usize, u64)> = VecDeque::new();
    for (place, hash) in hashes.iter().enumerate() {
        // An equal one further to the right takes the place of the one before.
        while smallest.back().is_some_and(|(_, before)| before >= hash) {
            smallest.pop_back();
        }
        smallest.push_back((place, *hash));
        while smallest.front().is_some_and(|(at, _)| at + window <= place) {
            smallest.pop_front();
        }
        if place + 1 >= window
            && let Some((at, _)) = smallest.front()
            && kept.last() != Some(at)
        {
            kept.push(*at);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::{collection::vec, prelude::*};
    use std::collections::BTreeSet;

    /// Figure 2 of the paper, quoted from memory: the text, its 5-grams, a hypothetical sequence of hashes of them,
    /// windows of 4, and the fingerprints that are selected with their places from 0.
    #[test]
    fn the_worked_example_of_the_paper() {
        let cleaned: String = "A do run run run, a do run run"
            .chars()
            .filter(char::is_ascii_alphabetic)
            .map(|letter| letter.to_ascii_lowercase())
            .collect();
        assert_eq!(cleaned, "adorunrunrunadorunrun");
        let grams: Vec<&str> = (0..cleaned.len() - 4).map(|at| &cleaned[at..at + 5]).collect();
        let expected = "adoru dorun orunr runru unrun nrunr runru unrun nruna runad unado nador adoru dorun orunr runru unrun";
        assert_eq!(grams.join(" "), expected);
        let hashes = [77, 74, 42, 17, 98, 50, 17, 98, 8, 88, 67, 39, 77, 74, 42, 17, 98];
        assert_eq!(hashes.len(), grams.len());
        // Equal grams have equal hashes in the example.
        for (one, hash) in grams.iter().zip(hashes) {
            assert!(grams.iter().zip(hashes).all(|(other, its)| (one == other) == (hash == its)), "{one}");
        }
        let selected: Vec<(u64, usize)> = winnow(&hashes, 4).iter().map(|at| (hashes[*at], *at)).collect();
        assert_eq!(selected, [(17, 3), (17, 6), (8, 8), (39, 11), (17, 15)]);
    }

    #[test]
    fn little_is_one_window() {
        assert_eq!(winnow(&[], 4), [0usize; 0]);
        assert_eq!(winnow(&[5], 4), [0]);
        assert_eq!(winnow(&[5, 3, 3], 4), [2]);
        assert_eq!(winnow(&[5, 3, 9], 0), [0, 1, 2]);
    }

    /// A hash of a gram; few values, so that hashes of unlike grams meet as well.
    fn hash(gram: &[u8], values: u64) -> u64 {
        gram.iter().fold(7, |hash: u64, word| (hash * 31 + u64::from(*word)) * 17 % 1_000_003) % values
    }

    fn hashes(text: &[u8], k: usize, values: u64) -> Vec<u64> {
        text.windows(k).map(|gram| hash(gram, values)).collect()
    }

    proptest! {
        /// The definition, word for word.
        #[test]
        fn the_rightmost_smallest_of_every_window(hashes in vec(0u64..12, 0..60), window in 1usize..9) {
            let expected: BTreeSet<usize> = hashes
                .windows(window.min(hashes.len().max(1)))
                .enumerate()
                .filter_map(|(start, window)| {
                    let (at, _) = window.iter().enumerate().min_by_key(|(at, hash)| (**hash, usize::MAX - at))?;
                    Some(start + at)
                })
                .collect();
            prop_assert_eq!(winnow(&hashes, window), Vec::from_iter(expected));
        }

        /// The first guarantee: a common run of `w + k - 1` words is found, whatever stands around it.
        #[test]
        fn every_common_run_of_t_words_is_found(
            run in vec(0u8..4, 30), before in [vec(0u8..4, 0..20), vec(0u8..4, 0..20)],
            behind in [vec(0u8..4, 0..20), vec(0u8..4, 0..20)], k in 1usize..8, w in 1usize..8,
        ) {
            let run = &run[..w + k - 1];
            let kept = [0, 1].map(|text: usize| {
                let whole = [&before[text], run, &behind[text]].concat();
                let hashes = hashes(&whole, k, 1 << 40);
                let inside = before[text].len()..=before[text].len() + run.len() - k;
                let kept = winnow(&hashes, w).into_iter().filter(|at| inside.contains(at));
                kept.map(|at| (at - before[text].len(), hashes[at])).collect::<BTreeSet<_>>()
            });
            prop_assert!(kept[0].intersection(&kept[1]).next().is_some(), "{kept:?}");
        }

        /// The second guarantee: texts without a common run of `k` words share no fingerprint, as far as hashes are apart.
        #[test]
        fn no_shorter_run_is_found(texts in [vec(0u8..6, 0..40), vec(0u8..6, 0..40)], k in 1usize..6, w in 1usize..6) {
            let kept = texts.each_ref().map(|text| {
                let hashes: Vec<u64> = text.windows(k).map(|gram| gram.iter().fold(1, |all, word| all * 8 + u64::from(*word))).collect();
                winnow(&hashes, w).into_iter().map(|at| &text[at..at + k]).collect::<BTreeSet<_>>()
            });
            for gram in kept[0].intersection(&kept[1]) {
                prop_assert!(texts.iter().all(|text| text.windows(k).any(|other| other == *gram)));
            }
            let common = texts[0].windows(k).any(|gram| texts[1].windows(k).any(|other| other == gram));
            prop_assert!(common || kept[0].is_disjoint(&kept[1]));
        }
    }
}

//! Where two texts are alike: stretches of fingerprints that follow one another in both.

use std::collections::{BTreeSet, HashMap, HashSet, VecDeque};

use super::{Fingerprint, Fingerprints, WINDOW, WORDS};

/// Most stretches of a pair; the longest are kept.
pub const STRETCHES_MAX: usize = 99;

/// Lines of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reach {
    /// The file, by its place in [`Fingerprints::files`].
    pub file: u16,
    /// The first line, from 1.
    pub from: u32,
    /// The last line.
    pub to: u32,
}

/// Words that follow one another in both texts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Where it stands in both.
    pub reaches: [Reach; 2],
    /// How many words it has.
    pub words: u32,
    /// Whether it counts: not all of it is common or was handed out.
    pub counts: bool,
}

/// A stretch that may yet grow.
struct Growing {
    stretch: Stretch,
    /// The last fingerprint in both texts.
    last: [Fingerprint; 2],
}

/// The stretches of two texts, in the order of the first; `left_out` are hashes that do not count.
pub fn stretches(first: &Fingerprints, second: &Fingerprints, left_out: &BTreeSet<u64>) -> Vec<Stretch> {
    let mut waiting: HashMap<u64, VecDeque<Fingerprint>> = HashMap::new();
    let mut places: HashMap<(u64, u32), Fingerprint> = HashMap::new();
    for print in &second.prints {
        waiting.entry(print.hash).or_default().push_back(*print);
        places.insert((print.hash, print.word), *print);
    }
    let mut used: HashSet<u32> = HashSet::new();
    let mut found: Vec<Growing> = Vec::new();
    for print in &first.prints {
        // What goes on where the last stretch ended comes first.
        let next = found.last().and_then(|open| {
            let [one, other] = open.last;
            let word = (other.word + print.word).checked_sub(one.word)?;
            places.get(&(print.hash, word)).filter(|it| !used.contains(&it.word)).copied()
        });
        let partner = next.or_else(|| {
            let waiting = waiting.get_mut(&print.hash)?;
            while waiting.front().is_some_and(|front| used.contains(&front.word)) {
                waiting.pop_front();
            }
            waiting.pop_front()
        });
        let Some(partner) = partner else { continue };
        used.insert(partner.word);
        let pair = [*print, partner];
        let counts = !left_out.contains(&print.hash);
        match found.last_mut() {
            Some(open) if open.takes(pair) => open.grow(pair, counts),
            _ => found.push(Growing {
                stretch: Stretch {
                    reaches: pair.map(|print| Reach { file: print.file, from: print.from, to: print.to }),
                    words: WORDS as u32,
                    counts,
                },
                last: pair,
            }),
        }
    }
    let mut found: Vec<Stretch> = found.into_iter().map(|it| it.stretch).collect();
    if found.len() > STRETCHES_MAX {
        let mut order: Vec<usize> = (0..found.len()).collect();
        order.sort_by_key(|at| found.get(*at).map(|it| (!it.counts, u32::MAX - it.words)));
        let kept: BTreeSet<usize> = order.into_iter().take(STRETCHES_MAX).collect();
        found = found.into_iter().enumerate().filter(|(at, _)| kept.contains(at)).map(|(_, it)| it).collect();
    }
    found
}

impl Growing {
    /// Whether a pair of fingerprints goes on where it ends, in both texts.
    fn takes(&self, pair: [Fingerprint; 2]) -> bool {
        let steps = [0, 1].map(|side: usize| match (pair.get(side), self.last.get(side)) {
            (Some(next), Some(last)) if next.file == last.file => next.word.checked_sub(last.word),
            _ => None,
        });
        matches!(steps, [Some(one), Some(other)] if one == other && one <= (WORDS + WINDOW) as u32)
    }

    fn grow(&mut self, pair: [Fingerprint; 2], counts: bool) {
        let [print, _] = pair;
        let [last, _] = self.last;
        self.stretch.words += print.word - last.word;
        self.stretch.counts |= counts;
        for (reach, print) in self.stretch.reaches.iter_mut().zip(pair) {
            reach.from = reach.from.min(print.from);
            reach.to = reach.to.max(print.to);
        }
        self.last = pair;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(prints: &[(u64, u32, u32)]) -> Fingerprints {
        let prints = prints.iter().map(|(hash, word, line)| Fingerprint {
            hash: *hash,
            word: *word,
            file: 0,
            from: *line,
            to: *line + 1,
        });
        Fingerprints { prints: prints.collect(), ..Fingerprints::default() }
    }

    #[test]
    fn stretches_follow_one_another_in_both_texts() {
        let first = text(&[(1, 0, 1), (2, 3, 2), (9, 5, 3), (3, 20, 6), (7, 40, 9)]);
        let second = text(&[(3, 4, 2), (1, 50, 10), (2, 53, 11), (7, 80, 20), (2, 90, 30)]);
        let found = stretches(&first, &second, &BTreeSet::from([7]));
        let told: Vec<_> = found
            .iter()
            .map(|it| {
                let [one, other] = it.reaches;
                (one.from, one.to, other.from, other.to, it.words as usize - WORDS, it.counts)
            })
            .collect();
        assert_eq!(told, [(1, 3, 10, 12, 3, true), (6, 7, 2, 3, 0, true), (9, 10, 20, 21, 0, false)]);
    }

    #[test]
    fn a_fingerprint_is_matched_once_and_the_longest_stretches_are_kept() {
        let first = text(&[(1, 0, 1), (1, 100, 5), (1, 200, 9)]);
        let second = text(&[(1, 0, 1), (1, 100, 7)]);
        assert_eq!(stretches(&first, &second, &BTreeSet::new()).len(), 2);
        let many: Vec<(u64, u32, u32)> = (0..300).map(|at| (at, at as u32 * 50, at as u32)).collect();
        assert_eq!(stretches(&text(&many), &text(&many), &BTreeSet::new()).len(), STRETCHES_MAX);
    }
}

//! A seeded fault as an edit of the text, and the choice of those that are tried.

use latchwork_grammar::{FileId, Sources, Span};

use super::kind::MutantKind;

/// Most faults that are tried in one reference; beyond it, of each kind some are left out.
pub const MUTANTS_MAX: usize = 1_000;

/// A fault: one edit of one file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mutant {
    /// Its kind.
    pub kind: MutantKind,
    /// What is replaced; empty where something is put in.
    pub span: Span,
    /// What stands there instead.
    pub replacement: String,
    /// The line of the edit, from 1.
    pub line: u32,
    /// What was done: "`>=` became `>`". Quotes the text, on one line.
    pub words: String,
}

/// The faults of a reference.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Mutants {
    /// Those that are tried, in the order of files and places.
    pub list: Vec<Mutant>,
    /// How many more there would be.
    pub left_out: usize,
}

impl Mutant {
    /// The file that is edited.
    #[must_use]
    pub fn file(&self) -> FileId {
        self.span.file
    }

    /// The sources with the fault: the same files in the same order, one of them edited.
    #[must_use]
    pub fn apply(&self, sources: &Sources) -> Sources {
        let mut edited = Sources::new();
        for (id, file) in sources.iter() {
            let text = if id == self.file() { self.edited(&file.text) } else { file.text.clone() };
            edited.add(file.name.clone(), text);
        }
        edited
    }

    /// The text of its file with the fault.
    #[must_use]
    pub fn edited(&self, text: &str) -> String {
        let (start, end) = (self.span.start as usize, self.span.end as usize);
        let (before, behind) = (text.get(..start).unwrap_or(text), text.get(end..).unwrap_or(""));
        [before, &self.replacement, behind].concat()
    }
}

/// At most so many of the candidates: of each kind the same number as far as it has so many, evenly spread over the text.
pub(super) fn chosen(mut candidates: Vec<Mutant>, most: usize) -> Mutants {
    let place = |mutant: &Mutant| (mutant.span, mutant.kind);
    candidates.sort_by(|one, other| {
        place(one).cmp(&place(other)).then_with(|| one.replacement.cmp(&other.replacement))
    });
    // What two kinds have in common is the fault of the first.
    candidates
        .dedup_by(|later, earlier| later.span == earlier.span && later.replacement == earlier.replacement);
    let all = candidates.len();
    if all <= most {
        return Mutants { list: candidates, left_out: 0 };
    }
    let of = |kind: MutantKind| candidates.iter().filter(|mutant| mutant.kind == kind).count();
    let counts: Vec<(MutantKind, usize)> = MutantKind::ALL.iter().map(|kind| (*kind, of(*kind))).collect();
    let shares = shares(&counts.iter().map(|(_, count)| *count).collect::<Vec<_>>(), most);
    let mut seen = vec![0; counts.len()];
    candidates.retain(|mutant| {
        let Some(index) = counts.iter().position(|(kind, _)| *kind == mutant.kind) else { return false };
        let (Some(seen), Some(share), Some((_, count))) =
            (seen.get_mut(index), shares.get(index), counts.get(index))
        else {
            return false;
        };
        // Evenly spread: the share goes up by one in the step at which one is kept.
        let kept = (*seen + 1) * share / count > *seen * share / count;
        *seen += 1;
        kept
    });
    Mutants { left_out: all - candidates.len(), list: candidates }
}

/// How many of each there may be, so that together there are `most`: those with fewer keep all they have.
fn shares(counts: &[usize], most: usize) -> Vec<usize> {
    let mut shares = vec![0; counts.len()];
    let mut rest = most;
    // Each round gives at least one to each that has more, or ends.
    while rest > 0 {
        let open: Vec<usize> = counts
            .iter()
            .zip(&shares)
            .enumerate()
            .filter(|(_, (count, share))| share < count)
            .map(|(index, _)| index)
            .collect();
        if open.is_empty() {
            break;
        }
        let each = (rest / open.len()).max(1);
        for index in open {
            if let (Some(share), Some(count)) = (shares.get_mut(index), counts.get(index)) {
                let more = each.min(count - *share).min(rest);
                *share += more;
                rest -= more;
            }
        }
    }
    shares
}

#[cfg(test)]
mod tests {
    use super::{Mutant, MutantKind, chosen, shares};
    use latchwork_grammar::{FileId, Span};

    fn mutant(kind: MutantKind, at: u32) -> Mutant {
        let span = Span::new(FileId(0), at, at + 1);
        Mutant { kind, span, replacement: "x".into(), line: 1, words: String::new() }
    }

    #[test]
    fn rare_kinds_keep_what_they_have() {
        assert_eq!(shares(&[100, 2, 50, 0], 22), [10, 2, 10, 0]);
        assert_eq!(shares(&[3, 2], 10), [3, 2]);
        assert_eq!(shares(&[9, 9, 9], 4), [2, 1, 1]);
        assert_eq!(shares(&[5], 0), [0]);
    }

    #[test]
    fn a_choice_is_spread_over_the_text() {
        let mut all: Vec<Mutant> = (0..90).map(|at| mutant(MutantKind::ContactSwapped, at)).collect();
        all.extend([100, 120].map(|at| mutant(MutantKind::WrongEdge, at)));
        let found = chosen(all, 11);
        let places: Vec<u32> = found.list.iter().map(|mutant| mutant.span.start).collect();
        assert_eq!(places, [9, 19, 29, 39, 49, 59, 69, 79, 89, 100, 120]);
        assert_eq!(found.left_out, 81);
    }

    #[test]
    fn the_same_edit_counts_once() {
        let twice = vec![mutant(MutantKind::WrongEdge, 5), mutant(MutantKind::ContactSwapped, 5)];
        let found = chosen(twice, 10);
        assert_eq!(found.list, [mutant(MutantKind::ContactSwapped, 5)]);
        assert_eq!(found.left_out, 0);
    }

    #[test]
    fn an_edit_replaces_its_span_alone() {
        let edited = Mutant { replacement: "OR".into(), ..mutant(MutantKind::AndOrSwapped, 2) };
        assert_eq!(edited.edited("a b c"), "a OR c");
    }
}

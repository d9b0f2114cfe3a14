//! What the observing instructions of an image have seen: points that were passed, and for each decision the values
//! that its conditions had together with the outcome.
//!
//! Observing instructions stand in images that were compiled for measuring coverage. They read and note, and nothing
//! else: they count for nothing, raise nothing and write nothing of the data image.
//!
//! What a log holds does not depend on the order in which things happened: of a decision with more vectors than are
//! kept, the smallest are kept. So the log of two runs is the same as the logs of both, merged in any order.

use std::collections::BTreeSet;

/// Most conditions of one decision: their values are the bits of one word.
pub const CONDITIONS_MAX: u32 = 64;

/// Most different vectors that are kept of one decision.
pub const VECTORS_MAX: usize = 4096;

/// Most vectors that are kept of all decisions together, unless so many decisions have [`VECTORS_LEAST`] each.
const VECTORS_TOGETHER: usize = 1 << 20;

/// What is kept of every decision however many there are.
const VECTORS_LEAST: usize = 64;

/// How an image observes itself: what its observing instructions name.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct CoverageSize {
    /// Number of points.
    pub points: u32,
    /// Number of decisions.
    pub decisions: u32,
}

/// One evaluation of a decision.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DecisionVector {
    /// The values of the conditions: condition 0 is the lowest bit.
    pub conditions: u64,
    /// What came out.
    pub outcome: bool,
}

/// What was seen of one decision.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DecisionLog {
    vectors: BTreeSet<DecisionVector>,
    outcomes: [bool; 2],
    overflowed: bool,
}

impl DecisionLog {
    /// The different vectors that were seen, or the smallest of them.
    pub fn vectors(&self) -> impl Iterator<Item = DecisionVector> + '_ {
        self.vectors.iter().copied()
    }

    /// Whether an outcome was seen, in whatever vector.
    #[must_use]
    pub const fn has_outcome(&self, outcome: bool) -> bool {
        if outcome { self.outcomes[1] } else { self.outcomes[0] }
    }

    /// Whether there were more different vectors than are kept.
    #[must_use]
    pub const fn overflowed(&self) -> bool {
        self.overflowed
    }

    fn note(&mut self, vector: DecisionVector, most: usize) {
        let [no, yes] = &mut self.outcomes;
        *(if vector.outcome { yes } else { no }) = true;
        if self.vectors.insert(vector) {
            self.shorten(most);
        }
    }

    fn merge(&mut self, other: &Self, most: usize) {
        for (own, others) in self.outcomes.iter_mut().zip(other.outcomes) {
            *own |= others;
        }
        self.overflowed |= other.overflowed;
        self.vectors.extend(&other.vectors);
        self.shorten(most);
    }

    fn shorten(&mut self, most: usize) {
        while self.vectors.len() > most {
            self.overflowed = true;
            self.vectors.pop_last();
        }
    }
}

/// What was seen in all runs of a machine.
#[derive(Clone, Debug, Default)]
pub struct CoverageLog {
    points: Vec<u64>,
    decisions: Vec<DecisionLog>,
    /// The conditions of decisions that are being evaluated.
    pending: Vec<u64>,
}

/// Two logs are equal that saw the same, whatever is being evaluated.
impl PartialEq for CoverageLog {
    fn eq(&self, other: &Self) -> bool {
        self.points == other.points && self.decisions == other.decisions
    }
}

impl Eq for CoverageLog {}

impl CoverageLog {
    /// An empty log for an image of this size.
    #[must_use]
    pub fn new(size: CoverageSize) -> Self {
        let decisions = size.decisions as usize;
        Self {
            points: vec![0; (size.points as usize).div_ceil(64)],
            decisions: vec![DecisionLog::default(); decisions],
            pending: vec![0; decisions],
        }
    }

    /// Whether a point was passed.
    #[must_use]
    pub fn passed(&self, point: u32) -> bool {
        self.points.get(point as usize / 64).is_some_and(|word| word >> (point % 64) & 1 == 1)
    }

    /// What was seen of a decision; `None` for one that the image does not have.
    #[must_use]
    pub fn decision(&self, decision: u32) -> Option<&DecisionLog> {
        self.decisions.get(decision as usize)
    }

    /// Most different vectors that are kept of each decision: fewer in images with very many decisions.
    #[must_use]
    pub fn vectors_max(&self) -> usize {
        (VECTORS_TOGETHER / self.decisions.len().max(1)).clamp(VECTORS_LEAST, VECTORS_MAX)
    }

    /// Adds what another log of the same program has seen. Tells whether it is one: otherwise nothing is added.
    #[must_use]
    pub fn merge(&mut self, other: &Self) -> bool {
        if self.points.len() != other.points.len() || self.decisions.len() != other.decisions.len() {
            return false;
        }
        let most = self.vectors_max();
        for (own, others) in self.points.iter_mut().zip(&other.points) {
            *own |= others;
        }
        for (own, others) in self.decisions.iter_mut().zip(&other.decisions) {
            own.merge(others, most);
        }
        true
    }

    /// Adds what a log of another program has seen, as far as its points and decisions stand for some of this one:
    /// pairs of the number there and the number here.
    pub fn add(&mut self, other: &Self, points: &[(u32, u32)], decisions: &[(u32, u32)]) {
        for (_, here) in points.iter().filter(|(there, _)| other.passed(*there)) {
            self.pass(*here);
        }
        let most = self.vectors_max();
        for (there, here) in decisions {
            if let (Some(there), Some(own)) = (other.decision(*there), self.decisions.get_mut(*here as usize))
            {
                own.merge(there, most);
            }
        }
    }

    pub(crate) fn pass(&mut self, point: u32) {
        if let Some(word) = self.points.get_mut(point as usize / 64) {
            *word |= 1 << (point % 64);
        }
    }

    pub(crate) fn condition(&mut self, decision: u32, condition: u32, value: bool) {
        if let Some(pending) = self.pending.get_mut(decision as usize) {
            let bit = 1 << (condition % CONDITIONS_MAX);
            *pending = if value { *pending | bit } else { *pending & !bit };
        }
    }

    pub(crate) fn outcome(&mut self, decision: u32, outcome: bool) {
        let most = self.vectors_max();
        let index = decision as usize;
        if let (Some(log), Some(conditions)) = (self.decisions.get_mut(index), self.pending.get(index)) {
            log.note(DecisionVector { conditions: *conditions, outcome }, most);
        }
    }

    /// Exchanges what is being evaluated, for a release that is interrupted or goes on.
    pub(crate) fn exchange_pending(&mut self, other: &mut Vec<u64>) {
        other.resize(self.pending.len(), 0);
        std::mem::swap(&mut self.pending, other);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(vectors: impl Iterator<Item = u64>) -> CoverageLog {
        let mut log = CoverageLog::new(CoverageSize { points: 70, decisions: 1 });
        for vector in vectors {
            for condition in 0..64 {
                log.condition(0, condition, vector >> condition & 1 == 1);
            }
            log.outcome(0, vector % 3 == 0);
            log.pass((vector % 70) as u32);
        }
        log
    }

    /// Numbers that come in no order; every one of them differs.
    fn scattered(count: u64) -> impl Iterator<Item = u64> {
        (0..count).map(|number| number.wrapping_mul(0x9e37_79b9_7f4a_7c15))
    }

    #[test]
    fn the_order_of_runs_makes_no_difference() {
        for count in [100, 4096, 4097, 9000] {
            let whole = filled(scattered(count));
            let part = |rest| filled(scattered(count).skip(rest).step_by(3));
            for order in [[0, 1, 2], [2, 0, 1], [1, 2, 0]] {
                let mut merged = filled(std::iter::empty());
                for rest in order {
                    assert!(merged.merge(&part(rest)));
                }
                assert!(merged == whole, "{count} {order:?}");
            }
            let decision = whole.decision(0).unwrap();
            assert_eq!(decision.vectors().count(), (count as usize).min(VECTORS_MAX));
            assert_eq!(decision.overflowed(), count as usize > VECTORS_MAX);
        }
    }

    #[test]
    fn outcomes_are_known_of_vectors_that_are_not_kept() {
        let mut log = filled(1..=u64::from(u16::MAX));
        log.condition(0, 63, true);
        log.outcome(0, true);
        let decision = log.decision(0).unwrap();
        assert!(decision.overflowed() && decision.has_outcome(true) && decision.has_outcome(false));
        assert!(decision.vectors().all(|vector| vector.conditions < 5000));
    }

    #[test]
    fn what_stands_for_the_same_is_added() {
        let there = filled(1..4);
        let mut here = CoverageLog::new(CoverageSize { points: 9, decisions: 3 });
        here.add(&there, &[(1, 8), (3, 0), (4, 5), (2, 99)], &[(0, 2), (7, 1), (0, 9)]);
        let passed: Vec<u32> = (0..9).filter(|point| here.passed(*point)).collect();
        assert_eq!(passed, [0, 8]);
        assert_eq!(here.decision(2), there.decision(0));
        assert_eq!(here.decision(1), Some(&DecisionLog::default()));
    }

    #[test]
    fn logs_of_another_program_are_refused() {
        let mut log = filled(scattered(3));
        let before = log.clone();
        assert!(!log.merge(&CoverageLog::new(CoverageSize { points: 70, decisions: 2 })));
        assert!(!log.merge(&CoverageLog::new(CoverageSize { points: 700, decisions: 1 })));
        assert!(log == before);
    }

    #[test]
    fn many_decisions_share_the_room() {
        let of = |decisions| CoverageLog::new(CoverageSize { points: 0, decisions }).vectors_max();
        assert_eq!([of(0), of(1), of(256), of(1024), of(1 << 20)], [4096, 4096, 4096, 1024, 64]);
    }
}

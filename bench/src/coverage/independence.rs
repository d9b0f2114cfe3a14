//! Modified condition/decision coverage: which conditions were shown to decide the outcome on their own.
//!
//! Two definitions, after J. J. Chilenski, "An Investigation of Three Forms of the Modified Condition Decision Coverage
//! (MCDC) Criterion", DOT/FAA/AR-01/18 (2001), and NASA/TM-2001-210876:
//!
//! - **unique cause**: two evaluations that differ in this condition alone, with different outcomes;
//! - **masking**: two evaluations that differ in this condition and perhaps in others, where the logic of the decision
//!   shows that this one decided: in both, the other operands on its way to the outcome let it pass (those of AND are
//!   TRUE, those of OR FALSE), and those of XOR have the same value in both.
//!
//! Every pair for the first is a pair for the second.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_compiler::coverage::BooleanTree;
use latchwork_vm::DecisionVector;

use super::path::Path;

/// Two evaluations that show a condition to decide.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Pair {
    /// The conditions where this one is FALSE.
    pub when_false: u64,
    /// The conditions where this one is TRUE.
    pub when_true: u64,
}

/// Whether a condition was shown to decide.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Independence {
    /// By unique cause.
    pub unique_cause: Option<Pair>,
    /// By masking; the pair for unique cause if there is one.
    pub masking: Option<Pair>,
}

/// What the evaluations of a decision show of each of its conditions. Evaluations whose outcome is not that of the tree
/// show nothing: see [`contradicts`]. The order of the evaluations makes no difference.
pub fn independence(
    tree: &BooleanTree,
    conditions: usize,
    vectors: impl IntoIterator<Item = DecisionVector>,
) -> Vec<Independence> {
    let vectors: BTreeSet<DecisionVector> = vectors.into_iter().collect();
    let mut evaluated: Vec<(u64, Vec<bool>)> = Vec::with_capacity(vectors.len());
    let mut outcomes = BTreeMap::new();
    for vector in vectors {
        let values = tree.values(vector.conditions);
        if values.last() == Some(&vector.outcome) {
            outcomes.insert(vector.conditions, vector.outcome);
            evaluated.push((vector.conditions, values));
        }
    }
    let paths = Path::all(tree, conditions);
    (0u32..)
        .zip(&paths)
        .map(|(condition, path)| {
            let unique_cause = unique_cause(&outcomes, condition);
            let masking = unique_cause.or_else(|| masking(&evaluated, condition, path));
            Independence { unique_cause, masking }
        })
        .collect()
}

/// Whether an evaluation cannot have been one: what came out is not what its conditions give. That happens where a
/// task of higher priority changes an operand in the middle of an evaluation.
pub fn contradicts(tree: &BooleanTree, vector: DecisionVector) -> bool {
    tree.value(vector.conditions) != vector.outcome
}

fn unique_cause(outcomes: &BTreeMap<u64, bool>, condition: u32) -> Option<Pair> {
    let bit = 1u64.checked_shl(condition)?;
    outcomes.iter().filter(|(vector, _)| *vector & bit == 0).find_map(|(vector, outcome)| {
        let other = outcomes.get(&(vector | bit))?;
        (other != outcome).then_some(Pair { when_false: *vector, when_true: vector | bit })
    })
}

fn masking(evaluated: &[(u64, Vec<bool>)], condition: u32, path: &Path) -> Option<Pair> {
    // The first evaluation with each value of the condition, by what must be the same in both.
    let mut deciding: BTreeMap<u64, [Option<u64>; 2]> = BTreeMap::new();
    for (vector, values) in evaluated {
        if let Some(signature) = path.unmasked(values) {
            let [when_false, when_true] = deciding.entry(signature).or_default();
            let slot = if is_true(*vector, condition) { when_true } else { when_false };
            slot.get_or_insert(*vector);
        }
    }
    let pairs = deciding.values().filter_map(|found| match *found {
        [Some(when_false), Some(when_true)] => Some(Pair { when_false, when_true }),
        _ => None,
    });
    pairs.min()
}

/// Whether a condition is TRUE in a vector.
pub(super) const fn is_true(vector: u64, condition: u32) -> bool {
    condition < 64 && vector >> condition & 1 == 1
}

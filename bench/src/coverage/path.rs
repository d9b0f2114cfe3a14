//! The way of a condition through the tree of its decision: what stands beside it, and when it decides.

use latchwork_compiler::coverage::{BooleanTree, Node};

/// What another part of the decision must be, so that the condition decides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Demand {
    /// This value: the other operand of an AND must be TRUE, that of an OR FALSE.
    Value(bool),
    /// The same in both evaluations: the other operand of an XOR or of `=`.
    Same,
}

/// A part beside the way of a condition.
#[derive(Clone, Copy, Debug)]
pub(super) struct Beside {
    /// The part, by its number in the tree.
    pub(super) node: u32,
    pub(super) demand: Demand,
}

/// The parts beside the way of a condition, from the condition to the whole.
#[derive(Clone, Debug, Default)]
pub(super) struct Path {
    pub(super) beside: Vec<Beside>,
}

impl Path {
    /// The ways of all conditions, by their numbers. Each condition stands in the tree once.
    pub(super) fn all(tree: &BooleanTree, conditions: usize) -> Vec<Path> {
        let nodes = tree.nodes();
        let mut above: Vec<Option<(usize, Option<Beside>)>> = vec![None; nodes.len()];
        for (index, node) in nodes.iter().enumerate() {
            let mut note = |operand: u32, beside: Option<Beside>| {
                if let Some(slot) = above.get_mut(operand as usize) {
                    *slot = Some((index, beside));
                }
            };
            let (left, right, demand) = match *node {
                Node::Condition(_) | Node::Constant(_) => continue,
                Node::Not(operand) => {
                    note(operand, None);
                    continue;
                }
                Node::And(left, right) => (left, right, Demand::Value(true)),
                Node::Or(left, right) => (left, right, Demand::Value(false)),
                Node::Xor(left, right) | Node::Equal(left, right) => (left, right, Demand::Same),
            };
            note(left, Some(Beside { node: right, demand }));
            note(right, Some(Beside { node: left, demand }));
        }
        let mut paths = vec![Path::default(); conditions];
        for (index, node) in nodes.iter().enumerate() {
            let Node::Condition(number) = *node else { continue };
            let Some(path) = paths.get_mut(number as usize).filter(|path| path.beside.is_empty()) else {
                continue;
            };
            let mut here = index;
            while let Some((next, beside)) = above.get(here).copied().flatten() {
                path.beside.extend(beside);
                here = next;
            }
        }
        paths
    }

    /// Whether the condition decides with these values of the parts. If it does, the values of the parts that must be
    /// the same in both evaluations, as bits.
    pub(super) fn unmasked(&self, values: &[bool]) -> Option<u64> {
        let mut signature = 0u64;
        for beside in &self.beside {
            let value = values.get(beside.node as usize).copied().unwrap_or_default();
            match beside.demand {
                Demand::Value(wanted) if value != wanted => return None,
                Demand::Value(_) => {}
                // Fewer than 64, for each of them has a condition of its own.
                Demand::Same => signature = signature << 1 | u64::from(value),
            }
        }
        Some(signature)
    }
}

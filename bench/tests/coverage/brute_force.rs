//! The definitions of modified condition/decision coverage once more, in the plainest way, over all decisions with up to
//! four conditions.

use std::sync::LazyLock;

use latchwork_compiler::coverage::{BooleanTree, Node};
use latchwork_vm::DecisionVector;
use proptest::prelude::*;

use super::trees::shown;

/// Numbers in no order, the same in every run (Park and Miller 1988).
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> u64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0
    }

    /// Random evaluations of a decision with so many conditions.
    fn vectors(&mut self, count: u32, outcome: impl Fn(u64) -> bool) -> Vec<DecisionVector> {
        let size = self.next() % (1 << count) + 1;
        let chosen = (0..size).map(|_| self.next() % (1 << count));
        chosen.map(|conditions| DecisionVector { conditions, outcome: outcome(conditions) }).collect()
    }
}

/// Two evaluations that differ in the condition alone, with different outcomes.
fn by_unique_cause(vectors: &[DecisionVector], condition: u32) -> bool {
    vectors.iter().any(|one| {
        vectors
            .iter()
            .any(|other| one.conditions ^ other.conditions == 1 << condition && one.outcome != other.outcome)
    })
}

/// Two evaluations with different outcomes and values of the condition, each of which it alone would turn, and between
/// which no operand that stands beside its way has changed.
fn by_masking(tree: &BooleanTree, vectors: &[DecisionVector], condition: u32) -> bool {
    let bit = 1u64 << condition;
    let beside = beside(tree, condition);
    let turned = vectors.iter().filter(|it| tree.value(it.conditions) != tree.value(it.conditions ^ bit));
    let turned: Vec<_> = turned.map(|it| (it, tree.values(it.conditions))).collect();
    turned.iter().any(|(one, values)| {
        turned.iter().any(|(other, others)| {
            (one.conditions ^ other.conditions) & bit != 0
                && one.outcome != other.outcome
                && beside.iter().all(|node| values[*node] == others[*node])
        })
    })
}

/// The parts without the condition whose neighbour under the same operator has it.
fn beside(tree: &BooleanTree, condition: u32) -> Vec<usize> {
    let nodes = tree.nodes();
    let mut has = Vec::new();
    for node in nodes {
        let own = *node == Node::Condition(condition);
        has.push(own || node.operands().any(|operand| has[operand as usize]));
    }
    let operators = nodes.iter().map(|node| node.operands().collect::<Vec<_>>());
    operators
        .filter(|operands| operands.iter().any(|operand| has[*operand as usize]))
        .flatten()
        .map(|operand| operand as usize)
        .filter(|operand| !has[*operand])
        .collect()
}

/// A tree for a truth table, by cases on one condition after the other.
fn tree_of_table(table: u64, count: u32) -> BooleanTree {
    fn cases(table: u64, count: u32, fixed: u64, condition: u32, nodes: &mut Vec<Node>) -> u32 {
        let mut push = |node| {
            nodes.push(node);
            nodes.len() as u32 - 1
        };
        let rest = (fixed..1 << count).filter(|vector| vector & ((1 << condition) - 1) == fixed);
        let ones = rest.clone().filter(|vector| table >> vector & 1 == 1).count();
        if ones == 0 || ones == rest.count() {
            return push(Node::Constant(ones > 0));
        }
        let yes = cases(table, count, fixed | 1 << condition, condition + 1, nodes);
        nodes.push(Node::Condition(condition));
        nodes.push(Node::And(yes, nodes.len() as u32 - 1));
        let left = nodes.len() as u32 - 1;
        let no = cases(table, count, fixed, condition + 1, nodes);
        nodes.push(Node::Condition(condition));
        nodes.push(Node::Not(nodes.len() as u32 - 1));
        nodes.push(Node::And(no, nodes.len() as u32 - 1));
        nodes.push(Node::Or(left, nodes.len() as u32 - 1));
        nodes.len() as u32 - 1
    }
    let mut nodes = Vec::new();
    cases(table, count, 0, 0, &mut nodes);
    BooleanTree::new(nodes).unwrap()
}

/// All Boolean functions of up to four conditions, each with random evaluations.
#[test]
fn unique_cause_over_all_functions() {
    let mut numbers = Numbers(1);
    let mut found = [0usize; 2];
    for count in 1..=4u32 {
        let rounds = [1, 64, 32, 16, 1][count as usize];
        for table in 0..1u64 << (1 << count) {
            let tree = tree_of_table(table, count);
            for _ in 0..rounds {
                let vectors = numbers.vectors(count, |vector| table >> vector & 1 == 1);
                let shown = shown(&tree, count as usize, &vectors);
                for (condition, (unique, _)) in (0..).zip(shown) {
                    assert_eq!(unique, by_unique_cause(&vectors, condition), "{table:b} {vectors:?}");
                    found[usize::from(unique)] += 1;
                }
            }
        }
    }
    assert!(found.iter().all(|found| *found > 10_000), "{found:?}");
}

/// All trees with up to four leaves over AND, OR, XOR, `=`, with and without NOT on every operand.
fn all_trees() -> Vec<(BooleanTree, u32)> {
    // Trees over the conditions `first..first + count`, as node lists with the whole last.
    fn trees(first: u32, count: u32) -> Vec<Vec<Node>> {
        let mut all = Vec::new();
        if count == 1 {
            all.push(vec![Node::Condition(first)]);
        }
        for left_count in 1..count {
            for left in trees(first, left_count) {
                for right in trees(first + left_count, count - left_count) {
                    let shift = left.len() as u32;
                    let moved = right.iter().map(|node| match *node {
                        Node::Not(operand) => Node::Not(operand + shift),
                        Node::And(one, other) => Node::And(one + shift, other + shift),
                        Node::Or(one, other) => Node::Or(one + shift, other + shift),
                        Node::Xor(one, other) => Node::Xor(one + shift, other + shift),
                        Node::Equal(one, other) => Node::Equal(one + shift, other + shift),
                        leaf => leaf,
                    });
                    let operands: Vec<Node> = left.iter().copied().chain(moved).collect();
                    let (one, other) = (shift - 1, operands.len() as u32 - 1);
                    for operator in [
                        Node::And(one, other),
                        Node::Or(one, other),
                        Node::Xor(one, other),
                        Node::Equal(one, other),
                    ] {
                        all.push(operands.iter().copied().chain([operator]).collect());
                    }
                }
            }
        }
        // NOT changes no more than the sense of AND and OR above, so one NOT in two trees shows it.
        let negated = all.iter().step_by(2).map(|nodes: &Vec<Node>| {
            let whole = nodes.len() as u32 - 1;
            nodes.iter().copied().chain([Node::Not(whole)]).collect()
        });
        let negated: Vec<Vec<Node>> = negated.collect();
        all.extend(negated);
        all
    }
    let of = |count| trees(0, count).into_iter().map(move |nodes| (BooleanTree::new(nodes).unwrap(), count));
    (1..=4).flat_map(of).collect()
}

#[test]
fn masking_over_all_trees() {
    let mut numbers = Numbers(2);
    let all = all_trees();
    assert!(all.len() > 1000, "{}", all.len());
    let mut found = [0usize; 3];
    for (tree, count) in all {
        for _ in 0..2 {
            let vectors = numbers.vectors(count, |vector| tree.value(vector));
            let shown = shown(&tree, count as usize, &vectors);
            for (condition, (unique, masking)) in (0..).zip(shown) {
                assert_eq!(unique, by_unique_cause(&vectors, condition), "{tree:?} {vectors:?}");
                assert_eq!(masking, by_masking(&tree, &vectors, condition), "{tree:?} {vectors:?}");
                assert!(masking || !unique);
                found[usize::from(unique) + usize::from(masking)] += 1;
            }
        }
    }
    assert!(found.iter().all(|found| *found > 1000), "{found:?}");
}

proptest! {
    /// The order of evaluations, and how often each came, make no difference; contradictory ones show nothing.
    #[test]
    fn order_and_repetition_make_no_difference(choice: u16, seed in 1..u64::from(u32::MAX / 4)) {
        static ALL: LazyLock<Vec<(BooleanTree, u32)>> = LazyLock::new(all_trees);
        let all = &*ALL;
        let (tree, count) = &all[usize::from(choice) % all.len()];
        let vectors = Numbers(seed).vectors(*count, |vector| tree.value(vector));
        let mut other: Vec<DecisionVector> = vectors.iter().rev().chain(&vectors).copied().collect();
        let one = latchwork_bench::coverage::independence(tree, *count as usize, vectors.iter().copied());
        let wrong = other.iter().map(|it| DecisionVector { outcome: !it.outcome, ..*it }).collect::<Vec<_>>();
        other.extend(wrong);
        let two = latchwork_bench::coverage::independence(tree, *count as usize, other);
        prop_assert_eq!(one, two);
    }
}

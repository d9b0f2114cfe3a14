//! Boolean trees for tests, from formulas.

use latchwork_bench::coverage::independence;
use latchwork_compiler::coverage::{BooleanTree, Node};
use latchwork_vm::DecisionVector;

/// A tree from a formula of `!`, `&`, `^`, `|`, parentheses and one-letter conditions, `a` being condition 0.
pub fn tree(formula: &str) -> BooleanTree {
    let mut parser =
        Parser { rest: formula.bytes().filter(|byte| *byte != b' ').collect(), nodes: Vec::new() };
    parser.rest.reverse();
    parser.row(0);
    assert!(parser.rest.is_empty(), "{formula}");
    BooleanTree::new(parser.nodes).unwrap()
}

struct Parser {
    rest: Vec<u8>,
    nodes: Vec<Node>,
}

impl Parser {
    fn push(&mut self, node: Node) -> u32 {
        self.nodes.push(node);
        self.nodes.len() as u32 - 1
    }

    fn row(&mut self, level: usize) -> u32 {
        let Some(symbol) = [b'|', b'^', b'&'].get(level) else { return self.unary() };
        let mut left = self.row(level + 1);
        while self.rest.last() == Some(symbol) {
            self.rest.pop();
            let right = self.row(level + 1);
            left = self.push(match symbol {
                b'|' => Node::Or(left, right),
                b'^' => Node::Xor(left, right),
                _ => Node::And(left, right),
            });
        }
        left
    }

    fn unary(&mut self) -> u32 {
        match self.rest.pop().unwrap() {
            b'!' => {
                let operand = self.unary();
                self.push(Node::Not(operand))
            }
            b'(' => {
                let inner = self.row(0);
                assert_eq!(self.rest.pop(), Some(b')'));
                inner
            }
            bit @ (b'0' | b'1') => self.push(Node::Constant(bit == b'1')),
            letter => self.push(Node::Condition(u32::from(letter - b'a'))),
        }
    }
}

/// Evaluations with the outcomes of the tree, from texts such as `TFT`, condition 0 first.
pub fn vectors(tree: &BooleanTree, texts: &[&str]) -> Vec<DecisionVector> {
    texts.iter().map(|text| evaluation(tree, conditions(text))).collect()
}

pub fn conditions(text: &str) -> u64 {
    text.bytes().enumerate().fold(0, |bits, (index, letter)| bits | u64::from(letter == b'T') << index)
}

pub fn evaluation(tree: &BooleanTree, conditions: u64) -> DecisionVector {
    DecisionVector { conditions, outcome: tree.value(conditions) }
}

/// For each condition whether it is shown by unique cause, and by masking.
pub fn shown(tree: &BooleanTree, count: usize, vectors: &[DecisionVector]) -> Vec<(bool, bool)> {
    independence(tree, count, vectors.iter().copied())
        .iter()
        .map(|shown| (shown.unique_cause.is_some(), shown.masking.is_some()))
        .collect()
}

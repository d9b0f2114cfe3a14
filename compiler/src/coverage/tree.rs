//! How the conditions of a decision are combined.

/// A part of a [`BooleanTree`]. Operands are numbers of parts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Node {
    /// The value of a condition, by its number.
    Condition(u32),
    /// A constant.
    Constant(bool),
    /// NOT.
    Not(u32),
    /// AND.
    And(u32, u32),
    /// OR.
    Or(u32, u32),
    /// XOR; also `<>` of two BOOL.
    Xor(u32, u32),
    /// `=` of two BOOL.
    Equal(u32, u32),
}

impl Node {
    /// Its operands.
    pub fn operands(self) -> impl Iterator<Item = u32> {
        let (first, second) = match self {
            Node::Condition(_) | Node::Constant(_) => (None, None),
            Node::Not(operand) => (Some(operand), None),
            Node::And(left, right)
            | Node::Or(left, right)
            | Node::Xor(left, right)
            | Node::Equal(left, right) => (Some(left), Some(right)),
        };
        first.into_iter().chain(second)
    }
}

/// The Boolean structure of a decision: each part stands behind its operands, the whole is the last one. Every part
/// but the last is the operand of one other part.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BooleanTree {
    nodes: Vec<Node>,
}

impl BooleanTree {
    /// A tree of these parts; `None` if they are none.
    pub fn new(nodes: Vec<Node>) -> Option<Self> {
        let mut uses = vec![0u32; nodes.len()];
        for (index, node) in nodes.iter().enumerate() {
            for operand in node.operands() {
                if operand as usize >= index {
                    return None;
                }
                *uses.get_mut(operand as usize)? += 1;
            }
        }
        let (last, others) = uses.split_last()?;
        (*last == 0 && others.iter().all(|uses| *uses == 1)).then_some(BooleanTree { nodes })
    }

    /// Its parts, operands first.
    pub fn nodes(&self) -> &[Node] {
        &self.nodes
    }

    /// The value of every part; condition 0 is the lowest bit of `conditions`.
    pub fn values(&self, conditions: u64) -> Vec<bool> {
        let mut values: Vec<bool> = Vec::with_capacity(self.nodes.len());
        for node in &self.nodes {
            let of = |operand: u32| values.get(operand as usize).copied().unwrap_or_default();
            let value = match *node {
                Node::Condition(number) => conditions.checked_shr(number).is_some_and(|rest| rest & 1 == 1),
                Node::Constant(value) => value,
                Node::Not(operand) => !of(operand),
                Node::And(left, right) => of(left) && of(right),
                Node::Or(left, right) => of(left) || of(right),
                Node::Xor(left, right) => of(left) != of(right),
                Node::Equal(left, right) => of(left) == of(right),
            };
            values.push(value);
        }
        values
    }

    /// What comes out for these conditions.
    pub fn value(&self, conditions: u64) -> bool {
        self.values(conditions).last().copied().unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_follow_the_operators() {
        use Node::{And, Condition, Constant, Equal, Not, Or, Xor};
        let (a, b) = (Condition(0), Condition(1));
        let cases: [(Node, [bool; 4]); 4] = [
            (And(0, 1), [false, false, false, true]),
            (Or(0, 1), [false, true, true, true]),
            (Xor(0, 1), [false, true, true, false]),
            (Equal(0, 1), [true, false, false, true]),
        ];
        for (operator, expected) in cases {
            let tree = BooleanTree::new(vec![a, b, operator]).unwrap();
            assert_eq!([0, 1, 2, 3].map(|vector| tree.value(vector)), expected, "{operator:?}");
        }
        let tree = BooleanTree::new(vec![a, Not(0), Constant(true), And(1, 2)]).unwrap();
        assert_eq!([0, 1].map(|vector| tree.value(vector)), [true, false]);
    }

    #[test]
    fn parts_that_are_no_tree_are_refused() {
        use Node::{And, Condition, Not};
        for nodes in [
            vec![],
            vec![Not(0)],
            vec![Condition(0), Condition(1)],
            vec![Condition(0), And(0, 0)],
            vec![Condition(0), And(0, 2), Condition(1)],
        ] {
            assert_eq!(BooleanTree::new(nodes.clone()), None, "{nodes:?}");
        }
    }
}

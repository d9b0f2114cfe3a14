//! The Boolean structure of a decision: which operators combine which conditions.
//!
//! The operators are NOT, AND, OR, XOR on BOOL, as operators and as functions, and comparisons of two BOOL. Long
//! chains lean to the left and are followed in a loop.

use latchwork_grammar::Span;
use latchwork_stdlib::{ComparisonKind, Lowering as Form};
use latchwork_vm::{ElementaryType, Family};

use super::{observe::Part, unit::Lowering};
use crate::{
    coverage::{BooleanTree, Condition, Coupling, Node},
    typed::{Access, Constant, Expression, ExpressionKind, accesses, walk},
};

/// Most conditions that are compared with one another.
const COMPARED_MAX: usize = latchwork_vm::coverage::CONDITIONS_MAX as usize;

/// A decision taken apart.
pub(super) struct Structure {
    pub(super) span: Span,
    pub(super) conditions: Vec<Condition>,
    pub(super) couplings: Vec<Coupling>,
    /// The expressions that are operators.
    pub(super) operators: Vec<Part>,
    /// The expressions that are conditions, in their order.
    pub(super) leaves: Vec<Part>,
}

/// A Boolean operator with its operands.
enum Operator<'e> {
    /// Nothing but another name of the type.
    Same(&'e Expression),
    Not(&'e Expression),
    /// Two operands or more, from left to right.
    Fold(Combination, &'e [Expression]),
    Compare(ComparisonKind, &'e Expression, &'e Expression),
}

/// How an operator combines what is left of it with its right operand.
#[derive(Clone, Copy)]
enum Combination {
    And,
    Or,
    Xor,
}

/// What waits for its left operand.
enum Waiting<'e> {
    Not,
    Combine(Combination, &'e Expression),
    Compare(ComparisonKind, &'e Expression),
}

#[derive(Default)]
struct Growing<'e> {
    nodes: Vec<Node>,
    operators: Vec<Part>,
    conditions: Vec<&'e Expression>,
    span: Option<Span>,
}

impl Growing<'_> {
    fn push(&mut self, node: Node) -> u32 {
        self.nodes.push(node);
        // As many as there are expressions.
        self.nodes.len() as u32 - 1
    }

    fn cover(&mut self, span: Span) {
        self.span = Some(match self.span {
            Some(all) if all.file == span.file => all.to(span),
            Some(all) => all,
            None => span,
        });
    }
}

impl Lowering<'_> {
    /// Whether an expression has a Boolean operator of its own.
    pub(super) fn is_decision(&self, mut value: &Expression) -> bool {
        loop {
            match self.boolean_operator(value) {
                Some(Operator::Same(inner)) => value = inner,
                Some(_) => return true,
                None => return false,
            }
        }
    }

    /// Takes a decision apart; `None` if it has no conditions.
    pub(super) fn structure(&self, value: &Expression) -> Option<(Structure, BooleanTree)> {
        let mut growing = Growing::default();
        self.grow(value, &mut growing);
        let Growing { nodes, operators, conditions: leaves, span } = growing;
        if leaves.is_empty() {
            return None;
        }
        let tree = BooleanTree::new(nodes)?;
        let conditions =
            leaves.iter().map(|leaf| Condition { span: leaf.span, text: self.wording(leaf), points: None });
        let structure = Structure {
            span: span.unwrap_or(value.span),
            conditions: conditions.collect(),
            couplings: self.couplings(&leaves),
            operators,
            leaves: leaves.into_iter().map(Part::of).collect(),
        };
        Some((structure, tree))
    }

    /// Adds an expression with all its operands; tells the number of its node.
    fn grow<'e>(&self, whole: &'e Expression, growing: &mut Growing<'e>) -> u32 {
        let mut waiting = Vec::new();
        let mut current = whole;
        while let Some(operator) = self.boolean_operator(current) {
            growing.operators.push(Part::of(current));
            growing.cover(current.span);
            current = match operator {
                Operator::Same(inner) => inner,
                Operator::Not(operand) => {
                    waiting.push(Waiting::Not);
                    operand
                }
                Operator::Fold(combination, operands) => {
                    let Some((first, others)) = operands.split_first() else { break };
                    waiting.extend(others.iter().rev().map(|right| Waiting::Combine(combination, right)));
                    first
                }
                Operator::Compare(kind, left, right) => {
                    waiting.push(Waiting::Compare(kind, right));
                    left
                }
            };
        }
        let mut node = self.leaf(current, growing);
        while let Some(waits) = waiting.pop() {
            let combined = match waits {
                Waiting::Not => Node::Not(node),
                Waiting::Combine(combination, right) => {
                    let right = self.grow(right, growing);
                    match combination {
                        Combination::And => Node::And(node, right),
                        Combination::Or => Node::Or(node, right),
                        Combination::Xor => Node::Xor(node, right),
                    }
                }
                Waiting::Compare(kind, right) => {
                    let right = self.grow(right, growing);
                    // FALSE is less than TRUE.
                    match kind {
                        ComparisonKind::Equal => Node::Equal(node, right),
                        ComparisonKind::NotEqual => Node::Xor(node, right),
                        ComparisonKind::Greater => Node::And(node, growing.push(Node::Not(right))),
                        ComparisonKind::GreaterOrEqual => Node::Or(node, growing.push(Node::Not(right))),
                        ComparisonKind::Less => Node::And(growing.push(Node::Not(node)), right),
                        ComparisonKind::LessOrEqual => Node::Or(growing.push(Node::Not(node)), right),
                    }
                }
            };
            node = growing.push(combined);
        }
        node
    }

    fn leaf<'e>(&self, value: &'e Expression, growing: &mut Growing<'e>) -> u32 {
        if let ExpressionKind::Constant(Constant::Bool(constant)) = value.kind {
            growing.cover(value.span);
            return growing.push(Node::Constant(constant));
        }
        // A kept result stands where it was computed, which is not here.
        if !self.is_kept_result(value) {
            growing.cover(value.span);
        }
        let number = growing.conditions.len() as u32;
        growing.conditions.push(value);
        growing.push(Node::Condition(number))
    }

    fn boolean_operator<'e>(&self, value: &'e Expression) -> Option<Operator<'e>> {
        let boolean = |value: &Expression| self.elementary(value.ty) == Some(ElementaryType::Bool);
        if !boolean(value) {
            return None;
        }
        let (function, arguments) = match &value.kind {
            ExpressionKind::Convert(inner) if boolean(inner) => return Some(Operator::Same(inner)),
            ExpressionKind::Standard { function, arguments, .. } => (function, arguments.as_slice()),
            _ => return None,
        };
        if !arguments.iter().all(boolean) {
            return None;
        }
        match (self.form(function, arguments).0, arguments) {
            (Form::Not, [operand]) => Some(Operator::Not(operand)),
            (Form::Family(Family::And), [_, _, ..]) => Some(Operator::Fold(Combination::And, arguments)),
            (Form::Family(Family::Or), [_, _, ..]) => Some(Operator::Fold(Combination::Or, arguments)),
            (Form::Family(Family::Xor), [_, _, ..]) => Some(Operator::Fold(Combination::Xor, arguments)),
            (Form::Comparison(kind), [left, right]) => Some(Operator::Compare(kind, left, right)),
            _ => None,
        }
    }

    /// Which conditions depend on one another.
    fn couplings(&self, leaves: &[&Expression]) -> Vec<Coupling> {
        if leaves.len() > COMPARED_MAX {
            return Vec::new();
        }
        let reads: Vec<Vec<&Access>> = leaves.iter().map(|leaf| reads(leaf)).collect();
        let mut couplings = Vec::new();
        for (second, (leaf, reads_of_leaf)) in leaves.iter().zip(&reads).enumerate() {
            for (first, (other, reads_of_other)) in leaves.iter().zip(&reads).take(second).enumerate() {
                let shared = reads_of_leaf
                    .iter()
                    .any(|read| reads_of_other.iter().any(|other| walk::same_place(read, other)));
                let strong = shared && self.same_condition(leaf, other);
                if shared {
                    couplings.push(Coupling { first: first as u32, second: second as u32, strong });
                }
            }
        }
        couplings.sort_by_key(|coupling| (coupling.first, coupling.second));
        couplings
    }

    /// Whether two conditions always have the same value: the same variable, or the same words without a call.
    fn same_condition(&self, left: &Expression, right: &Expression) -> bool {
        match (&left.kind, &right.kind) {
            (ExpressionKind::Access(left), ExpressionKind::Access(right)) => walk::same_place(left, right),
            _ => {
                let same = self.wording(left).eq_ignore_ascii_case(&self.wording(right));
                same && !accesses::calls(left) && !accesses::calls(right)
            }
        }
    }
}

fn reads(value: &Expression) -> Vec<&Access> {
    let mut found = Vec::new();
    walk::expression(value, &mut |inner| {
        if let ExpressionKind::Access(access) = &inner.kind {
            found.push(access);
        }
    });
    found
}

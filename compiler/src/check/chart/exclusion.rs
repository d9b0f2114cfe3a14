//! Selections without priorities whose transitions may be TRUE together.
//!
//! Source: IEC 61131-3:2013, table 61, 2c: mutual exclusion is for the author to see to. On request the compiler says
//! where it cannot see it: where no factor of one condition contradicts one of the other. Only what is certain counts
//! as a contradiction: a value and its NOT, comparisons of the same operands that cannot both hold, comparisons with
//! constants whose ranges do not meet.

use latchwork_grammar::Diagnostic;
use latchwork_vm::ElementaryType as E;

use super::Network;
use crate::{
    check::Checker,
    typed::{Constant, Expression, ExpressionKind, walk},
    types::Types,
};

/// Most pairs of conditions compared at one step.
const PAIRS_MAX: usize = 2_000;

impl<'a> Checker<'a> {
    /// Warns of transitions from one step that are not seen to exclude each other.
    pub(super) fn check_exclusion(&mut self, network: &Network<'_>) {
        let mut leaving = vec![Vec::new(); network.steps.len()];
        for (index, crossing) in network.transitions.iter().enumerate() {
            crossing.from.iter().for_each(|step| leaving[*step].push(index));
        }
        for (step, transitions) in leaving.into_iter().enumerate() {
            let tree = |index: usize| network.transitions[index].tree;
            if transitions.iter().any(|index| tree(*index).priority.is_some()) {
                continue;
            }
            let mut pairs = 0;
            for (position, index) in transitions.iter().enumerate() {
                let Some(later) = &network.transitions[*index].condition.value else { continue };
                let earlier = transitions.iter().take(position).find(|other| {
                    pairs += 1;
                    let condition = &network.transitions[**other].condition.value;
                    condition.as_ref().is_some_and(|earlier| !exclude(&self.types, earlier, later))
                });
                if pairs > PAIRS_MAX {
                    break;
                }
                let Some(earlier) = earlier else { continue };
                let (first, second) = (tree(*earlier).heading, tree(*index).heading);
                let name = self.text(network.step_name(step).span);
                self.report(
                    Diagnostic::warning(
                        "selection-conflict",
                        second,
                        format!("this transition from `{name}` and an earlier one may be TRUE together"),
                    )
                    .label("then the earlier one clears")
                    .also(first, "the earlier one")
                    .note("let one condition exclude the other, or give both a PRIORITY"),
                );
            }
        }
    }
}

/// One part of a conjunction.
struct Factor<'e> {
    value: &'e Expression,
    negated: bool,
}

/// The parts of a condition that must all hold.
fn factors<'e>(condition: &'e Expression, into: &mut Vec<Factor<'e>>) {
    let mut waiting = vec![(condition, false)];
    while let Some((value, negated)) = waiting.pop() {
        match &value.kind {
            ExpressionKind::Standard { function, arguments, .. } => {
                match (function.name, arguments.as_slice(), negated) {
                    ("NOT", [operand], _) => waiting.push((operand, !negated)),
                    // De Morgan: NOT (a OR b) is NOT a AND NOT b.
                    ("AND", _, false) | ("OR", _, true) => {
                        waiting.extend(arguments.iter().map(|argument| (argument, negated)));
                    }
                    _ => into.push(Factor { value, negated }),
                }
            }
            ExpressionKind::Convert(inner) if inner.ty == value.ty => waiting.push((inner, negated)),
            _ => into.push(Factor { value, negated }),
        }
    }
}

/// Whether two conditions are never TRUE together.
fn exclude(types: &Types, first: &Expression, second: &Expression) -> bool {
    let (mut left, mut right) = (Vec::new(), Vec::new());
    factors(first, &mut left);
    factors(second, &mut right);
    let never = |factor: &Factor<'_>| matches!(factor.value.kind, ExpressionKind::Constant(Constant::Bool(value)) if value == factor.negated);
    left.iter().chain(&right).any(never)
        || left.iter().any(|one| right.iter().any(|other| contradict(types, one, other)))
}

fn contradict(types: &Types, one: &Factor<'_>, other: &Factor<'_>) -> bool {
    if one.negated != other.negated && same(one.value, other.value) {
        return true;
    }
    let (Some(one), Some(other)) = (comparison(types, one), comparison(types, other)) else { return false };
    if same(one.left, other.left) && same(one.right, other.right) {
        return one.holds & other.holds == 0;
    }
    if !same(one.left, other.left) {
        return false;
    }
    match (range(&one), range(&other)) {
        (Some((low, high)), Some((lower, higher))) => high < lower || higher < low,
        _ => false,
    }
}

const LESS: u8 = 1;
const EQUAL: u8 = 2;
const GREATER: u8 = 4;

/// A comparison by the orders of its operands for which it holds.
struct Comparison<'e> {
    left: &'e Expression,
    right: &'e Expression,
    holds: u8,
}

fn comparison<'e>(types: &Types, factor: &Factor<'e>) -> Option<Comparison<'e>> {
    let ExpressionKind::Standard { function, arguments, .. } = &factor.value.kind else { return None };
    let [left, right] = arguments.as_slice() else { return None };
    let holds = match function.name {
        "LT" => LESS,
        "LE" => LESS | EQUAL,
        "EQ" => EQUAL,
        "NE" => LESS | GREATER,
        "GE" => EQUAL | GREATER,
        "GT" => GREATER,
        _ => return None,
    };
    let real = matches!(types.elementary_base(left.ty), Some(E::Real | E::Lreal));
    match (factor.negated, real) {
        (false, _) => Some(Comparison { left, right, holds }),
        // Of what is no number neither a comparison nor its opposite holds.
        (true, true) => None,
        (true, false) => Some(Comparison { left, right, holds: (LESS | EQUAL | GREATER) & !holds }),
    }
}

/// The values of the left side for which a comparison with a constant holds, if they are one range.
fn range(comparison: &Comparison<'_>) -> Option<(i128, i128)> {
    let value = match &comparison.right.kind {
        ExpressionKind::Constant(Constant::Integer(value)) => *value,
        ExpressionKind::Constant(Constant::Time(value)) => i128::from(*value),
        _ => return None,
    };
    let low = match comparison.holds & LESS != 0 {
        true => i128::MIN,
        false if comparison.holds & EQUAL != 0 => value,
        false => value.saturating_add(1),
    };
    let high = match comparison.holds & GREATER != 0 {
        true => i128::MAX,
        false if comparison.holds & EQUAL != 0 => value,
        false => value.saturating_sub(1),
    };
    (comparison.holds != LESS | GREATER).then_some((low, high))
}

/// Whether two expressions have the same value for certain.
fn same(one: &Expression, other: &Expression) -> bool {
    match (&one.kind, &other.kind) {
        (ExpressionKind::Constant(one), ExpressionKind::Constant(other)) => one == other,
        (ExpressionKind::Access(one), ExpressionKind::Access(other)) => walk::same_place(one, other),
        (ExpressionKind::Convert(inner), ExpressionKind::Convert(other_inner)) => {
            one.ty == other.ty && same(inner, other_inner)
        }
        (
            ExpressionKind::Standard { function, arguments, .. },
            ExpressionKind::Standard { function: other, arguments: others, .. },
        ) => {
            function.name == other.name
                && arguments.len() == others.len()
                && arguments.iter().zip(others).all(|(one, other)| same(one, other))
        }
        _ => false,
    }
}

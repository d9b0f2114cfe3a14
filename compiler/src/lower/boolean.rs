//! Operators on BOOL: their instructions, and what is left of them where an operand is known.
//!
//! A BOOL is 0 or 1, so comparisons of two BOOL are Boolean operators too: FALSE is less than TRUE.

use latchwork_stdlib::{ComparisonKind, Lowering as Form};
use latchwork_vm::{Family, Scalar};

use super::unit::Lowering;
use crate::{
    layout::Spot,
    typed::{Constant, Expression, ExpressionKind},
};

/// An operand of a Boolean operator.
#[derive(Clone, Copy, Debug)]
pub(super) enum BoolOperand {
    /// Known now.
    Known(bool),
    /// At a place, when the program runs.
    At(Spot),
}

/// The instruction on two BOOL for an operator that has `family` on other types, and whether its operands change places.
pub(super) fn boolean_form(family: Family, swapped: bool) -> Option<(Family, bool)> {
    Some(match family {
        Family::And | Family::Minimum => (Family::BoolAnd, swapped),
        Family::Or | Family::Maximum => (Family::BoolOr, swapped),
        Family::Xor | Family::NotEqual => (Family::BoolXor, swapped),
        Family::Equal => (Family::BoolEqual, swapped),
        // `a < b` is `b AND NOT a`, `a <= b` is `b OR NOT a`.
        Family::Less => (Family::AndNot, !swapped),
        Family::LessOrEqual => (Family::OrNot, !swapped),
        _ => return None,
    })
}

/// The instruction that negates its second operand.
pub(super) fn with_negation(family: Family) -> Option<Family> {
    match family {
        Family::BoolAnd => Some(Family::AndNot),
        Family::BoolOr => Some(Family::OrNot),
        Family::BoolXor => Some(Family::BoolEqual),
        Family::BoolEqual => Some(Family::BoolXor),
        _ => None,
    }
}

/// What an instruction on two BOOL gives.
fn outcome(family: Family, first: bool, second: bool) -> bool {
    match family {
        Family::BoolOr => first || second,
        Family::BoolXor => first != second,
        Family::BoolEqual => first == second,
        Family::AndNot => first && !second,
        Family::OrNot => first || !second,
        // `boolean_form` and `with_negation` give no others.
        _ => first && second,
    }
}

impl Lowering<'_> {
    /// Whether an expression is the complement of a BOOL, and of which: `NOT x`, and `x = FALSE`.
    pub(super) fn negated<'e>(&self, value: &'e Expression) -> Option<&'e Expression> {
        let ExpressionKind::Standard { function, arguments, .. } = &value.kind else { return None };
        match (function.lowering, arguments.as_slice()) {
            (Form::Not, [operand]) if self.boolean(arguments) => Some(operand),
            (Form::Comparison(kind @ (ComparisonKind::Equal | ComparisonKind::NotEqual)), [left, right])
                if self.boolean(arguments) =>
            {
                let complement = kind == ComparisonKind::NotEqual;
                // Constants only: `left` may be a chain of any length.
                let known = |value: &Expression| match value.kind {
                    ExpressionKind::Constant(Constant::Bool(known)) => known == complement,
                    _ => false,
                };
                if known(right) { Some(left) } else { known(left).then_some(right) }
            }
            _ => None,
        }
    }

    /// `NOT` of a BOOL.
    pub(super) fn not(&mut self, operand: &Expression, target: Option<Spot>) -> Spot {
        if let Some(known) = self.known_bool(operand) {
            let constant = self.constant(&Constant::Bool(!known), Scalar::U8);
            return self.deliver(constant, Scalar::U8, target);
        }
        match self.negated(operand) {
            Some(inner) => self.evaluate(inner, target),
            None => self.unary(Family::Not, operand, target),
        }
    }

    /// The value of a BOOL that is known now.
    pub(super) fn known_bool(&self, mut value: &Expression) -> Option<bool> {
        let mut negated = false;
        loop {
            match &value.kind {
                ExpressionKind::Constant(Constant::Bool(known)) => return Some(*known != negated),
                ExpressionKind::Convert(inner) => value = inner,
                _ => {
                    value = self.negated(value)?;
                    negated = !negated;
                }
            }
        }
    }

    /// Evaluates an operand of a Boolean operator, unless it is known.
    pub(super) fn bool_operand(&mut self, value: &Expression) -> BoolOperand {
        match self.known_bool(value) {
            Some(known) => BoolOperand::Known(known),
            None => BoolOperand::At(self.operand(value)),
        }
    }

    /// Emits an instruction on two BOOL that have been evaluated. Where one is known the other, its complement, or a
    /// constant is left. Temporaries of the operands may have been given back.
    pub(super) fn combine(
        &mut self,
        family: Family,
        first: BoolOperand,
        second: BoolOperand,
        target: Option<Spot>,
    ) -> Spot {
        use BoolOperand::{At, Known};
        let both = [false, true];
        let (other, outcomes) = match (first, second) {
            (At(first), At(second)) => {
                let target = self.result(Scalar::U8, target);
                self.emit(family, Scalar::U8, &[target.into(), first.into(), second.into()]);
                return target;
            }
            (Known(first), Known(second)) => (None, both.map(|_| outcome(family, first, second))),
            (Known(first), At(second)) => (Some(second), both.map(|second| outcome(family, first, second))),
            (At(first), Known(second)) => (Some(first), both.map(|first| outcome(family, first, second))),
        };
        match (other, outcomes) {
            (Some(other), [false, true]) => {
                let spot = self.deliver(other, Scalar::U8, target);
                // Nothing was written: where the value stays in its temporary, that is taken again.
                self.keep(spot, Scalar::U8);
                spot
            }
            (Some(other), [true, false]) => {
                let target = self.result(Scalar::U8, target);
                self.emit(Family::Not, Scalar::U8, &[target.into(), other.into()]);
                target
            }
            (_, [always, _]) => {
                let constant = self.constant(&Constant::Bool(always), Scalar::U8);
                self.deliver(constant, Scalar::U8, target)
            }
        }
    }
}

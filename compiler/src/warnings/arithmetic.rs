//! Arithmetic that gives another number than it seems to.

use latchwork_grammar::Diagnostic;
use latchwork_stdlib::{ComparisonKind, Lowering, TypeClass};
use latchwork_vm::ElementaryType as E;

use super::Context;
use crate::{
    constant::integer_range,
    findings::Findings,
    typed::{Constant, Expression, ExpressionKind, walk},
};

/// `=` and `<>` on reals, except with zero, which is the usual guard of a division.
pub(super) fn real_equality(context: &Context<'_>, found: &mut Findings) {
    for value in context.survey.expressions() {
        let ExpressionKind::Standard { function, on: Some(E::Real | E::Lreal), arguments } = &value.kind
        else {
            continue;
        };
        let equality = matches!(
            function.lowering,
            Lowering::Comparison(ComparisonKind::Equal | ComparisonKind::NotEqual)
        );
        if !equality || arguments.iter().any(is_zero) {
            continue;
        }
        found.push(
            Diagnostic::warning("real-equal", value.span, "two real numbers are seldom exactly equal")
                .label("compares all digits, also those lost by rounding")
                .note("ask whether they are close enough: `ABS(a - b) < 0.01`"),
        );
    }
}

fn is_zero(value: &Expression) -> bool {
    match value.kind {
        ExpressionKind::Constant(Constant::Real(value)) => value == 0.0,
        ExpressionKind::Constant(Constant::Lreal(value)) => value == 0.0,
        _ => false,
    }
}

/// `Raw / 27648 * 100`: the division has dropped what the multiplication is to scale.
pub(super) fn divided_first(context: &Context<'_>, found: &mut Findings) {
    for number in 0..context.survey.statements().len() {
        let values = context.survey.own_expressions(number);
        // `n / 60 * 100 + n MOD 60` takes a number to pieces.
        let remainder = |value: &&Expression| matches!(&value.kind, ExpressionKind::Standard { function, .. } if function.name == "MOD");
        let mut scaled = values.iter().filter_map(|value| scaled_quotient(value)).peekable();
        if scaled.peek().is_none() || values.iter().any(remainder) {
            continue;
        }
        for (left, factor) in scaled {
            found.push(
                Diagnostic::warning(
                    "int-division",
                    left.span,
                    "this division drops the fraction before the product is taken",
                )
                .label("integer division: 7 / 2 is 3")
                .also(factor.span, "multiplies what is left")
                .note("multiply first, in a type that holds the product, or compute with REAL"),
            );
        }
    }
}

/// A product of a quotient of integers that a larger divisor has brought down: the quotient, and the factor.
fn scaled_quotient(value: &Expression) -> Option<(&Expression, &Expression)> {
    let ExpressionKind::Standard { function, on: Some(on), arguments } = &value.kind else { return None };
    let [left, factor] = arguments.as_slice() else { return None };
    if function.name != "MUL" || integer_range(*on).is_none() {
        return None;
    }
    let ExpressionKind::Standard { function, on: Some(on), arguments } = &unconverted(left).kind else {
        return None;
    };
    let [_, divisor] = arguments.as_slice() else { return None };
    if function.name != "DIV" || integer_range(*on).is_none() {
        return None;
    }
    // `n / 10 * 10` rounds down, and so may a small divisor with a larger factor.
    let scales = match (number(divisor), number(factor)) {
        (Some(divisor), Some(factor)) => divisor > factor,
        (Some(_), None) => false,
        (None, _) => !same(divisor, factor),
    };
    scales.then_some((left, factor))
}

fn unconverted(value: &Expression) -> &Expression {
    match &value.kind {
        ExpressionKind::Convert(inner) => unconverted(inner),
        _ => value,
    }
}

fn number(value: &Expression) -> Option<i128> {
    match unconverted(value).kind {
        ExpressionKind::Constant(Constant::Integer(value)) => Some(value),
        _ => None,
    }
}

fn same(left: &Expression, right: &Expression) -> bool {
    match (&unconverted(left).kind, &unconverted(right).kind) {
        (ExpressionKind::Access(left), ExpressionKind::Access(right)) => walk::same_place(left, right),
        _ => false,
    }
}

/// A product computed in a small type and widened afterwards, by itself or by name.
pub(super) fn late_widening(context: &Context<'_>, found: &mut Findings) {
    for value in context.survey.expressions() {
        let inner = match &value.kind {
            ExpressionKind::Convert(inner) => inner,
            ExpressionKind::Standard { function, arguments, .. }
                if matches!(function.lowering, Lowering::Convert { .. }) =>
            {
                let Some(operand) = arguments.first() else { continue };
                operand
            }
            _ => continue,
        };
        let ExpressionKind::Standard { function, on: Some(on), arguments } = &inner.kind else { continue };
        let to = context.types.elementary_base(value.ty);
        let (Some(to), Some((_, narrow))) = (to, integer_range(*on)) else { continue };
        let wider = TypeClass::AnyInt.accepts(to) && integer_range(to).is_some_and(|(_, wide)| wide > narrow);
        // A sum of small numbers seldom leaves its type; a product of two variables does.
        let variables =
            arguments.iter().filter(|value| !matches!(value.kind, ExpressionKind::Constant(_))).count();
        if function.name != "MUL" || !wider || variables < 2 {
            continue;
        }
        found.push(
            Diagnostic::warning(
                "late-widening",
                inner.span,
                format!("this product is computed in {} and only then becomes {}", on.name(), to.name()),
            )
            .label(format!("overflows beyond {narrow}"))
            .note(format!("convert one operand first: `{}_TO_{}(…)`", on.name(), to.name())),
        );
    }
}

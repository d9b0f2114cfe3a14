//! Comparisons with one possible answer, and guards that do not guard.

use latchwork_grammar::{Diagnostic, Span};
use latchwork_stdlib::{ComparisonKind, Lowering};

use super::Context;
use crate::{
    constant::integer_range,
    findings::Findings,
    typed::{Access, Constant, Expression, ExpressionKind, Step, walk},
    types::Type,
};

/// Comparisons whose answer the types or the operands settle.
pub(super) fn always(context: &Context<'_>, found: &mut Findings) {
    for value in context.survey.expressions() {
        let ExpressionKind::Standard { function, arguments, .. } = &value.kind else { continue };
        let (Lowering::Comparison(kind), [left, right]) = (function.lowering, arguments.as_slice()) else {
            continue;
        };
        let answer =
            same_operands(context, kind, left, right).or_else(|| by_range(context, kind, left, right));
        if let Some(answer) = answer {
            let word = if answer { "TRUE" } else { "FALSE" };
            found.push(
                Diagnostic::warning("always", value.span, format!("this comparison is always {word}"))
                    .label(format!("{word} whatever the values are")),
            );
        }
    }
}

/// `x = x`; a NaN is not equal to itself, so that reals are left out.
fn same_operands(
    context: &Context<'_>,
    kind: ComparisonKind,
    left: &Expression,
    right: &Expression,
) -> Option<bool> {
    let (ExpressionKind::Access(left), ExpressionKind::Access(right)) = (&left.kind, &right.kind) else {
        return None;
    };
    integer_range(context.types.elementary_base(left.ty)?)?;
    if !walk::same_place(left, right) {
        return None;
    }
    Some(matches!(kind, ComparisonKind::Equal | ComparisonKind::GreaterOrEqual | ComparisonKind::LessOrEqual))
}

/// A value compared with a constant outside of what its type can be.
fn by_range(
    context: &Context<'_>,
    kind: ComparisonKind,
    left: &Expression,
    right: &Expression,
) -> Option<bool> {
    if let ExpressionKind::Constant(Constant::Integer(value)) = right.kind {
        return settled(kind, range_of(context, left)?, value);
    }
    if let ExpressionKind::Constant(Constant::Integer(value)) = left.kind {
        let mirrored = match kind {
            ComparisonKind::Greater => ComparisonKind::Less,
            ComparisonKind::GreaterOrEqual => ComparisonKind::LessOrEqual,
            ComparisonKind::Less => ComparisonKind::Greater,
            ComparisonKind::LessOrEqual => ComparisonKind::GreaterOrEqual,
            other => other,
        };
        return settled(mirrored, range_of(context, right)?, value);
    }
    None
}

/// The range of a value, through conversions that keep it.
fn range_of(context: &Context<'_>, value: &Expression) -> Option<(i128, i128)> {
    match &value.kind {
        ExpressionKind::Constant(_) => None,
        ExpressionKind::Convert(inner) => range_of(context, inner),
        _ => match context.types.get(context.types.underlying(value.ty)) {
            Type::Subrange { lower, upper, .. } => Some((*lower, *upper)),
            _ => integer_range(context.types.elementary_base(value.ty)?),
        },
    }
}

fn settled(kind: ComparisonKind, (lower, upper): (i128, i128), value: i128) -> Option<bool> {
    let answers = |if_low: bool, if_high: bool| (if_low == if_high).then_some(if_low);
    match kind {
        ComparisonKind::Greater => answers(lower > value, upper > value),
        ComparisonKind::GreaterOrEqual => answers(lower >= value, upper >= value),
        ComparisonKind::Less => answers(lower < value, upper < value),
        ComparisonKind::LessOrEqual => answers(lower <= value, upper <= value),
        ComparisonKind::Equal => (value < lower || value > upper).then_some(false),
        ComparisonKind::NotEqual => (value < lower || value > upper).then_some(true),
    }
}

/// `(i <= 9) AND (a[i] > 0)`, `(d <> 0) AND (n / d > 1)`: the second side is evaluated in any case.
pub(super) fn guards(context: &Context<'_>, found: &mut Findings) {
    for value in context.survey.expressions() {
        let ExpressionKind::Standard { function, arguments, .. } = &value.kind else { continue };
        let joins = matches!(function.name, "AND" | "OR");
        let Some((last, before)) = arguments.split_last().filter(|_| joins) else { continue };
        null_guard(last, before, function.name, found);
        let Some(danger) = danger(last) else { continue };
        let mut guard = None;
        for side in before {
            walk::expression(side, &mut |inner| {
                if let ExpressionKind::Standard { function, arguments, .. } = &inner.kind
                    && matches!(function.lowering, Lowering::Comparison(_))
                    && arguments.iter().any(|operand| reads(operand, danger.1))
                {
                    guard = guard.or(Some(inner.span));
                }
            });
        }
        if let Some(guard) = guard {
            found.push(
                Diagnostic::warning(
                    "guard-and",
                    danger.0,
                    format!("{} is evaluated whatever the comparison before it says", danger.2),
                )
                .label("can stop the run")
                .also(guard, "does not protect it")
                .note(format!(
                    "both sides of {} are always evaluated; put the comparison into an IF of its own",
                    function.name
                )),
            );
        }
    }
}

/// `(r <> NULL) AND (r^ > 0)`.
fn null_guard(last: &Expression, before: &[Expression], operator: &str, found: &mut Findings) {
    let mut danger: Option<(Span, Access)> = None;
    walk::expression(last, &mut |inner| {
        let ExpressionKind::Access(access) = &inner.kind else { return };
        let at = access.steps.iter().position(|step| matches!(step, Step::Dereference));
        if let (Some(at), None) = (at, &danger) {
            let mut reference = access.clone();
            reference.steps = reference.steps[..at].into();
            danger = Some((inner.span, reference));
        }
    });
    let Some((place, reference)) = danger else { return };
    let mut guard = None;
    for side in before {
        walk::expression(side, &mut |inner| {
            if let ExpressionKind::Standard { function, arguments, .. } = &inner.kind
                && matches!(function.lowering, Lowering::Comparison(_))
                && arguments
                    .iter()
                    .any(|operand| matches!(operand.kind, ExpressionKind::Constant(Constant::Null)))
                && arguments.iter().any(|operand| reads(operand, &reference))
            {
                guard = guard.or(Some(inner.span));
            }
        });
    }
    if let Some(guard) = guard {
        found.push(
            Diagnostic::warning(
                "guard-and",
                place,
                "the reference is followed whatever the comparison before it says",
            )
            .label("stops the run if it is NULL")
            .also(guard, "does not protect it")
            .note(format!(
                "both sides of {operator} are always evaluated; put the comparison into an IF of its own"
            )),
        );
    }
}

/// A subscript or integer divisor that is a plain variable: its place, the variable, and what it is.
fn danger(value: &Expression) -> Option<(Span, &Access, &'static str)> {
    let mut first: Option<(Span, &Access, &'static str)> = None;
    walk::expression(value, &mut |inner| match &inner.kind {
        ExpressionKind::Access(access) => {
            for step in &access.steps {
                if let Step::Index(subscripts) = step {
                    for subscript in subscripts {
                        if let Some(variable) = plain(subscript) {
                            first = first.or(Some((inner.span, variable, "the subscript")));
                        }
                    }
                }
            }
        }
        ExpressionKind::Standard { function, on: Some(on), arguments } if function.name == "DIV" => {
            if integer_range(*on).is_some()
                && let Some(variable) = arguments.get(1).and_then(plain)
            {
                first = first.or(Some((inner.span, variable, "the division")));
            }
        }
        _ => {}
    });
    first
}

fn plain(value: &Expression) -> Option<&Access> {
    match &value.kind {
        ExpressionKind::Access(access) => Some(access),
        ExpressionKind::Convert(inner) => plain(inner),
        _ => None,
    }
}

fn reads(value: &Expression, variable: &Access) -> bool {
    plain(value).is_some_and(|access| walk::same_place(access, variable))
}

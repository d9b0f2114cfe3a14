//! Arithmetic that gives another number than it seems to.

use latchwork_grammar::Diagnostic;
use latchwork_stdlib::{ComparisonKind, Lowering, TypeClass};
use latchwork_vm::ElementaryType as E;

use super::{Context, walk};
use crate::{
    constant::integer_range,
    typed::{Constant, Expression, ExpressionKind},
};

/// `=` and `<>` on reals, except with zero, which is the usual guard of a division.
pub(super) fn real_equality(context: &Context<'_>, found: &mut Vec<Diagnostic>) {
    walk::statements(context.body, &mut |statement| {
        walk::own_expressions(statement, &mut |value| {
            let ExpressionKind::Standard { function, on: Some(E::Real | E::Lreal), arguments } = &value.kind
            else {
                return;
            };
            let equality = matches!(
                function.lowering,
                Lowering::Comparison(ComparisonKind::Equal | ComparisonKind::NotEqual)
            );
            if !equality || arguments.iter().any(is_zero) {
                return;
            }
            found.push(
                Diagnostic::warning("real-equal", value.span, "two real numbers are seldom exactly equal")
                    .label("compares all digits, also those lost by rounding")
                    .note("ask whether they are close enough: `ABS(a - b) < 0.01`"),
            );
        });
    });
}

fn is_zero(value: &Expression) -> bool {
    match value.kind {
        ExpressionKind::Constant(Constant::Real(value)) => value == 0.0,
        ExpressionKind::Constant(Constant::Lreal(value)) => value == 0.0,
        _ => false,
    }
}

/// A product computed in a small type and widened afterwards.
pub(super) fn late_widening(context: &Context<'_>, found: &mut Vec<Diagnostic>) {
    walk::statements(context.body, &mut |statement| {
        walk::own_expressions(statement, &mut |value| {
            let ExpressionKind::Convert(inner) = &value.kind else { return };
            let ExpressionKind::Standard { function, on: Some(on), arguments } = &inner.kind else { return };
            let to = context.types.elementary_base(value.ty);
            let (Some(to), Some((_, narrow))) = (to, integer_range(*on)) else { return };
            let wider =
                TypeClass::AnyInt.accepts(to) && integer_range(to).is_some_and(|(_, wide)| wide > narrow);
            // A sum of small numbers seldom leaves its type; a product of two variables does.
            let variables =
                arguments.iter().filter(|value| !matches!(value.kind, ExpressionKind::Constant(_))).count();
            if function.name != "MUL" || !wider || variables < 2 {
                return;
            }
            found.push(
                Diagnostic::warning(
                    "late-widening",
                    inner.span,
                    format!("this product is computed in {} and only then becomes {}", on.name(), to.name()),
                )
                .label(format!("overflows beyond {narrow}"))
                .note(format!(
                    "convert one operand first: `{}_TO_{}(…)`",
                    on.name(),
                    to.name()
                )),
            );
        });
    });
}

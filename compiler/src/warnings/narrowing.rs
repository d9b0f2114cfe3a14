//! Conversions by name that lose values the program itself says can come: `INT_TO_SINT(x MOD 1000)`.
//!
//! What can come is read from bounds that are written: literals, subranges, LIMIT, MOD, masks. A plain variable
//! says nothing: who converts it by name has decided that it fits.

use latchwork_grammar::Diagnostic;
use latchwork_stdlib::Lowering;
use latchwork_vm::ElementaryType;

use super::Context;
use crate::{
    constant::{bit_width, integer_range},
    findings::Findings,
    typed::{Constant, Expression, ExpressionKind},
    types::Type,
};

/// The values an expression can have.
#[derive(Clone, Copy)]
struct Values {
    low: f64,
    high: f64,
    /// By bounds that are written, not by the type alone.
    written: bool,
}

/// Whole numbers up to here are exact.
const EXACT_MAX: f64 = 9_007_199_254_740_992.0;

pub(super) fn lossy(context: &Context<'_>, found: &mut Findings) {
    for value in context.survey.expressions() {
        let ExpressionKind::Standard { function, on: Some(from), arguments } = &value.kind else {
            continue;
        };
        let (Lowering::Convert { .. }, [operand]) = (function.lowering, arguments.as_slice()) else {
            continue;
        };
        let Some(to) = context.types.elementary_base(value.ty) else { continue };
        let Some((low, high)) = integer_range(to) else { continue };
        // A bit string takes the bits as they are.
        if let (Some(wide), Some(narrow)) = (bits(*from), bit_width(to))
            && wide <= narrow
        {
            continue;
        }
        let Some(values) = values(context, operand, 0) else { continue };
        // Rounded to the nearest whole number.
        let (low, high) = (low as f64, high as f64);
        let fits = values.low > low - 0.5 && values.high < high + 0.5;
        if !values.written || fits || high > EXACT_MAX {
            continue;
        }
        let never = values.low > high || values.high < low;
        let range = if values.low == values.high {
            format!("the value is {}", values.low)
        } else {
            format!("the values go from {} to {}", values.low, values.high)
        };
        let how = if never { "never fits" } else { "does not always fit" };
        found.push(
            Diagnostic::warning(
                "lossy-conversion",
                value.span,
                format!("what is converted here {how} into {}", to.name()),
            )
            .label(format!("{} goes from {low} to {high}", to.name()))
            .also(operand.span, range)
            .note("convert into a wider type, or keep the value within bounds with LIMIT"),
        );
    }
}

fn bits(kind: ElementaryType) -> Option<u32> {
    integer_range(kind)?;
    kind.size().map(|bytes| bytes * 8)
}

/// How deep an expression is looked into.
const DEPTH_MAX: u32 = 64;

fn values(context: &Context<'_>, value: &Expression, depth: u32) -> Option<Values> {
    if depth > DEPTH_MAX {
        return None;
    }
    let inner = |value: &Expression| values(context, value, depth + 1);
    let of_type = by_type(context, value);
    let found = match &value.kind {
        ExpressionKind::Constant(Constant::Integer(number)) => exactly(*number as f64),
        ExpressionKind::Constant(Constant::Real(number)) => exactly(f64::from(*number)),
        ExpressionKind::Constant(Constant::Lreal(number)) => exactly(*number),
        ExpressionKind::Convert(operand) => inner(operand).or(of_type),
        ExpressionKind::Standard { function, on, arguments } => {
            let on_integer = on.is_some_and(|kind| integer_range(kind).is_some());
            let computed = match (function.name, arguments.as_slice()) {
                ("ADD", [a, b]) => both(inner(a), inner(b), |a, b| [a.low + b.low, a.high + b.high]),
                ("SUB", [a, b]) => both(inner(a), inner(b), |a, b| [a.low - b.high, a.high - b.low]),
                ("MUL", [a, b]) => both(inner(a), inner(b), |a, b| {
                    let ends = [a.low * b.low, a.low * b.high, a.high * b.low, a.high * b.high];
                    [
                        ends.iter().copied().fold(f64::INFINITY, f64::min),
                        ends.iter().copied().fold(f64::NEG_INFINITY, f64::max),
                    ]
                }),
                ("LIMIT", [low, _, high]) => match (inner(low), inner(high)) {
                    (Some(low), Some(high)) if low.high <= high.low => {
                        Some(Values { low: low.low, high: high.high, written: low.written && high.written })
                    }
                    _ => None,
                },
                ("MOD", [a, b]) if on_integer => match (inner(a), inner(b)) {
                    (Some(a), Some(b)) if b.low == b.high && b.low > 0.0 => {
                        let most = b.high - 1.0;
                        let low = if a.low >= 0.0 { 0.0 } else { -most };
                        Some(Values { low, high: most, written: b.written })
                    }
                    _ => None,
                },
                ("AND", [a, b]) if on_integer => match (inner(a), inner(b)) {
                    (Some(a), Some(b)) if a.low >= 0.0 && b.low >= 0.0 => {
                        let mask = if a.written { a } else { b };
                        Some(Values { low: 0.0, high: mask.high, written: mask.written })
                    }
                    _ => None,
                },
                _ => None,
            };
            // What leaves its own type wraps and may be anything.
            match (computed, of_type) {
                (Some(values), Some(range)) if values.low < range.low || values.high > range.high => of_type,
                (Some(values), _) => Some(values),
                (None, _) => of_type,
            }
        }
        _ => of_type,
    };
    found.filter(|values| {
        values.low.is_finite()
            && values.high.is_finite()
            && values.low.abs().max(values.high.abs()) < EXACT_MAX
    })
}

fn exactly(number: f64) -> Option<Values> {
    Some(Values { low: number, high: number, written: true })
}

fn both(a: Option<Values>, b: Option<Values>, ends: impl Fn(Values, Values) -> [f64; 2]) -> Option<Values> {
    let (a, b) = (a?, b?);
    let [low, high] = ends(a, b);
    Some(Values { low, high, written: a.written && b.written })
}

fn by_type(context: &Context<'_>, value: &Expression) -> Option<Values> {
    match context.types.get(context.types.underlying(value.ty)) {
        Type::Subrange { lower, upper, .. } => {
            Some(Values { low: *lower as f64, high: *upper as f64, written: true })
        }
        _ => {
            let (low, high) = integer_range(context.types.elementary_base(value.ty)?)?;
            Some(Values { low: low as f64, high: high as f64, written: false })
        }
    }
}

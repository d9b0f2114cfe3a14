//! Conditions whose answer is settled by their own words: a literal where a condition stands, `x AND FALSE`,
//! `x > 10 AND x < 5`, `x <> 1 OR x <> 2`; and comparisons with TRUE and FALSE, which add nothing.

use std::collections::HashSet;

use latchwork_grammar::Diagnostic;
use latchwork_stdlib::{ComparisonKind, Lowering};
use latchwork_vm::ElementaryType;

use super::Context;
use crate::{
    findings::Findings,
    typed::{Access, Constant, Expression, ExpressionKind, StatementKind, walk},
};

pub(super) fn settled(context: &Context<'_>, found: &mut Findings) {
    // The outermost row of operands tells everything about the rows inside it.
    let mut inside: HashSet<*const Expression> = HashSet::new();
    let mut operands = Vec::new();
    for (number, surveyed) in context.survey.statements().iter().enumerate() {
        if let StatementKind::If { branches, .. } = &surveyed.statement.kind {
            for (condition, _) in branches {
                literal_condition(context, condition, found);
            }
        }
        inside.clear();
        for value in context.survey.own_expressions(number) {
            let ExpressionKind::Standard { function, arguments, on, .. } = &value.kind else { continue };
            if *on == Some(ElementaryType::Bool) {
                boolean_comparison(context, value, found);
            }
            let joins = matches!(function.name, "AND" | "OR")
                && context.types.elementary_base(value.ty) == Some(ElementaryType::Bool);
            if !joins {
                continue;
            }
            literal_operand(context, value, function.name, arguments, found);
            if inside.contains(&std::ptr::from_ref(*value)) {
                continue;
            }
            operands.clear();
            flatten(value, function.name, &mut operands, &mut inside);
            pairs(value, function.name == "AND", &operands, found);
        }
    }
}

/// The value of a condition that is written as TRUE or FALSE. A constant of another name may be a switch that is
/// changed in its declaration.
fn written(context: &Context<'_>, value: &Expression) -> Option<bool> {
    let ExpressionKind::Constant(Constant::Bool(constant)) = value.kind else { return None };
    let text = context.text(value.span);
    let literal =
        ["TRUE", "FALSE", "BOOL#TRUE", "BOOL#FALSE"].iter().any(|word| text.eq_ignore_ascii_case(word));
    literal.then_some(constant)
}

fn word(value: bool) -> &'static str {
    if value { "TRUE" } else { "FALSE" }
}

fn always(value: &Expression, answer: bool, label: impl Into<String>) -> Diagnostic {
    Diagnostic::warning("always", value.span, format!("this condition is always {}", word(answer)))
        .label(label)
}

fn literal_condition(context: &Context<'_>, condition: &Expression, found: &mut Findings) {
    if let Some(answer) = written(context, condition) {
        let label = if answer { "the statements below always run" } else { "the statements below never run" };
        found.push(
            always(condition, answer, label).note(
                "take the IF away, or name the switch: `VAR CONSTANT Simulated : BOOL := TRUE; END_VAR`",
            ),
        );
    }
}

/// `x AND FALSE`, `x OR TRUE`.
fn literal_operand(
    context: &Context<'_>,
    value: &Expression,
    operator: &str,
    operands: &[Expression],
    found: &mut Findings,
) {
    let decides = operator == "OR";
    let literals = operands.iter().filter(|operand| written(context, operand) == Some(decides)).count();
    if literals > 0 && literals < operands.len() {
        found.push(always(value, decides, format!("{} decides, whatever the rest is", word(decides))));
    }
}

/// `b = TRUE`, `b <> FALSE`.
fn boolean_comparison(context: &Context<'_>, value: &Expression, found: &mut Findings) {
    let ExpressionKind::Standard { function, on: Some(ElementaryType::Bool), arguments } = &value.kind else {
        return;
    };
    let Lowering::Comparison(kind) = function.lowering else { return };
    let [left, right] = arguments.as_slice() else { return };
    let (operand, literal) = match (written(context, left), written(context, right)) {
        (None, Some(literal)) => (left, literal),
        (Some(literal), None) => (right, literal),
        _ => return,
    };
    let straight = match kind {
        ComparisonKind::Equal => literal,
        ComparisonKind::NotEqual => !literal,
        _ => return,
    };
    let shorter = match (&operand.kind, straight) {
        (ExpressionKind::Access(access), true) => format!("`{}`", context.text(access.span)),
        (ExpressionKind::Access(access), false) => format!("`NOT {}`", context.text(access.span)),
        (_, true) => "the condition alone".to_owned(),
        (_, false) => "`NOT (…)`".to_owned(),
    };
    found.push(
        Diagnostic::warning(
            "boolean-comparison",
            value.span,
            format!("a BOOL needs no comparison with {}", word(literal)),
        )
        .label(format!("the same as {shorter}"))
        .note("it is TRUE or FALSE already; a clear name makes it read like a sentence"),
    );
}

/// Most operands of a row that are compared with one another.
const OPERANDS_MAX: usize = 32;

fn flatten<'e>(
    value: &'e Expression,
    operator: &str,
    operands: &mut Vec<&'e Expression>,
    inside: &mut HashSet<*const Expression>,
) {
    // A long row is a deep tree of pairs.
    let mut pending = vec![value];
    while let Some(current) = pending.pop() {
        match &current.kind {
            ExpressionKind::Standard { function, arguments, .. } if function.name == operator => {
                inside.insert(std::ptr::from_ref(current));
                pending.extend(arguments);
            }
            _ if operands.len() < OPERANDS_MAX => operands.push(current),
            _ => return,
        }
    }
}

/// What a comparison of a variable with a constant leaves to the variable.
#[derive(Clone, Copy)]
enum Set {
    /// From and to, and whether the ends belong to it.
    Range {
        low: f64,
        low_in: bool,
        high: f64,
        high_in: bool,
    },
    AllBut(f64),
}

struct Bound<'e> {
    variable: &'e Access,
    set: Set,
    whole: bool,
    value: &'e Expression,
}

/// Two comparisons of one variable: together they leave nothing, or everything.
fn pairs(row: &Expression, all: bool, operands: &[&Expression], found: &mut Findings) {
    let mut bounds: Vec<Bound<'_>> = operands.iter().filter_map(|operand| bound(operand, !all)).collect();
    // In the order of the text.
    bounds.sort_by_key(|bound| bound.value.span);
    for (index, second) in bounds.iter().enumerate() {
        for first in bounds.iter().take(index) {
            if !walk::same_place(first.variable, second.variable)
                || !apart(first.set, second.set, first.whole)
            {
                continue;
            }
            // A real that is not a number answers every comparison with FALSE, but `<>` with TRUE.
            if !all && !first.whole {
                continue;
            }
            let how = if all { "no value passes both" } else { "every value passes one of the two" };
            found.push(
                always(row, !all, "whatever the value is")
                    .also(first.value.span, "")
                    .also(second.value.span, how)
                    .note(if all {
                        "a value between two limits is written `low <= x AND x <= high`"
                    } else {
                        "a value outside of two limits is written `x < low OR x > high`, one that is neither of two `x <> a AND x <> b`"
                    }),
            );
            return;
        }
    }
}

/// What a comparison leaves; of `negated` ones the rest.
fn bound(value: &Expression, negated: bool) -> Option<Bound<'_>> {
    let ExpressionKind::Standard { function, arguments, .. } = &value.kind else { return None };
    let Lowering::Comparison(kind) = function.lowering else { return None };
    let [left, right] = arguments.as_slice() else { return None };
    let (variable, number, mirrored) = match (access(left), access(right)) {
        (Some(variable), None) => (variable, number(right)?, false),
        (None, Some(variable)) => (variable, number(left)?, true),
        _ => return None,
    };
    let kind = match (kind, mirrored) {
        (ComparisonKind::Less, true) => ComparisonKind::Greater,
        (ComparisonKind::LessOrEqual, true) => ComparisonKind::GreaterOrEqual,
        (ComparisonKind::Greater, true) => ComparisonKind::Less,
        (ComparisonKind::GreaterOrEqual, true) => ComparisonKind::LessOrEqual,
        (kind, _) => kind,
    };
    let kind = match (kind, negated) {
        (kind, false) => kind,
        (ComparisonKind::Less, true) => ComparisonKind::GreaterOrEqual,
        (ComparisonKind::LessOrEqual, true) => ComparisonKind::Greater,
        (ComparisonKind::Greater, true) => ComparisonKind::LessOrEqual,
        (ComparisonKind::GreaterOrEqual, true) => ComparisonKind::Less,
        (ComparisonKind::Equal, true) => ComparisonKind::NotEqual,
        (ComparisonKind::NotEqual, true) => ComparisonKind::Equal,
    };
    let (at, whole) = number;
    let above = |low_in| Set::Range { low: at, low_in, high: f64::INFINITY, high_in: true };
    let below = |high_in| Set::Range { low: f64::NEG_INFINITY, low_in: true, high: at, high_in };
    let set = match kind {
        ComparisonKind::Greater => above(false),
        ComparisonKind::GreaterOrEqual => above(true),
        ComparisonKind::Less => below(false),
        ComparisonKind::LessOrEqual => below(true),
        ComparisonKind::Equal => Set::Range { low: at, low_in: true, high: at, high_in: true },
        ComparisonKind::NotEqual => Set::AllBut(at),
    };
    Some(Bound { variable, set, whole, value })
}

fn access(value: &Expression) -> Option<&Access> {
    match &value.kind {
        ExpressionKind::Access(access) => Some(access),
        ExpressionKind::Convert(inner) => access(inner),
        _ => None,
    }
}

/// A constant, and whether it is a whole number; none that a floating-point number would not hold exactly.
fn number(value: &Expression) -> Option<(f64, bool)> {
    const EXACT_MAX: i128 = 1 << 53;
    let whole = |value: i128| (value.abs() < EXACT_MAX).then_some((value as f64, true));
    match value.kind {
        ExpressionKind::Constant(Constant::Integer(value)) => whole(value),
        ExpressionKind::Constant(Constant::Time(value)) => whole(i128::from(value)),
        ExpressionKind::Constant(Constant::Real(value)) => Some((f64::from(value), false)),
        ExpressionKind::Constant(Constant::Lreal(value)) => Some((value, false)),
        _ => None,
    }
}

/// Whether two sets have nothing in common.
fn apart(first: Set, second: Set, whole: bool) -> bool {
    match (first, second) {
        (Set::AllBut(_), Set::AllBut(_)) => false,
        (Set::AllBut(hole), Set::Range { low, high, .. })
        | (Set::Range { low, high, .. }, Set::AllBut(hole)) => low == hole && high == hole,
        (
            Set::Range { low, low_in, high, high_in },
            Set::Range { low: other_low, low_in: other_low_in, high: other_high, high_in: other_high_in },
        ) => {
            let (low, low_in) = if low > other_low {
                (low, low_in)
            } else if low < other_low {
                (other_low, other_low_in)
            } else {
                (low, low_in && other_low_in)
            };
            let (high, high_in) = if high < other_high {
                (high, high_in)
            } else if high > other_high {
                (other_high, other_high_in)
            } else {
                (high, high_in && other_high_in)
            };
            // Between two neighbouring whole numbers there is none.
            let gap = whole && high - low == 1.0 && !low_in && !high_in;
            low > high || (low == high && !(low_in && high_in)) || gap
        }
    }
}

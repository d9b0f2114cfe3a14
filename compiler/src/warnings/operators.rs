//! AND and OR, or two kinds of comparisons, side by side without parentheses.
//!
//! AND binds more strongly (table 71), but in ladder thinking a row of conditions reads from left to right, and
//! where `a OR b AND c` read that way gives another value, parentheses are worth their two characters.

use latchwork_grammar::{
    Diagnostic,
    tree::{
        self, BinaryOperator, Body, Expression, ExpressionKind, Statement, StatementKind, TransitionCondition,
    },
};

use crate::findings::Findings;

use super::{Context, structured_texts};

/// `a = b < c`: the second kind of comparison is evaluated first.
fn mixed_comparison(expression: &Expression, found: &mut Findings) {
    let ExpressionKind::Binary {
        operator: BinaryOperator::Equal | BinaryOperator::NotEqual,
        left,
        right,
        operator_span,
    } = &expression.kind
    else {
        return;
    };
    for side in [left, right] {
        if let ExpressionKind::Binary {
            operator:
                BinaryOperator::Less
                | BinaryOperator::LessOrEqual
                | BinaryOperator::Greater
                | BinaryOperator::GreaterOrEqual,
            operator_span: inner,
            ..
        } = &side.kind
        {
            found.push(
                Diagnostic::warning(
                    "comparison-mix",
                    *operator_span,
                    "this compares the answer of another comparison",
                )
                .label("evaluated last")
                .also(*inner, "evaluated first")
                .note("parentheses show which is meant: `a = (b < c)`"),
            );
        }
    }
}

pub(super) fn mixed_operators(context: &Context<'_>, found: &mut Findings) {
    for statements in structured_texts(context) {
        in_statements(statements, found);
    }
    if let Body::SequentialFunctionChart(chart) = &context.tree.body {
        for transition in &chart.transitions {
            if let TransitionCondition::Expression(condition) = &transition.condition {
                in_expression(condition, found);
            }
        }
    }
}

fn in_statements(statements: &[Statement], found: &mut Findings) {
    for statement in statements {
        match &statement.kind {
            StatementKind::Assignment { target, value, .. } => {
                in_expression(target, found);
                in_expression(value, found);
            }
            StatementKind::Call(call) => in_call(call, found),
            // Never right in a program; a value that stands alone otherwise.
            StatementKind::Expression(value) => in_expression(value, found),
            StatementKind::If { branches, otherwise } => {
                for (condition, body) in branches {
                    in_expression(condition, found);
                    in_statements(body, found);
                }
                in_statements(otherwise.as_deref().unwrap_or_default(), found);
            }
            StatementKind::Case { selector, groups, otherwise } => {
                in_expression(selector, found);
                groups.iter().for_each(|group| in_statements(&group.statements, found));
                in_statements(otherwise.as_deref().unwrap_or_default(), found);
            }
            StatementKind::For { body, .. } => in_statements(body, found),
            StatementKind::While { condition, body } => {
                in_expression(condition, found);
                in_statements(body, found);
            }
            StatementKind::Repeat { body, until } => {
                in_statements(body, found);
                in_expression(until, found);
            }
            _ => {}
        }
    }
}

fn in_call(call: &tree::Call, found: &mut Findings) {
    for argument in &call.arguments {
        match &argument.kind {
            tree::ArgumentKind::Positional(value) | tree::ArgumentKind::Input { value, .. } => {
                in_expression(value, found);
            }
            _ => {}
        }
    }
}

fn in_expression(expression: &Expression, found: &mut Findings) {
    let mut pending = Vec::new();
    let mut next = Some(expression);
    while let Some(current) = next.take().or_else(|| pending.pop()) {
        mixed_comparison(current, found);
        match &current.kind {
            ExpressionKind::Binary { operator, left, right, operator_span } => {
                // `a OR b AND c`: from left to right it would be `(a OR b) AND c`. `a AND b OR c` is the same
                // in both readings.
                let joined = matches!(operator, BinaryOperator::Or | BinaryOperator::Xor);
                if joined
                    && let ExpressionKind::Binary {
                        operator: BinaryOperator::And, operator_span: inner, ..
                    } = &right.kind
                {
                    let (word, span) = if *operator == BinaryOperator::Or {
                        ("OR", operator_span)
                    } else {
                        ("XOR", operator_span)
                    };
                    found.push(
                        Diagnostic::warning(
                            "and-or-mix",
                            *inner,
                            format!("AND is evaluated before the {word} in front of it"),
                        )
                        .label("joins its two neighbours first")
                        .also(*span, format!("then {word}"))
                        .note(format!(
                            "parentheses show which is meant: `a {word} (b AND c)` or `(a {word} b) AND c`"
                        )),
                    );
                }
                next = Some(left);
                // Most are names and literals.
                if !matches!(right.kind, ExpressionKind::Name(_) | ExpressionKind::Literal(_)) {
                    pending.push(right);
                }
            }
            ExpressionKind::Unary { operand, .. } => next = Some(operand),
            ExpressionKind::Parenthesized(inner) => next = Some(inner),
            ExpressionKind::Call(call) => in_call(call, found),
            ExpressionKind::Index { base, subscripts } => {
                next = Some(base);
                pending.extend(subscripts);
            }
            ExpressionKind::Member { base, .. } | ExpressionKind::Partial { base, .. } => next = Some(base),
            _ => {}
        }
    }
}

//! Loops that cannot end, control variables read after their loop, and sequences that leave their CASE.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{Diagnostic, Span, tree::SectionKind};

use super::{Context, survey::Survey};
use crate::{
    findings::Findings,
    typed::{Access, Constant, Expression, ExpressionKind, Root, Statement, StatementKind, VariableId, walk},
    types::Type,
};

/// WHILE and REPEAT whose condition nothing in the loop can change.
pub(super) fn endless(context: &Context<'_>, found: &mut Findings) {
    if !context.survey.kinds.other_loops {
        return;
    }
    walk::statements(context.body, &mut |statement| {
        let (condition, body, runs_on) = match &statement.kind {
            StatementKind::While { condition, body } => (condition, body, true),
            StatementKind::Repeat { body, until } => (until, body, false),
            _ => return,
        };
        let mut leaves = false;
        walk::statements(body, &mut |inner| {
            leaves |= matches!(
                inner.kind,
                StatementKind::Exit
                    | StatementKind::Return
                    | StatementKind::Jump { .. }
                    | StatementKind::Label(_)
            );
        });
        if leaves {
            return;
        }
        let known = match condition.kind {
            ExpressionKind::Constant(Constant::Bool(value)) => Some(value),
            _ => None,
        };
        let stuck = match known {
            Some(value) => value == runs_on,
            None => is_stuck(context, condition, body),
        };
        if stuck {
            let again = if runs_on { "TRUE" } else { "FALSE" };
            found.push(
                Diagnostic::warning("endless-loop", condition.span, "nothing in this loop changes its condition")
                    .label(format!("once {again}, always {again}"))
                    .note("inputs and timers change between scans only; a loop that waits for them stops the controller"),
            );
        }
    });
}

fn is_stuck(context: &Context<'_>, condition: &Expression, body: &[Statement]) -> bool {
    let mut reads: Vec<&Access> = Vec::new();
    let mut opaque = false;
    walk::expression(condition, &mut |value| match &value.kind {
        ExpressionKind::Access(access) => reads.push(access),
        ExpressionKind::Function(_) | ExpressionKind::Controlled(_) | ExpressionKind::Reference(_) => {
            opaque = true;
        }
        _ => {}
    });
    opaque |= reads.is_empty();
    // In-outs and externals have other names, by which a called unit may change them.
    opaque |= reads.iter().any(|access| match access.root {
        Root::Variable(id) => context
            .variables
            .get(id.0 as usize)
            .is_none_or(|variable| matches!(variable.section, SectionKind::InOut | SectionKind::External)),
        _ => true,
    });
    walk::statements(body, &mut |statement| {
        opaque |= walk::calls_user_function(statement);
        walk::own_writes(statement, &mut |write| {
            opaque |= reads.iter().any(|read| walk::may_overlap(read, write));
        });
    });
    !opaque
}

/// The end and the step of a FOR loop are taken once: changing their variables in the loop has no effect on it.
pub(super) fn bound_changed(context: &Context<'_>, found: &mut Findings) {
    if !context.survey.kinds.counted_loops {
        return;
    }
    walk::statements(context.body, &mut |statement| {
        let StatementKind::For { to, by, body, .. } = &statement.kind else { return };
        let mut bounds: Vec<&Access> = Vec::new();
        for value in [to, by] {
            walk::expression(value, &mut |inner| {
                if let ExpressionKind::Access(access) = &inner.kind {
                    bounds.push(access);
                }
            });
        }
        if bounds.is_empty() || bounds.len() > BOUNDS_MAX {
            return;
        }
        let mut reported: Vec<Span> = Vec::new();
        walk::statements(body, &mut |inner| {
            walk::own_writes(inner, &mut |write| {
                let bound = bounds.iter().find(|bound| walk::same_place(bound, write));
                let Some(bound) = bound.filter(|bound| !reported.contains(&bound.span)) else { return };
                reported.push(bound.span);
                let name = context.text(write.span);
                found.push(
                    Diagnostic::warning(
                        "for-bound-changed",
                        write.span,
                        format!("changing `{name}` does not change how often the FOR loop runs"),
                    )
                    .label("changed inside the loop")
                    .also(bound.span, "taken once, before the first pass")
                    .note(
                        "leave the loop with EXIT, or use WHILE, which tests its condition before each pass",
                    ),
                );
            });
        });
    });
}

/// Most variables in the bounds of one loop that are looked for in its body.
const BOUNDS_MAX: usize = 32;

/// The value of a control variable behind its loop is a choice of the implementer.
pub(super) fn control_read_after(context: &Context<'_>, found: &mut Findings) {
    if context.survey.kinds.counted_loops {
        list(context.survey, (0, context.body.len()), found);
    }
}

/// `statements` are the number of the first one and how many there are.
fn list(survey: &Survey<'_>, statements: (usize, usize), found: &mut Findings) {
    let mut loops: BTreeMap<VariableId, Span> = BTreeMap::new();
    for (number, surveyed) in survey.list_from(statements.0, statements.1) {
        let statement = surveyed.statement;
        let inner = if loops.is_empty() { 0 } else { survey.with_inner(number).len() };
        for inner in number..number + inner {
            for read in survey.own_reads(inner) {
                if let Root::Variable(id) = read.root
                    && let Some(place) = loops.remove(&id)
                {
                    found.push(
                        Diagnostic::warning(
                            "for-read-after",
                            read.span,
                            "the control variable is read after its FOR loop",
                        )
                        .label("one step beyond the final value after a full run")
                        .also(place, "counted by this loop")
                        .note("the standard leaves this value open; keep what you need in a variable of its own"),
                    );
                }
            }
            for write in survey.own_writes(inner) {
                if let Root::Variable(id) = write.root {
                    loops.remove(&id);
                }
            }
        }
        match &statement.kind {
            StatementKind::For { variable, .. } => {
                // With EXIT the value tells where the search ended, which is an idiom.
                let mut inner = survey.with_inner(number).iter();
                let exits = inner.any(|inner| matches!(inner.statement.kind, StatementKind::Exit));
                if let (Root::Variable(id), false) = (&variable.root, exits) {
                    loops.insert(*id, variable.span);
                }
            }
            StatementKind::Label(_) | StatementKind::Jump { .. } => loops.clear(),
            _ => {}
        }
        for (first, inner) in survey.inner_lists(number) {
            list(survey, (first, inner.len()), found);
        }
    }
}

/// A sequence that goes to a step for which its CASE has neither a group nor an ELSE.
pub(super) fn missing_case_values(context: &Context<'_>, found: &mut Findings) {
    if !context.survey.kinds.cases {
        return;
    }
    let mut assigned: Vec<(&Access, i128, Span)> = Vec::new();
    for surveyed in context.survey.statements() {
        if let StatementKind::Assign { target, value } = &surveyed.statement.kind
            && let ExpressionKind::Constant(Constant::Integer(number)) = value.kind
        {
            assigned.push((target, number, value.span));
        }
    }
    let mut comparisons = 0;
    walk::statements(context.body, &mut |statement| {
        let StatementKind::Case { selector, groups, otherwise } = &statement.kind else { return };
        let ExpressionKind::Access(selected) = &selector.kind else { return };
        let numbers =
            !matches!(context.types.get(context.types.underlying(selector.ty)), Type::Enumeration(_));
        comparisons += assigned.len();
        if !otherwise.is_empty()
            || !numbers
            || context.checker.cases_with_else.contains(&statement.span)
            || comparisons > COMPARISONS_MAX
        {
            return;
        }
        // No value stands in two labels, so that the ranges do not overlap.
        let mut ranges: Vec<(i128, i128)> = groups.iter().flat_map(|(ranges, _)| ranges).copied().collect();
        ranges.sort_unstable();
        let covered = |value: i128| {
            let after = ranges.partition_point(|(lower, _)| *lower <= value);
            after.checked_sub(1).and_then(|at| ranges.get(at)).is_some_and(|(_, upper)| value <= *upper)
        };
        let mut reported: BTreeSet<i128> = BTreeSet::new();
        for (target, number, span) in &assigned {
            if walk::same_place(target, selected) && !covered(*number) && reported.insert(*number) {
                let name = context.text(selected.span);
                found.push(
                    Diagnostic::warning(
                        "case-no-else",
                        *span,
                        format!("`{name}` becomes {number}, for which its CASE has no group"),
                    )
                    .label("from then on, nothing happens")
                    .also(selected.span, "no such group and no ELSE")
                    .note("add the group, or an ELSE that goes back to the beginning"),
                );
            }
        }
    });
}

/// Most comparisons of assignments with CASE statements in one unit; beyond them the search ends.
const COMPARISONS_MAX: usize = 2_000_000;

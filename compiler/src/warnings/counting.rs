//! Counting scans where events are meant: `IF Eye THEN Trays := Trays + 1; END_IF` counts on in every scan in which
//! the signal is TRUE.
//!
//! Reported only where nothing but inputs of the controller decides: any other operand, such as the state of the
//! scan before, may be the edge that is asked for.

use latchwork_grammar::{
    Diagnostic,
    tree::{Area, SectionKind, UnitKind},
};

use super::Context;
use crate::{
    findings::Findings,
    typed::{Access, Constant, Expression, ExpressionKind, Root, Statement, StatementKind, Variable, walk},
};

pub(super) fn without_edge(context: &Context<'_>, found: &mut Findings) {
    if matches!(context.tree.kind, UnitKind::Program | UnitKind::FunctionBlock) {
        list(context, context.body, None, found);
    }
}

/// `level` is the signal that decides whether a list runs, if signals alone do.
fn list(context: &Context<'_>, statements: &[Statement], level: Option<&Access>, found: &mut Findings) {
    for statement in statements {
        match &statement.kind {
            StatementKind::Assign { target, value } => {
                let Some(level) = level.filter(|_| counts(context, target, value)) else { continue };
                let (name, signal) = (context.text(target.span), context.text(level.span));
                found.push(
                    Diagnostic::warning(
                        "edge-missing",
                        statement.span,
                        format!("`{name}` counts scans, not the changes of `{signal}`"),
                    )
                    .label("counts again in every scan while the condition holds")
                    .also(level.span, "a level, the same for many scans")
                    .note("count its rising edge: with R_TRIG, or with the counter CTU, which finds the edge itself"),
                );
            }
            StatementKind::If { branches, .. } => {
                // An ELSIF is decided by the conditions before it too; other lists inside are not looked into.
                for (condition, body) in branches {
                    let Some(signal) = only_signals(context, condition) else { break };
                    list(context, body, level.or(Some(signal)), found);
                }
            }
            // Which pass, or which step of a sequence, decides too.
            _ => {}
        }
    }
}

/// `n := n + 1` and `n := n - 1` on an integer that lives from scan to scan.
fn counts(context: &Context<'_>, target: &Access, value: &Expression) -> bool {
    let lives = match &target.root {
        Root::Variable(id) => context.variables.get(id.0 as usize).is_some_and(|variable| {
            !variable.hidden
                && variable.section != SectionKind::Temp
                && variable.section != SectionKind::Input
        }),
        Root::Global(_) => true,
        Root::This | Root::Direct(_) => false,
    };
    let mut value = value;
    while let ExpressionKind::Convert(inner) | ExpressionKind::CheckRange(inner) = &value.kind {
        value = inner;
    }
    let ExpressionKind::Standard { function, arguments, .. } = &value.kind else { return false };
    let itself = |operand: &Expression| match &operand.kind {
        ExpressionKind::Access(access) => walk::same_place(access, target),
        _ => false,
    };
    let one = |operand: &Expression| matches!(operand.kind, ExpressionKind::Constant(Constant::Integer(1)));
    lives
        && match (function.name, arguments.as_slice()) {
            ("ADD", [left, right]) => (itself(left) && one(right)) || (one(left) && itself(right)),
            ("SUB", [left, right]) => itself(left) && one(right),
            _ => false,
        }
}

/// The first signal of a condition that consists of signals and AND, OR and NOT alone.
fn only_signals<'e>(context: &Context<'_>, condition: &'e Expression) -> Option<&'e Access> {
    match &condition.kind {
        ExpressionKind::Access(access) => is_signal(context, access).then_some(access),
        ExpressionKind::Standard { function, arguments, .. }
            if matches!(function.name, "AND" | "OR" | "NOT") =>
        {
            let mut first = None;
            for argument in arguments {
                let signal = only_signals(context, argument)?;
                first = first.or(Some(signal));
            }
            first
        }
        _ => None,
    }
}

/// A Boolean input of the controller: by its address, or as an input of a program.
fn is_signal(context: &Context<'_>, access: &Access) -> bool {
    let plain = access.steps.is_empty();
    let is_input = |variable: &Variable| {
        context.area(variable) == Some(Area::Input)
            || (context.tree.kind == UnitKind::Program
                && variable.section == SectionKind::Input
                && variable.edge.is_none())
    };
    plain
        && match &access.root {
            Root::This => false,
            Root::Direct(address) => address.area == Area::Input,
            Root::Global(id) => context.globals.get(id.0 as usize).is_some_and(is_input),
            Root::Variable(id) => context.variables.get(id.0 as usize).is_some_and(is_input),
        }
}

//! Functions that end without a result on some way through their body (IEC 61131-3:2013, 6.6.2.2).
//!
//! Follows all ways: branches join, loops may run no pass, RETURN ends a way, jumps of Instruction List take
//! what is known to their label. What cannot be decided counts as assigned.

use std::collections::BTreeMap;

use latchwork_grammar::{Diagnostic, Span};

use super::Context;
use crate::{
    findings::Findings,
    typed::{Constant, ExpressionKind, Root, Statement, StatementKind, VariableId, walk},
    types::Type,
};

/// What is known at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// No way leads here.
    Unreached,
    /// Every way here has assigned the result.
    Assigned,
    /// Some way here has not.
    Missing,
}

impl State {
    fn join(self, other: State) -> State {
        match (self, other) {
            (State::Unreached, state) | (state, State::Unreached) => state,
            (State::Assigned, State::Assigned) => State::Assigned,
            _ => State::Missing,
        }
    }
}

/// Most passes over a body with jumps until nothing changes any more; beyond, nothing is reported.
const PASSES_MAX: usize = 50;

pub(super) fn missing(context: &Context<'_>, result: Option<VariableId>, found: &mut Findings) {
    let Some(result) = result else { return };
    let mut flow = Flow {
        context,
        result,
        labels: BTreeMap::new(),
        loops: Vec::new(),
        changed: false,
        returned: None,
        assigned_anywhere: false,
    };
    for pass in 0.. {
        if pass == PASSES_MAX {
            return;
        }
        flow.changed = false;
        flow.returned = None;
        let end = flow.list(context.body, State::Missing);
        if flow.changed {
            continue;
        }
        // Assigned nowhere is an error of its own.
        if !flow.assigned_anywhere {
            return;
        }
        let name = context.checker.spelling(context.tree.name.name);
        let place = context.tree.name.span;
        let diagnostic = Diagnostic::warning(
            "result-not-always-assigned",
            place,
            format!("`{name}` ends without a result on some way through its body"),
        );
        let diagnostic = match (flow.returned, end) {
            (Some(span), _) => diagnostic.also(span, "leaves before the result is assigned"),
            (None, State::Missing) => diagnostic,
            (None, _) => return,
        };
        found.push(
            diagnostic
                .label("then the caller gets the initial value of the type")
                .note(format!("assign `{name}` on every way, for example once at the beginning")),
        );
        return;
    }
}

/// What is known where a pass of a loop is left early.
#[derive(Clone, Copy)]
struct Left {
    exit: State,
    next: State,
}

struct Flow<'c> {
    context: &'c Context<'c>,
    result: VariableId,
    labels: BTreeMap<u32, State>,
    /// What is known at the EXIT and the CONTINUE statements of the loops around.
    loops: Vec<Left>,
    changed: bool,
    /// The first RETURN without a result.
    returned: Option<Span>,
    assigned_anywhere: bool,
}

impl Flow<'_> {
    fn list(&mut self, statements: &[Statement], mut state: State) -> State {
        for statement in statements {
            state = self.statement(statement, state);
        }
        state
    }

    fn statement(&mut self, statement: &Statement, state: State) -> State {
        let mut assigns = false;
        walk::own_writes(statement, &mut |write| assigns |= write.root == Root::Variable(self.result));
        self.assigned_anywhere |= assigns;
        let state = match state {
            State::Missing if assigns => State::Assigned,
            state => state,
        };
        match &statement.kind {
            StatementKind::If { branches, otherwise } => {
                let mut after = State::Unreached;
                for (_, body) in branches {
                    let end = self.list(body, state);
                    after = after.join(end);
                }
                let end = self.list(otherwise, state);
                after.join(end)
            }
            StatementKind::Case { selector, groups, otherwise } => {
                let mut after = State::Unreached;
                for (_, body) in groups {
                    let end = self.list(body, state);
                    after = after.join(end);
                }
                if !otherwise.is_empty() || !self.covers_all(selector, groups) {
                    let end = self.list(otherwise, state);
                    after = after.join(end);
                }
                after
            }
            StatementKind::For { from, to, by, body, .. } => {
                let number = |value: &crate::typed::Expression| match value.kind {
                    ExpressionKind::Constant(Constant::Integer(value)) => Some(value),
                    _ => None,
                };
                let runs = match (number(from), number(to), number(by)) {
                    (Some(from), Some(to), Some(by)) => (by > 0 && from <= to) || (by < 0 && from >= to),
                    _ => false,
                };
                let (end, left) = self.passes(body, state);
                let after = end.join(left.exit).join(left.next);
                if runs { after } else { state.join(after) }
            }
            StatementKind::While { condition, body } => {
                let (end, left) = self.passes(body, state);
                match condition.kind {
                    // Only EXIT leads out.
                    ExpressionKind::Constant(Constant::Bool(true)) => left.exit,
                    _ => state.join(end).join(left.exit).join(left.next),
                }
            }
            StatementKind::Repeat { body, .. } => {
                let (end, left) = self.passes(body, state);
                end.join(left.exit).join(left.next)
            }
            StatementKind::Exit => {
                if let Some(left) = self.loops.last_mut() {
                    left.exit = left.exit.join(state);
                }
                State::Unreached
            }
            StatementKind::Continue => {
                if let Some(left) = self.loops.last_mut() {
                    left.next = left.next.join(state);
                }
                State::Unreached
            }
            StatementKind::Return => {
                if state == State::Missing {
                    self.returned = self.returned.or(Some(statement.span));
                }
                State::Unreached
            }
            StatementKind::Label(label) => self.arrive(*label, state),
            StatementKind::Jump { label, condition } => {
                self.arrive(*label, state);
                if condition.is_some() { state } else { State::Unreached }
            }
            _ => state,
        }
    }

    /// A body that is repeated: what is known at its end, and where it was left.
    fn passes(&mut self, body: &[Statement], state: State) -> (State, Left) {
        let unreached = Left { exit: State::Unreached, next: State::Unreached };
        self.loops.push(unreached);
        let end = self.list(body, state);
        (end, self.loops.pop().unwrap_or(unreached))
    }

    /// Joins what is known on one way to a label with what is known on the others.
    fn arrive(&mut self, label: u32, state: State) -> State {
        let known = self.labels.get(&label).copied().unwrap_or(State::Unreached);
        let joined = known.join(state);
        if joined != known {
            self.labels.insert(label, joined);
            self.changed = true;
        }
        joined
    }

    /// Whether the groups of a CASE name every value of an enumeration.
    fn covers_all(&self, selector: &crate::typed::Expression, groups: &[crate::typed::CaseGroup]) -> bool {
        let types = self.context.types;
        let (Type::Enumeration(id) | Type::NamedValues { id, .. }) = types.get(types.underlying(selector.ty))
        else {
            return false;
        };
        // No value stands in two labels, so that the ranges do not overlap.
        let mut ranges: Vec<(i128, i128)> = groups.iter().flat_map(|(ranges, _)| ranges).copied().collect();
        ranges.sort_unstable();
        types.enumeration(*id).values.iter().all(|(_, value)| {
            let after = ranges.partition_point(|(low, _)| low <= value);
            after.checked_sub(1).and_then(|at| ranges.get(at)).is_some_and(|(_, high)| value <= high)
        })
    }
}

//! Latches that are set and never reset: S without R in Instruction List, an output that an IF only ever makes
//! TRUE, a bistable block whose reset input is never given.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{Area, Body, SectionKind, UnitKind},
};
use latchwork_vm::ElementaryType;

use super::Context;
use crate::{
    typed::{
        Access, Constant, Expression, ExpressionKind, Root, Statement, StatementKind, Step, Variable,
        VariableId, walk,
    },
    types::Type,
};

pub(super) fn never_reset(context: &Context<'_>, found: &mut Vec<Diagnostic>) {
    if context.is_open() || !matches!(context.tree.kind, UnitKind::Program | UnitKind::FunctionBlock) {
        return;
    }
    let mut writes = Writes::default();
    writes.list(context.body, &mut Conditions::default());
    for (id, set) in &writes.set {
        let Some(variable) = context.variables.get(id.0 as usize) else { continue };
        if writes.otherwise.contains(id) || !may_latch(context, variable) {
            continue;
        }
        let name = context.text(set.target);
        found.push(
            Diagnostic::warning(
                "set-no-reset",
                set.target,
                format!("`{name}` is set here and reset nowhere"),
            )
            .label("once TRUE, TRUE until the controller restarts")
            .note("reset it under a condition of its own, or assign the condition itself if nothing is to be kept"),
        );
    }
    bistables(context, found);
}

/// Whether a variable that is only set is a latch that someone waits for: any flag of Instruction List, which
/// has S and R for it; in Structured Text an output, since a flag may tell that something was done once.
fn may_latch(context: &Context<'_>, variable: &Variable) -> bool {
    let outside = variable.section == SectionKind::Output || context.area(variable) == Some(Area::Output);
    let flag = matches!(context.tree.body, Body::InstructionList(_)) && variable.section == SectionKind::Var;
    (outside || flag)
        && !variable.hidden
        && variable.name.is_none_or(|name| !context.outside.contains(&name))
        && variable.initial.is_none()
        && context.types.elementary_base(variable.kind) == Some(ElementaryType::Bool)
}

struct Set {
    target: Span,
}

/// The variables that the conditions around a statement look at, each with the number of times.
#[derive(Default)]
struct Conditions {
    number: usize,
    looked_at: BTreeMap<VariableId, u32>,
}

impl Conditions {
    fn enter(&mut self, condition: &Expression) {
        self.number += 1;
        each_variable(condition, &mut |id| *self.looked_at.entry(id).or_default() += 1);
    }

    fn leave(&mut self, condition: &Expression) {
        self.number -= 1;
        each_variable(condition, &mut |id| {
            if let Some(count) = self.looked_at.get_mut(&id) {
                *count -= 1;
            }
        });
    }
}

fn each_variable(value: &Expression, visit: &mut dyn FnMut(VariableId)) {
    walk::expression(value, &mut |inner| {
        if let ExpressionKind::Access(Access { root: Root::Variable(id), .. }) = inner.kind {
            visit(id);
        }
    });
}

/// The variables that become TRUE under a condition, and those that are written in any other way.
#[derive(Default)]
struct Writes {
    set: BTreeMap<VariableId, Set>,
    otherwise: BTreeSet<VariableId>,
}

impl Writes {
    /// `conditions` decide whether the list runs.
    fn list(&mut self, statements: &[Statement], conditions: &mut Conditions) {
        for statement in statements {
            match &statement.kind {
                StatementKind::Assign { target, value } if target.steps.is_empty() => {
                    let Root::Variable(id) = target.root else { continue };
                    let is_true = matches!(value.kind, ExpressionKind::Constant(Constant::Bool(true)));
                    // What looks at itself is a note that something was done.
                    let itself = conditions.looked_at.get(&id).is_some_and(|count| *count > 0);
                    if is_true && conditions.number > 0 && !itself {
                        self.set.entry(id).or_insert(Set { target: target.span });
                    } else {
                        self.otherwise.insert(id);
                    }
                }
                StatementKind::If { branches, otherwise } => {
                    for (condition, body) in branches {
                        conditions.enter(condition);
                        self.list(body, conditions);
                    }
                    self.list(otherwise, conditions);
                    branches.iter().for_each(|(condition, _)| conditions.leave(condition));
                }
                StatementKind::Case { selector, .. } => {
                    conditions.enter(selector);
                    walk::inner_lists(statement).into_iter().for_each(|list| self.list(list, conditions));
                    conditions.leave(selector);
                }
                _ => {
                    walk::own_writes(statement, &mut |write| self.other(write));
                    walk::inner_lists(statement).into_iter().for_each(|list| self.list(list, conditions));
                }
            }
            walk::own_references(statement, &mut |access| self.other(access));
            let assigns = matches!(statement.kind, StatementKind::Assign { .. });
            walk::own_writes(statement, &mut |write| {
                if !assigns || !write.steps.is_empty() {
                    self.other(write);
                }
            });
        }
    }

    fn other(&mut self, access: &Access) {
        if let Root::Variable(id) = access.root {
            self.otherwise.insert(id);
        }
    }
}

/// Instances of SR and RS (table 43) that are called with their set input, but nowhere with their reset input.
fn bistables(context: &Context<'_>, found: &mut Vec<Diagnostic>) {
    let mut set: BTreeMap<VariableId, Span> = BTreeMap::new();
    let mut reset: BTreeSet<VariableId> = BTreeSet::new();
    walk::statements(context.body, &mut |statement| {
        if let StatementKind::CallBlock(call) = &statement.kind
            && let (Root::Variable(id), []) = (&call.instance.root, call.instance.steps.as_slice())
            && let Some((set_input, reset_input)) = inputs(context, *id)
        {
            for (member, value) in &call.inputs {
                if *member == set_input {
                    set.entry(*id).or_insert(call.instance.span);
                }
                let never = matches!(value.kind, ExpressionKind::Constant(Constant::Bool(false)));
                if *member == reset_input && !never {
                    reset.insert(*id);
                }
            }
        }
        walk::own_writes(statement, &mut |write| {
            let Root::Variable(id) = write.root else { return };
            let calls = matches!(statement.kind, StatementKind::CallBlock(_)) && write.steps.is_empty();
            match write.steps.as_slice() {
                [] if !calls => {
                    reset.insert(id);
                }
                [Step::Member(member)] if inputs(context, id).is_some_and(|(_, reset)| reset == *member) => {
                    reset.insert(id);
                }
                _ => {}
            }
        });
        // Passed on as an in-out: another unit may reset it.
        walk::own_reads(statement, &mut |read| {
            if let (Root::Variable(id), []) = (&read.root, read.steps.as_slice()) {
                reset.insert(*id);
            }
        });
    });
    for (id, span) in set {
        let initial = context.variables.get(id.0 as usize).is_some_and(|variable| variable.initial.is_some());
        if reset.contains(&id) || initial {
            continue;
        }
        let name = context.text(span);
        found.push(
            Diagnostic::warning("set-no-reset", span, format!("`{name}` is set here and reset nowhere"))
                .label("its reset input is never given")
                .note("once TRUE, its output stays TRUE until the controller restarts"),
        );
    }
}

/// The numbers of the set and the reset input of a variable that is a bistable.
fn inputs(context: &Context<'_>, id: VariableId) -> Option<(u32, u32)> {
    let variable = context.variables.get(id.0 as usize)?;
    if variable.section != SectionKind::Var {
        return None;
    }
    let Type::StandardBlock(index) = context.types.get(context.types.underlying(variable.kind)) else {
        return None;
    };
    let block = context.types.standard_block(*index);
    let (set, reset) = match block.name {
        "SR" => ("S1", "R"),
        "RS" => ("S", "R1"),
        _ => return None,
    };
    Some((block.member_index(set)? as u32, block.member_index(reset)? as u32))
}

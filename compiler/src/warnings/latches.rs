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
    findings::Findings,
    scope::VariableSet,
    typed::{
        Access, Constant, Expression, ExpressionKind, Root, Statement, StatementKind, Step, Variable,
        VariableId, walk,
    },
    types::Type,
};

pub(super) fn never_reset(context: &Context<'_>, found: &mut Findings) {
    if context.is_open() || !matches!(context.tree.kind, UnitKind::Program | UnitKind::FunctionBlock) {
        return;
    }
    let mut writes = Writes::default();
    if context.survey.statements().iter().any(|surveyed| sets(surveyed.statement)) {
        writes.list(context, (0, context.body.len()), &mut Conditions::default());
    }
    for (id, set) in &writes.set {
        let Some(variable) = context.variables.get(id.0 as usize) else { continue };
        if writes.otherwise.contains(*id) || !may_latch(context, variable) {
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

/// Whether a statement makes a variable TRUE.
fn sets(statement: &Statement) -> bool {
    matches!(&statement.kind, StatementKind::Assign { value, .. } if is_true(value))
}

fn is_true(value: &Expression) -> bool {
    matches!(value.kind, ExpressionKind::Constant(Constant::Bool(true)))
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
    otherwise: VariableSet,
}

impl Writes {
    /// `statements` are the number of the first one and how many there are; `conditions` decide whether they run.
    fn list(&mut self, context: &Context<'_>, statements: (usize, usize), conditions: &mut Conditions) {
        let survey = context.survey;
        for (number, surveyed) in survey.list_from(statements.0, statements.1) {
            let mut inner = survey.inner_lists(number).into_iter().map(|(first, list)| (first, list.len()));
            match &surveyed.statement.kind {
                StatementKind::Assign { target, value } if target.steps.is_empty() => {
                    let Root::Variable(id) = target.root else { continue };
                    // What looks at itself is a note that something was done.
                    let itself = conditions.looked_at.get(&id).is_some_and(|count| *count > 0);
                    if is_true(value) && conditions.number > 0 && !itself {
                        self.set.entry(id).or_insert(Set { target: target.span });
                    } else {
                        self.otherwise.insert(id);
                    }
                }
                StatementKind::If { branches, .. } => {
                    for ((condition, _), list) in branches.iter().zip(&mut inner) {
                        conditions.enter(condition);
                        self.list(context, list, conditions);
                    }
                    inner.for_each(|list| self.list(context, list, conditions));
                    branches.iter().for_each(|(condition, _)| conditions.leave(condition));
                }
                StatementKind::Case { selector, .. } => {
                    conditions.enter(selector);
                    inner.for_each(|list| self.list(context, list, conditions));
                    conditions.leave(selector);
                }
                _ => {
                    survey.own_writes(number).iter().for_each(|write| self.other(write));
                    inner.for_each(|list| self.list(context, list, conditions));
                }
            }
            survey.own_references(number).iter().for_each(|access| self.other(access));
            let assigns = matches!(surveyed.statement.kind, StatementKind::Assign { .. });
            for write in survey.own_writes(number) {
                if !assigns || !write.steps.is_empty() {
                    self.other(write);
                }
            }
        }
    }

    fn other(&mut self, access: &Access) {
        if let Root::Variable(id) = access.root {
            self.otherwise.insert(id);
        }
    }
}

/// Instances of SR and RS (table 43) that are called with their set input, but nowhere with their reset input.
fn bistables(context: &Context<'_>, found: &mut Findings) {
    let mut set: BTreeMap<VariableId, Span> = BTreeMap::new();
    let mut reset: BTreeSet<VariableId> = BTreeSet::new();
    let is_bistable = |index: usize| inputs(context, VariableId(index as u32)).is_some();
    if !context.survey.kinds.block_calls || !(0..context.variables.len()).any(is_bistable) {
        return;
    }
    for (number, surveyed) in context.survey.statements().iter().enumerate() {
        let statement = surveyed.statement;
        if let StatementKind::CallBlock(call) = &statement.kind
            && let (Root::Variable(id), []) = (&call.instance.root, &*call.instance.steps)
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
        for write in context.survey.own_writes(number) {
            let Root::Variable(id) = write.root else { continue };
            let calls = matches!(statement.kind, StatementKind::CallBlock(_)) && write.steps.is_empty();
            match &*write.steps {
                [] if !calls => {
                    reset.insert(id);
                }
                [Step::Member(member)] if inputs(context, id).is_some_and(|(_, reset)| reset == *member) => {
                    reset.insert(id);
                }
                _ => {}
            }
        }
        // Passed on as an in-out: another unit may reset it.
        for read in context.survey.own_reads(number) {
            if let (Root::Variable(id), []) = (&read.root, &*read.steps) {
                reset.insert(*id);
            }
        }
    }
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

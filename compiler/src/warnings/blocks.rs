//! Function block instances: called in a branch, twice, never, or after their outputs were read.

use std::{
    cell::LazyCell,
    collections::{BTreeMap, BTreeSet, btree_map::Entry},
};

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{Body, Instruction, Operation, SectionKind, UnitKind},
};

use super::Context;
use crate::{
    findings::Findings,
    scope::VariableSet,
    typed::{
        Access, BlockCall, BlockWork, ExpressionKind, Root, Statement, StatementKind, Step, VariableId, walk,
    },
    types::Type,
};

/// A call with where it stands.
struct Call<'s> {
    call: &'s BlockCall,
    span: Span,
    /// Number of the list it stands in; 0 is the body.
    list: usize,
    /// The keyword around it that decides whether it runs.
    branch: Option<&'static str>,
    /// By its name, not by an input operator of Instruction List.
    listed: bool,
}

/// Instances that nothing calls are put into `uncalled`.
pub(super) fn block_calls(
    context: &Context<'_>,
    found: &mut Findings,
    uncalled: &mut Vec<(VariableId, Diagnostic)>,
) {
    let mut calls = Vec::new();
    if context.survey.kinds.block_calls {
        collect(context.body, 0, None, &mut 0, &mut calls);
    }
    if let Body::InstructionList(instructions) = &context.tree.body {
        let named = |instruction: &Instruction| matches!(instruction.operation, Some(Operation::Call { .. }));
        let named: BTreeSet<Span> =
            instructions.iter().filter(|i| named(i)).map(|instruction| instruction.span).collect();
        calls.iter_mut().for_each(|call| call.listed = named.contains(&call.span));
    }
    in_branch(context, &calls, found);
    twice(context, &calls, found);
    mixed(context, &calls, found);
    never(context, &calls, uncalled);
    read_before(context, found);
}

fn collect<'s>(
    statements: &'s [Statement],
    list: usize,
    branch: Option<&'static str>,
    lists: &mut usize,
    calls: &mut Vec<Call<'s>>,
) {
    for statement in statements {
        if let StatementKind::CallBlock(call) = &statement.kind {
            // An input operator of Instruction List is a part of a call, not one.
            if call.work == BlockWork::Body {
                calls.push(Call { call, span: statement.span, list, branch, listed: true });
            }
        }
        let branch = match &statement.kind {
            StatementKind::If { .. } => Some("IF"),
            StatementKind::Case { .. } => Some("CASE"),
            StatementKind::For { .. } => Some("FOR"),
            StatementKind::While { .. } => Some("WHILE"),
            StatementKind::Repeat { .. } => Some("REPEAT"),
            _ => branch,
        };
        walk::each_inner_list(statement, &mut |inner| {
            *lists += 1;
            let number = *lists;
            collect(inner, number, branch, lists, calls);
        });
    }
}

/// Most statements passed in search of a read before a call; a unit beyond that is not searched to its end.
const STATEMENTS_BETWEEN_MAX: usize = 1_000_000;

/// An instance reached through members alone: equal for equal places.
type Plain = (VariableId, Vec<u32>);

fn plain(access: &Access) -> Option<Plain> {
    let Root::Variable(id) = access.root else { return None };
    let member = |step: &Step| if let Step::Member(index) = step { Some(*index) } else { None };
    Some((id, access.steps.iter().map(member).collect::<Option<_>>()?))
}

/// A timer, edge or counter that a branch may pass over. Called in several branches it is meant so.
fn in_branch(context: &Context<'_>, calls: &[Call<'_>], found: &mut Findings) {
    if calls.iter().all(|call| call.branch.is_none()) {
        return;
    }
    let mut counts: BTreeMap<Plain, u32> = BTreeMap::new();
    for place in calls.iter().filter_map(|call| plain(&call.call.instance)) {
        *counts.entry(place).or_default() += 1;
    }
    for call in calls {
        let Some(branch) = call.branch else { continue };
        let Some(place) = plain(&call.call.instance) else { continue };
        let Type::StandardBlock(index) = context.types.get(context.types.underlying(call.call.instance.ty))
        else {
            continue;
        };
        let block = context.types.standard_block(*index);
        let timed = matches!(block.clause, "Table 44" | "Table 45" | "Table 46");
        if !timed || counts.get(&place) != Some(&1) {
            continue;
        }
        let name = context.text(call.call.instance.span);
        let what = if matches!(branch, "IF" | "CASE") {
            format!("`{name}` is called inside {branch} and stands still whenever the branch is not taken")
        } else {
            format!("`{name}` is called inside {branch}, any number of times in one scan")
        };
        found.push(
            Diagnostic::warning("fb-in-branch", call.call.instance.span, what)
                .label(format!("{} notices its inputs only when it is called", block.name))
                .note("call it once in every scan and put the condition into its input; use its output where it is needed"),
        );
    }
}

/// Two calls in one list without a jump or return between: both run.
fn twice(context: &Context<'_>, calls: &[Call<'_>], found: &mut Findings) {
    if context.survey.kinds.jumps {
        return;
    }
    let mut first: BTreeMap<(usize, Plain), &Call<'_>> = BTreeMap::new();
    for call in calls {
        let Some(place) = plain(&call.call.instance) else { continue };
        let earlier = match first.entry((call.list, place)) {
            Entry::Occupied(earlier) => *earlier.get(),
            Entry::Vacant(entry) => {
                entry.insert(call);
                continue;
            }
        };
        let standard = matches!(
            context.types.get(context.types.underlying(call.call.instance.ty)),
            Type::StandardBlock(_)
        );
        let operators = !earlier.listed || !call.listed;
        if !standard || operators || earlier.call.enable.is_some() || call.call.enable.is_some() {
            continue;
        }
        let name = context.text(call.call.instance.span);
        found.push(
            Diagnostic::warning("fb-twice", call.span, format!("`{name}` is called twice in one scan"))
                .label("second call of the same instance")
                .also(earlier.span, "first call")
                .note("both calls share one memory; declare an instance for each purpose"),
        );
    }
}

/// An instance called by input operators of Instruction List, each of which calls it, and by CAL besides.
fn mixed(context: &Context<'_>, calls: &[Call<'_>], found: &mut Findings) {
    let mut by_operator: BTreeMap<Plain, Span> = BTreeMap::new();
    for call in calls.iter().filter(|call| !call.listed) {
        if let Some(place) = plain(&call.call.instance) {
            by_operator.entry(place).or_insert(call.span);
        }
    }
    if by_operator.is_empty() {
        return;
    }
    for call in calls.iter().filter(|call| call.listed) {
        let Some(operator) = plain(&call.call.instance).and_then(|place| by_operator.get(&place)) else {
            continue;
        };
        let name = context.text(call.call.instance.span);
        found.push(
            Diagnostic::warning("fb-twice", call.span, format!("`{name}` is called twice in one scan"))
                .label("called by its name")
                .also(*operator, "called by an input operator")
                .note("an input operator calls the instance too; use operators alone, or store the inputs with `ST` before CAL"),
        );
    }
}

/// An instance whose outputs are used but that nothing calls.
fn never(context: &Context<'_>, calls: &[Call<'_>], found: &mut Vec<(VariableId, Diagnostic)>) {
    // Methods, and the code of bases and derived types, may call it too.
    if context.is_open() {
        return;
    }
    let mut called = VariableSet::default();
    for call in calls {
        if let Root::Variable(id) = call.call.instance.root {
            called.insert(id);
        }
    }
    // Input operators call it, and so may a unit it is passed to.
    for access in context.survey.writes() {
        if let (Root::Variable(id), []) = (&access.root, &*access.steps) {
            called.insert(*id);
        }
    }
    // Hardly ever asked for.
    let first_reads = LazyCell::new(|| {
        let mut first: BTreeMap<VariableId, Span> = BTreeMap::new();
        for access in context.survey.reads() {
            if let (Root::Variable(id), [_, ..]) = (&access.root, &*access.steps) {
                first.entry(*id).or_insert(access.span);
            }
        }
        first
    });
    for (index, variable) in context.variables.iter().enumerate() {
        let is_instance = match context.types.get(context.types.underlying(variable.kind)) {
            Type::Unit(unit) => context.checker.units[unit.0 as usize].kind == UnitKind::FunctionBlock,
            Type::StandardBlock(_) => true,
            _ => false,
        };
        if !is_instance || variable.section != SectionKind::Var {
            continue;
        }
        if variable.name.is_some_and(|name| context.outside.contains(&name)) {
            continue;
        }
        let id = VariableId(index as u32);
        if !called.contains(id)
            && let Some(read) = first_reads.get(&id).copied()
        {
            let name = variable.name.map_or("", |name| context.checker.spelling(name));
            found.push((
                id,
                Diagnostic::warning("fb-not-called", read, format!("`{name}` is read but never called"))
                    .label("keeps its first value for ever")
                    .also(variable.span, "declared here")
                    .note(format!("call it once in every scan: `{name}(…);`")),
            ));
        }
    }
}

/// `y := t.Q;` above `t(…);` at the top of the body, where `y` is not used in between: moving the assignment
/// below the call gives the same program without the delay of one scan. Feedback, as in a flasher, is not
/// reported.
fn read_before(context: &Context<'_>, found: &mut Findings) {
    if !context.survey.kinds.block_calls {
        return;
    }
    let mut first_calls: BTreeMap<VariableId, (usize, &Statement)> = BTreeMap::new();
    for (index, statement) in context.body.iter().enumerate() {
        if let StatementKind::CallBlock(call) = &statement.kind
            && let (Root::Variable(id), []) = (&call.instance.root, &*call.instance.steps)
        {
            first_calls.entry(*id).or_insert((index, statement));
        }
    }
    let mut statements_left = STATEMENTS_BETWEEN_MAX;
    for (index, statement) in context.body.iter().enumerate() {
        let StatementKind::Assign { target, value } = &statement.kind else { continue };
        let mut outputs: Vec<&Access> = Vec::new();
        walk::expression(value, &mut |inner| {
            if let ExpressionKind::Access(access) = &inner.kind
                && let [Step::Member(member)] = &*access.steps
                && is_output_member(context, access, *member)
            {
                outputs.push(access);
            }
        });
        for output in outputs {
            let Root::Variable(id) = output.root else { continue };
            let later = first_calls.get(&id).copied();
            let Some((call_index, call)) = later.filter(|(call_index, _)| *call_index > index) else {
                continue;
            };
            let between = context.body.get(index + 1..=call_index).unwrap_or_default();
            let Some(left) = statements_left.checked_sub(between.len()) else { return };
            statements_left = left;
            let mut used = false;
            walk::statements(between, &mut |inner| {
                walk::own_reads(inner, &mut |read| used |= walk::may_overlap(read, target));
                walk::own_writes(inner, &mut |write| used |= walk::may_overlap(write, target));
                used |= walk::calls_user_function(inner)
                    || matches!(
                        inner.kind,
                        StatementKind::Jump { .. } | StatementKind::Label(_) | StatementKind::Return
                    );
            });
            if used {
                continue;
            }
            let name = context.text(output.span);
            found.push(
                Diagnostic::warning(
                    "fb-output-before-call",
                    output.span,
                    format!("`{name}` is read before its instance is called"),
                )
                .label("still the value of the scan before")
                .also(call.span, "called here")
                .note("move the call up, unless one scan's delay is meant"),
            );
            break;
        }
    }
}

fn is_output_member(context: &Context<'_>, access: &Access, member: u32) -> bool {
    let Root::Variable(id) = access.root else { return false };
    let Some(variable) = context.variables.get(id.0 as usize) else { return false };
    match context.types.get(context.types.underlying(variable.kind)) {
        Type::StandardBlock(index) => {
            let members = context.types.standard_block(*index).members;
            members.get(member as usize).is_some_and(|member| member.section == latchwork_vm::Section::Output)
        }
        Type::Unit(unit) => {
            let variables = &context.checker.units[unit.0 as usize].variables;
            variables.get(member as usize).is_some_and(|variable| variable.section == SectionKind::Output)
        }
        _ => false,
    }
}

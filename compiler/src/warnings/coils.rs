//! An output that is written again before anyone could see the first value.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{AddressSize, Area, SectionKind},
};
use latchwork_vm::ElementaryType;

use super::{Context, survey::Surveyed};
use crate::{
    findings::Findings,
    typed::{Access, GlobalId, Root, Statement, StatementKind, Step, VariableId, walk},
};

/// Assignments to whole outputs that have had no effect so far, and where.
#[derive(Default)]
struct Pending<'s> {
    variables: BTreeMap<VariableId, Span>,
    globals: BTreeMap<GlobalId, Span>,
    /// Of addresses, which any variable may stand for: every read takes all of them.
    addresses: BTreeMap<(AddressSize, &'s [u32]), Span>,
}

impl<'s> Pending<'s> {
    fn clear(&mut self) {
        *self = Pending::default();
    }

    fn is_empty(&self) -> bool {
        self.variables.is_empty() && self.globals.is_empty() && self.addresses.is_empty()
    }

    /// Takes what a read may see.
    fn read(&mut self, read: &Access) {
        self.addresses.clear();
        match &read.root {
            _ if read.steps.iter().any(|step| matches!(step, Step::Dereference)) => self.clear(),
            Root::Variable(id) => {
                self.variables.remove(id);
            }
            Root::Global(id) => {
                self.globals.remove(id);
            }
            Root::Direct(_) | Root::This => self.clear(),
        }
    }

    fn get(&self, target: &Access) -> Option<Span> {
        match &target.root {
            Root::Variable(id) => self.variables.get(id).copied(),
            Root::Global(id) => self.globals.get(id).copied(),
            Root::This => None,
            Root::Direct(address) => self.addresses.get(&(address.size, address.path.as_slice())).copied(),
        }
    }

    /// Enters an assignment in the place of an earlier one.
    fn set(&mut self, target: &'s Access) {
        match &target.root {
            Root::Variable(id) => {
                self.variables.insert(*id, target.span);
            }
            Root::Global(id) => {
                self.globals.insert(*id, target.span);
            }
            Root::This => {}
            Root::Direct(address) => {
                self.addresses.insert((address.size, address.path.as_slice()), target.span);
            }
        }
    }
}

/// Assignments to a BOOL output that a later assignment in the same list always replaces. A default that a
/// later IF replaces now and then is an idiom and stays silent.
pub(super) fn double_coils(context: &Context<'_>, found: &mut Findings) {
    let assigns = |surveyed: &Surveyed<'_>| match &surveyed.statement.kind {
        StatementKind::Assign { target, .. } => is_output(context, target),
        _ => false,
    };
    if context.survey.statements().iter().any(assigns) {
        list(context, (0, context.body.len()), found);
    }
}

/// `statements` are the number of the first one and how many there are.
fn list<'s>(context: &Context<'s>, statements: (usize, usize), found: &mut Findings) {
    let survey = context.survey;
    let mut pending: Pending<'s> = Pending::default();
    for (number, surveyed) in survey.list_from(statements.0, statements.1) {
        let statement = surveyed.statement;
        // What a statement reads or hides from view keeps the earlier value alive.
        let opaque = survey.with_inner(number).iter().any(|inner| {
            inner.calls_user_function
                || matches!(
                    inner.statement.kind,
                    StatementKind::Return
                        | StatementKind::Exit
                        | StatementKind::Continue
                        | StatementKind::Label(_)
                        | StatementKind::Jump { .. }
                )
        });
        if !pending.is_empty() {
            survey.reads_with_inner(number).iter().for_each(|read| pending.read(read));
        }
        if opaque {
            pending.clear();
        }
        if let StatementKind::Assign { target, .. } = &statement.kind {
            if is_output(context, target) {
                if let Some(earlier) = pending.get(target) {
                    let label = "always replaces the value written above";
                    let note = "join the conditions with OR, or let IF and ELSE decide between the two";
                    found.push(written_twice(context, target, earlier, label).note(note));
                }
                pending.set(target);
            }
        } else {
            for (first, inner) in survey.inner_lists(number) {
                list(context, (first, inner.len()), found);
            }
            if !opaque {
                replaced(context, statement, &mut pending, found);
            }
            // Assignments inside wait for one behind that always replaces them.
            let looping = matches!(
                statement.kind,
                StatementKind::For { .. } | StatementKind::While { .. } | StatementKind::Repeat { .. }
            );
            if !looping && !opaque {
                for inner in survey.with_inner(number) {
                    if let StatementKind::Assign { target, .. } = &inner.statement.kind
                        && is_output(context, target)
                        && pending.get(target).is_none()
                    {
                        pending.set(target);
                    }
                }
            }
        }
    }
}

/// Most assignments of a first branch that are looked for in the others.
const COILS_MAX: usize = 64;

/// Earlier values that an IF with ELSE, or a CASE with ELSE, replaces in each of its branches.
fn replaced<'s>(
    context: &Context<'_>,
    statement: &'s Statement,
    pending: &mut Pending<'s>,
    found: &mut Findings,
) {
    let lists = match &statement.kind {
        StatementKind::If { otherwise, .. } | StatementKind::Case { otherwise, .. }
            if !otherwise.is_empty() =>
        {
            walk::inner_lists(statement)
        }
        _ => return,
    };
    // What the first branch assigns, if all the others do too. Assignments deeper inside are not followed.
    let coils = |list: &'s [Statement]| -> Vec<&'s Access> {
        let targets = list.iter().filter_map(|inner| match &inner.kind {
            StatementKind::Assign { target, .. } if is_output(context, target) => Some(target),
            _ => None,
        });
        targets.collect()
    };
    let Some((first, others)) = lists.split_first() else { return };
    for target in coils(first).into_iter().take(COILS_MAX) {
        let Some(earlier) = pending.get(target) else { continue };
        let everywhere = others.iter().all(|list| coils(list).iter().any(|other| other.root == target.root));
        if !everywhere {
            continue;
        }
        let label = "every branch replaces the value written above";
        let note = "join the conditions with OR, or let one IF and ELSE decide";
        found.push(written_twice(context, target, earlier, label).note(note));
        pending.set(target);
    }
}

fn written_twice(context: &Context<'_>, target: &Access, earlier: Span, label: &str) -> Diagnostic {
    let name = context.text(target.span);
    let message = format!("`{name}` is written twice and only the last value counts");
    Diagnostic::warning("double-coil", target.span, message).label(label).also(earlier, "this has no effect")
}

/// A whole BOOL that the wiring or the caller sees.
fn is_output(context: &Context<'_>, target: &Access) -> bool {
    if !target.steps.is_empty() || context.types.elementary_base(target.ty) != Some(ElementaryType::Bool) {
        return false;
    }
    let variable = match &target.root {
        Root::This => return false,
        Root::Direct(address) => return address.area == Area::Output,
        Root::Global(id) => context.globals.get(id.0 as usize),
        Root::Variable(id) => context.variables.get(id.0 as usize),
    };
    let Some(variable) = variable else { return false };
    let global = variable.global.and_then(|id| context.globals.get(id.0 as usize));
    let located = |variable: &crate::typed::Variable| {
        variable.location.as_deref().is_some_and(|address| address.area == Area::Output)
    };
    variable.section == SectionKind::Output || located(variable) || global.is_some_and(located)
}

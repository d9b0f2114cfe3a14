//! Function block instances that run under a task of their own: `block WITH task` behind a program instance.
//!
//! The body of such an instance runs once at each release of its task, and nowhere else. It works on a copy of the
//! instance, so that what other tasks see always comes from one whole run of it. Source: IEC 61131-3:2013, 6.8.2,
//! tables 62 and 63. Our choices: a call of such an instance is an error, and so is a VAR_IN_OUT in its type, since no
//! call could pass it.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, SectionKind, UnitKind},
};

use super::{InstanceScope, Level};
use crate::{
    check::Checker,
    typed::{BlockCall, Root, Statement, StatementKind, Step, TaskRun, TaskedBlock, VariableId},
    types::{Type, UnitId},
};

impl<'a> Checker<'a> {
    /// What runs a function block instance of a program under a task of its own.
    pub(super) fn block_run(
        &mut self,
        instance: InstanceScope<'a>,
        written: &'a tree::Expression,
        level: Level,
    ) -> Option<TaskRun> {
        let reached = self.walk_instance_parts(instance.global, written)?;
        let ty = self.types.underlying(reached.walk.ty);
        let unit = match *self.types.get(ty) {
            Type::Unit(unit) if self.units[unit.0 as usize].kind == UnitKind::FunctionBlock => Some(unit),
            Type::StandardBlock(_) => None,
            _ => {
                let type_name = self.type_name(reached.walk.ty);
                self.report(
                    Diagnostic::error(
                        "tasked-block",
                        written.span,
                        format!("a task runs programs and function block instances; this is {type_name}"),
                    )
                    .label(type_name),
                );
                return None;
            }
        };
        if let Some(unit) = unit {
            let scope = &self.units[unit.0 as usize];
            let passed = |variable: &&crate::typed::Variable| {
                variable.section == SectionKind::InOut
                    || variable.section == SectionKind::Input && self.holds_instance(variable.kind)
            };
            if let Some(passed) = scope.variables.iter().find(passed) {
                let place = passed.span;
                self.report(
                    Diagnostic::error(
                        "tasked-block",
                        written.span,
                        "a task cannot pass a variable to the function block it runs",
                    )
                    .label("runs under a task of its own")
                    .also(place, "would have to be passed")
                    .note("use VAR_INPUT and VAR_OUTPUT, or VAR_EXTERNAL"),
                );
                return None;
            }
        }
        self.check_not_called(written, instance.unit, &reached.walk.steps);
        let span = self.instance_span(instance);
        let body = match unit {
            Some(unit) => self.set_links(instance, unit, level),
            None => Vec::new(),
        };
        let copy = unit.map(|unit| self.hidden_global(instance.name, Type::Unit(unit), false));
        let block = TaskedBlock { instance: reached.target(span).access, copy };
        let shown = format!("{}.{}", self.spelling(instance.name.name), self.text(written.span));
        let name = self.names.intern(&shown);
        let unit = self.add_stub(instance, name, body, Some(block));
        Some(TaskRun { unit, instance: instance.global })
    }

    /// Reports calls of an instance that has a task of its own, in the body of the unit that holds it.
    fn check_not_called(&mut self, written: &tree::Expression, program: UnitId, steps: &[Step]) {
        let Some((holder, variable, rest)) = self.holder(program, steps) else { return };
        self.configuration.tasked.insert((holder, variable));
        let mut calls = Vec::new();
        block_calls(&self.units[holder.0 as usize].body, &mut |call, span| {
            if call.instance.root == Root::Variable(variable) && may_be_same(&call.instance.steps, rest) {
                calls.push(span);
            }
        });
        let shown = self.text(written.span);
        for span in calls {
            self.report(
                Diagnostic::error(
                    "tasked-block",
                    span,
                    format!("`{shown}` runs under a task of its own and cannot be called"),
                )
                .label("call of an instance that a task runs")
                .also(written.span, "given to a task here")
                .note("set its inputs with assignments and read its outputs; the task runs its body"),
            );
        }
    }

    /// The innermost unit that declares what steps lead to, its variable, and the steps from there.
    fn holder<'s>(&self, program: UnitId, steps: &'s [Step]) -> Option<(UnitId, VariableId, &'s [Step])> {
        let mut holder = program;
        let mut found = None;
        let mut rest = steps;
        let mut kind = None;
        while let Some((step, further)) = rest.split_first() {
            kind = match (step, kind.map(|kind| self.types.get(self.types.underlying(kind)))) {
                (Step::Member(index), None | Some(Type::Unit(_))) => {
                    if let Some(Type::Unit(unit)) =
                        kind.map(|kind| self.types.get(self.types.underlying(kind)))
                    {
                        holder = *unit;
                    }
                    found = Some((holder, VariableId(*index), further));
                    Some(self.units[holder.0 as usize].variables.get(*index as usize)?.kind)
                }
                (Step::Member(index), Some(Type::Structure(derived))) => {
                    Some(self.types.structure(*derived).members.get(*index as usize)?.kind)
                }
                (Step::Index(_), Some(Type::Array { element, .. })) => Some(*element),
                _ => return found,
            };
            rest = further;
        }
        found
    }
}

/// Whether a call with these steps may reach what other steps lead to; subscripts may have any value.
fn may_be_same(called: &[Step], tasked: &[Step]) -> bool {
    called.len() == tasked.len()
        && called.iter().zip(tasked).all(|pair| match pair {
            (Step::Member(left), Step::Member(right)) => left == right,
            (Step::Index(left), Step::Index(right)) => left.iter().zip(right).all(|pair| {
                use crate::typed::ExpressionKind::Constant;
                match (&pair.0.kind, &pair.1.kind) {
                    (Constant(left), Constant(right)) => left == right,
                    _ => true,
                }
            }),
            _ => false,
        })
}

/// Visits every call of an instance in a body.
fn block_calls(body: &[Statement], visit: &mut dyn FnMut(&BlockCall, Span)) {
    for statement in body {
        match &statement.kind {
            StatementKind::CallBlock(call) => visit(call, statement.span),
            StatementKind::If { branches, otherwise } => {
                branches.iter().for_each(|(_, body)| block_calls(body, visit));
                block_calls(otherwise, visit);
            }
            StatementKind::Case { groups, otherwise, .. } => {
                groups.iter().for_each(|(_, body)| block_calls(body, visit));
                block_calls(otherwise, visit);
            }
            StatementKind::For { body, .. }
            | StatementKind::While { body, .. }
            | StatementKind::Repeat { body, .. } => block_calls(body, visit),
            _ => {}
        }
    }
}

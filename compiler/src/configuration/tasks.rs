//! Tasks of a resource and what each of them runs.
//!
//! Source: IEC 61131-3:2013, 6.8.2, table 63. Our choices: INTERVAL and PRIORITY are constants, SINGLE is any BOOL
//! that a connection may name, or an output of a program of the resource; PRIORITY is 0 to 65535; programs without
//! a task run behind all tasks.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{self, Ident, ProgramElement, TaskDeclaration},
};
use latchwork_stdlib::TypeClass;
use latchwork_vm::ElementaryType;

use super::{InstanceScope, Level};
use crate::{
    check::{Checker, conversion::Goal},
    nearest::nearest,
    typed::{Constant, ExpressionKind, Single, TypedResource, TypedTask},
};

/// The lowest priority of a task.
const PRIORITY_MAX: i128 = 65535;

/// Priority of the programs without a task, and of everything where there is no configuration.
const FREE_PRIORITY: u32 = u32::MAX;

/// The tasks of a resource while it is checked.
pub(super) struct Tasks {
    list: Vec<TypedTask>,
    by_name: BTreeMap<Name, usize>,
}

impl Tasks {
    fn named(&mut self, name: Name) -> Option<&mut TypedTask> {
        self.list.get_mut(*self.by_name.get(&name)?)
    }
}

impl<'a> Checker<'a> {
    pub(super) fn check_resource(&mut self, index: usize) {
        let resource = &self.configuration.resources[index];
        let (tree, heading) = (resource.tree, resource.name);
        let instances: Vec<InstanceScope<'a>> = resource.instances.clone();
        let globals = resource.globals.values().copied().collect();
        let mut tasks = Tasks { list: Vec::new(), by_name: BTreeMap::new() };
        if let Some(tree) = tree {
            for task in &tree.tasks {
                let typed = self.task(task);
                tasks.by_name.entry(task.name.name).or_insert(tasks.list.len());
                tasks.list.push(typed);
            }
            if let (true, Some(name)) = (tree.programs.is_empty(), heading)
                && self.configuration.tree.is_some_and(|tree| !tree.damaged)
            {
                self.report_no_program(name.span, self.text(name.span));
            }
        }
        let mut free = Vec::new();
        for instance in &instances {
            let run = self.program_run(*instance, Level::Resource(index));
            let task = instance.tree.and_then(|tree| tree.task);
            match task {
                Some(task) => match tasks.named(task.name) {
                    Some(found) => found.runs.push(run),
                    None => self.report_unknown_task(task, &tasks),
                },
                None => free.push(run),
            }
            for element in instance.tree.map_or(&[][..], |tree| &tree.elements) {
                let ProgramElement::Block { block, task } = element else { continue };
                let run = self.block_run(*instance, block, Level::Resource(index));
                match (tasks.named(task.name), run) {
                    (Some(found), Some(run)) => found.runs.push(run),
                    (Some(_), None) => {}
                    (None, _) => self.report_unknown_task(*task, &tasks),
                }
            }
        }
        if !free.is_empty() {
            let priority = FREE_PRIORITY;
            tasks.list.push(TypedTask { name: None, interval_ns: 0, single: None, priority, runs: free });
        }
        let programs = instances.iter().map(|instance| (instance.name.name, instance.global)).collect();
        self.configuration.typed.resources.push(TypedResource {
            name: heading.map(|heading| heading.name),
            tasks: tasks.list,
            programs,
            globals,
        });
    }

    fn task(&mut self, tree: &'a TaskDeclaration) -> TypedTask {
        let single = tree.single.as_ref().and_then(|single| self.task_single(single));
        let interval_ns = tree.interval.as_ref().and_then(|interval| self.task_interval(interval));
        let priority = match &tree.priority {
            Some(priority) => self.task_priority(priority),
            None => {
                let name = self.text(tree.name.span);
                self.report(
                    Diagnostic::error(
                        "task-property",
                        tree.name.span,
                        format!("the task `{name}` has no PRIORITY"),
                    )
                    .label("PRIORITY is missing")
                    .note("write `PRIORITY := 1`; 0 is the highest, and several tasks may have the same"),
                );
                None
            }
        };
        let never = tree.single.is_none()
            && match tree.interval {
                Some(_) => interval_ns == Some(0),
                None => true,
            };
        if never {
            let name = self.text(tree.name.span);
            self.report(
                Diagnostic::warning(
                    "task-never-released",
                    tree.name.span,
                    format!("nothing ever starts the task `{name}`"),
                )
                .label("neither INTERVAL nor SINGLE")
                .note("give it an interval, `INTERVAL := T#10ms`, or a variable whose rising edge starts it, `SINGLE := …`"),
            );
        }
        TypedTask {
            name: Some(tree.name.name),
            interval_ns: interval_ns.unwrap_or(0),
            single,
            priority: priority.unwrap_or(0),
            runs: Vec::new(),
        }
    }

    fn task_single(&mut self, source: &'a tree::Expression) -> Option<Single> {
        if !self.check_source(source, true) {
            return None;
        }
        let wanted = self.elementary(ElementaryType::Bool);
        let value = self.infer(source, Some(wanted));
        if self.is_unknown(value.ty) {
            return None;
        }
        if self.types.elementary_base(value.ty) != Some(ElementaryType::Bool) {
            let type_name = self.type_name(value.ty);
            self.report(
                Diagnostic::error(
                    "task-property",
                    source.span,
                    format!("SINGLE is BOOL: its rising edge starts the task; this is {type_name}"),
                )
                .label(type_name),
            );
            return None;
        }
        match value.kind {
            ExpressionKind::Constant(Constant::Bool(value)) => Some(Single::Always(value)),
            ExpressionKind::Access(access) => Some(Single::Variable(access)),
            _ => None,
        }
    }

    fn task_interval(&mut self, source: &'a tree::Expression) -> Option<i64> {
        let goal = Goal::Operand { function: "INTERVAL" };
        let (value, ty) = self.constant(source, None, &goal)?;
        let duration =
            self.types.elementary_base(ty).is_some_and(|kind| TypeClass::AnyDuration.accepts(kind));
        match value {
            Constant::Time(value) if duration && value >= 0 => Some(value),
            Constant::Time(_) if duration => {
                self.report(
                    Diagnostic::error("task-property", source.span, "an INTERVAL cannot be negative")
                        .label("below zero"),
                );
                None
            }
            _ => {
                let type_name = self.type_name(ty);
                self.report(
                    Diagnostic::error(
                        "task-property",
                        source.span,
                        format!("INTERVAL is a duration, this is {type_name}"),
                    )
                    .label(type_name)
                    .note("write it with its unit: `T#10ms`"),
                );
                None
            }
        }
    }

    fn task_priority(&mut self, source: &'a tree::Expression) -> Option<u32> {
        let (value, _) = self.constant_integer(source)?;
        match u32::try_from(value) {
            Ok(priority) if value <= PRIORITY_MAX => Some(priority),
            _ => {
                self.report(
                    Diagnostic::error(
                        "task-property",
                        source.span,
                        format!("a PRIORITY is 0 to {PRIORITY_MAX}, this is {value}"),
                    )
                    .label("out of range")
                    .note("0 is the highest priority"),
                );
                None
            }
        }
    }

    fn report_unknown_task(&mut self, task: Ident, tasks: &Tasks) {
        let spelling = self.text(task.span);
        let known: Vec<&str> = tasks.by_name.keys().map(|name| self.spelling(*name)).collect();
        let mut diagnostic =
            Diagnostic::error("unknown-task", task.span, format!("the resource has no task `{spelling}`"))
                .label("unknown task");
        diagnostic = match nearest(spelling, known.iter().copied()) {
            Some(near) => diagnostic.note(format!("the nearest task is `{near}`")),
            None if known.is_empty() => diagnostic
                .note("declare it before the programs: `TASK name (INTERVAL := T#10ms, PRIORITY := 1);`"),
            None => {
                let known: Vec<String> = known.into_iter().map(str::to_owned).collect();
                diagnostic.note(format!("it has {}", crate::declare::listed(&known)))
            }
        };
        self.report(diagnostic);
    }

    /// The place of a program instance for messages about what it needs.
    pub(super) fn instance_span(&self, instance: InstanceScope<'a>) -> Span {
        instance.tree.map_or(instance.name.span, |tree| tree.name.span)
    }
}

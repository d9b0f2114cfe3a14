//! Program instances: a hidden global of the program's type for each.
//!
//! Without a configuration there are none, unless a program has globals or access paths of its own: then there is an
//! implied resource without a name. Source: IEC 61131-3:2013, 6.8.1, table 62.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{self, Ident, SectionKind, UnitKind},
};

use super::{InstanceScope, ResourceScope};
use crate::{
    check::{Checker, describe::a_unit},
    nearest::nearest,
    scope::ExternalTarget,
    typed::{GlobalId, Variable},
    types::{Type, UnitId},
};

impl<'a> Checker<'a> {
    /// Gives every program instance a hidden global of its type. Without a configuration that is only needed where
    /// a program has globals or access paths of its own.
    pub(crate) fn declare_instances(&mut self) {
        if self.configuration.tree.is_none() {
            let of_program = |target: &ExternalTarget| matches!(target, ExternalTarget::Program(..));
            let globals = self.configuration.targets.values().flatten().any(of_program);
            if globals || self.units.iter().any(|unit| !unit.tree.access_paths.is_empty()) {
                self.declare_implied_instances();
            }
            return;
        }
        for section in std::mem::take(&mut self.configuration.outside) {
            self.report(
                Diagnostic::warning(
                    "global-outside",
                    section,
                    "these global variables stand outside of the configuration",
                )
                .label("taken as globals of the configuration")
                .note("the standard has VAR_GLOBAL inside CONFIGURATION, RESOURCE and PROGRAM only"),
            );
        }
        for index in 0..self.configuration.resources.len() {
            let resource = &self.configuration.resources[index];
            let Some(tree) = resource.tree else { continue };
            let hiding: Vec<(GlobalId, GlobalId)> = resource
                .globals
                .iter()
                .filter_map(|(name, own)| Some((*own, *self.globals.by_name.get(name)?)))
                .collect();
            let globals = resource.globals.iter();
            let mut places: BTreeMap<Name, Span> =
                globals.map(|(name, id)| (*name, self.globals.variables[id.0 as usize].span)).collect();
            for (own, hidden) in hiding {
                let own = &self.globals.variables[own.0 as usize];
                let (Some(name), span) = (own.name, own.span) else { continue };
                let hidden = self.globals.variables[hidden.0 as usize].span;
                self.report_hidden_global(Ident { name, span }, hidden, "in this resource");
            }
            for task in &tree.tasks {
                if let Some(first) = places.insert(task.name.name, task.name.span) {
                    self.report_duplicate(
                        task.name,
                        first,
                        "the variables, tasks and programs of a resource",
                    );
                }
            }
            for program in &tree.programs {
                if let Some(first) = places.insert(program.name.name, program.name.span) {
                    self.report_duplicate(
                        program.name,
                        first,
                        "the variables, tasks and programs of a resource",
                    );
                    continue;
                }
                let Some(unit) = self.program_type(&program.program) else { continue };
                let retain = matches!(program.qualifier, Some((tree::Qualifier::Retain, _)));
                let global = self.hidden_global(program.name, Type::Unit(unit), retain);
                let scope = InstanceScope { tree: Some(program), name: program.name, unit, global };
                self.configuration.resources[index].instances.push(scope);
            }
        }
    }

    fn declare_implied_instances(&mut self) {
        let mut resource =
            ResourceScope { tree: None, name: None, globals: BTreeMap::new(), instances: Vec::new() };
        for index in 0..self.units.len() {
            let unit = UnitId(index as u32);
            if self.units[index].kind == UnitKind::Program {
                let name = self.units[index].tree.name;
                let global = self.hidden_global(name, Type::Unit(unit), false);
                resource.instances.push(InstanceScope { tree: None, name, unit, global });
            }
        }
        self.configuration.resources.push(resource);
    }

    /// The program that a program instance names.
    fn program_type(&mut self, name: &tree::QualifiedName) -> Option<UnitId> {
        let found = if name.path.is_empty() { self.unit_names.get(name.name.name).copied() } else { None };
        if let Some(unit) = found
            && self.units[unit.0 as usize].kind == UnitKind::Program
        {
            return Some(unit);
        }
        let spelling = self.text(name.span);
        let mut diagnostic = match found {
            Some(unit) => {
                let what = a_unit(self.units[unit.0 as usize].kind);
                let place = self.units[unit.0 as usize].tree.name.span;
                Diagnostic::error(
                    "unknown-program",
                    name.span,
                    format!("`{spelling}` is {what}, and a resource runs programs only"),
                )
                .label("not a program")
                .also(place, "declared here")
                .note("write a PROGRAM that holds an instance of it or calls it")
            }
            None => {
                Diagnostic::error("unknown-program", name.span, format!("there is no program `{spelling}`"))
                    .label("not declared in any file")
            }
        };
        if found.is_none() && self.may_search(self.unit_names.len()) {
            let programs = self
                .unit_names
                .iter()
                .filter(|(_, unit)| self.units[unit.0 as usize].kind == UnitKind::Program);
            let near = nearest(spelling, programs.map(|(name, _)| self.spelling(name)));
            diagnostic = match near {
                Some(near) => diagnostic.note(format!("the nearest program is `{near}`")),
                None => diagnostic.note("behind the colon stands the name of a PROGRAM … END_PROGRAM"),
            };
        }
        self.report(diagnostic);
        None
    }

    /// A global that the text cannot name.
    pub(super) fn hidden_global(&mut self, ident: Ident, kind: Type, retain: bool) -> GlobalId {
        let kind = self.types.intern(kind);
        let id = GlobalId(self.globals.variables.len() as u32);
        self.globals.variables.push(Variable {
            retain,
            hidden: true,
            ..Variable::plain(Some(ident.name), kind, SectionKind::Global, ident.span)
        });
        id
    }
}

//! Debug tables of a configuration: program instances by `Resource.Program`, the status of tasks by
//! `Resource.Task`, access paths, and places given by VAR_CONFIG.
//!
//! Knows places and types, no statements. Implements the names of IEC 61131-3:2013, 6.8.1.

use std::collections::BTreeMap;

use latchwork_grammar::Name;
use latchwork_vm::{ElementaryType, Member, Section, TaskStatus, TypeDescription, TypeIndex};

use super::{Spot, areas::text, debug::Describer, paths::place_of};
use crate::{
    typed::{GlobalId, Root, TypedConfiguration},
    types::Type,
};

/// What is shown of a task's status: name, offset, type.
const STATUS: [(&str, u32, ElementaryType); 7] = [
    ("ran", TaskStatus::RAN, ElementaryType::Bool),
    ("waiting", TaskStatus::WAITING, ElementaryType::Bool),
    ("runs", TaskStatus::RUNS, ElementaryType::Udint),
    ("overruns", TaskStatus::OVERRUNS, ElementaryType::Udint),
    ("instructions", TaskStatus::INSTRUCTIONS, ElementaryType::Udint),
    ("response", TaskStatus::RESPONSE, ElementaryType::Ltime),
    ("longest_response", TaskStatus::LONGEST_RESPONSE, ElementaryType::Ltime),
];

impl Describer<'_, '_> {
    /// Everything that a configuration gives a name to.
    pub(super) fn configuration(
        &mut self,
        configuration: &TypedConfiguration,
        absolute: &dyn Fn(Spot) -> u32,
    ) {
        let program = self.program;
        let mut owners: BTreeMap<GlobalId, Name> = BTreeMap::new();
        for resource in &configuration.resources {
            let Some(name) = resource.name else { continue };
            owners.extend(resource.globals.iter().map(|global| (*global, name)));
        }
        for (index, variable) in program.globals.iter().enumerate().filter(|(_, global)| !global.hidden) {
            let owner = owners.get(&GlobalId(index as u32)).map(|name| self.spelling(*name));
            if let Some(spot) = self.storage.globals.get(index) {
                self.root(owner.as_deref(), variable, absolute(*spot));
            }
        }
        for (resource, index) in configuration.resources.iter().zip(0..) {
            for (name, global) in &resource.programs {
                let name = self.qualified(resource.name, *name);
                let spot = self.storage.globals.get(global.0 as usize);
                let kind =
                    program.globals.get(global.0 as usize).map(|global| program.types.get(global.kind));
                if let (Some(spot), Some(Type::Unit(unit))) = (spot, kind) {
                    self.program(*unit, name, absolute(*spot), absolute);
                }
            }
            for (task, number) in resource.tasks.iter().zip(0..) {
                if let (Some(name), Some(status)) = (task.name, self.storage.statuses.get(&(index, number))) {
                    let name = self.qualified(resource.name, name);
                    self.status(name, *status);
                }
            }
        }
        for place in &configuration.places {
            let kind = self.kind(place.variable.ty);
            self.image.root(latchwork_vm::Variable {
                name: place.path.clone(),
                address: absolute(self.storage.areas.spot(&place.address)),
                kind,
                section: Section::Local,
                location: Some(text(&place.address)),
                constant: false,
            });
        }
        self.access_paths(configuration, absolute);
    }

    fn access_paths(&mut self, configuration: &TypedConfiguration, absolute: &dyn Fn(Spot) -> u32) {
        for access in &configuration.access {
            let own = self.spelling(access.name);
            let name = match access.owner {
                Some((resource, program)) => format!("{}.{own}", self.qualified(resource, program)),
                None => own,
            };
            let target = &access.target;
            let spot = place_of(self.program, self.storage, &target.access, target.start);
            let Some(spot) = spot else { continue };
            let kind = self.kind(target.access.ty);
            let location = match &target.access.root {
                Root::Direct(address) if target.access.steps.is_empty() => Some(text(address)),
                _ => None,
            };
            self.image.root(latchwork_vm::Variable {
                name,
                address: absolute(spot),
                kind,
                section: Section::Access,
                location,
                constant: !access.writable,
            });
        }
    }

    fn status(&mut self, name: String, address: u32) {
        let mut members = Vec::new();
        for (name, offset, kind) in STATUS {
            members.push(Member {
                name: name.to_owned(),
                offset,
                kind: self.elementary(kind),
                section: Section::Local,
                location: None,
                constant: true,
            });
        }
        let kind = self.image.kind(TypeDescription::Structure { name: "TASK".to_owned(), members });
        self.image.root(latchwork_vm::Variable {
            name,
            address,
            kind,
            section: Section::Global,
            location: None,
            constant: true,
        });
    }

    fn elementary(&mut self, kind: ElementaryType) -> TypeIndex {
        self.image.kind(TypeDescription::Elementary(kind))
    }

    fn spelling(&self, name: Name) -> String {
        self.names.spelling(name).to_owned()
    }

    fn qualified(&self, resource: Option<Name>, name: Name) -> String {
        match resource {
            Some(resource) => format!("{}.{}", self.names.spelling(resource), self.names.spelling(name)),
            None => self.spelling(name),
        }
    }
}

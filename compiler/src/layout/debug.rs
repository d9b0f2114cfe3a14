//! Debug tables: what the machine needs to show variables by name.
//!
//! Roots are the program instances, the globals, and what a program declares outside its instance (located
//! variables, VAR_TEMP; under a dotted name). A PRIVATE variable of a base whose name stands for another variable in
//! the derived type is a member of a member named like the base, and so are the steps of a base's chart. Frames of
//! functions and everything hidden are left out. Knows places and types, no statements.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{
    Name, Names,
    tree::{AddressSize, DirectAddress, SectionKind},
};
use latchwork_vm::{ElementaryType, ImageBuilder, Member, Section, TypeDescription, TypeIndex};

use super::{Spot, areas::text, sizes::is_indirect, storage::ProgramStorage};
use crate::{
    configuration::is_open,
    typed::{Root, TypedProgram, Variable, accesses},
    types::{Type, TypeId, UnitId},
};

/// Fills in the debug tables of an image.
pub(crate) fn describe(
    program: &TypedProgram,
    storage: &ProgramStorage<'_>,
    names: &Names,
    absolute: &dyn Fn(Spot) -> u32,
    image: &mut ImageBuilder,
) {
    let mut describer =
        Describer { program, storage, names, image, known: BTreeMap::new(), located: BTreeSet::new() };
    match &program.configuration {
        Some(configuration) => describer.configuration(configuration, absolute),
        None => {
            for (variable, spot) in program.globals.iter().zip(&storage.globals) {
                describer.root(None, variable, absolute(*spot));
            }
            for (id, address) in &storage.programs {
                let unit = program.units.get(id.0 as usize);
                let name = unit.map_or(String::new(), |unit| names.spelling(unit.name).to_owned());
                describer.program(*id, name, *address, absolute);
            }
        }
    }
    for unit in program.units.iter().filter(|unit| unit.may_use_addresses) {
        accesses::accesses(&unit.body, &mut |access| {
            if let Root::Direct(address) = &access.root {
                describer.direct(address, absolute(storage.areas.spot(address)));
            }
        });
    }
}

pub(super) struct Describer<'a, 'p> {
    pub(super) program: &'a TypedProgram,
    pub(super) storage: &'a ProgramStorage<'p>,
    pub(super) names: &'a Names,
    pub(super) image: &'a mut ImageBuilder,
    known: BTreeMap<TypeId, TypeIndex>,
    /// Locations that have a root.
    located: BTreeSet<String>,
}

impl Describer<'_, '_> {
    pub(super) fn program(&mut self, id: UnitId, name: String, address: u32, absolute: &dyn Fn(Spot) -> u32) {
        let program = self.program;
        let Some(unit) = program.units.get(id.0 as usize) else { return };
        let kind = self.instance(id);
        self.image.root(latchwork_vm::Variable {
            name: name.clone(),
            address,
            kind,
            section: Section::Global,
            location: None,
            constant: false,
        });
        let Some(places) = self.storage.units.get(id.0 as usize) else { return };
        for (variable, place) in unit.variables.iter().zip(&places.variables) {
            let located = variable.location.as_deref().is_some_and(|location| !is_open(location));
            let outside = located || variable.section == SectionKind::Temp;
            if outside && !variable.hidden {
                self.root(Some(&name), variable, absolute(place.spot));
            }
        }
    }

    pub(super) fn root(&mut self, owner: Option<&str>, variable: &Variable, address: u32) {
        let location = variable.location.as_deref().map(text);
        let name = match (variable.name, owner, &location) {
            (Some(name), Some(owner), _) => format!("{owner}.{}", self.names.spelling(name)),
            (Some(name), None, _) => self.names.spelling(name).to_owned(),
            // The same nameless variable declared twice is one.
            (None, _, Some(location)) if self.located.contains(location) => return,
            (None, _, Some(location)) => location.clone(),
            (None, _, None) => return,
        };
        if let Some(location) = &location {
            self.located.insert(location.clone());
        }
        let kind = self.kind(variable.kind);
        let section = section(variable.section);
        let constant = variable.constant;
        self.image.root(latchwork_vm::Variable { name, address, kind, section, location, constant });
    }

    /// A directly represented variable used without a declaration.
    fn direct(&mut self, address: &DirectAddress, at: u32) {
        let location = text(address);
        if !self.located.insert(location.clone()) {
            return;
        }
        let kind = self.image.kind(TypeDescription::Elementary(match address.size {
            AddressSize::Bit => ElementaryType::Bool,
            AddressSize::Byte => ElementaryType::Byte,
            AddressSize::Word => ElementaryType::Word,
            AddressSize::DoubleWord => ElementaryType::Dword,
            AddressSize::LongWord => ElementaryType::Lword,
        }));
        self.image.root(latchwork_vm::Variable {
            name: location.clone(),
            address: at,
            kind,
            section: Section::Global,
            location: Some(location),
            constant: false,
        });
    }

    pub(super) fn kind(&mut self, id: TypeId) -> TypeIndex {
        if let Some(index) = self.known.get(&id) {
            return *index;
        }
        let index = self.describe(id);
        self.known.insert(id, index);
        index
    }

    fn describe(&mut self, id: TypeId) -> TypeIndex {
        let types = &self.program.types;
        let description = match types.get(types.underlying(id)) {
            Type::String { wide, capacity } => TypeDescription::String { wide: *wide, capacity: *capacity },
            Type::Enumeration(values) => {
                let enumeration = types.enumeration(*values);
                TypeDescription::Enumeration {
                    name: enumeration.name.map_or(String::new(), |name| self.names.spelling(name).to_owned()),
                    values: enumeration
                        .values
                        .iter()
                        .map(|(name, value)| (self.names.spelling(*name).to_owned(), *value as i32))
                        .collect(),
                }
            }
            Type::Array { bounds, element } => TypeDescription::Array {
                bounds: bounds.clone(),
                element: self.kind(*element),
                stride: self.storage.sizes.size(*element),
            },
            Type::Structure(structure) => {
                let declared = types.structure(*structure);
                let mut members = Vec::new();
                for (member, index) in declared.members.iter().zip(0..) {
                    if types.open_members.contains_key(&(*structure, index)) {
                        // It lies elsewhere, and has a root for each variable.
                        continue;
                    }
                    members.push(Member {
                        name: self.names.spelling(member.name).to_owned(),
                        offset: self.storage.sizes.member(*structure, index),
                        kind: match member.place.and_then(|place| place.bit) {
                            Some(bit) => self.image.kind(TypeDescription::Bit(bit)),
                            None => self.kind(member.kind),
                        },
                        section: Section::Local,
                        location: None,
                        constant: false,
                    });
                }
                TypeDescription::Structure { name: self.names.spelling(declared.name).to_owned(), members }
            }
            Type::Unit(unit) => return self.instance(*unit),
            Type::StandardBlock(block) => {
                let definition = types.standard_block(*block);
                let mut members = Vec::new();
                for member in definition.members.iter().filter(|member| !member.hidden) {
                    members.push(Member {
                        name: member.name.to_owned(),
                        offset: member.offset,
                        kind: self.image.kind(TypeDescription::Elementary(member.ty)),
                        section: member.section,
                        location: None,
                        constant: false,
                    });
                }
                TypeDescription::Structure { name: definition.name.to_owned(), members }
            }
            Type::Reference(_) | Type::Interface(_) | Type::Null => TypeDescription::Reference,
            _ => TypeDescription::Elementary(types.elementary_base(id).unwrap_or(ElementaryType::Bool)),
        };
        self.image.kind(description)
    }

    /// The instance of a program or function block.
    fn instance(&mut self, id: UnitId) -> TypeIndex {
        let Some(unit) = self.program.units.get(id.0 as usize) else {
            return self.image.kind(TypeDescription::Reference);
        };
        let instance = self.storage.sizes.instance(id);
        if unit.object.base.is_none() {
            // No two of its names are the same.
            let mut members = Vec::with_capacity(unit.variables.len());
            for (variable, offset) in unit.variables.iter().zip(&instance.offsets) {
                members.extend(self.variable_member(variable, offset).map(|(_, member)| member));
            }
            let name = self.names.spelling(unit.name).to_owned();
            return self.image.kind(TypeDescription::Structure { name, members });
        }
        let mut members: Vec<(Member, UnitId)> = Vec::new();
        let mut known: BTreeMap<Name, usize> = BTreeMap::new();
        // PRIVATE variables of bases whose names stand for others in this type.
        let mut covered: BTreeMap<UnitId, Vec<Member>> = BTreeMap::new();
        for ((variable, offset), index) in unit.variables.iter().zip(&instance.offsets).zip(0..) {
            let Some((name, member)) = self.variable_member(variable, offset) else { continue };
            let entry = (member, self.declared_in(id, index));
            let earlier = known.get(&name).and_then(|place| members.get_mut(*place));
            match earlier {
                Some(earlier) => {
                    let (member, owner) = std::mem::replace(earlier, entry);
                    covered.entry(owner).or_default().push(member);
                }
                None => {
                    known.insert(name, members.len());
                    members.push(entry);
                }
            }
        }
        self.base_members(id, &mut covered);
        let mut members: Vec<Member> = members.into_iter().map(|(member, _)| member).collect();
        for (base, covered) in covered {
            let base = self.program.units.get(base.0 as usize);
            let name = base.map_or(String::new(), |base| self.names.spelling(base.name).to_owned());
            let kind = self.image.kind(TypeDescription::Structure { name: name.clone(), members: covered });
            members.push(Member {
                name,
                offset: 0,
                kind,
                section: Section::Local,
                location: None,
                constant: false,
            });
        }
        self.image
            .kind(TypeDescription::Structure { name: self.names.spelling(unit.name).to_owned(), members })
    }

    /// What the body of a base has beside its declared variables, such as the steps of its chart.
    fn base_members(&mut self, id: UnitId, covered: &mut BTreeMap<UnitId, Vec<Member>>) {
        let program = self.program;
        let object = |unit: UnitId| program.units.get(unit.0 as usize).map(|unit| &unit.object);
        let mut derived = id;
        while let Some((base, inherited)) = object(derived).and_then(|own| Some((own.base?, own.inherited))) {
            let instance = self.storage.sizes.instance(base);
            let own = program.units.get(base.0 as usize).into_iter().flat_map(|unit| &unit.variables);
            for (variable, offset) in own.zip(&instance.offsets).skip(inherited as usize) {
                let Some((_, member)) = self.variable_member(variable, offset) else { continue };
                covered.entry(base).or_default().push(member);
            }
            derived = base;
        }
    }

    /// A variable that lies in an instance.
    fn variable_member(&mut self, variable: &Variable, offset: &Option<u32>) -> Option<(Name, Member)> {
        let (Some(name), Some(offset), false) = (variable.name, offset, variable.hidden) else { return None };
        if variable.location.is_some() {
            // It lies elsewhere, and has a root for each instance.
            return None;
        }
        let kind = if is_indirect(self.program, variable) {
            self.image.kind(TypeDescription::Reference)
        } else {
            self.kind(variable.kind)
        };
        let member = Member {
            name: self.names.spelling(name).to_owned(),
            offset: *offset,
            kind,
            section: section(variable.section),
            location: None,
            constant: variable.constant,
        };
        Some((name, member))
    }

    /// The type that declares a variable of a type.
    fn declared_in(&self, unit: UnitId, index: u32) -> UnitId {
        let object = |unit: UnitId| self.program.units.get(unit.0 as usize).map(|unit| &unit.object);
        let base = |unit: &UnitId| object(*unit)?.base;
        let mut way = std::iter::successors(Some(unit), base);
        way.find(|unit| object(*unit).is_none_or(|object| object.inherited <= index)).unwrap_or(unit)
    }
}

fn section(kind: SectionKind) -> Section {
    match kind {
        SectionKind::Var => Section::Local,
        SectionKind::Input => Section::Input,
        SectionKind::Output => Section::Output,
        SectionKind::InOut => Section::InOut,
        SectionKind::Temp => Section::Temporary,
        SectionKind::External => Section::External,
        SectionKind::Global => Section::Global,
    }
}

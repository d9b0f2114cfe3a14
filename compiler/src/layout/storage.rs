//! The place of every variable of a program: areas, globals, program instances, frames of units.
//!
//! The data image is, in order: system bytes, `%I`, `%Q`, `%M`, slots of located bits, globals, program
//! instances, static frames, temporaries of expressions, constants. There is no recursion, so a function's variables have fixed places in
//! its frame; they, and VAR_TEMP of other units, are set to their initial values at each call by one copy
//! from a template. Implements IEC 61131-3:2013, 6.5 (variables) and 6.6.2.1 (functions keep no state).
//! All sizes are checked here, before anything is allocated.

use std::{collections::BTreeMap, rc::Rc};

use latchwork_grammar::{
    Diagnostic, Names, Span,
    tree::{DirectAddress, SectionKind, UnitKind},
};
use latchwork_vm::{SYSTEM_BYTES, TaskStatus, limits};

use super::{
    Base, Spot, align_up,
    areas::{AreaCollector, Areas},
    sizes::{
        Extent, Instance, NestingTooDeep, Packer, SECTION_ORDER, Sizes, elements, is_indirect, is_member,
        open_dimensions,
    },
};
use crate::{
    configuration::is_open,
    typed::{Root, Single, TypedProgram, TypedUnit, Variable, VariableId, accesses},
    types::{Type, TypeId, UnitId},
};

/// Where a variable is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Storage {
    /// Its place, or the place of its address.
    pub spot: Spot,
    /// The place holds an address: in-out variables.
    pub indirect: bool,
}

/// What a unit resets at each call: a part of its frame and the same part of its template.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct ResetRange {
    /// Offset in the frame.
    pub offset: u32,
    /// Bytes.
    pub size: u32,
}

/// The places of one unit.
#[derive(Clone, Debug)]
pub(crate) struct UnitStorage {
    /// One entry a variable.
    pub variables: Vec<Storage>,
    /// The instance of a program or function block.
    pub instance: Option<Rc<Instance>>,
    /// Bytes of the frame without expression temporaries.
    pub frame_bytes: u32,
    /// What is set to initial values at each call.
    pub reset: Option<ResetRange>,
}

/// The places of everything that has one before lowering.
pub(crate) struct ProgramStorage<'p> {
    /// Sizes and offsets of types.
    pub sizes: Sizes<'p>,
    /// Areas and located bits.
    pub areas: Areas,
    /// Global variables.
    pub globals: Vec<Spot>,
    /// Address of the instance of each program; with a configuration they are globals instead.
    pub programs: BTreeMap<UnitId, u32>,
    /// Address of the status of each task with a name, by the numbers of resource and task.
    pub statuses: BTreeMap<(u32, u32), u32>,
    /// One entry a unit.
    pub units: Vec<UnitStorage>,
    /// First byte behind the program instances.
    pub end: u32,
}

impl<'p> ProgramStorage<'p> {
    /// Lays out a program.
    ///
    /// # Errors
    /// Variables that do not fit into the largest data image or whose types are nested too deep.
    pub(crate) fn new(program: &'p TypedProgram, names: &Names) -> Result<Self, Vec<Diagnostic>> {
        let mut planner = Planner { program, names, sizes: Sizes::new(program), errors: Vec::new() };
        planner.check_variables();
        planner.stop_on_errors()?;
        let areas = planner.areas();
        planner.stop_on_errors()?;
        planner.place(areas)
    }
}

struct Planner<'a, 'p> {
    program: &'p TypedProgram,
    names: &'a Names,
    sizes: Sizes<'p>,
    errors: Vec<Diagnostic>,
}

impl<'p> Planner<'_, 'p> {
    fn stop_on_errors(&mut self) -> Result<(), Vec<Diagnostic>> {
        if self.errors.is_empty() { Ok(()) } else { Err(std::mem::take(&mut self.errors)) }
    }

    /// Checks each variable on its own, so that the message names the one to change.
    fn check_variables(&mut self) {
        let program = self.program;
        for variable in &program.globals {
            self.check_variable(variable);
        }
        for (unit, index) in program.units.iter().zip(0..) {
            let before = self.errors.len();
            for variable in &unit.variables {
                self.check_variable(variable);
            }
            let clean = self.errors.len() == before;
            if clean && !has_frame(unit.kind) {
                match self.sizes.checked_instance(UnitId(index)) {
                    Ok(instance) if instance.extent.size > limits::DATA_BYTES as u64 => {
                        let name = self.names.spelling(unit.name);
                        self.errors.push(too_large(unit.span, name, instance.extent.size));
                    }
                    Ok(_) => {}
                    Err(NestingTooDeep) => self.errors.push(too_deep(unit.span)),
                }
            }
        }
    }

    fn check_variable(&mut self, variable: &Variable) {
        match self.sizes.extent(variable.kind) {
            Ok(extent) if extent.size > limits::DATA_BYTES as u64 => {
                let name = variable.name.map_or("the variable", |name| self.names.spelling(name));
                self.errors.push(too_large(variable.span, name, extent.size));
            }
            Ok(_) => {}
            Err(NestingTooDeep) => self.errors.push(too_deep(variable.span)),
        }
    }

    fn areas(&mut self) -> AreaCollector {
        let program = self.program;
        let mut collector = AreaCollector::default();
        let units = program.units.iter();
        for variable in program.globals.iter().chain(units.clone().flat_map(|unit| &unit.variables)) {
            if let Some(location) = variable.location.as_deref().filter(|location| !is_open(location)) {
                let count = self.located_count(variable.kind);
                self.collect(&mut collector, location, count, variable.span);
            }
        }
        if let Some(configuration) = &program.configuration {
            for place in &configuration.places {
                let count = self.located_count(place.variable.ty);
                self.collect(&mut collector, &place.address, count, place.span);
            }
            let tasks = configuration.resources.iter().flat_map(|resource| &resource.tasks);
            let singles = tasks.filter_map(|task| match &task.single {
                Some(Single::Variable(access)) => Some(access),
                _ => None,
            });
            let paths = configuration.access.iter().map(|access| &access.target.access);
            for access in singles.chain(paths) {
                if let Root::Direct(address) = &access.root {
                    self.collect(&mut collector, address, 1, access.span);
                }
            }
        }
        for unit in units.filter(|unit| unit.may_use_addresses) {
            accesses::accesses(&unit.body, &mut |access| {
                if let Root::Direct(address) = &access.root {
                    self.collect(&mut collector, address, 1, access.span);
                }
            });
        }
        collector
    }

    fn collect(&mut self, collector: &mut AreaCollector, address: &DirectAddress, count: u64, span: Span) {
        if collector.add(address, count, limits::LOCATED_BITS).is_err() {
            self.errors.push(
                Diagnostic::error("data-too-large", span, "the program has too many located bits")
                    .note(format!("A program may have at most {} located bits.", limits::LOCATED_BITS)),
            );
        }
    }

    /// How many units of its size letter a located variable takes: the elements of an array, else one.
    fn located_count(&self, kind: TypeId) -> u64 {
        let types = &self.program.types;
        match types.get(types.underlying(kind)) {
            Type::Array { bounds, element } => elements(bounds).saturating_mul(self.located_count(*element)),
            _ => 1,
        }
    }

    fn place(mut self, collector: AreaCollector) -> Result<ProgramStorage<'p>, Vec<Diagnostic>> {
        let program = self.program;
        let areas = collector.finish(align_up(u64::from(SYSTEM_BYTES), 8));
        let mut next = areas.end;
        let mut globals = Vec::new();
        let configuration = program.configuration.as_ref();
        let links = configuration.map_or(&[][..], |configuration| &configuration.links);
        let first_stub = configuration.and_then(|configuration| configuration.stubs.keys().next().copied());
        let mut cells: BTreeMap<usize, Spot> = BTreeMap::new();
        for (link, cell) in links.iter().zip(0u32..) {
            // A link is set by a stub. Where there is none nothing uses it, and any place will do.
            if let Some(stub) = first_stub {
                cells.insert(link.0 as usize, Spot::new(Base::Frame(stub), cell.saturating_mul(4)));
            }
        }
        for (index, variable) in program.globals.iter().enumerate() {
            globals.push(match (&variable.location, cells.get(&index)) {
                (_, Some(cell)) => *cell,
                (Some(location), _) => areas.spot(location),
                (None, None) => Spot::new(Base::Data, take(&mut next, self.extent(variable))),
            });
        }
        next = align_up(next, 8);
        let mut programs = BTreeMap::new();
        for (unit, index) in program.units.iter().zip(0..) {
            if unit.kind == UnitKind::Program && configuration.is_none() {
                let instance = self.sizes.instance(UnitId(index));
                programs.insert(UnitId(index), take(&mut next, instance.extent));
                next = align_up(next, 8);
            }
        }
        let mut statuses = BTreeMap::new();
        let resources = configuration.map_or(&[][..], |configuration| &configuration.resources);
        for (resource, index) in resources.iter().zip(0..) {
            for (_, number) in resource.tasks.iter().zip(0..).filter(|(task, _)| task.name.is_some()) {
                let extent = Extent { size: u64::from(TaskStatus::BYTES), align: 8, height: 0 };
                statuses.insert((index, number), take(&mut next, extent));
            }
        }
        let mut units: Vec<UnitStorage> = program
            .units
            .iter()
            .zip(0..)
            .map(|(unit, index)| self.unit(unit, UnitId(index), &globals, &areas))
            .collect();
        if let Some(places) = first_stub.and_then(|stub| units.get_mut(stub.0 as usize)) {
            // A stub has no variables of its own.
            places.frame_bytes = u32::try_from(align_up(4 * cells.len() as u64, 8)).unwrap_or(u32::MAX);
        }
        let frames: u64 = units.iter().map(|unit| u64::from(unit.frame_bytes)).sum();
        if next.saturating_add(frames) > limits::DATA_BYTES as u64 {
            let span = program.units.first().map_or_else(Span::default, |unit| unit.span);
            self.errors.push(too_large(span, "the whole program", next.saturating_add(frames)));
        }
        self.stop_on_errors()?;
        // At most DATA_BYTES, checked above.
        let end = u32::try_from(next).unwrap_or(u32::MAX);
        Ok(ProgramStorage { sizes: self.sizes, areas, globals, programs, statuses, units, end })
    }

    fn extent(&self, variable: &Variable) -> Extent {
        // All types have been checked.
        self.sizes.variable_extent(variable, 0).unwrap_or(Extent { size: 0, align: 1, height: 0 })
    }

    fn unit(&self, unit: &TypedUnit, id: UnitId, globals: &[Spot], areas: &Areas) -> UnitStorage {
        let instance = (!has_frame(unit.kind)).then(|| self.sizes.instance(id));
        let mut frame = Packer::default();
        let mut variables = vec![None; unit.variables.len()];
        // Inputs and addresses come first: the caller has set them, so the reset must not touch them.
        let (given, reset): (&[_], &[_]) = match instance {
            None => (
                &[SectionKind::Input, SectionKind::InOut],
                &[SectionKind::Output, SectionKind::Var, SectionKind::Temp],
            ),
            Some(_) => (&[], &[SectionKind::Temp]),
        };
        let is_open = |variable: &Variable| open_dimensions(self.program, variable).is_some();
        self.frame_part(unit, id, given, &mut frame, &mut variables);
        // The caller says which array an output of any bounds is.
        if instance.is_none() {
            self.frame_part_of(unit, id, &[SectionKind::Output], &is_open, &mut frame, &mut variables);
        }
        frame.size = align_up(frame.size, 8);
        let start = frame.size;
        self.frame_part_of(unit, id, reset, &|variable| !is_open(variable), &mut frame, &mut variables);
        let end = frame.size;
        let kept = |variable: &Variable| instance.is_some() && is_member(variable);
        let passing = unit.variables.iter().enumerate();
        for (index, variable) in passing.filter(|(_, variable)| variable.hidden && !kept(variable)) {
            let spot = Spot::new(Base::Frame(id), frame.place(self.extent(variable)));
            variables[index] = Some(Storage { spot, indirect: is_indirect(self.program, variable) });
        }
        let variables =
            unit.variables.iter().zip(variables).enumerate().map(|(index, (variable, storage))| {
                storage.unwrap_or_else(|| {
                    let offset =
                        instance.as_ref().and_then(|instance| instance.offsets.get(index).copied().flatten());
                    let link = self.program.configuration.as_ref();
                    let link = link.and_then(|known| known.linked.get(&(id, VariableId(index as u32))));
                    if let Some(cell) = link.and_then(|link| globals.get(link.0 as usize)) {
                        return Storage { spot: *cell, indirect: true };
                    }
                    let location = variable
                        .location
                        .as_ref()
                        .filter(|location| !crate::configuration::is_open(location));
                    let spot = match (location, variable.global, offset) {
                        (Some(location), _, _) => Some(areas.spot(location)),
                        (None, Some(global), _) => globals.get(global.0 as usize).copied(),
                        (None, None, offset) => offset.map(|offset| Spot::new(Base::Instance, offset)),
                    };
                    // Every variable of a checked unit is in one of these.
                    let spot = spot.unwrap_or(Spot::new(Base::Data, u32::MAX));
                    Storage { spot, indirect: is_indirect(self.program, variable) }
                })
            });
        let variables = variables.collect();
        let reset = (end > start).then(|| ResetRange { offset: start as u32, size: (end - start) as u32 });
        let frame_bytes = u32::try_from(align_up(frame.size, 8)).unwrap_or(u32::MAX);
        UnitStorage { variables, instance, frame_bytes, reset }
    }

    fn frame_part(
        &self,
        unit: &TypedUnit,
        id: UnitId,
        sections: &[SectionKind],
        frame: &mut Packer,
        variables: &mut [Option<Storage>],
    ) {
        self.frame_part_of(unit, id, sections, &|_| true, frame, variables);
    }

    fn frame_part_of(
        &self,
        unit: &TypedUnit,
        id: UnitId,
        sections: &[SectionKind],
        wanted: &dyn Fn(&Variable) -> bool,
        frame: &mut Packer,
        variables: &mut [Option<Storage>],
    ) {
        let order = SECTION_ORDER.iter().chain(&[SectionKind::Temp]);
        for section in order.filter(|section| sections.contains(section)) {
            for (variable, storage) in unit.variables.iter().zip(variables.iter_mut()) {
                let here = variable.section == *section && !variable.hidden && wanted(variable);
                if here && variable.location.is_none() {
                    let spot = Spot::new(Base::Frame(id), frame.place(self.extent(variable)));
                    *storage = Some(Storage { spot, indirect: is_indirect(self.program, variable) });
                }
            }
        }
    }
}

/// Whether the variables of a unit are in its frame; those of the others are in instances.
fn has_frame(kind: UnitKind) -> bool {
    matches!(kind, UnitKind::Function | UnitKind::Method)
}

fn take(next: &mut u64, extent: Extent) -> u32 {
    let start = align_up(*next, extent.align);
    *next = start.saturating_add(extent.size);
    u32::try_from(start).unwrap_or(u32::MAX)
}

fn too_large(span: Span, what: &str, bytes: u64) -> Diagnostic {
    let needs = if bytes == u64::MAX {
        format!("`{what}` needs more memory than can be counted")
    } else {
        format!("`{what}` needs {bytes} bytes of memory")
    };
    Diagnostic::error("data-too-large", span, needs)
        .label("too large")
        .note(format!("All data of a program together may take at most {} bytes.", limits::DATA_BYTES))
        .note("Give the array fewer elements or a smaller element type.")
}

fn too_deep(span: Span) -> Diagnostic {
    Diagnostic::error("type-nesting", span, "the types of this variable are nested too deep").note(format!(
        "Structures, arrays and instances may stand inside one another at most {} times.",
        super::sizes::TYPE_NESTING_MAX
    ))
}

//! What a configuration adds to an image: resources and tasks, places and values of single instances, and the names
//! under which all of it is seen.
//!
//! Implements IEC 61131-3:2013, 6.8. Names are `Resource.Program.variable` and `Resource.Task`; without a
//! configuration there is one task that runs an instance of every program, named like its type.

use latchwork_grammar::{Diagnostic, Names};
use latchwork_vm::{ImageBuilder, NO_STATUS, ProgramCall, Task, limits};

use crate::{
    layout::{Base, Spot, paths::place_of, pool::Pool},
    lower::{Context, resolver::Resolver},
    typed::{Access, Single, TypedConfiguration, TypedProgram},
};

/// Time between two scans if no task asks for another one.
const DEFAULT_INTERVAL_NS: i64 = 10_000_000;

/// Priority of the task that runs everything when there is no configuration.
const DEFAULT_PRIORITY: u32 = 1;

/// The places of the constants that SINGLE may be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SingleConstants {
    no: Spot,
    yes: Spot,
}

impl SingleConstants {
    pub(crate) fn new(pool: &mut Pool) -> Self {
        SingleConstants { no: pool.constant(&[0], 1), yes: pool.constant(&[1], 1) }
    }
}

/// Whether a configuration has a task whose SINGLE is a constant.
pub(crate) fn needs_single_constants(program: &TypedProgram) -> bool {
    let tasks = program.configuration.iter().flat_map(|configuration| &configuration.resources);
    tasks.flat_map(|resource| &resource.tasks).any(|task| matches!(task.single, Some(Single::Always(_))))
}

/// Adds the resources and tasks.
pub(crate) fn add_tasks(
    context: &Context<'_>,
    resolver: &Resolver<'_>,
    constants: Option<SingleConstants>,
    names: &Names,
    image: &mut ImageBuilder,
) -> Result<(), Box<Diagnostic>> {
    let storage = context.storage;
    let Some(configuration) = &context.program.configuration else {
        let programs: Vec<ProgramCall> =
            storage.programs.iter().map(|(unit, base)| ProgramCall { unit: unit.0, base: *base }).collect();
        if !programs.is_empty() {
            let task = Task { priority: DEFAULT_PRIORITY, ..Task::cyclic("cyclic", programs) };
            image.tasks.push(task);
        }
        return Ok(());
    };
    let mut interval = 0;
    for (resource, index) in configuration.resources.iter().zip(0..) {
        if let Some(name) = resource.name {
            image.resources.push(names.spelling(name).to_owned());
        }
        for (task, number) in resource.tasks.iter().zip(0..) {
            let programs = task.runs.iter().map(|run| ProgramCall {
                unit: run.unit.0,
                base: storage.globals.get(run.instance.0 as usize).map_or(0, |spot| resolver.absolute(*spot)),
            });
            let single = match (&task.single, constants) {
                (Some(Single::Always(value)), Some(constants)) => {
                    Some(resolver.absolute(if *value { constants.yes } else { constants.no }))
                }
                (Some(Single::Variable(access)), _) => single_place(context, resolver, access),
                _ => None,
            };
            interval = divisor(interval, task.interval_ns);
            image.tasks.push(Task {
                name: task.name.map_or("cyclic", |name| names.spelling(name)).to_owned(),
                resource: index,
                interval_ns: task.interval_ns,
                cyclic: task.name.is_none(),
                single,
                priority: task.priority,
                programs: programs.collect(),
                status: storage.statuses.get(&(index, number)).copied().unwrap_or(NO_STATUS),
            });
        }
    }
    image.base_interval_ns = if interval > 0 { interval } else { DEFAULT_INTERVAL_NS };
    check_limits(configuration, image)
}

fn check_limits(configuration: &TypedConfiguration, image: &ImageBuilder) -> Result<(), Box<Diagnostic>> {
    let programs: usize = image.tasks.iter().map(|task| task.programs.len()).sum();
    let (what, limit) = if image.tasks.len() > limits::TASKS {
        ("tasks", limits::TASKS)
    } else if programs > limits::PROGRAM_CALLS {
        ("program instances", limits::PROGRAM_CALLS)
    } else {
        return Ok(());
    };
    let error = Diagnostic::error(
        "program-too-large",
        configuration.span,
        format!("the configuration has too many {what}"),
    );
    Err(Box::new(error.note(format!("There may be at most {limit} of them."))))
}

fn single_place(context: &Context<'_>, resolver: &Resolver<'_>, access: &Access) -> Option<u32> {
    let start = match &access.root {
        crate::typed::Root::Global(global) => context.program.globals.get(global.0 as usize)?.kind,
        _ => access.ty,
    };
    place_of(context.program, context.storage, access, start).map(|spot| resolver.absolute(spot))
}

/// The greatest common divisor of two intervals, 0 standing for none.
fn divisor(mut left: i64, mut right: i64) -> i64 {
    while right != 0 {
        (left, right) = (right, left % right);
    }
    left
}

/// Writes what VAR_CONFIG says: the cells of variables with places of their own, then the values.
pub(crate) fn write_instances(context: &Context<'_>, resolver: &Resolver<'_>, image: &mut ImageBuilder) {
    let Some(configuration) = &context.program.configuration else { return };
    let (program, storage) = (context.program, context.storage);
    for place in &configuration.places {
        let crate::typed::Root::Global(global) = place.variable.root else { continue };
        let Some(start) = program.globals.get(global.0 as usize).map(|global| global.kind) else { continue };
        if let Some(cell) = place_of(program, storage, &place.variable, start) {
            let address = storage.areas.spot(&place.address).offset;
            image.write(resolver.absolute(cell), &address.to_le_bytes());
        }
    }
    for value in &configuration.values {
        let target = &value.target;
        let Some(spot) = place_of(program, storage, &target.access, target.start) else { continue };
        let kind = target.access.ty;
        let mut content = vec![0; storage.sizes.size(kind) as usize];
        context.initial.default(kind, &mut content);
        context.initial.value(kind, &value.value, &mut content);
        debug_assert!(spot.base == Base::Data);
        let address = resolver.absolute(spot);
        image.write(address, &content);
        let mut put = |at: u32, target: u32| image.write(at, &target.to_le_bytes());
        context.references.default(kind, address, &mut put);
        context.references.value(kind, &value.value, address, None, &mut put);
    }
}

#[cfg(test)]
mod tests {
    use super::divisor;

    #[test]
    fn the_base_interval_divides_every_interval() {
        let found = [20, 0, 30].into_iter().fold(0, divisor);
        assert_eq!(found, 10);
        assert_eq!(divisor(0, 0), 0);
    }
}

//! Putting an image together: final places, cold-start content, code, tasks, debug tables.
//!
//! The order of the data image is areas, globals, program instances, frames, constants. Without a
//! configuration there is one cyclic task with an instance of every PROGRAM, named like its type, in textual
//! order. Implements IEC 61131-3:2013, 6.8 as far as that default goes.

use std::{cell::Cell, collections::BTreeSet};

use latchwork_grammar::{
    Diagnostic, Names, Sources, Span,
    tree::{Area, UnitKind},
};
use latchwork_vm::{
    AreaKind, BuildError, DataLayout, DispatchTarget, Image, ImageBuilder, LocatedBit, Region, limits,
};

use crate::{
    configuration::is_open,
    deploy::{self, SingleConstants},
    layout::{Base, Spot, align_up, debug, initial::tag, pool::Pool, retain::Retained},
    lower::{Context, code::UnitCode, frame_content, machine_kind, resolver::Resolver},
    typed::TypedProgram,
    types::UnitId,
};

/// Reports calls that nest deeper than the machine allows.
pub(crate) fn check_calls(
    program: &TypedProgram,
    codes: &[UnitCode],
    names: &Names,
    errors: &mut Vec<Diagnostic>,
) {
    // Depth of each unit below which nothing is called: 1. A unit is finished when all it calls are; the
    // checker has refused recursion, so this ends.
    let mut depth = vec![0usize; codes.len()];
    let callees: Vec<BTreeSet<UnitId>> =
        codes.iter().map(|code| code.calls.iter().map(|(callee, _)| *callee).collect()).collect();
    let mut waiting: Vec<usize> = callees.iter().map(BTreeSet::len).collect();
    let mut callers = vec![Vec::new(); codes.len()];
    for (caller, callees) in callees.iter().enumerate() {
        for callee in callees {
            if let Some(list) = callers.get_mut(callee.0 as usize) {
                list.push(caller);
            }
        }
    }
    let mut ready: Vec<usize> = (0..codes.len()).filter(|unit| waiting.get(*unit) == Some(&0)).collect();
    while let Some(unit) = ready.pop() {
        let own = depth.get(unit).copied().unwrap_or(0) + 1;
        if let Some(slot) = depth.get_mut(unit) {
            *slot = own;
        }
        for caller in callers.get(unit).into_iter().flatten() {
            if let (Some(deepest), Some(left)) = (depth.get_mut(*caller), waiting.get_mut(*caller)) {
                *deepest = (*deepest).max(own);
                *left -= 1;
                if *left == 0 {
                    ready.push(*caller);
                }
            }
        }
    }
    // A stub stands one level above its program, and its message only where that has none.
    let is_stub = |index: usize| {
        let stubs = program.configuration.as_ref().map(|configuration| &configuration.stubs);
        stubs.is_some_and(|stubs| stubs.contains_key(&UnitId(index as u32)))
    };
    let deepest = program.units.iter().zip(&depth).enumerate().filter(|(index, (unit, depth))| {
        unit.kind == UnitKind::Program || is_stub(*index) && **depth == limits::CALL_DEPTH + 1
    });
    for (_, (unit, depth)) in deepest.filter(|(_, (_, depth))| **depth > limits::CALL_DEPTH) {
        let name = names.spelling(unit.name);
        errors.push(
            Diagnostic::error("call-depth", unit.span, format!("`{name}` calls units {depth} levels deep"))
                .note(format!("Calls may nest at most {} levels deep.", limits::CALL_DEPTH)),
        );
    }
}

/// Reports more tables of calls that depend on the instance than an image can have.
pub(crate) fn check_tables(program: &TypedProgram, errors: &mut Vec<Diagnostic>) {
    let rows = program.dispatch.iter().map(|dispatch| dispatch.targets.len());
    let rows: usize = rows.chain(program.fits.iter().map(Vec::len)).sum();
    let tables = program.dispatch.len() + program.fits.len();
    if rows <= limits::DISPATCH_TARGETS && tables <= limits::DISPATCH_TABLES {
        return;
    }
    let first = program.dispatch.first().and_then(|dispatch| dispatch.prototype);
    let unit = first.and_then(|unit| program.units.get(unit.0 as usize)).or(program.units.first());
    errors.push(
        Diagnostic::error(
            "program-too-large",
            unit.map_or_else(Span::default, |unit| unit.span),
            "too many method calls depend on the type of an instance, for too many types",
        )
        .note(format!(
            "An image may have at most {} tables for such calls, with {} rows together.",
            limits::DISPATCH_TABLES,
            limits::DISPATCH_TARGETS
        ))
        .note("Call through fewer different interfaces and base types."),
    );
}

/// Puts the image together.
pub(crate) fn assemble(
    context: &Context<'_>,
    mut pool: Pool,
    codes: &[UnitCode],
    sources: &Sources,
    names: &Names,
) -> Result<Image, Box<Diagnostic>> {
    let program = context.program;
    let storage = context.storage;
    let single_constants = deploy::needs_single_constants(program).then(|| SingleConstants::new(&mut pool));
    let mut image = ImageBuilder::new();
    let files = sources.iter().map(|(_, file)| image.file(&file.name)).collect();
    let mut next = u64::from(storage.end);
    let mut take = |bytes: u32| {
        let start = align_up(next, 8);
        next = start.saturating_add(u64::from(bytes));
        u32::try_from(start).unwrap_or(u32::MAX)
    };
    let frames = storage.units.iter().map(|places| take(places.frame_bytes)).collect();
    let temporaries_start = take(0);
    // Each unit has its own, so those of a caller survive the call.
    let temporaries = codes.iter().zip(&storage.units);
    let temporaries =
        temporaries.map(|(code, places)| (places.frame_bytes, take(code.temporary_bytes))).collect();
    let constants = align_up(next, 8);
    let total = constants.saturating_add(u64::from(pool.len()));
    if pool.overflowed() || total > limits::DATA_BYTES as u64 {
        let span = program.units.first().map_or_else(Span::default, |unit| unit.span);
        return Err(Box::new(
            Diagnostic::error("data-too-large", span, "the program needs too much memory").note(format!(
                "Variables, frames and constants together may take at most {} bytes.",
                limits::DATA_BYTES
            )),
        ));
    }
    // All of it is below DATA_BYTES, checked above.
    let constants = constants as u32;
    let frames_start = align_up(u64::from(storage.end), 8) as u32;
    let frames_region = Region { start: frames_start, size: constants - frames_start };
    // The constants lie behind them, checked above.
    let temporaries_region = Region { start: temporaries_start, size: constants - temporaries_start };
    let dispatch = dispatch_tables(program, names, &mut image);
    let last = Cell::default();
    let resolver = Resolver { frames, temporaries, constants, sources, files, dispatch, last };
    image.data.resize(total as usize, 0);
    let constants_region = Region { start: constants, size: pool.len() };
    let content = pool.finish(|spot| resolver.absolute(spot));
    image.write(constants, &content);
    write_variables(context, &resolver, &mut image);
    deploy::write_instances(context, &resolver, &mut image);
    image.layout = layout(context, constants_region, frames_region, temporaries_region)?;
    image.bits = bits(context);
    pack_initial_bits(&mut image);
    add_units(context, codes, &resolver, names, &mut image)?;
    deploy::add_tasks(context, &resolver, single_constants, names, &mut image)?;
    debug::describe(program, storage, names, &|spot| resolver.absolute(spot), &mut image);
    image.finish().map_err(|error| too_large(program, &error))
}

/// Writes the initial values of everything that has a place of its own.
fn write_variables(context: &Context<'_>, resolver: &Resolver<'_>, image: &mut ImageBuilder) {
    let program = context.program;
    let storage = context.storage;
    let mut write = |address: u32, size: u32, fill: &mut dyn FnMut(&mut [u8])| {
        let mut content = vec![0; size as usize];
        fill(&mut content);
        image.write(address, &content);
    };
    // References are put over the bytes: addresses, and what stands there.
    let mut addresses: Vec<(u32, u32)> = Vec::new();
    let mut put = |at: u32, address: u32| addresses.push((at, address));
    for (variable, spot) in program.globals.iter().zip(&storage.globals) {
        let size = storage.sizes.size(variable.kind);
        write(resolver.absolute(*spot), size, &mut |out| context.initial.variable(variable, out));
        context.references.variable(variable, resolver.absolute(*spot), None, &mut put);
    }
    for (id, address) in &storage.programs {
        let size = storage.sizes.instance(*id).extent.size as u32;
        write(*address, size, &mut |out| context.initial.instance(*id, out));
        context.references.instance(*id, *address, &mut put);
    }
    for ((unit, places), index) in program.units.iter().zip(&storage.units).zip(0..) {
        for (variable, place) in unit.variables.iter().zip(&places.variables) {
            if variable.location.is_some() && place.spot.base == Base::Data {
                let size = storage.sizes.size(variable.kind);
                write(resolver.absolute(place.spot), size, &mut |out| {
                    context.initial.variable(variable, out)
                });
            }
        }
        let id = UnitId(index);
        let content = frame_content(context, id);
        write(resolver.absolute(Spot::new(Base::Frame(id), 0)), content.len() as u32, &mut |out| {
            out.copy_from_slice(&content);
        });
    }
    for (at, address) in addresses {
        image.write(at, &address.to_le_bytes());
    }
}

fn layout(
    context: &Context<'_>,
    constants: Region,
    frames: Region,
    temporaries: Region,
) -> Result<DataLayout, Box<Diagnostic>> {
    let program = context.program;
    let storage = context.storage;
    let region = |(start, size): (u64, u64)| Region { start: start as u32, size: size as u32 };
    let [inputs, outputs, memory] = storage.areas.regions.map(region);
    let mut retained = Retained::new(program, &storage.sizes, limits::RETAINED_REGIONS);
    for (variable, spot) in program.globals.iter().zip(&storage.globals) {
        // Links lie in a frame and keep nothing.
        if spot.base == Base::Data {
            retained.variable(variable, spot.offset);
        }
    }
    for (id, address) in &storage.programs {
        retained.instance(*id, *address);
    }
    for (_, id) in program.units.iter().zip(0..).filter(|(unit, _)| unit.kind == UnitKind::Program) {
        let id = UnitId(id);
        let unit = program.units.get(id.0 as usize).zip(storage.units.get(id.0 as usize));
        for (variable, place) in
            unit.iter().flat_map(|(unit, places)| unit.variables.iter().zip(&places.variables))
        {
            if variable.location.as_deref().is_some_and(|location| !is_open(location)) {
                retained.variable(variable, place.spot.offset);
            }
        }
    }
    let retained = retained.finish().ok_or_else(|| {
        let span = program.units.first().map_or_else(Span::default, |unit| unit.span);
        let error = Diagnostic::error("data-too-large", span, "the program has too many retained variables");
        Box::new(
            error.note(format!("There may be at most {} separate retained parts.", limits::RETAINED_REGIONS)),
        )
    })?;
    Ok(DataLayout { inputs, outputs, memory, constants, retained, frames, temporaries })
}

fn bits(context: &Context<'_>) -> Vec<LocatedBit> {
    let located = context.storage.areas.bits();
    located
        .map(|bit| LocatedBit {
            place: bit.slot,
            byte: bit.byte,
            bit: bit.bit,
            area: match bit.area {
                Area::Input => AreaKind::Input,
                Area::Output => AreaKind::Output,
                Area::Memory => AreaKind::Memory,
            },
        })
        .collect()
}

/// Makes the packed areas agree with the initial values of located bits, so that the outputs are right before
/// the first scan. A bit that is TRUE in either, the area or its own place, is TRUE in both.
fn pack_initial_bits(image: &mut ImageBuilder) {
    for bit in &image.bits {
        let mask = 1 << bit.bit;
        let (own, byte) = (bit.place as usize, bit.byte as usize);
        let set =
            image.data.get(own) == Some(&1) || image.data.get(byte).is_some_and(|byte| byte & mask != 0);
        if set {
            if let Some(own) = image.data.get_mut(own) {
                *own = 1;
            }
            if let Some(byte) = image.data.get_mut(byte) {
                *byte |= mask;
            }
        }
    }
}

/// Enters the tables of calls and attempts that depend on the instance.
fn dispatch_tables(program: &TypedProgram, names: &Names, image: &mut ImageBuilder) -> Vec<u32> {
    let title = |unit: Option<UnitId>| {
        let unit = unit.and_then(|unit| program.units.get(unit.0 as usize));
        // The words behind the name of a unit that only takes arguments are no part of the method's.
        unit.map_or("", |unit| names.spelling(unit.name).trim_end_matches(" (arguments)"))
    };
    let target = |instance: UnitId, unit: UnitId| DispatchTarget { tag: tag(instance), unit: unit.0 };
    let calls = program.dispatch.iter().map(|dispatch| {
        let targets = dispatch.targets.iter().map(|(instance, unit)| target(*instance, *unit)).collect();
        (title(dispatch.prototype.or(dispatch.targets.first().map(|(_, unit)| *unit))), targets)
    });
    let attempts = program.fits.iter().map(|units| {
        (title(units.first().copied()), units.iter().map(|unit| target(*unit, *unit)).collect())
    });
    calls.chain(attempts).map(|(name, targets)| image.dispatch_table(name, targets)).collect()
}

fn add_units(
    context: &Context<'_>,
    codes: &[UnitCode],
    resolver: &Resolver<'_>,
    names: &Names,
    image: &mut ImageBuilder,
) -> Result<(), Box<Diagnostic>> {
    let program = context.program;
    let count: usize = codes.iter().map(UnitCode::len).sum();
    if count > limits::INSTRUCTIONS || codes.len() > limits::UNITS {
        let span = program.units.first().map_or_else(Span::default, |unit| unit.span);
        let error = Diagnostic::error("program-too-large", span, "the program has too many instructions");
        return Err(Box::new(
            error.note(format!("An image may have at most {} instructions.", limits::INSTRUCTIONS)),
        ));
    }
    let stubs = program.configuration.as_ref().map(|configuration| &configuration.stubs);
    for (index, ((unit, code), places)) in
        program.units.iter().zip(codes).zip(&context.storage.units).enumerate()
    {
        // A stub stands for its program.
        let stub = stubs.and_then(|stubs| stubs.get(&UnitId(index as u32)));
        let kind = if stub.is_some() { latchwork_vm::UnitKind::Program } else { machine_kind(unit.kind) };
        let shown =
            stub.and_then(|stub| context.storage.units.get(stub.program.0 as usize)).unwrap_or(places);
        let owner = unit.object.owner.map(|owner| context.storage.sizes.instance(owner));
        let instance = shown.instance.as_ref().or(owner.as_ref());
        let instance_bytes = instance.map_or(0, |instance| instance.extent.size as u32);
        let finished = code
            .finish(names.spelling(unit.name), kind, instance_bytes, resolver, image)
            .map_err(|error| too_large(program, &error))?;
        image.add_unit(finished);
    }
    Ok(())
}

fn too_large(program: &TypedProgram, error: &BuildError) -> Box<Diagnostic> {
    let span = program.units.first().map_or_else(Span::default, |unit| unit.span);
    Box::new(match error {
        BuildError::TooLarge { .. } => Diagnostic::error("program-too-large", span, error.to_string()),
        _ => Diagnostic::error("internal", span, error.to_string())
            .note("This is a mistake of the compiler. Please report it with the source text."),
    })
}

//! From a checked program to the machine's image.
//!
//! ```text
//! TypedProgram --layout--> places --lower (unit by unit)--> code with spots --image--> Image
//! ```
//!
//! Three-address code straight into destinations: `x := a + b` is one instruction. Expressions are evaluated
//! as IEC 61131-3:2013, 7.3.2 says, with the choices of the language manual: both operands always, left one
//! first; arguments in textual order; the right side of an assignment before the subscripts of its target.
//! The only errors are limits of the machine: everything else has been found by the checker.

mod access;
mod block;
mod boolean;
mod byte_order;
mod call;
pub(crate) mod code;
mod control;
mod decision;
mod enable;
mod expression;
mod first_writes;
mod located;
mod method;
mod model;
mod native;
mod note;
mod observe;
mod observe_branch;
mod open_array;
mod operands;
mod outputs;
pub(crate) mod resolver;
mod selection;
mod standard;
mod statement;
mod stub;
mod text;
mod unit;
mod units;
mod wording;

pub(crate) use unit::{frame_content, machine_kind};

use std::collections::BTreeMap;

use latchwork_grammar::{Diagnostic, Name, Names, Sources};
use latchwork_vm::Image;

use self::{note::Modeller, observe::Observer};
use crate::{
    CompileOptions,
    coverage::CoverageMap,
    image,
    layout::{initial::InitialData, pool::Pool, references::References, storage::ProgramStorage},
    logic::Logic,
    typed::{Statement, TypedProgram},
};

/// The diagnostics of the lowering: name and one line about each.
pub const CATALOGUE: &[(&str, &str)] = &[
    ("data-too-large", "the variables need more memory than a program may have"),
    ("type-nesting", "structures, arrays or instances are nested too deep"),
    ("call-depth", "calls of functions and function blocks are nested too deep"),
    ("program-too-large", "the program has too many instructions"),
    ("internal", "a mistake of the compiler itself, to be reported"),
];

/// What the lowering of every unit needs and does not change.
pub(crate) struct Context<'a> {
    /// The program.
    pub program: &'a TypedProgram,
    /// Places.
    pub storage: &'a ProgramStorage<'a>,
    /// Initial values.
    pub initial: InitialData<'a>,
    /// References in initial values.
    pub references: References<'a>,
    /// Frame bytes of the native routines.
    pub natives: BTreeMap<&'static str, u32>,
    /// The name `EN`, if it occurs.
    pub en: Option<Name>,
    /// The name `ENO`, if it occurs.
    pub eno: Option<Name>,
    /// The text.
    pub sources: &'a Sources,
    /// The names in it.
    pub names: &'a Names,
}

/// What the units share while they are lowered.
#[derive(Debug, Default)]
pub(crate) struct Shared {
    /// The constants.
    pub pool: Pool,
    /// What went wrong.
    pub errors: Vec<Diagnostic>,
    /// What the image notes of itself, if coverage is to be measured.
    pub observer: Option<Observer>,
    /// What the image notes of its statements, if it is to keep a journal.
    pub modeller: Option<Modeller>,
}

/// What a program has become.
#[derive(Clone, Debug)]
pub struct Lowered {
    /// The image.
    pub image: Image,
    /// What it observes of itself, if that was asked for.
    pub coverage: Option<CoverageMap>,
    /// What it notes of itself in a journal, if that was asked for.
    pub logic: Option<Logic>,
}

/// Lowers a program that has been checked without errors.
///
/// # Errors
/// Limits of the machine that the program exceeds: size of the data, nesting of types, depth of calls, number
/// of instructions.
pub fn lower(program: &TypedProgram, sources: &Sources, names: &Names) -> Result<Image, Vec<Diagnostic>> {
    lower_with(program, sources, names, &CompileOptions::default()).map(|lowered| lowered.image)
}

/// As [`lower`], for an image that measures coverage or keeps a journal where the options say so, with what it notes.
///
/// # Errors
/// As for [`lower`]. Observing takes instructions, so a very large program may exceed their limit only with it.
pub fn lower_with(
    program: &TypedProgram,
    sources: &Sources,
    names: &Names,
    options: &CompileOptions,
) -> Result<Lowered, Vec<Diagnostic>> {
    lower_bodies(program, std::iter::repeat_with(Vec::new), sources, names, options)
}

/// As [`lower_with`], for a caller who needs the program no more: each body is given back when it is lowered.
///
/// # Errors
/// As for [`lower_with`].
pub(crate) fn lower_and_release(
    mut program: TypedProgram,
    sources: &Sources,
    names: &Names,
    options: &CompileOptions,
) -> Result<Lowered, Vec<Diagnostic>> {
    // The debug tables tell the addresses in the others.
    let bodies = program.units.iter_mut().map(|unit| match unit.may_use_addresses {
        true => Vec::new(),
        false => std::mem::take(&mut unit.body),
    });
    let bodies: Vec<Vec<Statement>> = bodies.collect();
    lower_bodies(&program, bodies.into_iter(), sources, names, options)
}

fn lower_bodies(
    program: &TypedProgram,
    released: impl Iterator<Item = Vec<Statement>>,
    sources: &Sources,
    names: &Names,
    options: &CompileOptions,
) -> Result<Lowered, Vec<Diagnostic>> {
    let storage = ProgramStorage::new(program, names)?;
    let context = Context {
        program,
        storage: &storage,
        initial: InitialData { program, sizes: &storage.sizes },
        references: References::new(program, &storage),
        natives: latchwork_stdlib::natives().iter().map(|native| (native.name, native.frame_bytes)).collect(),
        en: names.find("EN"),
        eno: names.find("ENO"),
        sources,
        names,
    };
    let mut shared = Shared {
        observer: options.coverage.then(Observer::default),
        modeller: options.journal.then(Modeller::default),
        ..Shared::default()
    };
    let codes = units::lower_all(&context, &mut shared, released);
    image::check_calls(program, &codes, names, &mut shared.errors);
    image::check_tables(program, &mut shared.errors);
    if shared.errors.is_empty() {
        let image =
            image::assemble(&context, shared.pool, &codes, sources, names).map_err(|error| vec![*error])?;
        let coverage = shared.observer.map(Observer::finish);
        Ok(Lowered { image, coverage, logic: shared.modeller.map(Modeller::finish) })
    } else {
        Err(shared.errors)
    }
}

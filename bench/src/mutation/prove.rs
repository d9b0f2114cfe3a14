//! Whether the procedures notice a fault.

use std::sync::Arc;

use latchwork_compiler::{CompileOptions, compile_with};
use latchwork_grammar::{Diagnostic, Severity, Sources};
use latchwork_vm::{Image, Program};

use crate::{
    procedure::{ProcedureTexts, RunOptions, Script, Verdict},
    station::Station,
};

/// A procedure by its file and its number in it, both from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Chosen {
    pub(super) file: usize,
    pub(super) procedure: usize,
}

/// What the compiler made of a text.
pub(super) enum Built {
    Program(Arc<Program>),
    /// There is no program, for these reasons.
    Nothing(Vec<Diagnostic>),
}

/// Compiles a program.
pub(super) fn build(sources: &Sources, options: &CompileOptions) -> Built {
    let compilation = compile_with(sources, options);
    let Some(image) = compilation.image else { return Built::Nothing(errors(compilation.diagnostics)) };
    match Program::load(image, latchwork_stdlib::natives()) {
        Ok(program) => Built::Program(Arc::new(program)),
        // Only what is too large for a machine passes the compiler and not the verifier.
        Err(_) => Built::Nothing(Vec::new()),
    }
}

/// Whether two programs are the same: code, data and all that can be named. Where in the text it stands does not count.
pub(super) fn is_same(one: &Image, other: &Image) -> bool {
    one.code == other.code
        && one.data == other.data
        && one.layout == other.layout
        && one.bits == other.bits
        && one.units == other.units
        && one.ranges == other.ranges
        && one.natives == other.natives
        && one.tasks == other.tasks
        && one.dispatch == other.dispatch
        && one.resources == other.resources
        && one.base_interval_ns == other.base_interval_ns
        && one.debug.types == other.debug.types
        && one.debug.roots == other.debug.roots
}

/// The first of some procedures that a program does not pass, and the scans that were run.
pub(super) fn noticed(
    program: &Arc<Program>,
    station: Option<&Station>,
    files: &[ProcedureTexts<'_>],
    chosen: &[Chosen],
    options: &RunOptions,
) -> (Option<Chosen>, u64) {
    let mut scans = 0;
    let mut made: Option<(usize, Result<Script<'_>, Vec<Diagnostic>>)> = None;
    for one in chosen {
        if made.as_ref().is_none_or(|(file, _)| *file != one.file) {
            made = files.get(one.file).map(|file| (one.file, file.script(program, station)));
        }
        match &made {
            Some((_, Ok(script))) => {
                let outcome = script.run(one.procedure, options);
                scans += outcome.scans;
                if !matches!(outcome.verdict, Verdict::Passed) {
                    return (Some(*one), scans);
                }
            }
            // What cannot be run on a program earns no points there.
            Some((_, Err(_))) => return (Some(*one), scans),
            None => {}
        }
    }
    (None, scans)
}

pub(super) fn errors(mut problems: Vec<Diagnostic>) -> Vec<Diagnostic> {
    problems.retain(|problem| problem.severity == Severity::Error);
    problems
}

//! A program and a station that are given on the command line, for what needs no procedure.

use std::{
    path::{Path, PathBuf},
    sync::Arc,
};

use latchwork_bench::wiring_proof::observed::Board;
use latchwork_compiler::render;
use latchwork_grammar::{Diagnostic, Severity, Sources};
use latchwork_vm::Program;

use super::{program::Compiled, station::TestStation, suite::Shared};
use crate::{
    arguments::LanguageArguments,
    exit::{Exit, Failure},
    terminal::Terminal,
};

/// Time from one scan to the next if the program does not ask for another.
const DEFAULT_SCAN_NS: i64 = 10_000_000;

/// A program and a station that fit together.
pub(super) struct ReadBoard {
    program: Arc<Program>,
    /// The station with its texts.
    pub(super) station: Arc<TestStation>,
}

impl ReadBoard {
    /// The board; there is one unless the station is wrong.
    pub(super) fn board(&self) -> Option<Board<'_>> {
        let suiting = self.program.image().base_interval_ns;
        Some(Board {
            program: Arc::clone(&self.program),
            station: self.station.station.as_ref()?,
            scan_ns: if suiting > 0 { suiting } else { DEFAULT_SCAN_NS },
        })
    }
}

/// Reads both, and compares them.
pub(super) fn read(
    station: &Path,
    program: &[PathBuf],
    language: LanguageArguments,
    shared: &mut Shared,
    terminal: &Terminal,
) -> Result<ReadBoard, Failure> {
    let read = shared.stations.of(station, language)?;
    let program = shared.programs.of(program.to_vec());
    let program = match program.compiled(language) {
        Compiled::Ready { program, .. } => Arc::clone(program),
        Compiled::Errors { diagnostics, sources } => {
            return Err(shown(diagnostics, sources, Exit::Findings, terminal));
        }
        Compiled::Unusable(message) => return Err(Failure::usage(message.clone())),
    };
    let unfit = read.station.as_ref().map(|station| station.check(&program)).unwrap_or_default();
    if unfit.iter().any(|problem| problem.severity == Severity::Error) {
        return Err(shown(&unfit, &read.sources, Exit::Usage, terminal));
    }
    Ok(ReadBoard { program, station: read })
}

/// Shows what is wrong, and ends the command.
pub(super) fn shown(problems: &[Diagnostic], sources: &Sources, exit: Exit, terminal: &Terminal) -> Failure {
    terminal.say(&render::text(problems, sources, terminal.message_colour()));
    Failure::shown(exit)
}

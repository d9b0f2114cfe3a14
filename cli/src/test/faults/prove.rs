//! The runs, on many threads: first those without a fault, then those with each.

use std::sync::atomic::AtomicBool;

use latchwork_bench::{
    procedure::Script,
    station::Station,
    wiring_proof::{self, FaultRun, SingleFault, SoundRun},
};
use latchwork_compiler::render;
use latchwork_grammar::Diagnostic;

use super::{Severity, arguments::FaultsArguments};
use crate::{
    exit::{Exit, Failure},
    interrupt,
    progress::Progress,
    terminal::Terminal,
    test::{
        case::Work,
        pool::{self, Piece, Results},
        select::Case,
    },
};

/// All runs that were made.
pub(super) struct Proved {
    runs: Vec<(Case, SoundRun, Vec<FaultRun>)>,
    pub(super) exit: Severity,
}

impl Proved {
    /// Those of a file on a program.
    pub(super) fn take(&mut self, suite: usize, variant: usize) -> Vec<(Case, SoundRun, Vec<FaultRun>)> {
        let is_of = |run: &(Case, SoundRun, Vec<FaultRun>)| run.0.suite == suite && run.0.variant == variant;
        let (taken, rest) = std::mem::take(&mut self.runs).into_iter().partition(is_of);
        self.runs = rest;
        taken
    }
}

/// Runs cases, all of which can be run, without and with faults.
pub(super) fn prove(
    work: &Work<'_>,
    cases: &[Case],
    arguments: &FaultsArguments,
    terminal: &Terminal,
) -> Result<Proved, Failure> {
    interrupt::watch();
    let jobs = arguments.jobs.map_or_else(pool::cores, usize::from);
    let sound = |index: usize| {
        let case = cases.get(index)?;
        let (script, station) = ready(work, *case)?;
        Some(wiring_proof::sound(script, case.procedure?, station))
    };
    let sounds: Vec<_> = all(cases.len(), jobs, "without a fault", arguments.quiet, sound)?;
    let mut exit = Severity::None;
    let mut refused: Vec<(usize, Option<usize>)> = Vec::new();
    let mut found: Vec<(Case, SoundRun)> = Vec::new();
    for (case, sound) in cases.iter().zip(sounds) {
        match sound {
            Some(Ok(sound)) => found.push((*case, sound)),
            Some(Err(problems)) => {
                exit = Severity::Misused;
                if !refused.contains(&(case.suite, case.procedure)) {
                    tell(work, *case, &problems, terminal);
                    refused.push((case.suite, case.procedure));
                }
            }
            None => {}
        }
    }
    // What cannot be run on one program is not compared with the others.
    found.retain(|(case, _)| !refused.contains(&(case.suite, case.procedure)));
    let pieces: Vec<(usize, SingleFault)> = found
        .iter()
        .enumerate()
        .filter_map(|(index, (case, _))| Some((index, ready(work, *case)?.1)))
        .flat_map(|(index, station)| {
            wiring_proof::single_faults(station).into_iter().map(move |fault| (index, fault))
        })
        .collect();
    let with_fault = |index: usize| {
        let (found_index, fault) = pieces.get(index)?;
        let (case, sound) = found.get(*found_index)?;
        let (script, station) = ready(work, *case)?;
        Some(wiring_proof::with_fault(script, case.procedure?, station, sound, *fault))
    };
    let faults = all(pieces.len(), jobs, "with a fault", arguments.quiet, with_fault)?;
    let mut of_each: Vec<Vec<FaultRun>> = found.iter().map(|_| Vec::new()).collect();
    for ((index, _), run) in pieces.iter().zip(faults) {
        if let Some(runs) = of_each.get_mut(*index) {
            runs.extend(run);
        }
    }
    let runs = found.into_iter().zip(of_each).map(|((case, sound), runs)| (case, sound, runs)).collect();
    Ok(Proved { runs, exit })
}

/// The script and station of a case.
fn ready<'w, 's>(work: &'w Work<'s>, case: Case) -> Option<(&'w Script<'s>, &'s Station)> {
    let suites: &'s [_] = work.suites;
    let suite = suites.get(case.suite)?;
    let prepared = work.scripts.get(case.suite)?.get(suite, case.variant, work.language).ok()?;
    Some((&prepared.script, suite.station.as_ref()?.station.as_ref()?))
}

fn tell(work: &Work<'_>, case: Case, problems: &[Diagnostic], terminal: &Terminal) {
    if let Some(suite) = work.suites.get(case.suite) {
        terminal.say(&render::text(problems, &suite.sources, terminal.message_colour()));
    }
}

/// Does pieces of work on threads; the results are in order.
fn all<T: Send>(
    count: usize,
    jobs: usize,
    which: &str,
    quiet: bool,
    work: impl Fn(usize) -> Option<T> + Sync,
) -> Result<Vec<Option<T>>, Failure> {
    let take = |results: &mut Results<'_, Option<T>>| {
        let mut progress = Progress::new(quiet);
        let mut taken = Vec::new();
        while let Some(piece) = results.next() {
            taken.push(match piece {
                Piece::Done(result) => result,
                Piece::Left => None,
            });
            progress.show(|| format!("{} of {count} runs {which}", taken.len()));
        }
        progress.clear();
        if results.panicked() {
            return Err(Failure::shown(Exit::Internal));
        }
        if interrupt::asked() {
            // Half a proof would tell less than it seems to.
            interrupt::leave();
        }
        Ok(taken)
    };
    pool::run(count, jobs, &interrupt::asked, &AtomicBool::new(false), work, take)
        .map_err(|error| Failure::internal(format!("no thread could be started: {error}")))?
}

//! `latchwork exercise mutate`: whether the procedures of an exercise notice faults that are seeded into its reference.

use std::sync::atomic::AtomicBool;

use latchwork_bench::mutation::{
    Examination, ExaminationOptions, Examined, Reference, Refusal, SEARCH_SCANS_DEFAULT,
    report::{self, TextOptions},
};

use super::{
    arguments::{MutateArguments, MutateForm},
    load::{Loaded, Purpose, shown},
};
use crate::{
    exit::{Exit, Failure},
    interrupt,
    progress::Progress,
    terminal::Terminal,
    test::pool::{self, Piece, Results},
};

/// Seeds faults and tells what becomes of them.
pub(super) fn run(arguments: &MutateArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let loaded = Loaded::read(&arguments.exercise, Purpose::Marking, arguments.language, terminal)?;
    let marker = loaded.marker(terminal)?;
    let parts = loaded.parts();
    if loaded.reference_sources.iter().next().is_none() {
        return Err(Failure::usage(
            "the reference is an image: faults are seeded into source text, so name the source as the reference",
        ));
    }
    let reference = Reference {
        sources: &loaded.reference_sources,
        options: arguments.language.options(),
        station: parts.station,
        procedures: &parts.procedures,
        run: marker.run_options(),
    };
    let options = ExaminationOptions {
        search_scans: if arguments.no_search { 0 } else { SEARCH_SCANS_DEFAULT },
        ..ExaminationOptions::default()
    };
    let examination = Examination::new(reference, options).map_err(|refusal| match refusal {
        Refusal::Program(problems) => shown(&problems, &loaded.reference_sources, terminal),
        Refusal::Station(problems) => shown(&problems, parts.plant, terminal),
        Refusal::Procedures(file, problems) => match parts.procedures.get(file) {
            Some(file) => shown(&problems, file.sources, terminal),
            None => Failure::internal("a file of procedures that is not there"),
        },
        Refusal::NothingPasses => Failure::usage(
            "the reference passes none of the procedures; `latchwork exercise check` tells why",
        ),
    })?;
    let Some(examined) = examine(&examination, arguments.quiet)? else {
        return Err(Failure { exit: Exit::Interrupted, message: "interrupted; nothing is told".to_owned() });
    };
    let report = examination.report(&examined);
    match arguments.format {
        MutateForm::Text => {
            let options = TextOptions { width: terminal.columns(), colour: terminal.result_colour() };
            terminal.result(&report::text(&report, &loaded.reference_sources, options))?;
        }
        MutateForm::Json => {
            let json = serde_json::to_string_pretty(&report)
                .map_err(|error| Failure::internal(format!("the report cannot be written: {error}")))?;
            terminal.result(&(json + "\n"))?;
        }
    }
    Ok(if arguments.strict && report.counts.told_apart > 0 { Exit::Findings } else { Exit::Good })
}

/// Tries all faults on threads; nothing if the user ends it.
fn examine(examination: &Examination<'_>, quiet: bool) -> Result<Option<Vec<Examined>>, Failure> {
    let count = examination.count();
    interrupt::watch();
    let mut progress = Progress::of_long_run(quiet);
    let take = |results: &mut Results<'_, Option<Examined>>| {
        let mut examined = Vec::with_capacity(count);
        while let Some(piece) = results.next() {
            match piece {
                Piece::Done(done) => examined.extend(done),
                Piece::Left => {
                    progress.clear();
                    return None;
                }
            }
            let done = examined.len();
            progress.show(|| format!("{done} of {count} faults"));
        }
        progress.clear();
        Some(examined)
    };
    let halt = AtomicBool::new(false);
    pool::run(count, pool::cores(), &interrupt::asked, &halt, |number| examination.examine(number), take)
        .map_err(|error| Failure::internal(format!("no thread could be started: {error}")))
}

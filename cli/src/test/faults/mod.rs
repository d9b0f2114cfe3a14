//! `latchwork faults`: procedures run with every single fault of the wiring, and what that tells.
//!
//! Procedures are found, read and run as by `latchwork test`.

pub(crate) mod arguments;
mod json;
mod observed;
mod prove;

use std::collections::BTreeSet;

use latchwork_bench::wiring_proof::{
    self, Answers,
    report::{self, FileProof, ProofOptions, VariantProof},
};
use latchwork_compiler::render;

use self::arguments::{FaultsArguments, ProofForm};
use super::{
    arguments::SelectionArguments,
    case::{Forms, Work},
    check_given, find,
    select::{self, Case},
    suite::{Given, Refusal, Shared, Suite},
};
use crate::{
    exit::{Exit, Failure},
    terminal::Terminal,
};

/// Proves the wiring behind procedures.
pub(crate) fn run(arguments: &FaultsArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let given = Given {
        program: &arguments.bench.program,
        station: arguments.bench.station.as_ref(),
        language: arguments.language,
    };
    let mut shared = Shared::default();
    check_given(given, &mut shared, terminal)?;
    if let Some(path) = &arguments.observed {
        return observed::run(path, arguments, &mut shared, terminal);
    }
    let paths = find::find(&arguments.paths)?;
    let suites: Vec<Suite> = paths.into_iter().map(|path| Suite::read(path, given, &mut shared)).collect();
    let cases = selected(arguments, &suites)?;
    let forms = Forms { shown: None, plain: false, json: false, page: false, warnings: None };
    let work = Work::new(&suites, arguments.language, forms);
    let (cases, refused) = usable(&work, cases, terminal);
    let mut proved = prove::prove(&work, &cases, arguments, terminal)?;
    let mut exit = refused.max(proved.exit);
    let mut documents = Vec::new();
    let mut texts = Vec::new();
    let mut indices: Vec<usize> = cases.iter().map(|case| case.suite).collect();
    indices.dedup();
    for index in indices {
        let Some((proof, suite)) =
            suites.get(index).and_then(|suite| Some((proof(index, suite, &mut proved)?, suite)))
        else {
            continue;
        };
        let is_found = |answers: &Answers| {
            answers.is_dangerous()
                || answers.failing > 0
                || (arguments.strict && !(answers.left_running.is_empty() && answers.unnoticed.is_empty()))
        };
        let found = proof.variants.iter().any(|variant| is_found(&variant.answers));
        if found {
            exit = exit.max(Severity::Found);
        }
        let options = ProofOptions { width: terminal.columns(), tables: !arguments.quiet };
        match arguments.format {
            ProofForm::Text => texts.push(report::text(&proof, options)),
            ProofForm::Markdown => texts.push(report::markdown(&proof, options)),
            ProofForm::Json => documents.push(json::file(&proof, &suite.sources)),
        }
    }
    match arguments.format {
        ProofForm::Json => terminal.result(&json::document(documents))?,
        _ => terminal.result(&texts.join("\n"))?,
    }
    Ok(match exit {
        Severity::None => Exit::Good,
        Severity::Found => Exit::Findings,
        Severity::Misused => Exit::Usage,
    })
}

/// How bad it is, for the exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Severity {
    None,
    Found,
    Misused,
}

/// The proof of a file from its runs, if there are some.
fn proof<'p>(index: usize, suite: &'p Suite, proved: &mut prove::Proved) -> Option<FileProof<'p>> {
    let station = suite.station.as_ref()?.station.as_ref()?;
    let mut titles = Vec::new();
    let mut variants = Vec::new();
    for variant in 0..suite.variant_count() {
        let runs = proved.take(index, variant);
        if runs.is_empty() {
            continue;
        }
        if titles.is_empty() {
            titles = runs.iter().filter_map(|(case, _, _)| select::title(suite, *case)).collect();
        }
        let procedures: Vec<_> = runs.into_iter().map(|(_, sound, faults)| (sound, faults)).collect();
        let lent: Vec<_> = procedures.iter().map(|(sound, faults)| (sound, faults.as_slice())).collect();
        let answers = wiring_proof::answers(station, &lent);
        variants.push(VariantProof { program: suite.variant(variant), procedures, answers });
    }
    let file = suite.sources.iter().last().map_or("", |(_, file)| file.name.as_str());
    let file = suite.path.file_name().and_then(|name| name.to_str()).unwrap_or(file);
    (!variants.is_empty()).then_some(FileProof { file, sources: &suite.sources, station, titles, variants })
}

fn selected(arguments: &FaultsArguments, suites: &[Suite]) -> Result<Vec<Case>, Failure> {
    if suites.is_empty() {
        let places = if arguments.paths.is_empty() {
            "here".to_owned()
        } else {
            crate::program::names(&arguments.paths)
        };
        return Err(Failure::nothing(format!(
            "{places}: there is no file of procedures; their names end in .steps"
        )));
    }
    let all = select::all(suites);
    if all.is_empty() {
        return Err(Failure::nothing(
            "the files found hold no procedure; write procedure 'title' … end_procedure",
        ));
    }
    let found = all.len();
    let names = arguments.names.clone();
    let selection = SelectionArguments { names, last_failed: false, shard: None, list: false };
    let cases = select::select(all, suites, &selection, None);
    if cases.is_empty() {
        return Err(Failure::nothing(format!(
            "none of the {found} procedures found is one with such a name; `latchwork test --list` shows their names"
        )));
    }
    Ok(cases)
}

/// The cases that can be run; tells once for each file and program why the others cannot.
fn usable(work: &Work<'_>, cases: Vec<Case>, terminal: &Terminal) -> (Vec<Case>, Severity) {
    let mut told: BTreeSet<(usize, usize)> = BTreeSet::new();
    let mut worst = Severity::None;
    let mut usable = Vec::new();
    for case in cases {
        let Some((suite, scripts)) = work.suites.get(case.suite).zip(work.scripts.get(case.suite)) else {
            continue;
        };
        let mut refuse = |severity: Severity, message: String| {
            worst = worst.max(severity);
            if told.insert((case.suite, case.variant)) {
                terminal.say(&message);
            }
        };
        match scripts.get(suite, case.variant, work.language) {
            Err(refusal) => {
                let severity = match refusal {
                    Refusal::Program => Severity::Found,
                    _ => Severity::Misused,
                };
                let message = work.refused_as_a_whole(case, terminal.message_colour()).unwrap_or_default();
                refuse(severity, message);
            }
            Ok(_) => match suite.station.as_ref().and_then(|station| station.station.as_ref()) {
                None => refuse(
                    Severity::Misused,
                    format!(
                        "{}: a wiring proof needs a station; name it in the file, like `station 'station.toml';`, or give --station\n",
                        render::visible(&suite.name())
                    ),
                ),
                Some(station) if station.loads.is_empty() => refuse(
                    Severity::Misused,
                    format!(
                        "{}: the station has no loads; describe what the outputs drive, below headings `[[load]]`\n",
                        render::visible(&suite.name())
                    ),
                ),
                Some(_) => usable.push(case),
            },
        }
    }
    (usable, worst)
}

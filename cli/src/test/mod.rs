//! `latchwork test`: procedures found, run on the programs they name, and told.

pub(crate) mod accounted;
mod approve;
pub(crate) mod arguments;
mod board;
mod case;
mod coverage;
pub(crate) mod faults;
mod find;
pub(crate) mod json;
mod junit;
mod last_failed;
mod list;
mod page;
pub(crate) mod pool;
mod program;
mod select;
pub(crate) mod sheet;
pub(crate) mod station;
pub(crate) mod suite;
mod tally;
mod telling;
mod text;
mod trace_paths;
mod traces;

use latchwork_bench::procedure::report::ReportOptions;
use latchwork_compiler::render;

use self::{
    arguments::{ReportArguments, ResultForm, TestArguments},
    case::{Forms, Told, Work},
    pool::{Piece, Results},
    select::Case,
    suite::{Given, Shared, Suite},
    telling::Telling,
};
use crate::{
    coverage::Measuring,
    exit::{Exit, Failure},
    files, interrupt,
    terminal::Terminal,
    watch::{self, Seen},
};

/// Runs procedures, once or whenever a file changes.
pub(crate) fn run(arguments: &TestArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    if arguments.watch {
        let found = || find::find(&arguments.paths).unwrap_or_default();
        watch::run(terminal, found, |terminal, seen| round(arguments, terminal, seen))
    } else {
        round(arguments, terminal, &mut Seen::default())
    }
}

/// Finds, runs and tells procedures; `seen` becomes all files that have to do with it.
fn round(arguments: &TestArguments, terminal: &mut Terminal, seen: &mut Seen) -> Result<Exit, Failure> {
    let given = Given {
        program: &arguments.bench.program,
        station: arguments.bench.station.as_ref(),
        language: arguments.language,
    };
    let mut shared = Shared::default();
    shared.programs.measuring = arguments.coverage.measuring(arguments.reports.report.is_some());
    if arguments.reports.report.is_some() {
        // The page tells the reasons of what failed.
        shared.programs.journal = Measuring::WherePossible;
    }
    check_given(given, &mut shared, terminal)?;
    let paths = find::find(&arguments.paths)?;
    if paths.is_empty() {
        let places = if arguments.paths.is_empty() {
            "here".to_owned()
        } else {
            crate::program::names(&arguments.paths)
        };
        return Err(Failure::nothing(format!(
            "{places}: there is no file of procedures; their names end in .steps"
        )));
    }
    let suites: Vec<Suite> = paths.into_iter().map(|path| Suite::read(path, given, &mut shared)).collect();
    let inputs = || suites.iter().flat_map(|suite| &suite.inputs).chain(shared.programs.paths());
    *seen = Seen::look(inputs().cloned());
    let reports = || arguments.reports.outputs();
    let outputs = || reports().chain(arguments.coverage.outputs());
    files::check_outputs(inputs(), outputs())?;
    outputs().try_for_each(|path| files::check_writable(path))?;
    let cases = selected(arguments, &suites)?;
    if arguments.selection.list {
        return listed(arguments, &suites, &cases, terminal);
    }
    if !arguments.reports.quiet {
        tell_warnings(&suites, terminal);
    }
    run_all(arguments, &suites, &cases, terminal)
}

/// Whether what is given on the command line can be used at all, so that it is not told for every file.
fn check_given(given: Given<'_>, shared: &mut Shared, terminal: &Terminal) -> Result<(), Failure> {
    for path in given.program {
        files::input(path)?;
    }
    let Some(path) = given.station else { return Ok(()) };
    let station = shared.stations.of(path, given.language)?;
    if station.is_wrong() {
        terminal.say(&render::text(&station.problems, &station.sources, terminal.message_colour()));
        return Err(Failure::shown(Exit::Usage));
    }
    Ok(())
}

/// The cases that are to run; none is an error, but for a share that happens to be empty.
fn selected(arguments: &TestArguments, suites: &[Suite]) -> Result<Vec<Case>, Failure> {
    let all = select::all(suites);
    if all.is_empty() {
        return Err(Failure::nothing(
            "the files found hold no procedure; write procedure 'title' … end_procedure",
        ));
    }
    let failed = arguments.selection.last_failed.then(last_failed::read).transpose()?;
    if failed.as_ref().is_some_and(std::collections::BTreeSet::is_empty) {
        return Err(Failure::nothing(
            "nothing failed the last time; run without --last-failed for all procedures",
        ));
    }
    let found = all.len();
    let cases = select::select(all, suites, &arguments.selection, failed.as_ref());
    if cases.is_empty() && arguments.selection.shard.is_none() {
        let which = if failed.is_some() { "that failed the last time" } else { "with such a name" };
        return Err(Failure::nothing(format!(
            "none of the {found} procedures found is one {which}; `latchwork test --list` shows their names"
        )));
    }
    Ok(cases)
}

fn listed(
    arguments: &TestArguments,
    suites: &[Suite],
    cases: &[Case],
    terminal: &mut Terminal,
) -> Result<Exit, Failure> {
    terminal.result(&list::list(suites, cases, arguments.reports.format))?;
    let mut failed = false;
    for suite in suites.iter().filter(|suite| suite.is_refused()) {
        failed = true;
        match &suite.unreadable {
            Some(message) => terminal.say(&format!("{}\n", render::visible(message))),
            None => terminal.say(&render::text(&suite.problems, &suite.sources, terminal.message_colour())),
        }
    }
    Ok(if failed { Exit::Usage } else { Exit::Good })
}

/// What may be meant otherwise in files that can be run.
fn tell_warnings(suites: &[Suite], terminal: &Terminal) {
    for suite in suites.iter().filter(|suite| !suite.is_refused()) {
        terminal.say(&render::text(&suite.problems, &suite.sources, terminal.message_colour()));
    }
}

fn run_all(
    arguments: &TestArguments,
    suites: &[Suite],
    cases: &[Case],
    terminal: &mut Terminal,
) -> Result<Exit, Failure> {
    let forms = forms(&arguments.reports, terminal);
    let work = Work { approve: arguments.approve, ..Work::new(suites, arguments.language, forms) };
    let jobs = arguments.jobs.map_or_else(pool::cores, usize::from);
    interrupt::watch();
    let run = |index: usize| match cases.get(index) {
        Some(case) => work.run(*case),
        None => Told::not_run(0.0),
    };
    let take = |results: &mut Results<'_, Told>| take(arguments, &work, cases, results, terminal);
    pool::run(cases.len(), jobs, &interrupt::asked, &work.halt, run, take)
        .map_err(|error| Failure::internal(format!("no thread could be started: {error}")))?
}

/// Takes the results in order and tells them.
fn take(
    arguments: &TestArguments,
    work: &Work<'_>,
    cases: &[Case],
    results: &mut Results<'_, Told>,
    terminal: &mut Terminal,
) -> Result<Exit, Failure> {
    let mut telling = Telling::new(work, arguments, terminal, cases.len());
    for case in cases {
        let told = match results.next() {
            Some(Piece::Done(told)) => told,
            _ => Told::not_run(work.suites.get(case.suite).map_or(0.0, |suite| case::points(suite, *case))),
        };
        if telling.tell(*case, told)? && arguments.fail_fast {
            results.stop();
        }
    }
    if results.panicked() {
        return Err(Failure::shown(Exit::Internal));
    }
    let interrupted = interrupt::asked();
    let exit = telling.finish(!interrupted)?;
    Ok(if interrupted { Exit::Interrupted } else { exit })
}

fn forms(reports: &ReportArguments, terminal: &Terminal) -> Forms {
    let shown = ReportOptions {
        width: terminal.columns(),
        colour: terminal.result_colour(),
        ascii: terminal.ascii(),
    };
    Forms {
        shown: (reports.format == ResultForm::Text).then_some(shown),
        plain: reports.junit.is_some(),
        json: reports.json.is_some() || reports.format == ResultForm::Json,
        page: reports.report.is_some(),
        warnings: (!reports.quiet).then(|| terminal.message_colour()),
    }
}

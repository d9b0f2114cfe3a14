//! `latchwork run`: a program on the virtual bench, as a timing diagram and as files.

use std::{path::PathBuf, sync::Arc};

use latchwork_bench::{
    coverage::Report,
    diagram::{Diagram, DiagramOptions, scale::time_text},
    export::{CsvWriter, VcdWriter},
    render::{self as draw, TerminalOptions},
    replay::{self, ReplayError, ReplayOptions, Replayed},
    report::Evidence,
    station::Station,
    stimulus::{STIMULUS_BYTES_MAX, Stimulus},
};
use latchwork_compiler::render;
use latchwork_grammar::{Diagnostic, Severity, Sources};
use latchwork_vm::Program;

use crate::{
    arguments::RunArguments,
    exit::{Exit, Failure},
    files, interrupt,
    program::{self, Compiled},
    recording_files::{self, Following, write_whole},
    report, station,
    terminal::Terminal,
};

/// Time from one scan to the next if neither the user nor the program asks for another.
pub(crate) const DEFAULT_SCAN_NS: i64 = 10_000_000;

/// Compiles, replays, draws and writes. After a fault, what was recorded before it is drawn and written too.
pub(crate) fn run(arguments: &RunArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let inputs = arguments.files.iter().chain(&arguments.station).chain(&arguments.stimulus);
    let outputs = outputs(arguments);
    files::check_outputs(inputs, outputs)?;
    let Compiled { mut sources, image, allowances, stops, coverage, logic } = program::compiled_with(
        &arguments.files,
        arguments.language,
        (arguments.coverage.measuring(arguments.report.is_some()), arguments.report.is_some()),
        arguments.quiet,
        terminal,
    )?;
    // Before a station and a stimulus come among them.
    let program_sources = sources.clone();
    program::require_program(&image, &arguments.files)?;
    let program = Program::load(image, latchwork_stdlib::natives())
        .map_err(|error| Failure::usage(format!("{}: {error}", program::names(&arguments.files))))?;
    let program = Arc::new(program);
    let suiting = program.image().base_interval_ns;
    let checked = |station: &Station| {
        let mut problems = station.check(&program);
        problems.extend(station.check_stops(&program, &stops, &allowances));
        problems
    };
    let station = wired(arguments, checked, &mut sources, terminal)?;
    let path = arguments.stimulus.as_ref();
    let stimulus = stimulus(path, &program, station.as_ref(), &mut sources, arguments.quiet, terminal)?;
    let options = ReplayOptions {
        account: logic.map(Arc::new),
        scan_ns: arguments.scan.unwrap_or(if suiting > 0 { suiting } else { DEFAULT_SCAN_NS }),
        instruction_ns: arguments.instruction_time.unwrap_or(0),
        preempt: arguments.preempt,
        strict: arguments.strict,
        until_ns: arguments.until,
        record: arguments.record.clone(),
        charts: arguments.steps.then_some(true),
        title: title(arguments, station.as_ref()),
        source: source(arguments),
    };
    let replayed = recorded(arguments, Arc::clone(&program), station.as_ref(), stimulus.as_ref(), &options)?;
    let exit = told(arguments, &replayed, &sources, terminal)?;
    let covered = coverage.map(|map| Report::new(&map, replayed.coverage.as_ref(), &program_sources));
    if let Some(path) = &arguments.report {
        let evidence = replayed.account.as_ref().map(|account| Evidence {
            account,
            program: &program,
            station: station.as_ref(),
            sources: &program_sources,
        });
        report::write(path, arguments, &replayed, &sources, covered.as_ref(), evidence)?;
    }
    if let Some(covered) = covered.filter(|_| arguments.coverage.measures()) {
        if arguments.coverage.coverage && !arguments.quiet {
            terminal.result("\n")?;
        }
        arguments.coverage.write(&covered, true, terminal)?;
    }
    Ok(exit)
}

/// Whether the recording is for files alone that can be written while the program runs: then nothing of it is kept.
fn follows(arguments: &RunArguments) -> bool {
    let drawn = !arguments.quiet || arguments.svg.is_some() || arguments.report.is_some();
    !drawn && recording_files::can_follow(arguments.csv.as_ref(), arguments.vcd.as_ref())
}

/// Runs the program. The recording in the result is empty if its files are written already.
fn recorded(
    arguments: &RunArguments,
    program: Arc<Program>,
    station: Option<&Station>,
    stimulus: Option<&Stimulus>,
    options: &ReplayOptions,
) -> Result<Replayed, Failure> {
    if !follows(arguments) {
        return replay::replay(program, station, stimulus, options).map_err(refused);
    }
    let mut files = Following::begin(arguments.csv.as_ref(), arguments.vcd.as_ref(), options.scan_ns)?;
    let replayed =
        replay::replay_followed(program, station, stimulus, options, &mut files).map_err(refused)?;
    files.finish(&replayed.recording)?;
    Ok(replayed)
}

/// Why a run could not be made.
pub(crate) fn refused(errors: Vec<ReplayError>) -> Failure {
    let lines: Vec<String> = errors.iter().map(|error| format!("error[{}]: {error}", error.name)).collect();
    Failure::usage(lines.join("\n"))
}

/// The files to be written.
fn outputs(arguments: &RunArguments) -> impl Iterator<Item = &PathBuf> {
    let recordings =
        arguments.csv.iter().chain(&arguments.vcd).chain(&arguments.svg).chain(&arguments.report);
    recordings.chain(arguments.coverage.outputs())
}

/// The station with its plant, checked against the program.
fn wired(
    arguments: &RunArguments,
    check: impl Fn(&Station) -> Vec<Diagnostic>,
    sources: &mut Sources,
    terminal: &Terminal,
) -> Result<Option<Station>, Failure> {
    let Some(path) = &arguments.station else { return Ok(None) };
    let mut found = station::read(path, arguments.language, sources)?;
    files::check_outputs(found.plant_files.iter(), outputs(arguments))?;
    if let Some(station) = &found.station {
        found.problems.extend(check(station));
    }
    usable(found.problems, sources, arguments.quiet, terminal)?;
    Ok(found.station)
}

/// The stimulus, if one is given.
pub(crate) fn stimulus(
    path: Option<&PathBuf>,
    program: &Program,
    station: Option<&Station>,
    sources: &mut Sources,
    quiet: bool,
    terminal: &Terminal,
) -> Result<Option<Stimulus>, Failure> {
    let Some(path) = path else { return Ok(None) };
    let text = files::text_file(path, STIMULUS_BYTES_MAX, "a stimulus")?;
    let file = sources.add(program::name(path), text);
    let (stimulus, problems) = Stimulus::parse(file, &sources.file(file).text, program, station);
    usable(problems, sources, quiet, terminal)?;
    Ok(stimulus)
}

/// Shows what is wrong with a station or stimulus; an error in it is wrong usage.
pub(crate) fn usable(
    problems: Vec<Diagnostic>,
    sources: &Sources,
    quiet: bool,
    terminal: &Terminal,
) -> Result<(), Failure> {
    let failed = problems.iter().any(|problem| problem.severity == Severity::Error);
    if failed || !quiet {
        terminal.say(&render::text(&problems, sources, terminal.message_colour()));
    }
    if failed { Err(Failure::shown(Exit::Usage)) } else { Ok(()) }
}

/// The station's title, else the names of the program's files without folder and extension.
fn title(arguments: &RunArguments, station: Option<&Station>) -> String {
    if let Some(title) = station.and_then(|station| station.title.as_ref()) {
        return title.value.clone();
    }
    let stems = arguments.files.iter().filter_map(|path| path.file_stem());
    stems.map(|stem| stem.to_string_lossy()).collect::<Vec<_>>().join(", ")
}

fn source(arguments: &RunArguments) -> String {
    let names = arguments.files.iter().filter_map(|path| path.file_name());
    names.map(|name| name.to_string_lossy()).collect::<Vec<_>>().join(", ")
}

/// Writes the files, draws the diagram, then says what happened on the way.
fn told(
    arguments: &RunArguments,
    replayed: &Replayed,
    sources: &Sources,
    terminal: &mut Terminal,
) -> Result<Exit, Failure> {
    let recording = &replayed.recording;
    if !follows(arguments) {
        write_whole(arguments.csv.as_deref(), recording, CsvWriter::write)?;
        write_whole(arguments.vcd.as_deref(), recording, VcdWriter::write)?;
    }
    let diagram =
        || Diagram::new(recording, &DiagramOptions { folding: arguments.fold, ..DiagramOptions::default() });
    if let Some(path) = &arguments.svg {
        let svg = draw::svg(&diagram());
        files::write(path, svg.as_bytes())?;
    }
    if !arguments.quiet {
        let options = TerminalOptions {
            width: terminal.columns(),
            colour: terminal.result_colour(),
            ascii: terminal.ascii(),
            heading: true,
            footer: true,
        };
        terminal.result(&draw::terminal(&diagram(), &options))?;
        terminal.say(&render::text(&replayed.warnings(), sources, terminal.message_colour()));
        if let Some(rows @ 1..) = Some(replayed.rows_not_applied) {
            let rows = if rows == 1 { "1 row".to_string() } else { format!("{rows} rows") };
            terminal.say(&format!("the run ended before the last {rows} of the stimulus\n"));
        }
    }
    terminal.say(&render::events(&replayed.events));
    terminal.say(&render::plant_events(&replayed.plant_events));
    let colour = terminal.message_colour();
    if let Some(fault) = &replayed.fault {
        terminal.say(&render::fault(fault, sources, colour));
    }
    if let Some(fault) = &replayed.plant_fault {
        terminal.say(&render::plant_fault(fault, sources, colour));
    }
    let stopped = replayed.fault.is_some() || replayed.plant_fault.is_some();
    if follows(arguments) && interrupt::asked() {
        let until = time_text(recording.end_ns);
        terminal.say(&format!("interrupted: the files hold the scans before {until}\n"));
        return Ok(Exit::Interrupted);
    }
    Ok(if stopped { Exit::Findings } else { Exit::Good })
}

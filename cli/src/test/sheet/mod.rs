//! `latchwork sheet`: the checkout sheet of a board.
//!
//! Programs, stations and procedures are read as by `latchwork test`.

pub(crate) mod arguments;

use std::path::PathBuf;

use latchwork_bench::{
    sheet::{self, FileNames, Sheet, SheetError, SheetOptions, render},
    station::Station,
};
use latchwork_compiler::render as messages;

use self::arguments::{SheetArguments, SheetForm};
use super::{
    arguments::SelectionArguments,
    board,
    case::{Forms, Work},
    check_given, select,
    suite::{Given, Refusal, Shared, Suite},
};
use crate::{
    exit::{Exit, Failure},
    files, program,
    terminal::Terminal,
};

/// Makes a sheet and writes it.
pub(crate) fn run(arguments: &SheetArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let inputs = arguments.files.iter().chain([&arguments.station]).chain(&arguments.procedure);
    files::check_outputs(inputs, outputs(arguments))?;
    let mut shared = Shared::default();
    shared.stations.sound = true;
    let given =
        Given { program: &arguments.files, station: Some(&arguments.station), language: arguments.language };
    check_given(given, &mut shared, terminal)?;
    let read = board::read(&arguments.station, &arguments.files, arguments.language, &mut shared, terminal)?;
    let Some(board) = read.board() else { return Err(Failure::shown(Exit::Usage)) };
    files::check_outputs(read.station.inputs.iter(), outputs(arguments))?;
    let station = board.station;
    if station.devices.is_empty() && station.loads.is_empty() {
        return Err(Failure::nothing(format!(
            "{}: there is nothing to check out; describe devices and loads, below headings `[[device]]` and `[[load]]`",
            arguments.station.display()
        )));
    }
    if !read.station.left_out.is_empty() {
        let names = messages::visible(&read.station.left_out.join(", "));
        terminal.say(&format!("the sheet expects sound wiring: without the faults of {names}\n"));
    }
    let name = |paths: &[PathBuf]| {
        let names = paths.iter().filter_map(|path| path.file_name());
        names.map(|name| name.to_string_lossy()).collect::<Vec<_>>().join(", ")
    };
    let mut options = SheetOptions {
        title: arguments.title.clone(),
        names: FileNames {
            program: name(&arguments.files),
            station: name(std::slice::from_ref(&arguments.station)),
            procedure: arguments.procedure.as_ref().map(|path| name(std::slice::from_ref(path))),
        },
        devices: Vec::new(),
        process: arguments.process,
    };
    let made = match &arguments.procedure {
        None => {
            options.devices = devices(arguments, station)?;
            sheet::by_hand(&board, &options).map_err(|error| too_large(&error))?
        }
        Some(path) => of_procedures(path, arguments, given, &options, &mut shared, terminal)?,
    };
    if let Some(path) = &arguments.observed {
        if !sheet::is_for_the_fault_finder(&made) {
            return Err(Failure::usage(
                "the simulation stops in the middle, so what is seen cannot be compared with it; leave --observed out",
            ));
        }
        files::write(path, sheet::note(&made, station, false).as_bytes())?;
    }
    write(&made, arguments, terminal)?;
    Ok(if made.has_trouble() { Exit::Findings } else { Exit::Good })
}

fn outputs(arguments: &SheetArguments) -> impl Iterator<Item = &PathBuf> {
    arguments.output.iter().chain(&arguments.observed)
}

fn write(made: &Sheet, arguments: &SheetArguments, terminal: &mut Terminal) -> Result<(), Failure> {
    let is_markdown = || {
        let extension = arguments.output.as_ref().and_then(|path| path.extension());
        extension.is_some_and(|extension| {
            extension.eq_ignore_ascii_case("md") || extension.eq_ignore_ascii_case("markdown")
        })
    };
    let form = match arguments.format {
        Some(form) => form,
        None if is_markdown() => SheetForm::Markdown,
        None => SheetForm::Html,
    };
    let text = match form {
        SheetForm::Html => render::html(made),
        SheetForm::Markdown => render::markdown(made),
    };
    match &arguments.output {
        Some(path) => files::write(path, text.as_bytes()),
        None => terminal.result(&text),
    }
}

/// The devices that are asked for.
fn devices(arguments: &SheetArguments, station: &Station) -> Result<Vec<usize>, Failure> {
    let place = |name: &String| {
        let same = |other: &str| other.eq_ignore_ascii_case(name.trim());
        let found = station.devices.iter().position(|device| same(&device.name.value));
        found.ok_or_else(|| {
            let names: Vec<&str> = station.devices.iter().map(|device| device.name.value.as_str()).collect();
            Failure::usage(format!(
                "the station has no device `{name}`; its devices are {}",
                names.join(", ")
            ))
        })
    };
    arguments.only.iter().map(place).collect()
}

fn too_large(error: &SheetError) -> Failure {
    Failure::usage(error.to_string())
}

fn of_procedures(
    path: &PathBuf,
    arguments: &SheetArguments,
    given: Given<'_>,
    options: &SheetOptions,
    shared: &mut Shared,
    terminal: &Terminal,
) -> Result<Sheet, Failure> {
    let suites = [Suite::read(path.clone(), given, shared)];
    let [suite] = &suites;
    let forms = Forms { shown: None, plain: false, json: false, warnings: None, page: false };
    let work = Work::new(&suites, arguments.language, forms);
    let all = select::all(&suites);
    let found = all.len();
    let selection =
        SelectionArguments { names: arguments.only.clone(), last_failed: false, shard: None, list: false };
    let cases = select::select(all, &suites, &selection, None);
    let Some(first) = cases.first().copied() else {
        let name = program::names(std::slice::from_ref(path));
        return Err(Failure::nothing(match found {
            0 => format!("{name}: there is no procedure; write procedure 'title' … end_procedure"),
            _ => format!("{name}: none of the {found} procedures is one with such a name"),
        }));
    };
    let Some(scripts) = work.scripts.first() else { return Err(Failure::internal("there is no script")) };
    let prepared = match scripts.get(suite, first.variant, arguments.language) {
        Ok(prepared) => prepared,
        Err(refusal) => {
            terminal.say(&work.refused_as_a_whole(first, terminal.message_colour()).unwrap_or_default());
            let exit = if matches!(refusal, Refusal::Program) { Exit::Findings } else { Exit::Usage };
            return Err(Failure::shown(exit));
        }
    };
    let station = suite.station.as_ref().and_then(|station| station.station.as_ref());
    let Some(station) = station else { return Err(Failure::shown(Exit::Usage)) };
    let which: Vec<usize> = cases.iter().filter_map(|case| case.procedure).collect();
    sheet::of_procedures(&prepared.script, station, &which, options).map_err(|error| too_large(&error))
}

//! `latchwork check`: lists what is wrong with a program, alone or together with its station.

use std::path::Path;

use latchwork_compiler::{Compilation, render};
use latchwork_grammar::{Diagnostic, Severity, Sources};
use latchwork_vm::Program;

use crate::{
    arguments::{CheckArguments, Format},
    exit::{Exit, Failure},
    program, station,
    terminal::Terminal,
};

/// Checks the files as one program. The list is the result, so it goes to standard output.
pub(crate) fn run(arguments: &CheckArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let mut sources = program::sources(&arguments.files)?;
    let mut compilation = latchwork_compiler::compile_with(&sources, &arguments.language.options());
    let program_failed = compilation.has_errors();
    let mut diagnostics = std::mem::take(&mut compilation.diagnostics);
    let mut station_failed = false;
    if let Some(path) = &arguments.station {
        let problems = wiring(path, compilation, &mut sources, arguments)?;
        station_failed = problems.iter().any(|problem| problem.severity == Severity::Error);
        diagnostics.extend(problems);
    }
    match arguments.format {
        Format::Text => {
            terminal.result(&render::text(&diagnostics, &sources, terminal.result_colour()))?;
            if diagnostics.is_empty() {
                let count = arguments.files.len();
                let files = if count == 1 { "1 file".to_string() } else { format!("{count} files") };
                terminal.say(&format!("{files} checked: {}\n", render::summary(&diagnostics)));
            }
        }
        Format::Json => terminal.result(&render::json(&diagnostics, &sources))?,
        Format::Sarif => terminal.result(&render::sarif(&diagnostics, &sources))?,
    }
    Ok(if program_failed {
        Exit::Findings
    } else if station_failed {
        Exit::Usage
    } else if arguments.warnings_fail && !diagnostics.is_empty() {
        Exit::Findings
    } else {
        Exit::Good
    })
}

/// What is wrong with a station and its plant, and between them and the program if that has no errors.
fn wiring(
    path: &Path,
    compilation: Compilation,
    sources: &mut Sources,
    arguments: &CheckArguments,
) -> Result<Vec<Diagnostic>, Failure> {
    let found = station::read(path, arguments.language, sources)?;
    let mut problems = found.problems;
    if let (Some(station), Some(image)) = (found.station, compilation.image) {
        let program = Program::load(image, latchwork_stdlib::natives())
            .map_err(|error| Failure::usage(format!("{}: {error}", program::names(&arguments.files))))?;
        problems.extend(station.check(&program));
        problems.extend(station.check_stops(&program, &compilation.stops, &compilation.allowances));
    }
    Ok(problems)
}

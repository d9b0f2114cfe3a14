//! `latchwork build`: writes the image of a program.

use crate::{
    arguments::BuildArguments,
    exit::{Exit, Failure},
    files, program,
    terminal::Terminal,
};

/// Compiles source files and writes the image.
pub(crate) fn run(arguments: &BuildArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    files::check_outputs(arguments.files.iter(), std::iter::once(&arguments.output))?;
    let compiled = program::from_sources(&arguments.files, arguments.language, false, terminal)?;
    program::require_program(&compiled.image, &arguments.files)?;
    let bytes = compiled.image.to_bytes().map_err(|error| Failure::usage(error.to_string()))?;
    files::write(&arguments.output, &bytes)?;
    Ok(Exit::Good)
}

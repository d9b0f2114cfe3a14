//! `latchwork check`: lists what is wrong with a program.

use latchwork_compiler::render;

use crate::{
    arguments::{CheckArguments, Format},
    exit::{Exit, Failure},
    program,
    terminal::Terminal,
};

/// Checks the files as one program. The list is the result, so it goes to standard output.
pub(crate) fn run(arguments: &CheckArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let sources = program::sources(&arguments.files)?;
    let compilation = latchwork_compiler::compile_with(&sources, &arguments.language.options());
    let diagnostics = &compilation.diagnostics;
    match arguments.format {
        Format::Text => {
            terminal.result(&render::text(diagnostics, &sources, terminal.result_colour()))?;
            if diagnostics.is_empty() {
                let count = arguments.files.len();
                let files = if count == 1 { "1 file".to_string() } else { format!("{count} files") };
                terminal.say(&format!("{files} checked: {}\n", render::summary(diagnostics)));
            }
        }
        Format::Json => terminal.result(&render::json(diagnostics, &sources))?,
        Format::Sarif => terminal.result(&render::sarif(diagnostics, &sources))?,
    }
    let failed = compilation.has_errors() || (arguments.warnings_fail && !diagnostics.is_empty());
    Ok(if failed { Exit::Findings } else { Exit::Good })
}

//! `latchwork format`: lays files of procedures out.

use std::path::Path;

use latchwork_compiler::render;
use latchwork_grammar::{Diagnostic, Names, steps};

use crate::{
    arguments::FormatArguments,
    exit::{Exit, Failure},
    files, program,
    terminal::Terminal,
};

/// Lays the files out, or names those that would change. A file with errors is left as it is, and the others are laid
/// out.
pub(crate) fn run(arguments: &FormatArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    if let Some(other) = arguments.files.iter().find(|path| !is_steps(path)) {
        return Err(Failure::usage(format!(
            "{}: not a file of procedures; only files named *.steps are laid out",
            other.display()
        )));
    }
    let sources = program::sources(&arguments.files)?;
    let mut problems: Vec<Diagnostic> = Vec::new();
    let mut changed = 0usize;
    for (path, (file, source)) in arguments.files.iter().zip(sources.iter()) {
        match steps::format(file, &source.text, &mut Names::new()) {
            Err(found) => problems.extend(found),
            Ok(text) if text == source.text => {}
            Ok(text) => {
                changed += 1;
                if arguments.check {
                    terminal.result(&format!("{}\n", render::visible(&source.name)))?;
                } else {
                    files::write(path, text.as_bytes())?;
                }
            }
        }
    }
    if !problems.is_empty() {
        terminal.say(&render::text(&problems, &sources, terminal.message_colour()));
    }
    let count = arguments.files.len();
    let all = if count == 1 { "1 file".to_string() } else { format!("{count} files") };
    let done = if arguments.check { "would change" } else { "laid out anew" };
    terminal.say(&format!("{changed} of {all} {done}\n"));
    let fails = !problems.is_empty() || arguments.check && changed > 0;
    Ok(if fails { Exit::Findings } else { Exit::Good })
}

fn is_steps(path: &Path) -> bool {
    path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("steps"))
}

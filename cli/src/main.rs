//! The `latchwork` command: command line, files, colours, exit codes. What another front end would need too lives
//! in the crates below.

mod arguments;
mod build;
mod check;
mod compliance;
mod coverage;
mod duration;
mod exercise;
mod exit;
mod explain;
mod files;
mod format;
mod interrupt;
mod library;
mod listing;
mod mark;
mod names;
mod practise;
mod program;
mod progress;
mod recording_files;
mod report;
mod rewrite;
mod run;
mod rungs;
mod station;
mod terminal;
mod test;
mod watch;
mod why;

use std::{
    io::{self, Write},
    process::ExitCode,
};

use clap::{CommandFactory, Parser, error::ErrorKind};

use crate::{
    arguments::{Arguments, Command},
    exit::{Exit, Failure},
    terminal::Terminal,
};

/// Projects of a million lines are compiled in a third less time than with the allocator of the system
/// (`tests/speed/COMPILER.md`).
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// Shown when nothing is asked for.
const CARD: &str = "\
latchwork compiles and runs control programs in Structured Text and Instruction List.

  latchwork check pump.st                 what is wrong with it?
  latchwork run pump.st --until T#5s      what does it do?
  latchwork explain                       what do the messages mean?

`latchwork --help` lists everything; `latchwork run --help` tells how to press buttons.
A simulation shows what the program does, not that a machine is safe:
lock out and tag out before wiring.
";

fn main() -> ExitCode {
    exit::guarded(run, message).into()
}

fn run() -> Exit {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version are results and go to standard output; clap knows which is which. A reader that
            // has gone away is no error.
            let _ = error.print();
            return match error.kind() {
                ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => Exit::Good,
                _ => Exit::Usage,
            };
        }
    };
    let mut terminal = Terminal::new(arguments.color);
    let done = match arguments.command {
        None => terminal.result(CARD).map(|()| Exit::Good),
        Some(Command::Check(arguments)) => check::run(&arguments, &mut terminal),
        Some(Command::Run(arguments)) => run::run(&arguments, &mut terminal),
        Some(Command::Test(arguments)) => test::run(&arguments, &mut terminal),
        Some(Command::Faults(arguments)) => test::faults::run(&arguments, &mut terminal),
        Some(Command::Why(arguments)) => why::run(&arguments, &mut terminal),
        Some(Command::Sheet(arguments)) => test::sheet::run(&arguments, &mut terminal),
        Some(Command::Rungs(arguments)) => rungs::run(&arguments, &mut terminal),
        Some(Command::Exercise(arguments)) => exercise::run(&arguments, &mut terminal),
        Some(Command::Mark(arguments)) => mark::run(&arguments, &mut terminal),
        Some(Command::Practise(arguments)) => practise::run(&arguments, &mut terminal),
        Some(Command::Build(arguments)) => build::run(&arguments, &mut terminal),
        Some(Command::Listing(arguments)) => listing::run(&arguments, &mut terminal),
        Some(Command::Rewrite(arguments)) => rewrite::run(&arguments, &mut terminal),
        Some(Command::Format(arguments)) => format::run(&arguments, &mut terminal),
        Some(Command::Explain(arguments)) => explain::run(&arguments, &mut terminal),
        Some(Command::Compliance(arguments)) => compliance::run(&arguments, &mut terminal),
        Some(Command::Library(arguments)) => library::run(&arguments, &mut terminal),
        Some(Command::Completions(arguments)) => completions(arguments.shell, &mut terminal),
        Some(Command::Help(arguments)) => help(arguments.command.as_deref(), &mut terminal),
    };
    done.unwrap_or_else(|failure| {
        if !failure.message.is_empty() {
            message(&failure.message);
        }
        failure.exit
    })
}

/// The help of a command, or of all.
fn help(name: Option<&str>, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let mut all = Arguments::command();
    all.build();
    let command = match name {
        None => Some(&mut all),
        Some(name) => all.find_subcommand_mut(name),
    };
    let Some(command) = command else {
        let name = name.unwrap_or_default();
        return Err(Failure::usage(format!("there is no command `{name}`; `latchwork --help` lists them")));
    };
    let help = command.render_long_help().to_string();
    terminal.result(&help)?;
    Ok(Exit::Good)
}

fn completions(shell: clap_complete::Shell, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "latchwork", &mut script);
    terminal.result(&String::from_utf8_lossy(&script))?;
    Ok(Exit::Good)
}

/// Says on standard error why the command ends. File names are part of it, so it is made fit for a terminal.
fn message(text: &str) {
    let lines: Vec<String> = text.lines().map(latchwork_compiler::render::visible).collect();
    // Nothing can be done when even the messages find no reader.
    let _ = writeln!(io::stderr().lock(), "latchwork: {}", lines.join("\n"));
}

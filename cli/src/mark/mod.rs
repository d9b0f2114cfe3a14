//! `latchwork mark`: a class marked, with all that is told of it.
//!
//! ```text
//! exercise + class --threads--> log of results, pages of students --in order--> gradebook, documents, pages of the class
//! ```

pub(crate) mod arguments;
mod folder;
pub(crate) mod intake;
mod log;
mod merge;
mod outputs;
mod run;
mod work;

use self::arguments::{MarkArguments, MarkCommand};
use crate::{
    exit::{Exit, Failure},
    terminal::Terminal,
};

/// Marks a class, or puts its shares together.
pub(crate) fn run(arguments: &MarkArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let MarkArguments { command, exercise, submissions, out, .. } = arguments;
    match (command, exercise, submissions, out) {
        (Some(MarkCommand::Merge(arguments)), ..) => merge::run(arguments, terminal),
        (None, Some(exercise), Some(submissions), Some(out)) => {
            run::run(run::Paths { exercise, submissions, out }, arguments, terminal)
        }
        _ => Err(Failure::usage(
            "name the exercise, the submissions, and with --out the folder of the results",
        )),
    }
}

//! `latchwork exercise`: what an exercise is worth, proved on itself.

pub(crate) mod arguments;
mod check;
pub(crate) mod load;
mod mutate;

use self::arguments::{ExerciseArguments, ExerciseCommand};
use crate::{
    exit::{Exit, Failure},
    terminal::Terminal,
};

/// Runs a command about an exercise.
pub(crate) fn run(arguments: &ExerciseArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    match &arguments.command {
        ExerciseCommand::Check(arguments) => check::run(arguments, terminal),
        ExerciseCommand::Mutate(arguments) => mutate::run(arguments, terminal),
    }
}

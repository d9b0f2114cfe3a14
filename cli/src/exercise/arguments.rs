//! Arguments of `exercise`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

use crate::arguments::LanguageArguments;

/// The examples of the help texts.
pub(crate) const EXAMPLES: &str = "\
Examples:
  latchwork exercise check lift
  latchwork exercise check lift/exercise.toml";

/// What the long help text adds.
pub(crate) const MORE: &str = "\
An exercise is a folder with a file `exercise.toml`: the task, the panel, procedures with points, shown to students or
kept back, what a submission must have and keep, and a reference.

Exit codes: 0 if the exercise is sound, 1 if something was found, 2 if its files are wrong.";

/// Arguments of `exercise`.
#[derive(Debug, Args)]
#[command(disable_help_subcommand = true)]
pub(crate) struct ExerciseArguments {
    /// What to do with it.
    #[command(subcommand)]
    pub(crate) command: ExerciseCommand,
}

/// What can be done with an exercise.
#[derive(Debug, Subcommand)]
pub(crate) enum ExerciseCommand {
    /// Prove it: the reference earns all points, doing nothing none, and every procedure can fail
    #[command(after_help = EXAMPLES)]
    Check(CheckArguments),
}

/// Arguments of `exercise check`.
#[derive(Debug, Args)]
pub(crate) struct CheckArguments {
    /// Folder of the exercise
    #[arg(value_name = "EXERCISE")]
    pub(crate) exercise: PathBuf,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

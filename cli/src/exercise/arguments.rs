//! Arguments of `exercise`.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

use crate::arguments::LanguageArguments;

/// The examples of the help texts.
pub(crate) const EXAMPLES: &str = "\
Examples:
  latchwork exercise check lift
  latchwork exercise mutate lift";

/// What the long help text adds.
pub(crate) const MORE: &str = "\
An exercise is a folder with a file `exercise.toml`: the task, the panel, procedures with
points, shown to students or kept back, what a submission must have and keep, and a reference.

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
    /// Seed faults into the reference and tell which of them no procedure notices
    #[command(after_help = EXAMPLES)]
    Mutate(MutateArguments),
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

/// Arguments of `exercise mutate`.
#[derive(Debug, Args)]
pub(crate) struct MutateArguments {
    /// Folder of the exercise
    #[arg(value_name = "EXERCISE")]
    pub(crate) exercise: PathBuf,

    /// Do not look for what would tell the faults apart that nothing notices
    #[arg(long)]
    pub(crate) no_search: bool,

    /// Exit with 1 if there is a fault that nothing notices although something could
    #[arg(long)]
    pub(crate) strict: bool,

    /// Form of the report
    #[arg(long, value_enum, value_name = "FORM", default_value_t = MutateForm::Text)]
    pub(crate) format: MutateForm,

    /// Show no progress
    #[arg(long, short)]
    pub(crate) quiet: bool,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// Forms of the report of `exercise mutate`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum MutateForm {
    /// For people
    Text,
    /// One JSON document
    Json,
}

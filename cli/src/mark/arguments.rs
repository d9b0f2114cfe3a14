//! Arguments of `mark`.

use std::{num::NonZero, path::PathBuf};

use clap::{Args, Subcommand};

use super::intake::Pattern;
use crate::{
    arguments::LanguageArguments,
    test::arguments::{Shard, shard},
};

/// The examples of the help texts.
pub(crate) const EXAMPLES: &str = "\
Examples:
  latchwork mark lift handed-in --out marks
  latchwork mark lift handed-in --roster class.csv --out marks";

/// What the long help text adds.
pub(crate) const MORE: &str = "\
The folder of results has a gradebook (gradebook.csv), the results for tools (results.json,
results.xml), a page about the class (class.html), a page about submissions that are alike
(alike.html), and for each student a page in feedback, as HTML and as Markdown.

Results are kept as they come. A run that was broken off goes on where it was when the same
command is given again, and a run after changes marks only what changed.

On several machines, each with its share of the class, and then together:
    latchwork mark lift handed-in --shard 1/3 --out part-1    and so on
    latchwork mark merge part-1 part-2 part-3 --out marks

Exit codes: 0 if the class is marked, whatever the marks; 1 if somebody is below --fail-under; 3
if a defect of latchwork showed with a submission, which is then not judged.";

/// Arguments of `mark`. What is required is there unless there is a command of its own.
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    subcommand_negates_reqs = true,
    disable_help_subcommand = true
)]
pub(crate) struct MarkArguments {
    /// Something else than marking.
    #[command(subcommand)]
    pub(crate) command: Option<MarkCommand>,

    /// Folder of the exercise
    #[arg(value_name = "EXERCISE", required = true)]
    pub(crate) exercise: Option<PathBuf>,

    /// Folder or zip with the submissions: a file, a folder or a zip for each student
    #[arg(value_name = "SUBMISSIONS", required = true)]
    pub(crate) submissions: Option<PathBuf>,

    /// Folder of the results
    #[arg(long, value_name = "FOLDER", required = true)]
    pub(crate) out: Option<PathBuf>,

    /// Where the student's id is in the name of a submission [default: the whole name]
    ///
    /// {student} stands for the id, {name} for the name of the person, * for anything: '*_{student}_*'.
    #[arg(long, value_name = "PATTERN", value_parser = Pattern::read)]
    pub(crate) student: Option<Pattern>,

    /// Members of the class (CSV with a column `student`, perhaps `name` and `submission`)
    #[arg(long, value_name = "FILE")]
    pub(crate) roster: Option<PathBuf>,

    /// How many submissions are marked at once [default: as many as there are processors]
    #[arg(long, short, value_name = "NUMBER", hide_short_help = true)]
    pub(crate) jobs: Option<NonZero<u16>>,

    /// Mark a share of the class alone, such as 2/5
    #[arg(long, value_name = "K/N", value_parser = shard, hide_short_help = true)]
    pub(crate) shard: Option<Shard>,

    /// Exit with 1 if somebody has less than so many per cent of the points
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u8).range(0..=100), hide_short_help = true)]
    pub(crate) fail_under: Option<u8>,

    /// Say only what went wrong
    #[arg(long, short)]
    pub(crate) quiet: bool,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// What else can be done.
#[derive(Debug, Subcommand)]
pub(crate) enum MarkCommand {
    /// Put the shares of a class together that were marked apart
    Merge(MergeArguments),
}

/// Arguments of `mark merge`.
#[derive(Debug, Args)]
pub(crate) struct MergeArguments {
    /// Folders of results of all shares of one class
    #[arg(value_name = "FOLDER", required = true)]
    pub(crate) shares: Vec<PathBuf>,

    /// Folder of the results of the whole class
    #[arg(long, value_name = "FOLDER")]
    pub(crate) out: PathBuf,

    /// Exit with 1 if somebody has less than so many per cent of the points
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u8).range(0..=100))]
    pub(crate) fail_under: Option<u8>,

    /// Say only what went wrong
    #[arg(long, short)]
    pub(crate) quiet: bool,
}

//! The arguments of `latchwork faults`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::{arguments::LanguageArguments, test::arguments::BenchArguments};

/// Most runs at once.
const JOBS_MAX: i64 = 1_024;

pub(crate) const EXAMPLES: &str = "\
Examples:
  latchwork faults wiring.steps
  latchwork faults wiring.steps --format markdown
  latchwork faults --observed seen.csv --program pump.st --station station.toml";

pub(crate) const MORE: &str = "\
Every procedure runs once without a fault and once with each single fault that the wiring can have:
for a device an open wire, a shorted contact, a contact stuck in either position; for a load an open
wire, an output stuck on or off. The table tells what each does to the loads and whether the
procedure fails; below it stands which faults leave a load running that a person is trying to stop,
which ones go unnoticed, and whether a broken wire stops what its device stops.
--observed takes a table of a checkout, a row for each step: columns named after devices hold what was
done to them, columns named after loads whether they were on or off, a column `wait` how long the
step took (else one second). It ranks the single faults, and no fault, that would explain it.
PATH is found as by `latchwork test`. The same files give the same bytes, however many run at once.
A simulation is no proof that a machine is safe: lock out and tag out before wiring.
Exit codes: 0 nothing of the following; 1 a broken wire cannot stop what its device stops, a fault
leaves a load running and no procedure notices it, a procedure fails without any fault, or errors in
a program; with --strict also any fault that leaves a load running or that no procedure notices; with
--observed, sound wiring does not explain what was seen; 2 wrong usage, errors in procedures or a
station, no station, no loads, an unreadable file; 4 there is nothing to run; 130 interrupted.";

/// Arguments of `faults`.
#[derive(Debug, Args)]
pub(crate) struct FaultsArguments {
    /// Files of procedures, or folders to search [default: this folder]
    #[arg(value_name = "PATH")]
    pub(crate) paths: Vec<PathBuf>,

    #[command(flatten)]
    pub(crate) bench: BenchArguments,

    /// Run procedures with this in their title; may be given several times
    #[arg(long = "name", value_name = "TEXT")]
    pub(crate) names: Vec<String>,

    /// Form of what is shown
    #[arg(long, value_enum, value_name = "FORM", default_value_t = ProofForm::Text, hide_short_help = true)]
    pub(crate) format: ProofForm,

    /// Whatever leaves a load running or goes unnoticed fails, too
    #[arg(long)]
    pub(crate) strict: bool,

    /// Show the answers without the tables
    #[arg(long, short)]
    pub(crate) quiet: bool,

    /// Rank the faults that explain what was seen on a real board, a table; needs --program, --station
    #[arg(long, value_name = "FILE", requires_all = ["program", "station"], conflicts_with_all = ["paths", "names", "quiet", "strict"])]
    pub(crate) observed: Option<PathBuf>,

    /// Runs at once [default: as many as the computer has cores]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=JOBS_MAX), hide_short_help = true)]
    pub(crate) jobs: Option<u16>,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// Forms of the proof.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ProofForm {
    /// For people
    Text,
    /// One JSON document
    Json,
    /// For printing
    Markdown,
}

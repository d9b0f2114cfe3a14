//! The arguments of `latchwork why`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use latchwork_bench::reasons;

use crate::{
    arguments::LanguageArguments,
    duration::{self, Nanoseconds},
};

/// Deepest reason that can be asked for.
const DEPTH_MAX: i64 = reasons::DEPTH_MAX as i64;

pub(crate) const EXAMPLES: &str = "\
Examples:
  latchwork why Pump pump.st --at T#0.5s --station station.toml --stimulus press.csv
  latchwork why %QX0.0 pump.st --at 900 --format json
  latchwork why Pump --procedure pump.steps --only beats --at T#100ms";

pub(crate) const MORE: &str = "\
VARIABLE is a variable with its path where it occurs more than once (Main.Fill.Q), a device or load
of the station, an address (%QX0.1), or a step of a chart.
Told is the statement that wrote it last, the parts of its expression that decided, and so on back
to devices, timers, counters and stored values; and for a BOOL the smallest changes that would have
given the other value. Times are durations of the standard (T#3.2s) or plain milliseconds (3200);
what is told is what was so after the last scan that started up to --at, from the start of the run.
Without --at it is the last scan of all.
A simulation shows what the program does, not that a machine is safe: lock out and tag out before
wiring.
Exit codes: 0 told; 1 errors in the program; 2 wrong usage, an unknown name, a time outside the run,
which a fault may have ended, a bad station, stimulus or procedure, or an unreadable file; 4 the
files hold no PROGRAM.";

/// Arguments of `why`.
#[derive(Debug, Args)]
pub(crate) struct WhyArguments {
    /// What to explain: a variable, a device or load, an address, a step
    #[arg(value_name = "VARIABLE")]
    pub(crate) variable: String,

    /// Source files of one program
    #[arg(value_name = "FILE", required_unless_present = "procedure")]
    pub(crate) files: Vec<PathBuf>,

    /// The time that is asked about [default: the last scan]
    #[arg(long, value_name = "DURATION", value_parser = duration::point)]
    pub(crate) at: Option<Nanoseconds>,

    /// Devices on the bench and how they are wired (TOML)
    #[arg(long, value_name = "FILE")]
    pub(crate) station: Option<PathBuf>,

    /// What happens at which time (CSV)
    #[arg(long, value_name = "FILE", conflicts_with = "procedure")]
    pub(crate) stimulus: Option<PathBuf>,

    /// Run a procedure of this file instead of a stimulus
    ///
    /// It runs on the program and station that it names, unless others are given; where it names several programs, on
    /// the first. What is not as it expects does not end the run.
    #[arg(long, value_name = "STEPS")]
    pub(crate) procedure: Option<PathBuf>,

    /// The procedure with this in its title; needed where there are several
    #[arg(long, value_name = "TEXT", requires = "procedure")]
    pub(crate) only: Option<String>,

    /// Time from one scan to the next [default: what suits the tasks, or T#10ms]
    #[arg(long, value_name = "DURATION", value_parser = duration::positive, conflicts_with = "procedure", hide_short_help = true)]
    pub(crate) scan: Option<Nanoseconds>,

    /// Simulated time to run [default: one second after the stimulus, and long enough for --at]
    #[arg(long, value_name = "DURATION", value_parser = duration::positive, conflicts_with = "procedure", hide_short_help = true)]
    pub(crate) until: Option<Nanoseconds>,

    /// How many variables, one behind the other, are followed back
    #[arg(long, value_name = "N", default_value_t = reasons::DEPTH, value_parser = clap::value_parser!(u32).range(1..=DEPTH_MAX), hide_short_help = true)]
    pub(crate) depth: u32,

    /// Form of what is told
    #[arg(long, value_enum, value_name = "FORM", default_value_t = WhyForm::Text)]
    pub(crate) format: WhyForm,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// Forms of a reason.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum WhyForm {
    /// For people
    Text,
    /// One JSON document
    Json,
}

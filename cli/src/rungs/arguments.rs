//! The arguments of `latchwork rungs`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use latchwork_bench::rungs::{WIDTH_MAX, WIDTH_MIN};

use crate::{
    arguments::LanguageArguments,
    duration::{self, Nanoseconds},
};

pub(crate) const EXAMPLES: &str = "\
Examples:
  latchwork rungs pump.st
  latchwork rungs pump.st --at T#1.2s --station station.toml --stimulus press.csv
  latchwork rungs --procedure pump.steps --only stop --at T#150ms
  latchwork rungs pump.st --format svg -o pump-rungs.svg";

pub(crate) const MORE: &str = "\
Every Boolean statement of Structured Text and every network of Instruction List is drawn as the
contacts and coils that do the same, the graphic symbols of IEC 61131-3; calls of function blocks
are blocks with their pins. What is no rung (arithmetic, loops, CASE) stands as text.
With --at there are values: those that each statement saw when it ran in the last scan that started
up to that time, from the start of the run. A heavy line has continuity from the left rail. With
--station it is told which device is wired to a variable, and how.
A simulation shows what the program does, not that a machine is safe: lock out and tag out before
wiring.
Exit codes: 0 drawn; 1 errors in the program, or a fault stopped it before that time; 2 wrong usage,
an unknown unit, a time outside the run, a bad station, stimulus or procedure, or an unreadable
file; 4 there is nothing to draw.";

/// Arguments of `rungs`.
#[derive(Debug, Args)]
pub(crate) struct RungsArguments {
    /// Source files of one program
    #[arg(value_name = "FILE", required_unless_present = "procedure")]
    pub(crate) files: Vec<PathBuf>,

    /// Draw this program, function block or function; may be given several times
    #[arg(long, value_name = "NAME")]
    pub(crate) pou: Vec<String>,

    /// Draw function blocks for this instance only, such as Main.Fill
    #[arg(long, value_name = "PATH", requires = "at", hide_short_help = true)]
    pub(crate) instance: Option<String>,

    /// Show the values of this time
    #[arg(long, value_name = "DURATION", value_parser = duration::point)]
    pub(crate) at: Option<Nanoseconds>,

    /// Devices on the bench and how they are wired (TOML)
    #[arg(long, value_name = "FILE")]
    pub(crate) station: Option<PathBuf>,

    /// What happens at which time (CSV)
    #[arg(long, value_name = "FILE", conflicts_with = "procedure", requires = "at")]
    pub(crate) stimulus: Option<PathBuf>,

    /// Run a procedure of this file instead of a stimulus
    ///
    /// It runs on the program that it names, unless FILE is given, and on its station.
    #[arg(long, value_name = "STEPS", requires = "at")]
    pub(crate) procedure: Option<PathBuf>,

    /// The procedure with this in its title, where there are several
    #[arg(long, value_name = "TEXT", requires = "procedure")]
    pub(crate) only: Option<String>,

    /// Time from one scan to the next [default: what suits the tasks, or T#10ms]
    #[arg(long, value_name = "DURATION", value_parser = duration::positive, conflicts_with = "procedure", hide_short_help = true)]
    pub(crate) scan: Option<Nanoseconds>,

    /// Form of the drawing
    #[arg(long, value_enum, value_name = "FORM", default_value_t = RungsForm::Text)]
    pub(crate) format: RungsForm,

    /// File to write the drawing to [default: standard output]
    #[arg(long, short, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,

    /// Columns of the text [default: the width of the terminal, or 100]
    #[arg(long, value_name = "N", hide_short_help = true, value_parser = clap::value_parser!(u16).range(WIDTH_MIN as i64..=WIDTH_MAX as i64))]
    pub(crate) width: Option<u16>,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// Forms of the drawing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum RungsForm {
    /// For a terminal
    Text,
    /// One picture
    Svg,
    /// One JSON document
    Json,
}

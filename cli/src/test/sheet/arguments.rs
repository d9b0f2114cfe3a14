//! The arguments of `latchwork sheet`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::arguments::LanguageArguments;

pub(crate) const EXAMPLES: &str = "\
Examples:
  latchwork sheet pump.st --station station.toml -o checkout.html
  latchwork sheet pump.st --station station.toml --procedure pump.steps -o checkout.md
  latchwork sheet pump.st --station station.toml --observed seen-later.csv -o checkout.html";

pub(crate) const MORE: &str = "\
The sheet goes to the board: devices and loads with their terminals, a check of the wires, then the
steps with boxes to tick. Without --procedure every device is worked, one after the other, until the
loads have settled; with it the sheet follows the procedures, at the pace of a hand. What must be
seen comes from a simulation with sound wiring: faults that the station file places are left out.
Without --procedure the process of a station is left out too, and its devices are moved by hand,
unless --process is given.
--only chooses devices by their names, with --procedure procedures by words in their titles.
--observed writes the table of the same steps for `latchwork faults --observed`: note in it what was
seen on the board, and it tells which faults would explain that.
The form follows from the name of the file, .md for Markdown; --format decides otherwise.
A simulation is no proof that a machine is safe: lock out and tag out before wiring.
Exit codes: 0 written; 1 errors in the program, or a step at which the simulation stops or does not
meet what the procedure asks for, which the sheet tells; 2 wrong usage, errors in procedures or a
station, an unreadable or unwritable file; 4 nothing to check out.";

/// Arguments of `sheet`.
#[derive(Debug, Args)]
pub(crate) struct SheetArguments {
    /// Source files of one program, or one image file
    #[arg(value_name = "PROGRAM", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// Devices on the board and how they are wired (TOML)
    #[arg(long, value_name = "FILE")]
    pub(crate) station: PathBuf,

    /// Follow the procedures of this file
    #[arg(long, value_name = "FILE")]
    pub(crate) procedure: Option<PathBuf>,

    /// Only this device, or procedures with this in their title; repeatable
    #[arg(long, value_name = "NAME")]
    pub(crate) only: Vec<String>,

    /// Form of the sheet [default: html, or as the name of the output says]
    #[arg(long, value_enum, value_name = "FORM", hide_short_help = true)]
    pub(crate) format: Option<SheetForm>,

    /// Where to write it [default: standard output]
    #[arg(long, short, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,

    /// Title of the sheet [default: that of the station]
    #[arg(long, value_name = "TEXT")]
    pub(crate) title: Option<String>,

    /// Let the process of the station move its devices
    #[arg(long, conflicts_with = "procedure")]
    pub(crate) process: bool,

    /// Write a table to note what was seen, for `latchwork faults --observed`
    #[arg(long, value_name = "FILE", conflicts_with_all = ["procedure", "process"])]
    pub(crate) observed: Option<PathBuf>,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// Forms of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SheetForm {
    /// One page that needs nothing else, for A4 and US Letter
    Html,
    /// Readable as it is, too
    Markdown,
}

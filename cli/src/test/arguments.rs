//! The arguments of `latchwork test`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::{arguments::LanguageArguments, coverage::CoverageArguments};

/// Arguments that make no sense where nothing is run.
const LEAD_TO_A_RUN: [&str; 9] =
    ["watch", "junit", "json", "report", "coverage", "annotated", "coverage_html", "coverage_json", "lcov"];

/// Most procedures that run at once.
const JOBS_MAX: i64 = 1_024;

pub(crate) const EXAMPLES: &str = "\
Examples:
  latchwork test
  latchwork test pump.steps --name stop
  latchwork test --program pump.st --junit report.xml";

pub(crate) const MORE: &str = "\
PATH is a file of procedures or a folder; folders are searched for *.steps, without hidden folders
and `target`. Programs and stations are meant from the folder of the file that names them.
Approved traces lie in the folder NAME.traces beside NAME.steps; keep them with it.
What failed is kept in .latchwork/last-failed, for --last-failed; the file may be deleted.
A page to read, to print and to hand on, with the diagram of every failure and its cursors:
  latchwork test --report report.html
What all procedures together have run of the programs, and which conditions were shown to decide:
  latchwork test --coverage --lcov coverage.info
The same procedures give the same bytes, however many run at once; times are simulated times.
Ctrl-C ends the run: what was finished is reported, the rest counts as not run.
Exit codes: 0 all passed; 1 some failed, or errors in a program; 2 wrong usage, errors in procedures
or a station, an unreadable or unwritable file; 4 there is nothing to run; 130 interrupted.";

/// Arguments of `test`.
#[derive(Debug, Args)]
pub(crate) struct TestArguments {
    /// Files of procedures, or folders to search [default: this folder]
    #[arg(value_name = "PATH")]
    pub(crate) paths: Vec<PathBuf>,

    #[command(flatten)]
    pub(crate) bench: BenchArguments,

    #[command(flatten)]
    pub(crate) selection: SelectionArguments,

    #[command(flatten)]
    pub(crate) reports: ReportArguments,

    /// Stop at the first procedure that does not pass
    #[arg(long, hide_short_help = true)]
    pub(crate) fail_fast: bool,

    /// Procedures that run at once [default: as many as the computer has cores]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=JOBS_MAX), hide_short_help = true)]
    pub(crate) jobs: Option<u16>,

    /// Keep what passes as the approved traces of `compare` without a file
    #[arg(long, conflicts_with_all = ["watch", "list", "shard"], hide_short_help = true)]
    pub(crate) approve: bool,

    /// Run again whenever a file changes
    #[arg(long)]
    pub(crate) watch: bool,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,

    #[command(flatten)]
    pub(crate) coverage: CoverageArguments,
}

/// What the procedures run on.
#[derive(Debug, Args)]
pub(crate) struct BenchArguments {
    /// Program to test instead of those named; once for each of its files
    #[arg(long, value_name = "FILE")]
    pub(crate) program: Vec<PathBuf>,

    /// Station instead of those named
    #[arg(long, value_name = "FILE")]
    pub(crate) station: Option<PathBuf>,
}

/// Which procedures run.
#[derive(Debug, Args)]
pub(crate) struct SelectionArguments {
    /// Run procedures with this in their title; may be given several times
    #[arg(long = "name", value_name = "TEXT")]
    pub(crate) names: Vec<String>,

    /// Run what failed the last time
    #[arg(long)]
    pub(crate) last_failed: bool,

    /// Run one of N shares, to divide the work among computers
    #[arg(long, value_name = "K/N", value_parser = shard, hide_short_help = true)]
    pub(crate) shard: Option<Shard>,

    /// List the procedures and run none
    #[arg(long, conflicts_with_all = LEAD_TO_A_RUN)]
    pub(crate) list: bool,
}

/// One of several shares of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Shard {
    /// Which one, from 1.
    pub(crate) number: u32,
    /// How many there are.
    pub(crate) of: u32,
}

pub(crate) fn shard(text: &str) -> Result<Shard, String> {
    let number = |text: &str| text.trim().parse::<u32>().ok();
    match text.split_once('/').map(|(number_text, of)| (number(number_text), number(of))) {
        Some((Some(number), Some(of))) if number >= 1 && number <= of => Ok(Shard { number, of }),
        _ => Err("expected a share such as 2/5: the second of five".into()),
    }
}

/// What is told, and where.
#[derive(Debug, Args)]
pub(crate) struct ReportArguments {
    /// Form of what is shown
    #[arg(long, value_enum, value_name = "FORM", default_value_t = ResultForm::Text, hide_short_help = true)]
    pub(crate) format: ResultForm,

    /// Write the results as JUnit XML
    #[arg(long, value_name = "FILE")]
    pub(crate) junit: Option<PathBuf>,

    /// Write the results as JSON
    #[arg(long, value_name = "FILE", hide_short_help = true)]
    pub(crate) json: Option<PathBuf>,

    /// Write an HTML page: verdicts, diagrams with cursors, source with coverage
    #[arg(long, value_name = "FILE")]
    pub(crate) report: Option<PathBuf>,

    /// Tell how long each procedure took on this computer
    #[arg(long, hide_short_help = true)]
    pub(crate) timings: bool,

    /// Show what did not pass, and the summary
    #[arg(long, short)]
    pub(crate) quiet: bool,
}

impl ReportArguments {
    /// The files to be written.
    pub(crate) fn outputs(&self) -> impl Iterator<Item = &PathBuf> {
        [&self.junit, &self.json, &self.report].into_iter().flatten()
    }
}

/// Forms of results.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ResultForm {
    /// For people
    Text,
    /// One JSON document
    Json,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_one_of_several() {
        assert_eq!(shard("1/1"), Ok(Shard { number: 1, of: 1 }));
        assert_eq!(shard("2/5"), Ok(Shard { number: 2, of: 5 }));
        for text in ["", "1", "0/3", "4/3", "1/0", "-1/2", "1/2/3", "a/b", "1/99999999999"] {
            assert!(shard(text).is_err(), "{text}");
        }
    }
}

//! Coverage on the command line: what is asked for, and writing it.

use std::path::PathBuf;

use clap::Args;
use latchwork_bench::coverage::{Report, render};

use crate::{exit::Failure, files, terminal::Terminal};

/// What to measure and where to write it.
#[derive(Clone, Debug, Default, Args)]
#[command(next_help_heading = "Coverage")]
pub(crate) struct CoverageArguments {
    /// Tell which statements, branches and conditions were run, and what is missing
    ///
    /// For every decision it is told which of its conditions were shown to decide: modified condition/decision
    /// coverage, by unique cause and by masking. Measuring changes nothing of what the program does, nor the number of
    /// its instructions.
    #[arg(long, hide_short_help = true)]
    pub(crate) coverage: bool,

    /// Write the source text with a mark for each line and the values that decisions had
    #[arg(long, value_name = "FILE", hide_short_help = true)]
    pub(crate) annotated: Option<PathBuf>,

    /// Write the coverage as one HTML page
    #[arg(long, value_name = "FILE", hide_short_help = true)]
    pub(crate) coverage_html: Option<PathBuf>,

    /// Write the coverage as JSON
    #[arg(long, value_name = "FILE", hide_short_help = true)]
    pub(crate) coverage_json: Option<PathBuf>,

    /// Write lines and branches as an LCOV trace file, with counts of 0 and 1
    #[arg(long, value_name = "FILE", hide_short_help = true)]
    pub(crate) lcov: Option<PathBuf>,
}

/// Whether the image of a program observes itself: for its coverage, or to keep a journal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Measuring {
    /// It is not.
    #[default]
    No,
    /// It is if the source is there: an image goes without.
    WherePossible,
    /// It is asked for, so an image is refused.
    Demanded,
}

impl CoverageArguments {
    /// Whether anything of it is asked for.
    pub(crate) fn measures(&self) -> bool {
        self.coverage || self.outputs().next().is_some()
    }

    /// Whether it is measured, if a report shows it too.
    pub(crate) fn measuring(&self, report: bool) -> Measuring {
        match (self.measures(), report) {
            (true, _) => Measuring::Demanded,
            (false, true) => Measuring::WherePossible,
            (false, false) => Measuring::No,
        }
    }

    /// The files to be written.
    pub(crate) fn outputs(&self) -> impl Iterator<Item = &PathBuf> {
        [&self.annotated, &self.coverage_html, &self.coverage_json, &self.lcov].into_iter().flatten()
    }

    /// Writes the files, and the summary: to standard output, or beside it where that has another result.
    pub(crate) fn write(
        &self,
        report: &Report,
        is_result: bool,
        terminal: &mut Terminal,
    ) -> Result<(), Failure> {
        let file = |path: &Option<PathBuf>, form: fn(&Report) -> String| match path {
            Some(path) => files::write(path, form(report).as_bytes()),
            None => Ok(()),
        };
        file(&self.annotated, render::annotated)?;
        file(&self.coverage_html, render::html)?;
        file(&self.coverage_json, render::json)?;
        file(&self.lcov, render::lcov)?;
        if self.coverage {
            let summary = render::summary(report, terminal.columns());
            if is_result {
                terminal.result(&summary)?;
            } else {
                terminal.say(&summary);
            }
        }
        Ok(())
    }
}

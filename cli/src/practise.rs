//! `latchwork practise`: an exercise for the student at home. What is shown of it runs on the student's program, again
//! whenever a file changes, and what is not right yet is told with a hint.

use std::{fmt::Write as _, path::PathBuf};

use clap::Args;
use latchwork_bench::{
    marking::{
        Evidence, FindingKind, Gravity, ItemKind, ItemVerdict, Marked, MarkedFile, Marker, Points, State,
        Student, Submitted,
    },
    procedure::report::{self, ReportOptions, ReportSources},
};
use latchwork_compiler::render;

use crate::{
    arguments::LanguageArguments,
    exercise::load::{Loaded, Purpose},
    exit::{Exit, Failure},
    files, program,
    terminal::Terminal,
    watch::{self, Seen},
};

/// The examples of the help texts.
pub(crate) const EXAMPLES: &str = "\
Examples:
  latchwork practise lift pump.st --once
  latchwork practise lift/exercise.toml pump.st --once";

/// What the long help text adds.
pub(crate) const MORE: &str = "\
Without --once, what is shown of the exercise runs on the program again whenever a file changes;
Ctrl-C ends it. The first thing that is not right yet is told at length. What the exercise keeps
back is not run: being right means doing what the task says.

Exit codes with --once: 0 if everything shown is passed; 1 if not; 2 if a file cannot be read.";

/// Arguments of `practise`.
#[derive(Debug, Args)]
pub(crate) struct PractiseArguments {
    /// Folder of the exercise
    #[arg(value_name = "EXERCISE")]
    pub(crate) exercise: PathBuf,

    /// Source files of the program
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// Run once and end
    #[arg(long)]
    pub(crate) once: bool,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// Practises.
pub(crate) fn run(arguments: &PractiseArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    if arguments.once {
        return round(arguments, terminal, &mut Seen::default());
    }
    watch::run(terminal, Vec::new, |terminal, seen| round(arguments, terminal, seen))
}

fn round(arguments: &PractiseArguments, terminal: &mut Terminal, seen: &mut Seen) -> Result<Exit, Failure> {
    *seen = Seen::look(arguments.files.iter().cloned());
    let loaded = Loaded::read(&arguments.exercise, Purpose::Practice, arguments.language, terminal)?;
    *seen = Seen::look(loaded.inputs.iter().chain(&arguments.files).cloned());
    let marker = loaded.marker(terminal)?;
    let mut files = Vec::new();
    for path in &arguments.files {
        let text = files::source(path)?;
        let file = MarkedFile {
            name: program::name(path),
            bytes: text.len() as u64,
            lines: 0,
            encoding: Some("UTF-8".to_owned()),
        };
        files.push((file, Some(text)));
    }
    let student = Student { id: program::names(&arguments.files), name: None };
    let (marked, evidence) = marker.mark(Submitted { student, files, findings: Vec::new(), state: None });
    let told = Told { loaded: &loaded, marker: &marker, marked: &marked, evidence: &evidence };
    let text = told.text(terminal);
    terminal.result(&text)?;
    let right = marked.total == marker.scheme().out_of && marked.deducted == Points::ZERO;
    Ok(if right { Exit::Good } else { Exit::Findings })
}

/// What is told of a round.
struct Told<'t> {
    loaded: &'t Loaded,
    marker: &'t Marker<'t>,
    marked: &'t Marked,
    evidence: &'t Evidence,
}

impl Told<'_> {
    fn text(&self, terminal: &Terminal) -> String {
        let scheme = self.marker.scheme();
        let mut text =
            format!("{} · {}\n\n", render::visible(&scheme.title), render::visible(&self.marked.student.id));
        if self.marked.state == State::NotCompiled {
            text +=
                &render::text(&self.evidence.diagnostics, &self.evidence.sources, terminal.result_colour());
            text += "Mend the first one first: the others may follow from it.\n";
            return text;
        }
        for (item, result) in scheme.items.iter().zip(&self.marked.items) {
            let sign = if result.verdict == ItemVerdict::Passed { "✓" } else { "✗" };
            let sign = if terminal.ascii() && sign == "✓" {
                "+"
            } else if terminal.ascii() {
                "x"
            } else {
                sign
            };
            // Writing to a text never fails, here and below.
            let _ = writeln!(
                text,
                "  {sign} {}: {} ({} of {})",
                result.verdict.words(),
                render::visible(&item.title),
                result.points,
                item.points.counted()
            );
        }
        if self.marked.deducted > Points::ZERO {
            let _ = writeln!(text, "  taken off: {}", self.marked.deducted.counted());
        }
        let _ = writeln!(text, "  {} of {}\n", self.marked.total, scheme.out_of.counted());
        for finding in &self.marked.findings {
            if finding.kind != FindingKind::Compile || finding.severity == Gravity::Error {
                text += &finding.shown;
            }
        }
        text += &self.first(terminal);
        if self.loaded.keeps_back {
            text += "The exercise keeps some of its procedures back: read the task once more before you hand in.\n";
        }
        text
    }

    /// The first thing that is not right yet, at length.
    fn first(&self, terminal: &Terminal) -> String {
        let sources = self.marker.procedure_sources();
        let options = ReportOptions {
            width: terminal.columns(),
            colour: terminal.result_colour(),
            ascii: terminal.ascii(),
        };
        let items =
            self.marker.scheme().items.iter().zip(&self.marked.items).zip(&self.evidence.items).zip(sources);
        for (((item, result), evidence), procedure) in items {
            if item.kind != ItemKind::Procedure || result.verdict == ItemVerdict::Passed {
                continue;
            }
            let plant = self.loaded.plant();
            if let Some(failure) = &evidence.failure {
                let sources = ReportSources { procedure, program: &self.evidence.sources, plant };
                return format!("Look at this first:\n\n{}\n", report::text(failure, sources, &options));
            }
            if !evidence.problems.is_empty() {
                let shown = render::excerpts(&evidence.problems, procedure, options.colour);
                return format!("Look at this first:\n\n{shown}");
            }
        }
        String::new()
    }
}

//! The command line: subcommands, options, help texts.

use std::path::PathBuf;

use clap::{ArgAction, Args, Parser, Subcommand, ValueEnum, builder::styling};
use clap_complete::Shell;
use latchwork_bench::diagram::fold::Folding;
use latchwork_compiler::CompileOptions;

use crate::{
    coverage::CoverageArguments,
    duration::{self, Nanoseconds},
    exercise::arguments as exercise,
    mark::arguments as mark,
    names, practise,
    rungs::arguments as rungs,
    test::{arguments as test, faults::arguments as faults, sheet::arguments as sheet},
    why::arguments as why,
};

/// Exit codes as the long help texts list them; the numbers are those of [`crate::exit::Exit`].
const EXIT_CODES: &str = "\
Exit codes:
  0    all well
  1    errors were found in a program, or a fault stopped it
  2    wrong usage, a bad station or stimulus, or an unreadable file
  3    a defect of latchwork itself
  4    nothing to do
  130  interrupted";

const STYLES: styling::Styles = styling::Styles::styled()
    .header(styling::Style::new().bold())
    .usage(styling::Style::new().bold())
    .literal(styling::Style::new().bold());

/// Compile and run control programs in Structured Text and Instruction List (IEC 61131-3:2013)
///
/// Programs are compiled to bytecode and run scan by scan on a virtual bench: devices wired normally open or
/// normally closed, a simulated clock, a recorder.
#[derive(Debug, Parser)]
#[command(
    name = "latchwork",
    version,
    styles = STYLES,
    disable_help_subcommand = true,
    disable_help_flag = true,
    disable_version_flag = true,
    after_long_help = EXIT_CODES,
    max_term_width = 100
)]
pub(crate) struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Option<Command>,

    /// When to use colour: auto, always or never
    ///
    /// With auto, a terminal gets colour unless NO_COLOR is set, and anything else does if CLICOLOR_FORCE is set.
    #[arg(
        long,
        global = true,
        value_enum,
        value_name = "WHEN",
        default_value_t = Color::Auto,
        hide_possible_values = true,
        hide_short_help = true,
        display_order = 100
    )]
    pub(crate) color: Color,

    // Declared here so that the list of commands fits a small screen: it need not say how it was asked for.
    /// Print help (see a summary with '-h')
    #[arg(short, long, global = true, action = ArgAction::Help, hide_short_help = true, display_order = 101)]
    help: Option<bool>,

    /// Print version
    #[arg(short = 'V', long, action = ArgAction::Version, hide_short_help = true, display_order = 102)]
    version: Option<bool>,
}

/// When to use colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Color {
    /// On a terminal, unless NO_COLOR is set; anywhere if CLICOLOR_FORCE is set
    Auto,
    /// Anywhere
    Always,
    /// Nowhere
    Never,
}

/// The examples of a short help text, and what the long one adds.
fn long(examples: &str, more: &str) -> String {
    format!("{examples}\n\n{more}")
}

/// The subcommands.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Check programs and list what is wrong with them
    #[command(after_help = CHECK_EXAMPLES, after_long_help = long(CHECK_EXAMPLES, CHECK_MORE))]
    Check(CheckArguments),
    /// Run a program on the virtual bench and draw its timing diagram
    #[command(after_help = RUN_EXAMPLES, after_long_help = long(RUN_EXAMPLES, RUN_MORE))]
    Run(Box<RunArguments>),
    /// Run procedures: press buttons, let time pass, compare with what is expected
    #[command(after_help = test::EXAMPLES, after_long_help = long(test::EXAMPLES, test::MORE))]
    Test(Box<test::TestArguments>),
    /// Run procedures with every single wiring fault: what runs on, what goes unnoticed
    #[command(after_help = faults::EXAMPLES, after_long_help = long(faults::EXAMPLES, faults::MORE))]
    Faults(Box<faults::FaultsArguments>),
    /// Tell why a variable has its value at a time of a run
    #[command(after_help = why::EXAMPLES, after_long_help = long(why::EXAMPLES, why::MORE))]
    Why(Box<why::WhyArguments>),
    /// Make the checkout sheet of a board: what to do, what must be seen, boxes to tick
    #[command(after_help = sheet::EXAMPLES, after_long_help = long(sheet::EXAMPLES, sheet::MORE))]
    Sheet(Box<sheet::SheetArguments>),
    /// Draw statements as contacts and coils, with the values of a moment
    #[command(after_help = rungs::EXAMPLES, after_long_help = long(rungs::EXAMPLES, rungs::MORE))]
    Rungs(Box<rungs::RungsArguments>),
    /// Prove an exercise for a class before it is handed out
    #[command(after_help = exercise::EXAMPLES, after_long_help = long(exercise::EXAMPLES, exercise::MORE))]
    Exercise(Box<exercise::ExerciseArguments>),
    /// Mark what a class handed in: gradebook, feedback for each student, a page about the class
    #[command(after_help = mark::EXAMPLES, after_long_help = long(mark::EXAMPLES, mark::MORE))]
    Mark(Box<mark::MarkArguments>),
    /// Run what is shown of an exercise on a program, again whenever it changes
    #[command(after_help = practise::EXAMPLES, after_long_help = long(practise::EXAMPLES, practise::MORE))]
    Practise(practise::PractiseArguments),
    /// Compile programs to an image file
    #[command(after_help = BUILD_EXAMPLES, after_long_help = long(BUILD_EXAMPLES, BUILD_MORE))]
    Build(BuildArguments),
    /// Show the bytecode of programs beside their source lines
    #[command(after_help = LISTING_EXAMPLES, after_long_help = long(LISTING_EXAMPLES, LISTING_MORE))]
    Listing(ListingArguments),
    /// Give the same program in the other text language
    #[command(after_help = REWRITE_EXAMPLES, after_long_help = long(REWRITE_EXAMPLES, REWRITE_MORE))]
    Rewrite(RewriteArguments),
    /// Lay out files of procedures
    #[command(after_help = FORMAT_EXAMPLES, after_long_help = long(FORMAT_EXAMPLES, FORMAT_MORE))]
    Format(FormatArguments),
    /// Explain a diagnostic by its name
    #[command(after_help = EXPLAIN_EXAMPLES, after_long_help = long(EXPLAIN_EXAMPLES, EXPLAIN_MORE))]
    Explain(ExplainArguments),
    /// State which features of the standard are there, and what was left to choose
    #[command(after_help = COMPLIANCE_EXAMPLES, after_long_help = long(COMPLIANCE_EXAMPLES, COMPLIANCE_MORE))]
    Compliance(ComplianceArguments),
    /// Show the standard functions and function blocks, or one of them at length
    #[command(after_help = LIBRARY_EXAMPLES, after_long_help = long(LIBRARY_EXAMPLES, LIBRARY_MORE))]
    Library(LibraryArguments),
    /// Print a completion script for a shell
    #[command(after_help = COMPLETIONS_EXAMPLES)]
    Completions(CompletionsArguments),
    /// Print the help of a command
    ///
    /// Whoever looks for it finds it; the list of commands has no line for what `--help` does.
    #[command(hide = true)]
    Help(HelpArguments),
}

const CHECK_EXAMPLES: &str = "\
Examples:
  latchwork check pump.st
  latchwork check pump.st types.st --format json
  latchwork check pump.st --station station.toml --warnings-fail";

const CHECK_MORE: &str = "\
All files given belong to one program. Warnings alone do not fail the check, unless
--warnings-fail is given. Where the program is meant as it stands, the pragma {allow NAME} in
front of a statement, declaration or unit silences the warning NAME.
Exit codes: 0 no errors; 1 errors in the program; 2 wrong usage, a bad station or an unreadable file.";

const RUN_EXAMPLES: &str = "\
Examples:
  latchwork run pump.st --station station.toml --stimulus press.csv
  latchwork run pump.st --until T#2s --record Main.Start,Main.Pump --csv trace.csv
  latchwork run pump.image --until 1500 --svg pump.svg --quiet";

const RUN_MORE: &str = "\
A page to read, to measure in, to print and to hand on; it needs no network and no other file:
  latchwork run pump.st --station station.toml --stimulus press.csv --report pump.html
What of the program was run, and which conditions of it were shown to decide:
  latchwork run pump.st --station station.toml --stimulus press.csv --coverage --lcov pump.info

Times are durations of the standard (T#1s500ms) or plain milliseconds (1500).
A run has the scans that start before its end: 5 s at 10 ms are 500 scans.
With --quiet and without --svg and --report, the CSV file and the dump are written while the
program runs, so that a long run takes no more memory than a short one. Interrupted, it writes what it has.
Exit codes: 0 ran to its end; 1 errors in the program, or a fault; 2 wrong usage, a bad station,
plant or stimulus, or an unreadable file; 4 the files hold no PROGRAM; 130 interrupted.";

const BUILD_EXAMPLES: &str = "\
Examples:
  latchwork build pump.st -o pump.image
  latchwork build pump.st types.st --output pump.image";

const BUILD_MORE: &str = "\
Exit codes: 0 written; 1 errors in the program; 2 wrong usage, unreadable or unwritable file;
4 the files hold no PROGRAM.";

const LISTING_EXAMPLES: &str = "\
Examples:
  latchwork listing pump.st
  latchwork listing pump.image";

const LISTING_MORE: &str = "\
Exit codes: 0 shown; 1 errors in the program; 2 wrong usage or unreadable file.";

const REWRITE_EXAMPLES: &str = "\
Examples:
  latchwork rewrite pump.st --to il
  latchwork rewrite pump.st --to il -o pump.il
  latchwork rewrite pump.st types.st --to il --write-to other
  latchwork rewrite pump.st --to il --pou Main";

const REWRITE_MORE: &str = "\
Bodies of programs, function blocks, functions, methods and actions are written anew; declarations,
comments, pragmas, charts and configurations stay. Both forms give the same trace. Where the other
language cannot say something, that body stays as it is and a message tells why; the others are
rewritten all the same. A FOR gets a test for the end of its type where it might be reached, since
a FOR ends there. With --write-to the folder holds a whole program afterwards.
Exit codes: 0 rewritten; 1 errors in the program, or a body could not be rewritten; 2 wrong usage,
unreadable or unwritable file; 4 nothing is in the other language.";

const FORMAT_EXAMPLES: &str = "\
Examples:
  latchwork format pump.steps
  latchwork format pump.steps --check";

const FORMAT_MORE: &str = "\
One step a line, two blanks for each block, words of procedures in small letters, operators in
capitals. Comments stay where they are, and one blank line where some were. A file with errors is
left as it is.
Exit codes: 0 laid out; 1 errors in a file, or with --check a file that would change; 2 wrong
usage, unreadable or unwritable file.";

const EXPLAIN_EXAMPLES: &str = "\
Examples:
  latchwork explain
  latchwork explain assignment-operator";

const EXPLAIN_MORE: &str = "\
Exit codes: 0 explained; 2 there is no diagnostic of that name.";

const COMPLIANCE_EXAMPLES: &str = "\
Examples:
  latchwork compliance
  latchwork compliance --table 72
  latchwork compliance --format markdown";

const COMPLIANCE_MORE: &str = "\
This is the implementer's compliance statement of clause 5 of the standard: feature tables, choices
of the implementer, errors and their time of report, extensions.
Exit codes: 0 stated; 2 there is no table of that number.";

const LIBRARY_EXAMPLES: &str = "\
Examples:
  latchwork library
  latchwork library LIMIT
  latchwork library real_to_int
  latchwork library counter --format json";

const LIBRARY_MORE: &str = "\
A word that is no name lists the entries whose name or summary has it. The diagram on the page of a
function block is drawn from a run.
Exit codes: 0 shown; 2 there is nothing of that name.";

const COMPLETIONS_EXAMPLES: &str = "\
Examples:
  latchwork completions bash
  latchwork completions zsh

Exit codes: 0 printed; 2 wrong usage.";

/// Arguments of `check`.
#[derive(Debug, Args)]
pub(crate) struct CheckArguments {
    /// Source files of one program
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// Form of the list
    #[arg(long, value_enum, value_name = "FORM", default_value_t = Format::Text)]
    pub(crate) format: Format,

    /// Check the program together with the station it is wired to (TOML)
    #[arg(long, value_name = "FILE")]
    pub(crate) station: Option<PathBuf>,

    /// Let warnings fail the check too
    #[arg(long)]
    pub(crate) warnings_fail: bool,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// What the standard leaves open and its user may decide.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Args)]
pub(crate) struct LanguageArguments {
    /// Let no action of a chart run once more when it ends
    #[arg(long, hide_short_help = true)]
    pub(crate) without_final_scan: bool,

    /// Let transitions from one step exclude each other, or have priorities
    #[arg(long, hide_short_help = true)]
    pub(crate) exclusive_selections: bool,
}

impl LanguageArguments {
    /// The same for the compiler.
    pub(crate) const fn options(self) -> CompileOptions {
        CompileOptions {
            final_scan: !self.without_final_scan,
            exclusive_selections: self.exclusive_selections,
            coverage: false,
            journal: false,
            allowances: true,
        }
    }
}

/// Forms of a list of diagnostics.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For people, with excerpts of the source
    Text,
    /// One JSON document
    Json,
    /// SARIF 2.1.0
    Sarif,
}

/// Arguments of `run`.
#[derive(Debug, Args)]
pub(crate) struct RunArguments {
    /// Source files of one program, or one image file
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// Devices on the bench and how they are wired (TOML)
    #[arg(long, value_name = "FILE")]
    pub(crate) station: Option<PathBuf>,

    /// What happens at which time (CSV)
    #[arg(long, value_name = "FILE")]
    pub(crate) stimulus: Option<PathBuf>,

    /// Time from one scan to the next [default: what suits the tasks, or T#10ms]
    #[arg(long, value_name = "DURATION", value_parser = duration::positive)]
    pub(crate) scan: Option<Nanoseconds>,

    /// Simulated time that every instruction takes, such as T#50ns [default: none]
    ///
    /// Without it every task ends in the scan that released it. With it a task may take longer than its interval:
    /// then a release is lost, which is told at the end of the run.
    #[arg(long, value_name = "DURATION", value_parser = duration::instruction, hide_short_help = true)]
    pub(crate) instruction_time: Option<u32>,

    /// Let a task of higher priority interrupt one of lower priority
    #[arg(long, requires = "instruction_time", hide_short_help = true)]
    pub(crate) preempt: bool,

    /// Stop at the first event, such as an overflow, as at a fault
    #[arg(long, hide_short_help = true)]
    pub(crate) strict: bool,

    /// Simulated time to run [default: one second after the end of the stimulus]
    #[arg(long, value_name = "DURATION", value_parser = duration::positive)]
    pub(crate) until: Option<Nanoseconds>,

    /// What to record [default: devices, inputs, outputs, located variables]
    ///
    /// Names of devices and loads, of variables with their path where they occur more than once (Main.Fill.ET), of
    /// elements of arrays (Seg[0]), of variables of the plant (Tank.Level), and addresses (%QX0.0). The diagram shows
    /// them in this order.
    #[arg(long, value_name = "NAME,…", value_parser = names::list)]
    pub(crate) record: Option<names::List>,

    /// Write the recording as CSV, in the form of a stimulus
    #[arg(long, value_name = "FILE")]
    pub(crate) csv: Option<PathBuf>,

    /// Write the recording as a value change dump (IEEE 1364)
    #[arg(long, value_name = "FILE", hide_short_help = true)]
    pub(crate) vcd: Option<PathBuf>,

    /// Write the timing diagram as SVG
    #[arg(long, value_name = "FILE")]
    pub(crate) svg: Option<PathBuf>,

    /// What of the diagram's time is folded: auto, never, or every stretch without changes that lasts so long
    ///
    /// With auto, stretches of at least 1000 scans are folded where that makes the rest at least four times finer. A
    /// fold is marked in every row and on the axis, and its length is told. A number that moves along a straight line
    /// does not keep a stretch from being folded; with auto only the time of a timer does not.
    #[arg(long, value_name = "DURATION", value_parser = folding, default_value = "auto", hide_short_help = true)]
    pub(crate) fold: Folding,

    /// Show the active steps of charts although --record names what to show
    #[arg(long, requires = "record", hide_short_help = true)]
    pub(crate) steps: bool,

    /// Write an HTML page: the diagram with cursors, values, source with coverage
    #[arg(long, value_name = "FILE")]
    pub(crate) report: Option<PathBuf>,

    /// Draw no diagram and say only what went wrong
    #[arg(long, short)]
    pub(crate) quiet: bool,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,

    #[command(flatten)]
    pub(crate) coverage: CoverageArguments,
}

/// What of a diagram is folded: `auto`, `never` or a duration.
fn folding(text: &str) -> Result<Folding, String> {
    match text {
        "auto" => Ok(Folding::Automatic),
        "never" => Ok(Folding::Never),
        duration => match duration::positive(duration) {
            Ok(least_ns) => Ok(Folding::AtLeast(least_ns)),
            Err(reason) => Err(format!("{reason}; or write auto or never")),
        },
    }
}

/// Arguments of `build`.
#[derive(Debug, Args)]
pub(crate) struct BuildArguments {
    /// Source files of one program
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// Image file to write
    #[arg(long, short, value_name = "FILE")]
    pub(crate) output: PathBuf,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// Arguments of `listing`.
#[derive(Debug, Args)]
pub(crate) struct ListingArguments {
    /// Source files of one program, or one image file
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// Arguments of `rewrite`.
#[derive(Debug, Args)]
pub(crate) struct RewriteArguments {
    /// Source files of one program
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// The language that is wanted: il (Instruction List) or st (Structured Text)
    #[arg(long, value_enum, value_name = "LANGUAGE", hide_possible_values = true)]
    pub(crate) to: WantedLanguage,

    /// File to write; without it, the text goes to standard output
    #[arg(long, short, value_name = "FILE", conflicts_with = "write_to")]
    pub(crate) output: Option<PathBuf>,

    /// Folder to write all files to, those with new bodies as *.il or *.st
    #[arg(long, value_name = "FOLDER")]
    pub(crate) write_to: Option<PathBuf>,

    /// Only the program organization unit of this name, with its methods and actions
    #[arg(long, value_name = "NAME")]
    pub(crate) pou: Option<String>,

    #[command(flatten)]
    pub(crate) language: LanguageArguments,
}

/// The text languages.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum WantedLanguage {
    /// Instruction List
    Il,
    /// Structured Text
    St,
}

/// Arguments of `format`.
#[derive(Debug, Args)]
pub(crate) struct FormatArguments {
    /// Files of procedures (*.steps)
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// Write nothing, and name the files that would change
    #[arg(long)]
    pub(crate) check: bool,
}

/// Arguments of `explain`.
#[derive(Debug, Args)]
pub(crate) struct ExplainArguments {
    /// Name of a diagnostic, as messages show it in brackets; without it, all names are listed
    #[arg(value_name = "NAME")]
    pub(crate) name: Option<String>,
}

/// Arguments of `compliance`.
#[derive(Debug, Args)]
pub(crate) struct ComplianceArguments {
    /// One table of the standard and the choices that belong to it
    #[arg(long, value_name = "NUMBER")]
    pub(crate) table: Option<u16>,

    /// Form of the statement
    #[arg(long, value_enum, value_name = "FORM", default_value_t = StatementForm::Text)]
    pub(crate) format: StatementForm,
}

/// Forms of the compliance statement and of the library.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum StatementForm {
    /// For people, in the width of the terminal
    Text,
    /// One JSON document
    Json,
    /// A document in Markdown
    Markdown,
}

/// Arguments of `library`.
#[derive(Debug, Args)]
pub(crate) struct LibraryArguments {
    /// Name of a function or function block, or a word to look for; without it, everything is listed
    #[arg(value_name = "NAME")]
    pub(crate) name: Option<String>,

    /// Form of what is shown
    #[arg(long, value_enum, value_name = "FORM", default_value_t = StatementForm::Text)]
    pub(crate) format: StatementForm,
}

/// Arguments of `completions`.
#[derive(Debug, Args)]
pub(crate) struct CompletionsArguments {
    /// The shell
    #[arg(value_enum)]
    pub(crate) shell: Shell,
}

/// Arguments of `help`.
#[derive(Debug, Args)]
pub(crate) struct HelpArguments {
    /// A command; without it, the help lists all
    #[arg(value_name = "COMMAND")]
    pub(crate) command: Option<String>,
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_command_line_is_consistent() {
        Arguments::command().debug_assert();
    }
}

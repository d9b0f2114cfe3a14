//! The whole way from source texts to an image, for front ends that need nothing in between.

use latchwork_grammar::{Diagnostic, FileId, Names, Severity, Sources, parse};
use latchwork_vm::Image;

use crate::{
    allow::Allowances,
    check::check_and_release,
    coverage::CoverageMap,
    logic::{Logic, charts, place_charts},
    lower::{Lowered, lower_and_release},
    stops::{self, Stop},
};

/// What became of a program.
#[derive(Clone, Debug, Default)]
pub struct Compilation {
    /// The image; `None` if there is an error among the diagnostics.
    pub image: Option<Image>,
    /// Errors and warnings in the order of files and places.
    pub diagnostics: Vec<Diagnostic>,
    /// All names that occur.
    pub names: Names,
    /// What the pragmas of the program allow; the diagnostics are already without it.
    pub allowances: Allowances,
    /// Where the program asks its inputs whether to stop, if there is an image.
    pub stops: Vec<Stop>,
    /// What the image observes of itself, if that was asked for and there is an image.
    pub coverage: Option<CoverageMap>,
    /// What the image notes of itself in a journal, if that was asked for and there is an image.
    pub logic: Option<Logic>,
}

impl Compilation {
    /// Whether there is an error among the diagnostics.
    pub fn has_errors(&self) -> bool {
        self.diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error)
    }
}

/// What the standard leaves open and a user may decide, and what an image is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CompileOptions {
    /// An action of a sequential function chart runs once more in the scan in which it ends: action control with
    /// final scan logic (IEC 61131-3:2013, table 60, 1), as we choose by default. Otherwise without (table 60, 2).
    pub final_scan: bool,
    /// Transitions from one step without priorities must exclude each other (IEC 61131-3:2013, table 61, 2c): a
    /// warning where that is not seen from their conditions, an event where two of them are TRUE. Otherwise the first
    /// one in the text clears (table 61, 2a).
    pub exclusive_selections: bool,
    /// The image observes itself, so that the machine can tell which parts of the text were run:
    /// [`Compilation::coverage`]. Everything else it does, down to the number of instructions, is as without.
    pub coverage: bool,
    /// The image keeps a journal, so that it can be told why a value is what it is: [`Compilation::logic`]. Everything
    /// else it does, down to the number of instructions, is as without.
    pub journal: bool,
    /// Pragmas silence the warnings that they allow. Whoever judges the work of others wants to see all of them, and
    /// asks [`Compilation::allowances`] what their pragmas allow.
    pub allowances: bool,
}

impl Default for CompileOptions {
    fn default() -> Self {
        CompileOptions {
            final_scan: true,
            exclusive_selections: false,
            coverage: false,
            journal: false,
            allowances: true,
        }
    }
}

/// Parses, checks and lowers a program of one or more files. A file without any program is fine: its image
/// has no task.
pub fn compile(sources: &Sources) -> Compilation {
    compile_with(sources, &CompileOptions::default())
}

/// As [`compile`], with other options than the default ones.
pub fn compile_with(sources: &Sources, options: &CompileOptions) -> Compilation {
    let files: Vec<FileId> = sources.iter().map(|(file, _)| file).collect();
    compile_files(sources, &files, options)
}

/// As [`compile_with`], of some of the sources only: several programs, and files in other languages, can be shown
/// together.
pub fn compile_files(sources: &Sources, files: &[FileId], options: &CompileOptions) -> Compilation {
    let mut result = Compilation::default();
    let mut trees = Vec::new();
    for (file, source) in sources.iter().filter(|(file, _)| files.contains(file)) {
        let parsed = parse(file, &source.text, &mut result.names);
        result.diagnostics.extend(parsed.diagnostics);
        trees.push(parsed.tree);
    }
    result.allowances = Allowances::read(&trees, sources);
    let charts = if options.journal { charts(&trees, sources, &result.names) } else { Vec::new() };
    let checked = check_and_release(trees, sources, &mut result.names, options);
    result.diagnostics.extend(checked.diagnostics);
    if !result.has_errors() {
        let stops = stops::stops(&checked.program, &result.names, |place| sources.text(place));
        match lower_and_release(checked.program, sources, &result.names, options) {
            Ok(Lowered { image, coverage, mut logic }) => {
                if let Some(logic) = &mut logic {
                    place_charts(logic, charts);
                }
                result.image = Some(image);
                result.coverage = coverage;
                result.logic = logic;
                result.stops = stops;
            }
            Err(errors) => result.diagnostics.extend(errors),
        }
    }
    if options.allowances {
        result.allowances.apply(&mut result.diagnostics);
    }
    // Stable: at one place the parser's findings stay before the checker's.
    result
        .diagnostics
        .sort_by_key(|diagnostic| (diagnostic.primary.span.file, diagnostic.primary.span.start));
    result
}

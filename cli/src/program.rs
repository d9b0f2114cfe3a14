//! From the files named on the command line to an image, with what is wrong shown on the way.

use std::{
    path::{Path, PathBuf},
    sync::Arc,
};

use latchwork_compiler::{
    Compilation, CompileOptions, allow::Allowances, coverage::CoverageMap, logic::Logic, render, stops::Stop,
};
use latchwork_grammar::Sources;
use latchwork_vm::{Image, Program};

use crate::{
    arguments::LanguageArguments,
    coverage::Measuring,
    exit::{Exit, Failure},
    files::{self, Input},
    terminal::Terminal,
};

/// A compiled program.
#[derive(Debug)]
pub(crate) struct Compiled {
    /// Its source files; none when it came as an image.
    pub(crate) sources: Sources,
    /// The image.
    pub(crate) image: Image,
    /// What the pragmas of its sources allow.
    pub(crate) allowances: Allowances,
    /// Where it asks its inputs whether to stop; unknown when it came as an image.
    pub(crate) stops: Vec<Stop>,
    /// What the image observes of itself, if coverage is to be measured.
    pub(crate) coverage: Option<CoverageMap>,
    /// What the image notes in its journal, if it keeps one.
    pub(crate) logic: Option<Logic>,
}

/// The name of a file in messages and recordings: the path as the user wrote it.
pub(crate) fn name(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

/// The names of several files, for one message.
pub(crate) fn names(paths: &[PathBuf]) -> String {
    paths.iter().map(|path| name(path)).collect::<Vec<_>>().join(", ")
}

/// Why the coverage of an image cannot be measured.
pub(crate) fn without_coverage(path: &Path) -> String {
    let name = path.display();
    format!("{name}: an image has no source text whose coverage could be told; give the source files")
}

/// Why nothing can be told of what the statements of an image did.
pub(crate) fn without_journal(path: &Path) -> String {
    let name = path.display();
    format!("{name}: an image has no source text whose statements could be told; give the source files")
}

/// Reads source files.
pub(crate) fn sources(paths: &[PathBuf]) -> Result<Sources, Failure> {
    let mut sources = Sources::new();
    for path in paths {
        sources.add(name(path), files::source(path)?);
    }
    Ok(sources)
}

/// Reads and compiles source files, or reads one image. Warnings are shown unless `quiet`; errors end it.
pub(crate) fn compiled(
    paths: &[PathBuf],
    language: LanguageArguments,
    quiet: bool,
    terminal: &Terminal,
) -> Result<Compiled, Failure> {
    compiled_with(paths, language, (Measuring::No, false), quiet, terminal)
}

/// As [`compiled`], for measuring coverage and for an image that keeps a journal; both need the source.
pub(crate) fn compiled_with(
    paths: &[PathBuf],
    language: LanguageArguments,
    (measuring, journal): (Measuring, bool),
    quiet: bool,
    terminal: &Terminal,
) -> Result<Compiled, Failure> {
    if let [path] = paths
        && let Input::Image(bytes) = files::input(path)?
    {
        if language != LanguageArguments::default() {
            return Err(Failure::usage(format!(
                "{}: an image has been compiled already; give options of the language to `latchwork build`",
                path.display()
            )));
        }
        if measuring == Measuring::Demanded {
            return Err(Failure::usage(without_coverage(path)));
        }
        let image = Image::from_bytes(&bytes)
            .map_err(|error| Failure::usage(format!("{}: {error}", path.display())))?;
        return Ok(Compiled {
            sources: Sources::new(),
            image,
            allowances: Allowances::default(),
            stops: Vec::new(),
            coverage: None,
            logic: None,
        });
    }
    let coverage = measuring != Measuring::No;
    from_sources_with(paths, CompileOptions { coverage, journal, ..language.options() }, quiet, terminal)
}

/// A program whose image keeps a journal, ready to run.
#[derive(Debug)]
pub(crate) struct Journalled {
    /// Its source files.
    pub(crate) sources: Sources,
    /// What its image notes.
    pub(crate) logic: Arc<Logic>,
    /// Loaded.
    pub(crate) program: Arc<Program>,
}

/// Reads and compiles source files for an account of what their statements do. Warnings are not shown; errors end it.
pub(crate) fn journalled(
    paths: &[PathBuf],
    language: LanguageArguments,
    terminal: &Terminal,
) -> Result<Journalled, Failure> {
    for path in paths {
        if matches!(files::input(path)?, Input::Image(_)) {
            return Err(Failure::usage(without_journal(path)));
        }
    }
    let options = CompileOptions { journal: true, ..language.options() };
    let Compiled { sources, image, logic, .. } = from_sources_with(paths, options, true, terminal)?;
    let Some(logic) = logic.map(Arc::new) else {
        return Err(Failure::internal("an image without the journal that was asked for"));
    };
    let program = Program::load(image, latchwork_stdlib::natives())
        .map_err(|error| Failure::usage(format!("{}: {error}", names(paths))))?;
    Ok(Journalled { sources, logic, program: Arc::new(program) })
}

/// Reads and compiles source files, and nothing else. Warnings are shown unless `quiet`; errors end it.
pub(crate) fn from_sources(
    paths: &[PathBuf],
    language: LanguageArguments,
    quiet: bool,
    terminal: &Terminal,
) -> Result<Compiled, Failure> {
    from_sources_with(paths, language.options(), quiet, terminal)
}

/// As [`from_sources`], for an image with what these options say.
pub(crate) fn from_sources_with(
    paths: &[PathBuf],
    options: CompileOptions,
    quiet: bool,
    terminal: &Terminal,
) -> Result<Compiled, Failure> {
    let sources = sources(paths)?;
    let compilation = latchwork_compiler::compile_with(&sources, &options);
    let failed = compilation.has_errors();
    if failed || !quiet {
        terminal.say(&render::text(&compilation.diagnostics, &sources, terminal.message_colour()));
    }
    match compilation.image {
        Some(image) if !failed => {
            let Compilation { allowances, stops, coverage, logic, .. } = compilation;
            Ok(Compiled { sources, image, allowances, stops, coverage, logic })
        }
        _ if failed => Err(Failure::shown(Exit::Findings)),
        _ => Err(Failure::internal("no image was made although no error was found")),
    }
}

/// Ends it when an image holds no PROGRAM, so that there is nothing to run.
pub(crate) fn require_program(image: &Image, paths: &[PathBuf]) -> Result<(), Failure> {
    if image.tasks.iter().any(|task| !task.programs.is_empty()) {
        return Ok(());
    }
    Err(Failure::nothing(format!(
        "{}: there is no PROGRAM here, so there is nothing to run; write PROGRAM … END_PROGRAM around what is to run",
        names(paths)
    )))
}

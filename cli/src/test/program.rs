//! The programs that procedures run on: read and compiled when first needed, and only once.

use std::{
    collections::BTreeMap,
    path::PathBuf,
    sync::{Arc, OnceLock},
};

use latchwork_compiler::{CompileOptions, coverage::CoverageMap, logic::Logic, render};
use latchwork_grammar::{Diagnostic, Sources};
use latchwork_vm::{Image, Program};

use crate::{
    arguments::LanguageArguments,
    coverage::Measuring,
    files::{self, Input},
    program,
};

/// A program by its files.
#[derive(Debug)]
pub(super) struct TestProgram {
    /// In the order in which they were named.
    pub(super) paths: Vec<PathBuf>,
    /// How it is called where there are several: the names of its files without their folders.
    pub(super) label: String,
    measuring: Measuring,
    journal: Measuring,
    compiled: OnceLock<Compiled>,
}

/// What came of compiling.
#[derive(Debug)]
pub(super) enum Compiled {
    /// It can run.
    Ready {
        /// Loaded.
        program: Arc<Program>,
        /// Its texts; none if it came as an image.
        sources: Sources,
        /// What its image observes of itself, if its coverage is measured.
        coverage: Option<CoverageMap>,
        /// What its image notes in its journal, if it keeps one.
        logic: Option<Arc<Logic>>,
    },
    /// It has errors.
    Errors {
        /// What is wrong.
        diagnostics: Vec<Diagnostic>,
        /// Its texts.
        sources: Sources,
    },
    /// It could not be read, or is no program; in words.
    Unusable(String),
}

impl TestProgram {
    /// Compiles it if that has not been done. Warnings are the concern of `check`.
    pub(super) fn compiled(&self, language: LanguageArguments) -> &Compiled {
        self.compiled.get_or_init(|| compile(self, language))
    }
}

fn compile(program: &TestProgram, language: LanguageArguments) -> Compiled {
    let TestProgram { paths, measuring, journal, .. } = program;
    let (image, sources, coverage, logic) = if let [path] = paths.as_slice()
        && let Ok(Input::Image(bytes)) = files::input(path)
    {
        if *measuring == Measuring::Demanded {
            return Compiled::Unusable(program::without_coverage(path));
        }
        if *journal == Measuring::Demanded {
            return Compiled::Unusable(program::without_journal(path));
        }
        match Image::from_bytes(&bytes) {
            Ok(image) => (image, Sources::new(), None, None),
            Err(error) => return Compiled::Unusable(format!("{}: {error}", path.display())),
        }
    } else {
        let sources = match program::sources(paths) {
            Ok(sources) => sources,
            Err(failure) => return Compiled::Unusable(failure.message),
        };
        let options = CompileOptions {
            coverage: *measuring != Measuring::No,
            journal: *journal != Measuring::No,
            ..language.options()
        };
        let compilation = latchwork_compiler::compile_with(&sources, &options);
        let failed = compilation.has_errors();
        match compilation.image {
            Some(image) if !failed => (image, sources, compilation.coverage, compilation.logic.map(Arc::new)),
            _ => return Compiled::Errors { diagnostics: compilation.diagnostics, sources },
        }
    };
    if let Err(failure) = program::require_program(&image, paths) {
        return Compiled::Unusable(failure.message);
    }
    match Program::load(image, latchwork_stdlib::natives()) {
        Ok(program) => Compiled::Ready { program: Arc::new(program), sources, coverage, logic },
        Err(error) => Compiled::Unusable(format!("{}: {error}", program::names(paths))),
    }
}

/// All programs of a run; the same files are the same program.
#[derive(Debug, Default)]
pub(super) struct Programs {
    /// Whether their coverage is to be measured.
    pub(super) measuring: Measuring,
    /// Whether their images keep journals.
    pub(super) journal: Measuring,
    known: BTreeMap<Vec<PathBuf>, Arc<TestProgram>>,
}

impl Programs {
    /// The program of some files, in this order.
    pub(super) fn of(&mut self, paths: Vec<PathBuf>) -> Arc<TestProgram> {
        let real = paths.iter().map(|path| path.canonicalize().unwrap_or_else(|_| path.clone())).collect();
        let names = paths.iter().filter_map(|path| path.file_name());
        let label = names.map(|name| render::visible(&name.to_string_lossy())).collect::<Vec<_>>().join(", ");
        let Programs { measuring, journal, .. } = *self;
        let program =
            || Arc::new(TestProgram { paths, label, measuring, journal, compiled: OnceLock::new() });
        Arc::clone(self.known.entry(real).or_insert_with(program))
    }

    /// The files of all of them.
    pub(super) fn paths(&self) -> impl Iterator<Item = &PathBuf> {
        self.known.values().flat_map(|program| &program.paths)
    }
}

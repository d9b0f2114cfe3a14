//! A file of procedures with all that it names: included files, station, programs.

use std::{
    path::{Path, PathBuf},
    sync::{Arc, OnceLock},
};

use latchwork_bench::procedure::{ProcedureTexts, Script, ScriptParts, Traces, files as wording};
use latchwork_grammar::{
    Diagnostic, FileId, Names, Severity, Sources, parse_steps,
    steps::tree::{ItemKind, Procedure, StepsFile, Text},
};

use super::{
    program::{Compiled, Programs, TestProgram},
    station::{Stations, TestStation},
    traces::FoundTraces,
};
use crate::{arguments::LanguageArguments, exit::Failure, files, program};

/// Most files that one file of procedures includes, itself among them.
const FILES_MAX: usize = 256;

/// A file of procedures, read.
pub(crate) struct Suite {
    /// As it was found.
    pub(crate) path: PathBuf,
    /// Texts of the files of procedures.
    pub(crate) sources: Sources,
    names: Names,
    /// Included files first, the file itself last; empty if it could not be read.
    files: Vec<StepsFile>,
    /// Where the procedures are: file and item.
    procedures: Vec<(usize, usize)>,
    /// The station, if one is named and can be read.
    pub(crate) station: Option<Arc<TestStation>>,
    /// The programs that every procedure runs on; empty if none is named.
    pub(super) variants: Vec<Arc<TestProgram>>,
    /// What its procedures are compared with.
    traces: Traces,
    /// For each procedure that is compared with an approved trace its path.
    approved: Vec<Option<PathBuf>>,
    /// What is wrong with the files.
    pub(crate) problems: Vec<Diagnostic>,
    /// Why the file could not be read.
    pub(crate) unreadable: Option<String>,
    /// All that was read, or should have been.
    pub(crate) inputs: Vec<PathBuf>,
}

/// What is given on the command line instead of what a file names.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Given<'a> {
    pub(crate) program: &'a [PathBuf],
    pub(crate) station: Option<&'a PathBuf>,
    pub(crate) language: LanguageArguments,
}

/// What suites share.
#[derive(Default)]
pub(crate) struct Shared {
    pub(super) programs: Programs,
    pub(super) stations: Stations,
}

impl Suite {
    /// Reads a file of procedures and whatever it names but the programs.
    pub(crate) fn read(path: PathBuf, given: Given<'_>, shared: &mut Shared) -> Self {
        let mut suite = Suite {
            path: path.clone(),
            sources: Sources::new(),
            names: Names::new(),
            files: Vec::new(),
            procedures: Vec::new(),
            station: None,
            variants: Vec::new(),
            traces: Traces::default(),
            approved: Vec::new(),
            problems: Vec::new(),
            unreadable: None,
            inputs: Vec::new(),
        };
        let mut reader =
            Reader { suite: &mut suite, open: Vec::new(), folders: Vec::new(), known: Vec::new() };
        if let Err(failure) = reader.file(&path) {
            suite.unreadable = Some(failure.message);
            return suite;
        }
        let folders = reader.folders;
        suite.number_procedures();
        suite.problems.extend(wording::together(&suite.files));
        suite.find_station(given, &folders, &mut shared.stations);
        suite.find_programs(given, &folders, &mut shared.programs);
        suite.find_traces();
        suite
    }

    /// Its name: the path as it was found.
    pub(super) fn name(&self) -> String {
        program::name(&self.path)
    }

    fn number_procedures(&mut self) {
        let items = self.files.iter().enumerate().flat_map(|(file, parsed)| {
            parsed.items.iter().enumerate().map(move |(index, item)| ((file, index), item))
        });
        let procedures = items.filter(|(_, item)| matches!(item.kind, ItemKind::Procedure(_)));
        self.procedures = procedures.map(|(place, _)| place).collect();
    }

    /// Number of procedures.
    pub(super) fn procedure_count(&self) -> usize {
        self.procedures.len()
    }

    /// A procedure, in the order of the text.
    pub(super) fn procedure(&self, index: usize) -> Option<&Procedure> {
        let (file, item) = self.procedures.get(index)?;
        match &self.files.get(*file)?.items.get(*item)?.kind {
            ItemKind::Procedure(procedure) => Some(procedure),
            _ => None,
        }
    }

    /// The procedures in the order of the text.
    pub(super) fn procedures(&self) -> impl Iterator<Item = &Procedure> {
        (0..self.procedures.len()).filter_map(|index| self.procedure(index))
    }

    /// Whether none of its procedures can be run.
    pub(crate) fn is_refused(&self) -> bool {
        self.unreadable.is_some() || has_error(&self.problems)
    }

    /// Whether several programs run, so that it must be said which.
    pub(super) fn has_variants(&self) -> bool {
        self.variants.len() > 1
    }

    /// The number of variants that its procedures count for; a file without a program has its procedures too.
    pub(super) fn variant_count(&self) -> usize {
        self.variants.len().max(1)
    }

    /// The name of a variant; empty if there is none.
    pub(super) fn variant(&self, index: usize) -> &str {
        self.variants.get(index).map_or("", |program| program.label.as_str())
    }

    /// The names of files in an item, each with the folder that it is meant from.
    fn named<'s>(
        &'s self,
        folders: &'s [PathBuf],
        wanted: impl Fn(&'s ItemKind) -> Option<&'s [Text]>,
    ) -> Vec<(&'s [Text], &'s Path)> {
        let files = self.files.iter().zip(folders);
        files
            .flat_map(|(file, folder)| file.items.iter().map(move |item| (item, folder.as_path())))
            .filter_map(|(item, folder)| Some((wanted(&item.kind)?, folder)))
            .collect()
    }

    fn find_station(&mut self, given: Given<'_>, folders: &[PathBuf], stations: &mut Stations) {
        let named = self.named(folders, |item| match item {
            ItemKind::Station(name) => Some(std::slice::from_ref(name)),
            _ => None,
        });
        let named =
            named.first().and_then(|(names, folder)| Some((names.first()?.clone(), folder.to_path_buf())));
        let (path, name) = match (given.station, named) {
            (Some(path), _) => (path.clone(), None),
            (None, Some((name, folder))) => (folder.join(&name.value), Some(name)),
            (None, None) => return,
        };
        match stations.of(&path, given.language) {
            Ok(station) => {
                self.inputs.extend(station.inputs.iter().cloned());
                self.station = Some(station);
            }
            Err(failure) => {
                self.inputs.push(path);
                match name {
                    Some(name) => self.problems.push(wording::unreadable(&name, &failure.message)),
                    None => self.unreadable = Some(failure.message),
                }
            }
        }
    }

    fn find_programs(&mut self, given: Given<'_>, folders: &[PathBuf], programs: &mut Programs) {
        if !given.program.is_empty() {
            self.variants.push(programs.of(given.program.to_vec()));
            return;
        }
        let named = self.named(folders, |item| match item {
            ItemKind::Program(names) => Some(names.as_slice()),
            _ => None,
        });
        let mut variants = Vec::new();
        let mut missing = Vec::new();
        for (names, folder) in named {
            let paths: Vec<PathBuf> = names.iter().map(|name| folder.join(&name.value)).collect();
            // What is not there is best told at its name; everything else when the program is compiled.
            let absent = names.iter().zip(&paths).find(|(_, path)| !path.exists());
            missing.extend(absent.map(|(name, path)| {
                wording::unreadable(name, &format!("there is no file {}", path.display()))
            }));
            variants.push(programs.of(paths));
        }
        self.problems.extend(missing);
        if variants.is_empty()
            && let Some(file) = self.files.last()
            && self.procedure_count() > 0
        {
            self.problems.push(wording::no_program(file.file));
        }
        self.variants = variants;
    }

    /// Reads what its procedures are compared with. They all stand in the file itself.
    fn find_traces(&mut self) {
        let places = self.procedures.iter();
        let items = places.filter_map(|(file, item)| self.files.get(*file)?.items.get(*item));
        let procedures: Vec<&Procedure> = items
            .filter_map(|item| match &item.kind {
                ItemKind::Procedure(procedure) => Some(procedure),
                _ => None,
            })
            .collect();
        let found = FoundTraces::read(&self.path, &procedures, &mut self.sources);
        self.traces = found.traces;
        self.approved = found.approved;
        self.problems.extend(found.problems);
        self.inputs.extend(found.inputs);
    }

    /// The path of the approved trace that a procedure is compared with, if it is with one.
    pub(super) fn approved_trace(&self, procedure: usize) -> Option<&Path> {
        self.approved.get(procedure)?.as_deref()
    }

    /// What its procedures are, for marking by them.
    pub(crate) fn texts(&self) -> ProcedureTexts<'_> {
        ProcedureTexts {
            files: &self.files,
            sources: &self.sources,
            names: &self.names,
            traces: self.traces.clone(),
        }
    }

    /// The script of a variant with what is questionable about it, or why there is none.
    fn script(&self, variant: usize, language: LanguageArguments) -> Result<Prepared<'_>, Refusal> {
        if self.is_refused() {
            return Err(Refusal::Suite);
        }
        if self.station.as_ref().is_some_and(|station| station.is_wrong()) {
            return Err(Refusal::Station);
        }
        let Some(program) = self.variants.get(variant) else { return Err(Refusal::Suite) };
        let Compiled::Ready { program, .. } = program.compiled(language) else {
            return Err(Refusal::Program);
        };
        let station = self.station.as_ref().and_then(|station| station.station.as_ref());
        let unfit = station.map_or_else(Vec::new, |station| station.check(program));
        if has_error(&unfit) {
            return Err(Refusal::Unfit(errors(unfit)));
        }
        let parts = ScriptParts {
            files: &self.files,
            program: Arc::clone(program),
            station,
            sources: &self.sources,
            names: &self.names,
        };
        let (script, found) = Script::new(parts);
        if has_error(&found) {
            Err(Refusal::Problems(errors(found)))
        } else {
            Ok(Prepared { script: script.with_traces(self.traces.clone()), warnings: found })
        }
    }
}

/// Why no procedure of a file can be run on a program.
#[derive(Debug)]
pub(super) enum Refusal {
    /// The file is wrong: [`Suite::problems`], [`Suite::unreadable`].
    Suite,
    /// The station is: [`TestStation`].
    Station,
    /// The program is: [`Compiled`].
    Program,
    /// The station does not fit the program; told in the station.
    Unfit(Vec<Diagnostic>),
    /// What holds for all procedures does not fit the program.
    Problems(Vec<Diagnostic>),
}

/// A suite on a variant, ready to run.
pub(super) struct Prepared<'s> {
    pub(super) script: Script<'s>,
    /// What is questionable about the file on this program.
    pub(super) warnings: Vec<Diagnostic>,
}

/// The scripts of a suite by variant, made when first needed.
pub(super) struct Scripts<'s> {
    made: Vec<OnceLock<Result<Prepared<'s>, Refusal>>>,
}

impl<'s> Scripts<'s> {
    /// None made yet.
    pub(super) fn new(suite: &Suite) -> Self {
        Scripts { made: (0..suite.variant_count()).map(|_| OnceLock::new()).collect() }
    }

    /// The script of a variant.
    pub(super) fn get(
        &self,
        suite: &'s Suite,
        variant: usize,
        language: LanguageArguments,
    ) -> Result<&Prepared<'s>, &Refusal> {
        match self.made.get(variant) {
            Some(made) => made.get_or_init(|| suite.script(variant, language)).as_ref(),
            None => Err(&Refusal::Suite),
        }
    }
}

fn has_error(problems: &[Diagnostic]) -> bool {
    problems.iter().any(|problem| problem.severity == Severity::Error)
}

fn errors(mut problems: Vec<Diagnostic>) -> Vec<Diagnostic> {
    problems.retain(|problem| problem.severity == Severity::Error);
    problems
}

/// Reads a file and, before it, those that it includes, each once.
struct Reader<'s> {
    suite: &'s mut Suite,
    /// The files that include one another down to the one being read, without links, and as they are named.
    open: Vec<(PathBuf, String)>,
    /// The folders of the files read, in the order of [`Suite::files`].
    folders: Vec<PathBuf>,
    /// All files read or being read, without links.
    known: Vec<PathBuf>,
}

impl Reader<'_> {
    fn file(&mut self, path: &Path) -> Result<(), Failure> {
        self.suite.inputs.push(path.to_path_buf());
        let text = files::source(path)?;
        let real = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
        self.known.push(real.clone());
        self.open.push((real, program::name(path)));
        let file = self.suite.sources.add(program::name(path), text);
        let parsed = self.parse(file);
        let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
        for item in &parsed.items {
            if let ItemKind::Include(name) = &item.kind {
                self.include(name, &folder);
            }
        }
        self.open.pop();
        self.suite.files.push(parsed);
        self.folders.push(folder);
        Ok(())
    }

    fn parse(&mut self, file: FileId) -> StepsFile {
        let text = self.suite.sources.file(file).text.as_str();
        let parsed = parse_steps(file, text, &mut self.suite.names);
        self.suite.problems.extend(parsed.diagnostics);
        parsed.tree
    }

    fn include(&mut self, name: &Text, folder: &Path) {
        let path = folder.join(&name.value);
        let real = path.canonicalize().unwrap_or_else(|_| path.clone());
        if let Some(begin) = self.open.iter().position(|(open, _)| *open == real) {
            let circle = self.open.iter().skip(begin).map(|(_, name)| name.clone());
            let chain: Vec<String> = circle.chain([program::name(&path)]).collect();
            self.suite.problems.push(wording::included_in_a_circle(name, &chain));
            return;
        }
        if self.known.contains(&real) {
            return;
        }
        if self.known.len() >= FILES_MAX {
            let reason = format!("more than {FILES_MAX} files are included");
            self.suite.problems.push(wording::unreadable(name, &reason));
            return;
        }
        if let Err(failure) = self.file(&path) {
            self.suite.problems.push(wording::unreadable(name, &failure.message));
        }
    }
}

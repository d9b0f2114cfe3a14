//! An exercise with all files that it names, read.

use std::{
    path::{Path, PathBuf},
    sync::Arc,
};

use latchwork_bench::{
    exercise::{EXERCISE_BYTES_MAX, Exercise},
    marking::{ExerciseParts, ExerciseTexts, Marker},
    station::{Placed, STATION_BYTES_MAX},
};
use latchwork_compiler::render;
use latchwork_grammar::{Diagnostic, Severity, Sources};
use latchwork_vm::Program;
use sha2::{Digest, Sha256};

use crate::{
    arguments::LanguageArguments,
    exit::{Exit, Failure},
    files, program,
    terminal::Terminal,
    test::suite::{Given, Shared, Suite},
};

/// The file that makes a folder an exercise.
const EXERCISE_FILE: &str = "exercise.toml";

/// Largest task text accepted, in bytes.
const TASK_BYTES_MAX: usize = 256 * 1024;

/// For what an exercise is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Purpose {
    /// To mark by it: everything must be there.
    Marking,
    /// To practise with it: what is kept back, and the reference, may have been left out.
    Practice,
}

/// An exercise, read.
pub(crate) struct Loaded {
    /// Its description.
    pub(crate) exercise: Exercise,
    /// The text of the task, in Markdown.
    pub(crate) task: String,
    /// What was handed out, with names.
    pub(crate) skeleton: Vec<(String, String)>,
    /// The texts of the reference; none if it is an image.
    pub(crate) reference_sources: Sources,
    /// Whether some of its procedures are not for students.
    pub(crate) keeps_back: bool,
    /// Files that were read.
    pub(crate) inputs: Vec<PathBuf>,
    /// SHA-256 of everything that marks depend on, in hexadecimal.
    pub(crate) digest: String,
    language: LanguageArguments,
    suites: Vec<Suite>,
    reference: Option<Arc<Program>>,
    no_plant: Sources,
}

impl Loaded {
    /// Reads an exercise from its folder, or from its file.
    pub(crate) fn read(
        path: &Path,
        purpose: Purpose,
        language: LanguageArguments,
        terminal: &Terminal,
    ) -> Result<Loaded, Failure> {
        let path = &if path.is_dir() { path.join(EXERCISE_FILE) } else { path.to_path_buf() };
        let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
        let text = files::text_file(path, EXERCISE_BYTES_MAX, "an exercise")?;
        let mut sources = Sources::new();
        let file = sources.add(program::name(path), text.as_str());
        let (exercise, problems) = Exercise::read(file, &text);
        let Some(mut exercise) = exercise else { return Err(shown(&problems, &sources, terminal)) };
        let keeps_back = exercise.procedures.iter().any(|file| !file.shown);
        if purpose == Purpose::Practice {
            exercise.procedures.retain(|file| file.shown);
        }
        let mut loading =
            Loading { folder, sources, inputs: vec![path.clone()], hasher: Sha256::new(), terminal };
        loading.note(text.as_bytes());
        let task = loading.text(&exercise.task, TASK_BYTES_MAX, "a task")?;
        let mut skeleton = Vec::new();
        for file in &exercise.skeleton {
            skeleton.push((file.value.clone(), loading.source(file)?));
        }
        let reference = loading.reference(&exercise.reference, purpose, language)?;
        let suites = loading.suites(&exercise, language)?;
        let Loading { inputs, hasher, .. } = loading;
        let (reference, reference_sources) = reference.unzip();
        let mut loaded = Loaded {
            exercise,
            task,
            skeleton,
            reference_sources: reference_sources.unwrap_or_default(),
            keeps_back,
            inputs,
            digest: String::new(),
            language,
            suites,
            reference,
            no_plant: Sources::new(),
        };
        loaded.check_station(terminal)?;
        let digest = hasher.chain_update(format!("{language:?} {}", env!("CARGO_PKG_VERSION"))).finalize();
        loaded.digest = digest.iter().map(|byte| format!("{byte:02x}")).collect();
        Ok(loaded)
    }

    fn check_station(&self, terminal: &Terminal) -> Result<(), Failure> {
        let station = self.suites.first().and_then(|suite| suite.station.as_ref());
        match station.filter(|station| station.is_wrong()) {
            Some(station) => Err(shown(&station.problems, &station.sources, terminal)),
            None => Ok(()),
        }
    }

    /// For whoever marks by it. Without a reference there is none.
    pub(crate) fn parts(&self) -> ExerciseParts<'_> {
        let station = self.suites.first().and_then(|suite| suite.station.as_ref());
        ExerciseParts {
            exercise: &self.exercise,
            station: station.and_then(|station| station.station.as_ref()),
            plant: self.plant(),
            procedures: self.suites.iter().map(Suite::texts).collect(),
            reference: self.reference.clone(),
            options: self.language.options(),
        }
    }

    /// The marker of this exercise; what is wrong with its procedures is shown.
    pub(crate) fn marker(&self, terminal: &Terminal) -> Result<Marker<'_>, Failure> {
        Marker::new(self.parts()).map_err(|(file, problems)| match self.suites.get(file) {
            Some(suite) => shown(&problems, &suite.sources, terminal),
            None => Failure::internal("a file of procedures that is not there"),
        })
    }

    /// The texts of the panel and its plant.
    pub(crate) fn plant(&self) -> &Sources {
        let station = self.suites.first().and_then(|suite| suite.station.as_ref());
        station.map_or(&self.no_plant, |station| &station.sources)
    }

    /// For pages of students.
    pub(crate) fn texts<'l>(
        &'l self,
        marker: &'l Marker<'_>,
        procedures: &'l [&'l Sources],
    ) -> ExerciseTexts<'l> {
        let station = self.suites.first().and_then(|suite| suite.station.as_ref());
        ExerciseTexts {
            scheme: marker.scheme(),
            task: &self.task,
            station: station.and_then(|station| station.station.as_ref()),
            procedures,
            plant: self.plant(),
        }
    }
}

/// Shows problems; errors of an exercise are wrong usage of whoever wrote it.
pub(super) fn shown(problems: &[Diagnostic], sources: &Sources, terminal: &Terminal) -> Failure {
    terminal.say(&render::text(problems, sources, terminal.message_colour()));
    Failure::shown(Exit::Usage)
}

/// An exercise on its way.
struct Loading<'t> {
    folder: PathBuf,
    /// The text of its description.
    sources: Sources,
    inputs: Vec<PathBuf>,
    /// Of everything that was read.
    hasher: Sha256,
    terminal: &'t Terminal,
}

impl Loading<'_> {
    /// Takes bytes into the digest, with their number so that none can pass for another's.
    fn note(&mut self, bytes: &[u8]) {
        self.hasher.update((bytes.len() as u64).to_le_bytes());
        self.hasher.update(bytes);
    }

    fn path(&mut self, named: &Placed<String>) -> PathBuf {
        let path = self.folder.join(&named.value);
        self.inputs.push(path.clone());
        path
    }

    /// What is wrong with a file is told where it is named.
    fn failed(&self, named: &Placed<String>, failure: &Failure) -> Failure {
        let line = render::position(&self.sources, named.span).map_or(1, |place| place.line);
        let file = self.sources.file(named.span.file).name.as_str();
        Failure { exit: Exit::Usage, message: format!("{file}:{line}: {}", failure.message) }
    }

    fn text(&mut self, named: &Placed<String>, bytes_max: usize, what: &str) -> Result<String, Failure> {
        let path = self.path(named);
        let text =
            files::text_file(&path, bytes_max, what).map_err(|failure| self.failed(named, &failure))?;
        self.note(text.as_bytes());
        Ok(text)
    }

    fn source(&mut self, named: &Placed<String>) -> Result<String, Failure> {
        let path = self.path(named);
        let text = files::source(&path).map_err(|failure| self.failed(named, &failure))?;
        self.note(text.as_bytes());
        Ok(text)
    }

    /// The reference with its texts; nothing if it has been left out of what was handed out.
    fn reference(
        &mut self,
        named: &[Placed<String>],
        purpose: Purpose,
        language: LanguageArguments,
    ) -> Result<Option<(Arc<Program>, Sources)>, Failure> {
        let paths: Vec<PathBuf> = named.iter().map(|file| self.path(file)).collect();
        if purpose == Purpose::Practice && !paths.iter().all(|path| path.exists()) {
            return Ok(None);
        }
        for (file, path) in named.iter().zip(&paths) {
            match files::input(path).map_err(|failure| self.failed(file, &failure))? {
                files::Input::Source(text) => self.note(text.as_bytes()),
                files::Input::Image(bytes) => self.note(&bytes),
            }
        }
        let compiled = program::compiled(&paths, language, true, self.terminal);
        // A reference that is wrong is a wrong exercise.
        let compiled = compiled.map_err(|failure| Failure { exit: Exit::Usage, ..failure })?;
        program::require_program(&compiled.image, &paths)
            .map_err(|failure| Failure { exit: Exit::Usage, ..failure })?;
        let program = Program::load(compiled.image, latchwork_stdlib::natives())
            .map_err(|error| Failure::usage(format!("{}: {error}", program::names(&paths))))?;
        Ok(Some((Arc::new(program), compiled.sources)))
    }

    fn suites(&mut self, exercise: &Exercise, language: LanguageArguments) -> Result<Vec<Suite>, Failure> {
        let program: Vec<PathBuf> =
            exercise.reference.iter().map(|file| self.folder.join(&file.value)).collect();
        let station = exercise.station.as_ref().map(|station| self.folder.join(&station.value));
        if let Some((path, named)) = station.as_ref().zip(exercise.station.as_ref()) {
            files::text_file(path, STATION_BYTES_MAX, "a station")
                .map_err(|failure| self.failed(named, &failure))?;
        }
        let given = Given { program: &program, station: station.as_ref(), language };
        let mut shared = Shared::default();
        let mut suites = Vec::new();
        for file in &exercise.procedures {
            let path = self.folder.join(&file.file.value);
            let suite = Suite::read(path, given, &mut shared);
            if let Some(message) = &suite.unreadable {
                return Err(self.failed(&file.file, &Failure::usage(message.clone())));
            }
            let wrong = suite.problems.iter().any(|problem| problem.severity == Severity::Error);
            if wrong {
                return Err(shown(&suite.problems, &suite.sources, self.terminal));
            }
            for (_, source) in suite.sources.iter() {
                self.note(source.text.as_bytes());
            }
            self.inputs.extend(suite.inputs.iter().cloned());
            if let Some(station) = &suite.station {
                station.sources.iter().for_each(|(_, source)| self.note(source.text.as_bytes()));
            }
            suites.push(suite);
        }
        Ok(suites)
    }
}

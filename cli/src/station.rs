//! From a station file to a station, with its plant read, compiled and connected.

use std::path::{Path, PathBuf};

use latchwork_bench::{
    plant::{Plant, PlantFiles},
    station::{STATION_BYTES_MAX, Station},
};
use latchwork_compiler::compile_files;
use latchwork_grammar::{Diagnostic, FileId, Severity, Sources};

use latchwork_vm::Program;

use crate::{arguments::LanguageArguments, exit::Failure, files, program, run::usable, terminal::Terminal};

/// A station file that was read.
pub(crate) struct Found {
    /// The station, unless there is an error in it or in its plant.
    pub(crate) station: Option<Station>,
    /// What is wrong with it and its plant.
    pub(crate) problems: Vec<Diagnostic>,
    /// The files of its plant.
    pub(crate) plant_files: Vec<PathBuf>,
}

/// Reads a station and its plant; both become part of the sources.
pub(crate) fn read(
    path: &Path,
    language: LanguageArguments,
    sources: &mut Sources,
) -> Result<Found, Failure> {
    let text = files::text_file(path, STATION_BYTES_MAX, "a station")?;
    let file = sources.add(program::name(path), text);
    let (station, problems) = Station::parse(file, &sources.file(file).text);
    let mut found = Found { station: None, problems, plant_files: Vec::new() };
    let Some(mut station) = station else { return Ok(found) };
    if let Some(written) = &station.plant {
        let ids = plant_files(path, written, sources, &mut found);
        let Some(plant) = ids.and_then(|ids| plant(&station, &ids, language, sources, &mut found)) else {
            return Ok(found);
        };
        station.connect(plant);
    }
    found.station = Some(station);
    Ok(found)
}

/// Reads a station, if one is given, with its plant, and checks it against a program; what is wrong is shown and ends it.
pub(crate) fn checked(
    path: Option<&PathBuf>,
    language: LanguageArguments,
    program: &Program,
    sources: &mut Sources,
    terminal: &Terminal,
) -> Result<Option<Station>, Failure> {
    let Some(path) = path else { return Ok(None) };
    let mut found = read(path, language, sources)?;
    if let Some(station) = &found.station {
        found.problems.extend(station.check(program));
    }
    usable(found.problems, sources, true, terminal)?;
    Ok(found.station)
}

/// Reads the files of a plant, beside the station file.
fn plant_files(
    station: &Path,
    written: &PlantFiles,
    sources: &mut Sources,
    found: &mut Found,
) -> Option<Vec<FileId>> {
    let mut ids = Vec::new();
    let mut complete = true;
    for file in &written.files {
        let path = beside(station, &file.value);
        match files::source(&path) {
            Ok(text) => ids.push(sources.add(program::name(&path), text)),
            Err(failure) => {
                complete = false;
                let diagnostic = Diagnostic::error("station-plant-file", file.span, failure.message);
                found.problems.push(diagnostic.label("a path from the folder of the station file"));
            }
        }
        found.plant_files.push(path);
    }
    complete.then_some(ids)
}

/// A path that is written in a file, from the folder of that file.
fn beside(file: &Path, written: &str) -> PathBuf {
    let mut path = file.parent().map(Path::to_path_buf).unwrap_or_default();
    path.extend(written.split('/'));
    path
}

/// Compiles and wires a plant.
fn plant(
    station: &Station,
    ids: &[FileId],
    language: LanguageArguments,
    sources: &Sources,
    found: &mut Found,
) -> Option<Plant> {
    let compilation = compile_files(sources, ids, &language.options());
    found.problems.extend(compilation.diagnostics);
    if found.problems.iter().any(|problem| problem.severity == Severity::Error) {
        return None;
    }
    match Plant::new(compilation.image?, latchwork_stdlib::natives(), station, sources, ids) {
        Ok(plant) => Some(plant),
        Err(problems) => {
            found.problems.extend(problems);
            None
        }
    }
}

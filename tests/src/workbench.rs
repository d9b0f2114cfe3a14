//! From files to a recording in one call, as the command does it.

use std::{
    fmt::Write,
    fs,
    path::{Path, PathBuf},
    sync::Arc,
};

use latchwork_bench::{
    plant::Plant,
    recording::Recording,
    replay::{ReplayOptions, Replayed, replay},
    station::Station,
    stimulus::Stimulus,
};
use latchwork_compiler::{CompileOptions, compile, compile_files, render};
use latchwork_grammar::{Diagnostic, Severity, Sources};
use latchwork_vm::Program;

/// The folder of the samples.
pub fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../samples")
}

/// The text of a sample, by its path in the folder of the samples.
///
/// # Errors
/// If the file cannot be read.
pub fn sample(path: &str) -> Result<String, String> {
    fs::read_to_string(samples().join(path)).map_err(|error| format!("{path}: {error}"))
}

/// A compiled program, ready to run.
///
/// # Errors
/// The diagnostics as text, if there is an error among them.
pub fn program(source: &str) -> Result<Arc<Program>, String> {
    let mut sources = Sources::new();
    sources.add("program", source);
    program_of(&sources)
}

/// A compiled program of several files, ready to run.
///
/// # Errors
/// The diagnostics as text, if there is an error among them.
pub fn program_of(sources: &Sources) -> Result<Arc<Program>, String> {
    let compiled = compile(sources);
    let Some(image) = compiled.image else { return Err(text(&compiled.diagnostics, sources)) };
    let program = Program::load(image, latchwork_stdlib::natives()).map_err(|error| error.to_string())?;
    Ok(Arc::new(program))
}

/// A program run on a station with a stimulus.
///
/// # Errors
/// Whatever is wrong with program, station or stimulus, as text.
pub fn run(
    source: &str,
    station: Option<&str>,
    stimulus: Option<&str>,
    options: &ReplayOptions,
) -> Result<Replayed, String> {
    run_program(program(source)?, station, stimulus, options)
}

/// A sample in a folder of its own, run on its station with its plant and its stimulus.
///
/// # Errors
/// Whatever is wrong with the files, as text.
pub fn run_folder(folder: &str, file: &str, options: &ReplayOptions) -> Result<Replayed, String> {
    let station = station_of(folder)?;
    let stimulus = sample(&format!("{folder}/stimulus.csv"))?;
    run_on(program(&sample(&format!("{folder}/{file}"))?)?, Some(&station), Some(&stimulus), options)
}

/// The station of a sample, with its plant.
///
/// # Errors
/// Whatever is wrong with the files, as text.
pub fn station_of(folder: &str) -> Result<Station, String> {
    let mut sources = Sources::new();
    let toml = sample(&format!("{folder}/station.toml"))?;
    let (station, diagnostics) = Station::parse(sources.add("station.toml", toml.as_str()), &toml);
    refuse_errors(&diagnostics, &sources)?;
    let mut station = station.ok_or("no station")?;
    if let Some(plant) = &station.plant {
        let mut files = Vec::new();
        for file in &plant.files {
            files.push(sources.add(file.value.as_str(), sample(&format!("{folder}/{}", file.value))?));
        }
        let compiled = compile_files(&sources, &files, &CompileOptions::default());
        let image = compiled.image.ok_or_else(|| text(&compiled.diagnostics, &sources))?;
        let plant = Plant::new(image, latchwork_stdlib::natives(), &station, &sources, &files);
        station.connect(plant.map_err(|diagnostics| text(&diagnostics, &sources))?);
    }
    Ok(station)
}

/// A compiled program run on a station with a stimulus.
///
/// # Errors
/// Whatever is wrong with station or stimulus, as text.
pub fn run_program(
    program: Arc<Program>,
    station: Option<&str>,
    stimulus: Option<&str>,
    options: &ReplayOptions,
) -> Result<Replayed, String> {
    let mut sources = Sources::new();
    let station = match station {
        Some(toml) => {
            let file = sources.add("station.toml", toml);
            let (station, diagnostics) = Station::parse(file, toml);
            refuse_errors(&diagnostics, &sources)?;
            station
        }
        None => None,
    };
    run_on(program, station.as_ref(), stimulus, options)
}

fn run_on(
    program: Arc<Program>,
    station: Option<&Station>,
    stimulus: Option<&str>,
    options: &ReplayOptions,
) -> Result<Replayed, String> {
    let mut sources = Sources::new();
    let stimulus = match stimulus {
        Some(csv) => {
            let file = sources.add("stimulus.csv", csv);
            let (stimulus, diagnostics) = Stimulus::parse(file, csv, &program, station);
            refuse_errors(&diagnostics, &sources)?;
            stimulus
        }
        None => None,
    };
    replay(program, station, stimulus.as_ref(), options)
        .map_err(|errors| errors.iter().map(|error| format!("{error}\n")).collect())
}

fn refuse_errors(diagnostics: &[Diagnostic], sources: &Sources) -> Result<(), String> {
    if diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error) {
        return Err(text(diagnostics, sources));
    }
    Ok(())
}

/// Diagnostics as the command prints them, without colours.
pub fn text(diagnostics: &[Diagnostic], sources: &Sources) -> String {
    render::text(diagnostics, sources, false)
}

/// Changes of one variable that are written out.
const SHOWN: usize = 24;

/// One line a variable: its first changes with their times in milliseconds, and how many more there are.
pub fn changes(recording: &Recording) -> String {
    let mut text = String::new();
    for row in &recording.rows {
        let _ = write!(text, "{:<22}", row.signal.name);
        for change in row.signal.changes.iter().take(SHOWN) {
            let time = recording.scans[change.scan as usize].time_ns / 1_000_000;
            let _ = write!(text, " {time}:{}", change.value);
        }
        match row.signal.changes.len() {
            0..=SHOWN => text.push('\n'),
            all => {
                let _ = writeln!(text, " and {} more", all - SHOWN);
            }
        }
    }
    text
}

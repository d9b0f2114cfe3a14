//! A program of the gallery on its station, with the plant behind it.

use std::sync::Arc;

use latchwork_bench::{plant::Plant, station::Station};
use latchwork_compiler::{CompileOptions, compile, compile_files};
use latchwork_grammar::{Diagnostic, Sources};
use latchwork_tests::workbench::text;
use latchwork_vm::Program;

use crate::folder::Folder;

/// A program on its station, and what was found.
pub struct Bench {
    pub program: Arc<Program>,
    pub station: Option<Station>,
    pub findings: Vec<Diagnostic>,
    sources: Sources,
}

impl Bench {
    /// What was found, as the command tells it.
    pub fn told(&self) -> String {
        text(&self.findings, &self.sources)
    }
}

/// Compiles the files of a program and of the plant, and puts them on the station.
pub fn bench(folder: &Folder, files: &[String], station: Option<&str>) -> Bench {
    let mut sources = Sources::new();
    for file in files {
        sources.add(file.as_str(), folder.text(file));
    }
    let compilation = compile(&sources);
    let mut findings = compilation.diagnostics;
    let Some(image) = compilation.image else {
        panic!("{} {files:?}: {}", folder.name, text(&findings, &sources));
    };
    let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
    let station = station.map(|name| {
        let station = wired(folder, name, &mut sources, &mut findings);
        findings.extend(station.check(&program));
        findings.extend(station.check_stops(&program, &compilation.stops, &compilation.allowances));
        station
    });
    Bench { program, station, findings, sources }
}

fn wired(folder: &Folder, name: &str, sources: &mut Sources, findings: &mut Vec<Diagnostic>) -> Station {
    let fail = |problems: &[Diagnostic], sources: &Sources| -> ! {
        panic!("{}/{name}: {}", folder.name, text(problems, sources))
    };
    let file = sources.add(name, folder.text(name));
    let (station, problems) = Station::parse(file, &sources.file(file).text);
    let Some(mut station) = station else { fail(&problems, sources) };
    findings.extend(problems);
    if let Some(plant) = &station.plant {
        let add = |file: &str, sources: &mut Sources| sources.add(file, folder.text(file));
        let files: Vec<_> = plant.files.iter().map(|file| add(&file.value, sources)).collect();
        let compilation = compile_files(sources, &files, &CompileOptions::default());
        let Some(image) = compilation.image else { fail(&compilation.diagnostics, sources) };
        findings.extend(compilation.diagnostics);
        match Plant::new(image, latchwork_stdlib::natives(), &station, sources, &files) {
            Ok(plant) => station.connect(plant),
            Err(problems) => fail(&problems, sources),
        }
    }
    station
}

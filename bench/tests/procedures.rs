//! Procedures on the virtual bench: when each form of expectation is met and when not, to the scan, and what is
//! refused before a run. Each `tests/procedures/*.steps` has its verdicts beside it.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{fmt::Write as _, fs, path::Path, sync::Arc};

use latchwork_bench::{
    plant::Plant,
    procedure::{FailureKind, Outcome, RunOptions, Script, ScriptParts, TraceFile, Traces, Verdict},
    station::Station,
};
use latchwork_compiler::{CompileOptions, compile, compile_files};
use latchwork_grammar::{Diagnostic, Names, Sources, parse_steps, steps::tree::ItemKind};
use latchwork_vm::{Program, Value};

fn time(nanoseconds: i64) -> String {
    Value::Duration(nanoseconds, latchwork_vm::ElementaryType::Time).to_string()
}

fn diagnostics(found: &[Diagnostic], sources: &Sources, out: &mut String) {
    for problem in found {
        let severity = format!("{:?}", problem.severity).to_lowercase();
        let place = sources.text(problem.primary.span);
        writeln!(out, "    {severity}[{}] `{place}`: {}", problem.name, problem.message).unwrap();
        writeln!(out, "      {}", problem.primary.text).unwrap();
        for note in &problem.notes {
            writeln!(out, "      = {note}").unwrap();
        }
    }
}

fn outcome(outcome: &Outcome, sources: &Sources, out: &mut String) {
    diagnostics(&outcome.warnings, sources, out);
    match &outcome.verdict {
        Verdict::Passed => {
            writeln!(out, "    passed after {} scans, {}", outcome.scans, time(outcome.end_ns)).unwrap();
        }
        Verdict::Refused(found) => {
            writeln!(out, "    refused").unwrap();
            diagnostics(found, sources, out);
        }
        Verdict::Failed(failure) => {
            match &failure.kind {
                FailureKind::Trace(departed) => {
                    writeln!(out, "    failed: departs from a trace").unwrap();
                    for line in departed.comparison.report().lines() {
                        writeln!(out, "      {line}").unwrap();
                    }
                }
                kind => writeln!(out, "    failed: {kind:?}").unwrap(),
            }
            writeln!(out, "    step `{}`", sources.text(failure.step)).unwrap();
            if let Some(condition) = failure.condition {
                writeln!(out, "    condition `{}`", sources.text(condition)).unwrap();
            }
            write!(out, "    at {}, since {}", time(failure.time_ns), time(failure.since_ns)).unwrap();
            for (word, moment) in
                [("last right", failure.last_right_ns), ("came right", failure.came_right_ns)]
            {
                if let Some(moment) = moment {
                    write!(out, ", {word} {}", time(moment)).unwrap();
                }
            }
            writeln!(out).unwrap();
            for part in &failure.parts {
                writeln!(out, "    part {}{} = {}", "  ".repeat(part.depth as usize), part.text, part.value)
                    .unwrap();
            }
            if let Some(action) = &failure.action {
                let step = sources.text(action.span);
                writeln!(out, "    action {}: `{step}`: {}", time(action.time_ns), action.effect).unwrap();
            }
            let rows: Vec<&str> = failure.recording.rows.iter().map(|row| row.name()).collect();
            let scans = failure.recording.scans.len();
            writeln!(out, "    rows {}, {scans} scans", rows.join(", ")).unwrap();
            if let Some(hint) = &failure.hint {
                writeln!(out, "    hint {hint}").unwrap();
            }
        }
    }
}

/// Connects the plant, if the station has one.
fn connect(station: &mut Station, folder: &Path, sources: &mut Sources) {
    let Some(plant) = &station.plant else { return };
    let read = |name: &String| fs::read_to_string(folder.join(name)).unwrap();
    let files: Vec<_> = plant.files.iter().map(|file| sources.add(&file.value, read(&file.value))).collect();
    let compiled = compile_files(sources, &files, &CompileOptions::default());
    assert!(!compiled.has_errors(), "{:#?}", compiled.diagnostics);
    let natives = latchwork_stdlib::natives();
    station.connect(Plant::new(compiled.image.unwrap(), natives, station, sources, &files).unwrap());
}

fn shown(path: &Path) -> String {
    let folder = path.parent().unwrap();
    let mut sources = Sources::new();
    let file = sources.add("case.steps", fs::read_to_string(path).unwrap());
    let mut names = Names::new();
    let parsed = parse_steps(file, &sources.file(file).text, &mut names);
    let mut out = String::new();
    diagnostics(&parsed.diagnostics, &sources, &mut out);
    let files = [parsed.tree];
    let mut programs = Sources::new();
    let mut station = None;
    let mut traces = Traces::default();
    for item in &files[0].items {
        match &item.kind {
            ItemKind::Program(texts) => {
                for text in texts {
                    programs.add(&text.value, fs::read_to_string(folder.join(&text.value)).unwrap());
                }
            }
            ItemKind::Station(text) => {
                let toml = fs::read_to_string(folder.join(&text.value)).unwrap();
                let file = sources.add(&text.value, toml);
                station = Station::parse(file, &sources.file(file).text).0;
                if let Some(station) = &mut station {
                    connect(station, folder, &mut sources);
                }
            }
            ItemKind::Procedure(procedure) => {
                for comparison in &procedure.comparisons {
                    let approved = || format!("traces/{}.csv", procedure.title.value.replace(' ', "-"));
                    let name = comparison.file.as_ref().map_or_else(approved, |file| file.value.clone());
                    let trace = match fs::read_to_string(folder.join(&name)) {
                        Ok(text) => TraceFile::Read(sources.add(&name, text)),
                        Err(_) => TraceFile::NotApproved(name),
                    };
                    traces.insert(comparison, trace);
                }
            }
            _ => {}
        }
    }
    let compilation = compile(&programs);
    assert!(!compilation.has_errors(), "{:#?}", compilation.diagnostics);
    let program = Program::load(compilation.image.unwrap(), latchwork_stdlib::natives()).unwrap();
    let (script, found) = Script::new(ScriptParts {
        files: &files,
        program: Arc::new(program),
        station: station.as_ref(),
        sources: &sources,
        names: &names,
    });
    let script = script.with_traces(traces);
    diagnostics(&found, &sources, &mut out);
    for (index, procedure) in script.procedures().iter().enumerate() {
        writeln!(out, "{}", procedure.title.value).unwrap();
        outcome(&script.run(index, &RunOptions::default()), &sources, &mut out);
        let approve = RunOptions { approve: true, ..RunOptions::default() };
        if let Some(approved) = script.run(index, &approve).approved {
            writeln!(out, "    would be approved:").unwrap();
            for line in approved.lines() {
                writeln!(out, "      {line}").unwrap();
            }
        }
    }
    out
}

#[test]
fn corpus() {
    insta::glob!("procedures/*.steps", |path| insta::assert_snapshot!(shown(path)));
}

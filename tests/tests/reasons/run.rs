//! Runs with an account, and questions about them.

use std::{fmt::Write as _, sync::Arc};

use latchwork_bench::{
    account::Account,
    procedure::{RunOptions, Script, ScriptParts},
    reasons::{DEPTH, Evidence, Reasoner, TextOptions, text},
    recording::Recording,
    replay::{ReplayOptions, replay},
    station::Station,
    stimulus::Stimulus,
};
use latchwork_compiler::{CompileOptions, compile_with, logic::Logic};
use latchwork_grammar::{
    Names, Sources, parse_steps,
    steps::tree::{ItemKind, StepsFile},
};
use latchwork_tests::workbench::{sample, station_of};
use latchwork_vm::Program;

/// A run with all that is known of it.
pub struct Run {
    pub program: Arc<Program>,
    pub account: Account,
    station: Option<Station>,
    sources: Sources,
    recording: Recording,
    scan_ns: i64,
}

/// A program whose runs can be accounted for.
pub struct Built {
    program: Arc<Program>,
    logic: Arc<Logic>,
    station: Option<Station>,
    sources: Sources,
}

impl Built {
    /// From files with their names.
    pub fn new(files: &[(&str, &str)], station: Option<Station>) -> Self {
        let mut sources = Sources::new();
        for (name, text) in files {
            sources.add(*name, *text);
        }
        let compiled = compile_with(&sources, &CompileOptions { journal: true, ..CompileOptions::default() });
        let image = compiled.image.unwrap_or_else(|| panic!("{:?}", compiled.diagnostics));
        let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
        Built { program, logic: Arc::new(compiled.logic.unwrap()), station, sources }
    }

    fn devices(&self) -> Vec<String> {
        let devices = self.station.iter().flat_map(|station| &station.devices);
        devices.map(|device| device.name.value.clone()).collect()
    }

    /// Runs it with a stimulus.
    pub fn stimulated(self, stimulus: &str, until_ms: i64) -> Run {
        let file = Sources::new().add("stimulus.csv", stimulus);
        let (stimulus, problems) = Stimulus::parse(file, stimulus, &self.program, self.station.as_ref());
        let stimulus = stimulus.unwrap_or_else(|| panic!("{problems:?}"));
        let options = ReplayOptions {
            account: Some(Arc::clone(&self.logic)),
            record: Some(self.devices()),
            until_ns: Some(until_ms * 1_000_000),
            ..ReplayOptions::default()
        };
        let replayed =
            replay(Arc::clone(&self.program), self.station.as_ref(), Some(&stimulus), &options).unwrap();
        self.ran(replayed.account.unwrap(), replayed.recording, options.scan_ns)
    }

    /// Runs it by a procedure of the folder of a sample.
    pub fn proceeded(self, folder: &str, title: &str) -> Run {
        let (mut trees, mut steps, mut names) = (Vec::new(), Sources::new(), Names::new());
        read(folder, "procedure.steps", &mut trees, &mut steps, &mut names);
        let (script, findings) = Script::new(ScriptParts {
            files: &trees,
            program: Arc::clone(&self.program),
            station: self.station.as_ref(),
            sources: &steps,
            names: &names,
        });
        assert!(findings.is_empty(), "{folder}: {findings:?}");
        let index = script.procedures().iter().position(|procedure| procedure.title.value == title);
        let index = index.unwrap_or_else(|| panic!("{folder}: no procedure `{title}`"));
        let options = RunOptions {
            account: Some(Arc::clone(&self.logic)),
            record: Some(self.devices()),
            ..RunOptions::default()
        };
        let outcome = script.run(index, &options);
        assert!(outcome.passed(), "{folder}: `{title}` did not pass");
        let scan_ns = script.scan_ns();
        self.ran(outcome.account.unwrap(), outcome.compared.unwrap(), scan_ns)
    }

    fn ran(self, account: Account, recording: Recording, scan_ns: i64) -> Run {
        let Built { program, station, sources, .. } = self;
        Run { program, account, station, sources, recording, scan_ns }
    }
}

/// A file of procedures and those it includes, which stand in front of it.
fn read(folder: &str, file: &str, trees: &mut Vec<StepsFile>, sources: &mut Sources, names: &mut Names) {
    let id = sources.add(file, sample(&format!("{folder}/{file}")).unwrap().as_str());
    let tree = parse_steps(id, &sources.file(id).text, names).tree;
    for item in &tree.items {
        if let ItemKind::Include(included) = &item.kind {
            read(folder, &included.value, trees, sources, names);
        }
    }
    trees.push(tree);
}

impl Run {
    /// One file with a stimulus.
    pub fn new(name: &str, source: &str, station: Option<Station>, stimulus: &str, until_ms: i64) -> Self {
        Built::new(&[(name, source)], station).stimulated(stimulus, until_ms)
    }

    /// A sample of a folder with a station.
    pub fn folder(folder: &str, file: &str, stimulus: &str, until_ms: i64) -> Self {
        let station = station_of(folder).unwrap();
        Run::new(file, &sample(&format!("{folder}/{file}")).unwrap(), Some(station), stimulus, until_ms)
    }

    pub fn reasoner(&self) -> Reasoner<'_> {
        Reasoner::new(Evidence {
            account: &self.account,
            program: &self.program,
            station: self.station.as_ref(),
            recording: Some(&self.recording),
            scan_ns: self.scan_ns,
            sources: &self.sources,
        })
    }

    /// The answer as text.
    pub fn why(&self, name: &str, milliseconds: i64) -> String {
        let reasoner = self.reasoner();
        let scan = reasoner.scan_at(milliseconds * 1_000_000);
        let options = TextOptions { width: 110, ascii: false };
        match reasoner.reason(name, scan, DEPTH) {
            Ok(explanation) => text(&explanation, &options),
            Err(unanswered) => format!("{unanswered}\n"),
        }
    }

    /// Several answers, each under its question.
    pub fn whys(&self, asked: &[(&str, i64)]) -> String {
        let mut all = String::new();
        for (name, milliseconds) in asked {
            let _ = writeln!(all, "## {name} at {milliseconds} ms\n\n{}", self.why(name, *milliseconds));
        }
        all
    }
}

//! Programs with coverage, run with chosen values of their variables.

use std::sync::Arc;

use latchwork_bench::coverage::Report;
use latchwork_compiler::{CompileOptions, compile_with, coverage::CoverageMap};
use latchwork_grammar::Sources;
use latchwork_vm::{CoverageLog, Machine, Program, Value};

pub struct Run {
    pub sources: Sources,
    pub map: CoverageMap,
    pub machine: Machine,
    scans: i64,
}

impl Run {
    pub fn new(text: &str) -> Self {
        Self::of_files(&[("main.st", text)])
    }

    pub fn of_files(files: &[(&str, &str)]) -> Self {
        let mut sources = Sources::new();
        for (name, text) in files {
            sources.add(*name, *text);
        }
        let options = CompileOptions { coverage: true, ..CompileOptions::default() };
        let compilation = compile_with(&sources, &options);
        let errors: Vec<&String> = compilation.diagnostics.iter().map(|it| &it.message).collect();
        let image = compilation.image.unwrap_or_else(|| panic!("{errors:#?}"));
        let program = Program::load(image, latchwork_stdlib::natives()).unwrap();
        let machine = Machine::new(Arc::new(program));
        Run { sources, map: compilation.coverage.unwrap(), machine, scans: 0 }
    }

    pub fn set(&mut self, name: &str, value: Value) {
        let variable = self.machine.program().resolve(&format!("Main.{name}")).unwrap();
        self.machine.write(&variable, &value).unwrap();
    }

    pub fn scan(&mut self) {
        self.machine.scan(self.scans * 10_000_000).unwrap();
        self.scans += 1;
    }

    /// One scan for each test, such as `TFT`: the values of the variables.
    pub fn tests(&mut self, names: &[&str], tests: &[&str]) {
        for test in tests {
            for (name, letter) in names.iter().zip(test.bytes()) {
                self.set(name, Value::Bool(letter == b'T'));
            }
            self.scan();
        }
    }

    pub fn log(&self) -> &CoverageLog {
        self.machine.coverage().unwrap()
    }

    pub fn report(&self) -> Report {
        Report::new(&self.map, Some(self.log()), &self.sources)
    }
}

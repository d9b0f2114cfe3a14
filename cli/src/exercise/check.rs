//! `latchwork exercise check`: an exercise proved on itself.

use std::{fmt::Write as _, sync::Arc};

use latchwork_bench::{
    diagram::counted,
    marking::{
        FindingKind, Gravity, ItemKind, Marked, MarkedFile, Marker, Points, State, Student, Submitted,
    },
    procedure::Verdict,
};
use latchwork_compiler::{CompileOptions, compile_with, render};
use latchwork_grammar::Sources;
use latchwork_vm::Program;

use super::{
    arguments::CheckArguments,
    load::{Loaded, Purpose},
};
use crate::{
    exit::{Exit, Failure},
    terminal::Terminal,
};

/// Proves an exercise.
pub(super) fn run(arguments: &CheckArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let loaded = Loaded::read(&arguments.exercise, Purpose::Marking, arguments.language, terminal)?;
    let marker = loaded.marker(terminal)?;
    let mut proof = Proof { loaded: &loaded, marker: &marker, text: String::new(), sound: true };
    let scheme = marker.scheme();
    let procedures = scheme.items.iter().filter(|item| item.kind == ItemKind::Procedure).count();
    proof.line(&format!(
        "{}: {}, {}\n",
        render::visible(&scheme.title),
        counted(procedures as u64, "procedure"),
        scheme.out_of.counted()
    ));
    proof.reference();
    proof.interface();
    proof.nothing("an empty submission", String::new());
    proof.nothing("a program that does nothing", marker.nothing_text());
    proof.can_fail(arguments.language.options());
    proof.skeleton();
    let (text, sound) = (proof.text, proof.sound);
    terminal.result(&text)?;
    Ok(if sound { Exit::Good } else { Exit::Findings })
}

/// An exercise being proved.
struct Proof<'p> {
    loaded: &'p Loaded,
    marker: &'p Marker<'p>,
    text: String,
    sound: bool,
}

impl Proof<'_> {
    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    /// Tells whether something holds.
    fn holds(&mut self, holds: bool, line: &str) {
        self.sound &= holds;
        // Writing to a text never fails.
        let _ = writeln!(self.text, "  {}  {line}", if holds { "ok   " } else { "wrong" });
    }

    fn more(&mut self, line: &str) {
        let _ = writeln!(self.text, "         {}", render::visible(line));
    }

    fn marked(&self, name: &str, files: Vec<(String, String)>) -> Marked {
        let files = files.into_iter().map(|(name, text)| {
            let bytes = text.len() as u64;
            (MarkedFile { name, bytes, lines: 0, encoding: None }, Some(text))
        });
        let student = Student { id: name.to_owned(), name: None };
        self.marker.mark(Submitted { student, files: files.collect(), findings: Vec::new(), state: None }).0
    }

    /// Names what a marking did not earn, or earned although it should not.
    fn items(&mut self, marked: &Marked, wanted: impl Fn(Points, Points) -> bool) {
        let scheme = self.marker.scheme();
        for (item, result) in scheme.items.iter().zip(&marked.items) {
            if wanted(result.points, item.points) {
                continue;
            }
            self.more(&format!("{}: {} of {}", item.title, result.points, item.points.counted()));
            if let Some(failure) = &result.failure {
                let line = failure.line.map_or_else(String::new, |line| format!("{}:{line}: ", item.file));
                self.more(&format!("  {line}{}", failure.message));
            }
        }
    }

    fn reference(&mut self) {
        let out_of = self.marker.scheme().out_of;
        if self.loaded.reference_sources.iter().next().is_none() {
            return self.image();
        }
        let files = self.loaded.reference_sources.iter();
        let files = files.map(|(_, source)| (source.name.clone(), source.text.clone())).collect();
        let marked = self.marked("reference", files);
        let sound = marked.total == out_of && marked.state == State::Ran;
        self.holds(sound, &format!("the reference earns {} of {}", marked.total, out_of.counted()));
        if !sound {
            self.items(&marked, |earned, worth| earned == worth);
            // The interface is told below.
            let costly = marked.findings.iter().filter(|finding| {
                finding.severity == Gravity::Error && finding.kind != FindingKind::Interface
            });
            for finding in costly {
                self.more(&format!("{}: {}", finding.name, finding.message));
            }
        }
    }

    /// What is asked of every submission the reference has too, or nobody could know what is meant.
    fn interface(&mut self) {
        let Some(reference) = self.loaded.parts().reference else { return };
        let exercise = &self.loaded.exercise;
        if exercise.programs.is_empty() && exercise.variables.is_empty() {
            return;
        }
        let lacking = self.marker.lacking(&reference);
        let line = if lacking.is_empty() {
            "the reference has the interface"
        } else {
            "the reference lacks of the interface:"
        };
        self.holds(lacking.is_empty(), line);
        lacking.iter().for_each(|finding| self.more(&finding.message));
    }

    /// A reference that is an image has no text that constraints could be held to.
    fn image(&mut self) {
        let Some(reference) = self.loaded.parts().reference else { return };
        let failed = self.failing(&reference);
        let line = if failed.is_empty() {
            "the reference, an image, passes every procedure"
        } else {
            "the reference, an image, does not pass every procedure:"
        };
        self.holds(failed.is_empty(), line);
        for index in failed {
            self.title(index);
        }
    }

    fn title(&mut self, index: usize) {
        if let Some(item) = self.marker.scheme().items.get(index) {
            self.more(&item.title);
        }
    }

    /// The procedures that do not pass on a program.
    fn failing(&self, program: &Arc<Program>) -> Vec<usize> {
        let fails = |index: &usize| {
            let outcome = self.marker.run_on(*index, program);
            outcome.is_some_and(|outcome| !matches!(outcome.verdict, Verdict::Passed))
        };
        (0..self.marker.scheme().items.len()).filter(fails).collect()
    }

    fn nothing(&mut self, what: &str, text: String) {
        let marked = self.marked("nothing", vec![("nothing.st".to_owned(), text)]);
        let sound =
            marked.total == Points::ZERO && marked.items.iter().all(|item| item.points == Points::ZERO);
        self.holds(
            sound,
            &format!("{what} earns {}", if sound { "nothing".to_owned() } else { marked.total.counted() }),
        );
        if !sound {
            self.items(&marked, |earned, _| earned == Points::ZERO);
        }
    }

    /// Every procedure fails on one of two programs at least: nothing works, everything works always.
    fn can_fail(&mut self, options: CompileOptions) {
        let idle = self.marker.nothing_text();
        let programs: Vec<_> =
            [idle.clone(), with_all_on(&idle)].iter().filter_map(|text| program(text, options)).collect();
        let failing: Vec<Vec<usize>> = programs.iter().map(|program| self.failing(program)).collect();
        let items = self.marker.scheme().items.iter().enumerate();
        let procedures: Vec<usize> =
            items.filter(|(_, item)| item.kind == ItemKind::Procedure).map(|(index, _)| index).collect();
        let never: Vec<usize> = procedures
            .iter()
            .copied()
            .filter(|index| !failing.iter().any(|failing| failing.contains(index)))
            .collect();
        if never.is_empty() {
            self.holds(true, "every procedure can fail");
        } else {
            self.holds(false, "these procedures pass whether nothing works or everything does:");
            never.into_iter().for_each(|index| self.title(index));
        }
    }

    fn skeleton(&mut self) {
        if self.loaded.skeleton.is_empty() {
            return;
        }
        let marked = self.marked("skeleton", self.loaded.skeleton.clone());
        let out_of = self.marker.scheme().out_of.counted();
        let line = match marked.state {
            State::Ran => format!("what is handed out earns {} of {out_of}", marked.total),
            state => format!("what is handed out: {}", state.words()),
        };
        self.line(&format!("  note   {line}"));
    }
}

/// The program that does nothing, with every output TRUE in every scan.
fn with_all_on(idle: &str) -> String {
    let outputs = idle.lines().filter_map(|line| {
        let (name, rest) = line.trim().split_once(" AT ")?;
        let (address, kind) = rest.split_once(" : ")?;
        (address.to_ascii_uppercase().starts_with("%Q") && kind == "BOOL;").then_some(name)
    });
    let body: String = outputs.map(|name| format!("  {name} := TRUE;\n")).collect();
    idle.replacen("END_VAR\n  ;\n", &format!("END_VAR\n{body}  ;\n"), 1)
}

fn program(text: &str, options: CompileOptions) -> Option<Arc<Program>> {
    let mut sources = Sources::new();
    sources.add("program.st", text);
    let image = compile_with(&sources, &options).image?;
    Program::load(image, latchwork_stdlib::natives()).ok().map(Arc::new)
}

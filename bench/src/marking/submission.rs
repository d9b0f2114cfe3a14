//! Marking one submission: compiled, held against interface and constraints, run through every procedure within its
//! budget. Whatever is handed in, it ends, and what it gives depends on nothing but the exercise and the submission.

use std::{collections::BTreeMap, sync::Arc};

use latchwork_compiler::{Compilation, CompileOptions, allow::Allowances, compile_with, render};
use latchwork_grammar::{Diagnostic, Severity, Sources};
use latchwork_vm::{Image, Program};

use super::{
    evidence::{Evidence, ItemEvidence},
    marker::Marker,
    model::{
        Divergence, Finding, FindingKind, Gravity, ItemKind, ItemResult, ItemVerdict, Marked, MarkedFile,
        State, Student,
    },
    names::without_folders,
    points::Points,
    rules::{self, Survey},
};
use crate::procedure::Script;

/// What a station says of a variable that is named like one of its devices.
const NAME_CLASH: &str = "station-name-clash";

/// Most findings of compiling that a record keeps; how many there are beyond it is told.
pub const FINDINGS_MAX: usize = 50;

/// What was handed in by one student.
#[derive(Clone, Debug)]
pub struct Submitted {
    /// Who.
    pub student: Student,
    /// The files; those that were read with their texts.
    pub files: Vec<(MarkedFile, Option<String>)>,
    /// What is to be told of reading it.
    pub findings: Vec<Finding>,
    /// Why nothing of it can be marked, if that is so.
    pub state: Option<State>,
}

impl Marker<'_> {
    /// Marks a submission.
    pub fn mark(&self, submitted: Submitted) -> (Marked, Evidence) {
        let Submitted { student, files, findings, state } = submitted;
        let mut sources = Sources::new();
        let mut marked_files = Vec::new();
        let mut read = Vec::new();
        for (file, text) in files {
            if let Some(text) = text {
                sources.add(file.name.clone(), text);
                read.push(marked_files.len());
            }
            marked_files.push(file);
        }
        let mut marking = Marking {
            marker: self,
            marked: Marked {
                student,
                files: marked_files,
                state: State::Ran,
                findings,
                items: vec![ItemResult::NOT_RUN; self.scheme.items.len()],
                deducted: Points::ZERO,
                total: Points::ZERO,
                scans: 0,
            },
            evidence: Evidence {
                items: vec![ItemEvidence::default(); self.scheme.items.len()],
                ..Evidence::default()
            },
        };
        marking.marked.state = match state {
            Some(state) => state,
            None => marking.mark(&sources, &read),
        };
        marking.evidence.sources = sources;
        (marking.marked, marking.evidence)
    }
}

/// A submission being marked.
struct Marking<'m, 'e> {
    marker: &'m Marker<'e>,
    marked: Marked,
    evidence: Evidence,
}

impl Marking<'_, '_> {
    fn mark(&mut self, sources: &Sources, read: &[usize]) -> State {
        let exercise = self.marker.parts.exercise;
        let bytes: u64 = sources.iter().map(|(_, source)| source.text.len() as u64).sum();
        let budget = &exercise.budget;
        if bytes > budget.text_bytes {
            self.over(format!("the texts have {bytes} bytes; the exercise allows {}", budget.text_bytes));
            return State::OverBudget;
        }
        if sources.iter().count() as u64 > budget.files {
            let count = sources.iter().count();
            self.over(format!("there are {count} files; the exercise allows {}", budget.files));
            return State::OverBudget;
        }
        let survey = Survey::of(sources);
        for (file, lines) in read.iter().zip(&survey.lines) {
            if let Some(file) = self.marked.files.get_mut(*file) {
                file.lines = *lines;
            }
        }
        // Nothing that a submission says silences what the exercise may ask for.
        let options = CompileOptions { allowances: false, ..self.marker.parts.options };
        let mut compilation = compile_with(sources, &options);
        let program = match self.load(&mut compilation) {
            Ok(program) => program,
            Err(state) => {
                self.compiled(compilation, sources);
                return state;
            }
        };
        let unfit = self.unfit(&program, &mut compilation);
        let broken = rules::check(&exercise.constraints, &survey, &compilation.diagnostics);
        self.marked.findings.extend(self.marker.lacking(&program));
        let deduction = exercise.constraints.deduction;
        self.marked.deducted = broken.iter().map(|_| deduction).sum();
        self.marked.findings.extend(broken);
        self.compiled(compilation, sources);
        if !unfit {
            self.run(&program);
        }
        self.sum_up(&program, unfit);
        State::Ran
    }

    fn over(&mut self, message: String) {
        self.marked.findings.push(plain(FindingKind::Budget, "over-budget", message));
    }

    /// The program, or why there is none.
    fn load(&mut self, compilation: &mut Compilation) -> Result<Arc<Program>, State> {
        let Some(image) = compilation.image.take().filter(|_| !compilation.has_errors()) else {
            return Err(State::NotCompiled);
        };
        if !has_program(&image) {
            let message = "there is no PROGRAM in what was handed in, so there is nothing to run".to_owned();
            self.marked.findings.push(plain(FindingKind::Compile, "no-program", message));
            return Err(State::Empty);
        }
        let most = self.marker.parts.exercise.budget.memory_bytes;
        if image.data.len() as u64 > most {
            self.over(format!("the variables need {} bytes; the exercise allows {most}", image.data.len()));
            return Err(State::OverBudget);
        }
        match Program::load(image, latchwork_stdlib::natives()) {
            Ok(program) => Ok(Arc::new(program)),
            Err(error) => {
                // What the compiler makes always passes the verifier.
                let message = format!("the compiled program was refused: {error}");
                self.marked.findings.push(plain(FindingKind::Internal, "internal", message));
                Err(State::InternalFault)
            }
        }
    }

    /// Whether the panel does not fit the program; what is wrong becomes findings.
    fn unfit(&mut self, program: &Program, compilation: &mut Compilation) -> bool {
        let Some(station) = self.marker.parts.station else { return false };
        let mut unfit = false;
        for problem in station.check(program).iter().filter(|problem| problem.severity == Severity::Error) {
            // A variable named like the thing it is wired to is what many write; procedures then mean the thing.
            let harmless = problem.name == NAME_CLASH;
            unfit |= !harmless;
            let texts = without_folders(self.marker.parts.plant);
            let shown = render::excerpts(std::slice::from_ref(problem), &texts, false);
            let finding = plain(FindingKind::Interface, problem.name, problem.message.clone());
            let severity = if harmless { Gravity::Note } else { Gravity::Error };
            self.marked.findings.push(Finding { shown, severity, ..finding });
        }
        let stops = station.check_stops(program, &compilation.stops, &Allowances::default());
        // Their places are those of the submission.
        compilation.diagnostics.extend(stops);
        unfit
    }

    /// Notes what compiling told: errors, and the warnings that no pragma allows or that the exercise forbids.
    fn compiled(&mut self, compilation: Compilation, sources: &Sources) {
        let constraints = &self.marker.parts.exercise.constraints;
        let Compilation { mut diagnostics, allowances, .. } = compilation;
        diagnostics.retain(|found| {
            found.severity == Severity::Error
                || constraints.no_warnings.has(found.name)
                || !allowances.cover(found.name, found.primary.span)
        });
        let ordered = render::in_source_order(&diagnostics);
        let told = ordered.iter().take(FINDINGS_MAX).map(|found| of_diagnostic(found, sources));
        self.marked.findings.extend(told);
        if ordered.len() > FINDINGS_MAX {
            let more = ordered.len() - FINDINGS_MAX;
            let message = format!("{more} more findings of the compiler are not told");
            let finding = plain(FindingKind::Compile, "more-findings", message);
            self.marked.findings.push(Finding { severity: Gravity::Note, ..finding });
        }
        self.evidence.diagnostics = diagnostics;
    }

    fn run(&mut self, program: &Arc<Program>) {
        let mut scripts: BTreeMap<usize, Result<Script<'_>, Vec<Diagnostic>>> = BTreeMap::new();
        for index in 0..self.marker.scheme.items.len() {
            let Some(Some((file, number))) = self.marker.places.get(index).copied() else { continue };
            let script = scripts.entry(file).or_insert_with(|| self.marker.script(file, program));
            let (result, evidence) = match script {
                Ok(script) => {
                    let outcome = script.run(number, &self.marker.options_of(index));
                    self.marked.scans += outcome.scans;
                    self.marker.judged(index, outcome, &self.evidence.sources)
                }
                Err(problems) => self.marker.refused(index, problems.clone()),
            };
            if let Some(place) = self.marked.items.get_mut(index) {
                *place = result;
            }
            if let Some(place) = self.evidence.items.get_mut(index) {
                *place = evidence;
            }
        }
    }

    /// Points for compiling, deductions and the total.
    fn sum_up(&mut self, program: &Arc<Program>, unfit: bool) {
        let earned: Points = self.marked.items.iter().map(|item| item.points).sum();
        let scheme = &self.marker.scheme;
        if let Some(index) = scheme.items.iter().position(|item| item.kind == ItemKind::Compiles) {
            let works = earned > Points::ZERO || (!unfit && self.marker.works_a_load(program));
            let points = scheme.items.get(index).map_or(Points::ZERO, |item| item.points);
            if let Some(item) = self.marked.items.get_mut(index) {
                *item = if works {
                    ItemResult { verdict: ItemVerdict::Passed, points, met: None, failure: None }
                } else {
                    let message = "it compiles, and no load ever changes".to_owned();
                    let failure = Divergence {
                        name: "no-load-works".to_owned(),
                        message,
                        line: None,
                        time_ns: 0,
                        scan: None,
                    };
                    ItemResult {
                        verdict: ItemVerdict::Failed,
                        points: Points::ZERO,
                        met: None,
                        failure: Some(failure),
                    }
                };
            }
        }
        let earned: Points = self.marked.items.iter().map(|item| item.points).sum();
        self.marked.total = earned.less(self.marked.deducted);
    }
}

fn has_program(image: &Image) -> bool {
    image.tasks.iter().any(|task| !task.programs.is_empty())
}

/// An error without a place.
fn plain(kind: FindingKind, name: &str, message: String) -> Finding {
    Finding::without_place(kind, name, Gravity::Error, message)
}

fn of_diagnostic(found: &Diagnostic, sources: &Sources) -> Finding {
    let place = render::position(sources, found.primary.span);
    let number = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    Finding {
        kind: FindingKind::Compile,
        name: found.name.to_owned(),
        severity: match found.severity {
            Severity::Error => Gravity::Error,
            Severity::Warning => Gravity::Warning,
        },
        message: found.message.clone(),
        file: place.map(|_| sources.file(found.primary.span.file).name.clone()),
        line: place.map(|place| number(place.line)),
        column: place.map(|place| number(place.column)),
        shown: render::excerpts(std::slice::from_ref(found), sources, false),
    }
}

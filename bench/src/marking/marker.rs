//! Marking one submission: compiled, held against interface and constraints, run through every procedure within its
//! budget. Whatever is handed in, it ends, and what it gives depends on nothing but the exercise and the submission.

use std::{collections::BTreeMap, sync::Arc};

use latchwork_compiler::{Compilation, CompileOptions, compile_with, render};
use latchwork_grammar::{Diagnostic, Names, Severity, Sources, Span, steps::tree::StepsFile};
use latchwork_vm::{Image, Program};

use super::{
    evidence::{Evidence, ItemEvidence},
    interface,
    model::{
        Divergence, Finding, FindingKind, Gravity, Item, ItemKind, ItemResult, ItemVerdict, Marked,
        MarkedFile, MarkingScheme, State, Student,
    },
    nothing,
    points::Points,
    rules::{self, Survey},
};
use crate::{
    exercise::{Credit, Exercise},
    procedure::{
        Failure, Outcome, RunBudget, RunOptions, Script, ScriptParts, Tally, Traces, Verdict,
        report::{self, ReportSources},
    },
    recording::Recording,
    station::Station,
};

/// Most findings of compiling that a record keeps; how many there are beyond it is told.
pub const FINDINGS_MAX: usize = 50;

/// What an exercise is, with all files that it names read.
#[derive(Clone)]
pub struct ExerciseParts<'e> {
    /// Its description.
    pub exercise: &'e Exercise,
    /// The panel.
    pub station: Option<&'e Station>,
    /// The texts of the panel and its plant.
    pub plant: &'e Sources,
    /// Its files of procedures, in the order of the description.
    pub procedures: Vec<ProcedureTexts<'e>>,
    /// The reference.
    pub reference: Arc<Program>,
    /// What the standard leaves open, for submissions.
    pub options: CompileOptions,
}

/// A file of procedures, read.
#[derive(Clone)]
pub struct ProcedureTexts<'e> {
    /// The trees: those of included files first.
    pub files: &'e [StepsFile],
    /// The texts.
    pub sources: &'e Sources,
    /// The names in the trees.
    pub names: &'e Names,
    /// What its procedures are compared with.
    pub traces: Traces,
}

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

/// An exercise made ready to mark by.
pub struct Marker<'e> {
    parts: ExerciseParts<'e>,
    scheme: MarkingScheme,
    /// For each item of the scheme its file of procedures and its number in it; `None` for compiling.
    places: Vec<Option<(usize, usize)>>,
    /// For each item what a program that does nothing meets of it, where that counts.
    by_nothing: Vec<Option<Tally>>,
    /// For each shown item devices and loads in the run of the reference.
    expected: Vec<Option<Arc<Recording>>>,
    /// Texts for items without procedures.
    none: Sources,
}

impl<'e> Marker<'e> {
    /// Makes an exercise ready: the scheme, what the reference does, what doing nothing earns.
    ///
    /// # Errors
    /// What is wrong with its procedures on the reference, by the number of their file.
    pub fn new(parts: ExerciseParts<'e>) -> Result<Self, (usize, Vec<Diagnostic>)> {
        let mut marker = Marker {
            scheme: MarkingScheme {
                title: parts.exercise.title.clone(),
                items: Vec::new(),
                out_of: Points::ZERO,
            },
            places: Vec::new(),
            by_nothing: Vec::new(),
            expected: Vec::new(),
            none: Sources::new(),
            parts,
        };
        let compiles = marker.parts.exercise.compiles;
        if compiles > Points::ZERO {
            let title = "compiles and works a load".to_owned();
            let item = Item {
                title,
                file: String::new(),
                points: compiles,
                shown: true,
                kind: ItemKind::Compiles,
                hint: None,
            };
            marker.add(item, None, None, None);
        }
        let nothing = marker.nothing();
        for file in 0..marker.parts.procedures.len() {
            marker.add_file(file, nothing.as_ref()).map_err(|problems| (file, problems))?;
        }
        Ok(marker)
    }

    fn add(
        &mut self,
        item: Item,
        place: Option<(usize, usize)>,
        by_nothing: Option<Tally>,
        expected: Option<Arc<Recording>>,
    ) {
        self.scheme.out_of = self.scheme.out_of.plus(item.points);
        self.scheme.items.push(item);
        self.places.push(place);
        self.by_nothing.push(by_nothing);
        self.expected.push(expected);
    }

    fn add_file(&mut self, file: usize, nothing: Option<&Arc<Program>>) -> Result<(), Vec<Diagnostic>> {
        let Some(described) = self.parts.exercise.procedures.get(file) else { return Ok(()) };
        let (shown, credit, name) = (described.shown, described.credit, described.file.value.clone());
        let rows = self.rows();
        let mut added = Vec::new();
        {
            let script = self.script(file, &self.parts.reference)?;
            let idle = nothing.filter(|_| credit == Credit::ByExpectation);
            let idle = idle.and_then(|program| self.script(file, program).ok());
            for (index, procedure) in script.procedures().iter().enumerate() {
                let points = procedure.points.map_or(Points::of_hundredths(100), Points::of);
                let item = Item {
                    title: procedure.title.value.clone(),
                    file: name.clone(),
                    points,
                    shown,
                    kind: ItemKind::Procedure,
                    hint: procedure.hint.as_ref().map(|hint| hint.value.clone()),
                };
                let counting = RunOptions { carry_on: true, brief: true, ..self.run_options() };
                let by_nothing = idle.as_ref().and_then(|script| script.run(index, &counting).tally);
                let watched = RunOptions {
                    record: Some(rows.clone()),
                    carry_on: true,
                    brief: true,
                    ..self.run_options()
                };
                let expected =
                    (shown && !rows.is_empty()).then(|| script.run(index, &watched).compared).flatten();
                added.push((item, Some((file, index)), by_nothing, expected.map(Arc::new)));
            }
        }
        for (item, place, by_nothing, expected) in added {
            self.add(item, place, by_nothing, expected);
        }
        Ok(())
    }

    /// What is asked.
    pub fn scheme(&self) -> &MarkingScheme {
        &self.scheme
    }

    /// For each item the texts of its file of procedures; empty ones for compiling.
    pub fn procedure_sources(&self) -> Vec<&Sources> {
        let of = |place: &Option<(usize, usize)>| match place {
            Some((file, _)) => self.parts.procedures.get(*file).map_or(&self.none, |texts| texts.sources),
            None => &self.none,
        };
        self.places.iter().map(of).collect()
    }

    /// The text of a program that has the interface and does nothing.
    pub fn nothing_text(&self) -> String {
        nothing::program(self.parts.exercise, self.parts.station)
    }

    fn nothing(&self) -> Option<Arc<Program>> {
        let mut sources = Sources::new();
        sources.add("nothing.st", self.nothing_text());
        let image = compile_with(&sources, &self.parts.options).image?;
        Program::load(image, latchwork_stdlib::natives()).ok().map(Arc::new)
    }

    /// Names of all devices and loads.
    fn rows(&self) -> Vec<String> {
        let Some(station) = self.parts.station else { return Vec::new() };
        let devices = station.devices.iter().map(|device| device.name.value.clone());
        devices.chain(station.loads.iter().map(|load| load.name.value.clone())).collect()
    }

    fn run_options(&self) -> RunOptions {
        let budget = &self.parts.exercise.budget;
        RunOptions {
            budget: RunBudget {
                scans: budget.scans,
                scan_instructions: budget.scan_instructions,
                instructions: budget.procedure_instructions,
            },
            ..RunOptions::default()
        }
    }

    fn script(&self, file: usize, program: &Arc<Program>) -> Result<Script<'e>, Vec<Diagnostic>> {
        let Some(texts) = self.parts.procedures.get(file) else { return Err(Vec::new()) };
        let parts = ScriptParts {
            files: texts.files,
            program: Arc::clone(program),
            station: self.parts.station,
            sources: texts.sources,
            names: texts.names,
        };
        let (script, mut problems) = Script::new(parts);
        problems.retain(|problem| problem.severity == Severity::Error);
        if problems.is_empty() { Ok(script.with_traces(texts.traces.clone())) } else { Err(problems) }
    }

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

    /// Runs the reference through an item; for checking the exercise.
    pub fn run_on(&self, item: usize, program: &Arc<Program>) -> Option<Outcome> {
        let (file, index) = (*self.places.get(item)?)?;
        let script = self.script(file, program).ok()?;
        Some(script.run(index, &RunOptions { brief: true, ..self.run_options() }))
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
        self.marked.findings.extend(interface::check(exercise, &program));
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
            unfit = true;
            let shown = render::excerpts(std::slice::from_ref(problem), self.marker.parts.plant, false);
            let finding = plain(FindingKind::Interface, problem.name, problem.message.clone());
            self.marked.findings.push(Finding { shown, ..finding });
        }
        let stops = station.check_stops(program, &compilation.stops, &Default::default());
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

impl Marker<'_> {
    fn options_of(&self, item: usize) -> RunOptions {
        let shown = self.scheme.items.get(item).is_some_and(|item| item.shown);
        RunOptions {
            // Of what is kept back nothing is explained.
            brief: !shown,
            carry_on: self.credit_of(item) == Credit::ByExpectation,
            ..self.run_options()
        }
    }

    fn credit_of(&self, item: usize) -> Credit {
        let file = self.places.get(item).copied().flatten().map(|(file, _)| file);
        let described = file.and_then(|file| self.parts.exercise.procedures.get(file));
        described.map_or(Credit::AllOrNothing, |file| file.credit)
    }

    /// The result of a run, and what is known of it.
    fn judged(&self, index: usize, outcome: Outcome, program: &Sources) -> (ItemResult, ItemEvidence) {
        let worth = self.scheme.items.get(index).map_or(Points::ZERO, |item| item.points);
        let met = outcome.tally.map(|tally| (tally.met, tally.all));
        match outcome.verdict {
            Verdict::Passed => {
                let result = ItemResult { verdict: ItemVerdict::Passed, points: worth, met, failure: None };
                (result, ItemEvidence::default())
            }
            Verdict::Refused(problems) => self.refused(index, problems),
            Verdict::Failed(failure) => {
                let points = outcome.tally.map_or(Points::ZERO, |tally| self.share(index, worth, tally));
                let verdict = if points > Points::ZERO { ItemVerdict::Partly } else { ItemVerdict::Failed };
                let failed = Some(self.divergence(index, &failure, program));
                let result = ItemResult { verdict, points, met, failure: failed };
                let shown = self.scheme.items.get(index).is_some_and(|item| item.shown);
                let evidence = ItemEvidence {
                    failure: shown.then_some(failure),
                    expected: self.expected.get(index).cloned().flatten(),
                    problems: Vec::new(),
                };
                (result, evidence)
            }
        }
    }

    /// A share of an item's points: for the expectations met, less those that a program meets which does nothing.
    fn share(&self, index: usize, worth: Points, tally: Tally) -> Points {
        let idle = self.by_nothing.get(index).copied().flatten().map_or(0, |tally| tally.met);
        let all = u64::from(tally.all.saturating_sub(idle));
        let met = u64::from(tally.met.saturating_sub(idle));
        // One was not met, or there would be no question.
        worth.share(met.min(all.saturating_sub(1)), all.max(1))
    }

    fn divergence(&self, index: usize, failure: &Failure, program: &Sources) -> Divergence {
        let procedure = self.procedure_sources().get(index).copied().unwrap_or(&self.none);
        let sources = ReportSources { procedure, program, plant: self.parts.plant };
        Divergence {
            name: report::failure_name(&failure.kind).to_owned(),
            message: report::headline(failure, sources),
            line: line_of(procedure, failure.step),
            time_ns: failure.time_ns,
            scan: failure.scan,
        }
    }

    fn refused(&self, index: usize, problems: Vec<Diagnostic>) -> (ItemResult, ItemEvidence) {
        let procedure = self.procedure_sources().get(index).copied().unwrap_or(&self.none);
        let failure = problems.first().map(|problem| Divergence {
            name: problem.name.to_owned(),
            message: problem.message.clone(),
            line: line_of(procedure, problem.primary.span),
            time_ns: 0,
            scan: None,
        });
        let result = ItemResult { verdict: ItemVerdict::Refused, points: Points::ZERO, met: None, failure };
        let shown = self.scheme.items.get(index).is_some_and(|item| item.shown);
        let problems = if shown { problems } else { Vec::new() };
        (result, ItemEvidence { problems, ..ItemEvidence::default() })
    }

    /// Whether any load ever changes in any procedure.
    fn works_a_load(&self, program: &Arc<Program>) -> bool {
        let loads = self.parts.station.into_iter().flat_map(|station| &station.loads);
        let loads: Vec<String> = loads.map(|load| load.name.value.clone()).collect();
        if loads.is_empty() {
            return false;
        }
        let options = RunOptions { record: Some(loads), carry_on: true, brief: true, ..self.run_options() };
        self.places.iter().flatten().any(|(file, number)| {
            let Ok(script) = self.script(*file, program) else { return false };
            let recording = script.run(*number, &options).compared;
            recording.is_some_and(|recording| recording.changes().iter().any(|changes| changes.len() > 1))
        })
    }
}

fn has_program(image: &Image) -> bool {
    image.tasks.iter().any(|task| !task.programs.is_empty())
}

fn line_of(sources: &Sources, span: Span) -> Option<u32> {
    render::position(sources, span).and_then(|place| u32::try_from(place.line).ok())
}

/// A finding without a place.
fn plain(kind: FindingKind, name: &str, message: String) -> Finding {
    Finding {
        kind,
        name: name.to_owned(),
        severity: Gravity::Error,
        shown: format!("error[{name}]: {}\n", render::visible(&message)),
        message,
        file: None,
        line: None,
        column: None,
    }
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

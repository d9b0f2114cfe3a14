//! One file of procedures on one variant of its program, ready to be run.

use std::{
    collections::BTreeSet,
    sync::{Arc, atomic::AtomicBool},
};

use latchwork_compiler::{logic::Logic, probe::compile_probes};
use latchwork_grammar::{
    Diagnostic, Names, Severity, Sources, Span,
    steps::tree::{Comparison, ItemKind, Procedure, Step, StepKind, StepsFile},
};
use latchwork_vm::{EventLog, Machine, Program, Value, limits};

use super::{
    bind::Binder,
    bound::{BoundStep, ProbeId},
    clock::Bench,
    conditions::{Conditions, Probes},
    course::Keeper,
    explain::Failed,
    length,
    names::NamesOutside,
    observation::Observer,
    outcome::{Failure, Outcome, Verdict},
    pace::{Followed, Pace},
    run::{Run, STEPS_MAX, Stop},
    traces::{self, Comparisons, Parted, Traces},
};
use crate::{
    account::Accountant,
    panel::Panel,
    recording::Recording,
    replay::{ReplayError, SCANS_MAX},
    station::Station,
    wiring::{LoadFault, WiringFault},
};

/// Time from one scan to the next if neither the file nor the program says one.
const DEFAULT_SCAN_NS: i64 = 10_000_000;

/// What a script is made of.
#[derive(Clone)]
pub struct ScriptParts<'s> {
    /// The trees: those of included files first, that of the file itself last.
    pub files: &'s [StepsFile],
    /// The program, which [`Station::check`] has compared with the station.
    pub program: Arc<Program>,
    /// The station, if there is one.
    pub station: Option<&'s Station>,
    /// The texts that the trees come from.
    pub sources: &'s Sources,
    /// The names in the trees.
    pub names: &'s Names,
}

/// One file of procedures on one variant of its program.
pub struct Script<'s> {
    parts: ScriptParts<'s>,
    prepare: Vec<&'s Step>,
    procedures: Vec<&'s Procedure>,
    record: Option<Vec<String>>,
    scan_ns: i64,
    traces: Traces,
}

/// How procedures are run.
#[derive(Clone, Debug, Default)]
pub struct RunOptions {
    /// Wiring faults that are there from the start.
    pub faults: Vec<InitialFault>,
    /// Wiring faults that come in the middle of it.
    pub later: Vec<LaterFault>,
    /// What is not as expected is noted and does not end the run.
    pub carry_on: bool,
    /// A failure is told by its step and time alone, which spares a second run to explain it.
    pub brief: bool,
    /// These rows are recorded for the whole run, into [`Outcome::compared`]; without them those of the comparisons.
    pub record: Option<Vec<String>>,
    /// What the image notes in its journal, if an account of the run is wanted: [`Outcome::account`].
    pub account: Option<Arc<Logic>>,
    /// The same if one is wanted of a run that failed: [`Failure::account`].
    pub account_failure: Option<Arc<Logic>>,
    /// Approved traces are made anew instead of followed: [`Outcome::approved`].
    pub approve: bool,
    /// A course is kept, see [`super::course`], and so much time passes at least between two things that are done.
    pub course: Option<i64>,
    /// The pace of a run of the same procedure that failed: this one goes on where that one did, does nothing behind the
    /// scan in which it failed, and ends with it. Its verdict is then of no use, only what it records.
    pub pace: Option<Arc<Pace>>,
    /// What the run may take.
    pub budget: RunBudget,
    /// Set from outside to end the run soon. Its outcome is then of no use: it ends like one that takes too long.
    pub halt: Option<Arc<AtomicBool>>,
}

/// What a run may take, counted in what is the same on every computer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RunBudget {
    /// Scans, at most [`SCANS_MAX`].
    pub scans: u64,
    /// Instructions of a scan; the watchdog stops one that would take more.
    pub scan_instructions: u64,
    /// Instructions of all scans together.
    pub instructions: u64,
}

impl Default for RunBudget {
    fn default() -> Self {
        RunBudget { scans: SCANS_MAX, scan_instructions: limits::DEFAULT_BUDGET, instructions: u64::MAX }
    }
}

/// A wiring fault that is there from the start.
#[derive(Clone, Debug, PartialEq)]
pub enum InitialFault {
    /// On a device, by its place in [`Station::devices`].
    Device {
        /// Which.
        device: usize,
        /// The fault.
        fault: WiringFault,
        /// Where it is stuck: BOOL or LREAL.
        stuck_at: Option<Value>,
    },
    /// On a load, by its place in [`Station::loads`].
    Load {
        /// Which.
        load: usize,
        /// The fault.
        fault: LoadFault,
    },
}

/// A wiring fault that comes in the middle of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct LaterFault {
    /// When, in nanoseconds from the start of the run: before the scan that starts at or after it, and after the steps
    /// before that scan.
    pub from_ns: i64,
    /// The fault.
    pub fault: InitialFault,
}

impl InitialFault {
    pub(super) fn place(&self, panel: &mut Panel<'_>, machine: &mut Machine) {
        match self {
            InitialFault::Device { device, fault, stuck_at } => {
                panel.place_device(*device, Some(*fault), stuck_at.clone(), machine);
            }
            InitialFault::Load { load, fault } => panel.place_load(*load, Some(*fault)),
        }
    }
}

/// A procedure with its names looked up and its conditions compiled.
pub(super) struct Ready {
    pub(super) prepare: Vec<BoundStep>,
    pub(super) steps: Vec<BoundStep>,
    pub(super) probes: Probes,
    /// About the conditions.
    warnings: Vec<Diagnostic>,
}

impl<'s> Script<'s> {
    /// Takes the parts together. With an error among the diagnostics no procedure of the file can be run.
    pub fn new(parts: ScriptParts<'s>) -> (Self, Vec<Diagnostic>) {
        let mut script = Script {
            prepare: Vec::new(),
            procedures: Vec::new(),
            record: None,
            scan_ns: 0,
            traces: Traces::default(),
            parts,
        };
        let mut diagnostics = Vec::new();
        let files = script.parts.files;
        for item in files.iter().flat_map(|file| &file.items) {
            match &item.kind {
                ItemKind::Scan(time) => script.scan_ns = time.nanoseconds,
                ItemKind::Record(names) => {
                    let texts = names.iter().map(|name| script.parts.sources.text(name.span).to_owned());
                    script.record.get_or_insert_default().extend(texts);
                }
                ItemKind::Prepare(steps) => script.prepare.extend(steps),
                ItemKind::Procedure(procedure) => script.procedures.push(procedure),
                ItemKind::Include(_) | ItemKind::Program(_) | ItemKind::Station(_) => {}
            }
        }
        if script.scan_ns < 1 {
            let suiting = script.parts.program.image().base_interval_ns;
            script.scan_ns = if suiting > 0 { suiting } else { DEFAULT_SCAN_NS };
        }
        let panel = Panel::new(&script.parts.program, script.parts.station);
        let outside = NamesOutside { program: &script.parts.program, panel: &panel };
        for name in files.iter().flat_map(|file| &file.items).flat_map(|item| match &item.kind {
            ItemKind::Record(names) => names.as_slice(),
            _ => &[],
        }) {
            let text = script.parts.sources.text(name.span);
            if let Err(missing) = outside.find(text) {
                let message = format!("there is nothing named `{text}` to record");
                diagnostics.push(
                    Diagnostic::error("procedure-unknown-name", name.span, message).label(missing.label),
                );
            }
        }
        diagnostics.extend(script.procedures.iter().filter_map(|procedure| without_expectation(procedure)));
        // What prepares stands in front of every procedure; it is looked at once here, so that its errors are not
        // those of the procedures.
        if let Err(found) = script.ready(None, &panel) {
            diagnostics.extend(found);
        }
        (script, diagnostics)
    }

    /// Takes the traces that its procedures are compared with; their texts are among the sources of the script.
    #[must_use]
    pub fn with_traces(mut self, traces: Traces) -> Self {
        self.traces = traces;
        self
    }

    /// The procedures in the order of the file.
    pub fn procedures(&self) -> &[&'s Procedure] {
        &self.procedures
    }

    /// What is done before each of them.
    pub fn prepare(&self) -> &[&'s Step] {
        &self.prepare
    }

    /// The program they run on.
    pub fn program(&self) -> &Arc<Program> {
        &self.parts.program
    }

    /// The texts that they come from.
    pub fn sources(&self) -> &'s Sources {
        self.parts.sources
    }

    /// The names in them.
    pub fn names(&self) -> &'s Names {
        self.parts.names
    }

    /// Time between two scans in nanoseconds.
    pub fn scan_ns(&self) -> i64 {
        self.scan_ns
    }

    /// Runs a procedure by its number. Beyond the last one there is nothing to fail.
    pub fn run(&self, index: usize, options: &RunOptions) -> Outcome {
        let Some(procedure) = self.procedures.get(index) else { return refused(Vec::new()) };
        let (machine, panel) = self.bench(options);
        let ready = match self.ready(Some(procedure), &panel) {
            Ok(ready) => ready,
            Err(diagnostics) => return refused(diagnostics),
        };
        let followed = match self.comparisons(options).ready(procedure) {
            Ok(followed) => followed,
            Err(diagnostics) => return refused(diagnostics),
        };
        let mut compared: Vec<String> = options.record.clone().unwrap_or_default();
        let more = self.compared(&procedure.comparisons);
        let known = |name: &String| compared.iter().any(|known| known.eq_ignore_ascii_case(name));
        let more: Vec<String> = more.into_iter().filter(|name| !known(name)).collect();
        compared.extend(more);
        let observer = match compared.as_slice() {
            [] => None,
            names => match Observer::new(&self.parts.program, &panel, Some(names), 0, None) {
                Ok(observer) => Some(observer),
                Err(errors) => return refused(not_recorded(&errors, procedure)),
            },
        };
        let bench = Bench::new(machine, panel, self.scan_ns)
            .with_later(&options.later)
            .until(options.halt.clone())
            .within(options.budget)
            .accounted(options.account.as_ref());
        let conditions = Conditions::new(&ready.probes);
        // Nothing of what it does ends a run that follows another one.
        let carry_on = options.carry_on || options.pace.is_some();
        let mut run = Run::new(bench, conditions, observer, carry_on, procedure.heading);
        run.keeper = options.course.map(|pace_ns| Keeper::new(pace_ns, &run.bench));
        run.followed = options.pace.clone().map(Followed::new);
        let ended = run.run(&ready.prepare, &ready.steps);
        run.look_on();
        let decided = std::mem::take(&mut run.decided);
        let came_to_its_end = ended.is_ok();
        // What ends a run that carries on comes after what was wrong first.
        let stop = run.first.take().or(ended.err());
        let (scans, end_ns) = (run.bench.scans, run.bench.next_ns());
        let events = run.bench.machine.events().clone();
        let plant_events = run.bench.panel.plant_events().cloned().unwrap_or_default();
        let coverage = run.bench.machine.coverage().cloned();
        let account = run.bench.accountant.take().map(Accountant::finish);
        let course = run.keeper.take().map(Keeper::finish);
        let recorded = run.observer.take();
        let acted_ns = recorded.as_ref().map(Observer::acted).unwrap_or_default();
        let compared = recorded
            .map(|observer| observer.recording(procedure.title.value.clone(), self.source(), self.scan_ns));
        let begun = compared.as_ref().zip(run.started_ns);
        let parted = begun.and_then(|(recording, started)| traces::compare(&followed, recording, started));
        let tally = options.carry_on.then(|| decided.tally(procedure, came_to_its_end, parted.is_none()));
        let verdict = match (stop, parted, &compared) {
            // What departed before something else was not as expected is told first.
            (stop, Some(parted), Some(recording))
                if stop.as_ref().is_none_or(|stop| parted.time_ns < stop.time_ns) =>
            {
                Verdict::Failed(Box::new(departed(
                    parted,
                    recording,
                    procedure,
                    begun.map_or(0, |(_, since)| since),
                )))
            }
            (None, ..) => Verdict::Passed,
            (Some(stop), ..) if options.brief => Verdict::Failed(Box::new(brief(*stop, self.scan_ns))),
            (Some(stop), ..) => Verdict::Failed(Box::new(self.examine(&stop, &ready, options, procedure))),
        };
        let approved =
            begun.filter(|_| matches!(verdict, Verdict::Passed)).and_then(|(recording, started)| {
                traces::to_approve(&followed, recording, started, &procedure.title.value)
            });
        let warnings = ready.warnings;
        Outcome {
            verdict,
            warnings,
            scans,
            end_ns,
            events,
            plant_events,
            coverage,
            account,
            compared,
            approved,
            acted_ns,
            course,
            tally,
        }
    }

    fn comparisons<'c>(&'c self, options: &RunOptions) -> Comparisons<'c> {
        Comparisons {
            program: &self.parts.program,
            station: self.parts.station,
            sources: self.parts.sources,
            traces: &self.traces,
            approve: options.approve,
        }
    }

    fn examine(&self, stop: &Stop, ready: &Ready, options: &RunOptions, procedure: &Procedure) -> Failure {
        let source = self.source();
        let failed = Failed {
            stop,
            probes: &ready.probes,
            record: self.record.as_deref(),
            hint: procedure.hint.as_ref().map(|hint| hint.value.as_str()),
            source: &source,
            title: &procedure.title.value,
            scan_ns: self.scan_ns,
        };
        let (machine, panel) = self.bench(options);
        let logic = options.account_failure.as_ref().filter(|_| failed.may_be_accounted());
        let observer = failed.observer(&self.parts.program, &panel, logic.is_some());
        let bench = Bench::new(machine, panel, self.scan_ns)
            .with_later(&options.later)
            .until(options.halt.clone())
            .within(options.budget)
            .accounted(logic);
        // Up to the failure that is told, also of a run that went on.
        let run = Run::new(bench, Conditions::new(&ready.probes), observer, false, procedure.heading);
        failed.examine(run, &ready.prepare, &ready.steps)
    }

    /// Machine and panel at the start.
    pub(super) fn bench(&self, options: &RunOptions) -> (Machine, Panel<'s>) {
        let mut machine = Machine::new(Arc::clone(&self.parts.program));
        machine.set_budget(options.budget.scan_instructions);
        let mut panel = Panel::new(&self.parts.program, self.parts.station);
        for fault in &options.faults {
            fault.place(&mut panel, &mut machine);
        }
        (machine, panel)
    }

    /// Looks up and compiles a procedure behind what prepares it, or the latter alone.
    pub(super) fn ready(
        &self,
        procedure: Option<&'s Procedure>,
        panel: &Panel<'s>,
    ) -> Result<Ready, Vec<Diagnostic>> {
        let outside = NamesOutside { program: &self.parts.program, panel };
        let mut names = self.parts.names.clone();
        let mut binder = Binder {
            outside: &outside,
            sources: self.parts.sources,
            names: self.parts.names,
            probes: Vec::new(),
            measures: Vec::new(),
            diagnostics: Vec::new(),
        };
        let prepare = binder.steps(self.prepare.iter().copied());
        let steps = procedure.map_or_else(Vec::new, |procedure| binder.steps(&procedure.steps));
        let Binder { probes, measures, mut diagnostics, .. } = binder;
        let (image, found) = compile_probes(&probes, &outside, self.parts.sources, &mut names);
        diagnostics.extend(found);
        diagnostics.extend(self.too_long(&prepare, &steps));
        let failed = diagnostics.iter().any(|problem| problem.severity == Severity::Error);
        let probes = image.filter(|_| !failed).and_then(|image| Probes::new(image, &outside));
        let Some(probes) = probes else { return Err(diagnostics) };
        let mixed = mixed(&probes, &measures);
        if mixed.is_empty() {
            Ok(Ready { prepare, steps, probes, warnings: diagnostics })
        } else {
            Err(mixed)
        }
    }

    fn too_long(&self, prepare: &[BoundStep], steps: &[BoundStep]) -> Option<Diagnostic> {
        let (prepare_ns, _) = length::least_ns(prepare);
        let (least_ns, longest) = length::least_ns(steps);
        let scans = (prepare_ns + least_ns) / i128::from(self.scan_ns);
        let count = length::step_count(prepare) + length::step_count(steps);
        let message = if scans > i128::from(SCANS_MAX) {
            format!("the procedure would take at least {scans} scans, more than the {SCANS_MAX} allowed")
        } else if count > u128::from(STEPS_MAX) {
            format!("the procedure would have {count} steps, more than the {STEPS_MAX} allowed")
        } else {
            return None;
        };
        let span = longest.or_else(|| prepare.first().map(|step| step.span))?;
        Some(
            Diagnostic::error("procedure-too-long", span, message)
                .label("most of it is here")
                .note("repeat less often, wait for less long, or make the scan time longer"),
        )
    }

    /// The names that comparisons with recorded traces need.
    fn compared(&self, comparisons: &[Comparison]) -> Vec<String> {
        let names = comparisons.iter().flat_map(|comparison| &comparison.names);
        let mut seen = BTreeSet::new();
        names
            .map(|name| self.parts.sources.text(name.span).to_owned())
            .filter(|name| seen.insert(name.to_ascii_uppercase()))
            .collect()
    }

    fn source(&self) -> String {
        self.parts.files.last().map_or(String::new(), |file| self.parts.sources.file(file.file).name.clone())
    }
}

fn refused(diagnostics: Vec<Diagnostic>) -> Outcome {
    Outcome {
        verdict: Verdict::Refused(diagnostics),
        warnings: Vec::new(),
        scans: 0,
        end_ns: 0,
        events: EventLog::default(),
        plant_events: EventLog::default(),
        coverage: None,
        account: None,
        compared: None,
        approved: None,
        acted_ns: Vec::new(),
        course: None,
        tally: None,
    }
}

/// A failure that is not explained.
fn brief(stop: Stop, scan_ns: i64) -> Failure {
    let recording =
        Recording { title: String::new(), source: String::new(), scan_ns, end_ns: 0, ..Recording::default() };
    Failure {
        kind: stop.kind,
        step: stop.step,
        condition: stop.condition,
        time_ns: stop.time_ns,
        scan: stop.scan,
        since_ns: stop.since_ns,
        parts: Vec::new(),
        last_right_ns: None,
        came_right_ns: None,
        action: None,
        recording,
        pace: None,
        account: None,
        hint: stop.hint,
    }
}

/// A run that departed from a trace, as a failure of its comparison.
fn departed(parted: Parted, recording: &Recording, procedure: &Procedure, since_ns: i64) -> Failure {
    Failure {
        kind: parted.kind,
        step: parted.span,
        condition: None,
        time_ns: parted.time_ns,
        scan: Some(u64::from(parted.scan)),
        since_ns,
        parts: Vec::new(),
        last_right_ns: None,
        came_right_ns: None,
        action: None,
        recording: recording.clone(),
        pace: None,
        account: None,
        hint: procedure.hint.as_ref().map(|hint| hint.value.clone()),
    }
}

fn not_recorded(errors: &[ReplayError], procedure: &Procedure) -> Vec<Diagnostic> {
    let span = procedure.comparisons.first().map_or(procedure.heading, |comparison| comparison.span);
    let told = |error: &ReplayError| {
        let diagnostic = Diagnostic::error("procedure-unknown-name", span, error.message.clone());
        error.notes.iter().fold(diagnostic, |diagnostic, note| diagnostic.note(note.clone()))
    };
    errors.iter().map(told).collect()
}

/// Numbers compared with durations.
fn mixed(probes: &Probes, measures: &[[(ProbeId, Span); 3]]) -> Vec<Diagnostic> {
    let differs = |[value, target, tolerance]: &[(ProbeId, Span); 3]| {
        let is_duration = probes.is_duration(value.0);
        let other =
            [target, tolerance].into_iter().find(|other| probes.is_duration(other.0) != is_duration)?;
        let (first, second) =
            if is_duration { ("a duration", "a number") } else { ("a number", "a duration") };
        Some(
            Diagnostic::error("procedure-near", other.1, format!("{first} is compared with {second}"))
                .label(second)
                .also(value.1, first),
        )
    };
    measures.iter().filter_map(differs).collect()
}

/// A procedure that cannot fail proves nothing.
fn without_expectation(procedure: &Procedure) -> Option<Diagnostic> {
    if expects(&procedure.steps) || !procedure.comparisons.is_empty() {
        return None;
    }
    Some(
        Diagnostic::warning("procedure-no-expectation", procedure.heading, "this procedure expects nothing")
            .label("it passes whatever the program does")
            .note("write what must be seen, such as `expect Pump within T#100ms;`"),
    )
}

/// Whether steps expect anything.
fn expects(steps: &[Step]) -> bool {
    steps.iter().any(|step| match &step.kind {
        StepKind::Expect(_) | StepKind::Always(_) | StepKind::Never(_) | StepKind::Whenever { .. } => true,
        StepKind::Repeat { steps, .. } => expects(steps),
        _ => false,
    })
}

//! Which rows a recording has.
//!
//! Order by default: for each device its own row and the row of its terminal; then the remaining inputs; the
//! outputs, each followed by those of its loads that do something else than the output says; everything else that is
//! located.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_vm::{
    Changes, ElementaryType, NO_STATUS, Program, Resolved, ResolvedKind, Section, Signal, SignalKind,
    TaskStatus,
};

use super::{
    ROWS_MAX, ReplayError,
    charts::{FoundChart, charts},
    own::{OwnRow, OwnSignals, Watched},
};
use crate::{
    address::Address,
    panel::{Panel, Place},
    recording::{ChartRecord, Role, Row},
    station::{DeviceForm, Load, LoadForm},
    terminals::{Direction, direction, place_key},
};

/// The rows of a recording to be.
pub(crate) struct Plan {
    recorded: Vec<Resolved>,
    rows: Vec<PlannedRow>,
    own: Vec<OwnRow>,
    /// The variables of the plant among the own rows.
    plant: Vec<Resolved>,
    charts: Vec<PlannedChart>,
}

/// The steps of a chart, with indices into what the machine's recorder records.
struct PlannedChart {
    name: String,
    steps: Vec<(String, usize)>,
}

struct PlannedRow {
    role: Role,
    source: Source,
    asked: Option<String>,
}

#[derive(Clone, Copy)]
enum Source {
    /// Index into what the machine's recorder records.
    Recorded(usize),
    /// Index into [`OwnSignals`].
    Own(usize),
}

impl Plan {
    /// The rows for these names, or by default.
    pub(crate) fn new(
        program: &Program,
        panel: &Panel<'_>,
        record: Option<&[String]>,
    ) -> Result<Plan, Vec<ReplayError>> {
        let mut planner = Planner {
            program,
            panel,
            plan: Plan {
                recorded: Vec::new(),
                rows: Vec::new(),
                own: Vec::new(),
                plant: Vec::new(),
                charts: Vec::new(),
            },
        };
        let mut errors = Vec::new();
        match record {
            Some(names) => {
                if names.len() <= ROWS_MAX {
                    errors.extend(names.iter().filter_map(|name| planner.named(name).err()));
                } else {
                    errors.push(too_many(names.len()));
                }
            }
            None => planner.all(),
        }
        if planner.plan.rows.len() > ROWS_MAX {
            errors.push(too_many(planner.plan.rows.len()));
        }
        if errors.is_empty() { Ok(planner.plan) } else { Err(errors) }
    }

    /// The variables for the machine's recorder.
    pub(crate) fn recorded(&self) -> &[Resolved] {
        &self.recorded
    }

    /// The signals to be recorded here, empty.
    pub(crate) fn own_signals(&self) -> OwnSignals {
        OwnSignals::new(&self.own, self.plant.clone())
    }

    /// The same plan with the steps of all charts.
    #[must_use]
    pub(crate) fn with_charts(mut self, program: &Program) -> Plan {
        for FoundChart { name, steps } in charts(program) {
            let mut planned = Vec::new();
            for (step, flag) in steps {
                planned.push((step, self.recorded.len()));
                self.recorded.push(flag);
            }
            self.charts.push(PlannedChart { name, steps: planned });
        }
        self
    }

    /// The finished rows, and the charts.
    pub(crate) fn rows(&self, recorded: Vec<Signal>, own: OwnSignals) -> (Vec<Row>, Vec<ChartRecord>) {
        // Each signal belongs to one row or one step.
        let mut recorded: Vec<Option<Signal>> = recorded.into_iter().map(Some).collect();
        let mut own: Vec<Option<Signal>> = own.finish().into_iter().map(Some).collect();
        let mut row = |planned: &PlannedRow| {
            let signal = match planned.source {
                Source::Recorded(index) => recorded.get_mut(index)?.take()?,
                Source::Own(index) => own.get_mut(index)?.take()?,
            };
            Some(Row { role: planned.role.clone(), signal, asked: planned.asked.clone() })
        };
        let rows = self.rows.iter().filter_map(&mut row).collect();
        let mut flag = |index: usize| Some(recorded.get_mut(index)?.take()?.changes);
        let chart = |planned: &PlannedChart| {
            let steps = planned.steps.iter();
            let steps = steps.filter_map(|(name, index)| Some((name.clone(), flag(*index)?))).collect();
            ChartRecord { name: planned.name.clone(), steps }
        };
        (rows, self.charts.iter().map(chart).collect())
    }

    /// What was recorded of each row so far.
    pub(crate) fn changes<'r>(&self, recorded: &'r [Signal], own: &'r OwnSignals) -> Vec<&'r Changes> {
        let signal = |planned: &PlannedRow| match planned.source {
            Source::Recorded(index) => recorded.get(index),
            Source::Own(index) => own.get(index),
        };
        self.rows.iter().filter_map(signal).map(|signal| &signal.changes).collect()
    }
}

fn too_many(rows: usize) -> ReplayError {
    let message = format!("the recording would have {rows} rows, more than the {ROWS_MAX} allowed");
    ReplayError::new("replay-too-many-rows", message, "name the rows to record")
}

struct Planner<'a> {
    program: &'a Program,
    panel: &'a Panel<'a>,
    plan: Plan,
}

impl Planner<'_> {
    /// The rows by default.
    fn all(&mut self) {
        let variables: Vec<Resolved> = self
            .program
            .variables()
            .filter(|variable| {
                // What VAR_ACCESS names has a name of its own already.
                variable.section != Section::Access
                    && (variable.location.is_some()
                        || matches!(direction(self.program, variable), Direction::Input | Direction::Output))
            })
            .collect();
        let mut at_place: BTreeMap<(u32, u8), Vec<&Resolved>> = BTreeMap::new();
        for variable in &variables {
            at_place.entry(place_key(variable)).or_default().push(variable);
        }
        let mut done = BTreeSet::new();
        for (index, device) in self.panel.devices().iter().enumerate() {
            self.device(index);
            let Some(terminal) = &device.variable else {
                self.terminal(index);
                continue;
            };
            // Several programs may read one input under different names.
            let others = at_place.get(&place_key(terminal)).into_iter().flatten().copied();
            for variable in others.chain([terminal]) {
                if done.insert(variable.name.clone()) {
                    self.variable(variable.clone());
                }
            }
        }
        let mut rest = Vec::new();
        let mut outputs = Vec::new();
        for variable in variables.iter().cloned() {
            if !done.insert(variable.name.clone()) {
                continue;
            }
            match direction(self.program, &variable) {
                Direction::Input => self.variable(variable),
                Direction::Output => outputs.push(variable),
                Direction::Constant | Direction::ReadOnly | Direction::Other => rest.push(variable),
            }
        }
        // What leaves the controller first, then what only the program shows.
        outputs.sort_by_key(|variable| variable.location.is_none());
        for variable in outputs {
            let key = place_key(&variable);
            self.variable(variable);
            self.own_loads(|of_load| of_load.is_some_and(|of_load| place_key(of_load) == key));
        }
        self.own_loads(|of_load| of_load.is_none());
        for variable in rest {
            self.variable(variable);
        }
        self.tasks();
    }

    /// For each task of a configuration whether it ran.
    fn tasks(&mut self) {
        let ran = |task: &latchwork_vm::Task| task.status.saturating_add(TaskStatus::RAN);
        let tasks = self.program.image().tasks.iter().filter(|task| task.status != NO_STATUS);
        let places: BTreeSet<u32> = tasks.map(ran).collect();
        if places.is_empty() {
            return;
        }
        let found: Vec<Resolved> =
            self.program.variables().filter(|variable| places.contains(&variable.address)).collect();
        for variable in found {
            self.variable(variable);
        }
    }

    /// The rows of analog loads and of loads with a fault, on outputs that are wanted.
    fn own_loads(&mut self, wanted: impl Fn(Option<&Resolved>) -> bool) {
        for (index, load) in self.panel.loads().iter().enumerate() {
            let own = load.load.fault.is_some() || matches!(load.load.form, LoadForm::Analog { .. });
            if own && wanted(load.variable.as_ref()) && !self.has(Watched::Load(index)) {
                self.load(index);
            }
        }
    }

    fn has(&self, watched: Watched) -> bool {
        self.plan.own.iter().any(|row| row.watched == watched)
    }

    /// The row of a name.
    fn named(&mut self, name: &str) -> Result<(), ReplayError> {
        match self.panel.find(self.program, name) {
            Ok(Place::Device(index)) => self.device(index),
            Ok(Place::Load(index)) => self.load(index),
            Ok(Place::Terminal(index)) => self.terminal(index),
            Ok(Place::Plant(variable)) => self.of_plant(variable),
            Ok(Place::Variable(variable)) => {
                let asked = as_asked(&variable, name);
                self.variable(variable);
                if let Some(row) = self.plan.rows.last_mut() {
                    row.asked = asked;
                }
            }
            Err(missing) => {
                let message = format!("there is nothing named `{name}` to record");
                return Err(ReplayError::new("replay-record-unknown", message, missing.label));
            }
        }
        Ok(())
    }

    /// The row of a variable of the plant.
    fn of_plant(&mut self, variable: Resolved) {
        let row = OwnRow {
            name: variable.name.clone(),
            location: None,
            kind: SignalKind::of(variable.kind),
            watched: Watched::Plant(self.plan.plant.len()),
        };
        self.plan.plant.push(variable);
        self.plan.own.push(row);
        let source = Source::Own(self.plan.own.len() - 1);
        self.plan.rows.push(PlannedRow { role: Role::Plant, source, asked: None });
    }

    /// The row of a device.
    fn device(&mut self, index: usize) {
        let Some(wired) = self.panel.devices().get(index) else { return };
        let fault = wired.device.fault.map(|fault| fault.words().to_string());
        let (kind, role) = match &wired.device.form {
            DeviceForm::TwoState { contact, actuated, .. } => {
                let role =
                    Role::Device { actuated: actuated.clone(), contact: Some(*contact), unit: None, fault };
                (ElementaryType::Bool, role)
            }
            DeviceForm::Analog { unit, .. } => {
                let role = Role::Device { actuated: String::new(), contact: None, unit: unit.clone(), fault };
                (ElementaryType::Lreal, role)
            }
        };
        self.own(wired.device.name.value.clone(), None, kind, Watched::Device(index), role);
    }

    /// The row of a device's terminal that no variable of the program lies at.
    fn terminal(&mut self, index: usize) {
        let Some(wired) = self.panel.devices().get(index) else { return };
        let name = wired
            .device
            .terminal
            .address
            .as_ref()
            .map_or(wired.device.terminal.text.clone(), Address::to_string);
        let role = Role::Terminal { device: Some(wired.device.name.value.clone()) };
        self.own(name.clone(), Some(name), wired.terminal_kind(), Watched::Terminal(index), role);
    }

    /// The row of a load.
    fn load(&mut self, index: usize) {
        let Some(wired) = self.panel.loads().get(index) else { return };
        let (kind, unit) = match &wired.load.form {
            LoadForm::TwoState => (ElementaryType::Bool, None),
            LoadForm::Analog { unit, .. } => (ElementaryType::Lreal, unit.clone()),
        };
        let role = Role::Output { load: Some(load_words(wired.load)), unit };
        self.own(wired.load.name.value.clone(), None, kind, Watched::Load(index), role);
    }

    fn own(
        &mut self,
        name: String,
        location: Option<String>,
        kind: ElementaryType,
        watched: Watched,
        role: Role,
    ) {
        let row = OwnRow { name, location, kind: SignalKind::of(ResolvedKind::Elementary(kind)), watched };
        self.plan.own.push(row);
        self.plan.rows.push(PlannedRow { role, source: Source::Own(self.plan.own.len() - 1), asked: None });
    }

    /// The row of a variable.
    fn variable(&mut self, variable: Resolved) {
        let key = place_key(&variable);
        let at = |other: &Option<Resolved>| other.as_ref().is_some_and(|other| place_key(other) == key);
        let role = match direction(self.program, &variable) {
            Direction::Input => {
                let device = self.panel.devices().iter().find(|device| at(&device.variable));
                Role::Terminal { device: device.map(|device| device.device.name.value.clone()) }
            }
            Direction::Output => {
                let loads: Vec<String> = self
                    .panel
                    .loads()
                    .iter()
                    .filter(|load| at(&load.variable))
                    .map(|load| load_words(load.load))
                    .collect();
                Role::Output { load: (!loads.is_empty()).then(|| loads.join("; ")), unit: None }
            }
            Direction::Constant | Direction::ReadOnly | Direction::Other => Role::Variable,
        };
        self.plan.recorded.push(variable);
        let source = Source::Recorded(self.plan.recorded.len() - 1);
        self.plan.rows.push(PlannedRow { role, source, asked: None });
    }
}

/// The name a row was asked for by, spelt as declared, if it is shorter than the full name: `Start`, `%QX0.0`.
fn as_asked(variable: &Resolved, asked: &str) -> Option<String> {
    let asked = asked.trim();
    if asked.starts_with('%') {
        return variable.location.clone().filter(|location| *location != variable.name);
    }
    // Blanks may stand between the subscripts of what was asked for; then the full name is shown.
    let start = variable.name.len().checked_sub(asked.len()).filter(|start| *start > 0)?;
    let tail = variable.name.get(start..)?;
    tail.eq_ignore_ascii_case(asked).then(|| tail.to_owned())
}

/// A load in a heading: name, kind and fault.
fn load_words(load: &Load) -> String {
    let mut words = load.name.value.clone();
    if let Some(kind) = &load.kind {
        words.push(' ');
        words.push_str(kind);
    }
    if let Some(fault) = load.fault {
        words.push_str(&format!(", {fault}"));
    }
    words
}

//! The bench of a procedure worked from outside, act by act, with the time of procedures, so that what is done there can be
//! written as steps. And the acts of a procedure, without what it expects.

use std::collections::BTreeMap;

use latchwork_vm::{Machine, Restart, Value};

use super::{
    bound::{BoundKind, BoundStep, BoundTime, PlacedLoadFault, SetTarget, SetValue},
    clock::{Bench, measure},
    conditions::Conditions,
    outcome::FailureKind,
    run::Run,
    script::{RunOptions, Script},
};
use crate::{
    panel::{Panel, Place},
    terminals::{Direction, direction},
    wiring::{LoadFault, WiringFault},
};

/// Most acts that are taken from one procedure.
const ACTS_MAX: usize = 1_000;

/// Something that a step does. Devices and loads by their number on the panel.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Act {
    /// A device of two states is actuated, or not any more.
    Actuate { device: usize, state: bool },
    /// An analog device, a variable or an address, by its name, gets a value.
    Set { path: String, value: Value },
    /// The same, in a straight line.
    Ramp { path: String, to: Value, over_ns: i64 },
    /// A fault is placed on a device.
    PlaceDevice { device: usize, fault: WiringFault, stuck_at: Option<Value> },
    /// A wire of a load is opened, or the load is stuck, on or off.
    PlaceLoad { load: usize, stuck: Option<bool> },
    /// All faults are gone.
    ClearAll,
    /// The controller restarts.
    Restart(Restart),
    /// Time passes.
    Wait(i64),
}

/// A bench behind what prepares it.
pub(crate) struct Acting<'s> {
    bench: Bench<'s>,
    targets: BTreeMap<String, Option<SetTarget>>,
}

impl<'s> Script<'s> {
    /// A bench behind what prepares every procedure; `None` if the program did not come through that.
    pub(crate) fn acting(&self, options: &RunOptions) -> Option<Acting<'s>> {
        let (machine, panel) = self.bench(options);
        let ready = self.ready(None, &panel).ok()?;
        let bench = Bench::new(machine, panel, self.scan_ns()).within(options.budget);
        let heading = self.procedures().first().map(|procedure| procedure.heading).unwrap_or_default();
        let mut run = Run::new(bench, Conditions::new(&ready.probes), None, false, heading);
        run.steps(&ready.prepare).ok()?;
        Some(Acting { bench: run.bench, targets: BTreeMap::new() })
    }

    /// What a procedure does. A value that is computed is the one that it has at the start.
    pub(crate) fn acts(&self, index: usize) -> Vec<Act> {
        let Some(procedure) = self.procedures().get(index) else { return Vec::new() };
        let (machine, panel) = self.bench(&RunOptions::default());
        let Ok(ready) = self.ready(Some(*procedure), &panel) else { return Vec::new() };
        let mut conditions = Conditions::new(&ready.probes);
        let mut value = |value: &SetValue| match value {
            SetValue::Known(value) => Some(value.clone()),
            SetValue::Probe(probe) => conditions.value(*probe, &machine, &panel, 0).ok(),
        };
        let mut told = Told { acts: Vec::new(), now_ns: 0, panel: &panel };
        told.steps(&ready.steps, &mut value);
        told.acts
    }
}

/// The acts of a procedure, as they are found.
struct Told<'p, 's> {
    acts: Vec<Act>,
    now_ns: i64,
    panel: &'p Panel<'s>,
}

impl Told<'_, '_> {
    fn steps(&mut self, steps: &[BoundStep], value: &mut dyn FnMut(&SetValue) -> Option<Value>) {
        for step in steps {
            if self.acts.len() >= ACTS_MAX {
                return;
            }
            self.step(&step.kind, value);
        }
    }

    fn step(&mut self, kind: &BoundKind, value: &mut dyn FnMut(&SetValue) -> Option<Value>) {
        match kind {
            BoundKind::Press { devices, hold_ns } => {
                self.actuate(devices, true);
                if let Some(hold_ns) = hold_ns {
                    self.wait(*hold_ns);
                    self.actuate(devices, false);
                }
            }
            BoundKind::Release(devices) => self.actuate(devices, false),
            BoundKind::Set { target, value: given } => match (target, value(given)) {
                (SetTarget::Device(device), Some(Value::Bool(state))) => {
                    self.acts.push(Act::Actuate { device: *device, state });
                }
                (target, Some(value)) => {
                    let path = self.path(target);
                    self.acts.extend(path.map(|path| Act::Set { path, value }));
                }
                (_, None) => {}
            },
            BoundKind::Ramp { target, value: to, over_ns } => {
                if let (Some(path), Some(to)) = (self.path(target), value(&SetValue::Probe(*to))) {
                    self.acts.push(Act::Ramp { path, to, over_ns: *over_ns });
                }
            }
            BoundKind::Wait(duration_ns) => self.wait(*duration_ns),
            BoundKind::At(time_ns) => self.wait(time_ns.saturating_sub(self.now_ns)),
            BoundKind::Repeat { times, steps } => {
                for _ in 0..*times {
                    if self.acts.len() >= ACTS_MAX || steps.is_empty() {
                        break;
                    }
                    self.steps(steps, value);
                }
            }
            BoundKind::PlaceDevice { device, fault, stuck_at } => {
                let (device, fault, stuck_at) = (*device, *fault, stuck_at.clone());
                self.acts.push(Act::PlaceDevice { device, fault, stuck_at });
            }
            BoundKind::PlaceLoad { load, fault } => {
                let stuck = match fault {
                    PlacedLoadFault::Stuck(Some(Value::Bool(on))) => Some(*on),
                    _ => None,
                };
                self.acts.push(Act::PlaceLoad { load: *load, stuck });
            }
            BoundKind::Clear { .. } => self.acts.push(Act::ClearAll),
            BoundKind::Restart(restart) => self.acts.push(Act::Restart(*restart)),
            BoundKind::Expect(expect) => match &expect.when {
                BoundTime::Now => {}
                BoundTime::Within(time_ns) | BoundTime::For(time_ns) | BoundTime::Between(_, time_ns) => {
                    self.wait(*time_ns);
                }
                BoundTime::WithinFor(within_ns, stay_ns) => self.wait(within_ns.saturating_add(*stay_ns)),
                BoundTime::While(steps) => self.steps(steps, value),
            },
            BoundKind::Rule { .. } => {}
        }
    }

    fn actuate(&mut self, devices: &[usize], state: bool) {
        self.acts.extend(devices.iter().map(|device| Act::Actuate { device: *device, state }));
    }

    fn wait(&mut self, duration_ns: i64) {
        if duration_ns > 0 {
            self.now_ns = self.now_ns.saturating_add(duration_ns);
            self.acts.push(Act::Wait(duration_ns));
        }
    }

    fn path(&self, target: &SetTarget) -> Option<String> {
        match target {
            SetTarget::Device(device) => Some(self.panel.devices().get(*device)?.device.name.value.clone()),
            SetTarget::Variable { variable, .. } | SetTarget::Plant(variable) => Some(variable.name.clone()),
        }
    }
}

impl<'s> Acting<'s> {
    /// A second bench in the same state.
    pub(crate) fn ahead(&self) -> Self {
        Acting { bench: self.bench.ahead(), targets: self.targets.clone() }
    }

    /// Does something that takes no time; `false` if it cannot be done on this program.
    pub(crate) fn act(&mut self, act: &Act) -> bool {
        match act {
            Act::Actuate { device, state } => self.bench.actuate(*device, *state),
            Act::Set { path, value } => {
                let Some(target) = self.target(path) else { return false };
                return self.bench.set(&target, value.clone()).is_ok();
            }
            Act::Ramp { path, to, over_ns } => {
                let (Some(target), Some(to)) = (self.target(path), measure(to)) else { return false };
                self.bench.ramp(&target, to, *over_ns);
            }
            Act::PlaceDevice { device, fault, stuck_at } => {
                self.bench.place_device(*device, Some(*fault), stuck_at.clone());
            }
            Act::PlaceLoad { load, stuck } => {
                let fault = match stuck {
                    None => LoadFault::OpenWire,
                    Some(on) => self.bench.load_stuck(*load, Some(&Value::Bool(*on))),
                };
                self.bench.place_load(*load, Some(fault));
            }
            Act::ClearAll => self.bench.clear(&[], &[]),
            Act::Restart(restart) => self.bench.restart(*restart),
            Act::Wait(_) => {}
        }
        true
    }

    /// Runs the next scan.
    pub(crate) fn scan(&mut self) -> Result<(), FailureKind> {
        self.bench.scan()
    }

    /// Time between two scans, in nanoseconds.
    pub(crate) fn scan_ns(&self) -> i64 {
        self.bench.scan_ns
    }

    /// When the next scan starts, in nanoseconds.
    pub(crate) fn next_ns(&self) -> i64 {
        self.bench.next_ns()
    }

    /// The start of the last scan.
    pub(crate) fn last_ns(&self) -> i64 {
        self.bench.last_ns()
    }

    /// The time of the timeline.
    pub(crate) fn now_ns(&self) -> i64 {
        self.bench.now_ns
    }

    /// Lets the timeline go on.
    pub(crate) fn set_now(&mut self, now_ns: i64) {
        self.bench.now_ns = now_ns;
    }

    /// The machine.
    pub(crate) fn machine(&self) -> &Machine {
        &self.bench.machine
    }

    /// The panel in front of it.
    pub(crate) fn panel(&self) -> &Panel<'s> {
        &self.bench.panel
    }

    /// What a name stands for, if it can be set.
    fn target(&mut self, path: &str) -> Option<SetTarget> {
        if let Some(known) = self.targets.get(path) {
            return known.clone();
        }
        let program = self.bench.machine.program();
        let found = match self.bench.panel.find(program, path) {
            Ok(Place::Device(device)) => Some(SetTarget::Device(device)),
            Ok(Place::Plant(variable)) => Some(SetTarget::Plant(variable)),
            Ok(Place::Variable(variable)) => match direction(program, &variable) {
                Direction::Output | Direction::Constant | Direction::ReadOnly => None,
                found => Some(SetTarget::Variable { variable, input: found == Direction::Input }),
            },
            Ok(Place::Load(_) | Place::Terminal(_)) | Err(_) => None,
        };
        self.targets.insert(path.to_owned(), found.clone());
        found
    }
}

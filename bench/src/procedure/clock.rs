//! The running bench: machine and panel, scan by scan, with what goes on by itself between the steps.
//!
//! What is looked at after a scan is what the scan saw and did, so the plant goes on only when something new is done or
//! the next scan begins.

use std::{
    collections::BTreeMap,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
};

use latchwork_compiler::logic::Logic;
use latchwork_vm::{Fault, Machine, Restart, Value};

use super::{
    bound::SetTarget,
    outcome::FailureKind,
    script::{LaterFault, RunBudget},
};
use crate::{
    account::Accountant,
    panel::Panel,
    replay::SCANS_MAX,
    terminals::{place_key, terminal_number},
    wiring::{LoadFault, WiringFault},
};

/// Machine and panel at a time.
pub(super) struct Bench<'s> {
    pub(super) machine: Machine,
    pub(super) panel: Panel<'s>,
    pub(super) scan_ns: i64,
    /// Scans run so far: the number of the next one.
    pub(super) scans: u64,
    /// The time of the timeline.
    pub(super) now_ns: i64,
    /// Something was done that no scan has seen yet, or there was no scan yet.
    pub(super) unseen: bool,
    /// The plant has not gone on since the last scan.
    plant_waits: bool,
    /// What stopped the plant.
    plant_fault: Option<Box<Fault>>,
    ramps: Vec<Ramp>,
    /// Faults to come, the last one first.
    later: Vec<LaterFault>,
    /// What inputs were set to: a restart leaves it.
    levels: BTreeMap<(u32, u8), (SetTarget, Value)>,
    /// Set when nobody waits for the run any more.
    halt: Option<Arc<AtomicBool>>,
    /// Keeps account of what the program does, if that is wanted.
    pub(super) accountant: Option<Accountant>,
    /// What the run may take.
    budget: RunBudget,
    /// Instructions of all scans so far.
    instructions: u64,
}

/// A value on its way.
#[derive(Clone)]
struct Ramp {
    target: SetTarget,
    from: f64,
    to: f64,
    start_ns: i64,
    over_ns: i64,
}

impl<'s> Bench<'s> {
    pub(super) fn new(mut machine: Machine, panel: Panel<'s>, scan_ns: i64) -> Self {
        panel.drive(&mut machine);
        Bench {
            machine,
            panel,
            scan_ns,
            scans: 0,
            now_ns: 0,
            unseen: true,
            plant_waits: false,
            plant_fault: None,
            ramps: Vec::new(),
            later: Vec::new(),
            levels: BTreeMap::new(),
            halt: None,
            accountant: None,
            budget: RunBudget::default(),
            instructions: 0,
        }
    }

    /// Keeps account of what the program does, whose image notes this in its journal.
    pub(super) fn accounted(mut self, logic: Option<&Arc<Logic>>) -> Self {
        self.accountant = logic.map(|logic| Accountant::open(&mut self.machine, Arc::clone(logic)));
        self
    }

    /// Lets faults come in the middle of the run.
    pub(super) fn with_later(mut self, later: &[LaterFault]) -> Self {
        self.later = later.to_vec();
        // The same order at one time as they were given in.
        self.later.reverse();
        self.later.sort_by_key(|fault| std::cmp::Reverse(fault.from_ns));
        self
    }

    /// With a flag that tells when nobody waits for the run any more.
    pub(super) fn until(mut self, halt: Option<Arc<AtomicBool>>) -> Self {
        self.halt = halt;
        self
    }

    /// With limits of what the run may take. That of a scan is the machine's own.
    pub(super) fn within(mut self, budget: RunBudget) -> Self {
        self.budget = budget;
        self
    }

    /// Why no further scan may be run, if that is so.
    pub(super) fn used_up(&self) -> Option<FailureKind> {
        let RunBudget { scans, instructions, .. } = self.budget;
        if self.scans >= scans.min(SCANS_MAX) || self.is_halted() {
            return Some(FailureKind::TooLong { limit: self.scans, what: "scans" });
        }
        (self.instructions > instructions)
            .then_some(FailureKind::TooLong { limit: instructions, what: "instructions" })
    }

    /// A second bench in the same state, to look ahead; nobody keeps account of what it does.
    pub(super) fn ahead(&self) -> Self {
        Bench {
            machine: self.machine.clone(),
            panel: self.panel.clone(),
            plant_fault: self.plant_fault.clone(),
            ramps: self.ramps.clone(),
            later: self.later.clone(),
            levels: self.levels.clone(),
            halt: self.halt.clone(),
            accountant: None,
            ..*self
        }
    }

    /// Whether nobody waits for the run any more.
    pub(super) fn is_halted(&self) -> bool {
        self.halt.as_ref().is_some_and(|halt| halt.load(Ordering::Relaxed))
    }

    /// When the next scan starts.
    pub(super) fn next_ns(&self) -> i64 {
        // The number of scans is limited so that this fits; a scan time is limited with it.
        (self.scans as i64).saturating_mul(self.scan_ns)
    }

    /// The start of the last scan; 0 before the first.
    pub(super) fn last_ns(&self) -> i64 {
        (self.scans.saturating_sub(1) as i64).saturating_mul(self.scan_ns)
    }

    /// Whether the scan of this time was run and nothing was done since.
    pub(super) fn is_seen(&self) -> bool {
        !self.unseen && self.last_ns() >= self.now_ns
    }

    /// Runs the next scan. The error is why it could not be run to its end.
    pub(super) fn scan(&mut self) -> Result<(), FailureKind> {
        let start_ns = self.next_ns();
        self.let_plant_go_on();
        if let Some(fault) = &self.plant_fault {
            return Err(FailureKind::PlantFault(fault.clone()));
        }
        while let Some(fault) = self.later.pop_if(|fault| fault.from_ns <= start_ns) {
            fault.fault.place(&mut self.panel, &mut self.machine);
        }
        self.move_ramps(start_ns);
        let scanned = self.machine.scan(start_ns);
        if let Some(accountant) = &mut self.accountant {
            accountant.scan(&mut self.machine);
        }
        self.instructions += scanned.map_err(FailureKind::Fault)?.instructions;
        self.scans += 1;
        self.unseen = false;
        self.plant_waits = true;
        Ok(())
    }

    /// Lets the plant run from the last scan to the next one, before anything is done. Its fault is told by the next
    /// scan.
    fn let_plant_go_on(&mut self) {
        if std::mem::take(&mut self.plant_waits) {
            let last_ns = self.last_ns();
            if let Err(fault) = self.panel.advance(last_ns, self.scan_ns, &mut self.machine) {
                self.plant_fault = Some(fault);
            }
        }
    }

    /// Acts on a two-state device.
    pub(super) fn actuate(&mut self, device: usize, state: bool) {
        self.let_plant_go_on();
        self.panel.act(device, &Value::Bool(state), &mut self.machine);
        self.unseen = true;
    }

    /// Sets a device or variable; ends a ramp on it.
    pub(super) fn set(&mut self, target: &SetTarget, value: Value) -> Result<(), String> {
        self.ramps.retain(|ramp| ramp.target != *target);
        self.put(target, value)
    }

    fn put(&mut self, target: &SetTarget, value: Value) -> Result<(), String> {
        self.let_plant_go_on();
        self.unseen = true;
        match target {
            SetTarget::Device(device) => self.panel.act(*device, &value, &mut self.machine),
            SetTarget::Variable { variable, input } => {
                self.machine.write(variable, &value).map_err(|error| error.to_string())?;
                if *input {
                    self.levels.insert(place_key(variable), (target.clone(), value));
                }
            }
            SetTarget::Plant(variable) => self.panel.set_plant(variable, &value, &mut self.machine),
        }
        Ok(())
    }

    /// The value of what can be set.
    pub(super) fn value_of(&self, target: &SetTarget) -> Option<Value> {
        match target {
            SetTarget::Device(device) => {
                self.panel.devices().get(*device).map(|device| device.state().clone())
            }
            SetTarget::Variable { variable, .. } => Some(self.machine.read(variable)),
            SetTarget::Plant(variable) => self.panel.plant_value(variable),
        }
    }

    /// Begins a ramp from the value that is there.
    pub(super) fn ramp(&mut self, target: &SetTarget, to: f64, over_ns: i64) {
        self.let_plant_go_on();
        self.ramps.retain(|ramp| ramp.target != *target);
        let from = self.value_of(target).and_then(|value| measure(&value)).unwrap_or(0.0);
        self.ramps.push(Ramp { target: target.clone(), from, to, start_ns: self.now_ns, over_ns });
        self.unseen = true;
    }

    fn move_ramps(&mut self, start_ns: i64) {
        if self.ramps.is_empty() {
            return;
        }
        let ramps = std::mem::take(&mut self.ramps);
        for ramp in &ramps {
            let gone = start_ns.saturating_sub(ramp.start_ns);
            let number = if gone >= ramp.over_ns {
                ramp.to
            } else {
                ramp.from + (ramp.to - ramp.from) * (gone as f64 / ramp.over_ns as f64)
            };
            if let Some(value) = self.value_of(&ramp.target).and_then(|present| with_number(&present, number))
            {
                // Of the same type as what is there.
                let _ = self.put(&ramp.target, value);
            }
        }
        self.ramps = ramps;
        self.ramps.retain(|ramp| start_ns.saturating_sub(ramp.start_ns) < ramp.over_ns);
    }

    /// Places a fault on a device, or takes it away.
    pub(super) fn place_device(
        &mut self,
        device: usize,
        fault: Option<WiringFault>,
        stuck_at: Option<Value>,
    ) {
        self.let_plant_go_on();
        self.panel.place_device(device, fault, stuck_at, &mut self.machine);
        self.unseen = true;
    }

    /// Places a fault on a load, or takes it away.
    pub(super) fn place_load(&mut self, load: usize, fault: Option<LoadFault>) {
        self.let_plant_go_on();
        self.panel.place_load(load, fault);
        self.unseen = true;
    }

    /// The fault of a load that is stuck at a value, or where it is.
    pub(super) fn load_stuck(&self, load: usize, at: Option<&Value>) -> LoadFault {
        let wired = self.panel.loads().get(load);
        wired.map_or(LoadFault::OpenWire, |wired| wired.stuck(at, &self.machine))
    }

    /// Takes the faults on these away; without any, all faults.
    pub(super) fn clear(&mut self, devices: &[usize], loads: &[usize]) {
        self.let_plant_go_on();
        if devices.is_empty() && loads.is_empty() {
            self.panel.clear_all(&mut self.machine);
        }
        for device in devices {
            self.panel.place_device(*device, None, None, &mut self.machine);
        }
        for load in loads {
            self.panel.place_load(*load, None);
        }
        self.unseen = true;
    }

    /// Restarts the program; panel and plant stay as they are.
    pub(super) fn restart(&mut self, restart: Restart) {
        self.let_plant_go_on();
        self.machine.restart(restart);
        self.panel.drive(&mut self.machine);
        for (target, value) in self.levels.values() {
            if let SetTarget::Variable { variable, .. } = target {
                // It was written before.
                let _ = self.machine.write(variable, value);
            }
        }
        self.unseen = true;
    }
}

/// A value as a number; durations in nanoseconds.
pub(super) fn measure(value: &Value) -> Option<f64> {
    match value {
        // A ramp needs no more than the 53 bits that remain.
        Value::Duration(nanoseconds, _) => Some(*nanoseconds as f64),
        _ => value.as_f64(),
    }
}

/// A number in the type of a value: rounded and cut off as at a terminal.
fn with_number(present: &Value, number: f64) -> Option<Value> {
    let kind = present.elementary_type()?;
    match present {
        Value::Duration(..) => Value::from_bits(number.round_ties_even() as i64 as u64, kind),
        _ => terminal_number(number, kind, true),
    }
}

//! A procedure being run: steps in order, scans between them, rules after every scan.

use latchwork_grammar::Span;
use latchwork_vm::{Fault, Value};

use super::{
    bound::{BoundKind, BoundStep, Check, PlacedLoadFault, ProbeId, SetTarget, SetValue},
    clock::{Bench, measure},
    conditions::Conditions,
    course::Keeper,
    observation::Observer,
    outcome::FailureKind,
    pace::{Followed, PaceKeeper},
    rules::{ActiveRule, ActiveWhile},
    tally::Decided,
};
use crate::{
    panel::Panel,
    recording::{Incident, IncidentKind},
    wiring::LoadFault,
};

/// Most steps of one run, those of repeated blocks counted each time.
pub(super) const STEPS_MAX: u64 = 10_000_000;

/// Why a run ended early, or, in a run that carries on, what was wrong first.
#[derive(Clone, Debug)]
pub(super) struct Stop {
    pub(super) kind: FailureKind,
    pub(super) step: Span,
    pub(super) condition: Option<Span>,
    /// What is looked at and which truth value is right.
    pub(super) check: Option<(Check, bool)>,
    pub(super) since_ns: i64,
    pub(super) time_ns: i64,
    pub(super) scan: Option<u64>,
    /// The device that was acted on last.
    pub(super) device: Option<usize>,
    pub(super) hint: Option<String>,
}

/// A procedure being run.
pub(super) struct Run<'r, 's> {
    pub(super) bench: Bench<'s>,
    pub(super) conditions: Conditions<'r>,
    pub(super) observer: Option<Observer>,
    /// What is kept for a person who does the same by hand.
    pub(super) keeper: Option<Keeper>,
    /// Whether what is not as expected ends the run.
    pub(super) carry_on: bool,
    /// What was wrong first, in a run that carries on.
    pub(super) first: Option<Box<Stop>>,
    /// What became of each expectation, in a run that carries on.
    pub(super) decided: Decided,
    /// What is kept of the pace of a run that is watched.
    pub(super) pace_keeper: Option<PaceKeeper>,
    /// The pace that is followed.
    pub(super) followed: Option<Followed>,
    pub(super) rules: Vec<ActiveRule>,
    pub(super) blocks: Vec<ActiveWhile>,
    steps: u64,
    /// The step being run.
    step: Span,
    /// The device that was acted on last.
    device: Option<usize>,
    /// When the procedure began, behind what prepares it; `None` before that.
    pub(super) started_ns: Option<i64>,
}

pub(super) type Ended = Result<(), Box<Stop>>;

impl<'r, 's> Run<'r, 's> {
    pub(super) fn new(
        bench: Bench<'s>,
        conditions: Conditions<'r>,
        observer: Option<Observer>,
        carry_on: bool,
        heading: Span,
    ) -> Self {
        Run {
            bench,
            conditions,
            observer,
            keeper: None,
            carry_on,
            first: None,
            decided: Decided::default(),
            pace_keeper: None,
            followed: None,
            rules: Vec::new(),
            blocks: Vec::new(),
            steps: 0,
            step: heading,
            device: None,
            started_ns: None,
        }
    }

    /// Runs what prepares and then the procedure, until every response is decided.
    pub(super) fn run(&mut self, prepare: &[BoundStep], steps: &[BoundStep]) -> Ended {
        self.steps(prepare)?;
        self.started_ns = Some(self.bench.now_ns);
        self.steps(steps)?;
        if self.bench.unseen {
            self.scan()?;
        }
        while self.rules.iter().any(|rule| rule.response.is_open()) {
            self.scan()?;
        }
        self.keep_end()
    }

    pub(super) fn steps(&mut self, steps: &[BoundStep]) -> Ended {
        steps.iter().try_for_each(|step| self.step(step))
    }

    fn step(&mut self, step: &BoundStep) -> Ended {
        self.steps += 1;
        self.step = step.span;
        if self.steps > STEPS_MAX {
            return Err(self.stop(FailureKind::TooLong { limit: STEPS_MAX, what: "steps" }));
        }
        self.keep_begin(step)?;
        self.do_step(step)?;
        self.keep_done(step);
        Ok(())
    }

    fn do_step(&mut self, step: &BoundStep) -> Ended {
        match &step.kind {
            BoundKind::Press { devices, hold_ns } => {
                self.actuate(devices, true, step.span);
                if let Some(hold_ns) = hold_ns {
                    self.wait(*hold_ns)?;
                    self.actuate(devices, false, step.span);
                }
            }
            BoundKind::Release(devices) => self.actuate(devices, false, step.span),
            BoundKind::Set { target, value } => self.set(target, value, step.span)?,
            BoundKind::Ramp { target, value, over_ns } => {
                let value = self.value(*value)?;
                self.bench.ramp(target, measure(&value).unwrap_or(0.0), *over_ns);
                self.did_set(target, step.span);
            }
            BoundKind::Wait(duration_ns) => self.wait(*duration_ns)?,
            BoundKind::At(time_ns) => {
                let started_ns = self.started_ns.unwrap_or(0);
                let at_ns = started_ns.saturating_add(*time_ns);
                let late_ns = self.bench.now_ns.saturating_sub(started_ns);
                if self.bench.now_ns > at_ns {
                    let stop = self.stop(FailureKind::AlreadyLater { now_ns: late_ns });
                    return self.fail(stop);
                }
                self.run_before(at_ns)?;
                self.bench.now_ns = at_ns;
            }
            BoundKind::Repeat { times, steps } => {
                for _ in 0..*times {
                    self.steps(steps)?;
                    if steps.is_empty() {
                        break;
                    }
                }
            }
            BoundKind::PlaceDevice { device, fault, stuck_at } => {
                self.bench.place_device(*device, Some(*fault), stuck_at.clone());
                self.happened(IncidentKind::WiringFault, |panel| {
                    let name = panel.devices().get(*device).map(|wired| &wired.device.name.value);
                    format!("{}: {}", name.map_or("", String::as_str), fault.words())
                });
                self.did_to_device(*device, step.span);
            }
            BoundKind::PlaceLoad { load, fault } => {
                let fault = match fault {
                    PlacedLoadFault::OpenWire => LoadFault::OpenWire,
                    PlacedLoadFault::Stuck(at) => self.bench.load_stuck(*load, at.as_ref()),
                };
                self.bench.place_load(*load, Some(fault));
                self.happened(IncidentKind::WiringFault, |panel| {
                    let name = panel.loads().get(*load).map(|wired| &wired.load.name.value);
                    format!("{}: {}", name.map_or("", String::as_str), fault.words())
                });
                self.did(step.span, || fault.words().to_owned());
            }
            BoundKind::Clear { devices, loads } => {
                self.bench.clear(devices, loads);
                self.happened(IncidentKind::WiringCleared, |panel| {
                    let devices = devices.iter().filter_map(|device| panel.devices().get(*device));
                    let loads = loads.iter().filter_map(|load| panel.loads().get(*load));
                    let names = devices.map(|wired| wired.device.name.value.as_str());
                    let names = names.chain(loads.map(|wired| wired.load.name.value.as_str()));
                    names.collect::<Vec<_>>().join(", ")
                });
                self.did(step.span, || "the wiring is sound again".to_owned());
            }
            BoundKind::Restart(restart) => {
                self.bench.restart(*restart);
                self.happened(IncidentKind::of(*restart), |_| String::new());
                let words = match restart {
                    latchwork_vm::Restart::Warm => "the controller restarted warm",
                    latchwork_vm::Restart::Cold => "the controller restarted cold",
                };
                self.did(step.span, || words.to_owned());
            }
            BoundKind::Expect(expect) if self.followed.is_some() => self.follow(expect)?,
            BoundKind::Expect(expect) => {
                self.expect(expect, step.span)?;
                if self.carry_on {
                    self.decided.decided.insert(step.span);
                }
                self.keep_pace();
            }
            BoundKind::Rule { rule, condition, hint } => {
                self.begin_rule(*rule, *condition, hint.clone(), step.span)?;
            }
        }
        Ok(())
    }

    fn actuate(&mut self, devices: &[usize], state: bool, step: Span) {
        for device in devices {
            self.bench.actuate(*device, state);
            self.did_to_device(*device, step);
        }
    }

    fn set(&mut self, target: &SetTarget, value: &SetValue, step: Span) -> Ended {
        let value = match value {
            SetValue::Known(value) => value.clone(),
            SetValue::Probe(probe) => self.value(*probe)?,
        };
        if let Err(reason) = self.bench.set(target, value) {
            return Err(self.stop(FailureKind::ValueRefused { reason }));
        }
        self.did_set(target, step);
        Ok(())
    }

    /// Lets time pass.
    fn wait(&mut self, duration_ns: i64) -> Ended {
        let until_ns = self.bench.now_ns.saturating_add(duration_ns);
        self.run_before(until_ns)?;
        self.bench.now_ns = until_ns;
        Ok(())
    }

    /// Runs the scans that start before a time.
    pub(super) fn run_before(&mut self, until_ns: i64) -> Ended {
        while self.bench.next_ns() < until_ns {
            self.scan()?;
        }
        Ok(())
    }

    /// Runs the scan that starts now, or the next one after that, unless it was run and nothing was done since.
    pub(super) fn see(&mut self) -> Ended {
        while !self.bench.is_seen() {
            self.scan()?;
        }
        self.bench.now_ns = self.bench.last_ns();
        Ok(())
    }

    /// Runs a scan and looks at everything that holds throughout.
    pub(super) fn scan(&mut self) -> Ended {
        if let Some(kind) = self.bench.used_up() {
            return Err(self.stop(kind));
        }
        if self.followed.as_ref().is_some_and(|followed| followed.ends_at(self.bench.scans)) {
            return Err(self.here());
        }
        if let Err(kind) = self.bench.scan() {
            return Err(self.stop(kind));
        }
        if let Some(observer) = &mut self.observer {
            observer.scan(&self.bench, &mut self.conditions);
        }
        if let Some(keeper) = &mut self.keeper {
            keeper.scan(&self.bench);
        }
        self.look_at_rules()?;
        self.look_at_blocks()
    }
    pub(super) fn value(&mut self, probe: ProbeId) -> Result<Value, Box<Stop>> {
        let now_ns = self.bench.last_ns();
        let found = self.conditions.value(probe, &self.bench.machine, &self.bench.panel, now_ns);
        found.map_err(|fault| self.condition_fault(fault, Check::Condition(probe)))
    }

    pub(super) fn holds(&mut self, check: Check) -> Result<bool, Box<Stop>> {
        let now_ns = self.bench.last_ns();
        let found = self.conditions.holds(check, &self.bench.machine, &self.bench.panel, now_ns);
        found.map_err(|fault| self.condition_fault(fault, check))
    }

    pub(super) fn is_true(&mut self, probe: ProbeId, step: Span) -> Result<bool, Box<Stop>> {
        self.holds(Check::Condition(probe)).map_err(|mut stop| {
            stop.step = step;
            stop
        })
    }

    fn condition_fault(&self, fault: Box<Fault>, check: Check) -> Box<Stop> {
        let mut stop = self.stop(FailureKind::ConditionFault(fault));
        stop.check = Some((check, true));
        stop
    }

    pub(super) fn stop(&self, kind: FailureKind) -> Box<Stop> {
        let scan = self.bench.scans.checked_sub(1);
        Box::new(Stop {
            kind,
            step: self.step,
            condition: None,
            check: None,
            since_ns: self.bench.now_ns,
            time_ns: self.bench.last_ns(),
            scan,
            device: self.device,
            hint: None,
        })
    }

    /// The end of a run that goes no further.
    pub(super) fn here(&self) -> Box<Stop> {
        self.stop(FailureKind::TooLong { limit: self.bench.scans, what: "scans" })
    }

    /// What is not as expected ends the run, or is noted.
    pub(super) fn fail(&mut self, stop: Box<Stop>) -> Ended {
        if !self.carry_on {
            return Err(stop);
        }
        self.decided.unmet.insert(stop.step);
        self.first.get_or_insert(stop);
        Ok(())
    }

    /// Lets what holds throughout be: a run that has failed is only looked at.
    pub(super) fn forget_rules(&mut self) {
        self.rules.clear();
        self.blocks.clear();
    }

    fn did(&mut self, step: Span, effect: impl FnOnce() -> String) {
        if let Some(observer) = &mut self.observer {
            let time_ns = self.bench.next_ns();
            observer.did(step, time_ns, effect());
        }
    }

    fn happened(&mut self, kind: IncidentKind, text: impl FnOnce(&Panel<'_>) -> String) {
        if let Some(observer) = &mut self.observer {
            let text = text(&self.bench.panel);
            observer.happened(Incident::at(self.bench.next_ns(), kind, text));
        }
    }

    fn did_to_device(&mut self, device: usize, step: Span) {
        self.device = Some(device);
        if self.observer.is_some() {
            let effect = self.bench.effect_on_device(device);
            self.did(step, || effect);
        }
    }

    fn did_set(&mut self, target: &SetTarget, step: Span) {
        if let SetTarget::Device(device) = target {
            self.device = Some(*device);
        }
        if self.observer.is_some() {
            let effect = self.bench.effect_of_setting(target);
            self.did(step, || effect);
        }
    }
}

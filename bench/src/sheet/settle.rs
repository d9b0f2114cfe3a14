//! A board on the bench, worked by hand: how long a person looks on until nothing more happens.

use std::{ops::Range, sync::Arc};

use latchwork_vm::{Fault, Machine, NO_STATUS, SYSTEM_BYTES, TaskStatus, Value};

use super::words::SECOND_NS;
use crate::{panel::Panel, wiring_proof::observed::Board};

/// How far it is looked ahead after one act, in nanoseconds.
const LOOK_NS: i64 = 600 * SECOND_NS;

/// A board whose state has not changed for so long does not change any more; in nanoseconds.
const REST_NS: i64 = SECOND_NS;

/// Most changes of one load that are kept after one act.
const CHANGES_MAX: usize = 4_000;

/// What a scan costs besides its instructions, in instructions.
const SCAN_COST: u64 = 100;

/// What was found by looking ahead.
pub(super) struct Ahead {
    /// What the loads do, behind what they were.
    pub(super) histories: Vec<History>,
    /// The end of the time that was looked at.
    pub(super) end_ns: i64,
    /// It was looked at for less long than is wanted.
    pub(super) is_cut: bool,
}

/// What a load was, after scans: their starts in nanoseconds.
pub(super) type History = Vec<(i64, Value)>;

/// Machine and panel at a time.
#[derive(Clone)]
pub(super) struct Hand<'s> {
    machine: Machine,
    panel: Panel<'s>,
    scan_ns: i64,
    scans: u64,
}

/// Why it does not go on.
pub(super) struct Stopped {
    pub(super) fault: Box<Fault>,
    pub(super) is_plant: bool,
}

impl<'s> Hand<'s> {
    /// Switched on, before the first scan.
    pub(super) fn new(board: &Board<'s>) -> Self {
        let mut machine = Machine::new(Arc::clone(&board.program));
        let panel = Panel::new(&board.program, Some(board.station));
        panel.drive(&mut machine);
        Hand { machine, panel, scan_ns: board.scan_ns.max(1), scans: 0 }
    }

    pub(super) fn act(&mut self, device: usize, value: &Value) {
        self.panel.act(device, value, &mut self.machine);
    }

    /// The start of the next scan.
    pub(super) fn next_ns(&self) -> i64 {
        (self.scans as i64).saturating_mul(self.scan_ns)
    }

    fn scan(&mut self) -> Result<(), Stopped> {
        let now_ns = self.next_ns();
        self.machine.scan(now_ns).map_err(|fault| Stopped { fault, is_plant: false })?;
        self.scans += 1;
        Ok(())
    }

    fn go_on(&mut self) -> Result<(), Stopped> {
        let last_ns = self.next_ns().saturating_sub(self.scan_ns);
        let advanced = self.panel.advance(last_ns, self.scan_ns, &mut self.machine);
        advanced.map_err(|fault| Stopped { fault, is_plant: true })
    }

    fn keep(&self, now_ns: i64, histories: &mut [History]) -> bool {
        let mut changed = false;
        for (wired, history) in self.panel.loads().iter().zip(histories) {
            let Some(value) = wired.value(&self.machine) else { continue };
            if history.last().is_some_and(|(_, last)| *last == value) {
                continue;
            }
            changed = true;
            if history.len() < CHANGES_MAX {
                history.push((now_ns, value));
            } else if let Some(last) = history.last_mut() {
                // The last value is always the right one.
                last.1 = value;
            }
        }
        changed
    }

    /// Runs the scans of a time and adds what the loads do.
    pub(super) fn run(&mut self, time_ns: i64, histories: &mut [History]) -> Result<(), Stopped> {
        let until_ns = self.next_ns().saturating_add(time_ns);
        while self.next_ns() < until_ns {
            let now_ns = self.next_ns();
            self.scan()?;
            self.keep(now_ns, histories);
            self.go_on()?;
        }
        Ok(())
    }

    /// What running for a time costs, in instructions of the machine.
    pub(super) fn cost(&self, time_ns: i64) -> u64 {
        let scans = (time_ns / self.scan_ns).unsigned_abs() + 1;
        scans.saturating_mul(self.machine.last_instructions().saturating_add(SCAN_COST))
    }

    /// What the loads do from here on if nothing is done, behind what they were, until nothing can happen any more or it
    /// has been looked on for long. What stops it is told by the run that comes there.
    pub(super) fn look_ahead(&self, mut histories: Vec<History>, cost_most: u64) -> Ahead {
        let mut cost = 0_u64;
        let mut ahead = self.clone();
        let (rest_ns, end_ns) = (self.rest_ns(), self.next_ns().saturating_add(LOOK_NS));
        let mut mark = (Vec::new(), ahead.next_ns());
        let is_cut = loop {
            let now_ns = ahead.next_ns();
            if cost >= cost_most {
                break true;
            }
            if now_ns >= end_ns || ahead.scan().is_err() {
                break false;
            }
            cost = cost.saturating_add(ahead.cost(0));
            let changed = ahead.keep(now_ns, &mut histories);
            if ahead.go_on().is_err() {
                break false;
            }
            if changed || mark.0.is_empty() {
                mark = (ahead.state(), now_ns);
            } else if now_ns - mark.1 >= rest_ns {
                let state = ahead.state();
                if state == mark.0 {
                    break false;
                }
                mark = (state, now_ns);
            }
        };
        Ahead { histories, end_ns: ahead.next_ns(), is_cut }
    }

    /// How long nothing must have changed: also the slowest task has run several times.
    fn rest_ns(&self) -> i64 {
        let tasks = &self.machine.program().image().tasks;
        let slowest = tasks.iter().map(|task| task.interval_ns).max().unwrap_or(0);
        REST_NS.max(slowest.saturating_mul(3))
    }

    /// Everything on which depends what comes: the machines without their counts of scans and runs.
    fn state(&self) -> Vec<u8> {
        let mut bytes = Vec::new();
        for machine in [Some(&self.machine), self.panel.plant_machine()].into_iter().flatten() {
            let start = bytes.len();
            bytes.extend_from_slice(machine.data());
            let [_, rest] = machine.state().map(<[u8]>::len);
            let temporaries =
                machine.state().first().map_or(0, |first| first.len())..machine.data().len() - rest;
            let statuses =
                machine.program().image().tasks.iter().filter(|task| task.status != NO_STATUS).map(|task| {
                    let status = task.status as usize;
                    status..status.saturating_add(TaskStatus::BYTES as usize)
                });
            let system = 0..SYSTEM_BYTES as usize;
            for Range { start: from, end: to } in statuses.chain([system, temporaries]) {
                if let Some(bytes) =
                    bytes.get_mut(start + from..(start + to).min(start + machine.data().len()))
                {
                    bytes.fill(0);
                }
            }
        }
        bytes
    }
}

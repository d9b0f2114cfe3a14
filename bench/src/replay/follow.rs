//! What becomes of what a run records: it is kept, or handed on part by part while the program runs.

use std::ops::ControlFlow::{self, Break, Continue};

use latchwork_vm::{
    Machine, Program, Recorder,
    trace::{Changes, ScanRecord},
};

use super::{own::OwnSignals, rows::Plan};
use crate::{
    panel::Panel,
    recording::{ChartRecord, Row},
};

/// Most scans of a part: enough for the work on a part to be spread over many scans.
const PART_SCANS: usize = 1024;

/// A part ends with the scan that brings so many changes together.
const PART_CHANGES: u64 = 16_384;

/// Takes what a run records while the program runs.
pub trait Follower {
    /// Called once, in front of the first part: the rows of the recording, without changes.
    fn begin(&mut self, rows: &[Row]);

    /// Scans one after the other, at least one, and for each row what they changed; changes refer to these scans by index.
    /// `Break` ends the run behind them.
    fn part(&mut self, scans: &[ScanRecord], changes: &[&Changes]) -> ControlFlow<()>;
}

/// What records a run: what the machine knows, and what it does not.
pub(super) struct Recorders<'f> {
    plan: Plan,
    machine: Recorder,
    own: OwnSignals,
    follower: Option<&'f mut dyn Follower>,
    /// Number of changes that were handed on.
    handed_on: u64,
}

impl<'f> Recorders<'f> {
    pub(super) fn new(program: &Program, plan: Plan, mut follower: Option<&'f mut dyn Follower>) -> Self {
        let machine = Recorder::new(program, plan.recorded().to_vec());
        if let Some(follower) = &mut follower {
            let (rows, _) = plan.rows(machine.trace().signals.clone(), plan.own_signals());
            follower.begin(&rows);
        }
        Recorders { machine, own: plan.own_signals(), plan, follower, handed_on: 0 }
    }

    /// Records a scan; to be called after each. `Break` if the run is to end.
    pub(super) fn record(&mut self, time_ns: i64, panel: &Panel<'_>, machine: &Machine) -> ControlFlow<()> {
        // At most as many scans as a run may have.
        let scan = self.machine.len() as u32;
        self.machine.record(machine, time_ns);
        self.own.record(scan, panel, machine);
        if self.follower.is_none() || (self.machine.len() < PART_SCANS && self.kept() < PART_CHANGES) {
            return Continue(());
        }
        self.hand_on()
    }

    /// Number of changes that are kept.
    pub(super) fn kept(&self) -> u64 {
        self.machine.changes() + self.own.changes() - self.handed_on
    }

    fn hand_on(&mut self) -> ControlFlow<()> {
        let Some(follower) = &mut self.follower else { return Continue(()) };
        let trace = self.machine.trace();
        if trace.scans.is_empty() {
            return Continue(());
        }
        let done = follower.part(&trace.scans, &self.plan.changes(&trace.signals, &self.own));
        self.machine.forget();
        self.own.forget();
        self.handed_on = self.machine.changes() + self.own.changes();
        if done.is_break() { Break(()) } else { Continue(()) }
    }

    /// Hands on the rest; what is kept of the scans, the rows, and the charts.
    pub(super) fn finish(mut self) -> (Vec<ScanRecord>, Vec<Row>, Vec<ChartRecord>) {
        // The run has ended anyway.
        let _ = self.hand_on();
        let trace = self.machine.finish();
        let (rows, charts) = self.plan.rows(trace.signals, self.own);
        (trace.scans, rows, charts)
    }
}

//! Watching a run: rows for a picture, since when a condition was right, what was done last.
//!
//! Most procedures pass, and nobody asks how; so a run is watched only when its trace is wanted, or when it is run
//! again to explain a failure. Runs are exactly repeatable.

use latchwork_grammar::Span;
use latchwork_vm::{Program, Recorder};

use super::{bound::Check, clock::Bench, conditions::Conditions, outcome::Action};
use crate::{
    panel::Panel,
    recording::{Incident, Recording},
    replay::{OwnSignals, Plan, ReplayError},
};

/// What is watched.
pub(super) struct Observer {
    plan: Plan,
    recorder: Recorder,
    own: OwnSignals,
    /// Scans before this one are not recorded.
    first_scan: u64,
    tracked: Option<(Check, bool)>,
    /// The starts of the scans at which the tracked condition became right or wrong.
    turns: Vec<(i64, bool)>,
    /// The last thing that was done.
    pub(super) action: Option<Action>,
    /// When things were done, in nanoseconds, each time once.
    acted: Vec<i64>,
    incidents: Vec<Incident>,
}

impl Observer {
    /// Rows for these names, or for everything at the terminals.
    pub(super) fn new(
        program: &Program,
        panel: &Panel<'_>,
        names: Option<&[String]>,
        first_scan: u64,
        tracked: Option<(Check, bool)>,
    ) -> Result<Self, Vec<ReplayError>> {
        let plan = Plan::new(program, panel, names)?;
        Ok(Observer {
            recorder: Recorder::new(program, plan.recorded().to_vec()),
            own: plan.own_signals(),
            plan,
            first_scan,
            tracked,
            turns: Vec::new(),
            action: None,
            acted: Vec::new(),
            incidents: Vec::new(),
        })
    }

    /// To be called after each scan.
    pub(super) fn scan(&mut self, bench: &Bench<'_>, conditions: &mut Conditions<'_>) {
        let now_ns = bench.last_ns();
        if let Some((check, right)) = self.tracked {
            let found = conditions.holds(check, &bench.machine, &bench.panel, now_ns);
            // What cannot be computed is not right.
            let is_right = found.is_ok_and(|found| found == right);
            if self.turns.last().map(|turn| turn.1) != Some(is_right) {
                self.turns.push((now_ns, is_right));
            }
        }
        if bench.scans > self.first_scan {
            let Ok(index) = u32::try_from(self.recorder.len()) else { return };
            self.recorder.record(&bench.machine, now_ns);
            self.own.record(index, &bench.panel, &bench.machine);
        }
    }

    /// Notes what was done.
    pub(super) fn did(&mut self, span: Span, time_ns: i64, effect: String) {
        self.action = Some(Action { span, time_ns, effect });
        if self.acted.last() != Some(&time_ns) {
            self.acted.push(time_ns);
        }
    }

    /// Notes what happened to the controller or its wiring.
    pub(super) fn happened(&mut self, incident: Incident) {
        self.incidents.push(incident);
    }

    /// When things were done: the starts of the scans that saw them first, in nanoseconds.
    pub(super) fn acted(&self) -> Vec<i64> {
        self.acted.clone()
    }

    /// The start of the last scan up to a time after which the tracked condition was right.
    pub(super) fn last_right(&self, until_ns: i64, scan_ns: i64) -> Option<i64> {
        let before = self.turns.partition_point(|turn| turn.0 <= until_ns);
        match self.turns.get(..before)? {
            [.., (_, true)] => Some(until_ns),
            [.., (_, true), (wrong_ns, false)] => Some(wrong_ns - scan_ns),
            _ => None,
        }
    }

    /// The start of the first scan after a time after which the tracked condition was right.
    pub(super) fn came_right(&self, after_ns: i64) -> Option<i64> {
        self.turns.iter().find(|turn| turn.0 > after_ns && turn.1).map(|turn| turn.0)
    }

    /// What was recorded.
    pub(super) fn recording(self, title: String, source: String, scan_ns: i64) -> Recording {
        let trace = self.recorder.finish();
        let end_ns = trace.scans.last().map_or(0, |scan| scan.time_ns.saturating_add(scan_ns));
        let (rows, charts) = self.plan.rows(trace.signals, self.own);
        let incidents = self.incidents;
        Recording { title, source, scan_ns, end_ns, scans: trace.scans, rows, charts, incidents }
    }
}

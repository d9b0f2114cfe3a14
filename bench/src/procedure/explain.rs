//! A failed procedure run once more, watched: the parts of the condition, since when it was wrong, and the rows for a
//! picture.

use std::collections::BTreeSet;

use latchwork_vm::Program;

use super::{
    bound::{BoundStep, Check, ProbeId},
    conditions::Probes,
    observation::Observer,
    outcome::{Failure, FailureKind, Part},
    pace::PaceKeeper,
    run::{Run, Stop},
};
use crate::{account::Accountant, panel::Panel};

/// Scans recorded before the step began to look, and at least after it failed.
const SCANS_BEFORE: i64 = 2_000;
const SCANS_AFTER: u64 = 20;

/// Most scans up to a failure of whose run an account is kept.
const SCANS_ACCOUNTED: u64 = 100_000;

/// Longest time for which a run goes on to see whether the condition comes right, in scans.
const SCANS_LOOKED_AHEAD: u64 = 5_000;

/// What can be told of a failure before the procedure is run again.
pub(super) struct Failed<'a> {
    pub(super) stop: &'a Stop,
    pub(super) probes: &'a Probes,
    /// Rows asked for in the file.
    pub(super) record: Option<&'a [String]>,
    /// Of the procedure.
    pub(super) hint: Option<&'a str>,
    pub(super) source: &'a str,
    pub(super) title: &'a str,
    pub(super) scan_ns: i64,
}

impl Failed<'_> {
    /// Whether the run is short enough for an account.
    pub(super) fn may_be_accounted(&self) -> bool {
        self.stop.scan.unwrap_or(0) < SCANS_ACCOUNTED
    }

    /// An observer for the second run. Of one of which account is kept it records everything, so that both count the same
    /// scans.
    pub(super) fn observer(&self, program: &Program, panel: &Panel<'_>, accounted: bool) -> Option<Observer> {
        let rows = self.rows(program, panel);
        let begin_ns = match self.stop.kind {
            FailureKind::Response { triggered_ns, .. } => triggered_ns,
            _ => self.stop.since_ns,
        };
        let first = match accounted {
            true => 0,
            false => (begin_ns.min(self.stop.time_ns) / self.scan_ns - SCANS_BEFORE).max(0),
        };
        // No single moment meets a count, and nobody asks when something came right that came too early.
        let tracked = self.stop.check.filter(|(check, _)| {
            !matches!(check, Check::Edges { .. })
                && !matches!(self.stop.kind, FailureKind::TooEarly { .. } | FailureKind::ConditionFault(_))
        });
        let observer = |rows: Option<&[String]>| {
            Observer::new(program, panel, rows, u64::try_from(first).unwrap_or(0), tracked).ok()
        };
        // Something that is mentioned and cannot be drawn is no reason for no picture.
        rows.as_deref().and_then(|rows| observer(Some(rows))).or_else(|| observer(None))
    }

    /// The rows: as asked for, else the device that was acted on last with its terminal, and what the condition
    /// mentions.
    fn rows(&self, program: &Program, panel: &Panel<'_>) -> Option<Vec<String>> {
        if let Some(record) = self.record {
            return Some(record.to_vec());
        }
        let (check, _) = self.stop.check?;
        let mut rows: Vec<String> = Vec::new();
        if let Some(wired) = self.stop.device.and_then(|device| panel.devices().get(device)) {
            let terminal =
                wired.variable.as_ref().map_or(&wired.device.terminal.text, |variable| &variable.name);
            rows.extend([wired.device.name.value.clone(), terminal.clone()]);
        }
        for probe in probes_of(check) {
            rows.extend(self.probes.mentioned(probe).map(str::to_owned));
        }
        let mut seen = BTreeSet::new();
        let place = |row: &String| match program.resolve(row) {
            Ok(variable) => variable.name.to_ascii_uppercase(),
            Err(_) => row.to_ascii_uppercase(),
        };
        rows.retain(|row| seen.insert(place(row)));
        (!rows.is_empty()).then_some(rows)
    }

    /// Runs the procedure again up to the failure and a little further.
    pub(super) fn examine(
        &self,
        mut run: Run<'_, '_>,
        prepare: &[BoundStep],
        steps: &[BoundStep],
    ) -> Failure {
        // It ends where it ended before.
        run.pace_keeper = Some(PaceKeeper::default());
        let _ = run.run(prepare, steps);
        let (keeper, failed) = (run.pace_keeper.take(), run.bench.scans);
        let parts = self.parts(&mut run);
        if !matches!(
            self.stop.kind,
            FailureKind::Fault(_) | FailureKind::PlantFault(_) | FailureKind::TooLong { .. }
        ) {
            self.look_ahead(&mut run);
        }
        let pace = keeper.and_then(|keeper| keeper.finish(failed, run.bench.scans));
        let account = run.bench.accountant.take().map(Accountant::finish);
        let observer = run.observer.take();
        let failed_ns = self.stop.time_ns;
        let (last_right_ns, came_right_ns, action) = match &observer {
            Some(observer) => (
                observer.last_right(failed_ns, self.scan_ns),
                observer.came_right(failed_ns),
                observer.action.clone(),
            ),
            None => (None, None, None),
        };
        let empty = || crate::recording::Recording {
            title: self.title.to_owned(),
            source: self.source.to_owned(),
            scan_ns: self.scan_ns,
            end_ns: 0,
            ..crate::recording::Recording::default()
        };
        Failure {
            kind: self.stop.kind.clone(),
            step: self.stop.step,
            condition: self.stop.condition,
            time_ns: failed_ns,
            scan: self.stop.scan,
            since_ns: self.stop.since_ns,
            parts,
            last_right_ns,
            came_right_ns,
            action,
            recording: observer.map_or_else(empty, |observer| {
                observer.recording(self.title.to_owned(), self.source.to_owned(), self.scan_ns)
            }),
            pace,
            account,
            hint: self.stop.hint.clone().or_else(|| self.hint.map(str::to_owned)),
        }
    }

    fn parts(&self, run: &mut Run<'_, '_>) -> Vec<Part> {
        let Some((check, _)) = self.stop.check else { return Vec::new() };
        let now_ns = run.bench.last_ns();
        let mut parts = Vec::new();
        for probe in probes_of(check) {
            parts.extend(run.conditions.parts(probe, &run.bench.machine, &run.bench.panel, now_ns));
        }
        parts
    }

    /// Lets the run go on until the condition is right, or long enough for a picture.
    fn look_ahead(&self, run: &mut Run<'_, '_>) {
        run.forget_rules();
        let looked = match &self.stop.kind {
            FailureKind::Within { .. }
            | FailureKind::TooLate { .. }
            | FailureKind::Response { stay_ns: None, .. } => SCANS_LOOKED_AHEAD,
            _ => SCANS_AFTER,
        };
        let failed_at = run.bench.scans;
        let mut after_right = None;
        while run.bench.scans - failed_at < looked {
            if run.scan().is_err() {
                return;
            }
            if after_right.is_none() {
                let came = run.observer.as_ref().and_then(|observer| observer.came_right(self.stop.time_ns));
                let gone = run.bench.scans - failed_at;
                after_right = came.map(|_| (gone / 8).max(SCANS_AFTER / 4));
            } else if let Some(left) = &mut after_right {
                *left -= 1;
                if *left == 0 {
                    return;
                }
            }
        }
    }
}

fn probes_of(check: Check) -> Vec<ProbeId> {
    match check {
        Check::Condition(probe) => vec![probe],
        Check::Near { value, target, tolerance } => vec![value, target, tolerance],
        Check::Edges { of, .. } => vec![of],
    }
}

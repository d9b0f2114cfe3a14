//! The run without a fault, and what is found in it.

use latchwork_grammar::{Diagnostic, Span};

use super::{
    stop::{self, Acts, Move, Stop},
    timeline::{Timeline, names},
};
use crate::{
    procedure::{InitialFault, LaterFault, Outcome, RunOptions, Script, Verdict},
    station::Station,
};

/// One procedure on one program, to be run with faults.
pub(super) struct Runner<'r, 's> {
    pub(super) script: &'r Script<'s>,
    pub(super) index: usize,
    pub(super) station: &'s Station,
}

/// The run without a fault.
#[derive(Debug)]
pub struct SoundRun {
    pub(super) timeline: Timeline,
    pub(super) acts: Acts,
    /// The step at which the procedure fails without any fault, and when.
    pub failed: Option<(Span, i64)>,
    /// Scans of the run.
    pub scans: u64,
}

impl SoundRun {
    /// The stops found in it.
    pub fn stops(&self) -> &[Stop] {
        &self.acts.stops
    }

    /// The acts that start a load: device, what is done to it, load.
    pub fn starts(&self) -> &[(usize, Move, usize)] {
        &self.acts.starts
    }

    /// Whether a load runs at any time.
    pub fn runs(&self, station: &Station, load: usize) -> bool {
        self.timeline.load(load).iter().any(|change| super::effect::runs(station, load, &change.value))
    }
}

/// Runs a procedure of a script, by its number, without a fault; and some more times to find out what stops what.
///
/// # Errors
/// What is wrong with the procedure.
pub fn sound<'s>(
    script: &Script<'s>,
    index: usize,
    station: &'s Station,
) -> Result<SoundRun, Vec<Diagnostic>> {
    let runner = Runner { script, index, station };
    let outcome = runner.run(Vec::new(), Vec::new());
    let failed = match &outcome.verdict {
        Verdict::Passed => None,
        Verdict::Failed(failure) => Some((failure.step, failure.time_ns)),
        Verdict::Refused(problems) => return Err(problems.clone()),
    };
    let scans = outcome.scans;
    let Some(recording) = outcome.compared else { return Err(Vec::new()) };
    let timeline = Timeline::new(recording, &outcome.acted_ns, station);
    let acts = stop::find(&runner, &timeline);
    Ok(SoundRun { timeline, acts, failed, scans })
}

impl Runner<'_, '_> {
    /// Runs it to its end, whatever is not as expected.
    pub(super) fn run(&self, faults: Vec<InitialFault>, later: Vec<LaterFault>) -> Outcome {
        let record = Some(names(self.station));
        self.script.run(
            self.index,
            &RunOptions { faults, later, carry_on: true, brief: true, record, ..RunOptions::default() },
        )
    }

    pub(super) fn timeline(&self, faults: Vec<InitialFault>, later: Vec<LaterFault>) -> Option<Timeline> {
        let outcome = self.run(faults, later);
        Some(Timeline::new(outcome.compared?, &outcome.acted_ns, self.station))
    }
}

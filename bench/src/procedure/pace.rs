//! The pace of a run, so that another program can be taken through the same procedure at the same pace.
//!
//! An expectation takes the time until what is expected comes, and the steps behind it wait for that. Two programs are
//! therefore seldom at the same step at the same time. A run that follows a pace goes on where the other one did, not earlier:
//! what is done to the panel is done in the same scans, up to the scan in which the other run failed. From there on nothing
//! is done in either, and both are only looked at.

use std::sync::Arc;

use super::{
    bound::{BoundExpect, BoundTime},
    run::{Ended, Run},
};

/// Most expectations of which the pace is kept; a run with more has none.
const EXPECTATIONS_MAX: usize = 100_000;

/// How far a run was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Reached {
    /// Scans that were run.
    scans: u64,
    /// The time of the procedure, in nanoseconds from the start of the run.
    now_ns: i64,
}

/// The pace of a run that failed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pace {
    /// How far it was behind each expectation, in the order in which they were met.
    met: Vec<Reached>,
    /// Scans up to the failure.
    failed: u64,
    /// Scans at the end, some of them only to look on.
    ended: u64,
}

/// What a run keeps for its pace.
#[derive(Clone, Debug, Default)]
pub(super) struct PaceKeeper {
    met: Vec<Reached>,
    is_full: bool,
}

impl PaceKeeper {
    /// To be called behind each expectation.
    fn met(&mut self, reached: Reached) {
        match self.met.len() < EXPECTATIONS_MAX {
            true => self.met.push(reached),
            false => self.is_full = true,
        }
    }

    /// The pace of a run that failed and ended after so many scans; `None` if it was too long for one.
    pub(super) fn finish(self, failed: u64, ended: u64) -> Option<Pace> {
        (!self.is_full).then_some(Pace { met: self.met, failed, ended })
    }
}

/// A pace that is followed.
#[derive(Clone, Debug)]
pub(super) struct Followed {
    pace: Arc<Pace>,
    /// Expectations so far.
    met: usize,
    /// Nothing is done any more.
    is_over: bool,
}

impl Followed {
    pub(super) fn new(pace: Arc<Pace>) -> Self {
        Followed { pace, met: 0, is_over: false }
    }

    /// Whether a run that has made so many scans is where the other one failed.
    pub(super) fn ends_at(&self, scans: u64) -> bool {
        !self.is_over && scans >= self.pace.failed
    }
}

impl Run<'_, '_> {
    /// Behind an expectation: notes how far the run is.
    pub(super) fn keep_pace(&mut self) {
        if let Some(keeper) = &mut self.pace_keeper {
            keeper.met(Reached { scans: self.bench.scans, now_ns: self.bench.now_ns });
        }
    }

    /// In place of an expectation: goes on as far as the other run was behind it. What this run does is nobody's concern.
    pub(super) fn follow(&mut self, expect: &BoundExpect) -> Ended {
        if let BoundTime::While(steps) = &expect.when {
            self.steps(steps)?;
        }
        let Some(followed) = &mut self.followed else { return Ok(()) };
        let next = followed.pace.met.get(followed.met).copied();
        followed.met += 1;
        let scans = next.map_or(followed.pace.failed, |reached| reached.scans);
        while self.bench.scans < scans {
            self.scan()?;
        }
        match next {
            Some(reached) => {
                self.bench.now_ns = self.bench.now_ns.max(reached.now_ns);
                Ok(())
            }
            // The other run failed here, so that it never came to the next step.
            None => Err(self.here()),
        }
    }

    /// Behind the scan in which the other run failed: looks on as long as that one did.
    pub(super) fn look_on(&mut self) {
        let Some(followed) = &mut self.followed else { return };
        followed.is_over = true;
        let ended = followed.pace.ended;
        self.forget_rules();
        while self.bench.scans < ended && self.scan().is_ok() {}
    }
}

//! The course of a run: which step was done when, and what every load did, for a person who does the same by hand.
//!
//! A hand is slower than a script. So a course is kept of a run in which a given time passes at least between two things
//! that are done, and before each of them it is found out how long a person may take: when a load would change by
//! itself, if nothing more were done.
//!
//! Its size has limits, whatever the procedure; a course that was cut says so.

use latchwork_grammar::Span;
use latchwork_vm::Value;

use super::{
    bound::{BoundKind, BoundStep},
    clock::Bench,
    run::{Ended, Run},
};

/// Most steps kept.
pub const ENTRIES_MAX: usize = 5_000;

/// Most changes kept of all loads together.
pub const CHANGES_MAX: usize = 200_000;

/// How far it is looked ahead for what happens by itself, in nanoseconds.
pub const AHEAD_NS: i64 = 20_000_000_000;

/// How long the last thing that is done is looked at, in nanoseconds.
pub const LAST_NS: i64 = 2_000_000_000;

/// Most scans of all looks ahead.
const AHEAD_SCANS_MAX: u64 = 2_000_000;

/// What was done in a run, and what came of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Course {
    /// The steps in the order in which they were begun; of blocks that only do something, the block alone.
    pub entries: Vec<Entry>,
    /// For each load of the station its values from the start: the start of the scan in nanoseconds, and the value after it.
    pub loads: Vec<Vec<(i64, Value)>>,
    /// Moments in front of a thing that is done, and the last one of the run: when a load changes next if nothing is done.
    pub ahead: Vec<Ahead>,
    /// The end of the run, in nanoseconds.
    pub end_ns: i64,
    /// Not everything was kept.
    pub is_cut: bool,
}

/// A step that was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Its place.
    pub step: Span,
    /// How many other entries it is inside of.
    pub depth: u32,
    /// The start of the first scan that sees it, in nanoseconds.
    pub from_ns: i64,
    /// The start of the first scan behind it.
    pub until_ns: i64,
}

/// How long nothing happens by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ahead {
    /// The moment, in nanoseconds.
    pub at_ns: i64,
    /// How much later a load changes; `None` if none does for [`AHEAD_NS`].
    pub change_ns: Option<i64>,
}

/// Keeps a course.
pub(super) struct Keeper {
    course: Course,
    pace_ns: i64,
    /// When the last thing was done.
    done_ns: i64,
    depth: u32,
    /// Inside of a block that is one entry: its depth.
    within: Option<u32>,
    /// The entries that are not at their end, by number.
    open: Vec<usize>,
    changes: usize,
    ahead_scans: u64,
}

impl Keeper {
    pub(super) fn new(pace_ns: i64, bench: &Bench<'_>) -> Self {
        let loads = vec![Vec::new(); bench.panel.loads().len()];
        Keeper {
            course: Course { loads, ..Course::default() },
            pace_ns,
            done_ns: 0,
            depth: 0,
            within: None,
            open: Vec::new(),
            changes: 0,
            ahead_scans: AHEAD_SCANS_MAX,
        }
    }

    /// To be called after each scan.
    pub(super) fn scan(&mut self, bench: &Bench<'_>) {
        let now_ns = bench.last_ns();
        for (wired, history) in bench.panel.loads().iter().zip(&mut self.course.loads) {
            let Some(value) = wired.value(&bench.machine) else { continue };
            if history.last().is_some_and(|(_, last)| *last == value) {
                continue;
            }
            if self.changes >= CHANGES_MAX {
                self.course.is_cut = true;
                // The last value is always the right one.
                if let Some(last) = history.last_mut() {
                    last.1 = value;
                }
                continue;
            }
            self.changes += 1;
            history.push((now_ns, value));
        }
        self.course.end_ns = bench.next_ns();
    }

    pub(super) fn finish(mut self) -> Course {
        // A run that was stopped in the middle of a step ends it there.
        for entry in std::mem::take(&mut self.open) {
            if let Some(entry) = self.course.entries.get_mut(entry) {
                entry.until_ns = self.course.end_ns;
            }
        }
        self.course
    }

    /// Looks when a load changes if nothing is done.
    fn look_ahead(&mut self, bench: &Bench<'_>) {
        let at_ns = bench.next_ns();
        let known = self.course.ahead.last().is_some_and(|last| last.at_ns == at_ns);
        if known || self.course.ahead.len() >= ENTRIES_MAX {
            return;
        }
        let mut ahead = bench.ahead();
        let values = |bench: &Bench<'_>| -> Vec<Option<Value>> {
            bench.panel.loads().iter().map(|wired| wired.value(&bench.machine)).collect()
        };
        let before = values(&ahead);
        let mut change_ns = None;
        while self.ahead_scans > 0 && ahead.next_ns() < at_ns.saturating_add(AHEAD_NS) && !ahead.is_halted() {
            self.ahead_scans -= 1;
            // What stops it is told when the run comes there.
            if ahead.scan().is_err() {
                break;
            }
            if values(&ahead) != before {
                change_ns = Some(ahead.last_ns().saturating_sub(at_ns));
                break;
            }
        }
        self.course.ahead.push(Ahead { at_ns, change_ns });
    }

    fn begin(&mut self, step: Span, from_ns: i64, is_one: bool) {
        if self.within.is_none() {
            if self.course.entries.len() < ENTRIES_MAX {
                self.open.push(self.course.entries.len());
                self.course.entries.push(Entry { step, depth: self.depth, from_ns, until_ns: from_ns });
            } else {
                self.course.is_cut = true;
                self.open.push(usize::MAX);
            }
            if is_one {
                self.within = Some(self.depth);
            }
        }
        self.depth += 1;
    }
}

impl Run<'_, '_> {
    /// Notes that a step begins, after what is due before it.
    pub(super) fn keep_begin(&mut self, step: &BoundStep) -> Ended {
        let Some(keeper) = &self.keeper else { return Ok(()) };
        let is_one = is_one(&step.kind);
        let pace_ns = keeper.pace_ns;
        if keeper.within.is_none() && (does(&step.kind) || is_one) {
            self.take_time(pace_ns)?;
        }
        let from_ns = self.bench.next_ns();
        if let Some(keeper) = &mut self.keeper {
            keeper.begin(step.span, from_ns, is_one);
        }
        Ok(())
    }

    /// Notes that a step is done.
    pub(super) fn keep_done(&mut self, step: &BoundStep) {
        let until_ns = self.bench.next_ns();
        let Some(keeper) = &mut self.keeper else { return };
        keeper.depth -= 1;
        if keeper.within == Some(keeper.depth) {
            keeper.within = None;
        }
        if keeper.within.is_none() {
            let entry = keeper.open.pop().and_then(|entry| keeper.course.entries.get_mut(entry));
            if let Some(entry) = entry {
                entry.until_ns = until_ns;
            }
        }
        if does(&step.kind) {
            keeper.done_ns = until_ns;
        }
    }

    /// The end of the run: the last thing that was done is looked at for a while.
    pub(super) fn keep_end(&mut self) -> Ended {
        if self.keeper.is_some() { self.take_time(LAST_NS) } else { Ok(()) }
    }

    /// Lets the time pass that a hand takes, and looks what would come by itself.
    fn take_time(&mut self, pace_ns: i64) -> Ended {
        let Some(keeper) = &self.keeper else { return Ok(()) };
        let due_ns = keeper.done_ns.saturating_add(pace_ns);
        if self.bench.next_ns() < due_ns {
            self.run_before(due_ns)?;
            self.bench.now_ns = self.bench.now_ns.max(due_ns);
        }
        if let Some(keeper) = &mut self.keeper {
            keeper.look_ahead(&self.bench);
        }
        Ok(())
    }
}

/// Whether a step does something to the panel, the program or the wiring.
fn does(kind: &BoundKind) -> bool {
    match kind {
        BoundKind::Press { .. }
        | BoundKind::Release(_)
        | BoundKind::Set { .. }
        | BoundKind::Ramp { .. }
        | BoundKind::PlaceDevice { .. }
        | BoundKind::PlaceLoad { .. }
        | BoundKind::Clear { .. }
        | BoundKind::Restart(_) => true,
        BoundKind::Wait(_)
        | BoundKind::At(_)
        | BoundKind::Repeat { .. }
        | BoundKind::Expect(_)
        | BoundKind::Rule { .. } => false,
    }
}

/// Whether a step is a block in which something is done and nothing is looked at: a person does it in one go.
fn is_one(kind: &BoundKind) -> bool {
    let BoundKind::Repeat { steps, .. } = kind else { return false };
    steps.iter().all(|step| does(&step.kind) || matches!(step.kind, BoundKind::Wait(_)) || is_one(&step.kind))
}

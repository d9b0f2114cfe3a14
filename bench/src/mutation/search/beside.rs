//! Two programs beside each other on one panel, scan by scan.

use std::{rc::Rc, sync::Arc};

use latchwork_vm::{Program, Resolved, Value};

use crate::{
    panel::Panel,
    procedure::{Act, Acting, RunOptions, Script},
    station::LoadForm,
    terminals::{Direction, direction},
};

/// Which part of its range an analog load must differ by so that a person sees it.
const SEEN_PART: f64 = 0.005;

/// Instructions of both programs that count for a scan more.
const COUNTED_INSTRUCTIONS: u64 = 10_000;

/// Bytes of data that, when they are compared after a scan, count for a scan more.
const COMPARED_BYTES: u64 = 100_000;

/// Bytes of data that, when they are copied, count for a scan.
const COPIED_BYTES: u64 = 10_000;

/// Scans for which it is looked how long a difference lasts.
const LASTING_SCANS: usize = 500;

/// Most outputs that are compared.
const OUTPUTS_MAX: usize = 1_000;

/// The reference and the program with a fault.
pub(super) struct Beside<'s> {
    pub(super) reference: Acting<'s>,
    pub(super) mutant: Acting<'s>,
    outputs: Rc<Vec<Output>>,
    /// The variables of both lie at the same places.
    pub(super) comparable: bool,
    /// Instructions that a scan may take.
    budget: u64,
    /// Their variables have come to differ.
    pub(super) parted: bool,
    /// Their outputs have come to differ, although no load does: when, and which.
    pub(super) terminal: Option<Difference>,
}

/// An output of both programs.
struct Output {
    path: String,
    reference: Resolved,
    mutant: Resolved,
}

/// Where two runs come to differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Difference {
    /// The start of the scan, in nanoseconds from the start of the run.
    pub(super) at_ns: i64,
    /// What differs after it.
    pub(super) what: What,
}

/// What differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    /// A load, by its number on the panel.
    Load(usize),
    /// An output, by its number.
    Output(usize),
    /// The program with the fault has stopped.
    Stopped,
}

/// How two programs came through some time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Came {
    /// They did the same.
    Alike,
    /// A load differs, or one of them stopped.
    Apart(Difference),
    /// The reference stopped, something could not be done, or there are no scans left.
    Over,
}

impl<'s> Beside<'s> {
    /// Behind what prepares the procedures; `None` if one of them does not come through that.
    pub(super) fn new(
        reference: &Script<'s>,
        mutant: &Script<'s>,
        options: &RunOptions,
    ) -> Option<Beside<'s>> {
        let (one, other) = (reference.program(), mutant.program());
        let same = |one: &Arc<Program>, other: &Arc<Program>| {
            let (one, other) = (one.image(), other.image());
            one.layout == other.layout
                && one.debug.roots == other.debug.roots
                && one.debug.types == other.debug.types
        };
        Some(Beside {
            comparable: same(one, other),
            budget: options.budget.scan_instructions,
            outputs: Rc::new(outputs(one, other)),
            reference: reference.acting(options)?,
            mutant: mutant.acting(options)?,
            parted: false,
            terminal: None,
        })
    }

    /// Both in the same state once more.
    pub(super) fn ahead(&self) -> Beside<'s> {
        Beside {
            reference: self.reference.ahead(),
            mutant: self.mutant.ahead(),
            outputs: Rc::clone(&self.outputs),
            ..*self
        }
    }

    /// Does something on both; each scan takes one of those that are left.
    pub(super) fn act(&mut self, act: &Act, left: &mut u64) -> Came {
        let Act::Wait(duration_ns) = act else {
            let done = self.reference.act(act) & self.mutant.act(act);
            return if done { Came::Alike } else { Came::Over };
        };
        let until_ns = self.reference.now_ns().saturating_add(*duration_ns);
        while self.reference.next_ns() < until_ns {
            if *left == 0 {
                return Came::Over;
            }
            let came = self.scan();
            *left = left.saturating_sub(self.cost(&came));
            if came != Came::Alike {
                return came;
            }
        }
        self.reference.set_now(until_ns);
        self.mutant.set_now(until_ns);
        Came::Alike
    }

    /// How many scans a scan counts for: long ones for several.
    fn cost(&self, came: &Came) -> u64 {
        let stopped = matches!(came, Came::Over | Came::Apart(Difference { what: What::Stopped, .. }));
        let of_mutant = if stopped { self.budget } else { self.mutant.machine().last_instructions() };
        let both = self.reference.machine().last_instructions().saturating_add(of_mutant);
        let bytes = self.reference.machine().data().len() as u64;
        1 + both / COUNTED_INSTRUCTIONS + bytes / COMPARED_BYTES
    }

    /// How many scans a second pair counts for: large data are copied.
    pub(super) fn cost_ahead(&self) -> u64 {
        1 + self.reference.machine().data().len() as u64 / COPIED_BYTES
    }

    fn scan(&mut self) -> Came {
        if self.reference.scan().is_err() {
            return Came::Over;
        }
        let at_ns = self.reference.last_ns();
        if self.mutant.scan().is_err() {
            return Came::Apart(Difference { at_ns, what: What::Stopped });
        }
        if self.comparable && !self.parted {
            self.parted = self.reference.machine().state() != self.mutant.machine().state();
            if !self.parted {
                return Came::Alike;
            }
        }
        let count = self.reference.panel().loads().len();
        if let Some(load) = (0..count).find(|load| self.is_seen(*load)) {
            return Came::Apart(Difference { at_ns, what: What::Load(load) });
        }
        if self.terminal.is_none() {
            let differs = |output: &Output| {
                self.reference.machine().read(&output.reference) != self.mutant.machine().read(&output.mutant)
            };
            let output = self.outputs.iter().position(differs);
            self.terminal = output.map(|output| Difference { at_ns, what: What::Output(output) });
        }
        Came::Alike
    }

    /// Whether a person sees that a load differs.
    fn is_seen(&self, load: usize) -> bool {
        let (one, other) = self.load(load);
        let Some(wired) = self.reference.panel().loads().get(load) else { return false };
        match (&wired.load.form, one, other) {
            (LoadForm::Analog { scaling, .. }, Some(Value::Lreal(one)), Some(Value::Lreal(other))) => {
                let (low, high) = scaling.range;
                (one - other).abs() > (high - low) * SEEN_PART
            }
            (_, one, other) => one != other,
        }
    }

    /// What a load does with the reference, and with the fault.
    pub(super) fn load(&self, load: usize) -> (Option<Value>, Option<Value>) {
        let value =
            |side: &Acting<'_>| side.panel().loads().get(load).and_then(|wired| wired.value(side.machine()));
        (value(&self.reference), value(&self.mutant))
    }

    /// How long something goes on differing if nothing more is done, in nanoseconds from the scan in which it came;
    /// `None` if it still does after [`LASTING_SCANS`], or if one of the programs stops.
    pub(super) fn lasting_ns(&self, difference: Difference) -> Option<i64> {
        let mut both = self.ahead();
        for _ in 0..LASTING_SCANS {
            if both.reference.scan().is_err() || both.mutant.scan().is_err() {
                return None;
            }
            let differs = match difference.what {
                What::Load(load) => both.is_seen(load),
                What::Output(output) => both.output(output).is_some_and(|(_, one, other)| one != other),
                What::Stopped => return None,
            };
            if !differs {
                return Some(both.reference.last_ns().saturating_sub(difference.at_ns));
            }
        }
        None
    }

    /// An output by its number: its name, its value with the reference, and with the fault.
    pub(super) fn output(&self, output: usize) -> Option<(&str, Value, Value)> {
        let Output { path, reference, mutant } = self.outputs.get(output)?;
        Some((path, self.reference.machine().read(reference), self.mutant.machine().read(mutant)))
    }

    /// The number of the first output, if there is one.
    pub(super) fn first_output(&self) -> Option<usize> {
        (!self.outputs.is_empty()).then_some(0)
    }

    /// The panel of the reference.
    pub(super) fn panel(&self) -> &Panel<'s> {
        self.reference.panel()
    }
}

/// The outputs that both programs have by one name.
fn outputs(one: &Program, other: &Program) -> Vec<Output> {
    let outputs = one.variables().filter(|output| direction(one, output) == Direction::Output);
    let pairs = outputs.filter_map(|reference| {
        let path = reference.location.clone().unwrap_or_else(|| reference.name.clone());
        let mutant = other.resolve(&path).ok()?;
        Some(Output { path, reference, mutant })
    });
    pairs.take(OUTPUTS_MAX).collect()
}

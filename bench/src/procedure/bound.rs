//! A procedure whose names are known and whose conditions have numbers: what the run goes through.

use latchwork_grammar::{
    Span,
    steps::tree::{Bound, EdgeWord},
};
use latchwork_vm::{Resolved, Restart, Value};

use crate::wiring::WiringFault;

/// A condition or value by its number among the probes of a procedure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct ProbeId(pub(super) usize);

/// A step of a procedure.
#[derive(Clone, Debug)]
pub(super) struct BoundStep {
    pub(super) kind: BoundKind,
    pub(super) span: Span,
}

/// What can be set.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum SetTarget {
    /// A device, by its number on the panel.
    Device(usize),
    /// An input or another variable; the level of an input outlives a restart.
    Variable { variable: Resolved, input: bool },
    /// A variable of the plant.
    Plant(Resolved),
}

/// A value to be set.
#[derive(Clone, Debug)]
pub(super) enum SetValue {
    /// Known beforehand.
    Known(Value),
    /// Computed when its time has come.
    Probe(ProbeId),
}

/// The statements.
#[derive(Clone, Debug)]
pub(super) enum BoundKind {
    /// Two-state devices take a state; after so long the other one again.
    Press {
        devices: Vec<usize>,
        hold_ns: Option<i64>,
    },
    Release(Vec<usize>),
    Set {
        target: SetTarget,
        value: SetValue,
    },
    Ramp {
        target: SetTarget,
        value: ProbeId,
        over_ns: i64,
    },
    Wait(i64),
    At(i64),
    Repeat {
        times: u64,
        steps: Vec<BoundStep>,
    },
    PlaceDevice {
        device: usize,
        fault: WiringFault,
        stuck_at: Option<Value>,
    },
    PlaceLoad {
        load: usize,
        fault: PlacedLoadFault,
    },
    /// No devices and loads: every fault.
    Clear {
        devices: Vec<usize>,
        loads: Vec<usize>,
    },
    Restart(Restart),
    Expect(BoundExpect),
    Rule {
        rule: BoundRule,
        condition: Span,
        hint: Option<String>,
    },
}

/// A fault placed on a load.
#[derive(Clone, Debug)]
pub(super) enum PlacedLoadFault {
    OpenWire,
    /// Where it is now, if nothing is said.
    Stuck(Option<Value>),
}

/// An expectation.
#[derive(Clone, Debug)]
pub(super) struct BoundExpect {
    pub(super) check: Check,
    pub(super) when: BoundTime,
    pub(super) hint: Option<String>,
    /// What is underlined.
    pub(super) condition: Span,
}

/// What an expectation looks at.
#[derive(Clone, Copy, Debug)]
pub(super) enum Check {
    /// A condition is TRUE.
    Condition(ProbeId),
    /// Two values are not further apart than a third.
    Near { value: ProbeId, target: ProbeId, tolerance: ProbeId },
    /// A number of edges.
    Edges { bound: Bound, count: u64, edge: EdgeWord, of: ProbeId },
}

/// When, in nanoseconds.
#[derive(Clone, Debug)]
pub(super) enum BoundTime {
    Now,
    Within(i64),
    For(i64),
    WithinFor(i64, i64),
    Between(i64, i64),
    While(Vec<BoundStep>),
}

/// What holds throughout.
#[derive(Clone, Copy, Debug)]
pub(super) enum BoundRule {
    Always(ProbeId),
    Never(ProbeId),
    Whenever { trigger: ProbeId, response: ProbeId, when: BoundResponse },
}

/// When a response must be there, in nanoseconds.
#[derive(Clone, Copy, Debug)]
pub(super) enum BoundResponse {
    AtOnce,
    Within(i64),
    For(i64),
}

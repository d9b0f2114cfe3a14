//! Recording what the machine does not know: what is done to devices, what terminals read that the program does not
//! look at, what loads do, and what the plant keeps for itself.

use latchwork_vm::{Change, Machine, Resolved, Section, Signal, SignalKind};

use crate::panel::{Panel, WiredDevice};

/// A row recorded here.
#[derive(Clone)]
pub(crate) struct OwnRow {
    pub(crate) name: String,
    pub(crate) location: Option<String>,
    pub(crate) kind: SignalKind,
    pub(crate) watched: Watched,
}

#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Watched {
    /// What is done to a device.
    Device(usize),
    /// What its terminal reads.
    Terminal(usize),
    /// What a load does.
    Load(usize),
    /// A variable of the plant, by its index in [`OwnSignals::plant`].
    Plant(usize),
}

/// Signals recorded here.
pub(crate) struct OwnSignals {
    rows: Vec<(Watched, Signal)>,
    plant: Vec<Resolved>,
    changes: u64,
}

impl OwnSignals {
    /// The signals of these rows, empty; `plant` are the variables of the plant among them.
    pub(crate) fn new(rows: &[OwnRow], plant: Vec<Resolved>) -> Self {
        let signal = |row: &OwnRow| Signal {
            name: row.name.clone(),
            kind: row.kind,
            location: row.location.clone(),
            section: Section::Local,
            changes: Vec::new(),
        };
        OwnSignals { rows: rows.iter().map(|row| (row.watched, signal(row))).collect(), plant, changes: 0 }
    }

    /// The signals in the order of the rows.
    pub(crate) fn finish(self) -> Vec<Signal> {
        self.rows.into_iter().map(|(_, signal)| signal).collect()
    }

    /// Records a scan; to be called after each.
    pub(crate) fn record(&mut self, scan: u32, panel: &Panel<'_>, machine: &Machine) {
        for (watched, signal) in &mut self.rows {
            let value = match watched {
                Watched::Device(index) => panel.devices().get(*index).map(|device| device.state().clone()),
                Watched::Terminal(index) => panel.devices().get(*index).and_then(WiredDevice::terminal),
                Watched::Load(index) => panel.loads().get(*index).and_then(|load| load.value(machine)),
                Watched::Plant(index) => {
                    self.plant.get(*index).and_then(|variable| panel.plant_value(variable))
                }
            };
            let Some(value) = value else { continue };
            if signal.changes.last().is_none_or(|last| last.value != value) {
                signal.changes.push(Change { scan, value });
                self.changes += 1;
            }
        }
    }

    /// Number of changes so far.
    pub(crate) fn changes(&self) -> u64 {
        self.changes
    }
}

//! Recording what the machine does not know: what is done to devices, what terminals read that the program does not
//! look at, what loads do, and what the plant keeps for itself.

use std::borrow::Cow;

use latchwork_vm::{Changes, Machine, Resolved, Section, Signal, SignalKind, Value};

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

struct OwnSignal {
    watched: Watched,
    signal: Signal,
    /// The value after the last scan.
    last: Option<Value>,
}

/// Signals recorded here.
pub(crate) struct OwnSignals {
    rows: Vec<OwnSignal>,
    plant: Vec<Resolved>,
    changes: u64,
}

impl OwnSignals {
    /// The signals of these rows, empty; `plant` are the variables of the plant among them.
    pub(crate) fn new(rows: &[OwnRow], plant: Vec<Resolved>) -> Self {
        let own_signal = |row: &OwnRow| OwnSignal {
            watched: row.watched,
            signal: Signal {
                name: row.name.clone(),
                kind: row.kind,
                location: row.location.clone(),
                section: Section::Local,
                changes: Changes::new(),
            },
            last: None,
        };
        OwnSignals { rows: rows.iter().map(own_signal).collect(), plant, changes: 0 }
    }

    /// The signals in the order of the rows.
    pub(crate) fn finish(self) -> Vec<Signal> {
        self.rows.into_iter().map(|row| row.signal).collect()
    }

    /// Records a scan; to be called after each.
    pub(crate) fn record(&mut self, scan: u32, panel: &Panel<'_>, machine: &Machine) {
        for OwnSignal { watched, signal, last } in &mut self.rows {
            let value = match watched {
                Watched::Device(index) => {
                    panel.devices().get(*index).map(|device| Cow::Borrowed(device.state()))
                }
                Watched::Terminal(index) => {
                    panel.devices().get(*index).and_then(WiredDevice::terminal).map(Cow::Owned)
                }
                Watched::Load(index) => {
                    panel.loads().get(*index).and_then(|load| load.value(machine)).map(Cow::Owned)
                }
                Watched::Plant(index) => {
                    let variable = self.plant.get(*index);
                    variable.and_then(|variable| panel.plant_value(variable)).map(Cow::Owned)
                }
            };
            let Some(value) = value else { continue };
            if last.as_ref() != Some(value.as_ref()) {
                signal.changes.push(scan, &value);
                *last = Some(value.into_owned());
                self.changes += 1;
            }
        }
    }

    /// The signal of a row.
    pub(crate) fn get(&self, row: usize) -> Option<&Signal> {
        self.rows.get(row).map(|row| &row.signal)
    }

    /// Forgets the scans so far, when they have been handed on: the next scan is number 0 again, but only what it changes is
    /// recorded.
    pub(crate) fn forget(&mut self) {
        for row in &mut self.rows {
            row.signal.changes.clear();
        }
    }

    /// Number of changes so far, also of those that were forgotten.
    pub(crate) fn changes(&self) -> u64 {
        self.changes
    }
}

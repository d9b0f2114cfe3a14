//! What a replay recorded: the three kinds of rows a bench tells apart (what a person does to a device, what
//! the terminal reads, what the program makes of it), over the scans of a run.
//!
//! Everything that shows a run — terminal diagram, SVG, VCD, CSV — is made from a [`Recording`] alone.

use latchwork_compiler::library::Calls;
use latchwork_vm::trace::{Changes, ScanRecord, Signal};

/// A recorded run.
#[derive(Clone, Debug, Default)]
pub struct Recording {
    /// Title for people: the station's name, or the program's.
    pub title: String,
    /// Where it came from, for the heading: file names.
    pub source: String,
    /// Time between two scans in nanoseconds.
    pub scan_ns: i64,
    /// End of the simulated time in nanoseconds: one scan after the start of the last one.
    pub end_ns: i64,
    /// The scans in order; a row's changes refer to them by index.
    pub scans: Vec<ScanRecord>,
    /// The rows in the order in which they are shown.
    pub rows: Vec<Row>,
    /// The steps of charts, for pictures alone.
    pub charts: Vec<ChartRecord>,
    /// What happened to controller, plant and wiring, in order of time.
    pub incidents: Vec<Incident>,
}

/// When the steps of a sequential function chart were active.
#[derive(Clone, Debug)]
pub struct ChartRecord {
    /// Path of the instance whose chart it is: `Misting`.
    pub name: String,
    /// Names of its steps with the values of their flags (`Feed.X`), in the order of the text.
    pub steps: Vec<(String, Changes)>,
}

/// Something that happened in the middle of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Incident {
    /// When the first scan saw it, or should have seen it, in nanoseconds.
    pub time_ns: i64,
    /// What it was.
    pub kind: IncidentKind,
    /// What else is to be said: "StopPB: open wire"; may be empty.
    pub text: String,
}

/// Sorts of incidents.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IncidentKind {
    /// The controller restarted, retained variables kept.
    WarmRestart,
    /// The controller restarted from its initial values.
    ColdRestart,
    /// A wiring fault was placed.
    WiringFault,
    /// Wiring faults were taken away.
    WiringCleared,
    /// A fault of the program ended the run.
    Fault,
    /// A fault of the plant ended the run.
    PlantFault,
}

impl Incident {
    /// An incident at a time.
    pub fn at(time_ns: i64, kind: IncidentKind, text: impl Into<String>) -> Self {
        Incident { time_ns, kind, text: text.into() }
    }
}

impl IncidentKind {
    /// The kind of a restart.
    pub fn of(restart: latchwork_vm::Restart) -> Self {
        match restart {
            latchwork_vm::Restart::Warm => Self::WarmRestart,
            latchwork_vm::Restart::Cold => Self::ColdRestart,
        }
    }

    /// The words for it.
    pub fn words(self) -> &'static str {
        match self {
            Self::WarmRestart => "warm restart",
            Self::ColdRestart => "cold restart",
            Self::WiringFault => "wiring fault",
            Self::WiringCleared => "wiring sound",
            Self::Fault => "fault",
            Self::PlantFault => "plant fault",
        }
    }
}

/// One row.
#[derive(Clone, Debug)]
pub struct Row {
    /// What the row shows.
    pub role: Role,
    /// Its full name and values. For a device the values are BOOL (actuated or not) or LREAL (engineering
    /// units).
    pub signal: Signal,
    /// The name it was asked for by, where that is shorter than its full name: `Seg[0]` for `Main.Seg[0]`.
    pub asked: Option<String>,
}

impl Row {
    /// The name to show: as it was asked for, else the full name.
    pub fn name(&self) -> &str {
        self.asked.as_deref().unwrap_or(&self.signal.name)
    }
}

/// What a row shows.
#[derive(Clone, Debug, PartialEq)]
pub enum Role {
    /// What a person or the process does to a device.
    Device {
        /// The word for the actuated state: "pressed", "turned", "wet"…
        actuated: String,
        /// How its contact is made; `None` for an analog device.
        contact: Option<Contact>,
        /// Engineering unit of an analog device.
        unit: Option<String>,
        /// The wiring fault placed on it, in words ("open wire").
        fault: Option<String>,
    },
    /// What an input terminal of the controller reads.
    Terminal {
        /// The device wired to it, if the station tells.
        device: Option<String>,
    },
    /// An output terminal, with the load wired to it.
    Output {
        /// The load, if the station tells.
        load: Option<String>,
        /// Engineering unit of an analog load, in the row of the load itself.
        unit: Option<String>,
    },
    /// An input of a function block shown by itself.
    Input,
    /// A variable of the plant.
    Plant,
    /// Any other variable.
    Variable,
}

/// Contact form of a two-state device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contact {
    /// Closed only while actuated.
    NormallyOpen,
    /// Open only while actuated.
    NormallyClosed,
}

impl Recording {
    /// The changes of each row.
    pub fn changes(&self) -> Vec<&Changes> {
        self.rows.iter().map(|row| &row.signal.changes).collect()
    }

    /// The calls of a function block, one in every scan: as a run of its own.
    pub fn of_calls(calls: &Calls) -> Self {
        let rows = calls.trace.signals.iter().enumerate().map(|(index, signal)| Row {
            role: if index < calls.inputs { Role::Input } else { Role::Output { load: None, unit: None } },
            signal: signal.clone(),
            asked: None,
        });
        Recording {
            title: calls.block.name.to_owned(),
            source: if calls.preset.is_empty() { "one call a scan".to_owned() } else { calls.preset.clone() },
            scan_ns: calls.interval_ns,
            // Few calls, milliseconds apart.
            end_ns: calls.interval_ns * calls.trace.scans.len() as i64,
            scans: calls.trace.scans.clone(),
            rows: rows.collect(),
            ..Recording::default()
        }
    }
}

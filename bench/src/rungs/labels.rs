//! Where variables are connected: their addresses, and the devices and loads of a station that are wired to them.
//!
//! The variable of the program and the device on the panel are two things: a contact shows the variable, a label says
//! what is wired to it and how.

use std::collections::BTreeMap;

use latchwork_vm::{Program, Resolved, Value};

use crate::{
    diagram::words::value_text,
    panel::Panel,
    recording::{Contact, Recording, Role},
    station::{DeviceForm, Station},
    terminals::place_key,
};

/// Labels of the variables of one unit, by name.
#[derive(Clone, Debug, Default)]
pub struct Labels {
    by_name: BTreeMap<String, Label>,
}

/// Where a variable is connected.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Label {
    /// `%IX0.0`.
    pub address: Option<String>,
    /// What is wired to it.
    pub devices: Vec<Wired>,
}

/// A device or load at a terminal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wired {
    /// Its name.
    pub name: String,
    /// How a two-state device is wired.
    pub contact: Option<Contact>,
    /// What it is, in words.
    pub label: Option<String>,
    /// Its state, if it is known: `pressed`.
    pub state: Option<String>,
}

impl Wired {
    /// In few characters.
    #[must_use]
    pub fn short(&self) -> String {
        match self.contact {
            Some(Contact::NormallyOpen) => format!("{} NO", self.name),
            Some(Contact::NormallyClosed) => format!("{} NC", self.name),
            None => self.name.clone(),
        }
    }

    /// In one sentence about the panel, without full stop.
    #[must_use]
    pub fn sentence(&self, address: &str) -> String {
        let label = self.label.as_ref().map(|label| format!(", {label}")).unwrap_or_default();
        let wiring = match self.contact {
            Some(Contact::NormallyOpen) => {
                format!(", wired normally open: {address} is TRUE while it is actuated")
            }
            Some(Contact::NormallyClosed) => format!(
                ", wired normally closed: {address} is TRUE at rest, FALSE while it is actuated or its wire is broken"
            ),
            None => String::new(),
        };
        let state = self.state.as_ref().map(|state| format!("; now {state}")).unwrap_or_default();
        format!("{}{label}{wiring}{state}", self.name)
    }
}

impl Labels {
    /// The label of a variable.
    #[must_use]
    pub fn of(&self, name: &str) -> Option<&Label> {
        self.by_name.get(&name.to_ascii_lowercase())
    }

    /// The labels of `names` as a unit sees them whose instance is named `instance`.
    #[must_use]
    pub fn new<'n>(
        program: &Program,
        station: Option<&Station>,
        instance: &str,
        names: impl IntoIterator<Item = &'n str>,
    ) -> Self {
        let panel = Panel::new(program, station);
        let mut labels = Labels::default();
        for name in names {
            let variable = program.resolve(&format!("{instance}.{name}")).or_else(|_| program.resolve(name));
            let Ok(variable) = variable else { continue };
            let label = label(&panel, &variable);
            if label != Label::default() {
                labels.by_name.insert(name.to_ascii_lowercase(), label);
            }
        }
        labels
    }

    /// Adds what the devices and loads were in a scan of a recording that has them.
    pub fn observe(&mut self, recording: &Recording, scan: u32) {
        for wired in self.by_name.values_mut().flat_map(|label| &mut label.devices) {
            wired.state = state(recording, &wired.name, scan);
        }
    }

    /// All labels with devices, by name of the device.
    pub fn wired(&self) -> Vec<(&str, &Wired)> {
        let labels = self.by_name.values();
        let mut all: Vec<(&str, &Wired)> = labels
            .flat_map(|label| {
                let address = label.address.as_deref().unwrap_or("its terminal");
                label.devices.iter().map(move |device| (address, device))
            })
            .collect();
        all.sort_by(|one, other| one.1.name.cmp(&other.1.name));
        all.dedup_by(|one, other| one.1.name == other.1.name);
        all
    }
}

fn label(panel: &Panel<'_>, variable: &Resolved) -> Label {
    let key = place_key(variable);
    let here = |other: &Option<Resolved>| other.as_ref().is_some_and(|other| place_key(other) == key);
    let devices = panel.devices().iter().filter(|device| here(&device.variable)).map(|device| Wired {
        name: device.device.name.value.clone(),
        contact: match device.device.form {
            DeviceForm::TwoState { contact, .. } => Some(contact),
            DeviceForm::Analog { .. } => None,
        },
        label: device.device.label.clone(),
        state: None,
    });
    let loads = panel.loads().iter().filter(|load| here(&load.variable)).map(|load| Wired {
        name: load.load.name.value.clone(),
        contact: None,
        label: load.load.label.clone(),
        state: None,
    });
    Label { address: variable.location.clone(), devices: devices.chain(loads).collect() }
}

/// The value of an analog device as one would read it off, to a thousandth.
fn reading(value: &Value) -> String {
    let number = match value {
        Value::Real(number) => f64::from(*number),
        Value::Lreal(number) => *number,
        _ => return value_text(value),
    };
    if number != 0.0 && !(0.001..1e9).contains(&number.abs()) {
        return value_text(value);
    }
    let text = format!("{number:.3}");
    let text = text.trim_end_matches('0');
    if text.ends_with('.') { format!("{text}0") } else { text.to_owned() }
}

/// The state of a device in words, where a recording has it.
fn state(recording: &Recording, name: &str, scan: u32) -> Option<String> {
    recording.rows.iter().find_map(|row| {
        let Role::Device { actuated, unit, .. } = &row.role else { return None };
        if row.signal.name != name {
            return None;
        }
        let value = row.signal.changes.in_force(scan)?.value;
        Some(match value.as_bool() {
            Some(true) => actuated.clone(),
            Some(false) => format!("not {actuated}"),
            None => match unit {
                Some(unit) => format!("{} {unit}", reading(&value)),
                None => reading(&value),
            },
        })
    })
}

//! What the names in steps and conditions stand for: devices, loads, terminals, variables, and those of the plant.
//!
//! The rule is that of recordings: a device or load of the station first, then a variable or address of the program,
//! then a variable of the plant, then the terminal of a device that the program does not read.

use latchwork_compiler::probe::{Outside, ProbeKind};
use latchwork_vm::{ElementaryType, Machine, Program, ResolveError, Resolved, Value};

use crate::{
    address::Address,
    nearest::nearest,
    panel::Panel,
    plant::Plant,
    station::{DeviceForm, LoadForm},
    terminals::unresolved_text,
};

/// What a name stands for.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Place {
    /// A device, by its number on the panel: actuated or not, or its engineering units.
    Device(usize),
    /// A load, by its number on the panel.
    Load(usize),
    /// The terminal of a device that the program does not read.
    Terminal(usize),
    /// A variable of the program.
    Variable(Resolved),
    /// A variable of the plant.
    Plant(Resolved),
}

/// Why a name stands for nothing.
pub(super) struct Missing {
    /// What is near, or what is wrong with it.
    pub(super) label: String,
    /// Nothing has this name.
    pub(super) unknown: bool,
}

/// The names of one program on one panel.
pub(super) struct NamesOutside<'a> {
    pub(super) program: &'a Program,
    pub(super) panel: &'a Panel<'a>,
}

impl NamesOutside<'_> {
    /// What a name stands for.
    pub(super) fn find(&self, path: &str) -> Result<Place, Missing> {
        let same = |other: &str| other.eq_ignore_ascii_case(path);
        if let Some(index) = self.panel.devices().iter().position(|wired| same(&wired.device.name.value)) {
            return Ok(Place::Device(index));
        }
        if let Some(index) = self.panel.loads().iter().position(|wired| same(&wired.load.name.value)) {
            return Ok(Place::Load(index));
        }
        let error = match self.program.resolve(path) {
            Ok(variable) => return Ok(Place::Variable(variable)),
            Err(error) => error,
        };
        if let Some(plant) = self.panel.plant().filter(|plant| plant.owns(path)) {
            return plant.resolve(path).map(Place::Plant).map_err(|error| Missing {
                label: unresolved_text(plant.program(), path, &error, &[]),
                unknown: matches!(error, ResolveError::Unknown { .. }),
            });
        }
        if let Ok(address) = Address::parse(path) {
            let at = |terminal: &crate::station::Terminal| terminal.address.as_ref() == Some(&address);
            if let Some(index) = self.panel.devices().iter().position(|wired| at(&wired.device.terminal)) {
                return Ok(Place::Terminal(index));
            }
        }
        Err(Missing {
            label: {
                let of_plant = self.plant_names();
                let others: Vec<&str> =
                    self.names().into_iter().chain(of_plant.iter().map(String::as_str)).collect();
                unresolved_text(self.program, path, &error, &others)
            },
            unknown: matches!(error, ResolveError::Unknown { .. }),
        })
    }

    /// All devices and loads.
    pub(super) fn names(&self) -> Vec<&str> {
        let devices = self.panel.devices().iter().map(|wired| wired.device.name.value.as_str());
        devices.chain(self.panel.loads().iter().map(|wired| wired.load.name.value.as_str())).collect()
    }

    /// The variables of the plant.
    fn plant_names(&self) -> Vec<String> {
        self.panel.plant().map(Plant::variable_names).unwrap_or_default()
    }

    /// The type of what a place holds; `None` for a reference.
    pub(super) fn kind_of(&self, place: &Place) -> Option<ProbeKind> {
        let panel = self.panel;
        let kind = match place {
            Place::Device(index) => match panel.devices().get(*index)?.device.form {
                DeviceForm::Analog { .. } => ElementaryType::Lreal,
                DeviceForm::TwoState { .. } => ElementaryType::Bool,
            },
            Place::Load(index) => match panel.loads().get(*index)?.load.form {
                LoadForm::Analog { .. } => ElementaryType::Lreal,
                LoadForm::TwoState => ElementaryType::Bool,
            },
            Place::Terminal(index) => panel.devices().get(*index)?.terminal_kind(),
            Place::Variable(variable) => return ProbeKind::of(self.program.image(), variable.kind),
            Place::Plant(variable) => {
                return ProbeKind::of(panel.plant()?.program().image(), variable.kind);
            }
        };
        Some(ProbeKind::Elementary(kind))
    }
}

impl Outside for NamesOutside<'_> {
    fn kind(&self, path: &str) -> Result<Option<ProbeKind>, String> {
        match self.find(path) {
            Ok(place) => match self.kind_of(&place) {
                Some(kind) => Ok(Some(kind)),
                None => Err("a reference; name the variable it refers to".into()),
            },
            Err(Missing { unknown: true, .. }) => Ok(None),
            Err(Missing { label, .. }) => Err(label),
        }
    }

    fn nearest(&self, path: &str) -> Vec<String> {
        let of_plant = self.plant_names();
        let names = self.names().into_iter().chain(of_plant.iter().map(String::as_str));
        let near = nearest(path, names);
        if !near.is_empty() {
            return near.into_iter().map(str::to_owned).collect();
        }
        match self.program.resolve(path) {
            Err(ResolveError::Unknown { nearest, .. }) => nearest,
            _ => Vec::new(),
        }
    }
}

impl Place {
    /// The value there now; `None` for a load whose output cannot drive it.
    pub(super) fn value(&self, machine: &Machine, panel: &Panel<'_>) -> Option<Value> {
        match self {
            Place::Device(index) => panel.devices().get(*index).map(|wired| wired.state().clone()),
            Place::Load(index) => panel.loads().get(*index).and_then(|wired| wired.value(machine)),
            Place::Terminal(index) => panel.devices().get(*index).and_then(|wired| wired.terminal()),
            Place::Variable(variable) => Some(machine.read(variable)),
            Place::Plant(variable) => panel.plant_value(variable),
        }
    }
}

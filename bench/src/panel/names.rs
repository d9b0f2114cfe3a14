//! What the names of people stand for: devices, loads, terminals, variables, and those of the plant.
//!
//! The rule is one for recordings, steps and conditions: a device or load of the station first, then a variable or
//! address of the program, then a variable of the plant, then the terminal of a device that the program does not read.

use latchwork_vm::{Machine, Program, ResolveError, Resolved, Value};

use super::{Panel, WiredDevice};
use crate::{address::Address, plant::Plant, terminals::unresolved_text};

/// What a name stands for.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Place {
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
pub(crate) struct Missing {
    /// What is near, or what is wrong with it.
    pub(crate) label: String,
    /// Nothing has this name.
    pub(crate) unknown: bool,
}

impl Panel<'_> {
    /// What a name stands for.
    pub(crate) fn find(&self, program: &Program, path: &str) -> Result<Place, Missing> {
        let same = |other: &str| other.eq_ignore_ascii_case(path);
        if let Some(index) = self.devices.iter().position(|wired| same(&wired.device.name.value)) {
            return Ok(Place::Device(index));
        }
        if let Some(index) = self.loads.iter().position(|wired| same(&wired.load.name.value)) {
            return Ok(Place::Load(index));
        }
        let error = match program.resolve(path) {
            Ok(variable) => return Ok(Place::Variable(variable)),
            Err(error) => error,
        };
        if let Some(plant) = self.plant().filter(|plant| plant.owns(path)) {
            return plant.resolve(path).map(Place::Plant).map_err(|error| Missing {
                label: unresolved_text(plant.program(), path, &error, &[]),
                unknown: matches!(error, ResolveError::Unknown { .. }),
            });
        }
        if let Ok(address) = Address::parse(path) {
            let at = |wired: &WiredDevice<'_>| wired.device.terminal.address.as_ref() == Some(&address);
            if let Some(index) = self.devices.iter().position(at) {
                return Ok(Place::Terminal(index));
            }
        }
        let names = self.names();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        Err(Missing {
            label: unresolved_text(program, path, &error, &names),
            unknown: matches!(error, ResolveError::Unknown { .. }),
        })
    }

    /// All devices and loads, and the variables of the plant.
    pub(crate) fn names(&self) -> Vec<String> {
        let devices = self.devices.iter().map(|wired| wired.device.name.value.clone());
        let loads = self.loads.iter().map(|wired| wired.load.name.value.clone());
        let of_plant = self.plant().map(Plant::variable_names).unwrap_or_default();
        devices.chain(loads).chain(of_plant).collect()
    }
}

impl Place {
    /// The value there now; `None` for a load whose output cannot drive it.
    pub(crate) fn value(&self, machine: &Machine, panel: &Panel<'_>) -> Option<Value> {
        match self {
            Place::Device(index) => panel.devices().get(*index).map(|wired| wired.state().clone()),
            Place::Load(index) => panel.loads().get(*index).and_then(|wired| wired.value(machine)),
            Place::Terminal(index) => panel.devices().get(*index).and_then(|wired| wired.terminal()),
            Place::Variable(variable) => Some(machine.read(variable)),
            Place::Plant(variable) => panel.plant_value(variable),
        }
    }
}

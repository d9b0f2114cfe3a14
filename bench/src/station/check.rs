//! Comparing a station with a program: do the terminals exist there, are they inputs and outputs, and of a type
//! that fits the device?
//!
//! Knows names, types and addresses of the program's variables; knows nothing of its code.

use std::collections::BTreeMap;

use latchwork_grammar::Diagnostic;
use latchwork_vm::{ElementaryType, Program, ResolveError, Resolved};

use super::{Device, DeviceForm, Load, LoadForm, Placed, Station, Terminal, parts::shared_terminal};
use crate::{
    address::Address,
    plant::{Plant, PlantFiles},
    stimulus::{cell::CellType, words::kind_name},
    terminals::{self, Direction, cell_type, direction, located, place_key},
};

impl Station {
    /// What is wrong between the station and a program, in the order of the station file. Without an error among
    /// it the two can be run together; a warning tells of a terminal that the program does not use.
    pub fn check(&self, program: &Program) -> Vec<Diagnostic> {
        let mut checker = Checker { program, located: located(program), diagnostics: Vec::new() };
        let names =
            self.devices.iter().map(|device| &device.name).chain(self.loads.iter().map(|load| &load.name));
        for name in names {
            checker.name(name);
        }
        let mut wired: BTreeMap<(u32, u8), &Device> = BTreeMap::new();
        for device in &self.devices {
            let Some(terminal) = checker.device(device) else { continue };
            match wired.get(&place_key(&terminal)) {
                // The same text twice was reported when the file was read.
                Some(first) => checker.diagnostics.push(shared_terminal(first, device)),
                None => {
                    wired.insert(place_key(&terminal), device);
                }
            }
        }
        for load in &self.loads {
            checker.load(load);
        }
        if let Some(files) = &self.plant {
            checker.plant(files, self.process());
        }
        checker.diagnostics.sort_by_key(|diagnostic| (diagnostic.primary.span, diagnostic.name));
        checker.diagnostics
    }
}

struct Checker<'p> {
    program: &'p Program,
    located: Vec<Address>,
    diagnostics: Vec<Diagnostic>,
}

impl Checker<'_> {
    /// A name that is also a variable would make a column or a row ambiguous.
    fn name(&mut self, name: &Placed<String>) {
        let Ok(variable) = self.program.resolve(&name.value) else { return };
        self.diagnostics.push(
            Diagnostic::error(
                "station-name-clash",
                name.span,
                format!("`{}` is also a variable of the program", name.value),
            )
            .label(format!("choose a name for the thing on the panel, such as `{}_Device`", name.value))
            .note(format!(
                "device and terminal are two things: the variable `{}` is what the program sees",
                variable.name
            )),
        );
    }

    fn device(&mut self, device: &Device) -> Option<Resolved> {
        let terminal = self.terminal(&device.terminal, "device", "input", "read")?;
        if direction(self.program, &terminal) != Direction::Input {
            self.wrong_direction(&device.terminal, &terminal, "device", "input");
            return None;
        }
        let kind = cell_type(self.program, &terminal);
        let fits = match (&device.form, &kind) {
            (DeviceForm::TwoState { .. }, Some(CellType::Elementary(ElementaryType::Bool))) => true,
            (DeviceForm::Analog { .. }, Some(CellType::Elementary(kind))) => {
                terminals::terminal_number(0.0, *kind, true).is_some()
            }
            _ => false,
        };
        if !fits {
            let found = kind.as_ref().map_or_else(|| "a reference".to_string(), kind_name);
            let (what, remedy) = match device.form {
                DeviceForm::TwoState { .. } => {
                    ("a contact", "wire it to an input of type BOOL, such as %IX0.0")
                }
                DeviceForm::Analog { .. } => (
                    "an analog device",
                    "wire it to an input of an integer, bit string or real type, such as %IW2",
                ),
            };
            self.wrong_type(&device.terminal, what, &terminal, &found, remedy);
            return None;
        }
        Some(terminal)
    }

    fn load(&mut self, load: &Load) {
        let Some(terminal) = self.terminal(&load.terminal, "load", "output", "write") else { return };
        if direction(self.program, &terminal) != Direction::Output {
            self.wrong_direction(&load.terminal, &terminal, "load", "output");
            return;
        }
        let kind = cell_type(self.program, &terminal);
        let fits = match (&load.form, &kind) {
            (LoadForm::TwoState, Some(CellType::Elementary(ElementaryType::Bool))) => true,
            (LoadForm::Analog { .. }, Some(CellType::Elementary(kind))) => {
                terminals::terminal_number(0.0, *kind, true).is_some()
            }
            _ => false,
        };
        if !fits {
            let found = kind.as_ref().map_or_else(|| "a reference".to_string(), kind_name);
            let (what, remedy) = match load.form {
                LoadForm::TwoState => (
                    "a load that is on or off",
                    "wire it to an output of type BOOL, such as %QX0.0, or give it a `range`",
                ),
                LoadForm::Analog { .. } => (
                    "an analog load",
                    "wire it to an output of an integer, bit string or real type, such as %QW2",
                ),
            };
            self.wrong_type(&load.terminal, what, &terminal, &found, remedy);
        }
    }

    /// A plant is there once it was compiled and connected, and its name says whose variables are meant.
    fn plant(&mut self, files: &PlantFiles, plant: Option<&Plant>) {
        let error = |message| Diagnostic::error("station-plant-program", files.span, message);
        let Some(plant) = plant else {
            self.diagnostics.push(error("the plant of the station was not compiled".into()));
            return;
        };
        let name = plant.name();
        if !matches!(self.program.resolve(name), Err(ResolveError::Unknown { .. })) {
            self.diagnostics.push(
                error(format!("`{name}` is also a program or variable of the controller"))
                    .label(format!("name the program of the plant otherwise, such as `{name}_Process`"))
                    .note(
                        "variables of both are recorded and set by path, and the path begins with the name",
                    ),
            );
        }
    }

    /// The variable at a terminal; reports one that is not there.
    fn terminal(&mut self, terminal: &Terminal, what: &str, kind: &str, verb: &str) -> Option<Resolved> {
        let resolved = self.program.resolve(&terminal.text);
        let Some(address) = &terminal.address else {
            let error = match resolved {
                Ok(variable) => return Some(variable),
                Err(error) => error,
            };
            self.diagnostics.push(
                Diagnostic::error(
                    "station-terminal-unknown",
                    terminal.span,
                    format!("the program has no variable `{}`", terminal.text),
                )
                .label(terminals::unresolved_text(self.program, &terminal.text, &error, &[]))
                .note(format!("write an {kind} address or the name of an {kind} variable of the program")),
            );
            return None;
        };
        if !terminals::is_used(self.program, &self.located, address) {
            self.diagnostics.push(
                Diagnostic::warning(
                    "station-terminal-unused",
                    terminal.span,
                    format!("the program does not {verb} `{}`", terminal.text),
                )
                .label(format!("this {what} has no effect"))
                .note(format!("declare a variable there (`Name AT {address} : …;`), or correct the address")),
            );
        }
        resolved.ok()
    }

    fn wrong_type(
        &mut self,
        terminal: &Terminal,
        what: &str,
        variable: &Resolved,
        found: &str,
        remedy: &str,
    ) {
        let message = format!("{what} can not be wired to `{}`, which is of type {found}", variable.name);
        self.diagnostics
            .push(Diagnostic::error("station-terminal-type", terminal.span, message).label(remedy));
    }

    fn wrong_direction(&mut self, terminal: &Terminal, variable: &Resolved, what: &str, kind: &str) {
        let found = match direction(self.program, variable) {
            Direction::Input => "an input",
            Direction::Output => "an output",
            Direction::Constant => "a constant",
            Direction::ReadOnly => "a variable that can only be read",
            Direction::Other => "an internal variable",
        };
        self.diagnostics.push(
            Diagnostic::error(
                "station-terminal-direction",
                terminal.span,
                format!("a {what} is wired to an {kind}, and `{}` is {found}", variable.name),
            )
            .label(format!("write an {kind}")),
        );
    }
}

//! The state of a station during a run, and its effect on the machine's inputs.
//!
//! Knows devices, wiring and terminals; knows nothing of time or stimuli.

use latchwork_vm::{ElementaryType, Machine, Program, Resolved, Value};

use crate::{
    station::{Device, DeviceForm, Load, Station},
    stimulus::cell::CellType,
    terminals::{address_type, cell_type, terminal_number},
    wiring,
};

/// A station in front of a machine.
pub(super) struct Panel<'s> {
    station: Option<&'s Station>,
    devices: Vec<WiredDevice<'s>>,
    loads: Vec<WiredLoad<'s>>,
}

/// A device, what it is wired to, and its state.
pub(super) struct WiredDevice<'s> {
    pub(super) device: &'s Device,
    /// The input at its terminal, if the program has one.
    pub(super) variable: Option<Resolved>,
    terminal_kind: ElementaryType,
    state: Value,
}

/// A load and the output that drives it.
pub(super) struct WiredLoad<'s> {
    pub(super) load: &'s Load,
    /// The output variable at its terminal, if the program has one.
    pub(super) variable: Option<Resolved>,
}

impl<'s> Panel<'s> {
    /// All devices in their state at the start.
    pub(super) fn new(program: &Program, station: Option<&'s Station>) -> Self {
        let devices = station.map_or(&[][..], |station| &station.devices);
        let loads = station.map_or(&[][..], |station| &station.loads);
        let wired_device = |device: &'s Device| {
            let variable = program.resolve(&device.terminal.text).ok();
            let known = variable.as_ref().and_then(|variable| cell_type(program, variable));
            let terminal_kind = match (known, &device.terminal.address) {
                (Some(CellType::Elementary(kind)), _) => kind,
                (_, Some(address)) => address_type(address),
                _ => ElementaryType::Bool,
            };
            let state = match &device.form {
                DeviceForm::TwoState { start, .. } => Value::Bool(*start),
                DeviceForm::Analog { start, .. } => Value::Lreal(*start),
            };
            WiredDevice { device, variable, terminal_kind, state }
        };
        let wired_load =
            |load: &'s Load| WiredLoad { load, variable: program.resolve(&load.terminal.text).ok() };
        Panel {
            station,
            devices: devices.iter().map(wired_device).collect(),
            loads: loads.iter().map(wired_load).collect(),
        }
    }

    /// The station's title.
    pub(super) fn title(&self) -> Option<&str> {
        self.station?.title.as_ref().map(|title| title.value.as_str())
    }

    pub(super) fn devices(&self) -> &[WiredDevice<'s>] {
        &self.devices
    }

    pub(super) fn loads(&self) -> &[WiredLoad<'s>] {
        &self.loads
    }

    /// Acts on a device: BOOL for a contact, LREAL for an analog device.
    pub(super) fn act(&mut self, index: usize, state: &Value, machine: &mut Machine) {
        if let Some(device) = self.devices.get_mut(index) {
            device.state = state.clone();
            device.drive(machine);
        }
    }

    /// Lets every device act on its terminal.
    pub(super) fn drive(&self, machine: &mut Machine) {
        for device in &self.devices {
            device.drive(machine);
        }
    }
}

impl WiredDevice<'_> {
    /// What is done to the device.
    pub(super) fn state(&self) -> &Value {
        &self.state
    }

    /// What its terminal reads, in the type of the terminal.
    pub(super) fn terminal(&self) -> Option<Value> {
        match &self.device.form {
            DeviceForm::TwoState { contact, stuck_at, .. } => {
                let actuated = self.state.as_bool()?;
                Some(Value::Bool(wiring::terminal_level(*contact, self.device.fault, *stuck_at, actuated)))
            }
            DeviceForm::Analog { scaling, stuck_at, .. } => {
                let raw = scaling.terminal_value(self.device.fault, *stuck_at, self.state.as_f64()?);
                let signed = scaling.raw.0 < 0.0 || scaling.raw.1 < 0.0;
                terminal_number(raw, self.terminal_kind, signed)
            }
        }
    }

    /// The type of its terminal.
    pub(super) fn terminal_kind(&self) -> ElementaryType {
        self.terminal_kind
    }

    fn drive(&self, machine: &mut Machine) {
        if let (Some(variable), Some(value)) = (&self.variable, self.terminal()) {
            // The check of station and program has compared the types.
            let _ = machine.write(variable, &value);
        }
    }
}

impl WiredLoad<'_> {
    /// Whether the load works: `None` if its output is not a BOOL.
    pub(super) fn on(&self, machine: &Machine) -> Option<bool> {
        let output = match &self.variable {
            Some(variable) => machine.read(variable).as_bool()?,
            None => false,
        };
        Some(wiring::load_on(output, self.load.open_wire))
    }
}

//! A device during a run: what is done to it, the fault placed on it, and what its terminal reads.

use latchwork_vm::{ElementaryType, Machine, Program, Resolved, Value};

use crate::{
    station::{Device, DeviceForm},
    stimulus::cell::CellType,
    terminals::{address_type, cell_type, terminal_number},
    wiring::{self, WiringFault},
};

/// A device, what it is wired to, and its state.
#[derive(Clone)]
pub struct WiredDevice<'s> {
    /// The device as the station file describes it.
    pub device: &'s Device,
    /// The input at its terminal, if the program has one.
    pub variable: Option<Resolved>,
    terminal_kind: ElementaryType,
    state: Value,
    fault: Option<WiringFault>,
    /// Where it is if it is stuck.
    stuck_at: Value,
}

impl<'s> WiredDevice<'s> {
    /// In its state at the start, with the fault of the station file.
    pub(super) fn new(program: &Program, device: &'s Device) -> Self {
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
        let fault = device.fault;
        WiredDevice { device, variable, terminal_kind, state, fault, stuck_at: written_stuck_at(device) }
    }

    /// What is done to the device: BOOL (actuated or not) or LREAL (engineering units).
    pub fn state(&self) -> &Value {
        &self.state
    }

    /// The fault placed on it now.
    pub fn fault(&self) -> Option<WiringFault> {
        self.fault
    }

    /// What its terminal reads, in the type of the terminal.
    pub fn terminal(&self) -> Option<Value> {
        match &self.device.form {
            DeviceForm::TwoState { contact, .. } => {
                let (stuck_at, actuated) = (self.stuck_at.as_bool()?, self.state.as_bool()?);
                Some(Value::Bool(wiring::terminal_level(*contact, self.fault, stuck_at, actuated)))
            }
            DeviceForm::Analog { scaling, .. } => {
                let (stuck_at, value) = (self.stuck_at.as_f64()?, self.state.as_f64()?);
                let raw = scaling.terminal_value(self.fault, stuck_at, value);
                terminal_number(raw, self.terminal_kind, scaling.is_signed())
            }
        }
    }

    /// The type of its terminal.
    pub fn terminal_kind(&self) -> ElementaryType {
        self.terminal_kind
    }

    pub(super) fn act(&mut self, state: &Value) {
        self.state = state.clone();
    }

    pub(super) fn place(&mut self, fault: Option<WiringFault>, stuck_at: Option<Value>) {
        if fault == Some(WiringFault::Stuck) {
            // Who is stuck already stays there.
            let now = if self.fault == Some(WiringFault::Stuck) { &self.stuck_at } else { &self.state };
            self.stuck_at = stuck_at.unwrap_or_else(|| now.clone());
        }
        self.fault = fault;
    }

    /// The fault as the station file has it.
    pub(super) fn restore(&mut self) {
        self.fault = self.device.fault;
        self.stuck_at = written_stuck_at(self.device);
    }

    pub(super) fn drive(&self, machine: &mut Machine) {
        if let (Some(variable), Some(value)) = (&self.variable, self.terminal()) {
            // The check of station and program has compared the types.
            let _ = machine.write(variable, &value);
        }
    }
}

fn written_stuck_at(device: &Device) -> Value {
    match &device.form {
        DeviceForm::TwoState { stuck_at, .. } => Value::Bool(*stuck_at),
        DeviceForm::Analog { stuck_at, .. } => Value::Lreal(*stuck_at),
    }
}

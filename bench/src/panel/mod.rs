//! The state of a station during a run, and its effect on the machine's inputs.
//!
//! Knows devices, loads, wiring and terminals, and the faults placed on them; knows nothing of time, stimuli or
//! procedures.

mod device;
mod load;

use latchwork_vm::{Machine, Program, Value};

use crate::{
    station::Station,
    wiring::{LoadFault, WiringFault},
};

pub use self::{device::WiredDevice, load::WiredLoad};

/// A station in front of a machine.
pub struct Panel<'s> {
    station: Option<&'s Station>,
    devices: Vec<WiredDevice<'s>>,
    loads: Vec<WiredLoad<'s>>,
}

impl<'s> Panel<'s> {
    /// All devices in their state at the start, with the faults of the station file.
    pub fn new(program: &Program, station: Option<&'s Station>) -> Self {
        let devices = station.map_or(&[][..], |station| &station.devices);
        let loads = station.map_or(&[][..], |station| &station.loads);
        Panel {
            station,
            devices: devices.iter().map(|device| WiredDevice::new(program, device)).collect(),
            loads: loads.iter().map(|load| WiredLoad::new(program, load)).collect(),
        }
    }

    /// The station's title.
    pub fn title(&self) -> Option<&str> {
        self.station?.title.as_ref().map(|title| title.value.as_str())
    }

    /// The devices in the order of the station file.
    pub fn devices(&self) -> &[WiredDevice<'s>] {
        &self.devices
    }

    /// The loads in the order of the station file.
    pub fn loads(&self) -> &[WiredLoad<'s>] {
        &self.loads
    }

    /// Acts on a device: BOOL for a contact, LREAL for an analog device.
    pub fn act(&mut self, index: usize, state: &Value, machine: &mut Machine) {
        if let Some(device) = self.devices.get_mut(index) {
            device.act(state);
            device.drive(machine);
        }
    }

    /// Places a fault on a device, or takes what is placed on it away (`None`), and drives its terminal. `stuck_at`
    /// is where it is stuck (BOOL: actuated or not; LREAL: engineering units); without it, where its contact or value
    /// is at this moment. What is done to the device is kept: when the fault is gone, the terminal shows it.
    pub fn place_device(
        &mut self,
        index: usize,
        fault: Option<WiringFault>,
        stuck_at: Option<Value>,
        machine: &mut Machine,
    ) {
        if let Some(device) = self.devices.get_mut(index) {
            device.place(fault, stuck_at);
            device.drive(machine);
        }
    }

    /// Places a fault on a load, or takes what is placed on it away (`None`).
    pub fn place_load(&mut self, index: usize, fault: Option<LoadFault>) {
        if let Some(load) = self.loads.get_mut(index) {
            load.place(fault);
        }
    }

    /// Every fault as the station file has it: none, but for those written there.
    pub fn clear_all(&mut self, machine: &mut Machine) {
        for load in &mut self.loads {
            load.restore();
        }
        for device in &mut self.devices {
            device.restore();
            device.drive(machine);
        }
    }

    /// Lets every device act on its terminal.
    pub fn drive(&self, machine: &mut Machine) {
        for device in &self.devices {
            device.drive(machine);
        }
    }
}

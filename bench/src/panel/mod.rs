//! The state of a station during a run, and its effect on the machine's inputs; with the plant behind it, if there is
//! one.
//!
//! Knows devices, loads, wiring and terminals, and the faults placed on them; knows nothing of stimuli or procedures.

mod device;
mod load;
mod names;
mod process;

use latchwork_vm::{EventLog, Fault, Machine, Program, Resolved, Value};

use self::process::Process;
use crate::{
    plant::Plant,
    station::Station,
    wiring::{LoadFault, WiringFault},
};

pub(crate) use self::names::{Missing, Place};
pub use self::{device::WiredDevice, load::WiredLoad};

/// A station in front of a machine.
#[derive(Clone)]
pub struct Panel<'s> {
    station: Option<&'s Station>,
    devices: Vec<WiredDevice<'s>>,
    loads: Vec<WiredLoad<'s>>,
    process: Option<Process<'s>>,
}

impl<'s> Panel<'s> {
    /// All devices in their state at the start, with the faults of the station file, and the plant after a cold start.
    pub fn new(program: &Program, station: Option<&'s Station>) -> Self {
        let devices = station.map_or(&[][..], |station| &station.devices);
        let loads = station.map_or(&[][..], |station| &station.loads);
        let mut devices: Vec<_> = devices.iter().map(|device| WiredDevice::new(program, device)).collect();
        let process = station.and_then(Station::process).map(Process::new);
        if let Some(process) = &process {
            process.act(&mut devices);
        }
        Panel {
            station,
            devices,
            loads: loads.iter().map(|load| WiredLoad::new(program, load)).collect(),
            process,
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

    /// The wiring faults that the station file has, each with the name of its device or load.
    pub fn faults(&self) -> impl Iterator<Item = String> {
        let told = |name: &str, words: &str| format!("{name}: {words}");
        let devices = self
            .devices
            .iter()
            .map(|wired| wired.device)
            .filter_map(move |device| device.fault.map(|fault| told(&device.name.value, fault.words())));
        let loads = self
            .loads
            .iter()
            .map(|wired| wired.load)
            .filter_map(move |load| load.fault.map(|fault| told(&load.name.value, fault.words())));
        devices.chain(loads)
    }

    /// Lets every device act on its terminal.
    pub fn drive(&self, machine: &mut Machine) {
        for device in &self.devices {
            device.drive(machine);
        }
    }
    /// Lets the process go on after a scan at `now_ns`, until the next one `interval_ns` later; nothing without a plant.
    ///
    /// # Errors
    /// The fault that stopped the plant.
    pub fn advance(
        &mut self,
        now_ns: i64,
        interval_ns: i64,
        machine: &mut Machine,
    ) -> Result<(), Box<Fault>> {
        let Some(process) = &mut self.process else { return Ok(()) };
        process.run(&self.loads, machine, interval_ns, now_ns.saturating_add(interval_ns))?;
        process.act(&mut self.devices);
        process.drive(&self.devices, machine);
        Ok(())
    }

    /// The plant, if there is one.
    pub fn plant(&self) -> Option<&'s Plant> {
        self.process.as_ref().map(|process| process.plant)
    }

    /// The value of a variable of the plant.
    pub fn plant_value(&self, variable: &Resolved) -> Option<Value> {
        self.process.as_ref().map(|process| process.machine.read(variable))
    }

    /// Sets a variable of the plant; an output of it acts on its device at once. Values of another type are ignored.
    pub fn set_plant(&mut self, variable: &Resolved, value: &Value, machine: &mut Machine) {
        let Some(process) = &mut self.process else { return };
        if process.machine.write(variable, value).is_ok() {
            process.act(&mut self.devices);
            process.drive(&self.devices, machine);
        }
    }

    /// The machine that the plant runs on.
    pub(crate) fn plant_machine(&self) -> Option<&Machine> {
        self.process.as_ref().map(|process| &process.machine)
    }

    /// The events of the plant so far.
    pub fn plant_events(&self) -> Option<&EventLog> {
        self.process.as_ref().map(|process| process.machine.events())
    }

    /// Whether an event stops the plant like a fault. Off at first.
    pub fn set_strict(&mut self, strict: bool) {
        if let Some(process) = &mut self.process {
            process.machine.set_strict(strict);
        }
    }
}

//! The single faults of a station.

use latchwork_vm::Value;

use crate::{
    procedure::InitialFault,
    station::{DeviceForm, LoadForm, Station},
    wiring::{LoadFault, WiringFault},
};

/// One fault at one place of the wiring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SingleFault {
    /// Where.
    pub place: Place,
    /// What.
    pub kind: FaultKind,
}

/// A device or load, by its place in the station.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// A device.
    Device(usize),
    /// A load.
    Load(usize),
}

/// What is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaultKind {
    /// A wire has come off.
    OpenWire,
    /// The contact or transmitter is bridged.
    Shorted,
    /// The contact does not move from rest.
    StuckReleased,
    /// The contact does not move from its actuated position.
    StuckActuated,
    /// The output that drives a load is stuck on; an analog load stands at its upper end.
    StuckOn,
    /// The output does not switch on; an analog load stands at its lower end.
    StuckOff,
}

/// All single faults of a station: devices, then loads, in the order of the file.
pub fn single_faults(station: &Station) -> Vec<SingleFault> {
    let mut faults = Vec::new();
    for (index, device) in station.devices.iter().enumerate() {
        let kinds: &[FaultKind] = match &device.form {
            DeviceForm::TwoState { .. } => {
                &[FaultKind::OpenWire, FaultKind::Shorted, FaultKind::StuckReleased, FaultKind::StuckActuated]
            }
            DeviceForm::Analog { .. } => &[FaultKind::OpenWire, FaultKind::Shorted],
        };
        faults.extend(kinds.iter().map(|kind| SingleFault { place: Place::Device(index), kind: *kind }));
    }
    for index in 0..station.loads.len() {
        let kinds = [FaultKind::OpenWire, FaultKind::StuckOn, FaultKind::StuckOff];
        faults.extend(kinds.map(|kind| SingleFault { place: Place::Load(index), kind }));
    }
    faults
}

impl SingleFault {
    /// As a fault that is there from the start of a run.
    pub fn initial(&self) -> InitialFault {
        match self.place {
            Place::Device(device) => {
                let (fault, stuck_at) = match self.kind {
                    FaultKind::Shorted => (WiringFault::Shorted, None),
                    FaultKind::StuckReleased => (WiringFault::Stuck, Some(Value::Bool(false))),
                    FaultKind::StuckActuated => (WiringFault::Stuck, Some(Value::Bool(true))),
                    FaultKind::OpenWire | FaultKind::StuckOn | FaultKind::StuckOff => {
                        (WiringFault::OpenWire, None)
                    }
                };
                InitialFault::Device { device, fault, stuck_at }
            }
            Place::Load(load) => InitialFault::Load {
                load,
                fault: match self.kind {
                    FaultKind::StuckOn => LoadFault::StuckOn,
                    FaultKind::StuckOff => LoadFault::StuckOff,
                    _ => LoadFault::OpenWire,
                },
            },
        }
    }

    /// The name of the device or load.
    pub fn name<'s>(&self, station: &'s Station) -> &'s str {
        match self.place {
            Place::Device(index) => station.devices.get(index).map_or("", |device| &device.name.value),
            Place::Load(index) => station.loads.get(index).map_or("", |load| &load.name.value),
        }
    }

    /// The fault in words: "open wire", "stuck at pressed", "output stuck on".
    pub fn words(&self, station: &Station) -> String {
        let state = |actuated: bool| match self.place {
            Place::Device(index) => station
                .devices
                .get(index)
                .map_or(String::new(), |device| format!("stuck at {}", device.word_of_state(actuated))),
            Place::Load(_) => String::new(),
        };
        match self.kind {
            FaultKind::OpenWire => "open wire".to_owned(),
            FaultKind::Shorted => "shorted".to_owned(),
            FaultKind::StuckReleased => state(false),
            FaultKind::StuckActuated => state(true),
            FaultKind::StuckOn if self.is_analog(station) => "output stuck at the upper end".to_owned(),
            FaultKind::StuckOff if self.is_analog(station) => "output stuck at the lower end".to_owned(),
            FaultKind::StuckOn => "output stuck on".to_owned(),
            FaultKind::StuckOff => "output stuck off".to_owned(),
        }
    }

    fn is_analog(&self, station: &Station) -> bool {
        match self.place {
            Place::Device(index) => station
                .devices
                .get(index)
                .is_some_and(|device| matches!(device.form, DeviceForm::Analog { .. })),
            Place::Load(index) => {
                station.loads.get(index).is_some_and(|load| matches!(load.form, LoadForm::Analog { .. }))
            }
        }
    }
}

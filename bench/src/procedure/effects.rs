//! What a step did, in words that keep device, contact and terminal apart.

use latchwork_vm::Value;

use super::{bound::SetTarget, clock::Bench};
use crate::{
    diagram::words::value_text,
    panel::WiredDevice,
    recording::Contact,
    station::DeviceForm,
    wiring::{WiringFault, contact_closed},
};

impl Bench<'_> {
    /// What came of acting on a device, or of placing a fault on it.
    pub(super) fn effect_on_device(&self, device: usize) -> String {
        let Some(wired) = self.panel.devices().get(device) else { return String::new() };
        let reads = format!("{} reads {}", wired.device.terminal.text, reading(wired));
        match &wired.device.form {
            _ if wired.fault().is_some() => {
                let fault = wired.fault().map_or("", WiringFault::words);
                format!("{fault}: {reads}")
            }
            DeviceForm::TwoState { contact, actuated, released, .. } => {
                let is_actuated = wired.state().as_bool().unwrap_or(false);
                let word = if is_actuated { actuated } else { released };
                let kind = match contact {
                    Contact::NormallyOpen => "normally open",
                    Contact::NormallyClosed => "normally closed",
                };
                let closed = if contact_closed(*contact, is_actuated) { "closed" } else { "open" };
                format!("{word}, the {kind} contact is {closed}: {reads}")
            }
            DeviceForm::Analog { unit, .. } => {
                let unit = unit.as_ref().map_or(String::new(), |unit| format!(" {unit}"));
                format!("at {}{unit}: {reads}", value_text(wired.state()))
            }
        }
    }

    /// What came of setting something.
    pub(super) fn effect_of_setting(&self, target: &SetTarget) -> String {
        match target {
            SetTarget::Device(device) => self.effect_on_device(*device),
            SetTarget::Variable { variable, .. } => {
                format!("{} is {}", variable.name, value_text(&self.machine.read(variable)))
            }
            SetTarget::Plant(variable) => {
                let value = self.panel.plant_value(variable).as_ref().map(value_text).unwrap_or_default();
                format!("{} is {value}", variable.name)
            }
        }
    }
}

fn reading(wired: &WiredDevice<'_>) -> String {
    wired.terminal().map_or_else(|| "nothing".to_owned(), |value: Value| value_text(&value))
}

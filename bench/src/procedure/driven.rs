//! What the plant drives, which no step moves, and what of the plant a step may set.

use latchwork_grammar::{Diagnostic, Span};
use latchwork_vm::Resolved;

use super::bind::Binder;
use crate::{
    panel::{Place, WiredDevice},
    terminals::place_key,
};

impl Binder<'_, '_> {
    /// Why a step can not set something, if that is because of the plant.
    pub(super) fn follows_plant(&self, place: &Place, span: Span, name: &str) -> Option<Diagnostic> {
        let plant = self.outside.panel.plant()?;
        let (message, label) = match place {
            Place::Device(device) if plant.drives(*device) => (
                format!("the plant drives `{name}`"),
                "set a variable of the plant, or place a fault on the device",
            ),
            Place::Variable(variable) => {
                let device = self.wired_to(variable).filter(|(device, _)| plant.drives(*device))?;
                (
                    format!("`{name}` is wired to `{}`, which the plant drives", device.1.device.name.value),
                    "set a variable of the plant, or place a fault on the device",
                )
            }
            Place::Plant(variable) if plant.is_input(variable) => (
                format!("`{name}` is an input of the plant, which follows the panel"),
                "place a fault on the load instead",
            ),
            Place::Plant(variable) if variable.constant => {
                return Some(
                    Diagnostic::error("procedure-target", span, format!("`{name}` cannot be written"))
                        .label("set another variable of the plant"),
                );
            }
            _ => return None,
        };
        Some(Diagnostic::error("station-plant-driven", span, message).label(label))
    }

    /// The device whose terminal a variable is.
    fn wired_to(&self, variable: &Resolved) -> Option<(usize, &WiredDevice<'_>)> {
        let at = |wired: &WiredDevice<'_>| {
            wired.variable.as_ref().is_some_and(|other| place_key(other) == place_key(variable))
        };
        self.outside.panel.devices().iter().enumerate().find(|(_, wired)| at(wired))
    }
}

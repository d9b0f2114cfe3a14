//! A plant during a run: its machine, set by loads and acting on devices.

use std::sync::Arc;

use latchwork_vm::{ElementaryType, Fault, Machine, Resolved, ResolvedKind, Value};

use super::{WiredDevice, WiredLoad};
use crate::plant::Plant;

/// A plant in front of a panel.
#[derive(Clone)]
pub(super) struct Process<'s> {
    pub(super) plant: &'s Plant,
    pub(super) machine: Machine,
}

impl<'s> Process<'s> {
    /// After a cold start.
    pub(super) fn new(plant: &'s Plant) -> Self {
        Process { plant, machine: Machine::new(Arc::clone(plant.program())) }
    }

    /// Lets the loads set the inputs, and runs for `interval_ns` up to `until_ns`.
    pub(super) fn run(
        &mut self,
        loads: &[WiredLoad<'_>],
        controller: &Machine,
        interval_ns: i64,
        until_ns: i64,
    ) -> Result<(), Box<Fault>> {
        for (index, input) in self.plant.inputs() {
            if let Some(value) = loads.get(*index).and_then(|load| load.value(controller)) {
                self.set(input, value);
            }
        }
        if let Some(interval) = self.plant.interval() {
            let value = match interval.kind {
                ResolvedKind::Elementary(kind @ (ElementaryType::Time | ElementaryType::Ltime)) => {
                    Value::Duration(interval_ns, kind)
                }
                // Seconds; what an LREAL cannot hold of an interval is far below a nanosecond.
                _ => Value::Lreal(interval_ns as f64 / 1e9),
            };
            self.set(interval, value);
        }
        self.machine.scan(until_ns).map(|_| ())
    }

    /// Sets an input; one of type REAL to the nearest number.
    fn set(&mut self, input: &Resolved, value: Value) {
        let value = match value {
            Value::Lreal(number) if input.kind == ResolvedKind::Elementary(ElementaryType::Real) => {
                Value::Real(number as f32)
            }
            value => value,
        };
        // The types were compared when the plant was wired.
        let _ = self.machine.write(input, &value);
    }

    /// Lets the outputs act on the devices.
    pub(super) fn act(&self, devices: &mut [WiredDevice<'_>]) {
        for (index, output) in self.plant.outputs() {
            let Some(device) = devices.get_mut(*index) else { continue };
            let state = match self.machine.read(output) {
                Value::Bool(actuated) => Some(Value::Bool(actuated)),
                number => number.as_f64().map(Value::Lreal),
            };
            if let Some(state) = state {
                device.act(&state);
            }
        }
    }

    /// Drives the terminals of the devices it acts on.
    pub(super) fn drive(&self, devices: &[WiredDevice<'_>], controller: &mut Machine) {
        for (index, _) in self.plant.outputs() {
            if let Some(device) = devices.get(*index) {
                device.drive(controller);
            }
        }
    }
}

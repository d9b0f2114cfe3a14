//! What comes from outside of the program: devices, terminals, whoever sets a variable; and what was there from the start.

use latchwork_compiler::logic::PartValue;
use latchwork_vm::Value;

use super::{
    Cause, DeviceState, Reason,
    derive::{Derivation, Seen},
};
use crate::{
    recording::Contact,
    station::{Device, DeviceForm},
    terminals::{Direction, direction, terminal_number},
    wiring::contact_closed,
};

impl Derivation<'_> {
    /// A variable that no statement of the program wrote.
    pub(super) fn outside(&self, seen: &Seen, since: Option<u32>) -> Reason {
        let cause = self.source(seen, since);
        self.about(seen, since, cause)
    }

    fn source(&self, seen: &Seen, since: Option<u32>) -> Cause {
        let names = &self.reasoner.names;
        if let Some(cause) = names.device(seen.address).and_then(|index| self.device(index, seen)) {
            return cause;
        }
        let named = names.at(seen.address, seen.bytes);
        if let Some(named) = named {
            let variable = &named.variable;
            match direction(self.evidence.program, variable) {
                Direction::Constant => return Cause::Constant,
                Direction::Input => {
                    if let Some(location) = &variable.location {
                        return Cause::Terminal(location.clone());
                    }
                }
                Direction::Output | Direction::ReadOnly | Direction::Other => {}
            }
        }
        let restart = self.evidence.account.last_restart(seen.before.scan);
        match (since, restart) {
            (None, None) => Cause::Initial,
            (since, Some(restart)) if since.is_none_or(|since| since <= restart) => {
                if self.is_retained(seen.address) && since != Some(restart) {
                    Cause::Retained
                } else {
                    Cause::Restarted
                }
            }
            (None, Some(_)) => Cause::Initial,
            (Some(_), _) => Cause::Set,
        }
    }

    /// The device that a terminal is wired to, as it was in a scan.
    fn device(&self, index: usize, seen: &Seen) -> Option<Cause> {
        let device = self.evidence.station?.devices.get(index)?;
        let row = self.reasoner.names.rows.get(index).copied().flatten();
        let signal = row.and_then(|row| self.evidence.recording?.rows.get(row)).map(|row| &row.signal);
        let scan = seen.before.scan;
        let change = signal.and_then(|signal| signal.changes.in_force(scan));
        let level = seen.value.map(|value| value & 1 == 1);
        let state = match (&change, &device.form) {
            (Some(change), _) => change.value.clone(),
            // Not recorded: as its terminal shows, if nothing is wrong with the wiring.
            (None, DeviceForm::TwoState { contact, .. }) => {
                Value::Bool(level? == (*contact == Contact::NormallyOpen))
            }
            (None, DeviceForm::Analog { .. }) => return None,
        };
        let next = signal.and_then(|signal| signal.changes.after(scan).next());
        let since = change.map(|change| change.scan).filter(|scan| *scan > 0);
        let until = next.map(|change| change.scan).filter(|scan| *scan <= self.asked);
        let (contact, handled) = match &device.form {
            DeviceForm::TwoState { contact, actuated, .. } => {
                (Some(*contact), matches!(actuated.as_str(), "pressed" | "turned"))
            }
            DeviceForm::Analog { .. } => (None, false),
        };
        let fault = match (contact, &state, level) {
            (Some(contact), Value::Bool(actuated), Some(level))
                if contact_closed(contact, *actuated) != level =>
            {
                Some(device.fault.map_or("a fault in its wiring", |fault| fault.words()).to_owned())
            }
            (None, ..) => match device.fault {
                Some(fault) => Some(fault.words().to_owned()),
                None => is_elsewhere(device, &state, seen).then(|| "a fault in its wiring".to_owned()),
            },
            _ => None,
        };
        Some(Cause::Device(DeviceState {
            name: device.name.value.clone(),
            contact,
            state: state_text(device, &state),
            handled,
            since: since.map(|scan| self.reasoner.instant(scan)),
            until: until.map(|scan| self.reasoner.instant(scan)),
            fault,
        }))
    }
}

/// Whether the terminal of an analog device reads another number than the device gives.
fn is_elsewhere(device: &Device, state: &Value, seen: &Seen) -> bool {
    let (DeviceForm::Analog { scaling, .. }, PartValue::Elementary(kind)) = (&device.form, &seen.kind) else {
        return false;
    };
    let given = state.as_f64().map(|state| scaling.raw_value(state));
    let given = given.and_then(|number| terminal_number(number, *kind, scaling.is_signed()));
    let read = seen.value.and_then(|bits| Value::from_bits(bits, *kind));
    let (Some(given), Some(read)) =
        (given.and_then(|value| value.as_f64()), read.and_then(|value| value.as_f64()))
    else {
        return false;
    };
    // A terminal of a real type rounds.
    (given - read).abs() > 1.0_f64.min((scaling.raw.1 - scaling.raw.0).abs() / 1000.0)
}

/// What a device is or does, in its own words.
pub(super) fn state_text(device: &Device, state: &Value) -> String {
    match (&device.form, state) {
        (DeviceForm::TwoState { actuated, .. }, Value::Bool(true)) => actuated.clone(),
        (DeviceForm::TwoState { actuated, released, .. }, Value::Bool(false)) => {
            if released == "released" {
                format!("not {actuated}")
            } else {
                released.clone()
            }
        }
        (DeviceForm::Analog { unit: Some(unit), .. }, state) => format!("{} {unit}", rounded(state)),
        (_, state) => rounded(state),
    }
}

/// A measured value with as many places as anybody reads.
fn rounded(value: &Value) -> String {
    let Value::Lreal(number) = value else { return value.to_string() };
    let text = format!("{number:.4}");
    let text = text.trim_end_matches('0');
    if text.ends_with('.') { format!("{text}0") } else { text.to_owned() }
}

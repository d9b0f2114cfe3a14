//! What is done to a device, in a sentence that a person can follow.

use latchwork_vm::Value;

use super::{
    text::Text,
    words::{self, stopwatch},
};
use crate::{
    diagram::words::{crop, harmless},
    station::{Action, Device, DeviceForm},
};

/// Longest label in a sentence, in characters; the list of devices has the whole.
const LABEL_MAX: usize = 60;

/// A push of a button that is shorter is called brief.
const SHORT_NS: i64 = 350_000_000;

/// "**StartPB** (start, green push button)".
pub(super) fn named(device: &Device) -> Text {
    let text = Text::default().name(&device.name.value);
    match &device.label {
        Some(label) => text.words(&format!(" ({})", crop(label, LABEL_MAX, '…'))),
        None => text,
    }
}

/// Bringing a device to a state or value.
pub(super) fn bring(device: &Device, what: Text, value: &Value) -> Text {
    match (&device.form, value) {
        (DeviceForm::TwoState { action, .. }, Value::Bool(is_actuated)) => {
            let word = harmless(device.word_of_state(*is_actuated));
            let stays = *action == Action::Maintained;
            match (device.word_of_state(true), is_actuated) {
                ("pressed", true) if stays => Text::new("Press ").then(what).words(" so that it stays in"),
                ("pressed", true) => Text::new("Press ").then(what).words(" and hold it"),
                ("pressed", false) if stays => Text::new("Release ").then(what),
                ("pressed", false) => Text::new("Let go of ").then(what),
                ("turned", true) => Text::new("Turn ").then(what),
                ("turned", false) => Text::new("Turn ").then(what).words(" back"),
                (_, true) if !stays => {
                    Text::new("Bring ").then(what).words(&format!(" to “{word}” and hold it there"))
                }
                (_, false) if !stays => Text::new("Let ").then(what).words(&format!(" go back to “{word}”")),
                _ => Text::new("Bring ").then(what).words(&format!(" to “{word}”")),
            }
        }
        (_, value) => {
            let value = value.as_f64().map_or_else(String::new, |value| words::device_value(device, value));
            Text::new("Set ").then(what).words(&format!(" to {value}"))
        }
    }
}

/// Actuating devices for a time.
pub(super) fn for_a_time(devices: &[&Device], hold_ns: i64) -> Text {
    let is_button = |device: &&Device| device.word_of_state(true) == "pressed";
    let names = |devices: &[&Device]| {
        Text::list(devices.iter().map(|device| Text::default().name(&device.name.value)).collect(), " and ")
    };
    let long = if hold_ns < SHORT_NS { "briefly".to_owned() } else { format!("for {}", stopwatch(hold_ns)) };
    if devices.iter().all(is_button) {
        let together = if devices.len() > 1 { " together" } else { "" };
        let it = if devices.len() > 1 { "them" } else { "it" };
        return Text::new("Press ")
            .then(names(devices))
            .words(&format!("{together} {long}, then let go of {it}"));
    }
    let states = devices.iter().map(|device| {
        Text::default()
            .name(&device.name.value)
            .words(&format!(" to “{}”", harmless(device.word_of_state(true))))
    });
    Text::new("Bring ").then(Text::list(states.collect(), " and ")).words(&format!(" {long}, then back"))
}

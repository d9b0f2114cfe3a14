//! Effects, acts and places in words.

use latchwork_grammar::{Sources, Span};
use latchwork_vm::Value;

use crate::{
    diagram::{
        scale::time_text,
        words::{crop, harmless, value_text},
    },
    station::{Device, DeviceForm, LoadForm, Station},
    wiring_proof::{Change, Effect, Move, Notice},
};

/// What is said of a load that a fault does not change.
pub(super) const AS_BEFORE: &str = "as before";

/// Widest quotation of a step, in columns.
const STEP_COLUMNS_MAX: usize = 60;

/// What becomes of a load.
pub fn effect(effect: &Effect, load: usize, station: &Station) -> String {
    if effect.is_as_before() {
        return AS_BEFORE.to_owned();
    }
    let changes = effect.changes.iter().map(|what| change(what, load, station));
    changes.collect::<Vec<_>>().join("; ")
}

fn change(change: &Change, load: usize, station: &Station) -> String {
    let until = |to_ns: &Option<i64>| match to_ns {
        Some(to_ns) => format!("to {}", time_text(*to_ns)),
        None => "to the end".to_owned(),
    };
    match change {
        Change::NeverRuns => "never runs".to_owned(),
        Change::StopsEarlier { at_ns } => format!("stops earlier, at {}", time_text(*at_ns)),
        Change::DoesNotRun { from_ns, to_ns } => {
            format!("does not run from {} to {}", time_text(*from_ns), time_text(*to_ns))
        }
        Change::RunsOn { from_ns, to_ns, although: Some((device, state)) } => format!(
            "runs on although {}, from {} {}",
            done(*device, state, station),
            time_text(*from_ns),
            until(to_ns)
        ),
        Change::RunsOn { from_ns, to_ns, although: None } => {
            format!("runs on, from {} {}", time_text(*from_ns), until(to_ns))
        }
        Change::RunsWrongly { from_ns, to_ns } => {
            format!("runs when it should not, from {} {}", time_text(*from_ns), until(to_ns))
        }
        Change::OtherValue { from_ns, value, sound } => {
            let unit = match station.loads.get(load).map(|load| &load.form) {
                Some(LoadForm::Analog { unit: Some(unit), .. }) => format!(" {}", harmless(unit)),
                _ => String::new(),
            };
            let from = time_text(*from_ns);
            format!("{}{unit} instead of {}{unit}, from {from}", number(*value), number(*sound))
        }
    }
}

/// A value with three decimal places at most.
fn number(value: f64) -> String {
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// "StopPB is pressed", "Level is at 80.0".
fn done(device: usize, state: &Value, station: &Station) -> String {
    let Some(device) = station.devices.get(device) else { return String::new() };
    let name = harmless(&device.name.value);
    match state {
        Value::Bool(actuated) => format!("{name} is {}", harmless(device.word_of_state(*actuated))),
        value => format!("{name} is at {}", value_text(value)),
    }
}

/// "StopPB is pressed", "Level rises".
pub fn act(device: usize, act: Move, station: &Station) -> String {
    let Some(device) = station.devices.get(device) else { return String::new() };
    let name = harmless(&device.name.value);
    match act {
        Move::To(actuated) => format!("{name} is {}", harmless(device.word_of_state(actuated))),
        Move::Up => format!("{name} rises"),
        Move::Down => format!("{name} falls"),
    }
}

/// The name of a load.
pub fn load(load: usize, station: &Station) -> String {
    station.loads.get(load).map_or_else(String::new, |load| harmless(&load.name.value))
}

/// The name of a device.
pub fn device(device: usize, station: &Station) -> String {
    station.devices.get(device).map_or_else(String::new, |device| harmless(&device.name.value))
}

/// Whether the contact of a device is an analog signal.
pub(super) fn is_analog(device: &Device) -> bool {
    matches!(device.form, DeviceForm::Analog { .. })
}

/// Whether the procedure notices a fault, and where.
pub fn notice(notice: &Notice, sources: &Sources) -> String {
    match notice {
        Notice::Noticed { step, .. } => format!("fails at {}", place(*step, sources)),
        Notice::Unnoticed => "goes unnoticed".to_owned(),
        Notice::CannotTell => "fails anyway".to_owned(),
    }
}

/// "line 14: expect NOT P1".
pub fn place(step: Span, sources: &Sources) -> String {
    let text = sources.text(step).split_whitespace().collect::<Vec<_>>().join(" ");
    // The words in front of a block and a hint are enough.
    let head = [" while ", " hint "]
        .iter()
        .fold(text.as_str(), |text, word| text.split(word).next().unwrap_or(text));
    let shown = crop(&harmless(head.trim_end_matches(';')), STEP_COLUMNS_MAX, '…');
    format!("line {}: {shown}", line(step, sources))
}

/// The line of a place, from 1.
pub fn line(step: Span, sources: &Sources) -> usize {
    let text = &sources.file(step.file).text;
    let before = text.get(..step.start as usize).unwrap_or(text);
    before.bytes().filter(|byte| *byte == b'\n').count() + 1
}

//! The devices and loads of a station with their terminals, and what the terminals read.

use std::sync::Arc;

use latchwork_vm::{Machine, Value};

use super::words;
use crate::{
    address::Address,
    diagram::words::harmless,
    panel::Panel,
    recording::Contact,
    station::{Action, Device, DeviceForm, Load, LoadForm, Placed, Station, Terminal, WireMarks},
    wiring_proof::observed::Board,
};

/// A device and its terminal.
#[derive(Clone, Debug, PartialEq)]
pub struct InputLine {
    /// Its name.
    pub name: String,
    /// Words for people.
    pub label: String,
    /// "normally closed, springs back"; for an analog device its range.
    pub form: String,
    /// Address, or the name of the variable.
    pub terminal: String,
    /// Where its wire ends on the strip; empty if unknown.
    pub strip: String,
    /// The label of its wire; empty if unknown.
    pub wire: String,
    /// What the terminal reads: at rest first.
    pub readings: Vec<Reading>,
    /// The process moves it.
    pub by_process: bool,
}

/// What a terminal reads in a state of its device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The state: "released", "12.5 %".
    pub state: String,
    /// What is read: "0", "6912".
    pub reads: String,
}

/// A load and its terminal.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputLine {
    /// Its name.
    pub name: String,
    /// Words for people.
    pub label: String,
    /// Lamp, motor, valve… and for an analog load its range.
    pub kind: String,
    /// Address, or the name of the variable.
    pub terminal: String,
    /// Where its wire ends on the strip; empty if unknown.
    pub strip: String,
    /// The label of its wire; empty if unknown.
    pub wire: String,
    /// What it does for what the output says.
    pub does: Vec<Reading>,
}

/// The devices of a board. What they read is what the bench lets them read.
pub(super) fn inputs(board: &Board<'_>) -> Vec<InputLine> {
    let mut panel = Panel::new(&board.program, Some(board.station));
    let mut machine = Machine::new(Arc::clone(&board.program));
    let mut lines = Vec::new();
    for (index, device) in board.station.devices.iter().enumerate() {
        let (form, states) = match &device.form {
            DeviceForm::TwoState { contact, action, .. } => {
                let contact = match contact {
                    Contact::NormallyOpen => "normally open",
                    Contact::NormallyClosed => "normally closed",
                };
                let action = match action {
                    Action::Momentary => "momentary",
                    Action::Maintained => "maintained",
                };
                (format!("{contact}, {action}"), vec![Value::Bool(false), Value::Bool(true)])
            }
            DeviceForm::Analog { scaling, unit, .. } => {
                let (low, high) = scaling.range;
                let unit = unit.as_deref().map_or(String::new(), |unit| format!(" {}", harmless(unit)));
                let ends = (words::to_set(low, scaling, None), words::to_set(high, scaling, None));
                let states = [low, middle(low, high), high].map(Value::Lreal);
                (format!("analog, {} to {}{unit}", ends.0, ends.1), states.to_vec())
            }
        };
        let mut readings = Vec::new();
        for state in &states {
            panel.act(index, state, &mut machine);
            let read = panel.devices().get(index).and_then(|wired| wired.terminal());
            let is_signed = matches!(&device.form, DeviceForm::Analog { scaling, .. } if scaling.is_signed());
            readings.push(Reading {
                state: state_text(device, state),
                reads: read.map_or_else(|| "–".to_owned(), |read| words::reading(&read, is_signed)),
            });
        }
        lines.push(InputLine {
            name: harmless(&device.name.value),
            label: device.label.as_deref().map(harmless).unwrap_or_default(),
            form,
            terminal: terminal(&device.terminal),
            strip: mark(&device.marks, |marks| &marks.strip),
            wire: mark(&device.marks, |marks| &marks.wire),
            readings,
            by_process: board.station.process().is_some_and(|plant| plant.drives(index)),
        });
    }
    lines
}

/// The loads of a station.
pub(super) fn outputs(station: &Station) -> Vec<OutputLine> {
    let line = |load: &Load| {
        let kind = load.kind.as_deref().map(harmless).unwrap_or_default();
        let (kind, does) = match &load.form {
            LoadForm::TwoState => (kind, vec![of("off", "0"), of("on", "1")]),
            LoadForm::Analog { scaling, unit } => {
                let at = |value: f64| words::to_set(value, scaling, unit.as_deref());
                let ends = [(scaling.range.0, scaling.raw.0), (scaling.range.1, scaling.raw.1)];
                let does = ends.map(|(value, raw)| of(&at(value), &plain(raw)));
                let joint = if kind.is_empty() { "" } else { ", " };
                (format!("{kind}{joint}analog"), does.to_vec())
            }
        };
        OutputLine {
            name: harmless(&load.name.value),
            label: load.label.as_deref().map(harmless).unwrap_or_default(),
            kind,
            terminal: terminal(&load.terminal),
            strip: mark(&load.marks, |marks| &marks.strip),
            wire: mark(&load.marks, |marks| &marks.wire),
            does,
        }
    };
    station.loads.iter().map(line).collect()
}

/// The value in the middle of a range, however wide it is.
pub(super) fn middle(low: f64, high: f64) -> f64 {
    low / 2.0 + high / 2.0
}

/// A state or value of a device in words.
pub(super) fn state_text(device: &Device, value: &Value) -> String {
    match value {
        Value::Bool(is_actuated) => harmless(device.word_of_state(*is_actuated)),
        value => value.as_f64().map_or_else(String::new, |value| words::device_value(device, value)),
    }
}

fn of(state: &str, reads: &str) -> Reading {
    Reading { state: state.to_owned(), reads: reads.to_owned() }
}

fn plain(number: f64) -> String {
    let text = format!("{number:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn terminal(terminal: &Terminal) -> String {
    terminal.address.as_ref().map_or_else(|| harmless(&terminal.text), Address::to_string)
}

fn mark(marks: &WireMarks, which: impl Fn(&WireMarks) -> &Option<Placed<String>>) -> String {
    which(marks).as_ref().map(|mark| harmless(mark.value.trim())).unwrap_or_default()
}

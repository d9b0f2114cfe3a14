//! What the steps of all sheets have in common.

use latchwork_vm::{Fault, Value};

use super::{Part, SheetOptions, Told, behaviour::Behaviour, lists::state_text, text::Text};
use crate::{
    diagram::words::harmless,
    station::{Device, DeviceForm, Station},
};

/// The title of a sheet.
pub(super) fn title(station: &Station, options: &SheetOptions) -> String {
    let of_station = station.title.as_ref().map(|title| title.value.as_str());
    harmless(options.title.as_deref().or(of_station).unwrap_or(&options.names.program))
}

/// How a run is begun.
#[derive(Clone)]
pub(super) struct Start {
    /// Bringing everything to where it is at the start.
    position: Vec<Text>,
    again: bool,
}

impl Start {
    /// Of a station; `again` if something was done before, `faults` if faults may be left from that.
    pub(super) fn new(station: &Station, again: bool, faults: bool) -> Self {
        let faults = faults.then(|| Text::new("Take every fault away."));
        Start { position: faults.into_iter().chain([start_position(station, again)]).collect(), again }
    }

    /// The sentences. What else is done before the program is started stands between.
    pub(super) fn does(&self, before: Vec<Text>) -> Vec<Text> {
        let again = if self.again { " again" } else { "" };
        let start = if before.is_empty() {
            format!("Start the program{again} (cold start), and touch nothing.")
        } else {
            format!("With this done, start the program{again} (cold start).")
        };
        self.position.iter().cloned().chain(before).chain([Text::new(&start)]).collect()
    }
}

/// Everything where it is at the start.
fn start_position(station: &Station, again: bool) -> Text {
    let mut away = Vec::new();
    let is_moved = |index: usize| station.process().is_some_and(|plant| plant.drives(index));
    for (_, device) in station.devices.iter().enumerate().filter(|(index, _)| !is_moved(*index)) {
        if let Some(state) = start_away(device) {
            away.push(Text::default().name(&device.name.value).words(&format!(" at {state}")));
        }
    }
    let back = if again { " again" } else { "" };
    match away.is_empty() {
        true if again => Text::new("Bring every device back to rest."),
        true => Text::new("Leave every device at rest."),
        false => Text::new(&format!("Put the devices into their start position{back}: "))
            .then(Text::list(away, ", "))
            .words(", all others at rest."),
    }
}

/// The state of a device that is not at rest at the start.
fn start_away(device: &Device) -> Option<String> {
    match &device.form {
        DeviceForm::TwoState { start, .. } => {
            start.then(|| format!("“{}”", state_text(device, &Value::Bool(true))))
        }
        DeviceForm::Analog { start, .. } => Some(state_text(device, &Value::Lreal(*start))),
    }
}

/// What each load does between two moments.
pub(super) fn behaviours(
    station: &Station,
    histories: &[Vec<(i64, Value)>],
    span_ns: (i64, i64),
    scan_ns: i64,
) -> Vec<Behaviour> {
    let each = station.loads.iter().zip(histories);
    // A load whose output cannot drive it does nothing; the check of the station has said so.
    each.map(|(load, history)| {
        Behaviour::of(load, history, span_ns, scan_ns).unwrap_or(Behaviour::Stays(false))
    })
    .collect()
}

/// The remark that the simulation stopped.
pub(super) fn stopped(fault: &Fault, is_plant: bool) -> Text {
    let who = if is_plant { "The simulated process" } else { "The program" };
    let place = fault.place.as_ref().map_or(String::new(), |place| format!(", at {place}"));
    Text::new(&format!(
        "{who} stops here in the simulation: {}{place}. Nothing can be expected.",
        fault.message()
    ))
    .trouble()
}

/// Loads that are on in no step.
pub(super) fn never_on(station: &Station, parts: &[Part]) -> Vec<usize> {
    let steps = || parts.iter().flat_map(|part| &part.steps);
    let is_on = |(index, load)| {
        steps().any(|step| {
            step.expected.get(index).is_some_and(|behaviour: &Behaviour| behaviour.is_ever_on(load))
        })
    };
    station.loads.iter().enumerate().filter(|place| !is_on(*place)).map(|(index, _)| index).collect()
}

/// What the loads do, in words.
pub(super) fn told(station: &Station, expected: &[Behaviour]) -> Told {
    let mut told = Told::default();
    for (load, behaviour) in station.loads.iter().zip(expected) {
        let name = &load.name.value;
        let sentence = || Text::default().name(name).words(" ").then(behaviour.words(load)).words(".");
        match behaviour {
            Behaviour::Stays(true) => told.on.push(harmless(name)),
            Behaviour::Stays(false) => told.off.push(harmless(name)),
            Behaviour::Level(_) => told.levels.push(sentence()),
            Behaviour::Changes { .. } | Behaviour::Moves { .. } => told.changes.push(sentence()),
        }
    }
    told
}

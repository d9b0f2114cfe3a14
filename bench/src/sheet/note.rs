//! The table in which is noted what was seen, as `faults --observed` reads it.

use latchwork_vm::Value;

use super::{Sheet, Step};
use crate::station::Station;

/// Whether what is noted of a sheet can be given to the search for faults: every step does something to devices, in one
/// run from a cold start.
pub fn is_for_the_fault_finder(sheet: &Sheet) -> bool {
    let mut steps = sheet.steps();
    let first = steps.next().is_some_and(|step| step.acts.is_empty());
    first && steps.all(|step| !step.acts.is_empty() && !step.expected.is_empty())
}

/// The table: a row for each step with what is done and how long it takes; the cells of the loads are empty, or hold what is
/// expected. A load that blinks is left out, since nobody can say what it is at one moment.
pub fn note(sheet: &Sheet, station: &Station, filled: bool) -> String {
    let worked: Vec<usize> = (0..station.devices.len())
        .filter(|device| sheet.steps().any(|step| step.acts.iter().any(|(index, _)| index == device)))
        .collect();
    let devices = worked.iter().filter_map(|index| station.devices.get(*index));
    let names = devices.map(|device| device.name.value.as_str()).chain(["wait"]);
    let names = names.chain(station.loads.iter().map(|load| load.name.value.as_str()));
    let mut out = String::from(
        "# What was seen, step by step: on or off for each load, or its value; empty if nobody looked.\n",
    );
    out.push_str(&names.collect::<Vec<_>>().join(","));
    out.push('\n');
    for step in sheet.steps() {
        let mut cells: Vec<String> = worked.iter().map(|device| done(step, *device, station)).collect();
        cells.push(format!("T#{}s", step.watch.least_ns / 1_000_000_000));
        for (index, _) in station.loads.iter().enumerate() {
            let behaviour = step.expected.get(index).filter(|behaviour| filled && !behaviour.blinks());
            cells.push(behaviour.map_or_else(String::new, |behaviour| behaviour.end()));
        }
        out.push_str(&cells.join(","));
        out.push('\n');
    }
    out
}

/// The cell of a device.
fn done(step: &Step, device: usize, station: &Station) -> String {
    let Some((_, value)) = step.acts.iter().find(|(index, _)| *index == device) else { return String::new() };
    match value {
        Value::Bool(is_actuated) => {
            let word = station.devices.get(device).map_or("", |device| device.word_of_state(*is_actuated));
            // A word that would have to be quoted is written as a level.
            if word.chars().all(|letter| letter.is_alphanumeric() || letter == ' ') {
                word.to_owned()
            } else {
                u8::from(*is_actuated).to_string()
            }
        }
        value => value.as_f64().unwrap_or_default().to_string(),
    }
}

//! The program that does nothing: what a program must do better than.

use std::fmt::Write as _;

use crate::{
    exercise::Exercise,
    station::{DeviceForm, LoadForm, Station},
};

/// A program with all that an exercise requires to be there, on its panel, which never does anything.
pub fn program(exercise: &Exercise, station: Option<&Station>) -> String {
    let mut declared: Vec<String> = Vec::new();
    let mut lines = String::new();
    for variable in &exercise.variables {
        let kind = variable.kind.as_deref().unwrap_or("BOOL");
        let place = variable.address.as_ref().map_or_else(String::new, |address| format!(" AT {address}"));
        // Writing to a text never fails, here and below.
        let _ = writeln!(lines, "  {}{place} : {kind};", variable.name);
        declared.extend(variable.address.iter().map(|address| address.to_ascii_uppercase()));
    }
    let devices = station.into_iter().flat_map(|station| &station.devices);
    let devices =
        devices.map(|device| (&device.terminal.text, matches!(device.form, DeviceForm::TwoState { .. })));
    let loads = station.into_iter().flat_map(|station| &station.loads);
    let loads = loads.map(|load| (&load.terminal.text, matches!(load.form, LoadForm::TwoState)));
    for (number, (terminal, two_state)) in devices.chain(loads).enumerate() {
        let known = declared.contains(&terminal.to_ascii_uppercase());
        if known || !terminal.starts_with('%') {
            continue;
        }
        declared.push(terminal.to_ascii_uppercase());
        let kind = if two_state { "BOOL" } else { kind_of(terminal) };
        let _ = writeln!(lines, "  Terminal{number} AT {terminal} : {kind};");
    }
    let names: Vec<&str> = match exercise.programs.as_slice() {
        [] => vec!["Nothing"],
        names => names.iter().map(String::as_str).collect(),
    };
    let mut text = String::new();
    for (index, name) in names.iter().enumerate() {
        let lines = if index == 0 { lines.as_str() } else { "" };
        let _ = write!(text, "PROGRAM {name}\nVAR\n{lines}END_VAR\n  ;\nEND_PROGRAM\n");
    }
    text
}

/// A type for an analog terminal, by the size of its address.
fn kind_of(terminal: &str) -> &'static str {
    match terminal.chars().nth(2).map(|size| size.to_ascii_uppercase()) {
        Some('B') => "SINT",
        Some('D') => "DINT",
        Some('L') => "LINT",
        _ => "INT",
    }
}

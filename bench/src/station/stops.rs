//! Stop buttons that the program asks the wrong way round for their contacts.
//!
//! The compiler tells which level of an input stops what; the station tells what the terminal reads while nobody
//! touches the button. Where both are the same, what is stopped can never stay on. Only push buttons are judged:
//! a switch that stays, or a float, has no side that is its rest.

use std::collections::BTreeMap;

use latchwork_compiler::{
    allow::Allowances,
    stops::{Stop, StopForm},
};
use latchwork_grammar::Diagnostic;
use latchwork_vm::Program;

use super::{Action, Device, DeviceForm, Station};
use crate::{recording::Contact, terminals::place_key, wiring::contact_closed};

/// Most inputs of a program that are looked up: more than a station has devices.
const INPUTS_MAX: usize = 2_000;

impl Station {
    /// Stops that hold while nobody touches their button, but for those that the program allows; in the order of
    /// its text. The diagnostics point into the program and into the station file.
    pub fn check_stops(&self, program: &Program, stops: &[Stop], allowances: &Allowances) -> Vec<Diagnostic> {
        let place = |text: &str| program.resolve(text).ok().map(|found| place_key(&found));
        let buttons: Vec<_> = self
            .devices
            .iter()
            .filter_map(|device| Some((device, push_button(device)?, place(&device.terminal.text)?)))
            .collect();
        let mut found = Vec::new();
        if buttons.is_empty() {
            return found;
        }
        // Finding a variable takes a look at all of them.
        let mut known: BTreeMap<&str, Option<(u32, u8)>> = BTreeMap::new();
        for stop in stops {
            if known.len() >= INPUTS_MAX && !known.contains_key(stop.input.as_str()) {
                continue;
            }
            let input = *known.entry(&stop.input).or_insert_with(|| place(&stop.input));
            let Some(input) = input else { continue };
            let Some((device, contact, _)) = buttons.iter().find(|(_, _, terminal)| *terminal == input)
            else {
                continue;
            };
            // What the terminal reads at rest; a fault placed on the wiring is no reason to change the program.
            let rest = contact_closed(*contact, false);
            if rest == stop.level && !allowances.cover("station-stop-sense", stop.place) {
                found.push(diagnostic(stop, device, *contact, rest));
            }
        }
        found
    }
}

/// The contact of a device that is a push button: it springs back, and its actuated state is called so.
fn push_button(device: &Device) -> Option<Contact> {
    match &device.form {
        DeviceForm::TwoState { contact, action: Action::Momentary, actuated, .. }
            if actuated.to_lowercase().contains("press") =>
        {
            Some(*contact)
        }
        _ => None,
    }
}

fn diagnostic(stop: &Stop, device: &Device, contact: Contact, rest: bool) -> Diagnostic {
    let word = |level: bool| if level { "TRUE" } else { "FALSE" };
    let (name, target, terminal) = (&device.name.value, &stop.target, &device.terminal.text);
    let (form, remedy) = match contact {
        Contact::NormallyOpen => ("normally open", "normally closed"),
        Contact::NormallyClosed => ("normally closed", "normally open"),
    };
    let message = match stop.form {
        StopForm::SealIn => format!("`{target}` cannot stay on while nobody presses `{name}`"),
        StopForm::Reset => format!("`{target}` is reset in every scan in which nobody presses `{name}`"),
    };
    let mut diagnostic = Diagnostic::warning("station-stop-sense", stop.place, message)
        .label(format!("{} at rest, and that stops it", word(rest)))
        .also(device.terminal.span, format!("a {form} push button"))
        .note(format!(
            "the terminal `{terminal}` of a {form} button reads {} at rest and {} while it is pressed",
            word(rest),
            word(!rest)
        ));
    diagnostic = match (stop.form, rest) {
        (StopForm::SealIn, true) => diagnostic.note("ask for the input itself here, without NOT"),
        (StopForm::SealIn, false) => diagnostic.note(format!(
            "wire the button {remedy}, as is usual for a stop, so that a broken wire stops too; or put NOT in front"
        )),
        (StopForm::Reset, true) => diagnostic.note("put NOT in front of the input here"),
        (StopForm::Reset, false) => diagnostic
            .note(format!("take NOT away here, or wire the button {remedy}, so that a broken wire resets too")),
    };
    diagnostic
}

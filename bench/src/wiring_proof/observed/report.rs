//! Explanations of a checkout for people.

use std::fmt::Write as _;

use latchwork_vm::Value;

use super::{Board, Checkout, Explanation, NextStep, Seen};
use crate::{
    diagram::words::{harmless, value_text},
    station::Station,
    wiring_proof::{
        SingleFault,
        report::{CAUTIONS, grid::paragraph, words},
    },
};

/// Most explanations that are shown.
const SHOWN_MAX: usize = 5;

/// Most contradictions that are listed of one.
const CONTRADICTIONS_MAX: usize = 6;

/// The explanations of a checkout, the best first, with a next step.
pub fn text(
    board: &Board<'_>,
    checkout: &Checkout,
    explanations: &[Explanation],
    next: Option<&NextStep>,
    width: usize,
) -> String {
    let station = board.station;
    let width = width.clamp(60, 100);
    let title = station.title.as_ref().map_or("the station", |title| title.value.as_str());
    let (steps, observations) = (checkout.steps.len(), checkout.observations());
    let plural = |count: usize| if count == 1 { "" } else { "s" };
    let mut out = paragraph(
        "",
        &format!(
            "What explains the checkout of {}: {steps} step{}, {observations} observation{}",
            harmless(title),
            plural(steps),
            plural(observations)
        ),
        width,
    );
    out.push('\n');
    let least = explanations.first().map_or(0, |best| best.contradictions.len());
    if least > 0 {
        let sentence = "No single fault explains everything: there may be two faults, a slip in the notes, or another program on the controller. The nearest ones:";
        out.push_str(&paragraph("", sentence, width));
    }
    // Those that explain as much as the best one are shown all; of the others, a few.
    let best = explanations.iter().take_while(|found| found.contradictions.len() == least).count();
    for (index, found) in explanations.iter().take(best.max(SHOWN_MAX)).enumerate() {
        let number = format!("{:>2}. ", index + 1);
        out.push_str(&paragraph(&number, &explanation_words(found, checkout, station), width));
    }
    let faults = explanations.first().map_or(0, |best| best.faults.len());
    if faults > 1 || best > 1 {
        out.push('\n');
        let sentence = match next {
            Some(next) => next_words(next, station),
            None => "No single act on a device tells the first ones apart by the loads: measure at the terminals, \
                     with the supply locked out where a hand goes in."
                .to_owned(),
        };
        out.push_str(&paragraph("", &sentence, width));
    }
    out.push('\n');
    for caution in CAUTIONS {
        out.push_str(&paragraph("", caution, width));
    }
    out
}

/// An explanation in a sentence.
pub fn explanation_words(found: &Explanation, checkout: &Checkout, station: &Station) -> String {
    let faults = names(&found.faults, station);
    let count = found.contradictions.len();
    let mut sentence = if count == 0 {
        format!("{faults} - explains everything that was seen")
    } else {
        let lines = found.contradictions.iter().take(CONTRADICTIONS_MAX).map(|contradiction| {
            let line = checkout.steps.get(contradiction.step).map_or(0, |step| step.line);
            let load = words::load(contradiction.load, station);
            format!("line {line}, where {load} was {}", seen_words(contradiction.seen))
        });
        let mut lines: Vec<String> = lines.collect();
        if count > CONTRADICTIONS_MAX {
            lines.push(format!("{} more", count - CONTRADICTIONS_MAX));
        }
        format!("{faults} - contradicted by {}", lines.join("; "))
    };
    if found.faults.len() > 1 {
        let _ = write!(sentence, ". This checkout cannot tell them apart");
    }
    sentence.push('.');
    sentence
}

/// What was seen, in words.
pub fn seen_words(seen: Seen) -> String {
    match seen {
        Seen::Works(true) => "on".to_owned(),
        Seen::Works(false) => "off".to_owned(),
        Seen::Near(value) => format!("at {value}"),
    }
}

fn next_words(next: &NextStep, station: &Station) -> String {
    let Some(device) = station.devices.get(next.device) else { return String::new() };
    let state = match &next.to {
        Value::Bool(actuated) => harmless(device.word_of_state(*actuated)),
        value => value_text(value),
    };
    format!(
        "Next step: bring {} to '{state}' and look at {}. It is on with {}; it is off with {}.",
        harmless(&device.name.value),
        words::load(next.load, station),
        names(&next.on, station),
        names(&next.off, station)
    )
}

/// "S1: open wire, or stuck at turned; or H1: open wire".
fn names(faults: &[Option<SingleFault>], station: &Station) -> String {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for fault in faults {
        let Some(fault) = fault else {
            groups.push(("no fault".to_owned(), Vec::new()));
            continue;
        };
        let (name, words) = (harmless(fault.name(station)), harmless(&fault.words(station)));
        match groups.iter_mut().find(|group| group.0 == name) {
            Some(group) => group.1.push(words),
            None => groups.push((name, vec![words])),
        }
    }
    let one = |(name, words): &(String, Vec<String>)| match words.is_empty() {
        true => name.clone(),
        false => format!("{name}: {}", words.join(", or ")),
    };
    groups.iter().map(one).collect::<Vec<_>>().join("; or ")
}

//! The three questions and their answers in plain sentences.

use super::{FileProof, VariantProof, sheet::listed, words};
use crate::{
    diagram::scale::time_text,
    recording::Contact,
    station::DeviceForm,
    wiring_proof::{BrokenWire, Move, SingleFault, answers::LeftRunning},
};

/// A question with its answers, each a sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// The question.
    pub question: &'static str,
    /// The answers.
    pub answers: Vec<String>,
}

/// The questions in their order, answered for one program.
pub fn questions(proof: &FileProof<'_>, variant: &VariantProof<'_>) -> Vec<Question> {
    vec![
        Question {
            question: "Which faults leave a load running that a person is trying to stop?",
            answers: left_running(proof, variant),
        },
        Question { question: "Which faults does no procedure notice?", answers: unnoticed(proof, variant) },
        Question {
            question: "Does a broken wire stop what its device stops?",
            answers: broken_wires(proof, variant),
        },
    ]
}

fn left_running(proof: &FileProof<'_>, variant: &VariantProof<'_>) -> Vec<String> {
    let (station, answers) = (proof.station, &variant.answers);
    if answers.broken_wires.is_empty() && answers.left_running.is_empty() {
        return vec![no_stop(proof, variant)];
    }
    let mut sentences = Vec::new();
    let key = |left: &LeftRunning| (left.load, left.device, left.act);
    let mut rest = answers.left_running.as_slice();
    while let Some(first) = rest.first() {
        let count = rest.iter().take_while(|left| key(left) == key(first)).count();
        let (group, after) = rest.split_at(count);
        rest = after;
        let faults: Vec<SingleFault> = group.iter().map(|left| left.fault).collect();
        let mut sentence = format!(
            "{} runs on although {}: {}.",
            words::load(first.load, station),
            words::act(first.device, first.act, station),
            listed(&faults, proof)
        );
        let hidden: Vec<SingleFault> =
            group.iter().filter(|left| !left.noticed).map(|left| left.fault).collect();
        if !hidden.is_empty() {
            sentence.push_str(&format!(" NO PROCEDURE NOTICES: {}.", listed(&hidden, proof)));
        }
        sentences.push(sentence);
    }
    if sentences.is_empty() {
        sentences.push("None of those tried.".to_owned());
    }
    sentences
}

fn no_stop(proof: &FileProof<'_>, variant: &VariantProof<'_>) -> String {
    let loads = (0..proof.station.loads.len()).collect::<Vec<_>>();
    let moving = loads.iter().any(|load| crate::wiring_proof::stop::moves(proof.station, *load));
    if !moving {
        return "None: every load here only tells something, and nothing moves.".to_owned();
    }
    let stopped = match variant.answers.never_run.is_empty() {
        true => "in no procedure does acting on a device make a load that moves go off",
        false => "no procedure lets a load that moves run and then stops it by acting on a device",
    };
    format!("Cannot be told: {stopped}. Write a procedure that starts and stops it.")
}

fn unnoticed(proof: &FileProof<'_>, variant: &VariantProof<'_>) -> Vec<String> {
    let answers = &variant.answers;
    let mut sentences = Vec::new();
    if answers.failing == answers.procedures {
        return vec!["Cannot be told: every procedure fails without any fault already.".to_owned()];
    }
    if answers.failing > 0 {
        let few = if answers.failing == 1 { "1 procedure fails" } else { "Some procedures fail" };
        sentences.push(format!("{few} without any fault already; the others count."));
    }
    let of = |changes: bool| -> Vec<SingleFault> {
        answers.unnoticed.iter().filter(|found| found.changes == changes).map(|found| found.fault).collect()
    };
    let (changing, idle) = (of(true), of(false));
    if !changing.is_empty() {
        let list = listed(&changing, proof);
        sentences.push(format!("Unnoticed although they change what a load does: {list}."));
    }
    if !idle.is_empty() {
        let list = listed(&idle, proof);
        sentences.push(format!("Unnoticed and without effect in these procedures: {list}."));
    }
    if changing.is_empty() && idle.is_empty() {
        sentences.push("None: every single fault makes some procedure fail.".to_owned());
    }
    sentences
}

fn broken_wires(proof: &FileProof<'_>, variant: &VariantProof<'_>) -> Vec<String> {
    let (station, answers) = (proof.station, &variant.answers);
    let mut sentences: Vec<String> =
        answers.broken_wires.iter().map(|wire| broken_wire(proof, wire)).collect();
    for (device, act, load) in &answers.starts_too {
        sentences.push(format!(
            "{} stops when {}, but that starts a load too; a start has a normally open contact, so {} is not judged as a stop.",
            words::load(*load, station),
            words::act(*device, *act, station),
            words::device(*device, station)
        ));
    }
    if sentences.is_empty() {
        sentences.push("No device was found that stops a load that moves.".to_owned());
    }
    sentences
}

fn broken_wire(proof: &FileProof<'_>, wire: &BrokenWire) -> String {
    let station = proof.station;
    let (device, load) = (words::device(wire.device, station), words::load(wire.load, station));
    if wire.stops {
        return format!("{load}: the load drops when the wire of {device} breaks.");
    }
    let found = station.devices.get(wire.device);
    let cannot = format!("a broken wire at {device} cannot stop {load}");
    let why = match found.map(|device| &device.form) {
        Some(DeviceForm::TwoState { contact: Contact::NormallyOpen, .. }) if wire.act == Move::To(true) => {
            "it is wired normally open, and the wire can break without being noticed; wire it normally closed"
                .to_owned()
        }
        Some(DeviceForm::TwoState { contact: Contact::NormallyClosed, .. })
            if wire.act == Move::To(false) =>
        {
            "it is wired normally closed, and its contact closes to stop; wire it normally open, unless the load is \
             to run when in doubt"
                .to_owned()
        }
        _ if found.is_some_and(words::is_analog) => {
            "without current its terminal reads 0, which does not stop the load; let the program take a signal \
             below its live zero for a fault"
                .to_owned()
        }
        _ => "its contact opens as it does to stop, but the program wants more than that".to_owned(),
    };
    let title = proof.titles.get(wire.procedure).copied().unwrap_or("");
    format!(
        "Danger: {cannot}: {why}. (Shown in '{}': the wire breaks at {}, while {load} runs.)",
        crate::diagram::words::harmless(title),
        time_text(wire.broken_ns)
    )
}

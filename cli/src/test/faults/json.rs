//! The proof as one JSON document. Members may be added; none is renamed or removed without a new `schema_version`.

use latchwork_bench::wiring_proof::{
    FaultRun, Notice,
    report::{self, CAUTIONS, FileProof, VariantProof, words},
};
use latchwork_grammar::Sources;
use serde_json::{Value, json};

use crate::test::json::pretty;

const SCHEMA_VERSION: u32 = 1;

/// The document.
pub(super) fn document(files: Vec<Value>) -> String {
    pretty(&json!({ "schema_version": SCHEMA_VERSION, "files": files, "notes": CAUTIONS }))
}

/// The proof of a file.
pub(super) fn file(proof: &FileProof<'_>, sources: &Sources) -> Value {
    let variants: Vec<Value> = proof.variants.iter().map(|found| variant(proof, found, sources)).collect();
    json!({
        "file": proof.file,
        "station": proof.station.title.as_ref().map(|title| title.value.as_str()),
        "variants": variants,
    })
}

fn variant(proof: &FileProof<'_>, variant: &VariantProof<'_>, sources: &Sources) -> Value {
    let station = proof.station;
    let procedures: Vec<Value> = proof
        .titles
        .iter()
        .zip(&variant.procedures)
        .map(|(title, (sound, runs))| {
            json!({
                "title": title,
                "passes_without_fault": sound.failed.is_none(),
                "fails_at_line": sound.failed.map(|(step, _)| words::line(step, sources)),
                "faults": runs.iter().map(|run| fault_run(proof, run, sources)).collect::<Vec<_>>(),
            })
        })
        .collect();
    let questions: Vec<Value> = report::questions(proof, variant)
        .into_iter()
        .map(|question| json!({ "question": question.question, "answers": question.answers }))
        .collect();
    let answers = &variant.answers;
    let left: Vec<Value> = answers
        .left_running
        .iter()
        .map(|left| {
            json!({
                "place": left.fault.name(station),
                "fault": left.fault.words(station),
                "although": words::act(left.device, left.act, station),
                "load": words::load(left.load, station),
                "noticed": left.noticed,
                "procedure": proof.titles.get(left.procedure),
                "at_ns": left.at_ns,
            })
        })
        .collect();
    let unnoticed: Vec<Value> = answers
        .unnoticed
        .iter()
        .map(|found| {
            json!({
                "place": found.fault.name(station),
                "fault": found.fault.words(station),
                "changes_a_load": found.changes,
            })
        })
        .collect();
    let wires: Vec<Value> = answers
        .broken_wires
        .iter()
        .map(|wire| {
            json!({
                "device": words::device(wire.device, station),
                "stops_when": words::act(wire.device, wire.act, station),
                "load": words::load(wire.load, station),
                "broken_wire_stops": wire.stops,
                "procedure": proof.titles.get(wire.procedure),
                "broken_ns": wire.broken_ns,
            })
        })
        .collect();
    json!({
        "program": variant.program,
        "procedures": procedures,
        "left_running": left,
        "unnoticed": unnoticed,
        "broken_wires": wires,
        "dangerous": answers.is_dangerous(),
        "questions": questions,
    })
}

fn fault_run(proof: &FileProof<'_>, run: &FaultRun, sources: &Sources) -> Value {
    let station = proof.station;
    let effects: Vec<Value> = run
        .effects
        .iter()
        .enumerate()
        .map(|(load, effect)| {
            json!({
                "load": words::load(load, station),
                "as_before": effect.is_as_before(),
                "effect": words::effect(effect, load, station),
            })
        })
        .collect();
    let (notice, line, time_ns) = match run.notice {
        Notice::Noticed { step, time_ns } => ("noticed", Some(words::line(step, sources)), Some(time_ns)),
        Notice::Unnoticed => ("unnoticed", None, None),
        Notice::CannotTell => ("cannot be told", None, None),
    };
    json!({
        "place": run.fault.name(station),
        "fault": run.fault.words(station),
        "loads": effects,
        "procedure": notice,
        "fails_at_line": line,
        "fails_at_ns": time_ns,
    })
}

//! `latchwork faults --observed`: what was seen on a real board, and the faults that would explain it.

use std::path::Path;

use latchwork_bench::wiring_proof::{
    SingleFault,
    observed::{self, Board, Checkout, Explanation, NextStep, OBSERVED_BYTES_MAX},
    report::{CAUTIONS, words},
};
use latchwork_grammar::Sources;
use serde_json::{Value, json};

use super::arguments::{FaultsArguments, ProofForm};
use crate::{
    exit::{Exit, Failure},
    files,
    terminal::Terminal,
    test::{board, json::pretty, suite::Shared},
};

const SCHEMA_VERSION: u32 = 1;

/// Explains a checkout; program and station are given.
pub(super) fn run(
    path: &Path,
    arguments: &FaultsArguments,
    shared: &mut Shared,
    terminal: &mut Terminal,
) -> Result<Exit, Failure> {
    let Some(station_path) = &arguments.bench.station else {
        return Err(Failure::usage("a checkout needs --station"));
    };
    let read = board::read(station_path, &arguments.bench.program, arguments.language, shared, terminal)?;
    let Some(board) = read.board() else { return Err(Failure::shown(Exit::Usage)) };
    let (station, scan_ns) = (board.station, board.scan_ns);
    if station.loads.is_empty() {
        return Err(Failure::usage(format!(
            "{}: the station has no loads; describe what the outputs drive, below headings `[[load]]`",
            station_path.display()
        )));
    }
    let text = files::text_file(path, OBSERVED_BYTES_MAX, "a table of what was seen")?;
    let mut sources = Sources::new();
    let file = sources.add(crate::program::name(path), text);
    let (checkout, problems) = observed::read(file, &sources.file(file).text, station, scan_ns);
    let Some(checkout) = checkout else {
        return Err(board::shown(&problems, &sources, Exit::Usage, terminal));
    };
    let explanations = observed::explain(&board, &checkout);
    let least = explanations.first().map_or(0, |best| best.contradictions.len());
    let best = explanations.iter().take_while(|found| found.contradictions.len() == least);
    let faults: Vec<Option<SingleFault>> = best.flat_map(|found| found.faults.iter().copied()).collect();
    let next = observed::next_step(&board, &checkout, &faults);
    let told = match arguments.format {
        ProofForm::Json => json(&board, &checkout, &explanations, next.as_ref()),
        ProofForm::Text | ProofForm::Markdown => {
            observed::text(&board, &checkout, &explanations, next.as_ref(), terminal.columns())
        }
    };
    terminal.result(&told)?;
    // Sound wiring explains everything.
    let sound = faults.contains(&None) && least == 0;
    Ok(if sound { Exit::Good } else { Exit::Findings })
}

fn json(
    board: &Board<'_>,
    checkout: &Checkout,
    explanations: &[Explanation],
    next: Option<&NextStep>,
) -> String {
    let station = board.station;
    let faults = |faults: &[Option<SingleFault>]| -> Vec<Value> {
        let one = |fault: &Option<SingleFault>| match fault {
            Some(fault) => json!({ "place": fault.name(station), "fault": fault.words(station) }),
            None => json!({ "place": null, "fault": "no fault" }),
        };
        faults.iter().map(one).collect()
    };
    let explained: Vec<Value> = explanations
        .iter()
        .map(|found| {
            let contradictions: Vec<Value> = found
                .contradictions
                .iter()
                .map(|contradiction| {
                    json!({
                        "line": checkout.steps.get(contradiction.step).map(|step| step.line),
                        "load": words::load(contradiction.load, station),
                        "seen": observed::seen_words(contradiction.seen),
                    })
                })
                .collect();
            json!({ "faults": faults(&found.faults), "contradictions": contradictions })
        })
        .collect();
    let next = next.map(|next| {
        json!({
            "device": words::device(next.device, station),
            "to": next.to.to_string(),
            "load": words::load(next.load, station),
            "on": faults(&next.on),
            "off": faults(&next.off),
        })
    });
    pretty(&json!({
        "schema_version": SCHEMA_VERSION,
        "observations": checkout.observations(),
        "explanations": explained,
        "next_step": next,
        "notes": CAUTIONS,
    }))
}

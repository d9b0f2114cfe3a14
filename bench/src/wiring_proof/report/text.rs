//! The proof as text for a terminal.

use super::{
    CAUTIONS, FileProof, ProofOptions,
    grid::{paragraph, table},
    sentences::{Question, questions},
    sheet::{Sheet, sheets},
    words,
};
use crate::diagram::words::harmless;

/// Narrowest column.
const COLUMN_LEAST: usize = 16;

/// The proof of a file.
pub fn text(proof: &FileProof<'_>, options: ProofOptions) -> String {
    let width = options.width.clamp(60, 100);
    let mut out = heading(proof);
    let placed = placed(proof);
    if !placed.is_empty() {
        out.push_str(&paragraph("", &placed, width));
    }
    if options.tables {
        for sheet in sheets(proof) {
            out.push('\n');
            out.push_str(&one(&sheet, width));
        }
    }
    for (programs, questions) in answered(proof) {
        out.push('\n');
        if proof.variants.len() > 1 {
            out.push_str(&paragraph("", &format!("Answers for {}", programs.join(", ")), width));
        }
        for question in questions {
            out.push_str(&paragraph("", question.question, width));
            for answer in &question.answers {
                out.push_str(&paragraph("  - ", answer, width));
            }
        }
    }
    out.push('\n');
    for caution in CAUTIONS {
        out.push_str(&paragraph("", caution, width));
    }
    out
}

/// The first line: file and station.
pub(super) fn heading(proof: &FileProof<'_>) -> String {
    let title = proof.station.title.as_ref().map(|title| harmless(&title.value));
    let of = title.map_or_else(String::new, |title| format!(", {title}"));
    format!("Wiring proof of {}{of}\n", harmless(proof.file))
}

/// The faults that the station file itself places, in a sentence; empty if there are none.
pub(super) fn placed(proof: &FileProof<'_>) -> String {
    let devices =
        proof.station.devices.iter().filter_map(|device| {
            Some(format!("{}: {}", harmless(&device.name.value), device.fault?.words()))
        });
    let loads = proof
        .station
        .loads
        .iter()
        .filter_map(|load| Some(format!("{}: {}", harmless(&load.name.value), load.fault?)));
    let faults: Vec<String> = devices.chain(loads).collect();
    if faults.is_empty() {
        return String::new();
    }
    format!("The station file places faults of its own, which are there in every run: {}.", faults.join("; "))
}

/// The answers, those of programs with the same together.
pub(super) fn answered(proof: &FileProof<'_>) -> Vec<(Vec<String>, Vec<Question>)> {
    let mut groups: Vec<(Vec<String>, Vec<Question>)> = Vec::new();
    for variant in &proof.variants {
        let found = questions(proof, variant);
        match groups.iter_mut().find(|group| group.1 == found) {
            Some(group) => group.0.push(harmless(variant.program)),
            None => groups.push((vec![harmless(variant.program)], found)),
        }
    }
    groups
}

fn one(sheet: &Sheet, width: usize) -> String {
    let mut out = paragraph("", &format!("'{}' on {}", sheet.title, sheet.programs.join(", ")), width);
    out.push_str(&paragraph("  ", &format!("The procedure {}.", sheet.sound), width));
    if !sheet.rows.is_empty() {
        let columns = (width / (COLUMN_LEAST + 2)).saturating_sub(2).max(1);
        let loads: Vec<usize> = (0..sheet.loads.len()).collect();
        let mut blocks: Vec<&[usize]> = loads.chunks(columns).collect();
        if blocks.is_empty() {
            blocks.push(&[]);
        }
        let last = blocks.len() - 1;
        for (index, block) in blocks.iter().enumerate() {
            out.push_str(&table(&rows(sheet, block, index == last), width, COLUMN_LEAST));
        }
    }
    let mut line = |words: &str, list: &[String], joint: &str| {
        if !list.is_empty() {
            out.push_str(&paragraph("  ", &format!("{words}: {}.", list.join(joint)), width));
        }
    };
    line("As before with every fault", &sheet.unchanged, ", ");
    line("No load differs and nothing is noticed", &sheet.without_effect, "; ");
    out
}

/// The cells of some loads; the column of the procedure stands in the last block.
pub(super) fn rows(sheet: &Sheet, loads: &[usize], is_last: bool) -> Vec<Vec<String>> {
    let mut heading = vec!["fault".to_owned()];
    heading.extend(loads.iter().filter_map(|load| sheet.loads.get(*load).cloned()));
    if is_last {
        heading.push("the procedure".to_owned());
    }
    let mut rows = vec![heading];
    for row in &sheet.rows {
        let mut cells = vec![row.fault.clone()];
        let effects: Vec<String> = loads.iter().filter_map(|load| row.effects.get(*load).cloned()).collect();
        // Of a table in several blocks, the last one has all faults.
        if !is_last && effects.iter().all(|effect| effect == words::AS_BEFORE) {
            continue;
        }
        cells.extend(effects);
        if is_last {
            cells.push(row.notice.clone());
        }
        rows.push(cells);
    }
    rows
}

//! The table of one procedure: what is in its rows, before it has a form.

use super::{FileProof, words};
use crate::{
    diagram::words::harmless,
    wiring_proof::{Effect, FaultRun, Notice, Place, SingleFault},
};

/// The table of one procedure on the programs that give the same.
pub(super) struct Sheet {
    pub(super) title: String,
    /// The programs.
    pub(super) programs: Vec<String>,
    /// What the procedure does without a fault.
    pub(super) sound: String,
    /// The loads with a column: those that some fault changes.
    pub(super) loads: Vec<String>,
    pub(super) rows: Vec<SheetRow>,
    /// Loads that no fault changes.
    pub(super) unchanged: Vec<String>,
    /// Faults that change nothing and go unnoticed.
    pub(super) without_effect: Vec<String>,
}

/// A row.
pub(super) struct SheetRow {
    pub(super) fault: String,
    /// One for each load with a column.
    pub(super) effects: Vec<String>,
    pub(super) notice: String,
}

/// The tables of a file: one for each procedure, several if the programs differ.
pub(super) fn sheets(proof: &FileProof<'_>) -> Vec<Sheet> {
    let mut sheets = Vec::new();
    for (index, title) in proof.titles.iter().enumerate() {
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for variant in 0..proof.variants.len() {
            let same = groups
                .iter_mut()
                .find(|group| group.first().is_some_and(|first| is_same(proof, index, *first, variant)));
            match same {
                Some(group) => group.push(variant),
                None => groups.push(vec![variant]),
            }
        }
        for group in groups {
            sheets.extend(sheet(proof, index, title, &group));
        }
    }
    sheets
}

fn is_same(proof: &FileProof<'_>, procedure: usize, one: usize, other: usize) -> bool {
    let get = |variant: usize| proof.variants.get(variant)?.procedures.get(procedure);
    match (get(one), get(other)) {
        (Some(one), Some(other)) => one.0.failed == other.0.failed && one.1 == other.1,
        _ => false,
    }
}

fn sheet(proof: &FileProof<'_>, index: usize, title: &str, group: &[usize]) -> Option<Sheet> {
    let variants = group.iter().filter_map(|variant| proof.variants.get(*variant));
    let programs = variants.clone().map(|variant| harmless(variant.program)).collect();
    let (sound, runs) = variants.clone().next()?.procedures.get(index)?;
    let station = proof.station;
    let sound = match sound.failed {
        None => "passes without a fault".to_owned(),
        Some((step, _)) => format!(
            "fails without any fault already, at {}; whether it notices one cannot be told",
            words::place(step, proof.sources)
        ),
    };
    let changed: Vec<usize> = (0..station.loads.len())
        .filter(|load| {
            runs.iter().any(|run| run.effects.get(*load).is_some_and(|effect| !effect.is_as_before()))
        })
        .collect();
    let mut sheet = Sheet {
        title: harmless(title),
        programs,
        sound,
        loads: changed.iter().map(|load| words::load(*load, station)).collect(),
        rows: Vec::new(),
        unchanged: (0..station.loads.len())
            .filter(|load| !changed.contains(load))
            .map(|load| words::load(load, station))
            .collect(),
        without_effect: Vec::new(),
    };
    for group in alike(runs) {
        let Some(first) = group.first() else { continue };
        let name = named(&group.iter().map(|run| run.fault).collect::<Vec<_>>(), proof);
        let quiet = matches!(first.notice, Notice::Unnoticed | Notice::CannotTell);
        if quiet && first.effects.iter().all(Effect::is_as_before) {
            sheet.without_effect.push(name);
            continue;
        }
        let effects = changed.iter().map(|load| {
            first.effects.get(*load).map_or_else(String::new, |effect| words::effect(effect, *load, station))
        });
        sheet.rows.push(SheetRow {
            fault: name,
            effects: effects.collect(),
            notice: words::notice(&first.notice, proof.sources),
        });
    }
    Some(sheet)
}

/// Faults of one device or load that do the same: a broken wire and a contact stuck open read alike.
fn alike(runs: &[FaultRun]) -> Vec<Vec<&FaultRun>> {
    let mut groups: Vec<Vec<&FaultRun>> = Vec::new();
    for run in runs {
        let same = |first: &FaultRun| {
            first.fault.place == run.fault.place && first.effects == run.effects && first.notice == run.notice
        };
        match groups.iter_mut().find(|group| group.first().is_some_and(|first| same(first))) {
            Some(group) => group.push(run),
            None => groups.push(vec![run]),
        }
    }
    groups
}

/// "StopPB: open wire, or stuck at pressed".
pub(super) fn named(faults: &[SingleFault], proof: &FileProof<'_>) -> String {
    let Some(first) = faults.first() else { return String::new() };
    let words: Vec<String> = faults.iter().map(|fault| harmless(&fault.words(proof.station))).collect();
    format!("{}: {}", harmless(first.name(proof.station)), words.join(", or "))
}

/// A list of faults, those of one device or load together.
pub(super) fn listed(faults: &[SingleFault], proof: &FileProof<'_>) -> String {
    let mut groups: Vec<(Place, Vec<SingleFault>)> = Vec::new();
    for fault in faults {
        match groups.iter_mut().find(|group| group.0 == fault.place) {
            Some(group) => group.1.push(*fault),
            None => groups.push((fault.place, vec![*fault])),
        }
    }
    groups.iter().map(|group| named(&group.1, proof)).collect::<Vec<_>>().join("; ")
}

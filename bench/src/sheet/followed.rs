//! A sheet from procedures: at the pace of a hand where that makes no difference, else at their own.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Span,
    steps::tree::{Expect, ExpectTime, Step as TreeStep, StepKind},
};

use super::{
    CELLS_MAX, HAND_NS, Part, Process, Sheet, SheetError, SheetOptions, Step,
    behaviour::Behaviour,
    demands::Meaning,
    follower::{Followed, Follower},
    lists,
    rows::{self, Start},
    text::Text,
    words::stopwatch,
};
use crate::{
    diagram::words::harmless,
    panel::Panel,
    procedure::{Outcome, RunOptions, Script, Verdict, head},
    station::{LoadForm, Station},
    wiring_proof::observed::Board,
};

/// How far apart an analog load may be in two runs that are alike, as a part of its range.
const ALIKE: f64 = 0.05;

/// The sheet of procedures of a script, by their numbers. The station is the one of the script.
///
/// # Errors
/// [`SheetError::TooLarge`].
pub fn of_procedures(
    script: &Script<'_>,
    station: &Station,
    which: &[usize],
    options: &SheetOptions,
) -> Result<Sheet, SheetError> {
    let panel = Panel::new(script.program(), Some(station));
    let meaning = Meaning {
        program: script.program(),
        station,
        panel: &panel,
        sources: script.sources(),
        names: script.names(),
    };
    let loads = station.loads.len();
    let mut parts: Vec<Part> = Vec::new();
    let mut before = Before::default();
    for index in which {
        let Some(part) = part(script, station, &meaning, *index, before) else { continue };
        before.steps += part.steps.len();
        before.faults = script.procedures().get(*index).is_some_and(|procedure| places(&procedure.steps));
        if before.steps.saturating_mul(loads.max(1)) > CELLS_MAX {
            return Err(SheetError::TooLarge { steps: before.steps, loads });
        }
        parts.push(part);
    }
    let board = Board { program: script.program().clone(), station, scan_ns: script.scan_ns() };
    let process = station.process().map_or(Process::None, |plant| Process::Moves(plant.name().to_owned()));
    Ok(Sheet {
        title: rows::title(station, options),
        names: options.names.clone(),
        process,
        inputs: lists::inputs(&board),
        outputs: lists::outputs(station),
        never_on: rows::never_on(station, &parts),
        not_worked: Vec::new(),
        parts,
    })
}

/// What stands in front of a procedure on the sheet.
#[derive(Clone, Copy, Debug, Default)]
struct Before {
    steps: usize,
    /// Faults may be left from it.
    faults: bool,
}

/// One procedure.
fn part(
    script: &Script<'_>,
    station: &Station,
    meaning: &Meaning<'_>,
    index: usize,
    before: Before,
) -> Option<Part> {
    let procedure = script.procedures().get(index)?;
    let mut part = Part {
        title: format!("Procedure {}: {}", index + 1, harmless(&procedure.title.value)),
        points: procedure.points,
        ..Part::default()
    };
    let run = |pace_ns: i64| {
        let options =
            RunOptions { carry_on: true, brief: true, course: Some(pace_ns), ..RunOptions::default() };
        script.run(index, &options)
    };
    let own = run(0);
    if let Verdict::Refused(problems) = &own.verdict {
        let reason = problems.first().map_or("", |problem| problem.message.as_str());
        part.remarks.push(Text::new(&format!("This procedure cannot be run: {reason}.")).trouble());
        return Some(part);
    }
    if places(&procedure.steps) {
        part.remarks.push(Text::new(
            "Faults are placed with fault switches of the board, and in no other way. Without them leave these steps \
             out: wires are not touched while the board is live.",
        ));
    }
    let by_hand = run(HAND_NS);
    let tree = steps_by_head(script, &procedure.steps);
    let start = Start::new(station, before.steps > 0, before.faults);
    let follow = |outcome: &Outcome, together: bool| {
        let follower = Follower::new(meaning, &tree, script.scan_ns(), before.steps, together);
        follower.follow(outcome, &start)
    };
    let (own_rows, hand_rows) = (follow(&own, false), follow(&by_hand, false));
    let parted_ns = first_parting(station, &own_rows.steps, &hand_rows.steps);
    let chosen = if own.passed() && !by_hand.passed() {
        part.remarks.push(Text::new(&format!(
            "The procedure is quicker than a hand: with {} between two things it would not be met. Keep the times beside \
             the steps as well as you can.",
            stopwatch(HAND_NS)
        )));
        follow(&own, true)
    } else {
        if let Some(parted_ns) = parted_ns {
            let place = own_rows.steps.iter().position(|step| step.span_ns.0 == parted_ns).unwrap_or(0);
            part.remarks.push(Text::new(&format!(
                "From step {} on it matters when the next step is begun: keep to the times beside the steps.",
                before.steps + place + 1
            )));
        }
        hand_rows
    };
    let Followed { steps, throughout, remarks } = chosen;
    part.throughout = throughout;
    part.remarks.extend(remarks);
    part.steps = steps;
    Some(part)
}

/// Whether steps place faults.
fn places(steps: &[TreeStep]) -> bool {
    steps.iter().any(|step| match &step.kind {
        StepKind::Place { .. } => true,
        StepKind::Repeat { steps, .. } => places(steps),
        StepKind::Expect(Expect { when: ExpectTime::While(steps), .. }) => places(steps),
        _ => false,
    })
}

/// The steps of a tree by what is shown of them, those that prepare among them.
fn steps_by_head<'t>(script: &Script<'t>, steps: &'t [TreeStep]) -> BTreeMap<Span, &'t TreeStep> {
    let mut found = BTreeMap::new();
    let mut open: Vec<&TreeStep> = script.prepare().iter().copied().chain(steps).collect();
    while let Some(step) = open.pop() {
        found.insert(head(step), step);
        match &step.kind {
            StepKind::Repeat { steps, .. } => open.extend(steps),
            StepKind::Expect(Expect { when: ExpectTime::While(steps), .. }) => open.extend(steps),
            _ => {}
        }
    }
    found
}

/// When the first step of a run is done at whose end the loads are not alike in another.
fn first_parting(station: &Station, one: &[Step], other: &[Step]) -> Option<i64> {
    let differs = |(one, other): (&Step, &Step)| {
        let pairs = one.expected.iter().zip(&other.expected);
        !station.loads.iter().zip(pairs).all(|(load, (one, other))| are_alike(&load.form, one, other))
    };
    let place = match one.iter().zip(other).position(differs) {
        Some(place) => place,
        None if one.len() == other.len() => return None,
        None => one.len().min(other.len()).saturating_sub(1),
    };
    one.get(place).map(|step| step.span_ns.0)
}

/// Whether a load is about the same at the end.
fn are_alike(form: &LoadForm, one: &Behaviour, other: &Behaviour) -> bool {
    match form {
        // What blinks is seen to do so only after a while.
        LoadForm::TwoState => one.blinks() || other.blinks() || one.end() == other.end(),
        LoadForm::Analog { scaling, .. } => {
            let apart = one.value().zip(other.value()).map_or(0.0, |(one, other)| (one - other).abs());
            apart <= ALIKE * (scaling.range.1 - scaling.range.0)
        }
    }
}

//! Single faults ranked by how well they explain a checkout.

use latchwork_vm::Value;

use super::{Board, Checkout, CheckoutStep, Seen};
use crate::{
    station::{LoadForm, Station},
    wiring_proof::{FaultKind, SingleFault, effect::runs, single_faults},
};

/// How far a number that was seen may be from the value of an analog load, as a part of its range.
const TOLERANCE: f64 = 0.02;

/// One explanation: faults that this checkout cannot tell apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    /// The faults, the simplest first; `None` is sound wiring.
    pub faults: Vec<Option<SingleFault>>,
    /// The observations that it contradicts.
    pub contradictions: Vec<Contradiction>,
}

/// An observation that is not as predicted.
#[derive(Clone, Debug, PartialEq)]
pub struct Contradiction {
    /// The step, by its place in the checkout.
    pub step: usize,
    /// The load.
    pub load: usize,
    /// What was seen.
    pub seen: Seen,
}

/// All explanations, the best first. There is one at least.
pub fn explain(board: &Board<'_>, checkout: &Checkout) -> Vec<Explanation> {
    let steps: Vec<&CheckoutStep> = checkout.steps.iter().collect();
    let mut candidates: Vec<Option<SingleFault>> = vec![None];
    let mut faults = single_faults(board.station);
    faults.sort_by_key(|fault| seldom(fault.kind));
    candidates.extend(faults.into_iter().map(Some));
    let mut found: Vec<(Vec<Option<Looked>>, Explanation)> = Vec::new();
    for candidate in candidates {
        let predicted = board.predict(&steps, candidate);
        let mut looked = Vec::new();
        let mut contradictions = Vec::new();
        for (index, step) in checkout.steps.iter().enumerate() {
            for (load, seen) in &step.seen {
                let value = predicted.get(index).and_then(|loads| loads.get(*load)?.as_ref());
                looked.push(value.map(|value| Looked::of(board.station, *load, *seen, value)));
                if !value.is_some_and(|value| agrees(board.station, *load, *seen, value)) {
                    contradictions.push(Contradiction { step: index, load: *load, seen: *seen });
                }
            }
        }
        match found.iter_mut().find(|(other, _)| *other == looked) {
            Some((_, explanation)) => explanation.faults.push(candidate),
            None => found.push((looked, Explanation { faults: vec![candidate], contradictions })),
        }
    }
    let mut explanations: Vec<Explanation> = found.into_iter().map(|(_, explanation)| explanation).collect();
    // Stable: those with as many contradictions stay in the order of the candidates.
    explanations.sort_by_key(|explanation| explanation.contradictions.len());
    explanations
}

/// How seldom a fault is.
fn seldom(kind: FaultKind) -> u8 {
    match kind {
        FaultKind::OpenWire => 0,
        FaultKind::StuckReleased | FaultKind::StuckActuated | FaultKind::StuckOn | FaultKind::StuckOff => 1,
        FaultKind::Shorted => 2,
    }
}

/// What a person would have seen.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Looked {
    Works(bool),
    Value(f64),
}

impl Looked {
    fn of(station: &Station, load: usize, seen: Seen, value: &Value) -> Self {
        match (seen, value.as_f64()) {
            (Seen::Near(_), Some(number)) => Looked::Value(number),
            _ => Looked::Works(runs(station, load, value)),
        }
    }
}

fn agrees(station: &Station, load: usize, seen: Seen, value: &Value) -> bool {
    match seen {
        Seen::Works(works) => runs(station, load, value) == works,
        Seen::Near(number) => {
            let Some(LoadForm::Analog { scaling, .. }) = station.loads.get(load).map(|load| &load.form)
            else {
                return false;
            };
            let (low, high) = scaling.range;
            value.as_f64().is_some_and(|value| (value - number).abs() <= TOLERANCE * (high - low))
        }
    }
}

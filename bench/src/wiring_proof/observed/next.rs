//! A next step that would tell explanations apart.

use latchwork_grammar::Span;
use latchwork_vm::Value;

use super::{Board, Checkout, CheckoutStep, WAIT_DEFAULT_NS};
use crate::{
    station::{DeviceForm, Station},
    wiring_proof::{SingleFault, effect::runs},
};

/// Something to do, and what it would show.
#[derive(Clone, Debug, PartialEq)]
pub struct NextStep {
    /// The device.
    pub device: usize,
    /// What is done to it: BOOL or LREAL.
    pub to: Value,
    /// The load to look at.
    pub load: usize,
    /// Faults with which it is on then.
    pub on: Vec<Option<SingleFault>>,
    /// Faults with which it is off.
    pub off: Vec<Option<SingleFault>>,
}

/// The single act on a device, after the checkout, that divides these faults the most evenly; `None` if none does.
pub fn next_step(board: &Board<'_>, checkout: &Checkout, faults: &[Option<SingleFault>]) -> Option<NextStep> {
    let mut best: Option<(usize, NextStep)> = None;
    for (device, to) in acts(board.station, checkout) {
        let act = CheckoutStep {
            acts: vec![(device, to.clone())],
            wait_ns: WAIT_DEFAULT_NS,
            seen: Vec::new(),
            line: 0,
            span: Span::new(checkout.file, 0, 0),
        };
        let steps: Vec<&CheckoutStep> = checkout.steps.iter().chain([&act]).collect();
        let predicted: Vec<Option<Vec<Option<Value>>>> = faults
            .iter()
            .map(|fault| board.predict(&steps, *fault).get(checkout.steps.len()).cloned())
            .collect();
        for load in 0..board.station.loads.len() {
            let is_on = |values: &Option<Vec<Option<Value>>>| {
                let value = values.as_ref()?.get(load)?.as_ref()?;
                Some(runs(board.station, load, value))
            };
            let (mut on, mut off) = (Vec::new(), Vec::new());
            for (fault, values) in faults.iter().zip(&predicted) {
                match is_on(values) {
                    Some(true) => on.push(*fault),
                    Some(false) => off.push(*fault),
                    None => {}
                }
            }
            let divided = on.len().min(off.len());
            if divided > best.as_ref().map_or(0, |(most, _)| *most) {
                best = Some((divided, NextStep { device, to: to.clone(), load, on, off }));
            }
        }
    }
    best.map(|(_, step)| step)
}

/// Everything that can be done to one device after the checkout.
fn acts(station: &Station, checkout: &Checkout) -> Vec<(usize, Value)> {
    let mut acts = Vec::new();
    for (index, device) in station.devices.iter().enumerate() {
        if station.process().is_some_and(|plant| plant.drives(index)) {
            continue;
        }
        let done = checkout.steps.iter().rev().flat_map(|step| step.acts.iter().rev());
        let last = done.clone().find(|(other, _)| *other == index).map(|(_, value)| value);
        match &device.form {
            DeviceForm::TwoState { start, .. } => {
                let now = last.and_then(Value::as_bool).unwrap_or(*start);
                acts.push((index, Value::Bool(!now)));
            }
            DeviceForm::Analog { scaling, .. } => {
                acts.push((index, Value::Lreal(scaling.range.0)));
                acts.push((index, Value::Lreal(scaling.range.1)));
            }
        }
    }
    acts
}

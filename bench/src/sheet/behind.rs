//! Devices that no load follows when they are worked alone: worked again behind another device that lets them act, such as
//! an overload relay behind the start button. Which one that is is found by trial.

use latchwork_vm::Value;

use super::{
    HAND_NS, Part,
    by_hand::{Pace, Taker},
    settle::{Hand, History},
    text::Text,
};
use crate::station::{Action, DeviceForm};

/// What all trials together may cost, in instructions of the machine.
const TRIALS_COST_MAX: u64 = 800_000_000;

/// How long it is looked whether a load follows, in nanoseconds.
const FOLLOW_NS: i64 = 10_000_000_000;

/// Most steps that one device takes here.
pub(super) const STEPS_EACH: usize = 12;

/// What is done to other devices first, and what puts them back.
#[derive(Clone)]
struct Way {
    first: Vec<(usize, Value)>,
    back: Vec<(usize, Value)>,
}

impl Taker<'_, '_> {
    /// The steps for the devices that did nothing in the steps so far.
    pub(super) fn behind_others(&mut self, worked: &[(usize, Vec<Value>)]) {
        let moved: Vec<usize> = {
            let steps = self.part().steps.iter();
            let moving = steps.filter(|step| !step.expected.iter().all(|behaviour| behaviour.is_still()));
            moving.flat_map(|step| step.acts.iter().map(|(device, _)| *device)).collect()
        };
        let silent: Vec<&(usize, Vec<Value>)> =
            worked.iter().filter(|(device, _)| !moved.contains(device)).collect();
        if silent.is_empty() || self.board.station.loads.is_empty() {
            return;
        }
        self.begin(Part { title: "Devices behind others".to_owned(), ..Part::default() });
        let mut cost = TRIALS_COST_MAX;
        // One other device first, then one with the other that it needed itself.
        let mut candidates: Vec<Way> =
            worked.iter().flat_map(|(other, values)| self.ways(*other, values)).collect();
        let mut open = silent;
        let mut left: Vec<(usize, Vec<Value>)>;
        for _ in 0..2 {
            let (mut still, mut found) = (Vec::new(), Vec::new());
            for (device, values) in open {
                match self.way(*device, values, &candidates, &mut cost) {
                    Some(way) => {
                        self.take(&way, *device, values);
                        let behind =
                            self.ways(*device, values).into_iter().map(|last| way.clone().then(last));
                        found.extend(behind);
                    }
                    None => still.push((*device, values.clone())),
                }
            }
            left = still;
            open = left.iter().collect();
            candidates = found;
        }
        let still = open.iter().map(|(device, _)| *device);
        let names = still.filter_map(|index| self.board.station.devices.get(index));
        let names: Vec<Text> = names.map(|device| Text::default().name(&device.name.value)).collect();
        if !names.is_empty() {
            let remark = "No load follows these devices, alone or behind others: ";
            let end =
                ". Their wires are checked above; what they do in the program is not checked by this sheet.";
            self.part_mut().remarks.push(Text::new(remark).then(Text::list(names, ", ")).words(end));
        }
    }

    /// What must be done first so that a load follows a device.
    fn way(&self, device: usize, values: &[Value], candidates: &[Way], cost_left: &mut u64) -> Option<Way> {
        let loads = self.board.station.loads.len();
        let others = candidates.iter().filter(|way| way.first.iter().all(|(other, _)| *other != device));
        for way in others {
            // As many runs as there are acts, and one beside each of the device.
            let before = self.hand.cost(HAND_NS).saturating_mul(way.first.len() as u64);
            let looks = self.hand.cost(FOLLOW_NS).saturating_mul(2 * values.len() as u64);
            *cost_left = cost_left.checked_sub(before.saturating_add(looks))?;
            let mut hand = self.hand.clone();
            let mut histories = vec![History::new(); loads];
            let went_on = way.first.iter().all(|(other, value)| {
                hand.act(*other, value);
                hand.run(HAND_NS, &mut histories).is_ok()
            });
            // The last act only puts the device back.
            let acts = values.split_last().map_or(&[][..], |(_, acts)| acts);
            if went_on && acts.iter().any(|value| follows(&hand, device, value, loads)) {
                return Some(way.clone());
            }
        }
        None
    }

    fn take(&mut self, way: &Way, device: usize, values: &[Value]) {
        let each = |(device, value): &(usize, Value)| (*device, vec![value.clone()]);
        let first = way.first.iter().map(each).map(|(device, values)| (device, values, Pace::Hand));
        let behind = [(device, values.to_vec(), Pace::Settled)];
        let back = way.back.iter().map(each).map(|(device, values)| (device, values, Pace::Settled));
        for (device, values, pace) in first.chain(behind).chain(back) {
            if !self.device(device, &values, pace) {
                return;
            }
        }
    }

    /// The ways to work a device before another one: what latches before what is held.
    fn ways(&self, index: usize, values: &[Value]) -> Vec<Way> {
        let Some((device, (back, acts))) = self.board.station.devices.get(index).zip(values.split_last())
        else {
            return Vec::new();
        };
        let held = acts
            .iter()
            .map(|value| Way { first: vec![(index, value.clone())], back: vec![(index, back.clone())] });
        let latching =
            || Way { first: values.iter().map(|value| (index, value.clone())).collect(), back: Vec::new() };
        match &device.form {
            DeviceForm::TwoState { action: Action::Momentary, .. } => {
                std::iter::once(latching()).chain(held).collect()
            }
            _ => held.collect(),
        }
    }
}

impl Way {
    /// Another one behind it.
    fn then(mut self, last: Way) -> Way {
        self.first.extend(last.first);
        self.back.splice(0..0, last.back);
        self
    }
}

/// Whether a load does something else if a device is worked.
fn follows(hand: &Hand<'_>, device: usize, value: &Value, loads: usize) -> bool {
    let run = |act: bool| {
        let mut hand = hand.clone();
        let mut histories = vec![History::new(); loads];
        if act {
            hand.act(device, value);
        }
        hand.run(FOLLOW_NS, &mut histories).is_ok().then_some(histories)
    };
    match (run(true), run(false)) {
        (Some(with), Some(without)) => with != without,
        _ => false,
    }
}

//! What can be done to a panel, and how long one can wait: the choices of a search.

use latchwork_vm::{ElementaryType, Program, Resolved, ResolvedKind, Restart, Value};

use super::{constants::Constants, random::Random};
use crate::{
    panel::Panel,
    procedure::Act,
    station::{Action, DeviceForm},
    terminals::{Direction, direction},
    wiring::{Scaling, WiringFault},
};

/// Most values that are tried at one analog device or number.
const VALUES_MAX: usize = 64;

/// Longest time that is waited at once, in scans.
const WAIT_SCANS_MAX: i64 = 12_000;

/// Something that can be worked.
enum Handle {
    /// A device of two states; whether it springs back.
    TwoState { device: usize, momentary: bool },
    /// Something with values: an analog device, or an input that no device is wired to.
    Values { path: String, values: Vec<Value> },
}

/// The choices.
pub(super) struct Choices {
    handles: Vec<Handle>,
    /// What procedures do besides working devices of two states.
    mined: Vec<Act>,
    /// The number of devices that faults can be placed on.
    devices: usize,
    scan_ns: i64,
    /// Times around those that the program names, in scans.
    presets: Vec<i64>,
}

impl Choices {
    /// The choices at a panel, with what procedures do there.
    pub(super) fn new(
        panel: &Panel<'_>,
        program: &Program,
        constants: &Constants,
        acts: &[Vec<Act>],
        scan_ns: i64,
    ) -> Choices {
        let mut handles = Vec::new();
        for (device, wired) in panel.devices().iter().enumerate() {
            if panel.plant().is_some_and(|plant| plant.drives(device)) {
                continue;
            }
            handles.push(match &wired.device.form {
                DeviceForm::TwoState { action, .. } => {
                    Handle::TwoState { device, momentary: *action == Action::Momentary }
                }
                DeviceForm::Analog { scaling, .. } => Handle::Values {
                    path: wired.device.name.value.clone(),
                    values: values_of(scaling, constants),
                },
            });
        }
        if panel.devices().is_empty() {
            let inputs = program.variables().filter(|input| direction(program, input) == Direction::Input);
            handles.extend(inputs.filter_map(|input| {
                let values = values_at(&input, constants);
                let path = input.location.unwrap_or(input.name);
                (!values.is_empty()).then_some(Handle::Values { path, values })
            }));
        }
        let mut mined: Vec<Act> = Vec::new();
        for act in acts.iter().flatten() {
            let is_more = !matches!(act, Act::Wait(_) | Act::Actuate { .. });
            if is_more && !mined.contains(act) && mined.len() < VALUES_MAX {
                mined.push(act.clone());
            }
        }
        let scans = |nanoseconds: i64| (nanoseconds + scan_ns - 1) / scan_ns;
        let presets = constants.durations_ns.iter().map(|duration| scans(*duration));
        let presets = presets.filter(|preset| (1..=WAIT_SCANS_MAX).contains(preset)).collect();
        Choices { handles, mined, devices: panel.devices().len(), scan_ns, presets }
    }

    /// Whether there is nothing to be done at all.
    pub(super) fn is_empty(&self) -> bool {
        self.handles.is_empty() && self.mined.is_empty()
    }

    /// Some acts that a person could do next.
    pub(super) fn next(&self, panel: &Panel<'_>, random: &mut Random) -> Vec<Act> {
        let mut acts = Vec::new();
        let rare = random.below(100);
        if rare < 2 && self.devices > 0 {
            let device = random.below(self.devices);
            let fault = if random.chance(70) { WiringFault::OpenWire } else { WiringFault::Shorted };
            acts.push(Act::PlaceDevice { device, fault, stuck_at: None });
        } else if rare < 3 {
            acts.push(Act::ClearAll);
        } else if rare < 5 {
            acts.push(Act::Restart(if random.chance(60) { Restart::Warm } else { Restart::Cold }));
        } else if rare < 25 && !self.mined.is_empty() {
            acts.extend(random.pick(&self.mined).cloned());
        } else {
            match random.pick(&self.handles) {
                Some(Handle::TwoState { device, momentary }) => {
                    let state = panel.devices().get(*device).and_then(|wired| wired.state().as_bool());
                    let state = state.unwrap_or(false);
                    acts.push(Act::Actuate { device: *device, state: !state });
                    if *momentary && !state && random.chance(70) {
                        acts.push(self.wait(random).unwrap_or(Act::Wait(self.scan_ns)));
                        acts.push(Act::Actuate { device: *device, state: false });
                    }
                }
                Some(Handle::Values { path, values }) => {
                    let value = random.pick(values).cloned();
                    acts.extend(value.map(|value| Act::Set { path: path.clone(), value }));
                }
                None => {}
            }
        }
        acts.extend(self.wait(random));
        acts
    }

    /// A time to wait; `None` for doing the next thing at once.
    fn wait(&self, random: &mut Random) -> Option<Act> {
        let scans = match random.below(10) {
            0 => return None,
            1..=3 => 1,
            4 => 2,
            5 | 6 => 3 + random.below(20) as i64,
            7 | 8 => {
                let around = random.below(3) as i64 - 1;
                random.pick(&self.presets).map_or(5, |preset| preset + around)
            }
            _ => {
                let longest = self.presets.iter().max().copied().unwrap_or(40);
                1 + random.below(longest as usize + longest as usize / 5 + 1) as i64
            }
        };
        Some(Act::Wait(scans.clamp(1, WAIT_SCANS_MAX) * self.scan_ns))
    }
}

/// Values of an analog device: its ends and what is between them, and where the program compares, a step of the terminal
/// below, at and above.
fn values_of(scaling: &Scaling, constants: &Constants) -> Vec<Value> {
    let (low, high) = scaling.range;
    let span = high - low;
    let is_near = |value: f64| (low - span * 0.25..=high + span * 0.25).contains(&value);
    let mut values = vec![low, high, low + span / 2.0, low + span / 4.0, low + span * 0.75];
    let step = span / (scaling.raw.1 - scaling.raw.0);
    for number in constants.numbers.iter().flat_map(|number| [*number, -number]) {
        let of_raw = scaling.value_of_raw(number);
        for value in
            [of_raw, of_raw - step, of_raw + step, number, number - span / 1000.0, number + span / 1000.0]
        {
            if is_near(value) {
                values.push(value);
            }
        }
    }
    let mut rounded: Vec<f64> = Vec::new();
    for value in values {
        // As many digits as a person would write.
        let value = libm::round(value * 1e4) / 1e4;
        if value.is_finite() && !rounded.contains(&value) && rounded.len() < VALUES_MAX {
            rounded.push(value);
        }
    }
    rounded.into_iter().map(Value::Lreal).collect()
}

/// Values of an input that no device is wired to.
fn values_at(input: &Resolved, constants: &Constants) -> Vec<Value> {
    let kind = match input.kind {
        ResolvedKind::Bit(_) | ResolvedKind::Elementary(ElementaryType::Bool) => {
            return vec![Value::Bool(false), Value::Bool(true)];
        }
        ResolvedKind::Elementary(kind) => kind,
        _ => return Vec::new(),
    };
    let mut values = Vec::new();
    let numbers = constants
        .numbers
        .iter()
        .flat_map(|number| [*number, number - 1.0, number + 1.0, -number, *number * 0.9, *number * 1.1]);
    for number in [0.0, 1.0].into_iter().chain(numbers) {
        if let Some(value) = crate::terminals::terminal_number(number, kind, true)
            && !values.contains(&value)
            && values.len() < VALUES_MAX
        {
            values.push(value);
        }
    }
    values
}

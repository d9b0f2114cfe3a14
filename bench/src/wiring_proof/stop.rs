//! Acts that stop a load, and acts that start one; whether a broken wire stops it as well.

use latchwork_vm::Value;

use super::{
    effect::runs,
    fault::SingleFault,
    sound::Runner,
    timeline::{Timeline, value_at},
};
use crate::{
    procedure::{InitialFault, LaterFault},
    station::Station,
    wiring::WiringFault,
};

/// Most runs that look whether an act does what it seems to do, in one procedure.
const TRIALS_MAX: usize = 200;

/// How long a load is looked at after it went off in the sound run, in nanoseconds.
const STILL_NS: i64 = 1_000_000_000;

/// Words for loads that only tell something.
const SIGNALS: [&str; 11] =
    ["lamp", "light", "beacon", "horn", "bell", "buzzer", "siren", "display", "meter", "gauge", "indicator"];

/// What is done to a device.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Move {
    /// It is actuated, or not any more.
    To(bool),
    /// Its value rises.
    Up,
    /// Its value falls.
    Down,
}

/// A device that stops a load.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// The device.
    pub device: usize,
    /// What is done to it.
    pub act: Move,
    /// The load.
    pub load: usize,
    /// What comes of a wire that breaks while the load runs.
    pub on_break: Break,
    /// When it is done in the sound run, in nanoseconds.
    pub at_ns: i64,
    /// The first scan of the sound run that sees it, that in which the load is off, that which sees the next thing done.
    scans: (u32, u32, u32),
}

impl Stop {
    /// When a wire breaks, or another fault comes: in the middle of the time for which the load runs, in nanoseconds.
    pub fn broken_ns(&self) -> i64 {
        match self.on_break {
            Break::Stops { broken_ns } | Break::RunsOn { broken_ns } => broken_ns,
        }
    }

    /// Whether a fault that comes while the load runs leaves it running: from the act on to a second after it goes off in
    /// the sound run, or to the next thing that is done if that comes sooner.
    pub(super) fn is_in_vain(&self, runner: &Runner<'_, '_>, sound: &Timeline, fault: SingleFault) -> bool {
        let later = LaterFault { from_ns: self.broken_ns(), fault: fault.initial() };
        let Some(other) = runner.timeline(Vec::new(), vec![later]) else { return false };
        let (scan, changed, next) = self.scans;
        let looked = u32::try_from(STILL_NS / sound.scan_ns.max(1)).unwrap_or(u32::MAX);
        let until = changed.saturating_add(looked).saturating_add(1).min(next);
        let station = runner.station;
        stays(station, sound, &other, self.load, scan..changed + 1, true)
            && sound
                .beside(&other, self.load)
                .iter()
                .filter(|piece| piece.from < until && piece.to > scan)
                .all(|piece| runs(station, self.load, piece.other))
    }
}

/// What comes of a wire that breaks while the load runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Break {
    /// The load goes off.
    Stops {
        /// When the wire breaks.
        broken_ns: i64,
    },
    /// The load runs on.
    RunsOn {
        /// When the wire breaks.
        broken_ns: i64,
    },
}

/// A thing that was done, and a load that changed before the next one.
#[derive(Clone, Debug)]
pub(super) struct Act {
    pub(super) device: usize,
    pub(super) act: Move,
    pub(super) load: usize,
    from: Value,
    pub(super) to: Value,
    /// The first scan that sees it.
    pub(super) scan: u32,
    /// The scan in which the load changed.
    pub(super) changed: u32,
    /// The first scan that sees the next thing that is done.
    pub(super) next: u32,
}

/// What was found in a sound run.
#[derive(Clone, Debug, Default)]
pub(super) struct Acts {
    /// Every act after which a load went off, of those that stop it.
    pub(super) stopping: Vec<Act>,
    pub(super) stops: Vec<Stop>,
    /// Devices and acts that start a load.
    pub(super) starts: Vec<(usize, Move, usize)>,
}

/// Whether a load moves something; a lamp only tells.
pub(super) fn moves(station: &Station, load: usize) -> bool {
    let kind = station.loads.get(load).and_then(|load| load.kind.as_deref()).unwrap_or("");
    !kind.split(|letter: char| !letter.is_alphanumeric()).any(|word| {
        let word = word.to_lowercase();
        SIGNALS.iter().any(|signal| word == *signal || word.strip_suffix('s') == Some(signal))
    })
}

/// Finds the acts of a sound run that stop or start a load.
pub(super) fn find(runner: &Runner<'_, '_>, sound: &Timeline) -> Acts {
    let station = runner.station;
    let mut acts = Acts::default();
    let (mut offs, mut ons) = (Vec::new(), Vec::new());
    for load in (0..station.loads.len()).filter(|load| moves(station, *load)) {
        candidates(station, sound, load, true, &mut offs);
        candidates(station, sound, load, false, &mut ons);
    }
    let mut trials = 0;
    let key = |act: &Act| (act.device, act.act, act.load);
    for act in ons {
        if !acts.starts.contains(&key(&act)) && trials < TRIALS_MAX {
            trials += 1;
            if does(runner, sound, &act, false) {
                acts.starts.push(key(&act));
            }
        }
    }
    for act in offs {
        let known = acts.stops.iter().any(|stop| (stop.device, stop.act, stop.load) == key(&act));
        if !known {
            if trials >= TRIALS_MAX {
                continue;
            }
            trials += 1;
            if !does(runner, sound, &act, true) {
                continue;
            }
            acts.stops.extend(stop(runner, sound, &act));
        }
        acts.stopping.push(act);
    }
    acts
}

/// Acts after which a load goes off (or on) before the next one.
fn candidates(station: &Station, sound: &Timeline, load: usize, off: bool, found: &mut Vec<Act>) {
    let by_person = |device: &usize| station.process().is_none_or(|plant| !plant.drives(*device));
    let is_on = |scan: u32| value_at(sound.load(load), scan).is_some_and(|value| runs(station, load, value));
    for device in (0..station.devices.len()).filter(by_person) {
        for pair in sound.device(device).windows(2) {
            let [before, after] = pair else { continue };
            let scan = after.scan;
            if scan == 0 || is_on(scan - 1) != off {
                continue;
            }
            let next = sound.next_act(scan);
            let later = sound.load(load).iter().map(|change| change.scan);
            let mut looked = later.filter(|change| *change >= scan && *change < next);
            let Some(changed) = looked.find(|change| is_on(*change) != off) else { continue };
            let Some(act) = what(&before.value, &after.value) else { continue };
            let (from, to) = (before.value.clone(), after.value.clone());
            found.push(Act { device, act, load, from, to, scan, changed, next });
        }
    }
}

fn what(before: &Value, after: &Value) -> Option<Move> {
    match (before, after) {
        (Value::Bool(_), Value::Bool(to)) => Some(Move::To(*to)),
        _ => Some(if after.as_f64()? > before.as_f64()? { Move::Up } else { Move::Down }),
    }
}

/// Whether an act is what makes the load change: with the device stuck where it was, the load stays as it was.
fn does(runner: &Runner<'_, '_>, sound: &Timeline, act: &Act, on: bool) -> bool {
    let fault = InitialFault::Device {
        device: act.device,
        fault: WiringFault::Stuck,
        stuck_at: Some(act.from.clone()),
    };
    let later = LaterFault { from_ns: sound.time_ns(act.scan), fault };
    let Some(other) = runner.timeline(Vec::new(), vec![later]) else { return false };
    stays(runner.station, sound, &other, act.load, act.scan..act.changed + 1, on)
}

/// Whether a load is on (or off) in another run during scans of the sound one.
pub(super) fn stays(
    station: &Station,
    sound: &Timeline,
    other: &Timeline,
    load: usize,
    scans: std::ops::Range<u32>,
    on: bool,
) -> bool {
    let pieces = sound.beside(other, load);
    let mut seen = 0;
    for piece in &pieces {
        let (from, to) = (piece.from.max(scans.start), piece.to.min(scans.end));
        if from < to {
            if runs(station, load, piece.other) != on {
                return false;
            }
            seen += to - from;
        }
    }
    seen == scans.end - scans.start
}

/// A stop, with what a broken wire does while the load runs.
fn stop(runner: &Runner<'_, '_>, sound: &Timeline, act: &Act) -> Option<Stop> {
    let station = runner.station;
    let on =
        |scan: u32| value_at(sound.load(act.load), scan).is_some_and(|value| runs(station, act.load, value));
    // Since when it has run.
    let changes = sound.load(act.load).iter().rev().map(|change| change.scan);
    let ran = changes.filter(|scan| *scan < act.scan).take_while(|scan| on(*scan)).last().unwrap_or(0);
    let broken = (ran + 1).max(ran + (act.scan - ran) / 2).min(act.scan);
    let fault = InitialFault::Device { device: act.device, fault: WiringFault::OpenWire, stuck_at: None };
    let broken_ns = sound.time_ns(broken);
    let other = runner.timeline(Vec::new(), vec![LaterFault { from_ns: broken_ns, fault }])?;
    let runs_on = stays(station, sound, &other, act.load, broken..act.changed + 1, true);
    let on_break = if runs_on { Break::RunsOn { broken_ns } } else { Break::Stops { broken_ns } };
    let at_ns = sound.time_ns(act.scan);
    let scans = (act.scan, act.changed, act.next);
    Some(Stop { device: act.device, act: act.act, load: act.load, on_break, at_ns, scans })
}

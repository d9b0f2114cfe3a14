//! What all procedures of a file together tell of the wiring.

use super::{
    fault::{SingleFault, single_faults},
    run::{FaultRun, Notice},
    sound::SoundRun,
    stop::{Break, Move, Stop},
};
use crate::station::Station;

/// The answers for one program on one station.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Answers {
    /// Faults that leave a load running that a person is trying to stop.
    pub left_running: Vec<LeftRunning>,
    /// Faults that no procedure notices.
    pub unnoticed: Vec<Unnoticed>,
    /// For each stop whether a broken wire stops.
    pub broken_wires: Vec<BrokenWire>,
    /// Acts that stop one load and start another, or the same: not judged as stops.
    pub starts_too: Vec<(usize, Move, usize)>,
    /// Loads that never run in any procedure.
    pub never_run: Vec<usize>,
    /// Procedures that fail without any fault.
    pub failing: usize,
    /// Procedures.
    pub procedures: usize,
}

/// A fault that leaves a load running.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftRunning {
    /// The fault.
    pub fault: SingleFault,
    /// The device that is acted on.
    pub device: usize,
    /// What is done to it.
    pub act: Move,
    /// The load that runs on.
    pub load: usize,
    /// The procedure that shows it first, by its number.
    pub procedure: usize,
    /// When it is done there, in nanoseconds.
    pub at_ns: i64,
    /// Whether some procedure notices the fault; also if that cannot be told because all fail without it.
    pub noticed: bool,
}

/// A fault that no procedure notices.
#[derive(Clone, Debug, PartialEq)]
pub struct Unnoticed {
    /// The fault.
    pub fault: SingleFault,
    /// Whether it changes what some load does.
    pub changes: bool,
}

/// What a broken wire at a stop does.
#[derive(Clone, Debug, PartialEq)]
pub struct BrokenWire {
    /// The device.
    pub device: usize,
    /// What is done to it to stop.
    pub act: Move,
    /// The load.
    pub load: usize,
    /// Whether the load goes off when the wire breaks while it runs, in every procedure looked at.
    pub stops: bool,
    /// The procedure that shows it first, by its number.
    pub procedure: usize,
    /// When the wire breaks there, in nanoseconds.
    pub broken_ns: i64,
}

/// Sums up sound runs and, for each of them, the runs with all single faults.
pub fn answers(station: &Station, runs: &[(&SoundRun, &[FaultRun])]) -> Answers {
    let starts: Vec<(usize, Move)> =
        runs.iter().flat_map(|(sound, _)| sound.starts()).map(|(device, act, _)| (*device, *act)).collect();
    let mut answers = Answers {
        failing: runs.iter().filter(|(sound, _)| sound.failed.is_some()).count(),
        procedures: runs.len(),
        ..Answers::default()
    };
    let is_start = |stop: &Stop| {
        matches!(stop.on_break, Break::RunsOn { .. }) && starts.contains(&(stop.device, stop.act))
    };
    let all_runs = || runs.iter().flat_map(|(_, faults)| faults.iter());
    let noticed = |fault: SingleFault| {
        all_runs().any(|run| run.fault == fault && matches!(run.notice, Notice::Noticed { .. }))
    };
    for (procedure, (sound, faults)) in runs.iter().enumerate() {
        for stop in sound.stops() {
            let key = (stop.device, stop.act, stop.load);
            if is_start(stop) {
                if !answers.starts_too.contains(&key) {
                    answers.starts_too.push(key);
                }
                continue;
            }
            let stops = matches!(stop.on_break, Break::Stops { .. });
            let known =
                answers.broken_wires.iter_mut().find(|known| (known.device, known.act, known.load) == key);
            let found = BrokenWire {
                device: stop.device,
                act: stop.act,
                load: stop.load,
                stops,
                procedure,
                broken_ns: stop.broken_ns(),
            };
            match known {
                Some(known) if known.stops && !stops => *known = found,
                Some(_) => {}
                None => answers.broken_wires.push(found),
            }
        }
        for run in *faults {
            for (device, act, load, at_ns) in &run.left_running {
                let known = answers.left_running.iter().any(|left| {
                    (left.fault, left.device, left.act, left.load) == (run.fault, *device, *act, *load)
                });
                let stop = sound
                    .stops()
                    .iter()
                    .find(|stop| (stop.device, stop.act, stop.load) == (*device, *act, *load));
                if !known && !stop.is_some_and(is_start) {
                    answers.left_running.push(LeftRunning {
                        fault: run.fault,
                        device: *device,
                        act: *act,
                        load: *load,
                        procedure,
                        at_ns: *at_ns,
                        noticed: noticed(run.fault) || answers.failing == answers.procedures,
                    });
                }
            }
        }
    }
    let order = |fault: SingleFault| single_faults(station).iter().position(|known| *known == fault);
    answers.left_running.sort_by_key(|left| (left.load, left.device, left.act, order(left.fault)));
    answers.broken_wires.sort_by_key(|wire| (wire.device, wire.act, wire.load));
    // A procedure that fails anyway notices nothing, and does not count against the others.
    let told = || runs.iter().filter(|(sound, _)| sound.failed.is_none());
    if told().next().is_some() {
        for fault in single_faults(station) {
            if !noticed(fault) {
                let changes = told()
                    .flat_map(|(_, faults)| faults.iter())
                    .filter(|run| run.fault == fault)
                    .any(|run| run.effects.iter().any(|effect| !effect.is_as_before()));
                answers.unnoticed.push(Unnoticed { fault, changes });
            }
        }
    }
    answers.never_run = (0..station.loads.len())
        .filter(|load| !runs.iter().any(|(sound, _)| sound.runs(station, *load)))
        .collect();
    answers
}

impl Answers {
    /// Whether there is something that better wiring or a better procedure would avoid: a broken wire that cannot stop
    /// what its device stops, or a fault that leaves a load running and that no procedure notices.
    pub fn is_dangerous(&self) -> bool {
        self.broken_wires.iter().any(|wire| !wire.stops) || self.left_running.iter().any(|left| !left.noticed)
    }
}

//! A run with a fault.

use latchwork_grammar::Span;

use super::{
    effect::{Effect, effect},
    fault::SingleFault,
    sound::{Runner, SoundRun},
    stop::Move,
    timeline::Timeline,
};
use crate::{
    procedure::{Script, Verdict},
    station::Station,
};

/// What a fault does in a procedure.
#[derive(Clone, Debug, PartialEq)]
pub struct FaultRun {
    /// The fault.
    pub fault: SingleFault,
    /// What becomes of each load, in the order of the station.
    pub effects: Vec<Effect>,
    /// Whether the procedure notices it.
    pub notice: Notice,
    /// Loads that run on although a person stops them, if the fault comes while they run: device, what is done to it, load, when (in nanoseconds, sound run).
    pub left_running: Vec<(usize, Move, usize, i64)>,
}

/// Whether a procedure notices a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Notice {
    /// It fails.
    Noticed {
        /// At this step.
        step: Span,
        /// When in the run, in nanoseconds.
        time_ns: i64,
    },
    /// It passes all the same.
    Unnoticed,
    /// It fails without the fault too.
    CannotTell,
}

/// Runs a procedure with one fault from the start.
pub fn with_fault<'s>(
    script: &Script<'s>,
    index: usize,
    station: &'s Station,
    sound: &SoundRun,
    fault: SingleFault,
) -> FaultRun {
    let runner = Runner { script, index, station };
    let outcome = runner.run(vec![fault.initial()], Vec::new());
    let notice = match &outcome.verdict {
        _ if sound.failed.is_some() => Notice::CannotTell,
        Verdict::Failed(failure) => Notice::Noticed { step: failure.step, time_ns: failure.time_ns },
        Verdict::Passed | Verdict::Refused(_) => Notice::Unnoticed,
    };
    let Some(recording) = outcome.compared else {
        return FaultRun { fault, effects: Vec::new(), notice, left_running: Vec::new() };
    };
    let timeline = Timeline::new(recording, &outcome.acted_ns, station);
    let effects = (0..station.loads.len()).map(|load| {
        effect(station, &sound.timeline, &timeline, load, |scan| {
            let mut stopping = sound.acts.stopping.iter().rev();
            let act = stopping.find(|act| act.load == load && act.scan <= scan && scan < act.next)?;
            Some((act.device, act.to.clone()))
        })
    });
    let in_vain = sound.acts.stops.iter().filter(|stop| stop.is_in_vain(&runner, &sound.timeline, fault));
    let left_running = in_vain.map(|stop| (stop.device, stop.act, stop.load, stop.at_ns)).collect();
    FaultRun { fault, effects: effects.collect(), notice, left_running }
}

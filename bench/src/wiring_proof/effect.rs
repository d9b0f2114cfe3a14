//! What a fault does to a load, compared with the sound run.

use latchwork_vm::Value;

use super::timeline::{Piece, Timeline};
use crate::station::{LoadForm, Station};

/// What becomes of a load; times are those of the sound run, in nanoseconds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Effect {
    /// What is different, the first of its kind each; nothing if all is as before.
    pub changes: Vec<Change>,
}

/// A difference.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// It never runs, though it does in the sound run.
    NeverRuns,
    /// It goes off while it runs on in the sound run.
    StopsEarlier {
        /// When.
        at_ns: i64,
    },
    /// It does not run, though it does in the sound run.
    DoesNotRun {
        /// From.
        from_ns: i64,
        /// To.
        to_ns: i64,
    },
    /// It runs on when it goes off in the sound run.
    RunsOn {
        /// From.
        from_ns: i64,
        /// To; `None` to the end.
        to_ns: Option<i64>,
        /// The act that stops it in the sound run: device and the state it is brought to.
        although: Option<(usize, Value)>,
    },
    /// It runs when it should not.
    RunsWrongly {
        /// From.
        from_ns: i64,
        /// To; `None` to the end.
        to_ns: Option<i64>,
    },
    /// An analog load has another value.
    OtherValue {
        /// From.
        from_ns: i64,
        /// The value with the fault, in engineering units.
        value: f64,
        /// The value in the sound run.
        sound: f64,
    },
}

impl Effect {
    /// Whether nothing is different.
    pub fn is_as_before(&self) -> bool {
        self.changes.is_empty()
    }
}

/// Whether a load runs at a value of it.
pub(super) fn runs(station: &Station, load: usize, value: &Value) -> bool {
    match station.loads.get(load).map(|load| &load.form) {
        Some(LoadForm::Analog { scaling, .. }) => value.as_f64().is_some_and(|value| value > scaling.range.0),
        _ => value.as_bool().unwrap_or(false),
    }
}

/// Compares a run with the sound one. `stopped_by` tells which act made a load go off at a scan of the sound run.
pub(super) fn effect(
    station: &Station,
    sound: &Timeline,
    other: &Timeline,
    load: usize,
    stopped_by: impl Fn(u32) -> Option<(usize, Value)>,
) -> Effect {
    let pieces = sound.beside(other, load);
    let states = |piece: &Piece<'_>| (runs(station, load, piece.sound), runs(station, load, piece.other));
    let mut effect = Effect::default();
    let end = pieces.last().map_or(0, |piece| piece.to);
    let (mut runs_on, mut wrongly, mut missing, mut differs) = (false, false, false, false);
    let never = pieces.iter().any(|piece| states(piece).0) && pieces.iter().all(|piece| !states(piece).1);
    for (index, piece) in pieces.iter().enumerate() {
        let now = states(piece);
        let before = index.checked_sub(1).and_then(|index| pieces.get(index)).map(states);
        // To the end of what is different in the same way.
        let to = || {
            let rest = pieces.iter().skip(index);
            let same = rest.take_while(|later| states(later) == now).last();
            same.map_or(piece.to, |last| last.to)
        };
        let from_ns = sound.time_ns(piece.from);
        let to_ns = || Some(to()).filter(|to| *to < end).map(|to| sound.time_ns(to));
        match now {
            (false, true) if before == Some((true, true)) && !runs_on => {
                runs_on = true;
                let although = stopped_by(piece.from);
                effect.changes.push(Change::RunsOn { from_ns, to_ns: to_ns(), although });
            }
            (false, true) if matches!(before, None | Some((_, false))) && !wrongly => {
                wrongly = true;
                effect.changes.push(Change::RunsWrongly { from_ns, to_ns: to_ns() });
            }
            (true, false) if !missing => {
                missing = true;
                effect.changes.push(if never {
                    Change::NeverRuns
                } else if before == Some((true, true)) {
                    Change::StopsEarlier { at_ns: from_ns }
                } else {
                    Change::DoesNotRun { from_ns, to_ns: sound.time_ns(to()) }
                });
            }
            (true, true) | (false, false) if !differs && piece.sound != piece.other => {
                differs = true;
                if let Some((value, sound)) = piece.other.as_f64().zip(piece.sound.as_f64()) {
                    effect.changes.push(Change::OtherValue { from_ns, value, sound });
                }
            }
            _ => {}
        }
    }
    // What runs against what is asked comes first.
    effect.changes.sort_by_key(|change| match change {
        Change::RunsOn { .. } => 0,
        Change::RunsWrongly { .. } => 1,
        _ => 2,
    });
    effect
}

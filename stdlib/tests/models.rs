//! Every block against a model written apart from it, over random sequences of calls: bistables and edges as
//! truth tables, counters as the standard's bodies on wide integers, timers by what their diagrams declare
//! about the whole history (IEC 61131-3:2013, Tables 43 to 46).
//!
//! Each property runs at least 20 000 calls of each block.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]

mod harness;

use harness::block::Rig;
use proptest::prelude::*;

/// Sequences of each property and calls of each sequence.
const SEQUENCES: u32 = 120;
const CALLS: usize = 200;

fn sequence<T: std::fmt::Debug>(call: impl Strategy<Value = T>) -> impl Strategy<Value = Vec<T>> {
    proptest::collection::vec(call, CALLS)
}

/// One call of a timer.
#[derive(Clone, Copy, Debug)]
struct TimerCall {
    now: i64,
    input: bool,
    preset: i64,
}

/// Irregular call times, sometimes several calls at one time, an input that lingers, a preset that changes now
/// and then.
fn timer_calls() -> impl Strategy<Value = Vec<TimerCall>> {
    let step = prop_oneof![2 => Just(0_i64), 6 => 1..12_i64, 1 => 12..80_i64];
    let toggle = prop::bool::weighted(0.25);
    let preset = prop_oneof![12 => Just(None), 1 => (-3..60_i64).prop_map(Some)];
    (0..50_i64, -3..50_i64, sequence((step, toggle, preset))).prop_map(|(mut now, mut preset, steps)| {
        let mut input = false;
        steps
            .into_iter()
            .map(|(step, toggle, change)| {
                now += step;
                input ^= toggle;
                preset = change.unwrap_or(preset);
                TimerCall { now, input, preset }
            })
            .collect()
    })
}

/// The first call from `start` on at which the time since `start` has reached the preset of that call.
fn expiry(history: &[TimerCall], start: usize) -> Option<usize> {
    (start..history.len()).find(|&at| history[at].now - history[start].now >= history[at].preset.max(0))
}

/// ET of a delay or pulse that began at `start`: the time since, or the preset of the call that ended it.
fn elapsed(history: &[TimerCall], start: usize) -> i64 {
    match expiry(history, start) {
        Some(end) => history[end].preset.max(0),
        None => history[history.len() - 1].now - history[start].now,
    }
}

/// TON: Q while IN has been TRUE since a call `start` and the time has run out since then.
fn on_delay(history: &[TimerCall]) -> (bool, i64) {
    let run = history.iter().rev().take_while(|call| call.input).count();
    if run == 0 {
        return (false, 0);
    }
    let start = history.len() - run;
    (expiry(history, start).is_some(), elapsed(history, start))
}

/// TOF: Q while IN is TRUE, and after its last fall until the time has run out.
fn off_delay(history: &[TimerCall]) -> (bool, i64) {
    let Some(last_true) = history.iter().rposition(|call| call.input) else { return (false, 0) };
    let fall = last_true + 1;
    if fall == history.len() {
        return (true, 0);
    }
    (expiry(history, fall).is_none(), elapsed(history, fall))
}

/// TP: each edge of IN that does not fall within a pulse starts one.
fn pulse(history: &[TimerCall]) -> (bool, i64) {
    let mut last = None;
    let mut free_from = 0;
    for at in 0..history.len() {
        let edge = history[at].input && (at == 0 || !history[at - 1].input);
        if edge && at >= free_from {
            last = Some(at);
            free_from = expiry(history, at).unwrap_or(history.len());
        }
    }
    let Some(start) = last else { return (false, 0) };
    match expiry(history, start) {
        None => (true, elapsed(history, start)),
        // ET stays while IN has not been FALSE since the end of the pulse.
        Some(end) if history[end..].iter().all(|call| call.input) => (false, elapsed(history, start)),
        Some(_) => (false, 0),
    }
}

fn check_timer(
    name: &str,
    model: fn(&[TimerCall]) -> (bool, i64),
    calls: &[TimerCall],
) -> Result<(), TestCaseError> {
    let mut rig = Rig::new(name);
    for (index, call) in calls.iter().enumerate() {
        rig.set("IN", i128::from(call.input));
        rig.set("PT", i128::from(call.preset));
        rig.call(call.now);
        let seen = (rig.get("Q") == 1, rig.get("ET") as i64);
        prop_assert_eq!(
            seen,
            model(&calls[..=index]),
            "{} at call {} of {:?}",
            name,
            index,
            &calls[..=index]
        );
    }
    Ok(())
}

/// The value types of counters, with their limits.
const COUNTER_TYPES: [(&str, i128, i128); 6] = [
    ("", i16::MIN as i128, i16::MAX as i128),
    ("_INT", i16::MIN as i128, i16::MAX as i128),
    ("_DINT", i32::MIN as i128, i32::MAX as i128),
    ("_LINT", i64::MIN as i128, i64::MAX as i128),
    ("_UDINT", 0, u32::MAX as i128),
    ("_ULINT", 0, u64::MAX as i128),
];

/// One call of a counter: counting up, counting down, R, LD, and where PV lies (small, or near a limit).
type CounterCall = (bool, bool, bool, bool, Option<(u8, i8)>);

fn counter_calls() -> impl Strategy<Value = Vec<CounterCall>> {
    sequence((
        any::<bool>(),
        any::<bool>(),
        prop::bool::weighted(0.05),
        prop::bool::weighted(0.1),
        prop_oneof![5 => Just(None), 1 => (0..3_u8, -3..=3_i8).prop_map(Some)],
    ))
}

/// The standard's bodies on wide integers.
#[derive(Default)]
struct CounterModel {
    value: i128,
    was_up: bool,
    was_down: bool,
}

impl CounterModel {
    /// R_EDGE: a hidden R_TRIG on each input, run at every call.
    fn edges(&mut self, up: bool, down: bool) -> (bool, bool) {
        let edges = (up && !self.was_up, down && !self.was_down);
        (self.was_up, self.was_down) = (up, down);
        edges
    }
}

fn check_counter(kind: &str, calls: &[CounterCall]) -> Result<(), TestCaseError> {
    for (suffix, least, greatest) in COUNTER_TYPES {
        let mut rig = Rig::new(&format!("{kind}{suffix}"));
        let mut model = CounterModel::default();
        let mut preset = 0;
        for (index, &(up, down, reset, load, change)) in calls.iter().enumerate() {
            if let Some((region, offset)) = change {
                let around = [0, least, greatest][usize::from(region)];
                preset = (around + i128::from(offset)).clamp(least, greatest);
            }
            rig.set("PV", preset);
            let (up_edge, down_edge) = model.edges(up, down);
            let outputs = match kind {
                "CTU" => {
                    rig.set("CU", i128::from(up));
                    rig.set("R", i128::from(reset));
                    if reset {
                        model.value = 0;
                    } else if up_edge && model.value < greatest {
                        model.value += 1;
                    }
                    vec![("Q", model.value >= preset)]
                }
                "CTD" => {
                    rig.set("CD", i128::from(down));
                    rig.set("LD", i128::from(load));
                    if load {
                        model.value = preset;
                    } else if down_edge && model.value > least {
                        model.value -= 1;
                    }
                    vec![("Q", model.value <= 0)]
                }
                _ => {
                    rig.set("CU", i128::from(up));
                    rig.set("CD", i128::from(down));
                    rig.set("R", i128::from(reset));
                    rig.set("LD", i128::from(load));
                    if reset {
                        model.value = 0;
                    } else if load {
                        model.value = preset;
                    } else if up_edge && down_edge {
                        // The edges cancel.
                    } else if up_edge && model.value < greatest {
                        model.value += 1;
                    } else if down_edge && model.value > least {
                        model.value -= 1;
                    }
                    vec![("QU", model.value >= preset), ("QD", model.value <= 0)]
                }
            };
            rig.call(index as i64);
            prop_assert_eq!(rig.get("CV"), model.value, "{}{} call {}", kind, suffix, index);
            for (name, value) in outputs {
                prop_assert_eq!(rig.get(name) == 1, value, "{}{} call {}: {}", kind, suffix, index, name);
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(SEQUENCES))]

    #[test]
    fn on_delay_timers(calls in timer_calls()) {
        for name in ["TON", "TON_TIME", "TON_LTIME"] {
            check_timer(name, on_delay, &calls)?;
        }
    }

    #[test]
    fn off_delay_timers(calls in timer_calls()) {
        for name in ["TOF", "TOF_TIME", "TOF_LTIME"] {
            check_timer(name, off_delay, &calls)?;
        }
    }

    #[test]
    fn pulse_timers(calls in timer_calls()) {
        for name in ["TP", "TP_TIME", "TP_LTIME"] {
            check_timer(name, pulse, &calls)?;
        }
    }

    #[test]
    fn up_counters(calls in counter_calls()) {
        check_counter("CTU", &calls)?;
    }

    #[test]
    fn down_counters(calls in counter_calls()) {
        check_counter("CTD", &calls)?;
    }

    #[test]
    fn up_down_counters(calls in counter_calls()) {
        check_counter("CTUD", &calls)?;
    }

    /// Bistables by their truth tables: first input, second input, state before; in this order.
    #[test]
    fn bistables(calls in sequence(any::<(bool, bool)>())) {
        for (name, first, second, table) in [
            ("SR", "S1", "R", [false, true, false, false, true, true, true, true]),
            ("RS", "S", "R1", [false, true, false, false, true, true, false, false]),
        ] {
            let mut rig = Rig::new(name);
            let mut state = false;
            for (index, (one, two)) in calls.iter().enumerate() {
                rig.set(first, i128::from(*one));
                rig.set(second, i128::from(*two));
                rig.call(index as i64);
                state = table[4 * usize::from(*one) + 2 * usize::from(*two) + usize::from(state)];
                prop_assert_eq!(rig.get("Q1") == 1, state, "{} at call {}", name, index);
            }
        }
    }

    /// Edges: the level differs from the one before, where before the first call it was the other.
    #[test]
    fn edges(levels in sequence(any::<bool>())) {
        for (name, wanted) in [("R_TRIG", true), ("F_TRIG", false)] {
            let mut rig = Rig::new(name);
            let mut before = !wanted;
            for (index, level) in levels.iter().enumerate() {
                rig.set("CLK", i128::from(*level));
                rig.call(index as i64);
                prop_assert_eq!(rig.get("Q") == 1, *level == wanted && before != wanted, "{} {}", name, index);
                before = *level;
            }
        }
    }

    /// Everything a block remembers lies in its instance: an instance restored from its bytes goes on like the
    /// original.
    #[test]
    fn an_instance_is_the_whole_state(
        calls in sequence((any::<[bool; 4]>(), 0..20_i64)),
        cut in 1..CALLS - 1,
    ) {
        for definition in latchwork_stdlib::blocks() {
            let inputs: Vec<_> = definition
                .members
                .iter()
                .filter(|member| {
                    member.section == latchwork_vm::Section::Input
                        && member.ty == latchwork_vm::ElementaryType::Bool
                })
                .collect();
            let preset = definition.member_index("PV").or_else(|| definition.member_index("PT"));
            let mut original = Rig::new(definition.name);
            let mut copy = Rig::new(definition.name);
            if let Some(preset) = preset {
                original.set(definition.members[preset].name, 15);
            }
            let mut now = 0;
            for (index, (levels, step)) in calls.iter().enumerate() {
                now += step;
                if index == cut {
                    copy.restore(&original.state());
                }
                for (member, level) in inputs.iter().zip(levels) {
                    original.set(member.name, i128::from(*level));
                    copy.set(member.name, i128::from(*level));
                }
                original.call(now);
                copy.call(now);
                if index >= cut {
                    prop_assert_eq!(original.state(), copy.state(), "{}", definition.name);
                }
            }
        }
    }
}

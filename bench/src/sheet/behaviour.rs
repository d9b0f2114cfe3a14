//! What a load does between two steps, from the values it had.

use latchwork_vm::Value;

use super::{
    phases::phases,
    text::Text,
    words::{self, AT_ONCE_NS, after, stopwatch},
};
use crate::station::{Load, LoadForm};

/// Blinking that is faster is flicker.
const FLICKER_NS: i64 = 100_000_000;

/// What comes and goes more slowly is not called blinking.
const BLINK_NS: i64 = 5_000_000_000;

/// Most phases that are told; who looks on cannot note more.
const PHASES_TOLD: usize = 6;

/// What a load does between a step and the next one. Times are in nanoseconds from the step.
#[derive(Clone, Debug, PartialEq)]
pub enum Behaviour {
    /// It stays on or off.
    Stays(bool),
    /// It changes.
    Changes {
        /// How, in order of time; one at least.
        phases: Vec<Phase>,
        /// On or off at the end.
        ends: bool,
    },
    /// An analog load stays at a value.
    Level(f64),
    /// An analog load moves.
    Moves {
        /// From here.
        from: f64,
        /// To here.
        to: f64,
        /// The lowest and highest value on the way.
        between: (f64, f64),
        /// Since when it has been about there; `None` if it still moves at the end.
        settled_ns: Option<i64>,
    },
}

/// A part of what a two-state load does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Phase {
    /// It comes on or goes off, and stays so for a while.
    To {
        /// When.
        at_ns: i64,
        /// On or off.
        on: bool,
    },
    /// It comes on, or goes off, for a moment.
    Flash {
        /// When.
        at_ns: i64,
        /// For how long.
        long_ns: i64,
        /// On for a moment, or off.
        on: bool,
    },
    /// It blinks.
    Blinks {
        /// Since when.
        from_ns: i64,
        /// To when; `None` if to the end.
        until_ns: Option<i64>,
        /// How long it is on.
        on_ns: i64,
        /// How long it is off.
        off_ns: i64,
    },
}

impl Behaviour {
    /// What a load did between two moments, from its whole history: the starts of scans and the values after them.
    pub(super) fn of(
        load: &Load,
        history: &[(i64, Value)],
        span_ns: (i64, i64),
        scan_ns: i64,
    ) -> Option<Behaviour> {
        let (from_ns, until_ns) = span_ns;
        let first = history.partition_point(|(time_ns, _)| *time_ns < from_ns);
        let last = history.partition_point(|(time_ns, _)| *time_ns < until_ns);
        let before = first.checked_sub(1).and_then(|before| history.get(before)).map(|(_, value)| value);
        let changes = history.get(first..last)?;
        match &load.form {
            LoadForm::TwoState => {
                // A load is off until the program has started.
                let mut is_on = before.is_some_and(|value| value.as_bool().unwrap_or(false));
                let mut changed: Vec<(i64, bool)> = Vec::new();
                for (time_ns, value) in changes {
                    let on = value.as_bool()?;
                    if on != is_on {
                        changed.push((time_ns - from_ns, on));
                        is_on = on;
                    }
                }
                if changed.is_empty() {
                    return Some(Behaviour::Stays(is_on));
                }
                let phases = phases(&changed, until_ns - from_ns, scan_ns);
                Some(Behaviour::Changes { phases, ends: is_on })
            }
            LoadForm::Analog { scaling, .. } => {
                let values: Vec<(i64, f64)> = changes
                    .iter()
                    .filter_map(|(time_ns, value)| Some((time_ns - from_ns, value.as_f64()?)))
                    .collect();
                // At the start the first value is what it is.
                let start = before.or(changes.first().map(|(_, value)| value))?.as_f64()?;
                // Less than nobody sees is no movement.
                let unseen = (scaling.range.1 - scaling.range.0) / 200.0;
                let to = values.last().map_or(start, |(_, value)| *value);
                let low = values.iter().map(|(_, value)| *value).fold(start, f64::min);
                let high = values.iter().map(|(_, value)| *value).fold(start, f64::max);
                if high - low <= unseen {
                    return Some(Behaviour::Level(to));
                }
                let moving = values.iter().rposition(|(_, value)| (value - to).abs() > unseen);
                let settled =
                    values.get(moving.map_or(0, |moving| moving + 1)).map_or(0, |(time_ns, _)| *time_ns);
                // What has come to rest only in the last moment may be on its way.
                let rest_ns = (until_ns - from_ns - settled).max(0);
                let is_settled = rest_ns >= words::SECOND_NS.min((until_ns - from_ns) / 4).max(scan_ns);
                // At an end of its range it goes no further.
                let is_at_end = to <= scaling.range.0 || to >= scaling.range.1;
                let settled_ns = (is_settled || is_at_end).then_some(settled);
                Some(Behaviour::Moves { from: start, to, between: (low, high), settled_ns })
            }
        }
    }

    /// Whether it is as it was.
    pub fn is_still(&self) -> bool {
        matches!(self, Behaviour::Stays(_) | Behaviour::Level(_))
    }

    /// Whether it blinks to the end.
    pub fn blinks(&self) -> bool {
        matches!(self, Behaviour::Changes { phases, .. } if matches!(phases.last(), Some(Phase::Blinks { until_ns: None, .. })))
    }

    /// What it is at the end, as it is noted: "on", "off", a number.
    pub fn end(&self) -> String {
        match self {
            Behaviour::Stays(on) | Behaviour::Changes { ends: on, .. } => {
                if *on { "on" } else { "off" }.to_owned()
            }
            Behaviour::Level(value) | Behaviour::Moves { to: value, .. } => value.to_string(),
        }
    }

    /// The value of an analog load at the end.
    pub fn value(&self) -> Option<f64> {
        match self {
            Behaviour::Level(value) | Behaviour::Moves { to: value, .. } => Some(*value),
            Behaviour::Stays(_) | Behaviour::Changes { .. } => None,
        }
    }

    /// Whether a load is on at any time.
    pub fn is_ever_on(&self, load: &Load) -> bool {
        match (self, &load.form) {
            (Behaviour::Stays(on), _) => *on,
            (Behaviour::Changes { .. }, _) => true,
            (Behaviour::Level(value), LoadForm::Analog { scaling, .. }) => *value > scaling.range.0,
            (Behaviour::Moves { between, .. }, LoadForm::Analog { scaling, .. }) => {
                between.1 > scaling.range.0
            }
            (Behaviour::Level(_) | Behaviour::Moves { .. }, LoadForm::TwoState) => false,
        }
    }

    /// The time from which on nothing new is to be seen: the last change, or three times of blinking.
    pub(super) fn told_by_ns(&self) -> i64 {
        match self {
            Behaviour::Stays(_) | Behaviour::Level(_) => 0,
            Behaviour::Moves { settled_ns, .. } => settled_ns.unwrap_or(30 * words::SECOND_NS),
            Behaviour::Changes { phases, .. } => match phases.last() {
                None => 0,
                Some(Phase::To { at_ns, .. }) => *at_ns,
                Some(Phase::Flash { at_ns, long_ns, .. }) => at_ns.saturating_add(*long_ns),
                Some(Phase::Blinks { until_ns: Some(until_ns), .. }) => *until_ns,
                Some(Phase::Blinks { from_ns, on_ns, off_ns, .. }) => {
                    from_ns.saturating_add(on_ns.saturating_add(*off_ns).saturating_mul(3))
                }
            },
        }
    }

    /// What it does, behind the name of the load: "comes on at once, goes off after 3 s".
    pub(super) fn words(&self, load: &Load) -> Text {
        match self {
            Behaviour::Stays(on) => Text::new(if *on { "stays on" } else { "stays off" }),
            Behaviour::Level(value) => Text::new(&format!("stays at {}", words::load_value(load, *value))),
            Behaviour::Changes { phases, ends } => Text::new(&changes_words(phases, *ends)),
            Behaviour::Moves { from, to, between, settled_ns } => {
                Text::new(&moves_words(load, (*from, *to), *between, *settled_ns))
            }
        }
    }
}

fn changes_words(phases: &[Phase], ends: bool) -> String {
    let mut told: Vec<String> = phases.iter().take(PHASES_TOLD).map(phase_words).collect();
    let more = phases.len().saturating_sub(PHASES_TOLD);
    if more > 0 {
        told.push(format!("and so on, {more} times more; {} at the end", if ends { "on" } else { "off" }));
    } else if let Some(Phase::Blinks { until_ns: Some(_), .. }) = phases.last() {
        told.push(format!("then stays {}", if ends { "on" } else { "off" }));
    }
    told.join(", ")
}

fn phase_words(phase: &Phase) -> String {
    match phase {
        Phase::To { at_ns, on: true } => format!("comes on {}", after(*at_ns)),
        Phase::To { at_ns, on: false } => format!("goes off {}", after(*at_ns)),
        Phase::Flash { at_ns, long_ns, on } => format!(
            "is {} for a moment only ({}), {}",
            if *on { "on" } else { "off" },
            stopwatch(*long_ns),
            after(*at_ns)
        ),
        Phase::Blinks { from_ns, until_ns, on_ns, off_ns } => {
            if *on_ns.max(off_ns) > BLINK_NS {
                let until =
                    until_ns.map_or(String::new(), |until_ns| format!(" until {}", stopwatch(until_ns)));
                return format!(
                    "comes and goes, on for {} and off for {}, from {} on{until}",
                    stopwatch(*on_ns),
                    stopwatch(*off_ns),
                    if *from_ns <= AT_ONCE_NS { "the beginning".to_owned() } else { stopwatch(*from_ns) }
                );
            }
            let is_flicker = *on_ns.min(off_ns) < FLICKER_NS;
            let (starts, does) =
                if is_flicker { ("begins to flicker", "flickers") } else { ("begins to blink", "blinks") };
            let fast = if is_flicker { ", faster than one can count" } else { "" };
            let times = format!("on {}, off {}{fast}", words::short(*on_ns), words::short(*off_ns));
            let word =
                if *from_ns > AT_ONCE_NS { format!("{starts} {}", after(*from_ns)) } else { does.to_owned() };
            let until =
                until_ns.map_or(String::new(), |until_ns| format!(", for {}", stopwatch(until_ns - from_ns)));
            format!("{word} ({times}){until}")
        }
    }
}

fn moves_words(
    load: &Load,
    (from, to): (f64, f64),
    (low, high): (f64, f64),
    settled_ns: Option<i64>,
) -> String {
    let at = |value: f64| words::load_value(load, value);
    if at(from) == at(to) && settled_ns.is_some() {
        return format!("moves between {} and {}, and comes back to {}", at(low), at(high), at(to));
    }
    // A little beyond the end nobody sees.
    let slack = (high - low) / 50.0;
    let is_one_way = low >= from.min(to) - slack && high <= from.max(to) + slack;
    let verb = if to > from { "rises" } else { "falls" };
    match settled_ns {
        Some(settled_ns) if is_one_way && settled_ns <= AT_ONCE_NS => {
            format!("goes from {} to {} at once", at(from), at(to))
        }
        Some(settled_ns) if is_one_way => {
            format!("{verb} from {} to {} within {}", at(from), at(to), stopwatch(settled_ns))
        }
        Some(settled_ns) => format!(
            "moves between {} and {}, and stands at {} {}",
            at(low),
            at(high),
            at(to),
            after(settled_ns)
        ),
        None if is_one_way => format!("{verb} from {} to {}, and moves on", at(from), at(to)),
        None => format!("moves between {} and {}; at the end it is at {}", at(low), at(high), at(to)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MS: i64 = 1_000_000;

    fn told(changes_ms: &[(i64, bool)], end_ms: i64) -> String {
        let changes: Vec<(i64, bool)> = changes_ms.iter().map(|(time, on)| (time * MS, *on)).collect();
        let ends = changes.last().unwrap().1;
        changes_words(&phases(&changes, end_ms * MS, 10 * MS), ends)
    }

    /// Worked out by hand.
    #[test]
    fn changes_are_told_as_a_person_sees_them() {
        let blink = |from: i64, half: i64, count: i64| -> Vec<(i64, bool)> {
            (0..count).map(|index| (from + half * index, index % 2 == 0)).collect()
        };
        assert_eq!(told(&[(0, true)], 5_000), "comes on at once");
        assert_eq!(told(&[(3_010, true)], 5_000), "comes on after 3 s");
        assert_eq!(told(&[(0, true), (2_500, false)], 5_000), "comes on at once, goes off after 2.5 s");
        assert_eq!(
            told(&[(1_000, true), (1_020, false)], 5_000),
            "is on for a moment only (20 ms), after 1 s"
        );
        assert_eq!(told(&blink(0, 500, 10), 5_000), "blinks (on 0.5 s, off 0.5 s)");
        assert_eq!(told(&blink(2_000, 500, 7), 5_400), "begins to blink after 2 s (on 0.5 s, off 0.5 s)");
        assert_eq!(
            told(&blink(0, 10, 400), 4_000),
            "flickers (on 10 ms, off 10 ms, faster than one can count)"
        );
        // Four changes make three intervals, of which one repeats.
        assert_eq!(
            told(&[(0, true), (500, false), (1_500, true), (2_000, false)], 2_900),
            "blinks (on 0.5 s, off 1 s)"
        );
        assert_eq!(
            told(&[(0, true), (500, false), (1_500, true), (2_700, false)], 2_900),
            "comes on at once, goes off after 0.5 s, comes on after 1.5 s, goes off after 2.7 s"
        );
        // Blinking that ends, and a long light behind it.
        let mut changes = blink(0, 500, 6);
        assert_eq!(told(&changes, 9_000), "blinks (on 0.5 s, off 0.5 s), for 2.5 s, then stays off");
        changes.push((6_000, true));
        assert_eq!(told(&changes, 9_000), "blinks (on 0.5 s, off 0.5 s), for 2.5 s, comes on after 6 s");
        // A flasher of its own, of which the end of one light is seen first.
        let mut changes = vec![(0, true), (120, false)];
        changes.extend(blink(620, 500, 6));
        assert_eq!(told(&changes, 3_500), "blinks (on 0.5 s, off 0.5 s)");
        assert_eq!(told(&blink(0, 250, 10), 2_400), "blinks (on 0.25 s, off 0.25 s)");
        // A long light in front of it.
        let mut changes = vec![(0, true)];
        changes.extend(blink(4_000, 500, 6).into_iter().map(|(time, on)| (time, !on)));
        assert_eq!(
            told(&changes, 6_900),
            "comes on at once, begins to blink after 4 s (on 0.5 s, off 0.5 s)"
        );
        let irregular: Vec<(i64, bool)> =
            (0..20).map(|index| (index * index * 400, index % 2 == 0)).collect();
        assert!(told(&irregular, 200_000).ends_with("and so on, 14 times more; off at the end"));
    }
}

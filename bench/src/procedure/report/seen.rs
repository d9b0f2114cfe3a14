//! What was seen instead of what was expected, in the words that suit the condition: a level of a variable, the value
//! of a variable, or a truth value.

use latchwork_grammar::Sources;
use latchwork_vm::Value;

use super::{parts, quote};
use crate::{
    diagram::{scale::time_text, words::value_text},
    procedure::outcome::Failure,
};

/// What a condition is about.
pub(super) enum Seen {
    /// One two-state variable, or its negation: its name, and its level while the condition is not as expected.
    Level { name: String, wrong: &'static str },
    /// One other variable: its name and its value.
    Value { name: String, value: String },
    /// Anything else: its truth value while it is not as expected.
    Truth { wrong: &'static str },
}

impl Seen {
    /// What the condition of a failure is about; `expected` is the truth value that would be right.
    pub(super) fn of(failure: &Failure, sources: &Sources, expected: bool) -> Self {
        let word = |level: bool| if level { "TRUE" } else { "FALSE" };
        let condition = failure.condition.map(|span| quote::plain(span, sources)).unwrap_or_default();
        match parts::only(failure) {
            Some((name, Value::Bool(_))) => {
                let negated = condition.get(..4).is_some_and(|start| start.eq_ignore_ascii_case("NOT "))
                    && condition.get(4..).is_some_and(|rest| rest.trim_start() == name);
                if negated {
                    Seen::Level { name, wrong: word(expected) }
                } else if condition == name {
                    Seen::Level { name, wrong: word(!expected) }
                } else {
                    Seen::Truth { wrong: word(!expected) }
                }
            }
            Some((name, value)) => Seen::Value { name, value: value_text(value) },
            None => Seen::Truth { wrong: word(!expected) },
        }
    }

    /// "`Pump` is TRUE at 2 s".
    pub(super) fn is(&self, failure: &Failure) -> String {
        let at = time_text(failure.time_ns);
        match self {
            Seen::Level { name, wrong } => format!("`{name}` is {wrong} at {at}"),
            Seen::Value { name, value } => format!("`{name}` is {value} at {at}"),
            Seen::Truth { wrong } => format!("{wrong} at {at}"),
        }
    }

    /// "`Pump` became FALSE at 2 s".
    pub(super) fn became(&self, failure: &Failure) -> String {
        let at = time_text(failure.time_ns);
        match self {
            Seen::Level { name, wrong } => format!("`{name}` became {wrong} at {at}"),
            Seen::Value { name, value } => format!("`{name}` was {value} at {at}"),
            Seen::Truth { wrong } => format!("became {wrong} at {at}"),
        }
    }

    /// What there was instead of a condition that had `allowed_ns` from a time on:
    /// "`Pump` stayed TRUE until 2.31 s: 310 ms, allowed 20 ms".
    pub(super) fn late(&self, failure: &Failure, from_ns: i64, allowed_ns: i64) -> String {
        let allowed = time_text(allowed_ns);
        if let Some(came_ns) = failure.came_right_ns {
            let came = time_text(came_ns);
            let took = time_text(came_ns.saturating_sub(from_ns));
            return match self {
                Seen::Level { name, wrong } => {
                    format!("`{name}` stayed {wrong} until {came}: {took}, allowed {allowed}")
                }
                Seen::Value { .. } => {
                    format!("{}; right only at {came}: {took}, allowed {allowed}", self.is(failure))
                }
                Seen::Truth { wrong } => format!("stayed {wrong} until {came}: {took}, allowed {allowed}"),
            };
        }
        // Runs go on for a while behind a failure, to see whether it would have come right.
        let end_ns = failure.recording.scans.last().map_or(failure.time_ns, |scan| scan.time_ns);
        let end = match end_ns > failure.time_ns {
            true => format!(", and still is at {}", time_text(end_ns)),
            false => format!(" up to {}", time_text(failure.time_ns)),
        };
        match self {
            Seen::Level { name, wrong } => format!("`{name}` stayed {wrong}{end}"),
            Seen::Value { .. } if end_ns > failure.time_ns => {
                format!("{}, and not right up to {}", self.is(failure), time_text(end_ns))
            }
            Seen::Value { .. } => self.is(failure),
            Seen::Truth { wrong } => format!("stayed {wrong}{end}"),
        }
    }
}

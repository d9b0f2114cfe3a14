//! What a procedure does and asks for, in sentences.

use latchwork_grammar::{
    Names, Sources,
    steps::tree::{
        Duration, Expect, ExpectTime, Expected, FaultWord, ResponseTime, StateWord, Step, StepKind,
    },
    tree::{Expression, ExpressionKind, Ident},
};
use latchwork_vm::{Program, Value};

use super::{
    act::{bring, for_a_time},
    conditions::{Subject, bare},
    text::Text,
    words::{self, stopwatch},
};
use crate::{
    diagram::words::harmless,
    panel::{Panel, Place},
    station::{Device, Station},
    terminals::{Direction, direction},
};

/// What takes less time cannot be done by hand, in nanoseconds.
const QUICKEST_NS: i64 = 100_000_000;

/// What the names of a procedure mean.
pub(super) struct Meaning<'a> {
    pub(super) program: &'a Program,
    pub(super) station: &'a Station,
    pub(super) panel: &'a Panel<'a>,
    pub(super) sources: &'a Sources,
    pub(super) names: &'a Names,
}

impl<'a> Meaning<'a> {
    /// What a step does, if it does something.
    pub(super) fn act(&self, step: &Step) -> Option<Text> {
        let text = match &step.kind {
            StepKind::Press { devices, hold } => {
                let devices = self.devices(devices);
                match (hold, devices.as_slice()) {
                    (Some(hold), devices) => for_a_time(devices, hold.nanoseconds),
                    (None, devices) => self.together(devices, true),
                }
            }
            StepKind::Release(devices) => self.together(&self.devices(devices), false),
            StepKind::Turn { device, to } => {
                let device = self.device(*device)?;
                bring(device, name(device), &Value::Bool(state(device, to)?))
            }
            StepKind::Set { target, value } => self.set(target, value),
            StepKind::Ramp { target, value, over } => {
                let over = stopwatch(over.nanoseconds);
                let (what, to) = (self.target(target), self.value(target, value));
                Text::new("Move ")
                    .then(what)
                    .words(" evenly to ")
                    .then(to)
                    .words(&format!(" within {over}; go on with the next step meanwhile"))
            }
            StepKind::Repeat { times, steps, .. } => {
                let acts = steps.iter().filter_map(|step| match &step.kind {
                    StepKind::Wait(time) => Some(Text::new(&format!("wait {}", stopwatch(time.nanoseconds)))),
                    _ => self.act(step),
                });
                Text::new(&format!("{times} times: ")).then(Text::list(acts.collect(), ", then "))
            }
            StepKind::Place { fault, on, at } => self.place(*fault, *on, at.as_ref()),
            StepKind::Clear(names) if names.is_empty() => Text::new("Take all faults away"),
            StepKind::Clear(names) => {
                let names = names.iter().map(|ident| Text::default().name(self.names.spelling(ident.name)));
                Text::new("Take the fault away from ").then(Text::list(names.collect(), " and "))
            }
            StepKind::Restart { warm: true } => {
                Text::new("Restart the controller warm (what is retained stays)")
            }
            StepKind::Restart { warm: false } => Text::new("Restart the controller cold"),
            StepKind::Wait(_)
            | StepKind::At(_)
            | StepKind::Expect(_)
            | StepKind::Always(_)
            | StepKind::Never(_)
            | StepKind::Whenever { .. } => return None,
        };
        Some(text)
    }

    /// Whether a hand is too slow for a step.
    pub(super) fn is_too_quick(&self, step: &Step) -> bool {
        let is_quick = |time: &Duration| time.nanoseconds < QUICKEST_NS;
        match &step.kind {
            StepKind::Press { hold: Some(hold), .. } => is_quick(hold),
            StepKind::Wait(time) => is_quick(time),
            StepKind::Repeat { steps, .. } => steps.iter().any(|step| self.is_too_quick(step)),
            _ => false,
        }
    }

    /// What an expectation asks for, if it begins to look so long after the last thing that was done.
    pub(super) fn demand(&self, expect: &Expect, since_ns: i64) -> Text {
        let what = match &expect.what {
            Expected::Condition(condition) => self.condition(condition),
            Expected::Near { value, target, tolerance } => self.near(value, target, tolerance),
            Expected::Edges { bound, count, edge, of } => self.edges(*bound, *count, *edge, of),
        };
        let is_later = since_ns > words::AT_ONCE_NS;
        let at = |duration: &Duration| stopwatch(since_ns.saturating_add(duration.nanoseconds));
        let since = stopwatch(since_ns);
        let when = match &expect.when {
            ExpectTime::Now if is_later => format!(", after {since}"),
            ExpectTime::Now => String::new(),
            ExpectTime::While(_) if matches!(expect.what, Expected::Edges { .. }) => String::new(),
            ExpectTime::While(_) => " all along".to_owned(),
            ExpectTime::Within(within)
                if since_ns.saturating_add(within.nanoseconds) <= words::AT_ONCE_NS =>
            {
                " at once".to_owned()
            }
            ExpectTime::Within(within) if matches!(expect.what, Expected::Edges { .. }) && is_later => {
                format!(" between {since} and {}", at(within))
            }
            ExpectTime::Within(within) if matches!(expect.what, Expected::Edges { .. }) => {
                format!(" within {}", at(within))
            }
            ExpectTime::Within(within) => format!(" after {} at the latest", at(within)),
            ExpectTime::For(stay) if is_later => format!(" from {since} to {}", at(stay)),
            ExpectTime::For(stay) => format!(", and stays so for {}", stopwatch(stay.nanoseconds)),
            ExpectTime::WithinFor(within, stay) => {
                format!(
                    " after {} at the latest, and stays so for {}",
                    at(within),
                    stopwatch(stay.nanoseconds)
                )
            }
            ExpectTime::Between(from, until) if at(from) == at(until) => {
                format!(" after {}, and no sooner", at(from))
            }
            ExpectTime::Between(from, until) => {
                format!(" after {} to {}, and no sooner", at(from).trim_end_matches(" s"), at(until))
            }
        };
        what.words(&when)
    }

    /// What a step demands to hold all along, if it does.
    pub(super) fn rule(&self, step: &StepKind) -> Option<Text> {
        Some(match step {
            StepKind::Always(rule) => Text::new("always: ").then(self.condition(&rule.condition)),
            StepKind::Never(rule) => Text::new("never: ").then(self.condition(&rule.condition)),
            StepKind::Whenever { trigger, response, when, .. } => {
                let when = match when {
                    ResponseTime::AtOnce => " at the same time".to_owned(),
                    ResponseTime::Within(time) if time.nanoseconds <= words::AT_ONCE_NS => {
                        " at once".to_owned()
                    }
                    ResponseTime::Within(time) => format!(" within {}", stopwatch(time.nanoseconds)),
                    ResponseTime::For(time) => {
                        format!(" at the same time and for {}", stopwatch(time.nanoseconds))
                    }
                };
                Text::new("whenever ")
                    .then(self.condition(trigger))
                    .words(", then ")
                    .then(self.condition(response))
                    .words(&when)
            }
            _ => return None,
        })
    }

    fn devices(&self, idents: &[Ident]) -> Vec<&'a Device> {
        idents.iter().filter_map(|ident| self.device(*ident)).collect()
    }

    fn device(&self, ident: Ident) -> Option<&'a Device> {
        self.station.device(self.names.spelling(ident.name))
    }

    /// Several devices at once.
    fn together(&self, devices: &[&Device], to: bool) -> Text {
        if let [device] = devices {
            return bring(device, name(device), &Value::Bool(to));
        }
        let are_buttons = devices.iter().all(|device| device.word_of_state(true) == "pressed");
        if are_buttons {
            let names = Text::list(devices.iter().map(|device| name(device)).collect(), " and ");
            return if to {
                Text::new("Press ").then(names).words(" together and hold them")
            } else {
                Text::new("Let go of ").then(names).words(" together")
            };
        }
        let each =
            devices.iter().map(|device| name(device).words(&format!(" to {}", words::state(device, to))));
        Text::new("Bring together ").then(Text::list(each.collect(), " and "))
    }

    fn set(&self, target: &Expression, value: &Expression) -> Text {
        let path = self.source(target);
        match self.panel.find(self.program, path) {
            Ok(Place::Device(index)) => {
                let Some(device) = self.station.devices.get(index) else { return Text::default() };
                let written = self.source(value);
                let state = device.state_of_word(written).or(match written.to_ascii_uppercase().as_str() {
                    "TRUE" => Some(true),
                    "FALSE" => Some(false),
                    _ => None,
                });
                match state {
                    Some(state) => bring(device, name(device), &Value::Bool(state)),
                    None => {
                        Text::new("Set ").then(name(device)).words(" to ").then(self.value(target, value))
                    }
                }
            }
            Ok(Place::Plant(_)) => {
                Text::new("In the process: ").code(path).words(" becomes ").then(self.value(target, value))
            }
            Ok(Place::Variable(variable)) if direction(self.program, &variable) == Direction::Input => {
                Text::new("Let the input ").code(path).words(" read ").then(self.value(target, value))
            }
            _ => Text::new("Set the variable ")
                .code(path)
                .words(" of the program to ")
                .then(self.value(target, value))
                .words(" (not from the panel)"),
        }
    }

    fn target(&self, target: &Expression) -> Text {
        match self.subject(self.source(target)) {
            Some(Subject::Device(device)) => name(device),
            _ => Text::default().code(self.source(target)),
        }
    }

    /// A value as it is written, with the unit of what it is for.
    fn value(&self, target: &Expression, value: &Expression) -> Text {
        let is_literal =
            matches!(bare(value).kind, ExpressionKind::Literal(_) | ExpressionKind::TypedLiteral { .. });
        let written = self.source(value);
        let text = if is_literal { Text::new(&harmless(written)) } else { Text::default().code(written) };
        text.words(&self.unit(target))
    }

    fn place(&self, fault: FaultWord, on: Ident, at: Option<&StateWord>) -> Text {
        let fault = match fault {
            FaultWord::OpenWire => "open wire",
            FaultWord::Shorted => "shorted",
            FaultWord::Stuck => "stuck",
        };
        let at = at.map_or(String::new(), |at| format!(" at {}", at.word));
        let at = harmless(&at);
        Text::new(&format!("Place the fault “{fault}{at}” on ")).name(self.names.spelling(on.name))
    }

    /// The text of an expression on one line.
    pub(super) fn source(&self, expression: &Expression) -> &'a str {
        self.sources.text(expression.span)
    }
}

pub(super) fn name(device: &Device) -> Text {
    Text::default().name(&device.name.value)
}

/// The state that a step turns a device to.
pub(super) fn state(device: &Device, word: &StateWord) -> Option<bool> {
    device.state_of_word(&word.word).or(match word.word.to_ascii_uppercase().as_str() {
        "TRUE" => Some(true),
        "FALSE" => Some(false),
        _ => None,
    })
}

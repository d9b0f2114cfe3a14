//! From the tree of a procedure to bound steps: names are looked up, states are read, and every expression gets a
//! number among the probes.

use latchwork_compiler::probe::{Probe, ProbeKind, Wanted};
use latchwork_grammar::{
    Diagnostic, Names, Sources, Span,
    steps::tree::{Expect, ExpectTime, Expected, FaultWord, ResponseTime, StateWord, Step, StepKind, Text},
    tree::{Expression, ExpressionKind, Ident},
};
use latchwork_vm::{ElementaryType, Restart, Value};

use super::{
    bound::{
        BoundExpect, BoundKind, BoundResponse, BoundRule, BoundStep, BoundTime, Check, PlacedLoadFault,
        ProbeId, SetTarget, SetValue,
    },
    names::NamesOutside,
};
use crate::{
    nearest::{alternatives, did_you_mean, nearest},
    panel::{Missing, Place},
    station::{Device, DeviceForm},
    terminals::{Direction, direction},
    wiring::WiringFault,
};

/// Binds the steps of one procedure.
pub(super) struct Binder<'a, 't> {
    pub(super) outside: &'a NamesOutside<'a>,
    pub(super) sources: &'a Sources,
    pub(super) names: &'a Names,
    /// The expressions met so far; a probe's number is its place.
    pub(super) probes: Vec<Probe<'t>>,
    /// Measures that are compared with one another, with their places.
    pub(super) measures: Vec<[(ProbeId, Span); 3]>,
    pub(super) diagnostics: Vec<Diagnostic>,
}

impl<'t> Binder<'_, 't> {
    /// The steps; those with an error are left out.
    pub(super) fn steps(&mut self, steps: impl IntoIterator<Item = &'t Step>) -> Vec<BoundStep> {
        steps
            .into_iter()
            .filter_map(|step| Some(BoundStep { kind: self.step(&step.kind)?, span: head(step) }))
            .collect()
    }

    fn step(&mut self, step: &'t StepKind) -> Option<BoundKind> {
        Some(match step {
            StepKind::Press { devices, hold } => BoundKind::Press {
                devices: self.two_state_devices(devices, "pressed")?,
                hold_ns: hold.map(|hold| hold.nanoseconds),
            },
            StepKind::Release(devices) => BoundKind::Release(self.two_state_devices(devices, "released")?),
            StepKind::Turn { device, to } => {
                let index = self.two_state_device(*device, "turned")?;
                let state = self.state(index, to)?;
                let target = SetTarget::Device(index);
                BoundKind::Set { target, value: SetValue::Known(Value::Bool(state)) }
            }
            StepKind::Set { target, value } => self.set(target, value)?,
            StepKind::Ramp { target, value, over } => {
                let (target, kind) = self.target(target)?;
                if !is_measure(&kind) {
                    let span = value.span;
                    self.diagnostics.push(
                        Diagnostic::error(
                            "procedure-target",
                            span,
                            "only a number or a duration can be ramped",
                        )
                        .label("a ramp to this value has nothing in between")
                        .note("use `set` for a value that changes at once"),
                    );
                    return None;
                }
                BoundKind::Ramp {
                    target,
                    value: self.probe(value, Wanted::Measure),
                    over_ns: over.nanoseconds,
                }
            }
            StepKind::Wait(duration) => BoundKind::Wait(duration.nanoseconds),
            StepKind::At(time) => BoundKind::At(time.nanoseconds),
            StepKind::Repeat { times, steps, .. } => {
                BoundKind::Repeat { times: *times, steps: self.steps(steps) }
            }
            StepKind::Place { fault, on, at } => self.place(*fault, *on, at.as_ref())?,
            StepKind::Clear(names) => self.clear(names)?,
            StepKind::Restart { warm: true } => BoundKind::Restart(Restart::Warm),
            StepKind::Restart { warm: false } => BoundKind::Restart(Restart::Cold),
            StepKind::Expect(expect) => BoundKind::Expect(self.expect(expect)),
            StepKind::Always(rule) => {
                let probe = self.probe(&rule.condition, Wanted::Bool);
                throughout(BoundRule::Always(probe), rule.condition.span, rule.hint.as_ref())
            }
            StepKind::Never(rule) => {
                let probe = self.probe(&rule.condition, Wanted::Bool);
                throughout(BoundRule::Never(probe), rule.condition.span, rule.hint.as_ref())
            }
            StepKind::Whenever { trigger, response, when, hint: text } => {
                let bound = BoundRule::Whenever {
                    trigger: self.probe(trigger, Wanted::Bool),
                    response: self.probe(response, Wanted::Bool),
                    when: match when {
                        ResponseTime::AtOnce => BoundResponse::AtOnce,
                        ResponseTime::Within(time) => BoundResponse::Within(time.nanoseconds),
                        ResponseTime::For(time) => BoundResponse::For(time.nanoseconds),
                    },
                };
                throughout(bound, response.span, text.as_ref())
            }
        })
    }

    fn expect(&mut self, expect: &'t Expect) -> BoundExpect {
        let (check, condition) = match &expect.what {
            Expected::Condition(condition) => {
                (Check::Condition(self.probe(condition, Wanted::Bool)), condition.span)
            }
            Expected::Near { value, target, tolerance } => {
                let [value, target, tolerance] = [value, target, tolerance]
                    .map(|measure| (self.probe(measure, Wanted::Measure), measure.span));
                self.measures.push([value, target, tolerance]);
                let check = Check::Near { value: value.0, target: target.0, tolerance: tolerance.0 };
                (check, value.1.to(tolerance.1))
            }
            Expected::Edges { bound, count, edge, of } => {
                let wanted = match edge {
                    latchwork_grammar::steps::tree::EdgeWord::Change => Wanted::Any,
                    _ => Wanted::Bool,
                };
                let of_probe = self.probe(of, wanted);
                (Check::Edges { bound: *bound, count: *count, edge: *edge, of: of_probe }, of.span)
            }
        };
        let when = match &expect.when {
            ExpectTime::Now => BoundTime::Now,
            ExpectTime::Within(time) => BoundTime::Within(time.nanoseconds),
            ExpectTime::For(time) => BoundTime::For(time.nanoseconds),
            ExpectTime::WithinFor(within, stay) => BoundTime::WithinFor(within.nanoseconds, stay.nanoseconds),
            ExpectTime::Between(from, until) => BoundTime::Between(from.nanoseconds, until.nanoseconds),
            ExpectTime::While(steps) => BoundTime::While(self.steps(steps)),
        };
        BoundExpect { check, when, hint: hint(expect.hint.as_ref()), condition }
    }

    fn probe(&mut self, expression: &'t Expression, wanted: Wanted) -> ProbeId {
        self.probes.push(Probe { expression, wanted });
        ProbeId(self.probes.len() - 1)
    }

    fn set(&mut self, target: &'t Expression, value: &'t Expression) -> Option<BoundKind> {
        let span = target.span;
        let (target, kind) = self.target(target)?;
        // `set Float to wet`: a word of the device, before it is taken as a name.
        if let (SetTarget::Device(index), ExpressionKind::Name(_)) = (&target, &value.kind)
            && let Some(state) =
                self.device(*index).and_then(|device| device.state_of_word(self.text(value.span)))
        {
            return Some(BoundKind::Set { target, value: SetValue::Known(Value::Bool(state)) });
        }
        let wanted = Wanted::Value { kind, target: span };
        Some(BoundKind::Set { target, value: SetValue::Probe(self.probe(value, wanted)) })
    }

    /// What can be set, and its type.
    fn target(&mut self, target: &Expression) -> Option<(SetTarget, ProbeKind)> {
        let path = self.text(target.span).to_owned();
        let place = match self.outside.find(&path) {
            Ok(place) => place,
            Err(Missing { label, .. }) => {
                let message = format!("`{path}` is no device, variable or address");
                self.diagnostics
                    .push(Diagnostic::error("procedure-unknown-name", target.span, message).label(label));
                return None;
            }
        };
        if let Some(diagnostic) = self.follows_plant(&place, target.span, &path) {
            self.diagnostics.push(diagnostic);
            return None;
        }
        let mut refuse = |message: String, remedy: &str| {
            self.diagnostics.push(Diagnostic::error("procedure-target", target.span, message).label(remedy));
            None
        };
        let Some(kind) = self.outside.kind_of(&place) else {
            return refuse(
                format!("`{path}` is a reference, which cannot be set"),
                "set the variable it refers to",
            );
        };
        match place {
            Place::Device(index) => Some((SetTarget::Device(index), kind)),
            // Looked at above.
            Place::Plant(variable) => Some((SetTarget::Plant(variable), kind)),
            Place::Terminal(_) => refuse(
                format!("`{path}` is the terminal of a device, and the program does not read it"),
                "set the device instead",
            ),
            Place::Load(_) => refuse(
                format!("`{path}` is a load: the program drives it"),
                "set devices, inputs and internal variables",
            ),
            Place::Variable(variable) => match direction(self.outside.program, &variable) {
                Direction::Output => refuse(
                    format!("`{path}` is an output: the program writes it"),
                    "set devices, inputs and internal variables",
                ),
                Direction::Constant | Direction::ReadOnly => refuse(
                    format!("`{path}` cannot be written"),
                    "set devices, inputs and internal variables",
                ),
                found => Some((SetTarget::Variable { variable, input: found == Direction::Input }, kind)),
            },
        }
    }

    fn two_state_devices(&mut self, devices: &[Ident], done: &str) -> Option<Vec<usize>> {
        // Every unknown one is reported.
        let found: Vec<Option<usize>> =
            devices.iter().map(|device| self.two_state_device(*device, done)).collect();
        found.into_iter().collect()
    }

    fn two_state_device(&mut self, ident: Ident, done: &str) -> Option<usize> {
        let index = self.named_device(ident)?;
        if let Some(Device { form: DeviceForm::Analog { .. }, .. }) = self.device(index) {
            let name = self.names.spelling(ident.name);
            let message = format!("`{name}` is an analog device and cannot be {done}");
            self.diagnostics.push(
                Diagnostic::error("procedure-analog-device", ident.span, message)
                    .label(format!("write `set {name} to …` with a value in its units")),
            );
            return None;
        }
        let name = self.names.spelling(ident.name);
        if let Some(diagnostic) = self.follows_plant(&Place::Device(index), ident.span, name) {
            self.diagnostics.push(diagnostic);
            return None;
        }
        Some(index)
    }

    fn named_device(&mut self, ident: Ident) -> Option<usize> {
        let name = self.names.spelling(ident.name).to_owned();
        let found = self.outside.find(&name);
        if let Ok(Place::Device(index)) = found {
            return Some(index);
        }
        let devices: Vec<&str> =
            self.outside.panel.devices().iter().map(|wired| wired.device.name.value.as_str()).collect();
        let diagnostic = Diagnostic::error(
            "procedure-unknown-device",
            ident.span,
            format!("the station has no device `{name}`"),
        );
        let diagnostic = match &found {
            Ok(Place::Load(_)) => diagnostic.label("this is a load: the program drives it"),
            Ok(_) => {
                let wired = devices_of(self.outside, &name);
                match wired {
                    Some(device) => diagnostic.label(format!(
                        "this is what the program reads; the device wired to it is `{device}`"
                    )),
                    None if is_output(self.outside, &name) => {
                        diagnostic.label("this is an output: the program writes it")
                    }
                    None => diagnostic
                        .label(format!("this is a variable of the program; write `set {name} to …`")),
                }
            }
            Err(_) if devices.is_empty() => diagnostic
                .label("no device is known here")
                .note("name the station above the procedures: `station 'station.toml';`"),
            Err(_) => {
                let near = nearest(&name, devices.iter().copied());
                let known = || format!("the devices are {}", alternatives(&devices).replace(" or ", " and "));
                diagnostic.label(did_you_mean(&near).unwrap_or_else(known))
            }
        };
        self.diagnostics.push(diagnostic);
        None
    }

    fn device(&self, index: usize) -> Option<&Device> {
        self.outside.panel.devices().get(index).map(|wired| wired.device)
    }

    /// The state of a word.
    fn state(&mut self, device: usize, word: &StateWord) -> Option<bool> {
        let described = self.device(device)?;
        let literal = match word.word.to_ascii_uppercase().as_str() {
            "TRUE" => Some(true),
            "FALSE" => Some(false),
            _ => None,
        };
        if let Some(state) = described.state_of_word(&word.word).or(literal) {
            return Some(state);
        }
        let DeviceForm::TwoState { actuated, released, .. } = &described.form else { return None };
        let near = nearest(&word.word, [actuated.as_str(), released.as_str()]);
        let message = format!("`{}` has no state `{}`", described.name.value, word.word);
        let label =
            did_you_mean(&near).unwrap_or_else(|| format!("its states are `{actuated}` and `{released}`"));
        self.diagnostics.push(Diagnostic::error("procedure-state-word", word.span, message).label(label));
        None
    }

    fn place(&mut self, fault: FaultWord, on: Ident, at: Option<&StateWord>) -> Option<BoundKind> {
        let name = self.names.spelling(on.name).to_owned();
        if let Ok(Place::Load(load)) = self.outside.find(&name) {
            let fault =
                match fault {
                    FaultWord::OpenWire => PlacedLoadFault::OpenWire,
                    FaultWord::Stuck => PlacedLoadFault::Stuck(match at {
                        None => None,
                        Some(word) => Some(self.stuck_value(word)?),
                    }),
                    FaultWord::Shorted => {
                        let message = format!("`{name}` is a load, which has no contact to be shorted");
                        self.diagnostics.push(Diagnostic::error("procedure-fault", on.span, message).label(
                            format!("write `place stuck on {name} at TRUE` for an output that stays on"),
                        ));
                        return None;
                    }
                };
            return Some(BoundKind::PlaceLoad { load, fault });
        }
        let device = self.named_device(on)?;
        let two_state =
            self.device(device).is_some_and(|device| matches!(device.form, DeviceForm::TwoState { .. }));
        let stuck_at = match at {
            None => None,
            Some(word) if two_state => Some(Value::Bool(self.state(device, word)?)),
            Some(word) => Some(self.stuck_value(word)?),
        };
        let fault = match fault {
            FaultWord::OpenWire => WiringFault::OpenWire,
            FaultWord::Shorted => WiringFault::Shorted,
            FaultWord::Stuck => WiringFault::Stuck,
        };
        Some(BoundKind::PlaceDevice { device, fault, stuck_at })
    }

    /// Where something without words for its states is stuck: TRUE, FALSE or a number.
    fn stuck_value(&mut self, word: &StateWord) -> Option<Value> {
        match word.word.to_ascii_uppercase().as_str() {
            "TRUE" | "ON" => return Some(Value::Bool(true)),
            "FALSE" | "OFF" => return Some(Value::Bool(false)),
            _ => {}
        }
        if let Some(number) = word.word.parse::<f64>().ok().filter(|number| number.is_finite()) {
            return Some(Value::Lreal(number));
        }
        let message = format!("`{}` is no place to be stuck at", word.word);
        self.diagnostics.push(
            Diagnostic::error("procedure-state-word", word.span, message)
                .label("write TRUE or FALSE, for an analog one a number"),
        );
        None
    }

    fn clear(&mut self, names: &[Ident]) -> Option<BoundKind> {
        let (mut devices, mut loads) = (Vec::new(), Vec::new());
        let mut failed = false;
        for ident in names {
            if let Ok(Place::Load(load)) = self.outside.find(self.names.spelling(ident.name)) {
                loads.push(load);
            } else {
                match self.named_device(*ident) {
                    Some(device) => devices.push(device),
                    None => failed = true,
                }
            }
        }
        (!failed).then_some(BoundKind::Clear { devices, loads })
    }

    fn text(&self, span: Span) -> &str {
        self.sources.text(span)
    }
}

/// What is shown of a step: of one with a block the words in front of it.
pub(crate) fn head(step: &Step) -> Span {
    let end = match &step.kind {
        StepKind::Repeat { times_span, .. } => *times_span,
        StepKind::Expect(Expect { what, when: ExpectTime::While(_), .. }) => match what {
            Expected::Condition(condition) => condition.span,
            Expected::Near { tolerance, .. } => tolerance.span,
            Expected::Edges { of, .. } => of.span,
        },
        _ => step.span,
    };
    Span::new(step.span.file, step.span.start, end.end)
}

fn throughout(rule: BoundRule, condition: Span, text: Option<&Text>) -> BoundKind {
    BoundKind::Rule { rule, condition, hint: hint(text) }
}

fn hint(text: Option<&Text>) -> Option<String> {
    text.map(|text| text.value.clone())
}

/// Whether a name is an output of the program.
fn is_output(outside: &NamesOutside<'_>, name: &str) -> bool {
    let found = outside.find(name);
    matches!(found, Ok(Place::Variable(variable)) if direction(outside.program, &variable) == Direction::Output)
}

/// The device whose terminal a variable is.
fn devices_of<'a>(outside: &NamesOutside<'a>, name: &str) -> Option<&'a str> {
    let Ok(Place::Variable(variable)) = outside.find(name) else { return None };
    let key = crate::terminals::place_key(&variable);
    let at = |wired: &&crate::panel::WiredDevice<'a>| {
        wired.variable.as_ref().is_some_and(|other| crate::terminals::place_key(other) == key)
    };
    outside.panel.devices().iter().find(at).map(|wired| wired.device.name.value.as_str())
}

/// Whether values of a type have others in between.
fn is_measure(kind: &ProbeKind) -> bool {
    match kind {
        ProbeKind::Elementary(kind) => {
            kind.is_integer()
                || matches!(
                    kind,
                    ElementaryType::Real
                        | ElementaryType::Lreal
                        | ElementaryType::Time
                        | ElementaryType::Ltime
                )
                || (kind.is_bit() && *kind != ElementaryType::Bool)
        }
        _ => false,
    }
}

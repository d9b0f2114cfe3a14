//! Wiring a plant: which program it is, which load sets which input, which output acts on which device.

use std::sync::Arc;

use latchwork_grammar::{Diagnostic, Span};
use latchwork_vm::{
    ElementaryType, Image, NativeFunction, Program, Resolved, ResolvedKind, Section, TypeDescription,
};

use super::{Plant, PlantFiles, places::Places};
use crate::{
    nearest::{alternatives, did_you_mean, nearest},
    station::{DeviceForm, LoadForm, Station},
};

/// The input that tells the time since the last run.
const INTERVAL: &str = "Interval";

pub(super) fn wire(
    mut image: Image,
    natives: &[NativeFunction],
    station: &Station,
    places: &Places,
) -> Result<Plant, Vec<Diagnostic>> {
    let nowhere = Span::new(station.file, 0, 0);
    let heading = station.plant.as_ref().map_or(nowhere, |plant| plant.span);
    let name =
        choose(&mut image, station.plant.as_ref(), heading, places).map_err(|problem| vec![*problem])?;
    let program = match Program::load(image, natives) {
        Ok(program) => Arc::new(program),
        Err(error) => {
            let message = format!("the plant cannot be loaded: {error}");
            return Err(vec![Diagnostic::error("station-plant-program", heading, message)]);
        }
    };
    let plant = Plant {
        program: Arc::clone(&program),
        name: name.clone(),
        interval: None,
        inputs: Vec::new(),
        outputs: Vec::new(),
    };
    let mut wiring = Wiring { station, places, heading, plant, diagnostics: Vec::new() };
    for (member, section, single) in members(&program, &name) {
        match (section, single) {
            (Section::Input, single) => wiring.input(&member, single),
            (Section::Output, single) => wiring.output(&member, single),
            _ => {}
        }
    }
    for variable in program.variables().filter(|variable| variable.location.is_some()) {
        wiring.located(&variable);
    }
    wiring.diagnostics.sort_by_key(|diagnostic| (diagnostic.primary.span, diagnostic.name));
    if wiring.diagnostics.is_empty() { Ok(wiring.plant) } else { Err(wiring.diagnostics) }
}

/// Leaves the program of the plant alone in the image, and gives its name.
fn choose(
    image: &mut Image,
    written: Option<&PlantFiles>,
    heading: Span,
    places: &Places,
) -> Result<String, Box<Diagnostic>> {
    let error = |span, message: String| Diagnostic::error("station-plant-program", span, message);
    if !image.resources.is_empty() {
        let span = places.configuration().unwrap_or(heading);
        return Err(Box::new(
            error(span, "a plant has no CONFIGURATION".into())
                .label("leave it out: a plant is one PROGRAM, which runs after every scan"),
        ));
    }
    let names: Vec<String> = image
        .tasks
        .iter()
        .flat_map(|task| &task.programs)
        .filter_map(|call| image.units.get(call.unit as usize))
        .map(|unit| unit.name.clone())
        .collect();
    let wanted = written.and_then(|written| written.program.as_ref());
    let chosen = match (wanted, names.as_slice()) {
        (_, []) => {
            let message = "the files of the plant hold no PROGRAM".to_string();
            return Err(Box::new(
                error(heading, message)
                    .label("write PROGRAM … END_PROGRAM around the process in one of them"),
            ));
        }
        (Some(wanted), _) => {
            let Some(found) = names.iter().find(|name| name.eq_ignore_ascii_case(&wanted.value)) else {
                let near = nearest(&wanted.value, names.iter().map(String::as_str));
                let otherwise = || format!("expected {}", alternatives(&borrowed(&names)));
                return Err(Box::new(
                    error(wanted.span, format!("the plant has no program `{}`", wanted.value))
                        .label(did_you_mean(&near).unwrap_or_else(otherwise)),
                ));
            };
            found.clone()
        }
        (None, [single]) => single.clone(),
        (None, [first, ..]) => {
            let message = format!("the files of the plant hold {} programs", names.len());
            return Err(Box::new(
                error(heading, message)
                    .label(format!("write which one is the plant below this line: `program = \"{first}\"`"))
                    .note(format!("they are {}", alternatives(&borrowed(&names)).replace(" or ", " and "))),
            ));
        }
    };
    let units = &image.units;
    for task in &mut image.tasks {
        task.programs.retain(|call| {
            units.get(call.unit as usize).is_some_and(|unit| unit.name.eq_ignore_ascii_case(&chosen))
        });
    }
    Ok(chosen)
}

fn borrowed(names: &[String]) -> Vec<&str> {
    names.iter().map(String::as_str).collect()
}

/// The variables of a program, each with its section and, if it is a single value, its place.
fn members(program: &Program, name: &str) -> Vec<(String, Section, Option<Resolved>)> {
    let debug = &program.image().debug;
    let root = debug.roots.iter().find(|root| root.name.eq_ignore_ascii_case(name));
    let Some(TypeDescription::Structure { members, .. }) = root.and_then(|root| debug.kind(root.kind)) else {
        return Vec::new();
    };
    let place = |member: &str| program.resolve(&format!("{name}.{member}")).ok();
    members.iter().map(|member| (member.name.clone(), member.section, place(&member.name))).collect()
}

struct Wiring<'a> {
    station: &'a Station,
    places: &'a Places,
    heading: Span,
    plant: Plant,
    diagnostics: Vec<Diagnostic>,
}

impl Wiring<'_> {
    fn place(&self, variable: &str) -> Span {
        self.places.variable(&self.plant.name, variable).unwrap_or(self.heading)
    }

    fn report(&mut self, name: &'static str, variable: &str, message: String, label: String) {
        let span = self.place(variable);
        self.diagnostics.push(Diagnostic::error(name, span, message).label(label));
    }

    fn input(&mut self, name: &str, variable: Option<Resolved>) {
        let loads = &self.station.loads;
        let same = |other: &str| other.eq_ignore_ascii_case(name);
        if let Some(index) = loads.iter().position(|load| same(&load.name.value)) {
            let (fits, label): (fn(ElementaryType) -> bool, _) = match loads.get(index).map(|load| &load.form)
            {
                Some(LoadForm::Analog { .. }) => {
                    (is_real, "an analog load is a number of engineering units: write LREAL or REAL")
                }
                _ => (is_bool, "this load is on or off: write BOOL"),
            };
            match elementary(variable.as_ref()) {
                Some((variable, kind)) if fits(kind) => self.plant.inputs.push((index, variable.clone())),
                _ => self.wrong_type(name, "the load", label),
            }
            return;
        }
        if same(INTERVAL) {
            let is_time =
                |kind| matches!(kind, ElementaryType::Time | ElementaryType::Ltime) || is_real(kind);
            match elementary(variable.as_ref()) {
                Some((variable, kind)) if is_time(kind) => self.plant.interval = Some(variable.clone()),
                _ => {
                    let label = "write TIME or LTIME for a duration, LREAL or REAL for a number of seconds";
                    self.wrong_type(name, "the time since the last run", label);
                }
            }
            return;
        }
        let label = if self.station.device(name).is_some() {
            "this is a device: what acts on devices is declared in VAR_OUTPUT".to_string()
        } else {
            let known = loads.iter().map(|load| load.name.value.as_str()).chain([INTERVAL]);
            did_you_mean(&nearest(name, known)).unwrap_or_else(|| "no load has a similar name".into())
        };
        self.report("station-plant-variable", name, format!("`{name}` is no load of the station"), label);
        if let Some(diagnostic) = self.diagnostics.last_mut() {
            diagnostic.notes.push(
                "a VAR_INPUT of the plant is named like a load, or is `Interval`, the time since its last run; for anything else use VAR"
                    .into(),
            );
        }
    }

    fn output(&mut self, name: &str, variable: Option<Resolved>) {
        let devices = &self.station.devices;
        let Some(index) = devices.iter().position(|device| device.name.value.eq_ignore_ascii_case(name))
        else {
            let label = if self.station.load(name).is_some() {
                "this is a load: what loads do is declared in VAR_INPUT".to_string()
            } else {
                let known = devices.iter().map(|device| device.name.value.as_str());
                did_you_mean(&nearest(name, known)).unwrap_or_else(|| "no device has a similar name".into())
            };
            self.report(
                "station-plant-variable",
                name,
                format!("`{name}` is no device of the station"),
                label,
            );
            if let Some(diagnostic) = self.diagnostics.last_mut() {
                diagnostic.notes.push(
                    "a VAR_OUTPUT of the plant is named like a device; for anything else use VAR".into(),
                );
            }
            return;
        };
        let (fits, label): (fn(ElementaryType) -> bool, _) = match devices
            .get(index)
            .map(|device| &device.form)
        {
            Some(DeviceForm::Analog { .. }) => (
                is_number,
                "an analog device has a number of engineering units: write LREAL, REAL or an integer type",
            ),
            _ => (is_bool, "this device is actuated or not: write BOOL"),
        };
        match elementary(variable.as_ref()) {
            Some((variable, kind)) if fits(kind) => self.plant.outputs.push((index, variable.clone())),
            _ => self.wrong_type(name, "the device", label),
        }
    }

    fn wrong_type(&mut self, name: &str, what: &str, label: &str) {
        let message = format!("`{name}` has a type that does not fit {what}");
        self.report("station-plant-type", name, message, label.into());
    }

    fn located(&mut self, variable: &Resolved) {
        let name = variable.name.rsplit('.').next().unwrap_or_default();
        let location = variable.location.as_deref().unwrap_or_default();
        let message = format!("the plant has no terminals, and `{}` lies at `{location}`", variable.name);
        let label = "delete the address: a plant sees loads and acts on devices".to_string();
        self.report("station-plant-variable", name, message, label);
    }
}

fn elementary(variable: Option<&Resolved>) -> Option<(&Resolved, ElementaryType)> {
    match variable?.kind {
        ResolvedKind::Elementary(kind) => Some((variable?, kind)),
        _ => None,
    }
}

fn is_bool(kind: ElementaryType) -> bool {
    kind == ElementaryType::Bool
}

fn is_real(kind: ElementaryType) -> bool {
    matches!(kind, ElementaryType::Real | ElementaryType::Lreal)
}

fn is_number(kind: ElementaryType) -> bool {
    is_real(kind) || kind.is_signed() || kind.is_unsigned()
}

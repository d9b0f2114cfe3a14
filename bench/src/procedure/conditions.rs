//! Conditions and values of a procedure at work: their probe image runs beside the program, on copies of what they
//! mention.

use std::sync::Arc;

use latchwork_compiler::probe::{ProbeImage, ProbeInput, ProbePart, ProbePlan};
use latchwork_vm::{ElementaryType, Fault, Machine, Program, Resolved, ResolvedKind, Value};

use super::{
    bound::{Check, ProbeId},
    names::NamesOutside,
    outcome::Part,
};
use crate::panel::{Panel, Place};

/// The probes of a procedure, to be run by any number of [`Conditions`].
#[derive(Clone, Debug)]
pub(super) struct Probes {
    program: Arc<Program>,
    plans: Vec<ProbePlan>,
    /// Parallel to the plans: where their inputs come from.
    inputs: Vec<Vec<Input>>,
}

/// Something to be copied to an input of a probe.
#[derive(Clone, Debug)]
enum Input {
    /// Bytes of the program's data.
    Bytes { from: usize, to: usize, size: usize },
    /// A value that is no such bytes.
    Value { place: Place, to: Resolved },
}

impl Probes {
    /// Looks up what the probes of an image read. `None` if the image is not what the compiler makes.
    pub(super) fn new(image: ProbeImage, outside: &NamesOutside<'_>) -> Option<Probes> {
        let ProbeImage { image, plans } = image;
        let program = Program::load(image, latchwork_stdlib::natives()).ok()?;
        let inputs = plans.iter().map(|plan| {
            plan.inputs.iter().map(|input| Some(source(outside.find(&input.path).ok()?, input))).collect()
        });
        let inputs: Option<Vec<Vec<Input>>> = inputs.collect();
        Some(Probes { program: Arc::new(program), inputs: inputs?, plans })
    }

    /// The names that a probe mentions, in the order of the text.
    pub(super) fn mentioned(&self, probe: ProbeId) -> impl Iterator<Item = &str> {
        let inputs = self.plans.get(probe.0).map_or(&[][..], |plan| &plan.inputs);
        inputs.iter().map(|input| input.path.as_str())
    }

    /// Whether a measure is a duration, not a number.
    pub(super) fn is_duration(&self, probe: ProbeId) -> bool {
        let kind = self.plans.get(probe.0).map(|plan| plan.result.kind);
        matches!(kind, Some(ResolvedKind::Elementary(ElementaryType::Time | ElementaryType::Ltime)))
    }
}

fn source(place: Place, input: &ProbeInput) -> Input {
    match place {
        Place::Variable(variable) if !matches!(variable.kind, ResolvedKind::Bit(_)) => Input::Bytes {
            from: variable.address as usize,
            to: input.place.address as usize,
            size: variable.kind.bytes().min(input.place.kind.bytes()),
        },
        place => Input::Value { place, to: input.place.clone() },
    }
}

/// The probes of a procedure with a machine of their own.
pub(super) struct Conditions<'p> {
    probes: &'p Probes,
    machine: Machine,
}

impl<'p> Conditions<'p> {
    pub(super) fn new(probes: &'p Probes) -> Self {
        Conditions { probes, machine: Machine::new(Arc::clone(&probes.program)) }
    }

    /// The value of a probe. The error is what stopped its evaluation.
    pub(super) fn value(
        &mut self,
        probe: ProbeId,
        machine: &Machine,
        panel: &Panel<'_>,
        now_ns: i64,
    ) -> Result<Value, Box<Fault>> {
        // Numbers are given out by the binding.
        let Some(plan) = self.probes.plans.get(probe.0) else { return Ok(Value::Bool(false)) };
        self.fill(probe, machine, panel);
        self.machine.run_program(plan.call, now_ns)?;
        Ok(self.machine.read(&plan.result))
    }

    /// Whether an expectation is met; `false` for counts of edges, which no single moment meets.
    pub(super) fn holds(
        &mut self,
        check: Check,
        machine: &Machine,
        panel: &Panel<'_>,
        now_ns: i64,
    ) -> Result<bool, Box<Fault>> {
        match check {
            Check::Condition(probe) => {
                Ok(self.value(probe, machine, panel, now_ns)?.as_bool().unwrap_or(false))
            }
            Check::Near { value, target, tolerance } => {
                let value = self.value(value, machine, panel, now_ns)?;
                let target = self.value(target, machine, panel, now_ns)?;
                let tolerance = self.value(tolerance, machine, panel, now_ns)?;
                Ok(near(&value, &target, &tolerance))
            }
            Check::Edges { .. } => Ok(false),
        }
    }

    /// The parts of a probe with their values. If it cannot be computed, only what it reads.
    pub(super) fn parts(
        &mut self,
        probe: ProbeId,
        machine: &Machine,
        panel: &Panel<'_>,
        now_ns: i64,
    ) -> Vec<Part> {
        let Some(plan) = self.probes.plans.get(probe.0) else { return Vec::new() };
        self.fill(probe, machine, panel);
        let computed = self.machine.run_program(plan.explain, now_ns).is_ok();
        let known = plan.parts.iter().filter(|part| computed || part.is_input);
        let read = |part: &ProbePart| Part {
            span: part.span,
            text: part.text.clone(),
            value: self.machine.read(&part.place),
            depth: part.depth,
        };
        known.map(read).collect()
    }

    /// Copies what a probe mentions to its inputs.
    fn fill(&mut self, probe: ProbeId, machine: &Machine, panel: &Panel<'_>) {
        for input in self.probes.inputs.get(probe.0).into_iter().flatten() {
            match input {
                Input::Bytes { from, to, size } => {
                    let source = machine.data().get(*from..from + size);
                    let target = self.machine.data_mut().get_mut(*to..to + size);
                    if let (Some(source), Some(target)) = (source, target) {
                        target.copy_from_slice(source);
                    }
                }
                Input::Value { place, to } => {
                    if let Some(value) = place.value(machine, panel) {
                        // The kinds are the same: the input was declared after the place.
                        let _ = self.machine.write(to, &value);
                    }
                }
            }
        }
    }
}

/// Whether two measures are no further apart than a third. NaN is near to nothing.
fn near(value: &Value, target: &Value, tolerance: &Value) -> bool {
    match (value, target, tolerance) {
        (Value::Duration(value, _), Value::Duration(target, _), Value::Duration(tolerance, _)) => {
            i128::from(value.abs_diff(*target)) <= i128::from(*tolerance)
        }
        _ => match (value.as_f64(), target.as_f64(), tolerance.as_f64()) {
            (Some(value), Some(target), Some(tolerance)) => {
                (value == target && tolerance >= 0.0) || (value - target).abs() <= tolerance
            }
            _ => false,
        },
    }
}

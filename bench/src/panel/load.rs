//! A load during a run: the output that drives it, the fault placed on it, and what it does.

use latchwork_vm::{Machine, Program, Resolved, Value};

use crate::{
    station::{Load, LoadForm},
    terminals::signed_number,
    wiring::{self, LoadFault, Scaling},
};

/// A load and the output that drives it.
#[derive(Clone)]
pub struct WiredLoad<'s> {
    /// The load as the station file describes it.
    pub load: &'s Load,
    /// The output variable at its terminal, if the program has one.
    pub variable: Option<Resolved>,
    fault: Option<LoadFault>,
}

impl<'s> WiredLoad<'s> {
    /// With the fault of the station file.
    pub(super) fn new(program: &Program, load: &'s Load) -> Self {
        WiredLoad { load, variable: program.resolve(&load.terminal.text).ok(), fault: load.fault }
    }

    /// What the load does: BOOL (it works or not), LREAL in engineering units for an analog load. `None` if its output
    /// is of a type that cannot drive it.
    pub fn value(&self, machine: &Machine) -> Option<Value> {
        let output = self.variable.as_ref().map(|variable| machine.read(variable));
        Some(match &self.load.form {
            LoadForm::TwoState => {
                let level = output.map_or(Some(false), |output| output.as_bool())?;
                Value::Bool(wiring::load_on(self.fault, level))
            }
            LoadForm::Analog { scaling, .. } => {
                // No output, no current.
                let number = output.map_or(Some(0.0), |output| output_number(&output, scaling))?;
                Value::Lreal(scaling.load_value(self.fault, number))
            }
        })
    }

    /// The fault that lets it be stuck at a value (BOOL, or LREAL in engineering units); without one, at what it does
    /// at this moment.
    pub fn stuck(&self, at: Option<&Value>, machine: &Machine) -> LoadFault {
        match at.cloned().or_else(|| self.value(machine)) {
            Some(Value::Bool(true)) => LoadFault::StuckOn,
            Some(Value::Lreal(value)) => LoadFault::StuckAt(value),
            _ => LoadFault::StuckOff,
        }
    }

    /// The fault placed on it now.
    pub fn fault(&self) -> Option<LoadFault> {
        self.fault
    }

    pub(super) fn place(&mut self, fault: Option<LoadFault>) {
        self.fault = fault;
    }

    /// The fault as the station file has it.
    pub(super) fn restore(&mut self) {
        self.fault = self.load.fault;
    }
}

/// The number at an output. A bit string is a signed number where the signal is one.
fn output_number(output: &Value, scaling: &Scaling) -> Option<f64> {
    match output {
        Value::Bits(bits, kind) if scaling.is_signed() => Some(signed_number(*bits, *kind) as f64),
        Value::Signed(..) | Value::Unsigned(..) | Value::Bits(..) | Value::Real(_) | Value::Lreal(_) => {
            output.as_f64()
        }
        _ => None,
    }
}

//! Calls of functions written by the user.
//!
//! The caller writes the arguments into the function's static frame, calls, and reads result and outputs
//! there. Arguments are evaluated in textual order; one that is followed by another call waits in a
//! temporary, so that `f(f(1), f(2))` works. Implements IEC 61131-3:2013, 6.6.1.4 to 6.6.1.5 and 6.6.2:
//! inputs left out have their initial values at every call; with EN FALSE nothing is evaluated or run and
//! the result and outputs are the defaults.

use latchwork_grammar::tree::SectionKind;
use latchwork_stdlib::conversion;
use latchwork_vm::{ElementaryType, Family, Scalar};

use super::{
    access::Location,
    code::Argument,
    unit::{Lowering, variable_content},
};
use crate::{
    layout::{
        Spot,
        sizes::{is_indirect, open_dimensions},
    },
    typed::{Access, Expression, FunctionCall, OutputTarget, accesses},
    types::{Type, TypeId, UnitId},
};

/// An argument that has been evaluated and is not stored yet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pending {
    /// Where it goes.
    pub target: Location,
    /// What it is.
    pub kind: PendingKind,
    /// Its value.
    pub value: Location,
}

/// What an argument that waits is.
#[derive(Clone, Copy, Debug)]
pub(super) enum PendingKind {
    /// A value of a type.
    Value(TypeId),
    /// A scalar of the machine, at a place: an address, or the bounds of an array.
    Scalar(Scalar),
}

impl Lowering<'_> {
    /// Calls a function and tells where its result is, if it has one.
    pub(super) fn call_function(&mut self, call: &FunctionCall) -> Option<Location> {
        let program = self.context.program;
        let callee = program.units.get(call.unit.0 as usize)?;
        let places = self.context.storage.units.get(call.unit.0 as usize)?;
        let enable = call.enable.as_ref().map(|enable| self.operand(enable));
        let skip = self.code.label();
        let done = self.code.label();
        if let Some(enable) = enable {
            self.emit(Family::JumpUnless, Scalar::U8, &[enable.into(), skip.into()]);
        }
        let watch = call.enable_output.as_ref().map(|_| self.watch());
        let mark = self.top;
        let instance = call.receiver.as_ref().map(|receiver| (receiver, self.receiver(receiver, call)));
        self.function_arguments(call);
        if let Some(watch) = watch {
            self.watch_begins(watch);
        }
        match instance {
            Some((receiver, instance)) => self.run_method(call.unit, receiver.dispatch, instance),
            None => {
                self.emit(Family::Call, Scalar::U8, &[Argument::Unit(call.unit)]);
                self.code.calls.push((call.unit, self.span));
            }
        }
        self.top = mark;
        if let Some(watch) = watch {
            let own = self.named_variable(call.unit, self.context.eno, SectionKind::Output);
            let own = own.and_then(|index| places.variables.get(index as usize));
            self.watch_ends(watch, own.map(|storage| Location::Spot(storage.spot)));
        }
        if enable.is_some() {
            self.emit(Family::Jump, Scalar::U8, &[done.into()]);
            self.code.bind(skip);
            if let Some(range) = places.reset {
                self.reset(call.unit, range);
            }
            if let Some(watch) = watch {
                self.watch_skipped(watch, None);
            }
        }
        self.code.bind(done);
        let mut result = callee.result.and_then(|id| {
            let storage = places.variables.get(id.0 as usize)?;
            Some((Location::Spot(storage.spot), callee.variables.get(id.0 as usize)?.kind))
        });
        // Subscripts of the targets may call the same function again.
        let targets = call.outputs.iter().map(|output| &output.target).chain(call.enable_output.as_deref());
        if targets.into_iter().any(accesses::access_calls) {
            result = result.map(|(location, kind)| (self.kept_value(location, kind), kind));
        }
        let mut outputs = Vec::new();
        for output in &call.outputs {
            let (Some(variable), Some(storage)) =
                (callee.variables.get(output.member as usize), places.variables.get(output.member as usize))
            else {
                continue;
            };
            let mut location = Location::Spot(storage.spot);
            if call.outputs.iter().any(|output| accesses::access_calls(&output.target)) {
                location = self.kept_value(location, variable.kind);
            }
            outputs.push((output, location, variable.kind));
        }
        for (_, access) in &call.in_outs {
            self.scatter_bits(&access.root);
        }
        for (output, location, kind) in outputs {
            self.output(output, location, OutputType::Declared(kind));
        }
        if let (Some(watch), Some(target)) = (watch, &call.enable_output) {
            self.write_result(target, watch.result, Scalar::U8);
        }
        result.map(|(location, _)| location)
    }

    /// Evaluates the arguments of a function and stores them in its frame.
    fn function_arguments(&mut self, call: &FunctionCall) {
        let program = self.context.program;
        let (Some(callee), Some(places)) =
            (program.units.get(call.unit.0 as usize), self.context.storage.units.get(call.unit.0 as usize))
        else {
            return;
        };
        let place = |index: u32| places.variables.get(index as usize).map(|storage| storage.spot);
        let mut pending = Vec::new();
        for (position, (index, value)) in call.inputs.iter().enumerate() {
            let (Some(target), Some(variable)) = (place(*index), callee.variables.get(*index as usize))
            else {
                continue;
            };
            let rest = call.inputs.get(position + 1..).unwrap_or_default();
            let later = rest.iter().any(|(_, value)| accesses::calls(value))
                || call.in_outs.iter().any(|(_, access)| accesses::access_calls(access));
            let target = Location::Spot(target);
            if is_indirect(program, variable) {
                if open_dimensions(program, variable).is_some() {
                    let bounds = self.bounds_of(value.ty, Self::root_of(value));
                    self.give_bounds(bounds, target, later, &mut pending);
                }
                let location = self.region(value);
                self.give_address(location, target, later, &mut pending);
            } else {
                self.give_value(value, variable.kind, target, later, &mut pending);
            }
        }
        for (position, (index, access)) in call.in_outs.iter().enumerate() {
            let Some(target) = place(*index) else { continue };
            let rest = call.in_outs.get(position + 1..).unwrap_or_default();
            let later = rest.iter().any(|(_, access)| accesses::access_calls(access));
            let is_open =
                callee.variables.get(*index as usize).and_then(|variable| open_dimensions(program, variable));
            if is_open.is_some() {
                let bounds = self.bounds_of(access.ty, Some(&access.root));
                self.give_bounds(bounds, Location::Spot(target), later, &mut pending);
            }
            let location = self.whole(access);
            self.give_address(location, Location::Spot(target), later, &mut pending);
        }
        self.store_pending(pending);
        for (variable, index) in callee.variables.iter().zip(0..) {
            let given = call.inputs.iter().any(|(given, _)| *given == index);
            if variable.section != SectionKind::Input || given || is_indirect(program, variable) {
                continue;
            }
            let Some(target) = place(index) else { continue };
            let is_en = variable.name.is_some() && variable.name == self.context.en;
            self.default_input(call.unit, index, Location::Spot(target), is_en);
        }
    }

    /// Gives an input its initial value; EN is TRUE when it is not given or the call is reached.
    pub(super) fn default_input(&mut self, id: UnitId, index: u32, target: Location, is_en: bool) {
        let program = self.context.program;
        let unit = program.units.get(id.0 as usize);
        let Some(variable) = unit.and_then(|unit| unit.variables.get(index as usize)) else { return };
        let mut content = vec![0; self.size(variable.kind) as usize];
        variable_content(self.context, id, variable, &mut content);
        if let ([out], true) = (content.as_mut_slice(), is_en) {
            *out = 1;
        }
        let align = self.scalar_of(variable.kind).map_or(8, Scalar::size);
        let value = self.shared.pool.constant(&content, align);
        match self.scalar_of(variable.kind) {
            Some(scalar) => self.store(target, value, scalar),
            // With its capacity, which is the same.
            None => {
                let size = self.size(variable.kind);
                self.copy_block(target, Location::Spot(value), size);
            }
        }
    }

    /// Evaluates an argument into its place, or keeps it until all are evaluated.
    pub(super) fn give_value(
        &mut self,
        value: &Expression,
        kind: TypeId,
        target: Location,
        later: bool,
        pending: &mut Vec<Pending>,
    ) {
        let before = std::mem::replace(&mut self.span, value.span);
        match (self.scalar_of(kind), target, later) {
            (Some(_), Location::Spot(spot), false) => {
                let mark = self.top;
                self.evaluate(value, Some(spot));
                self.top = mark;
            }
            (Some(scalar), Location::At { .. }, false) => {
                let mark = self.top;
                let spot = self.operand(value);
                self.store(target, spot, scalar);
                self.top = mark;
            }
            (Some(scalar), _, _) => {
                let spot = self.operand(value);
                let spot = if later { self.stabilise(spot, scalar) } else { spot };
                pending.push(Pending { target, kind: PendingKind::Value(kind), value: Location::Spot(spot) });
            }
            (None, _, _) => {
                let mut location = self.region(value);
                if later {
                    location = self.kept_region(location, value.ty);
                }
                pending.push(Pending { target, kind: PendingKind::Value(kind), value: location });
            }
        }
        self.span = before;
    }

    /// Stores the address of an in-out argument in its place, or keeps it until all are evaluated.
    pub(super) fn give_address(
        &mut self,
        location: Location,
        target: Location,
        later: bool,
        pending: &mut Vec<Pending>,
    ) {
        match (target, later) {
            (Location::Spot(spot), false) => self.address_into(location, spot),
            _ => {
                let address = self.address(location);
                let address = self.stabilise(address, Scalar::U32);
                pending.push(Pending {
                    target,
                    kind: PendingKind::Scalar(Scalar::U32),
                    value: Location::Spot(address),
                });
            }
        }
    }

    /// Stores the arguments that were kept.
    pub(super) fn store_pending(&mut self, pending: Vec<Pending>) {
        for Pending { target, kind, value } in pending {
            match (kind, value) {
                (PendingKind::Value(kind), value) => self.copy_value(kind, target, value),
                (PendingKind::Scalar(scalar), Location::Spot(spot)) => self.store(target, spot, scalar),
                // Addresses and bounds are at places.
                (PendingKind::Scalar(_), Location::At { .. }) => self.internal("an address is not at hand"),
            }
        }
    }

    /// A copy of a value that no call changes.
    fn kept_value(&mut self, location: Location, kind: TypeId) -> Location {
        match (self.scalar_of(kind), location) {
            (Some(scalar), Location::Spot(spot)) => Location::Spot(self.stabilise(spot, scalar)),
            _ => self.kept_region(location, kind),
        }
    }

    /// Copies an output of a call to its target, complemented and converted as wanted.
    pub(super) fn output(&mut self, output: &OutputTarget, location: Location, kind: OutputType) {
        let before = std::mem::replace(&mut self.span, output.target.span);
        let mark = self.top;
        let from = match kind {
            OutputType::Declared(kind) => self.elementary(kind),
            OutputType::Elementary(kind) => Some(kind),
        };
        let scalar = match kind {
            OutputType::Declared(kind) => self.scalar_of(kind),
            OutputType::Elementary(kind) => kind.scalar(),
        };
        match scalar {
            Some(scalar) => self.scalar_output(output, location, scalar, from),
            None => {
                if accesses::access_calls(&output.target)
                    && let OutputType::Declared(kind) = kind
                {
                    let kept = self.kept_region(location, kind);
                    let target = self.whole(&output.target);
                    self.copy_value(output.target.ty, target, kept);
                } else {
                    let target = self.whole(&output.target);
                    self.copy_value(output.target.ty, target, location);
                }
            }
        }
        self.scatter_bits(&output.target.root);
        self.top = mark;
        self.span = before;
    }

    fn scalar_output(
        &mut self,
        output: &OutputTarget,
        location: Location,
        scalar: Scalar,
        from: Option<ElementaryType>,
    ) {
        let direct = self.static_spot(&output.target);
        let mut value = match (direct, output.negated || output.convert || output.check_range) {
            (Some(target), false) => {
                self.load(location, scalar, Some(target));
                return;
            }
            _ => self.load(location, scalar, None),
        };
        if output.negated {
            let family = if from == Some(ElementaryType::Bool) { Family::Not } else { Family::Complement };
            let target = self.result(scalar, direct.filter(|_| !output.convert && !output.check_range));
            self.emit(family, scalar.bits(), &[target.into(), value.into()]);
            value = target;
        }
        if output.convert {
            let to = self.elementary(output.target.ty);
            if let (Some(from), Some(to)) = (from, to)
                && let (Some(rule), Some(to)) = (conversion(from, to, false), to.scalar())
            {
                value = self.convert_value(rule, value, (scalar, to), direct.filter(|_| !output.check_range));
            } else {
                self.text_output(output, value, scalar);
                return;
            }
        }
        if output.check_range
            && let Type::Subrange { lower, upper, .. } = *self.underlying(output.target.ty)
        {
            let scalar = self.scalar(output.target.ty);
            let (lower, upper) = (self.integer(lower, scalar), self.integer(upper, scalar));
            self.emit(Family::CheckRange, scalar, &[value.into(), lower.into(), upper.into()]);
        }
        if direct != Some(value) {
            let scalar = self.scalar_of(output.target.ty).unwrap_or(scalar);
            self.write_result(&output.target, value, scalar);
        }
    }

    /// A character taken into a string.
    fn text_output(&mut self, output: &OutputTarget, value: Spot, scalar: Scalar) {
        let text = self.character_text(value, scalar);
        let target: &Access = &output.target;
        let location = self.whole(target);
        self.copy_value(target.ty, location, text);
    }
}

/// The type of an output: of a variable of the user's, or of a member of a standard block.
#[derive(Clone, Copy, Debug)]
pub(super) enum OutputType {
    /// A type of the program.
    Declared(TypeId),
    /// An elementary type.
    Elementary(ElementaryType),
}

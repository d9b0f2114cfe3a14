//! Calls of methods, the entries of dispatched calls, and the assignment attempt.
//!
//! A direct call runs the method with the instance as its base. A dispatched call leaves the arguments in the frame
//! of a prototype and lets the tag of the instance choose an entry, which takes them over into the frame of the
//! method, calls it, and gives outputs and result back. Implements IEC 61131-3:2013, 6.6.5.4, 6.6.5.6, 6.6.6 and 6.6.8.

use std::collections::BTreeMap;

use latchwork_grammar::{Name, tree::SectionKind};
use latchwork_vm::{Family, Scalar};

use super::{access::Location, code::Argument, unit::Lowering};
use crate::{
    layout::{Base, Spot, sizes::is_indirect},
    typed::{Constant, Expression, Forward, FunctionCall, Receiver, TypedUnit, accesses},
    types::{Type, TypeId, UnitId},
};

impl Lowering<'_> {
    /// The class or function block whose instance the running code belongs to.
    pub(super) fn this_unit(&self) -> UnitId {
        self.unit.object.owner.unwrap_or(self.id)
    }

    /// The type of `THIS`.
    pub(super) fn this_type(&self) -> Option<TypeId> {
        self.context.program.types.find(&Type::Unit(self.this_unit()))
    }

    /// Finds the instance of a method call before its arguments are evaluated, so that they cannot change which one
    /// it is.
    pub(super) fn receiver(&mut self, receiver: &Receiver, call: &FunctionCall) -> Location {
        let mut location = self.whole(&receiver.instance);
        if let Type::Interface(_) = self.underlying(receiver.instance.ty) {
            let address = self.load(location, Scalar::U32, None);
            location = Location::At { address, offset: 0 };
        }
        let evaluates = call.inputs.iter().any(|(_, value)| accesses::calls(value))
            || call.in_outs.iter().any(|(_, access)| accesses::access_calls(access));
        match location {
            Location::At { address, offset } if evaluates => {
                Location::At { address: self.stabilise(address, Scalar::U32), offset }
            }
            location => location,
        }
    }

    /// Runs the method, whose arguments are in place.
    pub(super) fn run_method(&mut self, unit: UnitId, dispatch: Option<u32>, instance: Location) {
        if let Some(table) = dispatch {
            let address = self.address(instance);
            self.emit(Family::CallMethod, Scalar::U8, &[Argument::Dispatch(table), address.into()]);
            return;
        }
        match instance {
            Location::Spot(spot) => {
                self.emit(Family::CallBlock, Scalar::U8, &[Argument::Unit(unit), spot.into()]);
            }
            Location::At { .. } => {
                let address = self.address(instance);
                self.emit(Family::CallBlockAt, Scalar::U8, &[Argument::Unit(unit), address.into()]);
            }
        }
        self.code.calls.push((unit, self.span));
    }

    /// The code of an entry.
    pub(super) fn entry(&mut self, forward: Forward) {
        let program = self.context.program;
        let unit =
            |id: UnitId| program.units.get(id.0 as usize).zip(self.context.storage.units.get(id.0 as usize));
        let (Some((prototype, from)), Some((method, to))) = (unit(forward.prototype), unit(forward.method))
        else {
            return self.internal("an entry leads to nothing");
        };
        let ours: BTreeMap<Name, u32> = parameters(method).collect();
        let theirs = parameters(prototype);
        let pairs = theirs.filter_map(|(name, theirs)| Some((theirs, *ours.get(&name)?)));
        let place = |places: &crate::layout::storage::UnitStorage, index: u32| {
            places.variables.get(index as usize).map(|storage| storage.spot)
        };
        let mut back = Vec::new();
        for (theirs, ours) in pairs {
            let Some(variable) = method.variables.get(ours as usize) else { continue };
            let (Some(source), Some(target)) = (place(from, theirs), place(to, ours)) else { continue };
            if is_indirect(program, variable) {
                self.emit(Family::Move, Scalar::U32, &[target.into(), source.into()]);
            } else if variable.section == SectionKind::Input {
                self.copy_value(variable.kind, Location::Spot(target), Location::Spot(source));
            } else {
                back.push((variable.kind, source, target));
            }
        }
        if let (Some(theirs), Some(ours)) = (prototype.result, method.result)
            && let (Some(source), Some(target), Some(variable)) =
                (place(from, theirs.0), place(to, ours.0), method.variables.get(ours.0 as usize))
        {
            back.push((variable.kind, source, target));
        }
        self.run_method(forward.method, None, Location::Spot(Spot::new(Base::Instance, 0)));
        for (kind, target, source) in back {
            self.copy_value(kind, Location::Spot(target), Location::Spot(source));
        }
    }

    /// The value of an assignment attempt: the address, or NULL if its instance does not fit.
    pub(super) fn attempt(&mut self, value: &Expression, fits: u32, target: Option<Spot>) -> Spot {
        let mark = self.top;
        let address = self.operand(value);
        let fitting = self.scalar_temporary(Scalar::U8);
        self.emit(
            Family::Fits,
            Scalar::U8,
            &[fitting.into(), address.into(), Argument::Dispatch(self.fits_index(fits))],
        );
        let null = self.constant(&Constant::Null, Scalar::U32);
        // The operands are read before the result is written, whose place may be one of theirs.
        self.top = mark;
        let to = self.result(Scalar::U32, target);
        self.emit(Family::Select, Scalar::U32, &[to.into(), fitting.into(), null.into(), address.into()]);
        to
    }

    /// Tables of attempts stand behind those of calls.
    fn fits_index(&self, fits: u32) -> u32 {
        (self.context.program.dispatch.len() as u32).saturating_add(fits)
    }
}

/// The parameters of a method by their names, which are the same in all that one call may run.
fn parameters(unit: &TypedUnit) -> impl Iterator<Item = (Name, u32)> {
    let outside = |section| matches!(section, SectionKind::Input | SectionKind::Output | SectionKind::InOut);
    let numbered = unit.variables.iter().zip(0..);
    let shown = numbered.filter(move |(variable, _)| outside(variable.section) && !variable.hidden);
    shown.filter_map(|(variable, index)| Some((variable.name?, index)))
}

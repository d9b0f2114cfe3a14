//! Calls of function block instances, standard ones and the user's.
//!
//! All inputs are evaluated, then stored; then the body runs, then outputs are copied in the order written.
//! An input goes straight to its place where nothing evaluated later could see the difference. The place of
//! an instance in an array is computed once a call. Implements IEC 61131-3:2013, 6.6.3 and tables 42 to 46.

use latchwork_grammar::tree::SectionKind;
use latchwork_stdlib::BlockOperation;
use latchwork_vm::{Family, Scalar};

use super::{
    access::Location,
    call::{OutputType, Pending},
    unit::Lowering,
};
use crate::{
    layout::{Base, Spot, sizes::is_indirect},
    typed::{Access, BlockCall, BlockWork, Constant, Expression, Root, Step, accesses},
    types::{Type, UnitId},
};

impl Lowering<'_> {
    /// Calls a function block instance.
    pub(super) fn call_block(&mut self, call: &BlockCall) {
        let mark = self.top;
        let unit = match self.underlying(call.instance.ty) {
            Type::Unit(unit) => Some(*unit),
            _ => None,
        };
        let own_eno = unit.and_then(|unit| self.named_variable(unit, self.context.eno, SectionKind::Output));
        let watch = (call.enable_output.is_some() || own_eno.is_some()).then(|| self.watch());
        let inner = self.top;
        let skip = self.unless_enabled(call.enable.as_deref());
        let done = self.code.label();
        let instance = self.whole(&call.instance);
        self.block_arguments(call, instance);
        let own = unit.and_then(|unit| self.enable_variables(unit, call, instance));
        if let Some(watch) = watch {
            self.watch_begins(watch);
        }
        self.run_block(call, instance, unit);
        if let Some(watch) = watch {
            self.watch_ends(watch, own);
        }
        self.block_outputs(call, instance);
        if call.enable.is_some() {
            if watch.is_some() || !call.outputs.is_empty() {
                // Not run: the outputs stay as they are and are passed on all the same.
                self.emit(Family::Jump, Scalar::U8, &[done.into()]);
                self.code.bind(skip);
                self.top = inner;
                let needed = own_eno.is_some() || !call.outputs.is_empty();
                let instance = needed.then(|| self.whole(&call.instance));
                if let Some(watch) = watch {
                    let own = own_eno.zip(instance).map(|(eno, instance)| {
                        instance.plus(self.member_offset(Some(call.instance.ty), eno))
                    });
                    self.watch_skipped(watch, own);
                }
                if let Some(instance) = instance {
                    self.block_outputs(call, instance);
                }
                self.code.bind(done);
            } else {
                self.code.bind(skip);
            }
        }
        if let (Some(watch), Some(target)) = (watch, &call.enable_output) {
            self.write_result(target, watch.result, Scalar::U8);
        }
        self.top = mark;
    }

    /// Copies the outputs that a call takes, in the order written.
    fn block_outputs(&mut self, call: &BlockCall, instance: Location) {
        for (_, access) in &call.in_outs {
            self.scatter_bits(&access.root);
        }
        for output in &call.outputs {
            let location = instance.plus(self.member_offset(Some(call.instance.ty), output.member));
            if let Some(kind) = self.member_kind(call, output.member) {
                self.output(output, location, kind);
            }
        }
    }

    /// Evaluates and stores inputs and addresses of in-out arguments.
    fn block_arguments(&mut self, call: &BlockCall, instance: Location) {
        let mut pending: Vec<Pending> = Vec::new();
        for (position, (member, value)) in call.inputs.iter().enumerate() {
            let target = instance.plus(self.member_offset(Some(call.instance.ty), *member));
            let rest = call.inputs.get(position + 1..).unwrap_or_default();
            let later_calls = rest.iter().any(|(_, value)| accesses::calls(value))
                || call.in_outs.iter().any(|(_, access)| accesses::access_calls(access));
            // Storing this input now must not change a value evaluated later.
            let seen = rest.iter().any(|(_, value)| self.may_read_inputs(value, call))
                || call.in_outs.iter().any(|(_, access)| self.finding_reads_inputs(access, call));
            if self.is_address_member(call, *member) {
                let location = self.region(value);
                self.give_address(location, target, true, &mut pending);
                continue;
            }
            let keep = later_calls || seen || self.may_read_inputs(value, call) && !rest.is_empty();
            let kind = value.ty;
            let kind = match self.member_kind(call, *member) {
                Some(OutputType::Declared(kind)) => kind,
                _ => kind,
            };
            self.give_value(value, kind, target, keep, &mut pending);
        }
        for (position, (member, access)) in call.in_outs.iter().enumerate() {
            let target = instance.plus(self.member_offset(Some(call.instance.ty), *member));
            let rest = call.in_outs.get(position + 1..).unwrap_or_default();
            let later = rest.iter().any(|(_, access)| accesses::access_calls(access));
            if self.takes_any_bounds(call, *member) {
                let bounds = self.bounds_of(access.ty, Some(&access.root));
                self.give_bounds(bounds, target, later, &mut pending);
            }
            let location = self.whole(access);
            self.give_address(location, target, later, &mut pending);
        }
        self.store_pending(pending);
    }

    /// Whether a member of the called block takes arrays of any bounds.
    fn takes_any_bounds(&self, call: &BlockCall, member: u32) -> bool {
        match self.member_kind(call, member) {
            Some(OutputType::Declared(kind)) => matches!(self.underlying(kind), Type::OpenArray { .. }),
            _ => false,
        }
    }

    /// Whether a member of the called block holds the address of its argument.
    fn is_address_member(&self, call: &BlockCall, member: u32) -> bool {
        let Type::Unit(unit) = self.underlying(call.instance.ty) else { return false };
        let program = self.context.program;
        let unit = program.units.get(unit.0 as usize);
        let variable = unit.and_then(|unit| unit.variables.get(member as usize));
        variable.is_some_and(|variable| is_indirect(program, variable))
    }

    fn member_kind(&self, call: &BlockCall, member: u32) -> Option<OutputType> {
        let program = self.context.program;
        match self.underlying(call.instance.ty) {
            Type::Unit(unit) => {
                let variable = program.units.get(unit.0 as usize)?.variables.get(member as usize)?;
                Some(OutputType::Declared(variable.kind))
            }
            Type::StandardBlock(block) => {
                let member = program.types.standard_block(*block).members.get(member as usize)?;
                Some(OutputType::Elementary(member.ty))
            }
            _ => None,
        }
    }

    /// Whether an expression may read an input of the instance that a call stores: it reaches the instance
    /// by the same variable, or by an address, or from outside the unit.
    fn may_read_inputs(&self, value: &Expression, call: &BlockCall) -> bool {
        let mut found = false;
        accesses::expression_accesses(value, &mut |access| {
            found = found || self.may_alias(access, call);
        });
        found
    }

    /// Whether finding the place of an in-out argument may read an input of the instance that a call stores.
    fn finding_reads_inputs(&self, argument: &Access, call: &BlockCall) -> bool {
        let mut found = false;
        accesses::access(argument, &mut |access| found = found || self.may_alias(access, call));
        found && !argument.steps.is_empty()
    }

    fn may_alias(&self, access: &Access, call: &BlockCall) -> bool {
        if access.root == call.instance.root {
            return match access.steps.first() {
                // A member that the call does not store, such as an output.
                Some(Step::Member(member)) if call.instance.steps.is_empty() => {
                    call.inputs.iter().any(|(stored, _)| stored == member)
                }
                _ => true,
            };
        }
        let through_address = access.steps.iter().any(|step| matches!(step, Step::Dereference))
            || matches!(&access.root, Root::Variable(id) if self.is_indirect_variable(id.0));
        let own_instance = matches!(&call.instance.root, Root::Variable(id)
        if self.places.variables.get(id.0 as usize).is_some_and(|storage| {
            !storage.indirect && storage.spot.base != Base::Data
        })) && !call.instance.steps.iter().any(|step| matches!(step, Step::Dereference));
        let instance_by_address = !own_instance;
        let dereferenced = access.steps.iter().any(|step| matches!(step, Step::Dereference));
        dereferenced || (instance_by_address && (through_address || self.is_outside(access)))
    }

    fn is_indirect_variable(&self, index: u32) -> bool {
        self.places.variables.get(index as usize).is_some_and(|storage| storage.indirect)
    }

    /// Whether an access starts at a global variable.
    fn is_outside(&self, access: &Access) -> bool {
        match &access.root {
            Root::Variable(id) => {
                self.unit.variables.get(id.0 as usize).is_some_and(|variable| variable.global.is_some())
            }
            Root::This | Root::Global(_) => true,
            Root::Direct(_) => false,
        }
    }

    /// Sets EN and ENO that a function block declares itself; tells where its ENO is.
    fn enable_variables(&mut self, unit: UnitId, call: &BlockCall, instance: Location) -> Option<Location> {
        let yes = self.constant(&Constant::Bool(true), Scalar::U8);
        if let Some(en) = self.named_variable(unit, self.context.en, SectionKind::Input)
            && !call.inputs.iter().any(|(member, _)| *member == en)
        {
            let target = instance.plus(self.member_offset(Some(call.instance.ty), en));
            self.store(target, yes, Scalar::U8);
        }
        let eno = self.named_variable(unit, self.context.eno, SectionKind::Output)?;
        let target = instance.plus(self.member_offset(Some(call.instance.ty), eno));
        self.store(target, yes, Scalar::U8);
        Some(target)
    }

    /// Runs the body, or what an input operator does.
    fn run_block(&mut self, call: &BlockCall, instance: Location, unit: Option<UnitId>) {
        let context = self.context;
        let types = &context.program.types;
        if let Some(unit) = unit {
            self.run_method(unit, call.dispatch, instance);
            return;
        }
        let Type::StandardBlock(block) = types.get(types.underlying(call.instance.ty)) else {
            self.internal("only function block instances can be called");
            return;
        };
        match call.work {
            BlockWork::Body => self.block_operation(types.standard_block(*block).operation, instance),
            BlockWork::Operation(operation) => self.block_operation(operation, instance),
            BlockWork::Nothing => {}
        }
    }

    /// Emits what works on an instance of a standard function block.
    pub(super) fn block_operation(&mut self, operation: BlockOperation, instance: Location) {
        match instance {
            Location::Spot(spot) => self.emit(operation.at_place, operation.scalar, &[spot.into()]),
            Location::At { .. } => {
                let address: Spot = self.address(instance);
                self.emit(operation.at_address, operation.scalar, &[address.into()]);
            }
        }
    }
}

//! EN and ENO: what a call does around the part that it enables.
//!
//! ENO is FALSE after an error in the body of what was called or in the standard function itself; errors while
//! the arguments are evaluated are none of its business. Implements IEC 61131-3:2013, 6.6.1.5 and table 18.

use latchwork_stdlib::Lowering as Form;
use latchwork_vm::{EventKind, Family, Scalar};

use super::{
    access::Location,
    code::{Argument, Label},
    unit::{Lowering, put_address},
};
use crate::{
    layout::Spot,
    typed::{Access, Constant, ControlledCall, Expression, ExpressionKind, Root},
};

/// What is needed to tell how a call went.
#[derive(Clone, Copy, Debug)]
pub(super) struct Watch {
    /// Where ENO is, once the call is over.
    pub result: Spot,
    /// The number of events before the call.
    before: Spot,
}

impl Lowering<'_> {
    /// Room for the outcome of a call. To be taken before the temporaries of its arguments.
    pub(super) fn watch(&mut self) -> Watch {
        let before = self.scalar_temporary(Scalar::U32);
        Watch { result: self.scalar_temporary(Scalar::U8), before }
    }

    /// Goes on at the label where EN is given and FALSE. Nothing stays taken for it.
    pub(super) fn unless_enabled(&mut self, enable: Option<&Expression>) -> Label {
        let skip = self.code.label();
        if let Some(enable) = enable {
            let mark = self.top;
            let enable = self.operand(enable);
            self.emit(Family::JumpUnless, Scalar::U8, &[enable.into(), skip.into()]);
            self.top = mark;
        }
        skip
    }

    /// The arguments are evaluated: from here on, events count.
    pub(super) fn watch_begins(&mut self, watch: Watch) {
        self.emit(Family::EventMark, Scalar::U32, &[watch.before.into()]);
    }

    /// The call is over. `own` is the ENO that the called unit has declared: FALSE where the body has made it so.
    pub(super) fn watch_ends(&mut self, watch: Watch, own: Option<Location>) {
        let mark = self.top;
        let after = self.scalar_temporary(Scalar::U32);
        self.emit(Family::EventMark, Scalar::U32, &[after.into()]);
        self.emit(Family::Equal, Scalar::U32, &[watch.result.into(), watch.before.into(), after.into()]);
        if let Some(own) = own {
            let value = self.load(own, Scalar::U8, None);
            let operands = [watch.result.into(), watch.result.into(), value.into()];
            self.emit(Family::BoolAnd, Scalar::U8, &operands);
            self.store(own, watch.result, Scalar::U8);
        }
        self.top = mark;
    }

    /// The call was not made.
    pub(super) fn watch_skipped(&mut self, watch: Watch, own: Option<Location>) {
        let no = self.constant(&Constant::Bool(false), Scalar::U8);
        self.emit(Family::Move, Scalar::U8, &[watch.result.into(), no.into()]);
        if let Some(own) = own {
            self.store(own, no, Scalar::U8);
        }
    }

    /// A standard function called with EN or ENO; tells in which hidden variable its result is.
    pub(super) fn controlled(&mut self, call: &ControlledCall) -> Access {
        let result = hidden(call.result, &call.value);
        let watch = call.enable_output.as_ref().map(|_| self.watch());
        let skip = self.unless_enabled(call.enable.as_deref());
        let done = self.code.label();
        for (id, value) in &call.arguments {
            self.assign(&hidden(*id, value), value);
        }
        if let Some(watch) = watch {
            self.watch_begins(watch);
        }
        match self.integer_division(&call.value).filter(|_| watch.is_some()) {
            Some(divisor) => self.safe_division(&result, &call.value, divisor),
            None => self.assign(&result, &call.value),
        }
        if let Some(watch) = watch {
            self.watch_ends(watch, None);
        }
        if call.enable.is_some() {
            self.emit(Family::Jump, Scalar::U8, &[done.into()]);
            self.code.bind(skip);
            self.store_default(&result);
            if let Some(watch) = watch {
                self.watch_skipped(watch, None);
            }
            self.code.bind(done);
        }
        if let (Some(watch), Some(target)) = (watch, &call.enable_output) {
            self.write_result(target, watch.result, Scalar::U8);
        }
        result
    }

    /// The divisor, if a value is a division of integers, which stops the run where the divisor is 0.
    fn integer_division<'e>(&self, value: &'e Expression) -> Option<&'e Expression> {
        let ExpressionKind::Standard { function, arguments, .. } = &value.kind else { return None };
        let [_, divisor] = arguments.as_slice() else { return None };
        let (form, _) = self.form(function, arguments);
        let integers = self.scalar_of(value.ty).is_some_and(|scalar| !scalar.is_float());
        (form == Form::Family(Family::Divide) && integers).then_some(divisor)
    }

    /// With ENO to tell of it, a division by zero gives 0 and the run goes on.
    fn safe_division(&mut self, result: &Access, value: &Expression, divisor: &Expression) {
        let mark = self.top;
        let divide = self.code.label();
        let end = self.code.label();
        let scalar = self.scalar(divisor.ty);
        let spot = self.operand(divisor);
        let zero = self.integer(0, scalar);
        let is_zero = self.scalar_temporary(Scalar::U8);
        self.emit(Family::Equal, scalar.bits(), &[is_zero.into(), spot.into(), zero.into()]);
        self.emit(Family::JumpUnless, Scalar::U8, &[is_zero.into(), divide.into()]);
        self.emit(Family::Event, Scalar::U8, &[Argument::Immediate(EventKind::DivisionByZero.code())]);
        self.store_default(result);
        self.emit(Family::Jump, Scalar::U8, &[end.into()]);
        self.code.bind(divide);
        self.top = mark;
        self.assign(result, value);
        self.code.bind(end);
    }

    /// Sets a variable to the default of its type.
    fn store_default(&mut self, variable: &Access) {
        let mut content = vec![0; self.size(variable.ty) as usize];
        self.context.initial.default(variable.ty, &mut content);
        self.context
            .references
            .default(variable.ty, 0, &mut |at, address| put_address(&mut content, at, address));
        let scalar = self.scalar_of(variable.ty);
        let value = self.shared.pool.constant(&content, scalar.map_or(8, Scalar::size));
        let location = self.whole(variable);
        self.copy_value(variable.ty, location, Location::Spot(value));
    }
}

/// A hidden variable of the type of a value.
fn hidden(id: crate::typed::VariableId, value: &Expression) -> Access {
    Access::whole(Root::Variable(id), value.ty, value.span)
}

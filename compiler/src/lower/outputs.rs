//! Calls of standard functions that have outputs and no result.
//!
//! The routine fills every output in its frame; those that are taken are copied in the order in which they are
//! written. Implements IEC 61131-3:2013, 6.6.1.4 and 6.6.1.5: with EN FALSE nothing is evaluated or run and the
//! outputs are the defaults, as with functions written by the user.

use latchwork_stdlib::Lowering as Form;
use latchwork_vm::{Family, Scalar};

use super::{access::Location, call::OutputType, unit::Lowering};
use crate::typed::OutputsCall;

impl Lowering<'_> {
    /// Calls the routine and copies the outputs.
    pub(super) fn call_outputs(&mut self, call: &OutputsCall) {
        let mark = self.top;
        let (Form::Native(name), brought) = self.form(call.function, &call.arguments) else {
            self.internal(&format!("{} has no routine", call.function.name));
            return;
        };
        // At most 255 operands.
        let operands = call.arguments.len() as u32;
        let slots = operands + call.function.outputs.len() as u32;
        let needed = self.context.natives.get(name).copied().unwrap_or(0);
        let frame = self.temporary(needed.max(8 * slots), 8);
        let watch = call.enable_output.as_ref().map(|_| self.watch());
        let inner = self.top;
        let skip = self.unless_enabled(call.enable.as_deref());
        let done = self.code.label();
        self.native_operands(frame, &call.arguments, brought);
        if let Some(watch) = watch {
            self.watch_begins(watch);
        }
        self.native(name, frame);
        self.top = inner;
        if let Some(watch) = watch {
            self.watch_ends(watch, None);
        }
        let place = |member: u32| frame.plus(8 * (operands + member));
        let kind = |member: u32| call.function.outputs.get(member as usize).map(|output| output.ty);
        if call.enable.is_some() {
            self.emit(Family::Jump, Scalar::U8, &[done.into()]);
            self.code.bind(skip);
            for output in &call.outputs {
                // The defaults of all elementary types but strings are zeros, and no output is a string.
                if let Some(scalar) = kind(output.member).and_then(|kind| kind.scalar()) {
                    let zero = self.integer(0, scalar.bits());
                    self.emit(Family::Move, scalar.bits(), &[place(output.member).into(), zero.into()]);
                }
            }
            if let Some(watch) = watch {
                self.watch_skipped(watch, None);
            }
            self.code.bind(done);
        }
        for output in &call.outputs {
            if let Some(kind) = kind(output.member) {
                self.output(output, Location::Spot(place(output.member)), OutputType::Elementary(kind));
            }
        }
        if let (Some(watch), Some(target)) = (watch, &call.enable_output) {
            self.write_result(target, watch.result, Scalar::U8);
        }
        self.top = mark;
    }
}

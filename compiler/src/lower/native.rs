//! Native routines of the library: the frame that a call builds for them.
//!
//! Operands lie 8 bytes apart in parameter order, texts by their addresses; the result lies behind them.

use latchwork_vm::ElementaryType;

use super::{access::Location, unit::Lowering};
use crate::{
    layout::Spot,
    typed::{Expression, accesses},
};

impl Lowering<'_> {
    /// A native routine with a scalar result.
    pub(super) fn call_native(
        &mut self,
        name: &'static str,
        arguments: &[Expression],
        brought: &[ElementaryType],
        whole: &Expression,
        target: Option<Spot>,
    ) -> Spot {
        let result = self.run_native(name, arguments, brought, None);
        let scalar = self.scalar(whole.ty);
        self.deliver(result, scalar, target)
    }

    /// Runs a native routine: its operands lie in a frame of 8 bytes each, its result behind them, or the address
    /// of the text that becomes its result. Tells where the result lies in the frame.
    pub(super) fn run_native(
        &mut self,
        name: &'static str,
        arguments: &[Expression],
        brought: &[ElementaryType],
        text_result: Option<Spot>,
    ) -> Spot {
        // At most 255 operands.
        let count = arguments.len() as u32;
        let needed = self.context.natives.get(name).copied().unwrap_or(0);
        let frame = self.temporary(needed.max(8 * (count + 1)), 8);
        let end = self.top;
        self.native_operands(frame, arguments, brought);
        let result = frame.plus(8 * count);
        if let Some(text) = text_result {
            self.address_into(Location::Spot(text), result);
        }
        self.native(name, frame);
        self.top = end;
        result
    }

    /// Evaluates the operands of a native routine into its frame. What holds texts stays taken.
    pub(super) fn native_operands(
        &mut self,
        frame: Spot,
        arguments: &[Expression],
        brought: &[ElementaryType],
    ) {
        let last_call = arguments.iter().rposition(accesses::calls).unwrap_or(0);
        for (index, (argument, slot)) in arguments.iter().zip(0u32..).enumerate() {
            let place = frame.plus(8 * slot);
            let mark = self.top;
            match (self.scalar_of(argument.ty), self.elementary(argument.ty), brought.get(index)) {
                (Some(_), Some(from), Some(to)) => {
                    self.evaluate_as(argument, from, *to, Some(place));
                }
                (Some(_), _, _) => {
                    self.evaluate(argument, Some(place));
                }
                (None, _, _) => {
                    let mut text = self.region(argument);
                    if index < last_call {
                        text = self.kept_region(text, argument.ty);
                    }
                    self.address_into(text, place);
                }
            }
            // What holds a text must live until the routine has run.
            if self.scalar_of(argument.ty).is_some() {
                self.top = mark;
            }
        }
    }
}

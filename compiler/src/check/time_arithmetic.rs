//! ADD, SUB, MUL and DIV on durations, dates and times of day.
//!
//! Source: IEC 61131-3:2013, table 35. Our choice: a number may also stand in front of the duration it multiplies.

use latchwork_grammar::{Diagnostic, Span};
use latchwork_stdlib::{FunctionDefinition, TimeOperation, TypeClass, time_arithmetic};
use latchwork_vm::ElementaryType as E;

use super::{Checker, conversion::Goal, operands::Operand, standard::Callee};
use crate::{typed::Expression, types::TypeId};

impl<'a> Checker<'a> {
    /// ADD, SUB, MUL and DIV: on numbers as the table says, on durations and dates by table 35.
    pub(super) fn arithmetic_call(
        &mut self,
        callee: &Callee,
        operation: TimeOperation,
        operands: Vec<Operand<'_>>,
        span: Span,
        hint: Option<TypeId>,
    ) -> Expression {
        let mut timed = false;
        let mut checked = Vec::with_capacity(operands.len());
        for operand in operands {
            let waits = matches!(&operand, Operand::Written(written) if self.is_contextual(written));
            if waits {
                checked.push(operand);
                continue;
            }
            let value = self.operand(operand, hint);
            timed |= self.types.elementary_base(value.ty).is_some_and(is_time);
            checked.push(Operand::Checked(value));
        }
        if !timed {
            return self.generic_call(callee, checked, span, hint);
        }
        // A factor written as a number keeps all its digits: a tenth of a duration is a tenth.
        let lreal = self.elementary(E::Lreal);
        let values: Vec<_> = checked
            .into_iter()
            .map(|operand| {
                let hint = self.is_written_real(&operand).then_some(lreal);
                self.operand(operand, hint)
            })
            .collect();
        let mut values = values.into_iter();
        // Operators and functions have at least two operands.
        let Some(mut total) = values.next() else { return self.unknown(span) };
        for value in values {
            total = self.time_call(callee, operation, total, value, span);
        }
        total
    }

    pub(super) fn time_call(
        &mut self,
        callee: &Callee,
        operation: TimeOperation,
        left: Expression,
        right: Expression,
        span: Span,
    ) -> Expression {
        if self.is_unknown(left.ty) || self.is_unknown(right.ty) {
            return self.unknown(span);
        }
        let kinds = (self.types.elementary_base(left.ty), self.types.elementary_base(right.ty));
        let mut swapped = false;
        let overload = match kinds {
            (Some(first), Some(second)) => time_arithmetic(operation, first, second).or_else(|| {
                // Our choice: the standard lists the duration first, the mirror form is harmless.
                swapped = operation == TimeOperation::Multiply;
                if swapped { time_arithmetic(operation, second, first) } else { None }
            }),
            _ => None,
        };
        let Some(overload) = overload else {
            let (first, second) = (self.type_name(left.ty), self.type_name(right.ty));
            self.report(
                Diagnostic::error(
                    "operand-types",
                    callee.span,
                    format!("{} does not work on {first} and {second}", callee.shown),
                )
                .label("no such operation")
                .also(left.span, first)
                .also(right.span, second)
                .note("durations can be added, subtracted, and multiplied or divided by a number; dates differ by a duration"),
            );
            return self.unknown(span);
        };
        let (left, right) = if swapped { (right, left) } else { (left, right) };
        let goal = Goal::Operand { function: &callee.shown };
        let number = self.types.elementary_base(right.ty).is_some_and(|kind| TypeClass::AnyNum.accepts(kind));
        let first = self.elementary(overload.operands[0]);
        let left = self.convert(left, first, &goal);
        let right = if number {
            // The routine's own number type; its conversion loses nothing that the result could show.
            self.force(right, overload.operands[1])
        } else {
            let second = self.elementary(overload.operands[1]);
            self.convert(right, second, &goal)
        };
        let arguments = vec![left, right];
        self.build(
            callee,
            overload.definition,
            Some(overload.operands[0]),
            Some(overload.result),
            None,
            arguments,
            span,
        )
    }
}

fn is_time(kind: E) -> bool {
    TypeClass::AnyDuration.accepts(kind) || TypeClass::AnyDate.accepts(kind)
}

pub(super) fn time_operation(definition: &FunctionDefinition) -> Option<TimeOperation> {
    match definition.name {
        "ADD" => Some(TimeOperation::Add),
        "SUB" => Some(TimeOperation::Subtract),
        "MUL" => Some(TimeOperation::Multiply),
        "DIV" => Some(TimeOperation::Divide),
        _ => None,
    }
}

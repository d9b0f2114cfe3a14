//! Calls: `CAL` of function block instances, functions by their names, arguments that are lists of
//! instructions.
//!
//! Source: IEC 61131-3:2013, 7.2.7, table 69. In `F b, c` the current result is the first argument; in
//! `F( … )` all arguments are listed and the current result is none of them.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, Argument, ArgumentKind, Condition, Ident},
};

use super::{Current, Flow, Undefined};
use crate::{
    check::{
        Checker,
        arguments::{Given, GivenKind},
        callee::Called,
        operands::Operand,
        outputs::has_no_result,
    },
    typed::{Expression, ExpressionKind, Statement, StatementKind},
};

impl<'a> Checker<'a> {
    /// `CAL`, `CALC`, `CALCN`.
    pub(super) fn call_instruction<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        condition: Condition,
        call: &'t tree::Call,
        operator_span: Span,
        span: Span,
    ) {
        let mut decision = None;
        let mut sound = true;
        if condition == Condition::Always {
            self.drop_current(flow, None);
        } else {
            let name = if condition == Condition::IfTrue { "CALC" } else { "CALCN" };
            decision = self.decision(flow, name, operator_span);
            sound = decision.is_some();
        }
        // What the arguments need first must run only if the call does.
        let before = std::mem::take(&mut flow.statements);
        let statement = self.called_statement(flow, call, span);
        let mut statements = std::mem::replace(&mut flow.statements, before);
        flow.current = Current::Undefined(Undefined::Call(operator_span));
        flow.chain = 0;
        let Some(statement) = statement else {
            // The call may have been meant to give a result.
            flow.current = Current::Unknown;
            return;
        };
        if condition == Condition::Always
            && let StatementKind::Evaluate(value) = &statement.kind
            && self.is_method_result(value)
        {
            flow.statements.append(&mut statements);
            self.set_current(flow, value.clone());
            return;
        }
        statements.push(statement);
        if !sound {
            return;
        }
        match decision {
            Some(decision) => {
                let statement = self.when(decision, condition == Condition::IfTrue, statements, span);
                flow.statements.push(statement);
            }
            None => flow.statements.append(&mut statements),
        }
    }

    fn called_statement<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        call: &'t tree::Call,
        span: Span,
    ) -> Option<Statement> {
        match self.called(&call.callee) {
            Called::Instance(instance) => {
                let given = self.instruction_arguments(flow, &call.arguments);
                self.block_call(instance, given, span)
            }
            Called::Super => {
                let given = self.instruction_arguments(flow, &call.arguments);
                self.super_body(given, call.callee.span, span)
            }
            Called::Method(target) => {
                let given = self.instruction_arguments(flow, &call.arguments);
                let value = self.method_call(target, given, span);
                (!self.is_unknown(value.ty))
                    .then_some(Statement { kind: StatementKind::Evaluate(value), span })
            }
            Called::Function(unit) => {
                let given = self.instruction_arguments(flow, &call.arguments);
                let value = self.function_call(unit, given, span);
                (!self.is_unknown(value.ty))
                    .then_some(Statement { kind: StatementKind::Evaluate(value), span })
            }
            Called::Standard(callee) if has_no_result(callee.definition) => {
                let given = self.instruction_arguments(flow, &call.arguments);
                let value = self.standard_function(&callee, given, span, None);
                (!self.is_unknown(value.ty))
                    .then_some(Statement { kind: StatementKind::Evaluate(value), span })
            }
            Called::Standard(_) | Called::Reference | Called::Bound { .. } => {
                let spelling = self.text(call.callee.span);
                let given = self.instruction_arguments(flow, &call.arguments);
                self.use_all(given);
                self.report(
                    Diagnostic::error(
                        "not-callable",
                        call.callee.span,
                        format!(
                            "`{spelling}` is a function with a result; `CAL` calls function block instances"
                        ),
                    )
                    .label("not an instance")
                    .note(format!("write its name as the instruction: `{spelling} …`")),
                );
                None
            }
            Called::Variable | Called::Nothing => {
                let given = self.instruction_arguments(flow, &call.arguments);
                self.use_all(given);
                None
            }
        }
    }

    /// Whether a value is the result of a method, which becomes the current one (our choice).
    fn is_method_result(&self, value: &Expression) -> bool {
        let ExpressionKind::Function(call) = &value.kind else { return false };
        call.receiver.is_some() && self.units[call.unit.0 as usize].result.is_some()
    }

    /// What a call by name leaves: its result as the current one, or none.
    fn leave_result(
        &mut self,
        flow: &mut Flow<'_>,
        value: Expression,
        has_result: bool,
        name: Span,
        span: Span,
    ) {
        if has_result {
            self.set_current(flow, value);
            return;
        }
        if !self.is_unknown(value.ty) {
            flow.statements.push(Statement { kind: StatementKind::Evaluate(value), span });
        }
        flow.current = Current::Undefined(Undefined::Call(name));
        flow.chain = 0;
    }

    /// Arguments of a call, lists of instructions among them.
    pub(super) fn instruction_arguments<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        arguments: &'t [Argument],
    ) -> Vec<Given<'t>> {
        let mut all = Vec::with_capacity(arguments.len());
        for argument in arguments {
            let ArgumentKind::InputInstructions { name, instructions } = &argument.kind else {
                all.extend(self.given(std::slice::from_ref(argument)));
                continue;
            };
            let inner = self.parenthesis(flow, None, instructions, argument.span);
            let value = match self.operand_of(inner, argument.span) {
                Some(value) => value,
                None => Operand::Checked(self.unknown(argument.span)),
            };
            all.push(Given { kind: GivenKind::Input { name: *name, value }, span: argument.span });
        }
        all
    }

    /// A function by its name, or an input operator of a standard function block.
    #[expect(clippy::too_many_arguments, reason = "the parts of one instruction")]
    pub(super) fn function_instruction<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        name: Ident,
        listed: bool,
        arguments: &'t [Argument],
        span: Span,
        calls_allowed: bool,
        live: bool,
    ) {
        let spelling = self.text(name.span);
        if !listed
            && let [Argument { kind: ArgumentKind::Positional(target), .. }] = arguments
            && latchwork_stdlib::blocks().any(|block| block.input_operator(spelling).is_some())
            && latchwork_stdlib::function(spelling).is_none()
        {
            if !calls_allowed {
                self.report(
                    Diagnostic::error(
                        "not-in-parentheses",
                        name.span,
                        "an input operator of a function block cannot stand between parentheses",
                    )
                    .label("calls inside a deferred operation")
                    .note("only loads, stores, operators and functions can stand there (table 67)"),
                );
                return;
            }
            match self.instance_operand(target) {
                Some(instance) => self.input_operator(flow, spelling, instance, name.span, span, live),
                None => self.report_operator_without_instance(target, name.span),
            }
            return;
        }
        let first = if listed {
            self.drop_current(flow, None);
            None
        } else {
            match self.take_current(flow, name.span) {
                Some(current) => Some(current),
                None => {
                    let given = self.instruction_arguments(flow, arguments);
                    self.use_all(given);
                    return;
                }
            }
        };
        let mut given = Vec::with_capacity(arguments.len() + 1);
        if let Some(first) = first {
            let span = first.span();
            given.push(Given { kind: GivenKind::Positional(first), span });
        }
        given.extend(self.instruction_arguments(flow, arguments));
        match self.called_by_name(name) {
            Called::Function(unit) => {
                let has_result = self.units[unit.0 as usize].tree.result.is_some();
                let value = self.function_call(unit, given, span);
                self.leave_result(flow, value, has_result, name.span, span);
            }
            Called::Method(target) => {
                let has_result = self.units[target.method.0 as usize].tree.result.is_some();
                let value = self.method_call(target, given, span);
                self.leave_result(flow, value, has_result, name.span, span);
            }
            Called::Standard(callee) => {
                let value = self.standard_function(&callee, given, span, None);
                let has_result = !has_no_result(callee.definition);
                self.leave_result(flow, value, has_result, name.span, span);
            }
            Called::Variable => {
                self.report(
                    Diagnostic::error(
                        "not-callable",
                        name.span,
                        format!("`{spelling}` is a variable, not an instruction"),
                    )
                    .label("not an operator and not a function")
                    .note(format!(
                        "load it with `LD {spelling}`; an instance is called with `CAL {spelling}`"
                    )),
                );
                self.use_all(given);
            }
            Called::Bound { upper } => {
                let value = self.bound_call(upper, given, span);
                self.set_current(flow, value);
            }
            Called::Reference | Called::Super | Called::Instance(_) | Called::Nothing => self.use_all(given),
        }
    }
}

//! Operators: loads, stores, set and reset, logic, arithmetic, comparison, deferred operations.
//!
//! Source: IEC 61131-3:2013, 7.2.2 and 7.2.3, tables 67 and 68.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, InstructionOperator, Operation},
};
use latchwork_stdlib::{Lowering, Operator};
use latchwork_vm::ElementaryType as E;

use super::{Body, Current, Flow, jump::consumed};
use crate::{
    check::{Checker, access::Mode, operands::Operand},
    typed::{Constant, Expression, ExpressionKind, Observation, Statement, StatementKind},
};

impl<'a> Checker<'a> {
    /// One operation. `body` is `None` between parentheses; `live` tells whether the current result is used
    /// after the operation.
    pub(super) fn instruction<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        body: Option<&mut Body<'t>>,
        operation: &'t Operation,
        span: Span,
        live: bool,
    ) {
        self.observe(Observation::Statement, span, &mut flow.statements);
        match (operation, body) {
            (Operation::Operator { operator, negated, operator_span, operands }, _) => {
                self.plain_operator(flow, *operator, *negated, *operator_span, operands, span, live);
            }
            (Operation::Deferred { operator, negated, operator_span, first, body }, _) => {
                self.deferred(flow, *operator, *negated, *operator_span, first.as_ref(), body, span);
            }
            (Operation::Function { name, .. }, _) if !name.path.is_empty() => {
                self.report_unresolved(name);
                self.drop_current(flow, None);
            }
            (Operation::Function { name, listed, arguments }, body) => {
                self.function_instruction(flow, name.name, *listed, arguments, span, body.is_some(), live);
            }
            (Operation::Jump { condition, label, .. }, Some(body)) => {
                self.jump(flow, body, *condition, *label, span, live);
            }
            (Operation::Call { condition, operator_span, call }, Some(_)) => {
                self.call_instruction(flow, *condition, call, *operator_span, span);
            }
            (Operation::Return { condition, .. }, Some(_)) => self.leave(flow, *condition, span, live),
            // The parser has refused these between parentheses.
            (Operation::Jump { .. } | Operation::Call { .. } | Operation::Return { .. }, None) => {}
        }
    }

    #[expect(clippy::too_many_arguments, reason = "the parts of one instruction")]
    fn plain_operator<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        operator: InstructionOperator,
        negated: bool,
        operator_span: Span,
        operands: &'t [tree::Expression],
        span: Span,
        live: bool,
    ) {
        match (operator, operands) {
            (InstructionOperator::Load, [operand]) => {
                self.drop_current(flow, Some(operator_span));
                flow.current = self.load(operand, negated);
                flow.chain = u32::from(negated);
            }
            (InstructionOperator::Store, [target]) => {
                let how = if negated { Storing::Negated } else { Storing::Plain };
                self.store(flow, target, how, span, live);
            }
            (InstructionOperator::StoreAttempt, [target]) => {
                self.store(flow, target, Storing::Attempt(operator_span), span, live);
            }
            (InstructionOperator::Set | InstructionOperator::Reset, [target]) => {
                self.set_or_reset(flow, operator, target, operator_span, span, live);
            }
            (InstructionOperator::Not, []) => {
                let Some(operand) = self.take_current(flow, operator_span) else { return };
                let value = self.operator(Operator::Not, "`NOT`", vec![operand], span, None);
                self.set_current(flow, value);
            }
            (operator, operands) => {
                let Some((function, symbol)) = standard_operator(operator) else {
                    self.report_operand_number(operator_span, operands.len());
                    return;
                };
                let several = latchwork_stdlib::operator(function).extension.is_some();
                if operands.is_empty() || (operands.len() > 1 && !several) {
                    self.report_operand_number(operator_span, operands.len());
                    return;
                }
                let Some(current) = self.take_current(flow, operator_span) else {
                    for operand in operands {
                        self.infer(operand, None);
                    }
                    return;
                };
                // A literal takes the type of the current result, negated or not.
                let wanted = match &current {
                    Operand::Checked(value) => Some(value.ty),
                    Operand::Written(_) => None,
                };
                let mut all = vec![current];
                for operand in operands {
                    all.push(if negated {
                        let wanted = wanted.filter(|_| self.is_contextual(operand));
                        let not = self.operator(
                            Operator::Not,
                            "`NOT`",
                            vec![Operand::Written(operand)],
                            span,
                            wanted,
                        );
                        Operand::Checked(not)
                    } else {
                        Operand::Written(operand)
                    });
                }
                self.operator_on(flow, function, symbol, all, span);
            }
        }
    }

    /// An operator, folded from the left when it has a list of operands; a comparison holds between neighbours, as
    /// that of the function does. Leaves the current result, which is stored on the way where the list is long.
    fn operator_on(
        &mut self,
        flow: &mut Flow<'_>,
        function: Operator,
        symbol: &str,
        operands: Vec<Operand<'_>>,
        span: Span,
    ) {
        let row = latchwork_stdlib::operator(function);
        if matches!(row.lowering, Lowering::Comparison(_)) && row.extension.is_some() {
            let value = self.operator(function, symbol.to_owned(), operands, span, None);
            self.set_current(flow, value);
            return;
        }
        let mut operands = operands.into_iter();
        // The current result and at least one operand.
        let Some(mut left) = operands.next() else { return };
        while let Some(right) = operands.next() {
            let value = self.operator(function, symbol.to_owned(), vec![left, right], span, None);
            self.set_current(flow, value);
            if operands.len() == 0 {
                return;
            }
            match self.take_current(flow, span) {
                Some(current) => left = Operand::Checked(self.operand(current, None)),
                None => return,
            }
        }
    }

    /// A loaded operand as the current result.
    pub(super) fn load<'t>(&mut self, operand: &'t tree::Expression, negated: bool) -> Current<'t> {
        if negated {
            let value =
                self.operator(Operator::Not, "`LDN`", vec![Operand::Written(operand)], operand.span, None);
            return if self.is_unknown(value.ty) { Current::Unknown } else { Current::Value(value) };
        }
        if self.is_contextual(operand) {
            return Current::Written(operand);
        }
        let value = self.infer(operand, None);
        if self.is_unknown(value.ty) { Current::Unknown } else { Current::Value(value) }
    }

    /// `ST`, `STN`.
    fn store<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        target: &'t tree::Expression,
        how: Storing,
        span: Span,
        live: bool,
    ) {
        let access = self.access(target, Mode::Write);
        let Some(operand) = self.take_current(flow, span) else { return };
        let Some(access) = access else {
            flow.current = match operand {
                Operand::Written(written) => Current::Written(written),
                Operand::Checked(value) => Current::Value(value),
            };
            return;
        };
        let value = match operand {
            Operand::Written(written) => {
                flow.current = Current::Written(written);
                self.infer(written, Some(access.ty))
            }
            Operand::Checked(value) => {
                flow.current = Current::Value(value);
                if live {
                    self.materialise(flow);
                }
                match &flow.current {
                    Current::Value(value) => value.clone(),
                    _ => self.unknown(span),
                }
            }
        };
        let value = match how {
            Storing::Negated => {
                self.operator(Operator::Not, "`STN`", vec![Operand::Checked(value)], span, None)
            }
            Storing::Plain | Storing::Attempt(_) => value,
        };
        flow.chain = 0;
        if !live && matches!(flow.current, Current::Value(_)) {
            // Nothing uses it any more, and the expression must not run a second time.
            consumed(flow);
        }
        let statement = match how {
            Storing::Attempt(operator) => self.attempt_value(access, value, operator, span),
            Storing::Plain | Storing::Negated => self.assign(access, value, span),
        };
        flow.statements.extend(statement);
    }

    /// `S`, `R` on a BOOL variable, or as input operators of an instance.
    fn set_or_reset<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        operator: InstructionOperator,
        target: &'t tree::Expression,
        operator_span: Span,
        span: Span,
        live: bool,
    ) {
        let set = operator == InstructionOperator::Set;
        let name = if set { "S" } else { "R" };
        if let Some(instance) = self.instance_operand(target) {
            self.input_operator(flow, name, instance, operator_span, span, live);
            return;
        }
        let access = self.access(target, Mode::Write);
        let Some(condition) = self.decision(flow, name, operator_span) else { return };
        flow.current = Current::Value(condition);
        if live {
            self.materialise(flow);
        }
        flow.chain = 0;
        let Some(access) = access else { return };
        if self.types.elementary_base(access.ty) != Some(E::Bool) {
            let type_name = self.type_name(access.ty);
            self.report(
                Diagnostic::error(
                    "operand-types",
                    target.span,
                    format!("`{name}` works on a BOOL variable, not on {type_name}"),
                )
                .label(type_name),
            );
            return;
        }
        let Current::Value(condition) = flow.current.clone() else { return };
        if !live {
            consumed(flow);
        }
        let ty = access.ty;
        let value = Expression { kind: ExpressionKind::Constant(Constant::Bool(set)), ty, span };
        let assign = Statement { kind: StatementKind::Assign { target: access, value }, span };
        let statement = self.when(condition, true, vec![assign], span);
        flow.statements.push(statement);
    }

    /// `AND( … )` and the like.
    #[expect(clippy::too_many_arguments, reason = "the parts of one instruction")]
    fn deferred<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        operator: InstructionOperator,
        negated: bool,
        operator_span: Span,
        first: Option<&'t tree::Expression>,
        body: &'t [tree::Instruction],
        span: Span,
    ) {
        let Some((function, symbol)) = standard_operator(operator) else {
            self.report_operand_number(operator_span, 0);
            return;
        };
        if stores(body) {
            self.materialise(flow);
        }
        let inner = self.parenthesis(flow, first, body, operator_span);
        let right = self.operand_of(inner, operator_span);
        let Some(left) = self.take_current(flow, operator_span) else { return };
        let Some(right) = right else { return };
        let right = if negated {
            Operand::Checked(self.operator(Operator::Not, "`NOT`", vec![right], span, None))
        } else {
            right
        };
        let value = self.operator(function, symbol.to_owned(), vec![left, right], span, None);
        self.set_current(flow, value);
    }

    fn report_operand_number(&mut self, span: Span, number: usize) {
        let spelling = self.text(span);
        let message = if number == 0 {
            format!("`{spelling}` needs an operand")
        } else {
            format!("`{spelling}` cannot have {number} operands")
        };
        self.report(Diagnostic::error("operand-count", span, message).label("wrong number of operands"));
    }
}

/// The operators that store the current result.
#[derive(Clone, Copy)]
enum Storing {
    /// `ST`
    Plain,
    /// `STN`
    Negated,
    /// `ST?`, with its place.
    Attempt(Span),
}

/// Whether instructions store something, so that what was loaded before must be kept safe.
fn stores(instructions: &[tree::Instruction]) -> bool {
    instructions.iter().any(|instruction| match &instruction.operation {
        Some(Operation::Operator { operator, .. }) => matches!(
            operator,
            InstructionOperator::Store
                | InstructionOperator::StoreAttempt
                | InstructionOperator::Set
                | InstructionOperator::Reset
        ),
        Some(Operation::Deferred { body, .. }) => stores(body),
        Some(Operation::Function { .. }) => true,
        _ => false,
    })
}

/// The function behind an operator, and its symbol for messages.
fn standard_operator(operator: InstructionOperator) -> Option<(Operator, &'static str)> {
    Some(match operator {
        InstructionOperator::And => (Operator::And, "`AND`"),
        InstructionOperator::Or => (Operator::Or, "`OR`"),
        InstructionOperator::Xor => (Operator::Xor, "`XOR`"),
        InstructionOperator::Add => (Operator::Add, "`ADD`"),
        InstructionOperator::Subtract => (Operator::Subtract, "`SUB`"),
        InstructionOperator::Multiply => (Operator::Multiply, "`MUL`"),
        InstructionOperator::Divide => (Operator::Divide, "`DIV`"),
        InstructionOperator::Modulo => (Operator::Modulo, "`MOD`"),
        InstructionOperator::Greater => (Operator::Greater, "`GT`"),
        InstructionOperator::GreaterOrEqual => (Operator::GreaterOrEqual, "`GE`"),
        InstructionOperator::Equal => (Operator::Equal, "`EQ`"),
        InstructionOperator::NotEqual => (Operator::NotEqual, "`NE`"),
        InstructionOperator::LessOrEqual => (Operator::LessOrEqual, "`LE`"),
        InstructionOperator::Less => (Operator::Less, "`LT`"),
        InstructionOperator::Load
        | InstructionOperator::Store
        | InstructionOperator::Set
        | InstructionOperator::Reset
        | InstructionOperator::Not
        | InstructionOperator::StoreAttempt => return None,
    })
}

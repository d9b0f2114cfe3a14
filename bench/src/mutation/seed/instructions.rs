//! Faults in instructions of Instruction List.

use latchwork_grammar::{
    Span,
    tree::{ArgumentKind, Condition, Expression, Instruction, InstructionOperator, Operation},
};

use super::{Seeder, blocks::Language};
use crate::mutation::kind::MutantKind;

impl Seeder<'_, '_> {
    /// The instructions of a body.
    pub(super) fn instructions(&mut self, instructions: &[Instruction]) {
        let outside = std::mem::replace(&mut self.in_list, true);
        for rung in super::rungs::rungs(instructions) {
            let targets = super::rungs::targets(rung);
            for (index, instruction) in rung.iter().enumerate() {
                self.instruction(instruction, &targets);
                if let Some(next) = rung.get(index + 1) {
                    self.first_left_out(instruction, next, &targets);
                }
            }
        }
        self.exchanged_rungs(instructions);
        self.in_list = outside;
    }

    /// `targets`: what its rung writes.
    fn instruction(&mut self, instruction: &Instruction, targets: &[Span]) {
        let Some(operation) = &instruction.operation else { return };
        let whole = Span::new(instruction.span.file, start(operation), instruction.span.end);
        match operation {
            Operation::Operator { operator, negated, operator_span, operands } => {
                self.operator_of_list(*operator, *negated, *operator_span);
                let boolean = operands.first().is_some_and(|operand| self.scope.is_boolean(operand));
                self.one_of_series(*operator, whole, targets, operands.first());
                if boolean {
                    self.turned(*operator, *negated, *operator_span, whole);
                }
                self.stored(*operator, *operator_span, whole, operands);
                for operand in operands {
                    self.operand(operand, *operator);
                }
            }
            Operation::Deferred { operator, negated, operator_span, first, body } => {
                self.operator_of_list(*operator, *negated, *operator_span);
                let held = body.iter().flat_map(operands_of).chain(first);
                let held = held.into_iter().find(|operand| self.is_target(operand, targets));
                self.one_of_series(*operator, whole, targets, held);
                if matches!(operator, InstructionOperator::And | InstructionOperator::Or) {
                    let other = word(*operator, !negated);
                    self.become_other(MutantKind::ContactSwapped, *operator_span, other);
                }
                first.iter().for_each(|first| self.operand(first, InstructionOperator::Load));
                for inner in body {
                    self.instruction(inner, targets);
                }
            }
            Operation::Jump { condition, operator_span, .. } => {
                self.conditional("JMP", *condition, *operator_span, whole);
                self.leave_out(MutantKind::StatementDeleted, whole, whole);
            }
            Operation::Call { condition, operator_span, call } => {
                self.conditional("CAL", *condition, *operator_span, whole);
                self.leave_out(MutantKind::StatementDeleted, whole, whole);
                self.call(call, Language::InstructionList);
            }
            Operation::Return { condition, operator_span } => {
                self.conditional("RET", *condition, *operator_span, whole);
                self.leave_out(MutantKind::StatementDeleted, whole, whole);
            }
            Operation::Function { name, arguments, .. } => self.function(name.name.span, arguments, whole),
        }
    }

    /// A function, or an input of a function block.
    fn function(&mut self, name: Span, arguments: &[latchwork_grammar::tree::Argument], whole: Span) {
        let instance = arguments.first().and_then(|argument| match &argument.kind {
            ArgumentKind::Positional(value) => {
                self.block(value).filter(|kind| super::scope::is_standard_block(kind))
            }
            _ => None,
        });
        if instance.is_some() {
            let spelling = self.text(name).to_ascii_uppercase();
            let kind = match spelling.as_str() {
                "R" | "R1" | "RESET" => MutantKind::ResetLeftOut,
                _ => MutantKind::StatementDeleted,
            };
            self.leave_out(kind, whole, whole);
            return;
        }
        for argument in arguments {
            match &argument.kind {
                ArgumentKind::Positional(value) | ArgumentKind::Input { value, .. } => self.expression(value),
                ArgumentKind::InputInstructions { instructions, .. } => self.instructions(instructions),
                ArgumentKind::Output { target, .. } => self.output(target),
            }
        }
    }

    /// The operand of an instruction: what it stores into, or a value.
    fn operand(&mut self, operand: &Expression, operator: InstructionOperator) {
        use InstructionOperator as O;
        match operator {
            O::Store | O::StoreAttempt | O::Set | O::Reset => self.output(operand),
            _ => self.expression(operand),
        }
    }

    fn operator_of_list(&mut self, operator: InstructionOperator, negated: bool, span: Span) {
        use InstructionOperator as O;
        let others: &[(MutantKind, O)] = match operator {
            O::And => &[(MutantKind::AndOrSwapped, O::Or)],
            O::Or => &[(MutantKind::AndOrSwapped, O::And)],
            O::Less => {
                &[(MutantKind::LimitMoved, O::LessOrEqual), (MutantKind::ComparisonTurned, O::Greater)]
            }
            O::LessOrEqual => {
                &[(MutantKind::LimitMoved, O::Less), (MutantKind::ComparisonTurned, O::GreaterOrEqual)]
            }
            O::Greater => {
                &[(MutantKind::LimitMoved, O::GreaterOrEqual), (MutantKind::ComparisonTurned, O::Less)]
            }
            O::GreaterOrEqual => {
                &[(MutantKind::LimitMoved, O::Greater), (MutantKind::ComparisonTurned, O::LessOrEqual)]
            }
            O::Equal => &[(MutantKind::EqualitySwapped, O::NotEqual)],
            O::NotEqual => &[(MutantKind::EqualitySwapped, O::Equal)],
            O::Add => &[(MutantKind::ArithmeticSwapped, O::Subtract)],
            O::Subtract => &[(MutantKind::ArithmeticSwapped, O::Add)],
            O::Multiply => &[(MutantKind::ArithmeticSwapped, O::Divide)],
            O::Divide => &[(MutantKind::ArithmeticSwapped, O::Multiply)],
            O::Set => &[(MutantKind::SetResetSwapped, O::Reset)],
            O::Reset => &[(MutantKind::SetResetSwapped, O::Set)],
            O::Load | O::Store | O::StoreAttempt | O::Xor | O::Not | O::Modulo => &[],
        };
        for (kind, other) in others {
            self.become_other(*kind, span, word(*other, negated));
        }
    }

    /// A contact in series or a branch in parallel left out.
    fn one_of_series(
        &mut self,
        operator: InstructionOperator,
        whole: Span,
        targets: &[Span],
        operand: Option<&Expression>,
    ) {
        let kind = match operator {
            InstructionOperator::And => MutantKind::FactorDropped,
            InstructionOperator::Or if operand.is_some_and(|operand| self.is_target(operand, targets)) => {
                MutantKind::SealInDropped
            }
            InstructionOperator::Or => MutantKind::BranchDropped,
            _ => return,
        };
        self.leave_out(kind, whole, whole);
    }

    /// `LD a` in front of `AND b` or `OR b` left out: `LD b` remains.
    fn first_left_out(&mut self, first: &Instruction, second: &Instruction, targets: &[Span]) {
        let Some(Operation::Operator {
            operator: InstructionOperator::Load, operator_span, operands, ..
        }) = &first.operation
        else {
            return;
        };
        let Some(Operation::Operator { operator, negated, operator_span: behind, .. }) = &second.operation
        else {
            return;
        };
        let kind = match operator {
            InstructionOperator::And => MutantKind::FactorDropped,
            InstructionOperator::Or
                if operands.first().is_some_and(|operand| self.is_target(operand, targets)) =>
            {
                MutantKind::SealInDropped
            }
            InstructionOperator::Or => MutantKind::BranchDropped,
            _ => return,
        };
        let span = operator_span.to(*behind);
        if second.label.is_some() || self.has_comment(span) {
            return;
        }
        let words = format!("`{}` left out", self.quoted(Span::new(span.file, span.start, first.span.end)));
        self.push(kind, span, word(InstructionOperator::Load, *negated), words);
    }

    /// `AND` for `ANDN`, `LD` for `LDN`, `ST` for `STN`, or the other way round.
    fn turned(&mut self, operator: InstructionOperator, negated: bool, span: Span, whole: Span) {
        use InstructionOperator as O;
        let kind = match operator {
            O::Load | O::And | O::Or | O::Xor => MutantKind::ContactSwapped,
            O::Store => MutantKind::CoilNegated,
            _ => return,
        };
        let other = word(operator, !negated);
        let words = format!("`{}` with `{other}`", self.quoted(whole));
        self.push(kind, span, other, words);
    }

    fn stored(&mut self, operator: InstructionOperator, span: Span, whole: Span, operands: &[Expression]) {
        use InstructionOperator as O;
        let is_block = operands
            .first()
            .and_then(|operand| self.block(operand))
            .is_some_and(super::scope::is_standard_block);
        match operator {
            O::Reset if is_block => self.leave_out(MutantKind::ResetLeftOut, whole, whole),
            O::Store | O::StoreAttempt | O::Set | O::Reset => {
                self.leave_out(MutantKind::StatementDeleted, whole, whole);
            }
            O::Not => self.leave_out(MutantKind::ContactSwapped, span, whole),
            _ => {}
        }
    }

    fn conditional(&mut self, stem: &str, condition: Condition, span: Span, whole: Span) {
        let other = match condition {
            Condition::Always => return,
            Condition::IfTrue => format!("{stem}CN"),
            Condition::IfFalse => format!("{stem}C"),
        };
        let words = format!("`{}` with `{other}`", self.quoted(whole));
        self.push(MutantKind::ConditionNegated, span, other, words);
    }

    fn is_target(&self, operand: &Expression, targets: &[Span]) -> bool {
        targets.iter().any(|target| self.same(operand.span, *target))
    }
}

/// The operands that an instruction names itself.
fn operands_of(instruction: &Instruction) -> &[Expression] {
    match &instruction.operation {
        Some(Operation::Operator { operands, .. }) => operands,
        _ => &[],
    }
}

/// Where an operation begins, behind its label.
pub(super) fn start(operation: &Operation) -> u32 {
    match operation {
        Operation::Operator { operator_span, .. }
        | Operation::Deferred { operator_span, .. }
        | Operation::Jump { operator_span, .. }
        | Operation::Call { operator_span, .. }
        | Operation::Return { operator_span, .. } => operator_span.start,
        Operation::Function { name, .. } => name.span.start,
    }
}

/// An operator as it is written (IEC 61131-3:2013, table 68).
fn word(operator: InstructionOperator, negated: bool) -> &'static str {
    use InstructionOperator as O;
    match (operator, negated) {
        (O::Load, false) => "LD",
        (O::Load, true) => "LDN",
        (O::Store, false) => "ST",
        (O::Store, true) => "STN",
        (O::And, false) => "AND",
        (O::And, true) => "ANDN",
        (O::Or, false) => "OR",
        (O::Or, true) => "ORN",
        (O::Xor, false) => "XOR",
        (O::Xor, true) => "XORN",
        (O::Set, _) => "S",
        (O::Reset, _) => "R",
        (O::Not, _) => "NOT",
        (O::Add, _) => "ADD",
        (O::Subtract, _) => "SUB",
        (O::Multiply, _) => "MUL",
        (O::Divide, _) => "DIV",
        (O::Modulo, _) => "MOD",
        (O::Greater, _) => "GT",
        (O::GreaterOrEqual, _) => "GE",
        (O::Equal, _) => "EQ",
        (O::NotEqual, _) => "NE",
        (O::LessOrEqual, _) => "LE",
        (O::Less, _) => "LT",
        (O::StoreAttempt, _) => "ST?",
    }
}

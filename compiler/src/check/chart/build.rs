//! Parts of typed statements that a chart is translated into.
//!
//! A chart becomes a flat list with labels and jumps, like Instruction List, so that the bodies of its actions
//! stand in no branch that the author did not write.

use latchwork_grammar::{Span, tree::SectionKind};
use latchwork_stdlib::{Operator, TimeOperation, operator, time_arithmetic};
use latchwork_vm::{ElementaryType as E, EventKind};

use crate::{
    check::Checker,
    scope::{STEP_ACTIVE, STEP_TIME},
    typed::{
        Access, BlockCall, Constant, Expression, ExpressionKind, Root, Statement, StatementKind, VariableId,
    },
    types::TypeId,
};

/// The value of an access.
pub(super) fn read(access: &Access) -> Expression {
    Expression { kind: ExpressionKind::Access(access.clone()), ty: access.ty, span: access.span }
}

/// `target := value`
pub(super) fn assign(target: Access, value: Expression) -> Statement {
    let span = target.span;
    Statement { kind: StatementKind::Assign { target, value }, span }
}

/// A place to jump to.
pub(super) fn label(label: u32, span: Span) -> Statement {
    Statement { kind: StatementKind::Label(label), span }
}

/// A jump, always.
pub(super) fn jump(label: u32, span: Span) -> Statement {
    Statement { kind: StatementKind::Jump { label, condition: None }, span }
}

/// A jump if a BOOL has a value.
pub(super) fn jump_when(condition: Expression, wanted: bool, label: u32) -> Statement {
    let span = condition.span;
    Statement { kind: StatementKind::Jump { label, condition: Some((condition, wanted)) }, span }
}

/// An event at a place.
pub(super) fn event(kind: EventKind, span: Span) -> Statement {
    Statement { kind: StatementKind::Event(kind), span }
}

/// A call of a standard block with inputs by their place in its table.
pub(super) fn call(instance: Access, inputs: Vec<(u32, Expression)>) -> Statement {
    let span = instance.span;
    let call = BlockCall::new(instance, inputs);
    Statement { kind: StatementKind::CallBlock(Box::new(call)), span }
}

impl Checker<'_> {
    /// A new label of the current unit.
    pub(super) fn chart_label(&mut self) -> u32 {
        let Some(unit) = self.unit else { return 0 };
        let labels = &mut self.units[unit.0 as usize].labels;
        *labels += 1;
        *labels - 1
    }

    /// A hidden variable that is part of the instance.
    pub(super) fn kept(&mut self, ty: TypeId, span: Span) -> Access {
        let id = self.temporary(ty, span);
        if let Some(unit) = self.unit
            && let Some(variable) = self.units[unit.0 as usize].variables.get_mut(id.0 as usize)
        {
            variable.section = SectionKind::Var;
        }
        Access::whole(Root::Variable(id), ty, span)
    }

    /// A hidden variable for the rest of the scan.
    pub(super) fn passing(&mut self, ty: TypeId, span: Span) -> Access {
        let id = self.temporary(ty, span);
        Access::whole(Root::Variable(id), ty, span)
    }

    pub(super) fn boolean(&mut self) -> TypeId {
        self.elementary(E::Bool)
    }

    pub(super) fn duration(&mut self) -> TypeId {
        self.elementary(E::Time)
    }

    /// `s.X`
    pub(super) fn active_flag(&mut self, step: VariableId, span: Span) -> Access {
        Access::member(Root::Variable(step), STEP_ACTIVE, self.boolean(), span)
    }

    /// `s.T`
    pub(super) fn elapsed_time(&mut self, step: VariableId, span: Span) -> Access {
        Access::member(Root::Variable(step), STEP_TIME, self.duration(), span)
    }

    pub(super) fn truth(&mut self, value: bool, span: Span) -> Expression {
        let kind = ExpressionKind::Constant(Constant::Bool(value));
        Expression { kind, ty: self.boolean(), span }
    }

    pub(super) fn no_time(&mut self, span: Span) -> Expression {
        Expression { kind: ExpressionKind::Constant(Constant::Time(0)), ty: self.duration(), span }
    }

    pub(super) fn scan_time(&mut self, span: Span) -> Expression {
        Expression { kind: ExpressionKind::ScanTime, ty: self.duration(), span }
    }

    fn on_booleans(&mut self, function: Operator, arguments: Vec<Expression>) -> Expression {
        let span = arguments.first().map_or_else(Span::default, |first| first.span);
        let function = operator(function);
        let kind = ExpressionKind::Standard { function, on: Some(E::Bool), arguments };
        Expression { kind, ty: self.boolean(), span }
    }

    pub(super) fn both(&mut self, left: Expression, right: Expression) -> Expression {
        self.on_booleans(Operator::And, vec![left, right])
    }

    pub(super) fn either(&mut self, left: Expression, right: Expression) -> Expression {
        self.on_booleans(Operator::Or, vec![left, right])
    }

    pub(super) fn not(&mut self, operand: Expression) -> Expression {
        self.on_booleans(Operator::Not, vec![operand])
    }

    /// Stores the AND or OR of any number of flags, in pieces that later passes can walk recursively.
    pub(super) fn gather(
        &mut self,
        function: Operator,
        target: &Access,
        flags: Vec<Expression>,
        into: &mut Vec<Statement>,
    ) {
        /// Most operators in one expression.
        const PIECE_MAX: usize = 50;
        let mut value: Option<Expression> = None;
        let mut length = 0;
        for flag in flags {
            value = Some(match value {
                None => flag,
                Some(before) => self.on_booleans(function, vec![before, flag]),
            });
            length += 1;
            if length > PIECE_MAX
                && let Some(piece) = value.take()
            {
                into.push(assign(target.clone(), piece));
                value = Some(read(target));
                length = 0;
            }
        }
        if let Some(value) = value {
            into.push(assign(target.clone(), value));
        }
    }

    /// `left - right` of two durations.
    pub(super) fn difference(&mut self, left: Expression, right: Expression) -> Expression {
        let (ty, span) = (left.ty, left.span);
        match time_arithmetic(TimeOperation::Subtract, E::Time, E::Time) {
            Some(overload) => {
                let function = overload.definition;
                let kind =
                    ExpressionKind::Standard { function, on: Some(E::Time), arguments: vec![left, right] };
                Expression { kind, ty, span }
            }
            // Table 35 has the form.
            None => left,
        }
    }
}

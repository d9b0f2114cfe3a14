//! Faults in expressions.

use latchwork_grammar::{
    Span,
    tree::{BinaryOperator, Expression, ExpressionKind, UnaryOperator},
};

use super::{Seeder, blocks::Language};
use crate::mutation::kind::MutantKind;

impl Seeder<'_, '_> {
    /// An expression whose value is used.
    pub(super) fn expression(&mut self, expression: &Expression) {
        self.value(expression, None, false);
    }

    /// An expression that is assigned to a variable.
    pub(super) fn assigned(&mut self, expression: &Expression, target: Span) {
        self.value(expression, Some(target), false);
    }

    /// An expression of which it is known what it does when it is turned round as a whole.
    pub(super) fn turned_round(&mut self, expression: &Expression) {
        self.value(expression, None, true);
    }

    /// `negated`: a NOT stands in front of it, so that another one is of no use.
    fn value(&mut self, expression: &Expression, target: Option<Span>, negated: bool) {
        let span = expression.span;
        match &expression.kind {
            ExpressionKind::Literal(_) | ExpressionKind::TypedLiteral { .. } => self.constant(expression),
            ExpressionKind::Name(name) => {
                self.contact(expression, negated);
                if let Some(other) = self.scope.other_input(*name).map(str::to_owned) {
                    self.become_other(MutantKind::InputReplaced, span, other);
                }
                if let Some(other) = self.scope.next_value(*name).map(str::to_owned) {
                    self.become_other(MutantKind::ValueReplaced, span, other);
                }
            }
            ExpressionKind::QualifiedValue { type_name: _, value } => self.qualified(value),
            ExpressionKind::Member { .. }
            | ExpressionKind::Direct(_)
            | ExpressionKind::Partial { .. }
            | ExpressionKind::Index { .. } => {
                self.contact(expression, negated);
                self.subscripts(expression);
            }
            ExpressionKind::Unary { operator: UnaryOperator::Not, operand, operator_span } => {
                let removed = Span::new(span.file, operator_span.start, operand.span.start);
                let words = format!("`NOT` taken away from `{}`", self.quoted(operand.span));
                self.push(MutantKind::ContactSwapped, removed, "", words);
                self.value(operand, target, true);
            }
            ExpressionKind::Unary { operand, .. } => self.value(operand, target, negated),
            ExpressionKind::Binary { operator, operator_span, left, right } => {
                self.operator(*operator, *operator_span);
                match operator {
                    BinaryOperator::And => {
                        self.parts(*operator, left, right, |_, _| MutantKind::FactorDropped)
                    }
                    BinaryOperator::Or => self.parts(*operator, left, right, |seeder, part| match target {
                        Some(target) if seeder.holds(part, target) => MutantKind::SealInDropped,
                        _ => MutantKind::BranchDropped,
                    }),
                    _ => {}
                }
                self.value(left, target, false);
                self.value(right, target, false);
            }
            ExpressionKind::Parenthesized(inner) => self.value(inner, target, false),
            ExpressionKind::Call(call) => self.call(call, Language::StructuredText),
            ExpressionKind::Dereference(_)
            | ExpressionKind::This
            | ExpressionKind::Super
            | ExpressionKind::Null => {}
        }
    }

    /// The value behind the name of an enumeration.
    fn qualified(&mut self, value: &Expression) {
        if let ExpressionKind::Name(name) = value.kind
            && let Some(other) = self.scope.next_value(name).map(str::to_owned)
        {
            self.become_other(MutantKind::ValueReplaced, value.span, other);
        }
    }

    /// The expressions in the brackets of an access.
    pub(super) fn subscripts(&mut self, access: &Expression) {
        match &access.kind {
            ExpressionKind::Index { base, subscripts } => {
                self.subscripts(base);
                subscripts.iter().for_each(|subscript| self.expression(subscript));
            }
            ExpressionKind::Member { base, .. } | ExpressionKind::Partial { base, .. } => {
                self.subscripts(base)
            }
            ExpressionKind::Dereference(base) => self.subscripts(base),
            _ => {}
        }
    }

    fn contact(&mut self, operand: &Expression, negated: bool) {
        if !negated && !self.in_list && self.scope.is_boolean(operand) {
            let words = format!("`NOT` put in front of `{}`", self.quoted(operand.span));
            let at = Span::new(operand.span.file, operand.span.start, operand.span.start);
            self.push(MutantKind::ContactSwapped, at, "NOT ", words);
        }
    }

    fn operator(&mut self, operator: BinaryOperator, span: Span) {
        use BinaryOperator as B;
        let others: &[(MutantKind, &str)] = match operator {
            B::And => &[(MutantKind::AndOrSwapped, "OR")],
            B::Or => &[(MutantKind::AndOrSwapped, "AND")],
            B::Less => &[(MutantKind::LimitMoved, "<="), (MutantKind::ComparisonTurned, ">")],
            B::LessOrEqual => &[(MutantKind::LimitMoved, "<"), (MutantKind::ComparisonTurned, ">=")],
            B::Greater => &[(MutantKind::LimitMoved, ">="), (MutantKind::ComparisonTurned, "<")],
            B::GreaterOrEqual => &[(MutantKind::LimitMoved, ">"), (MutantKind::ComparisonTurned, "<=")],
            B::Equal => &[(MutantKind::EqualitySwapped, "<>")],
            B::NotEqual => &[(MutantKind::EqualitySwapped, "=")],
            B::Add => &[(MutantKind::ArithmeticSwapped, "-")],
            B::Subtract => &[(MutantKind::ArithmeticSwapped, "+")],
            B::Multiply => &[(MutantKind::ArithmeticSwapped, "/")],
            B::Divide => &[(MutantKind::ArithmeticSwapped, "*")],
            B::Power | B::Modulo | B::Xor => &[],
        };
        for (kind, other) in others {
            self.become_other(*kind, span, *other);
        }
    }

    /// Either side of an operator left out with it; of a chain each operand once.
    fn parts(
        &mut self,
        operator: BinaryOperator,
        left: &Expression,
        right: &Expression,
        kind: impl Fn(&Self, &Expression) -> MutantKind,
    ) {
        let of_right = Span::new(right.span.file, left.span.end, right.span.end);
        let kind_of_right = kind(self, right);
        self.leave_out(kind_of_right, of_right, of_right);
        let is_chain =
            matches!(&left.kind, ExpressionKind::Binary { operator: inner, .. } if *inner == operator);
        if !is_chain {
            let of_left = Span::new(left.span.file, left.span.start, right.span.start);
            let kind_of_left = kind(self, left);
            self.leave_out(kind_of_left, of_left, of_left);
        }
    }

    /// Whether a branch holds a variable: it is the variable itself, or has it in series.
    fn holds(&self, branch: &Expression, target: Span) -> bool {
        match &branch.kind {
            ExpressionKind::Parenthesized(inner) => self.holds(inner, target),
            ExpressionKind::Binary { operator: BinaryOperator::And, left, right, .. } => {
                self.holds(left, target) || self.holds(right, target)
            }
            _ => self.same(branch.span, target),
        }
    }
}

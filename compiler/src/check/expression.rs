//! Expressions: every form to its typed form, operators as the standard functions they stand for.
//!
//! Source: IEC 61131-3:2013, 7.3.2 and table 71. The type of an expression comes from its operands; the place
//! where it stands decides only for literals (`literal`).

use std::borrow::Cow;

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, BinaryOperator, UnaryOperator},
};
use latchwork_stdlib::{Operator, TypeClass, operator};

use super::{Checker, conversion::Goal, operands::Operand, standard::Callee};
use crate::{
    typed::{Constant, Expression, ExpressionKind},
    types::{Type, TypeId},
};

/// Deepest nesting of an expression, chains of operators counted one level an operator: later passes walk the
/// typed tree recursively.
const DEPTH_MAX: u32 = 400;

impl<'a> Checker<'a> {
    /// An expression for a place of a known type, with the words for a mismatch.
    pub(crate) fn expression_for(
        &mut self,
        expression: &tree::Expression,
        ty: TypeId,
        goal: &Goal,
    ) -> Expression {
        let value = self.infer(expression, Some(ty));
        self.warn_integer_division(expression, value.ty, ty);
        self.convert(value, ty, goal)
    }

    /// An integer division whose result becomes a real: the fraction is gone by then.
    pub(super) fn warn_integer_division(&mut self, expression: &tree::Expression, from: TypeId, to: TypeId) {
        let is =
            |class: TypeClass, ty| self.types.elementary_base(ty).is_some_and(|kind| class.accepts(kind));
        if !is(TypeClass::AnyInt, from) || !is(TypeClass::AnyReal, to) {
            return;
        }
        let mut current = expression;
        while let tree::ExpressionKind::Parenthesized(inner) = &current.kind {
            current = inner;
        }
        let tree::ExpressionKind::Binary { operator: BinaryOperator::Divide, operator_span, right, .. } =
            &current.kind
        else {
            return;
        };
        let (kind, to) = (self.type_name(from), self.type_name(to));
        let mut diagnostic = Diagnostic::warning(
            "int-division",
            *operator_span,
            format!("this divides {kind} by {kind} and drops the fraction before the result becomes {to}"),
        )
        .label("integer division: 7 / 2 is 3");
        diagnostic = match &right.kind {
            tree::ExpressionKind::Literal(latchwork_grammar::Literal::Integer(_)) => {
                let written = self.text(right.span);
                diagnostic.note(format!("divide by a real number to keep it: `/ {written}.0`"))
            }
            _ => diagnostic.note(format!("convert an operand first to keep it: `{kind}_TO_{to}(…)`")),
        };
        self.report(diagnostic);
    }

    /// A constant expression brought to a type, if one is given; `None` after a report.
    pub(crate) fn constant(
        &mut self,
        expression: &tree::Expression,
        expected: Option<TypeId>,
        goal: &Goal,
    ) -> Option<(Constant, TypeId)> {
        let outer = std::mem::replace(&mut self.constant_only, true);
        let value = match expected {
            Some(ty) => self.expression_for(expression, ty, goal),
            None => self.infer(expression, None),
        };
        self.constant_only = outer;
        if self.is_unknown(value.ty) {
            return None;
        }
        match value.kind {
            ExpressionKind::Constant(constant) => Some((constant, value.ty)),
            _ => {
                self.report(
                    Diagnostic::error(
                        "not-constant",
                        value.span,
                        "a value known before the program runs is needed here",
                    )
                    .label("only known at run time")
                    .note("literals, constants and operators between them can stand here"),
                );
                None
            }
        }
    }

    /// A constant integer expression with its type.
    pub(crate) fn constant_integer(&mut self, expression: &tree::Expression) -> Option<(i128, TypeId)> {
        let (value, ty) = self.constant(expression, None, &Goal::NamedValue)?;
        match value {
            Constant::Integer(value)
                if self.types.elementary_base(ty).is_some_and(|kind| TypeClass::AnyInt.accepts(kind)) =>
            {
                Some((value, ty))
            }
            _ => {
                let type_name = self.type_name(ty);
                self.report(
                    Diagnostic::error(
                        "type-mismatch",
                        expression.span,
                        format!("an integer is needed here, this is {type_name}"),
                    )
                    .label(type_name),
                );
                None
            }
        }
    }

    /// An expression with the type it has by itself; `hint` is the type wanted where it stands and decides for
    /// literals and enumeration values only.
    pub(crate) fn infer(&mut self, expression: &tree::Expression, hint: Option<TypeId>) -> Expression {
        if !self.enter(1, expression.span) {
            return self.unknown(expression.span);
        }
        let value = self.infer_form(expression, hint);
        self.body.depth -= 1;
        value
    }

    /// Counts nesting; reports and refuses what is nested too deeply.
    fn enter(&mut self, levels: u32, span: Span) -> bool {
        if self.body.depth + levels > DEPTH_MAX {
            self.report(
                Diagnostic::error("expression-too-deep", span, "this expression is nested too deeply")
                    .label(format!("more than {DEPTH_MAX} levels"))
                    .note("store a part of it in a variable first"),
            );
            return false;
        }
        self.body.depth += levels;
        true
    }

    fn infer_form(&mut self, expression: &tree::Expression, hint: Option<TypeId>) -> Expression {
        let span = expression.span;
        match &expression.kind {
            tree::ExpressionKind::Literal(literal) => self.literal(literal, false, span, hint),
            tree::ExpressionKind::TypedLiteral { prefix, negative, literal } => {
                self.typed_literal(*prefix, *negative, literal, span)
            }
            tree::ExpressionKind::QualifiedValue { type_name, .. } if !type_name.path.is_empty() => {
                self.report_unresolved(type_name);
                self.unknown(span)
            }
            tree::ExpressionKind::QualifiedValue { type_name, value } => {
                self.qualified_value(type_name, value, span)
            }
            tree::ExpressionKind::Name(_)
            | tree::ExpressionKind::Direct(_)
            | tree::ExpressionKind::Member { .. }
            | tree::ExpressionKind::Index { .. }
            | tree::ExpressionKind::Dereference(_)
            | tree::ExpressionKind::Partial { .. }
            | tree::ExpressionKind::This
            | tree::ExpressionKind::Super => self.read(expression, hint),
            tree::ExpressionKind::Unary { operator, operand, .. } => {
                self.unary(*operator, operand, span, hint)
            }
            tree::ExpressionKind::Binary { .. } => self.binary(expression, hint),
            tree::ExpressionKind::Parenthesized(inner) => Expression { span, ..self.infer(inner, hint) },
            tree::ExpressionKind::Call(call) => self.call_value(call, hint),
            tree::ExpressionKind::Null => {
                let ty = match hint.map(|hint| (hint, self.types.get(self.types.underlying(hint)))) {
                    Some((hint, Type::Reference(_) | Type::Interface(_))) => hint,
                    _ => self.types.intern(Type::Null),
                };
                Expression { kind: ExpressionKind::Constant(Constant::Null), ty, span }
            }
        }
    }

    fn unary(
        &mut self,
        sign: UnaryOperator,
        operand: &tree::Expression,
        span: Span,
        hint: Option<TypeId>,
    ) -> Expression {
        match sign {
            UnaryOperator::Negate => {
                // The sign and the digits are one value, so that -32768 is an INT.
                if let tree::ExpressionKind::Literal(literal) = &operand.kind
                    && self.is_number_only(operand)
                {
                    return self.literal(literal, true, span, hint);
                }
                self.operator(Operator::Negate, "unary `-`", vec![Operand::Written(operand)], span, hint)
            }
            UnaryOperator::Plus => {
                let value = self.infer(operand, hint);
                let kind = self.types.elementary_base(value.ty);
                if self.is_unknown(value.ty) || kind.is_some_and(|kind| TypeClass::AnyMagnitude.accepts(kind))
                {
                    return value;
                }
                let type_name = self.type_name(value.ty);
                self.report(
                    Diagnostic::error(
                        "operand-types",
                        value.span,
                        format!("unary `+` does not work on {type_name}"),
                    )
                    .label(type_name),
                );
                self.unknown(span)
            }
            UnaryOperator::Not => {
                self.operator(Operator::Not, "`NOT`", vec![Operand::Written(operand)], span, hint)
            }
        }
    }

    /// A chain of operators with two operands, worked off from the left without recursion.
    fn binary(&mut self, expression: &tree::Expression, hint: Option<TypeId>) -> Expression {
        let mut chain = Vec::new();
        let mut leftmost = expression;
        while let tree::ExpressionKind::Binary { operator, left, right, .. } = &leftmost.kind {
            chain.push((leftmost.span, *operator, &**right));
            leftmost = left;
            // Numbers beside a comparison take the type of its other side, as they do on the right.
            if is_comparison(*operator) && self.is_number_only(left) {
                break;
            }
        }
        let levels = u32::try_from(chain.len()).unwrap_or(u32::MAX).min(DEPTH_MAX + 1);
        // Its operands are a level more.
        if !self.enter(levels + 1, expression.span) {
            return self.unknown(expression.span);
        }
        self.body.depth -= 1;
        let value = if self.is_number_only(expression) {
            let on = self.literal_arithmetic_type(expression, hint);
            let hint = on.map(|kind| self.elementary(kind));
            self.chain(leftmost, chain, hint)
        } else {
            self.chain(leftmost, chain, hint)
        };
        self.body.depth -= levels;
        value
    }

    fn chain(
        &mut self,
        leftmost: &tree::Expression,
        chain: Vec<(Span, BinaryOperator, &tree::Expression)>,
        hint: Option<TypeId>,
    ) -> Expression {
        let mut left = Operand::Written(leftmost);
        let mut before = None;
        // What is wanted here is wanted of the operators outside of every comparison; the operands of a
        // comparison have a type of their own.
        let outside =
            chain.iter().position(|(_, operator, _)| is_comparison(*operator)).unwrap_or(chain.len());
        for (index, (span, operator, right)) in chain.into_iter().enumerate().rev() {
            let (function, symbol) = standard_operator(operator);
            let compares = is_comparison(operator);
            if compares && before.is_some_and(is_ordering) && is_ordering(operator) {
                let value = self.comparison_chain(left, right, span);
                left = Operand::Checked(value);
                continue;
            }
            let hint = if index < outside { hint } else { None };
            let operands = vec![left, Operand::Written(right)];
            left = Operand::Checked(self.operator(function, symbol, operands, span, hint));
            before = Some(operator);
        }
        match left {
            Operand::Checked(value) => value,
            // A chain has at least one operator, so that its value was computed.
            Operand::Written(written) => self.infer(written, hint),
        }
    }

    /// `1 < i < 3`: the first comparison gives a BOOL, which the second cannot compare with a number.
    fn comparison_chain<'t>(
        &mut self,
        left: Operand<'t>,
        right: &'t tree::Expression,
        span: Span,
    ) -> Expression {
        let right = self.infer(right, None);
        if let Operand::Checked(left) = &left
            && !self.is_unknown(left.ty)
            && !self.is_unknown(right.ty)
        {
            self.report(
                Diagnostic::error("comparison-chain", span, "comparisons do not chain")
                    .label("compares the TRUE or FALSE of the first comparison with the last value")
                    .note("write both comparisons out and join them: `(a < b) AND (b < c)`"),
            );
        }
        self.unknown(span)
    }

    /// An operator on operands.
    pub(crate) fn operator(
        &mut self,
        function: Operator,
        symbol: impl Into<Cow<'static, str>>,
        operands: Vec<Operand<'_>>,
        span: Span,
        hint: Option<TypeId>,
    ) -> Expression {
        let callee = Callee::plain(operator(function), symbol, span);
        self.standard_call(&callee, operands, span, hint)
    }
}

fn is_ordering(operator: BinaryOperator) -> bool {
    matches!(
        operator,
        BinaryOperator::Less
            | BinaryOperator::Greater
            | BinaryOperator::LessOrEqual
            | BinaryOperator::GreaterOrEqual
    )
}

fn is_comparison(operator: BinaryOperator) -> bool {
    is_ordering(operator) || matches!(operator, BinaryOperator::Equal | BinaryOperator::NotEqual)
}

/// The function behind an operator and its symbol for messages.
fn standard_operator(operator: BinaryOperator) -> (Operator, &'static str) {
    match operator {
        BinaryOperator::Power => (Operator::Power, "`**`"),
        BinaryOperator::Multiply => (Operator::Multiply, "`*`"),
        BinaryOperator::Divide => (Operator::Divide, "`/`"),
        BinaryOperator::Modulo => (Operator::Modulo, "`MOD`"),
        BinaryOperator::Add => (Operator::Add, "`+`"),
        BinaryOperator::Subtract => (Operator::Subtract, "`-`"),
        BinaryOperator::Less => (Operator::Less, "`<`"),
        BinaryOperator::Greater => (Operator::Greater, "`>`"),
        BinaryOperator::LessOrEqual => (Operator::LessOrEqual, "`<=`"),
        BinaryOperator::GreaterOrEqual => (Operator::GreaterOrEqual, "`>=`"),
        BinaryOperator::Equal => (Operator::Equal, "`=`"),
        BinaryOperator::NotEqual => (Operator::NotEqual, "`<>`"),
        BinaryOperator::And => (Operator::And, "`AND`"),
        BinaryOperator::Xor => (Operator::Xor, "`XOR`"),
        BinaryOperator::Or => (Operator::Or, "`OR`"),
    }
}

//! Expressions: the left operand is loaded, the others are combined with the current result.

use latchwork_grammar::{
    Literal, Span,
    tree::{ArgumentKind, BinaryOperator, Expression, ExpressionKind, UnaryOperator},
};
use latchwork_stdlib::TypeClass;
use latchwork_vm::ElementaryType as E;

use super::Writer;
use crate::rewrite::{names, refusal::Refusal};

/// Deepest nesting of deferred operations that is written.
const NESTING_MAX: usize = 60;

/// An expression without the parentheses around it.
pub(super) fn bare(expression: &Expression) -> &Expression {
    let mut inner = expression;
    while let ExpressionKind::Parenthesized(next) = &inner.kind {
        inner = next;
    }
    inner
}

/// What is negated, if an expression is a negation.
pub(super) fn negated(expression: &Expression) -> Option<&Expression> {
    match &bare(expression).kind {
        ExpressionKind::Unary { operator: UnaryOperator::Not, operand, .. } => Some(bare(operand)),
        _ => None,
    }
}

/// The operator of Instruction List for an operator of Structured Text; the power has none.
pub(super) fn instruction_of(operator: BinaryOperator) -> Option<&'static str> {
    Some(match operator {
        BinaryOperator::Power => return None,
        BinaryOperator::Multiply => "MUL",
        BinaryOperator::Divide => "DIV",
        BinaryOperator::Modulo => "MOD",
        BinaryOperator::Add => "ADD",
        BinaryOperator::Subtract => "SUB",
        BinaryOperator::Less => "LT",
        BinaryOperator::Greater => "GT",
        BinaryOperator::LessOrEqual => "LE",
        BinaryOperator::GreaterOrEqual => "GE",
        BinaryOperator::Equal => "EQ",
        BinaryOperator::NotEqual => "NE",
        BinaryOperator::And => "AND",
        BinaryOperator::Xor => "XOR",
        BinaryOperator::Or => "OR",
    })
}

/// Whether an operator can negate its operand.
fn negates(operator: &str) -> bool {
    matches!(operator, "AND" | "OR" | "XOR")
}

/// Whether an expression is made of literals and operators only.
fn is_literal_only(expression: &Expression) -> bool {
    match &bare(expression).kind {
        ExpressionKind::Literal(_) => true,
        ExpressionKind::Unary { operand, .. } => is_literal_only(operand),
        ExpressionKind::Binary { left, right, .. } => is_literal_only(left) && is_literal_only(right),
        _ => false,
    }
}

impl Writer<'_> {
    /// Whether an expression can be the operand of an instruction.
    pub(super) fn is_operand(&self, expression: &Expression) -> bool {
        match &bare(expression).kind {
            ExpressionKind::Unary {
                operator: UnaryOperator::Negate | UnaryOperator::Plus, operand, ..
            } => {
                matches!(operand.kind, ExpressionKind::Literal(_) | ExpressionKind::TypedLiteral { .. })
            }
            ExpressionKind::Unary { .. } | ExpressionKind::Binary { .. } => false,
            // A reference has the form of a call and is a value of its own.
            ExpressionKind::Call(call) => self.facts.text(call.callee.span).eq_ignore_ascii_case("REF"),
            _ => true,
        }
    }

    /// The text of an operand, on one line and without comments.
    pub(super) fn operand(&self, expression: &Expression) -> String {
        self.plain_text(bare(expression).span)
    }

    /// Leaves the value of an expression as the current result.
    pub(super) fn load(&mut self, expression: &Expression) -> Result<(), Refusal> {
        let outer = self.prefix.take();
        self.prefix = outer.or_else(|| self.literal_type(expression));
        self.load_form(bare(expression))
    }

    fn load_form(&mut self, expression: &Expression) -> Result<(), Refusal> {
        if self.is_operand(expression) {
            self.load_operand("LD", expression);
            return Ok(());
        }
        match &expression.kind {
            ExpressionKind::Unary { operator: UnaryOperator::Not, operand, .. } => {
                if self.is_operand(operand) {
                    self.load_operand("LDN", operand);
                    return Ok(());
                }
                self.load(operand)?;
                self.instruction("NOT", "", expression.span);
                Ok(())
            }
            ExpressionKind::Unary { operator: UnaryOperator::Plus, operand, .. } => self.load(operand),
            ExpressionKind::Unary { operator: UnaryOperator::Negate, operand, .. } => {
                self.load(operand)?;
                let real = self
                    .facts
                    .elementary_at(expression.span)
                    .is_some_and(|kind| TypeClass::AnyReal.accepts(kind));
                self.instruction("MUL", if real { "-1.0" } else { "-1" }, expression.span);
                Ok(())
            }
            ExpressionKind::Binary { operator, left, right, .. } => match instruction_of(*operator) {
                // What must be computed comes first where the order does not matter: that needs no parentheses.
                Some(word) if self.may_swap(*operator, left, right) => {
                    self.load(right)?;
                    self.combine(word, left)
                }
                Some(word) => {
                    self.load(left)?;
                    self.combine(word, right)
                }
                None => self.power(left, right, expression.span),
            },
            ExpressionKind::Call(call) => self.call_value(call, expression.span),
            _ => {
                self.load_operand("LD", expression);
                Ok(())
            }
        }
    }

    /// `LD`, `LDN` of an operand.
    fn load_operand(&mut self, operator: &str, operand: &Expression) {
        let mut text = self.operand(operand);
        if let Some(prefix) = self.prefix.take() {
            let signed = text.strip_prefix('-').map(|digits| format!("-{}", digits.trim_start()));
            text = format!("{prefix}#{}", signed.unwrap_or(text));
        }
        self.instruction(operator, &text, operand.span);
    }

    /// Whether a sum or product of numbers may be computed from its right operand, with the left one as the operand of the
    /// instruction.
    fn may_swap(&self, operator: BinaryOperator, left: &Expression, right: &Expression) -> bool {
        let number = |value: &Expression| {
            let kind = self.facts.elementary_at(bare(value).span);
            kind.is_some_and(|kind| TypeClass::AnyNum.accepts(kind))
        };
        matches!(operator, BinaryOperator::Add | BinaryOperator::Multiply)
            && self.is_operand(left)
            && !self.is_operand(right)
            && number(left)
            && number(right)
            && !self.may_act(left)
            && (!self.may_act(right) || self.is_out_of_reach(left))
    }

    /// Whether nothing that is called can write what an expression reads.
    fn is_out_of_reach(&self, expression: &Expression) -> bool {
        let mut own =
            !matches!(bare(expression).kind, ExpressionKind::Direct(_) | ExpressionKind::Dereference(_));
        names::each_name(expression, &mut |name, _| own &= self.scope.is_own(name));
        own && !self.may_act(expression)
    }

    /// Whether evaluating an expression may do more than compute.
    fn may_act(&self, expression: &Expression) -> bool {
        let mut acts = false;
        names::each_call(expression, &mut |call| {
            let standard = latchwork_stdlib::function(self.facts.text(call.callee.span)).is_some();
            acts |= !standard
                || call
                    .arguments
                    .iter()
                    .any(|argument| !matches!(argument.kind, ArgumentKind::Positional(_)));
        });
        acts
    }

    /// Combines the current result with an expression.
    pub(super) fn combine(&mut self, word: &str, right: &Expression) -> Result<(), Refusal> {
        self.prefix = None;
        let right = bare(right);
        let (word, right) = match negated(right).filter(|_| negates(word)) {
            Some(operand) => (format!("{word}N"), operand),
            None => (word.to_owned(), right),
        };
        if self.is_operand(right) && self.literal_type(right).is_none() {
            let operand = self.operand(right);
            self.instruction(&word, &operand, right.span);
            return Ok(());
        }
        self.deferred(&word, right.span, |writer| writer.load(right))
    }

    /// `AND(` … `)`, with what computes the operand between.
    pub(super) fn deferred(
        &mut self,
        word: &str,
        span: Span,
        inner: impl FnOnce(&mut Self) -> Result<(), Refusal>,
    ) -> Result<(), Refusal> {
        if self.nesting >= NESTING_MAX {
            return Err(Refusal::new(
                span,
                "nested more deeply than parentheses of instructions can be",
                "assign a part of the expression to a variable first",
            ));
        }
        let start = self.lines.len();
        self.instruction(&format!("{word}("), "", Span::new(span.file, span.start, span.start));
        self.nesting += 1;
        let done = inner(self);
        self.nesting -= 1;
        done?;
        self.join_first_load(start);
        self.text_line(")", span.after());
        Ok(())
    }

    /// `AND(` and `LD a` on the next line are one: `AND( a`.
    fn join_first_load(&mut self, start: usize) {
        use super::lines::Code;
        let Some(next) = self.lines.get(start + 1) else { return };
        let Code::Instruction { operator, operand } = &next.code else { return };
        if operator != "LD" {
            return;
        }
        let (operand, from, to) = (operand.clone(), next.from, next.to);
        if let Some(line) = self.lines.get_mut(start)
            && let Code::Instruction { operand: slot, .. } = &mut line.code
        {
            *slot = operand;
            (line.from, line.to) = (from, to);
            self.lines.remove(start + 1);
        }
    }

    /// `left ** right`: the function EXPT.
    fn power(&mut self, left: &Expression, right: &Expression, span: Span) -> Result<(), Refusal> {
        if self.is_operand(right) {
            self.load(left)?;
            let operand = self.operand(right);
            self.instruction("EXPT", &operand, right.span);
            return Ok(());
        }
        self.listed("EXPT", vec![("IN1".to_owned(), left), ("IN2".to_owned(), right)], span)
    }

    /// The type to be written before the first literal of an expression of nothing but literals, where it works in
    /// another one than its literals have by themselves.
    fn literal_type(&self, expression: &Expression) -> Option<&'static str> {
        let expression = bare(expression);
        let compound = matches!(
            &expression.kind,
            ExpressionKind::Binary { .. } | ExpressionKind::Unary { operator: UnaryOperator::Not, .. }
        );
        if !compound || !is_literal_only(expression) || !first_is_number(expression) {
            return None;
        }
        match self.facts.elementary_at(expression.span)? {
            E::Int | E::Real | E::Bool => None,
            kind if TypeClass::AnyNum.accepts(kind) || TypeClass::AnyBit.accepts(kind) => Some(kind.name()),
            _ => None,
        }
    }
}

/// Whether the first literal of an expression is a number, which can have a type before it.
fn first_is_number(expression: &Expression) -> bool {
    match &bare(expression).kind {
        ExpressionKind::Literal(Literal::Integer(_) | Literal::Real { .. }) => true,
        ExpressionKind::Unary { operand, .. } => first_is_number(operand),
        ExpressionKind::Binary { left, .. } => first_is_number(left),
        _ => false,
    }
}

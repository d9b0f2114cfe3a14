//! Expressions and accesses in the normal form.

use latchwork_grammar::{
    Span,
    tree::{BinaryOperator, Expression, ExpressionKind, UnaryOperator},
};

use super::{
    Word, Writer,
    kinds::{self, Kind},
    literal,
    scope::{Meaning, member_of},
    value::Value,
};

impl<'t> Writer<'t> {
    /// The words of an expression.
    pub(super) fn words(&self, expression: &Expression) -> Vec<Word> {
        self.value(expression).words()
    }

    /// An expression as a value.
    pub(super) fn value(&self, expression: &Expression) -> Value {
        let span = expression.span;
        match &expression.kind {
            ExpressionKind::Parenthesized(inner) => self.value(inner),
            ExpressionKind::Binary { operator, left, right, .. } => {
                Value::binary(*operator, self.value(left), self.value(right))
            }
            ExpressionKind::Unary { operator, operand, .. } => match (operator, &operand.kind) {
                (UnaryOperator::Plus, _) => self.value(operand),
                (UnaryOperator::Not, _) => self.value(operand).negated(),
                (UnaryOperator::Negate, ExpressionKind::Literal(literal)) => {
                    self.literal(literal::word(literal, None, true), span)
                }
                (UnaryOperator::Negate, _) => self.value(operand).opposite(),
            },
            ExpressionKind::Literal(literal) => self.literal(literal::word(literal, None, false), span),
            ExpressionKind::TypedLiteral { prefix, negative, literal } => {
                self.literal(literal::word(literal, Some(*prefix), *negative), span)
            }
            // The type has a name of the author; the value is one of an enumeration or a literal.
            ExpressionKind::QualifiedValue { value, .. } => match &value.kind {
                ExpressionKind::Name(_) => self.literal("value".into(), span),
                _ => self.value(value),
            },
            ExpressionKind::Call(call) => self.call_value(call),
            _ => {
                let mut words = Vec::new();
                self.access(expression, &mut words);
                Value::atom(words)
            }
        }
    }

    fn literal(&self, text: std::borrow::Cow<'static, str>, span: Span) -> Value {
        Value::atom(vec![self.word(text, span)])
    }

    /// The words of a variable, or of a part of one.
    pub(super) fn access(&self, access: &Expression, words: &mut Vec<Word>) {
        let span = access.span;
        match &access.kind {
            ExpressionKind::Name(name) => match self.scope.meaning(*name, self.declared) {
                Meaning::Known(text) | Meaning::Other(text) => words.push(self.word(text, span)),
                Meaning::Variable(text) => {
                    words.push(Word { variable: Some(name.0), ..self.word(text, span) });
                }
                // Its words stand where the name does.
                Meaning::Constant(value) => {
                    let lines = (self.lines)(span);
                    words.extend(self.words(value).into_iter().map(|word| Word { lines, ..word }));
                }
            },
            ExpressionKind::Direct(direct) => {
                let text = kinds::address(direct).unwrap_or_else(|| "name".into());
                words.push(self.word(text, span));
            }
            ExpressionKind::Member { base, member } => {
                self.access(base, words);
                let kind = self.scope.kind(base, self.declared);
                let text = match kind {
                    Kind::Standard(block) => {
                        let index = block.member_index(self.declared.names.spelling(member.name));
                        let found = index.and_then(|index| block.members.get(index));
                        format!(".{}", found.map_or("name", |member| member.name))
                    }
                    _ => format!(".{}", member_of(kind, member.name, self.declared).word(self.declared)),
                };
                words.push(self.word(text, member.span));
            }
            ExpressionKind::Index { base, subscripts } => {
                self.access(base, words);
                words.push(self.word("[", span));
                for (place, subscript) in subscripts.iter().enumerate() {
                    if place > 0 {
                        words.push(self.word(",", subscript.span));
                    }
                    words.extend(self.words(subscript));
                }
                words.push(self.word("]", span));
            }
            ExpressionKind::Dereference(base) => {
                self.access(base, words);
                words.push(self.word("^", span));
            }
            ExpressionKind::Partial { base, size, index, access } => {
                self.access(base, words);
                words.push(self.word(format!(".%{}{index}", kinds::size(*size)), *access));
            }
            ExpressionKind::This => words.push(self.word("THIS", span)),
            ExpressionKind::Super => words.push(self.word("SUPER", span)),
            ExpressionKind::Null => words.push(self.word("NULL", span)),
            // Not an access, but something may stand where one should.
            _ => words.extend(self.words(access)),
        }
    }
}

/// The operator that a function is by another name.
pub(super) fn operator_of(function: &str) -> Option<BinaryOperator> {
    use BinaryOperator as B;
    const OPERATORS: [(&str, BinaryOperator); 15] = [
        ("AND", B::And),
        ("OR", B::Or),
        ("XOR", B::Xor),
        ("ADD", B::Add),
        ("MUL", B::Multiply),
        ("SUB", B::Subtract),
        ("DIV", B::Divide),
        ("MOD", B::Modulo),
        ("EXPT", B::Power),
        ("GT", B::Greater),
        ("GE", B::GreaterOrEqual),
        ("EQ", B::Equal),
        ("NE", B::NotEqual),
        ("LE", B::LessOrEqual),
        ("LT", B::Less),
    ];
    OPERATORS.iter().find(|(name, _)| name.eq_ignore_ascii_case(function)).map(|(_, operator)| *operator)
}

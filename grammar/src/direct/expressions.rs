//! Expressions, accesses and calls (tables 69 and 71): operators by precedence climbing.

use super::Reader;
use crate::{
    construct,
    lexer::TokenKind,
    tree::{Argument, ArgumentKind, BinaryOperator, Expression, ExpressionKind, UnaryOperator},
};

/// An operator with two operands and its precedence: the greater, the tighter it binds (table 71).
fn operator_of(kind: TokenKind) -> Option<(BinaryOperator, u8)> {
    use BinaryOperator as B;
    use TokenKind as T;
    Some(match kind {
        T::Or => (B::Or, 1),
        T::Xor => (B::Xor, 2),
        T::And | T::Ampersand => (B::And, 3),
        T::Equal => (B::Equal, 4),
        T::NotEqual => (B::NotEqual, 4),
        T::Less => (B::Less, 5),
        T::Greater => (B::Greater, 5),
        T::LessOrEqual => (B::LessOrEqual, 5),
        T::GreaterOrEqual => (B::GreaterOrEqual, 5),
        T::Plus => (B::Add, 6),
        T::Minus => (B::Subtract, 6),
        T::Star => (B::Multiply, 7),
        T::Slash => (B::Divide, 7),
        T::Mod => (B::Modulo, 7),
        T::Power => (B::Power, 8),
        _ => return None,
    })
}

impl Reader<'_> {
    pub(crate) fn expression(&mut self) -> Option<Expression> {
        self.operators(0)
    }

    /// Operands with the operators between them that bind at least as tightly as given; all of them from left to right.
    fn operators(&mut self, loosest: u8) -> Option<Expression> {
        let mut left = self.operand()?;
        while let Some((operator, precedence)) = operator_of(self.kind())
            && precedence >= loosest
        {
            let sign = self.next()?;
            let right = self.operators(precedence + 1)?;
            left = construct::binary(self.context, left, sign.start, operator, sign.end, right);
        }
        Some(left)
    }

    fn operand(&mut self) -> Option<Expression> {
        use TokenKind as T;
        let operator = match self.kind() {
            T::Minus => UnaryOperator::Negate,
            T::Plus => UnaryOperator::Plus,
            T::Not => UnaryOperator::Not,
            T::ParenthesisOpen => {
                let open = self.next()?;
                let inner = Box::new(self.expression()?);
                let close = self.take(T::ParenthesisClose)?;
                let kind = ExpressionKind::Parenthesized(inner);
                return Some(construct::expression(self.context, open.start, kind, close.end));
            }
            T::TypeQualifier => return self.qualified_value(),
            T::Null => {
                let word = self.next()?;
                let kind = ExpressionKind::Null;
                return Some(construct::expression(self.context, word.start, kind, word.end));
            }
            kind if kind.is_literal() => return self.literal(),
            _ => return self.access(),
        };
        let sign = self.next()?;
        let operand = self.operand()?;
        Some(construct::unary(operator, self.context.span(sign.start, sign.end), operand))
    }

    fn literal(&mut self) -> Option<Expression> {
        use TokenKind as T;
        let token = self.next()?;
        Some(match token.kind {
            T::True | T::False => {
                construct::boolean(self.context, token.start, token.kind == T::True, token.end)
            }
            T::IntegerLiteral | T::RealLiteral | T::StringLiteral | T::TimeLiteral | T::TypedLiteral => {
                construct::literal(self.context, token.start, token.payload, token.end)
            }
            _ => return None,
        })
    }

    /// `Type#Value`; with a sign it is left to the grammar.
    fn qualified_value(&mut self) -> Option<Expression> {
        let type_name = self.take(TokenKind::TypeQualifier)?;
        let value = match self.ident() {
            Some(ident) => construct::name(ident),
            None => self.literal()?,
        };
        let (start, end) = (type_name.start, type_name.end);
        Some(construct::qualified(self.context, start, type_name.payload, end, value))
    }

    /// Variables, members, elements, calls: what the grammar calls an access.
    pub(super) fn access(&mut self) -> Option<Expression> {
        use TokenKind as T;
        let token = self.next()?;
        let (start, end) = (token.start, token.end);
        let mut base = match token.kind {
            T::Identifier => construct::name(construct::ident(self.context, start, token.payload, end)),
            T::DirectAddress => {
                let kind = ExpressionKind::Direct(Box::new(self.context.address(token.payload)));
                construct::expression(self.context, start, kind, end)
            }
            T::This => construct::expression(self.context, start, ExpressionKind::This, end),
            T::Super => construct::expression(self.context, start, ExpressionKind::Super, end),
            T::And | T::Or | T::Xor | T::Mod | T::Ref if self.kind() == T::ParenthesisOpen => {
                let name = self.context.function_name(token.kind);
                construct::name(construct::ident(self.context, start, name, end))
            }
            _ => return None,
        };
        loop {
            match self.kind() {
                T::Dot => base = self.member(base)?,
                T::BracketOpen => {
                    self.read += 1;
                    let subscripts = self.list(Self::expression)?;
                    let close = self.take(T::BracketClose)?;
                    base = construct::index(self.context, base, subscripts, close.end);
                }
                T::Caret => {
                    let sign = self.next()?;
                    base = construct::dereference(self.context, base, sign.end);
                }
                T::ParenthesisOpen => {
                    self.read += 1;
                    let arguments = match self.kind() {
                        T::ParenthesisClose => Vec::new(),
                        _ => self.arguments()?,
                    };
                    let close = self.take(T::ParenthesisClose)?;
                    base = construct::call(self.context, base, arguments, close.end);
                }
                _ => return Some(base),
            }
        }
    }

    /// `.member`, `.%X3`, `.7` behind a base.
    fn member(&mut self, base: Expression) -> Option<Expression> {
        use TokenKind as T;
        self.take(T::Dot)?;
        let token = self.next()?;
        let (start, payload, end) = (token.start, token.payload, token.end);
        Some(match token.kind {
            T::Identifier => {
                construct::member_access(base, construct::ident(self.context, start, payload, end))
            }
            T::PartialAccess => construct::partial(self.context, base, start, payload, end),
            T::IntegerLiteral => construct::partial_bit(self.context, base, start, payload, end),
            _ => return None,
        })
    }

    /// One or more arguments.
    fn arguments(&mut self) -> Option<Vec<Argument>> {
        let outer = self.arguments.len();
        loop {
            let argument = self.argument()?;
            self.arguments.push(argument);
            if !self.skip(TokenKind::Comma) {
                return Some(self.arguments.drain(outer..).collect());
            }
        }
    }

    fn argument(&mut self) -> Option<Argument> {
        use TokenKind as T;
        let start = self.start();
        let negated = self.kind() == T::Not && self.kind_ahead(2) == T::Output;
        let kind = match self.kind_ahead(1) {
            T::Assign => {
                let name = self.ident()?;
                self.read += 1;
                ArgumentKind::Input { name, value: self.expression()? }
            }
            following if negated || following == T::Output => {
                self.read += usize::from(negated);
                let name = self.ident()?;
                self.take(T::Output)?;
                ArgumentKind::Output { name, negated, target: self.access()? }
            }
            _ => ArgumentKind::Positional(self.expression()?),
        };
        Some(Argument { kind, span: self.context.span(start, self.end()) })
    }
}

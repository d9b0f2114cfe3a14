//! Tree nodes from what the grammar found: the actions of `grammar.lalrpop` that are longer than a line.
//! Must not report anything.

use lalrpop_util::ParseError;

use crate::{
    keyword,
    lexer::{TokenKind, Value},
    literal::Literal,
    names::Name,
    piece::{Context, Instructed, Piece, Terminal},
    source::Span,
    tree::*,
};

pub(crate) fn ident(context: &Context<'_>, start: u32, name: u32, end: u32) -> Ident {
    Ident { name: Name(name), span: context.span(start, end) }
}

pub(crate) fn expression(context: &Context<'_>, start: u32, kind: ExpressionKind, end: u32) -> Expression {
    Expression { kind, span: context.span(start, end) }
}

pub(crate) fn name(ident: Ident) -> Expression {
    Expression { kind: ExpressionKind::Name(ident.name), span: ident.span }
}

pub(crate) fn boolean(context: &Context<'_>, start: u32, value: bool, end: u32) -> Expression {
    expression(context, start, ExpressionKind::Literal(Literal::Boolean(value)), end)
}

pub(crate) fn literal(context: &Context<'_>, start: u32, place: u32, end: u32) -> Expression {
    let kind = match context.value(place) {
        Some(Value::Plain(literal)) => ExpressionKind::Literal(literal.clone()),
        Some(Value::Typed { prefix, negative, literal }) => {
            ExpressionKind::TypedLiteral { prefix: *prefix, negative: *negative, literal: literal.clone() }
        }
        // The lexer gives addresses tokens of other kinds.
        _ => ExpressionKind::Null,
    };
    expression(context, start, kind, end)
}

pub(crate) fn qualified(
    context: &Context<'_>,
    start: u32,
    type_name: u32,
    end: u32,
    value: Expression,
) -> Expression {
    // The token of the qualifier includes the `#`. The value follows at once, unless what stood between was wrong.
    let type_name = QualifiedName::plain(ident(context, start, type_name, end.saturating_sub(1).max(start)));
    let span = type_name.span.to(value.span);
    Expression {
        kind: ExpressionKind::QualifiedValue { type_name: Box::new(type_name), value: Box::new(value) },
        span,
    }
}

/// `a.b.Type#Value`: the names in front of the point become the namespaces of the type.
pub(crate) fn in_namespace(
    around: Expression,
    value: Expression,
) -> Result<Expression, ParseError<u32, Terminal, u32>> {
    let span = around.span.to(value.span);
    // Where it cannot be: behind something that is no plain name.
    let misfit = Err(ParseError::User { error: value.span.start });
    let ExpressionKind::QualifiedValue { mut type_name, value } = value.kind else { return misfit };
    let mut base = around;
    loop {
        match base.kind {
            ExpressionKind::Name(name) => {
                type_name.path.push(Ident { name, span: base.span });
                break;
            }
            ExpressionKind::Member { base: inner, member } => {
                type_name.path.push(member);
                base = *inner;
            }
            _ => return misfit,
        }
    }
    type_name.path.reverse();
    type_name.span = base.span.to(type_name.name.span);
    Ok(Expression { kind: ExpressionKind::QualifiedValue { type_name, value }, span })
}

pub(crate) fn binary(
    context: &Context<'_>,
    left: Expression,
    start: u32,
    operator: BinaryOperator,
    end: u32,
    right: Expression,
) -> Expression {
    let span = left.span.to(right.span);
    let operator_span = context.span(start, end);
    let (left, right) = (Box::new(left), Box::new(right));
    Expression { kind: ExpressionKind::Binary { operator, operator_span, left, right }, span }
}

pub(crate) fn unary(operator: UnaryOperator, operator_span: Span, operand: Expression) -> Expression {
    let span = operator_span.to(operand.span);
    Expression { kind: ExpressionKind::Unary { operator, operator_span, operand: Box::new(operand) }, span }
}

pub(crate) fn member_access(base: Expression, member: Ident) -> Expression {
    let span = base.span.to(member.span);
    Expression { kind: ExpressionKind::Member { base: Box::new(base), member }, span }
}

pub(crate) fn partial(
    context: &Context<'_>,
    base: Expression,
    start: u32,
    place: u32,
    end: u32,
) -> Expression {
    let (size, index) = match context.value(place) {
        Some(Value::Partial { size, index, .. }) => (*size, *index),
        _ => (AddressSize::Bit, 0),
    };
    part(base, size, index, context.span(start, end))
}

/// `%B2`, `%X3.0`: the place of a member.
pub(crate) fn relative(context: &Context<'_>, start: u32, place: u32, end: u32) -> RelativeAddress {
    let span = context.span(start, end);
    match context.value(place) {
        Some(Value::Partial { size, index, bit }) => {
            RelativeAddress { size: *size, byte: *index, bit: *bit, span }
        }
        // The lexer puts a part behind every token of this kind.
        _ => RelativeAddress { size: AddressSize::Bit, byte: 0, bit: None, span },
    }
}

/// `base.7`: the bit form without `%X`.
pub(crate) fn partial_bit(
    context: &Context<'_>,
    base: Expression,
    start: u32,
    place: u32,
    end: u32,
) -> Expression {
    let index = match context.value(place) {
        Some(Value::Plain(Literal::Integer(index))) => u32::try_from(*index).unwrap_or(u32::MAX),
        _ => 0,
    };
    part(base, AddressSize::Bit, index, context.span(start, end))
}

fn part(base: Expression, size: AddressSize, index: u32, access: Span) -> Expression {
    let span = base.span.to(access);
    Expression { kind: ExpressionKind::Partial { base: Box::new(base), size, index, access }, span }
}

pub(crate) fn index(
    context: &Context<'_>,
    base: Expression,
    subscripts: Vec<Expression>,
    end: u32,
) -> Expression {
    let span = context.span(base.span.start, end);
    let subscripts = subscripts.into_boxed_slice();
    Expression { kind: ExpressionKind::Index { base: Box::new(base), subscripts }, span }
}

pub(crate) fn dereference(context: &Context<'_>, base: Expression, end: u32) -> Expression {
    let span = context.span(base.span.start, end);
    Expression { kind: ExpressionKind::Dereference(Box::new(base)), span }
}

pub(crate) fn call(
    context: &Context<'_>,
    callee: Expression,
    arguments: Vec<Argument>,
    end: u32,
) -> Expression {
    let span = context.span(callee.span.start, end);
    let call = Call { callee, arguments, span };
    Expression { kind: ExpressionKind::Call(Box::new(call)), span }
}

/// `CAL x` calls without arguments.
pub(crate) fn call_of(callee: Expression) -> Call {
    match callee.kind {
        ExpressionKind::Call(call) => *call,
        kind => {
            Call { span: callee.span, callee: Expression { kind, span: callee.span }, arguments: Vec::new() }
        }
    }
}

pub(crate) fn elementary(keyword: u32) -> TypeSpecificationKind {
    let word = keyword::KEYWORDS.get(keyword as usize).map_or("", |entry| entry.0);
    // Tokens of this kind are made from the table's elementary types only.
    TypeSpecificationKind::Elementary(keyword::elementary_type(word).unwrap_or(ElementaryType::Bool))
}

/// One more name behind the namespaces before it.
pub(crate) fn inside(around: QualifiedName, name: Ident) -> QualifiedName {
    let span = around.span.to(name.span);
    let mut path = around.path;
    path.push(around.name);
    QualifiedName { path, name, span }
}

/// The way to a variable; a directly represented variable alone has no names.
pub(crate) fn access_path(
    context: &Context<'_>,
    start: u32,
    path: Expression,
    direct: Option<DirectAddress>,
    end: u32,
) -> AccessPath {
    let span = context.span(start, end);
    match path.kind {
        ExpressionKind::Direct(address) if direct.is_none() => {
            AccessPath { path: None, direct: Some(*address), span }
        }
        _ => AccessPath { path: Some(path), direct, span },
    }
}

pub(crate) fn statement(context: &Context<'_>, start: u32, kind: StatementKind, end: u32) -> Box<Piece> {
    Box::new(Piece::Statement(Statement { kind, span: context.span(start, end) }))
}

pub(crate) fn assignment(
    context: &Context<'_>,
    start: u32,
    target: Expression,
    attempt: bool,
    operator: Span,
    value: Expression,
    end: u32,
) -> Box<Piece> {
    statement(context, start, StatementKind::Assignment { target, attempt, operator, value }, end)
}

/// An expression where a statement is expected: a call, or a mistake.
pub(crate) fn call_or_expression(expression: Expression) -> StatementKind {
    match expression.kind {
        ExpressionKind::Call(call) => StatementKind::Call(*call),
        kind => StatementKind::Expression(Expression { kind, span: expression.span }),
    }
}

pub(crate) fn operation(
    context: &Context<'_>,
    start: u32,
    operator: Instructed,
    end: u32,
    operands: Option<Vec<Expression>>,
) -> Operation {
    Operation::Operator {
        operator: operator.operator,
        negated: operator.negated,
        operator_span: context.span(start, end),
        operands: operands.unwrap_or_default(),
    }
}

pub(crate) fn function(name: QualifiedName, operands: Option<Vec<Expression>>) -> Operation {
    let arguments = operands
        .unwrap_or_default()
        .into_iter()
        .map(|operand| Argument { span: operand.span, kind: ArgumentKind::Positional(operand) })
        .collect();
    Operation::Function { name, listed: false, arguments }
}

/// The keywords the grammar takes as function names, in the order of [`Context::function_names`].
pub(crate) const FUNCTION_WORDS: [(TokenKind, &str); 5] = [
    (TokenKind::And, "AND"),
    (TokenKind::Or, "OR"),
    (TokenKind::Xor, "XOR"),
    (TokenKind::Mod, "MOD"),
    (TokenKind::Ref, "REF"),
];

//! The current result as an expression of Structured Text.

use latchwork_grammar::{
    Name,
    tree::{AddressSize, Area, BinaryOperator, DirectAddress, Expression, ExpressionKind},
};

use crate::rewrite::names::{self, Scope};

/// What a value reads or a statement writes.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Place {
    /// A variable that only this body can reach by this name.
    Own(Name),
    /// A variable at an address.
    Located(Area, AddressSize, Vec<u32>),
    /// A variable that other names may mean too: in-outs, externals, members of an instance.
    Outside,
    /// Whatever a reference points to.
    Anything,
}

impl Place {
    /// Whether writing one may change the other.
    pub(super) fn meets(&self, other: &Place) -> bool {
        match (self, other) {
            (Place::Anything, _) | (_, Place::Anything) => true,
            (Place::Own(left), Place::Own(right)) => left == right,
            (Place::Own(_), _) | (_, Place::Own(_)) => false,
            (Place::Located(area, size, path), Place::Located(other_area, other_size, other_path)) => {
                let apart =
                    size == other_size && !path.is_empty() && !other_path.is_empty() && path != other_path;
                area == other_area && !apart
            }
            _ => true,
        }
    }
}

fn located(address: &DirectAddress) -> Place {
    Place::Located(address.area, address.size, address.path.clone())
}

/// The place an access leads to, and those of its subscripts.
pub(super) fn places(access: &Expression, scope: &Scope<'_>, found: &mut Vec<Place>) {
    names::each_name(access, &mut |name, _| {
        found.push(match scope.address(name) {
            Some(address) => located(address),
            None if scope.is_own(name) => Place::Own(name),
            None => Place::Outside,
        });
    });
    let mut calls = false;
    names::each_call(access, &mut |_| calls = true);
    if calls || dereferences(access) {
        found.push(Place::Anything);
    }
    if let ExpressionKind::Direct(address) = &access.kind {
        found.push(located(address));
    }
}

/// What writing to an access writes.
pub(super) fn written(access: &Expression, scope: &Scope<'_>) -> Place {
    if dereferences(access) {
        return Place::Anything;
    }
    match (names::root(access), direct(access)) {
        (Some(name), _) => match scope.address(name) {
            Some(address) => located(address),
            None if scope.is_own(name) => Place::Own(name),
            None => Place::Outside,
        },
        (None, Some(address)) => located(address),
        (None, None) => Place::Anything,
    }
}

fn direct(access: &Expression) -> Option<&DirectAddress> {
    match &access.kind {
        ExpressionKind::Direct(address) => Some(address),
        ExpressionKind::Member { base, .. }
        | ExpressionKind::Partial { base, .. }
        | ExpressionKind::Index { base, .. } => direct(base),
        _ => None,
    }
}

fn dereferences(access: &Expression) -> bool {
    match &access.kind {
        ExpressionKind::Dereference(_) => true,
        ExpressionKind::Member { base, .. }
        | ExpressionKind::Partial { base, .. }
        | ExpressionKind::Index { base, .. } => dereferences(base),
        _ => false,
    }
}

/// A value.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    /// A literal or the value of an enumeration: takes its type from what stands around it, and never changes.
    Literal(String),
    /// A variable or a part of one.
    Access {
        /// As written.
        text: String,
        /// What it reads.
        reads: Vec<Place>,
        /// Reading it may end the program: it has a subscript or a reference.
        may_fail: bool,
    },
    /// `NOT value`
    Not(Box<Value>),
    /// `-value`
    Negate(Box<Value>),
    /// Two operands. The last part tells whether one of any two such operands is less than the other or both are equal,
    /// which is not so of REAL.
    Binary(BinaryOperator, Box<Value>, Box<Value>, bool),
    /// A function.
    Call(CallValue),
}

/// A call that has a value.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct CallValue {
    /// What is called.
    pub(super) callee: String,
    /// Its arguments.
    pub(super) arguments: Vec<Argument>,
    /// It may do more than compute.
    pub(super) acts: bool,
}

/// An argument.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Argument {
    /// `value`
    Positional(Value),
    /// `name := value`
    Input(String, Value),
    /// `name => target`, as written.
    Output(String),
}

impl Value {
    /// Whether it takes its type from what stands around it.
    pub(super) fn is_literal(&self) -> bool {
        matches!(self, Value::Literal(_))
    }

    /// A name or literal, negated or not: as short as a variable that would hold it.
    pub(super) fn is_short(&self) -> bool {
        match self {
            Value::Literal(_) | Value::Access { .. } => true,
            Value::Not(inner) => matches!(**inner, Value::Access { .. }),
            _ => false,
        }
    }

    /// Whether evaluating it does more than compute.
    pub(super) fn acts(&self) -> bool {
        match self {
            Value::Literal(_) | Value::Access { .. } => false,
            Value::Not(inner) | Value::Negate(inner) => inner.acts(),
            Value::Binary(_, left, right, _) => left.acts() || right.acts(),
            Value::Call(call) => {
                call.acts
                    || call.arguments.iter().any(|argument| match argument {
                        Argument::Positional(value) | Argument::Input(_, value) => value.acts(),
                        Argument::Output(_) => true,
                    })
            }
        }
    }

    /// Whether it can be evaluated where it was not before: it neither acts nor fails, nor tells of an event.
    pub(super) fn is_plain(&self) -> bool {
        match self {
            Value::Literal(_) => true,
            Value::Access { may_fail, .. } => !may_fail,
            Value::Not(inner) => inner.is_plain(),
            Value::Binary(operator, left, right, _) => {
                let harmless = matches!(
                    operator,
                    BinaryOperator::And
                        | BinaryOperator::Or
                        | BinaryOperator::Xor
                        | BinaryOperator::Equal
                        | BinaryOperator::NotEqual
                        | BinaryOperator::Less
                        | BinaryOperator::LessOrEqual
                        | BinaryOperator::Greater
                        | BinaryOperator::GreaterOrEqual
                );
                harmless && left.is_plain() && right.is_plain()
            }
            Value::Negate(_) | Value::Call(_) => false,
        }
    }

    /// Whether writing a place may change it.
    pub(super) fn depends_on(&self, place: &Place) -> bool {
        match self {
            Value::Literal(_) => false,
            Value::Access { reads, .. } => reads.iter().any(|read| read.meets(place)),
            Value::Not(inner) | Value::Negate(inner) => inner.depends_on(place),
            Value::Binary(_, left, right, _) => left.depends_on(place) || right.depends_on(place),
            Value::Call(call) => {
                call.acts
                    || call.arguments.iter().any(|argument| match argument {
                        Argument::Positional(value) | Argument::Input(_, value) => value.depends_on(place),
                        Argument::Output(_) => true,
                    })
            }
        }
    }

    /// The opposite of a BOOL.
    pub(super) fn opposite(self) -> Value {
        use BinaryOperator as B;
        match self {
            Value::Not(inner) => *inner,
            Value::Literal(text) if text.eq_ignore_ascii_case("TRUE") => Value::Literal("FALSE".into()),
            Value::Literal(text) if text.eq_ignore_ascii_case("FALSE") => Value::Literal("TRUE".into()),
            Value::Binary(operator, left, right, ordered) => {
                let opposite = match operator {
                    B::Equal => Some(B::NotEqual),
                    B::NotEqual => Some(B::Equal),
                    B::Less if ordered => Some(B::GreaterOrEqual),
                    B::LessOrEqual if ordered => Some(B::Greater),
                    B::Greater if ordered => Some(B::LessOrEqual),
                    B::GreaterOrEqual if ordered => Some(B::Less),
                    _ => None,
                };
                match opposite {
                    Some(operator) => Value::Binary(operator, left, right, ordered),
                    None => Value::Not(Box::new(Value::Binary(operator, left, right, ordered))),
                }
            }
            value => Value::Not(Box::new(value)),
        }
    }
}

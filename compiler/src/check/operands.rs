//! Operands of standard functions: finding their common type, with literals taking the type of the others.
//!
//! Source: IEC 61131-3:2013, 6.6.1.6 (overloading). All operands of the generic type are brought to the
//! smallest type that every one of them converts to.

use latchwork_grammar::{Span, tree};
use latchwork_stdlib::{TypeClass, common_type};
use latchwork_vm::ElementaryType as E;

use super::Checker;
use crate::{
    typed::{Constant, Expression, ExpressionKind},
    types::{Type, TypeId},
};

/// An operand: checked already, or still as written, because a literal waits for the other operands' type.
#[derive(Clone, Debug)]
pub(crate) enum Operand<'t> {
    /// With its type.
    Checked(Expression),
    /// As written.
    Written(&'t tree::Expression),
}

impl Operand<'_> {
    /// The place of the operand.
    pub(crate) fn span(&self) -> Span {
        match self {
            Operand::Checked(value) => value.span,
            Operand::Written(written) => written.span,
        }
    }
}

/// What operands have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Common {
    /// An elementary type, strings included.
    Elementary(E),
    /// Another type, the same for all: enumeration, structure, array, reference.
    Same(TypeId),
}

/// Why operands have no common type.
pub(super) enum NoCommon {
    /// Reported already.
    Silent,
    /// These two types do not go together.
    Between(TypeId, TypeId),
}

impl<'a> Checker<'a> {
    /// An operand's value, checked without regard to others.
    pub(crate) fn operand(&mut self, operand: Operand<'_>, hint: Option<TypeId>) -> Expression {
        match operand {
            Operand::Checked(value) => value,
            Operand::Written(written) => self.infer(written, hint),
        }
    }

    pub(super) fn common_of(&self, ty: TypeId) -> Common {
        let underlying = self.types.underlying(ty);
        match self.types.get(underlying) {
            Type::String { wide: false, .. } => Common::Elementary(E::String),
            Type::String { wide: true, .. } => Common::Elementary(E::Wstring),
            _ => match self.types.elementary_base(underlying) {
                Some(kind) => Common::Elementary(kind),
                None => Common::Same(underlying),
            },
        }
    }

    /// Checks operands of one generic type. Those whose type depends on their place are checked last, with the
    /// common type of the others.
    pub(super) fn generic_operands<'t>(
        &mut self,
        operands: Vec<Operand<'t>>,
        hint: Option<TypeId>,
    ) -> (Vec<Expression>, Result<Common, NoCommon>) {
        // A row of operators is a deep tree: values that are known are handed on, not copied.
        let mut operands = operands;
        let mut common: Option<(Common, TypeId)> = None;
        let mut failure = None;
        // An operand that waits is still written after the first round; then all are checked.
        for waiting in [false, true] {
            for index in 0..operands.len() {
                let Some(operand) = operands.get_mut(index) else { continue };
                let waits = match &*operand {
                    Operand::Written(written) => self.is_contextual(written),
                    Operand::Checked(_) if waiting => continue,
                    Operand::Checked(_) => false,
                };
                if waits != waiting {
                    continue;
                }
                let hint = if waiting {
                    self.waiting_hint(operand, common, hint)
                } else {
                    hint_for_calls(operand, hint)
                };
                let value = match operand {
                    Operand::Written(written) => {
                        let written: &'t tree::Expression = written;
                        *operand = Operand::Checked(self.infer(written, hint));
                        match operand {
                            Operand::Checked(value) => &*value,
                            Operand::Written(_) => continue,
                        }
                    }
                    Operand::Checked(value) => &*value,
                };
                if self.is_unknown(value.ty) {
                    failure = failure.or(Some(NoCommon::Silent));
                } else {
                    let own = self.common_of(value.ty);
                    common = match common {
                        None => Some((own, value.ty)),
                        Some((so_far, first)) => match self.join(so_far, own) {
                            Some(joined) => Some((joined, first)),
                            None => {
                                failure = failure.or(Some(NoCommon::Between(first, value.ty)));
                                Some((so_far, first))
                            }
                        },
                    };
                }
            }
        }
        // The two rounds together have visited every operand.
        let values = operands.into_iter().filter_map(|operand| match operand {
            Operand::Checked(value) => Some(value),
            Operand::Written(_) => None,
        });
        let values = values.collect();
        let result = match (failure, common) {
            (Some(failure), _) => Err(failure),
            (None, Some((common, _))) => Ok(common),
            (None, None) => Err(NoCommon::Silent),
        };
        (values, result)
    }

    /// The type wanted of a literal beside operands of a common type.
    fn waiting_hint(
        &mut self,
        operand: &Operand<'_>,
        common: Option<(Common, TypeId)>,
        hint: Option<TypeId>,
    ) -> Option<TypeId> {
        let Operand::Written(written) = operand else { return hint };
        match common {
            None => hint,
            Some((Common::Same(ty), _)) => Some(ty),
            Some((Common::Elementary(E::String | E::Wstring), first)) => Some(first),
            // An enumeration with named values decides between values of one name.
            Some((Common::Elementary(_), first))
                if matches!(self.types.get(self.types.underlying(first)), Type::NamedValues { .. }) =>
            {
                Some(first)
            }
            Some((Common::Elementary(kind), _)) => {
                let number = self.is_number_only(written);
                let wanted = match number.then(|| self.literal_arithmetic_type(written, None)).flatten() {
                    // A real literal beside an integer has no real type from there: it takes that of the target.
                    Some(E::Real | E::Lreal) if TypeClass::AnyInt.accepts(kind) && self.is_lreal(hint) => {
                        E::Lreal
                    }
                    // Otherwise the real type both become, so that it is rounded once.
                    Some(real @ (E::Real | E::Lreal)) if TypeClass::AnyNum.accepts(kind) => {
                        common_type(kind, real).unwrap_or(kind)
                    }
                    _ => kind,
                };
                Some(self.elementary(wanted))
            }
        }
    }

    fn is_lreal(&self, hint: Option<TypeId>) -> bool {
        hint.is_some_and(|ty| self.types.elementary_base(ty) == Some(E::Lreal))
    }

    fn join(&self, left: Common, right: Common) -> Option<Common> {
        match (left, right) {
            (Common::Elementary(left), Common::Elementary(right)) => {
                common_type(left, right).map(Common::Elementary)
            }
            (Common::Same(left), Common::Same(right)) if left == right => Some(Common::Same(left)),
            // NULL goes with every reference.
            (Common::Same(left), Common::Same(right)) => {
                match (self.types.get(left), self.types.get(right)) {
                    (Type::Null, Type::Reference(_) | Type::Interface(_)) => Some(Common::Same(right)),
                    (Type::Reference(_) | Type::Interface(_), Type::Null) => Some(Common::Same(left)),
                    (Type::Reference(_) | Type::Interface(_), Type::Reference(_) | Type::Interface(_)) => {
                        if self.object_converts(left, right) {
                            Some(Common::Same(right))
                        } else {
                            self.object_converts(right, left).then_some(Common::Same(left))
                        }
                    }
                    _ => None,
                }
            }
            _ => None,
        }
    }

    /// The type all operands are brought to: for texts the longest capacity among them.
    pub(super) fn common_type_id(&mut self, common: Common, values: &[Expression]) -> TypeId {
        match common {
            Common::Same(ty) => ty,
            Common::Elementary(kind @ (E::String | E::Wstring)) => {
                let capacity =
                    values.iter().map(|value| match self.types.get(self.types.underlying(value.ty)) {
                        Type::String { capacity, .. } => *capacity,
                        _ => 1,
                    });
                let capacity = capacity.max().unwrap_or(1);
                self.types.intern(Type::String { wide: kind == E::Wstring, capacity })
            }
            Common::Elementary(kind) => self.elementary(kind),
        }
    }

    /// The constants of operands that are all known.
    pub(super) fn constants(values: &[Expression]) -> Option<Vec<Constant>> {
        let constant = |value: &Expression| match &value.kind {
            ExpressionKind::Constant(constant) => Some(constant.clone()),
            _ => None,
        };
        let known = values.iter().all(|value| matches!(value.kind, ExpressionKind::Constant(_)));
        known.then(|| values.iter().filter_map(constant).collect())
    }
}

/// What stands around a call decides for literals in its own arguments only if the call is the operand.
fn hint_for_calls<'a>(operand: &Operand<'a>, hint: Option<TypeId>) -> Option<TypeId> {
    match operand {
        Operand::Written(tree::Expression {
            kind:
                tree::ExpressionKind::Call(_)
                | tree::ExpressionKind::Parenthesized(_)
                | tree::ExpressionKind::Unary { .. }
                | tree::ExpressionKind::Binary { .. },
            ..
        }) => hint,
        _ => None,
    }
}

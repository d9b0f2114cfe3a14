//! Operands of functions on texts: they are taken with the length they have, and the result has room for all.
//!
//! Source: IEC 61131-3:2013, table 34.

use latchwork_stdlib::{FunctionDefinition, TypeClass};
use latchwork_vm::ElementaryType as E;

use super::{Checker, operands::Common};
use crate::{
    typed::{Constant, Expression, ExpressionKind},
    types::{Type, TypeId},
};

/// Most characters a text can have.
const TEXT_CAPACITY_MAX: u16 = 32_767;

impl Checker<'_> {
    /// A number of characters or a position as LINT. ULINT beyond it becomes the greatest LINT: no text is that
    /// long, and as a negative number it would be another error.
    pub(super) fn text_number(&mut self, mut value: Expression) -> Expression {
        let from = self.types.elementary_base(value.ty);
        if let (Some(E::Ulint), Some(minimum)) = (from, latchwork_stdlib::function("MIN")) {
            let (span, ty) = (value.span, self.elementary(E::Ulint));
            let most = i128::from(i64::MAX);
            value = self.force(value, E::Ulint);
            let kind = match value.kind {
                ExpressionKind::Constant(Constant::Integer(number)) => {
                    ExpressionKind::Constant(Constant::Integer(number.min(most)))
                }
                _ => {
                    let most =
                        Expression { kind: ExpressionKind::Constant(Constant::Integer(most)), ty, span };
                    ExpressionKind::Standard {
                        function: minimum.definition,
                        on: Some(E::Ulint),
                        arguments: vec![value, most],
                    }
                }
            };
            value = Expression { kind, ty, span };
        }
        self.force(value, E::Lint)
    }

    /// The type of a text that has room for all text operands together.
    pub(super) fn text_of_all(&mut self, values: &[Expression]) -> Option<TypeId> {
        let texts = values.iter().filter_map(|value| self.text_type(value.ty));
        let (wide, capacity) = texts.fold(None, |sum: Option<(bool, u32)>, (wide, capacity)| {
            Some((wide, sum.map_or(0, |(_, sum)| sum) + u32::from(capacity)))
        })?;
        let capacity = u16::try_from(capacity).unwrap_or(u16::MAX).min(TEXT_CAPACITY_MAX);
        Some(self.types.intern(Type::String { wide, capacity }))
    }

    /// Width and capacity of a text.
    pub(super) fn text_type(&self, ty: TypeId) -> Option<(bool, u16)> {
        match self.types.get(self.types.underlying(ty)) {
            Type::String { wide, capacity } => Some((*wide, *capacity)),
            _ => None,
        }
    }

    /// The elementary type that a type has the values of, texts included.
    pub(super) fn kind_of(&self, ty: TypeId) -> Option<E> {
        match self.common_of(ty) {
            Common::Elementary(kind) => Some(kind),
            Common::Same(_) => None,
        }
    }
}

/// Whether a row has forms for texts, which it takes as they are.
pub(super) fn works_on_text(definition: &FunctionDefinition) -> bool {
    let mut classes = definition.overloads.iter().flat_map(|overload| overload.accepts);
    classes.any(|class| matches!(class, TypeClass::Exact(kind) if kind.is_string()))
}

//! Subscripts of arrays and strings.
//!
//! Source: IEC 61131-3:2013, 6.4.4.5 and 6.4.2. A constant subscript outside is an error here, others are checked at
//! run time.

use latchwork_grammar::{Diagnostic, Span, tree};
use latchwork_stdlib::TypeClass;
use latchwork_vm::ElementaryType as E;

use super::{Checker, access::Walk, conversion::Goal, describe::count};
use crate::{
    typed::{Constant, Expression, ExpressionKind, Step},
    types::{Type, TypeId},
};

impl<'a> Checker<'a> {
    pub(super) fn walk_index(
        &mut self,
        walk: &mut Walk,
        subscripts: &[tree::Expression],
        span: Span,
    ) -> Option<()> {
        let checked: Vec<Expression> = subscripts.iter().map(|subscript| self.subscript(subscript)).collect();
        let failed = checked.iter().any(|subscript| self.is_unknown(subscript.ty));
        match self.types.get(self.types.underlying(walk.ty)).clone() {
            Type::Array { bounds, element } => {
                if bounds.len() != checked.len() {
                    self.report_subscript_count(walk.ty, &bounds, element, checked.len(), span);
                    return None;
                }
                for (subscript, (lower, upper)) in checked.iter().zip(&bounds) {
                    self.check_subscript(subscript, i128::from(*lower), i128::from(*upper), walk.ty)?;
                }
                walk.ty = element;
                walk.steps.push(Step::Index(checked));
            }
            Type::OpenArray { dimensions, element } => {
                let bounds = vec![(0, 0); usize::from(dimensions)];
                if bounds.len() != checked.len() {
                    self.report_subscript_count(walk.ty, &bounds, element, checked.len(), span);
                    return None;
                }
                walk.ty = element;
                walk.steps.push(Step::Index(checked));
            }
            Type::String { wide, capacity } => {
                let [subscript] = <[Expression; 1]>::try_from(checked).ok().or_else(|| {
                    self.report(
                        Diagnostic::error(
                            "subscript-count",
                            span,
                            "a string has one subscript: the character",
                        )
                        .label("more than one"),
                    );
                    None
                })?;
                self.check_subscript(&subscript, 1, i128::from(capacity), walk.ty)?;
                walk.ty = self.elementary(if wide { E::Wchar } else { E::Char });
                walk.steps.push(Step::Character(Box::new(subscript)));
            }
            _ => {
                let type_name = self.type_name(walk.ty);
                self.report(
                    Diagnostic::error(
                        "not-an-array",
                        span,
                        format!("a subscript needs an array, this is {type_name}"),
                    )
                    .label(type_name),
                );
                return None;
            }
        }
        (!failed).then_some(())
    }

    /// A subscript: an integer of any type, brought to its elementary type.
    pub(super) fn subscript(&mut self, written: &tree::Expression) -> Expression {
        let value = self.infer(written, None);
        if self.is_unknown(value.ty) {
            return value;
        }
        match self.types.elementary_base(value.ty) {
            Some(kind) if TypeClass::AnyInt.accepts(kind) => {
                let ty = self.elementary(kind);
                self.convert(value, ty, &Goal::Operand { function: "a subscript" })
            }
            _ => {
                let type_name = self.type_name(value.ty);
                self.report(
                    Diagnostic::error(
                        "subscript-type",
                        written.span,
                        format!("a subscript must be an integer, this is {type_name}"),
                    )
                    .label(type_name),
                );
                self.unknown(written.span)
            }
        }
    }

    pub(super) fn check_subscript(
        &mut self,
        subscript: &Expression,
        lower: i128,
        upper: i128,
        whole: TypeId,
    ) -> Option<()> {
        let ExpressionKind::Constant(Constant::Integer(value)) = subscript.kind else { return Some(()) };
        if value >= lower && value <= upper {
            return Some(());
        }
        let type_name = self.type_name(whole);
        self.report(
            Diagnostic::error(
                "subscript-out-of-bounds",
                subscript.span,
                format!("{type_name} has no element {value}"),
            )
            .label(format!("must be from {lower} to {upper}")),
        );
        None
    }

    pub(super) fn report_subscript_count(
        &mut self,
        whole: TypeId,
        bounds: &[(i64, i64)],
        element: TypeId,
        given: usize,
        span: Span,
    ) {
        let type_name = self.type_name(whole);
        let wanted = count(bounds.len(), "subscript", "subscripts");
        let mut diagnostic = Diagnostic::error(
            "subscript-count",
            span,
            format!("{type_name} needs {wanted}, here is {given}"),
        )
        .label(format!("{wanted} needed"));
        if given > bounds.len()
            && matches!(self.types.get(self.types.underlying(element)), Type::Array { .. })
        {
            diagnostic = diagnostic
                .note("its elements are arrays: write one pair of brackets after the other, `[1][2]`");
        } else if given < bounds.len() {
            diagnostic = diagnostic.note("one subscript for each dimension, with commas: `[1, 2]`");
        }
        self.report(diagnostic);
    }
}

//! The assignment attempt `?=`: the target gets the instance if it fits at run time, else NULL.
//!
//! Source: IEC 61131-3:2013, 6.6.6.7 and 6.6.8, table 52. Our choices: an interface may be tried as a reference to
//! a class or function block; NULL fits always; references to other types have nothing to try.

use latchwork_grammar::{Diagnostic, Span, tree};

use super::{Checker, access::Mode, conversion::Goal};
use crate::{
    typed::{Access, Expression, ExpressionKind, Statement, StatementKind},
    types::Type,
};

impl<'a> Checker<'a> {
    /// `target ?= value`.
    pub(super) fn attempt(
        &mut self,
        target: &tree::Expression,
        value: &tree::Expression,
        operator: Span,
        span: Span,
    ) -> Option<Statement> {
        let access = self.access(target, Mode::Write);
        let typed = self.infer(value, access.as_ref().map(|access| access.ty));
        self.attempt_value(access?, typed, operator, span)
    }

    /// The same with both sides checked.
    pub(crate) fn attempt_value(
        &mut self,
        target: Access,
        value: Expression,
        operator: Span,
        span: Span,
    ) -> Option<Statement> {
        if self.is_unknown(value.ty) {
            return None;
        }
        let variable = |checker: &Self, ty| {
            let indirect = matches!(
                checker.types.get(checker.types.underlying(ty)),
                Type::Reference(_) | Type::Interface(_)
            );
            checker.static_type(ty).filter(|_| indirect)
        };
        let Some(wanted) = variable(self, target.ty) else {
            self.report_no_attempt(target.span, target.ty, operator);
            return None;
        };
        let null = matches!(self.types.get(self.types.underlying(value.ty)), Type::Null);
        if null || self.object_converts(value.ty, target.ty) && variable(self, value.ty).is_some() {
            // It fits whatever the instance is.
            return self.assign(target, value, span);
        }
        let Some(given) = variable(self, value.ty) else {
            self.report_no_attempt(value.span, value.ty, operator);
            return None;
        };
        let allowed = self.concrete_types(wanted);
        let possible = self.concrete_types(given);
        let fitting: Vec<_> =
            possible.into_iter().filter(|unit| allowed.binary_search(unit).is_ok()).collect();
        if fitting.is_empty() && !self.is_partly_known(given) && !self.is_partly_known(wanted) {
            let (from, to) = (self.type_name(value.ty), self.type_name(target.ty));
            self.report(
                Diagnostic::warning(
                    "attempt-never-fits",
                    span,
                    format!("this attempt always gives NULL: nothing that {from} stands for fits {to}"),
                )
                .label("can never succeed")
                .note("no type in the program is both"),
            );
        }
        let fits = self.fits_table(fitting);
        let goal = Goal::Assignment { place: target.span };
        let (ty, place) = (target.ty, value.span);
        let kind = ExpressionKind::Attempt { value: Box::new(value), fits };
        let value = self.convert(Expression { kind, ty, span: place }, ty, &goal);
        Some(Statement { kind: StatementKind::Assign { target, value }, span })
    }

    fn report_no_attempt(&mut self, span: Span, ty: crate::types::TypeId, operator: Span) {
        let type_name = self.type_name(ty);
        self.report(
            Diagnostic::error(
                "assignment-attempt",
                operator,
                format!(
                    "`?=` tries references and interfaces of classes and function blocks, not {type_name}"
                ),
            )
            .label("nothing to try")
            .also(span, type_name)
            .note("an assignment is written `:=`"),
        );
    }
}

//! CASE: selector, labels, overlaps and missing values.
//!
//! Source: IEC 61131-3:2013, 7.3.3.3.3. Our choices: a label in two groups is an error, because the second
//! would be dead; selectors may also be bit strings of 8 bits and more, and characters.

use std::collections::BTreeMap;

use latchwork_grammar::{Diagnostic, Span, tree};
use latchwork_stdlib::TypeClass;
use latchwork_vm::ElementaryType as E;

use super::{Checker, conversion::Goal};
use crate::{
    constant,
    typed::{Constant, Expression, Observation, Statement, StatementKind},
    types::{DerivedId, Type, TypeId},
};

/// Labels by their smallest value, with their largest value and place; they never overlap.
type Labels = BTreeMap<i128, (i128, Span)>;

impl<'a> Checker<'a> {
    pub(super) fn case(
        &mut self,
        selector: &tree::Expression,
        groups: &[tree::CaseGroup],
        otherwise: Option<&[tree::Statement]>,
        span: Span,
    ) -> Option<Statement> {
        let place = selector.span;
        let selector = self.infer(selector, None);
        let ty = self.selector_type(&selector);
        let mut seen = Labels::new();
        let mut typed = Vec::with_capacity(groups.len());
        let mut sound = ty.is_some();
        for group in groups {
            let mut ranges = Vec::with_capacity(group.labels.len());
            for label in &group.labels {
                match ty.and_then(|ty| self.label(label, ty, place, &mut seen)) {
                    Some(Some(range)) => ranges.push(range),
                    Some(None) => {}
                    None => sound = false,
                }
            }
            let mut body = Vec::new();
            if let (Some(first), Some(last)) = (group.labels.first(), group.labels.last()) {
                let end = last.last.as_ref().map_or(last.first.span, |last| last.span);
                self.observe(Observation::Labels, first.first.span.to(end), &mut body);
            }
            let statements = self.statements(&group.statements);
            // Without spare room: a list that grows by itself begins with four.
            body.reserve_exact(statements.len());
            body.extend(statements);
            typed.push((ranges, body));
        }
        let has_else = otherwise.is_some();
        if has_else {
            self.cases_with_else.insert(span);
        }
        let otherwise = otherwise.map(|body| self.statements(body)).unwrap_or_default();
        let ty = ty?;
        if sound && !has_else {
            self.warn_missing_values(ty, &seen, place, span);
        }
        Some(Statement {
            kind: StatementKind::Case { selector: Box::new(selector), groups: typed, otherwise },
            span,
        })
    }

    fn selector_type(&mut self, selector: &Expression) -> Option<TypeId> {
        if self.is_unknown(selector.ty) {
            return None;
        }
        let fits = match self.types.elementary_base(selector.ty) {
            Some(E::Bool) => false,
            Some(kind) => {
                TypeClass::AnyInt.accepts(kind)
                    || TypeClass::AnyBit.accepts(kind)
                    || TypeClass::AnyChar.accepts(kind)
            }
            None => matches!(self.types.get(self.types.underlying(selector.ty)), Type::Enumeration(_)),
        };
        if fits {
            return Some(selector.ty);
        }
        let type_name = self.type_name(selector.ty);
        let is_bool = self.types.elementary_base(selector.ty) == Some(E::Bool);
        let mut diagnostic = Diagnostic::error(
            "case-selector",
            selector.span,
            format!("CASE cannot choose by a value of {type_name}"),
        )
        .label(type_name)
        .note("it chooses by an integer, a bit string of 8 bits or more, a character, or an enumeration");
        if is_bool {
            diagnostic = diagnostic.note("two cases are written with IF … ELSE");
        }
        self.report(diagnostic);
        None
    }

    /// The range of a label; `Some(None)` for one that can never match, `None` after an error.
    fn label(
        &mut self,
        label: &tree::CaseLabel,
        ty: TypeId,
        selector: Span,
        seen: &mut Labels,
    ) -> Option<Option<(i128, i128)>> {
        let span = label.last.as_ref().map_or(label.first.span, |last| label.first.span.to(last.span));
        let first = self.label_value(&label.first, ty, selector);
        let last = label.last.as_ref().map(|last| self.label_value(last, ty, selector));
        if label.last.is_some() && matches!(self.types.get(self.types.underlying(ty)), Type::Enumeration(_)) {
            self.report(
                Diagnostic::error("case-range", span, "the values of an enumeration have no order")
                    .label("a range of them")
                    .note("list the values one by one, with commas"),
            );
            return None;
        }
        let first = first?;
        let last = match last {
            Some(last) => last?,
            None => first,
        };
        if first > last {
            self.report(
                Diagnostic::error("case-range", span, format!("the range {first}..{last} has no values"))
                    .label("the smaller value stands first"),
            );
            return None;
        }
        if let Some((lower, upper)) = self.value_range(ty)
            && (last < lower || first > upper)
        {
            let type_name = self.type_name(ty);
            self.report(
                Diagnostic::warning(
                    "case-never-matches",
                    span,
                    format!("the selector never has this value: it is {type_name}"),
                )
                .label(format!("{type_name} goes from {lower} to {upper}"))
                .also(selector, type_name),
            );
            return Some(None);
        }
        let overlap = seen.range(..=last).next_back().filter(|(_, (end, _))| *end >= first);
        if let Some((_, (_, other))) = overlap {
            let other = *other;
            self.report(
                Diagnostic::error("case-label-repeated", span, "this label stands in the CASE twice")
                    .label("the same value again")
                    .also(other, "already here")
                    .note("each value may belong to one group only"),
            );
            return None;
        }
        seen.insert(first, (last, span));
        Some(Some((first, last)))
    }

    /// The value of a label. A number outside the selector's type is kept, to be warned about.
    fn label_value(&mut self, written: &tree::Expression, ty: TypeId, selector: Span) -> Option<i128> {
        let outer = std::mem::replace(&mut self.constant_only, true);
        let value = self.infer(written, Some(ty));
        self.constant_only = outer;
        if self.is_unknown(value.ty) {
            return None;
        }
        let known = match &value.kind {
            crate::typed::ExpressionKind::Constant(Constant::Integer(number)) => Some(*number),
            _ => None,
        };
        let numbers = |kind: Option<E>| kind.is_some_and(|kind| TypeClass::AnyInt.accepts(kind));
        let both = numbers(self.types.elementary_base(value.ty))
            && self.types.elementary_base(ty).is_some_and(|kind| constant::integer_range(kind).is_some());
        if let (Some(number), true) = (known, both)
            && self.value_range(ty).is_some_and(|(lower, upper)| number < lower || number > upper)
        {
            return Some(number);
        }
        let goal = Goal::Label { selector };
        match self.constant(written, Some(ty), &goal)?.0 {
            Constant::Integer(number) => Some(number),
            _ => None,
        }
    }

    /// Smallest and largest value of a selector's type.
    fn value_range(&self, ty: TypeId) -> Option<(i128, i128)> {
        match self.types.get(self.types.underlying(ty)) {
            Type::Subrange { lower, upper, .. } => Some((*lower, *upper)),
            _ => self.types.elementary_base(ty).and_then(constant::integer_range),
        }
    }

    /// Values of an enumeration that have no group, when there is no ELSE.
    fn warn_missing_values(&mut self, ty: TypeId, seen: &Labels, selector: Span, span: Span) {
        let Type::Enumeration(derived) = *self.types.get(self.types.underlying(ty)) else {
            return;
        };
        let missing = self.values_not_in(derived, seen);
        if missing.is_empty() {
            return;
        }
        let keyword = Span::new(span.file, span.start, span.start + 4);
        let type_name = self.type_name(ty);
        self.report(
            Diagnostic::warning(
                "case-missing-values",
                keyword,
                "not every value of the selector has a group",
            )
            .label("no ELSE")
            .also(selector, type_name)
            .note(format!("nothing happens for {}", crate::declare::listed(&missing)))
            .note("add the groups, or an ELSE to show that nothing else is to be done"),
        );
    }

    fn values_not_in(&self, derived: DerivedId, seen: &Labels) -> Vec<String> {
        let values = self.types.enumeration(derived).values.iter();
        let missing = values.filter(|(_, number)| {
            seen.range(..=*number).next_back().is_none_or(|(_, (end, _))| end < number)
        });
        missing.map(|(name, _)| self.spelling(*name).to_owned()).collect()
    }
}

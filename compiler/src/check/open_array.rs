//! Arrays of any bounds: passing arrays to such parameters, and LOWER_BOUND and UPPER_BOUND.
//!
//! Source: IEC 61131-3:2013, 6.5.3 and table 15. Our choices: an array is passed by its address in all three
//! sections and at every call; it is never used as a whole; the bounds are DINT.

use latchwork_grammar::{Diagnostic, Span, tree::SectionKind};
use latchwork_stdlib::TypeClass;
use latchwork_vm::ElementaryType as E;

use super::{
    Checker,
    access::Mode,
    arguments::{Bound, Given, GivenKind, Parameter},
    operands::Operand,
    statement::is_variable,
};
use crate::{
    typed::{Access, ArrayBound, BoundedArray, Constant, Expression, ExpressionKind, Root},
    types::{Type, TypeId},
};

impl<'a> Checker<'a> {
    /// Whether a type is that of a parameter for arrays of any bounds.
    pub(crate) fn is_open_array(&self, id: TypeId) -> bool {
        matches!(self.types.get(self.types.underlying(id)), Type::OpenArray { .. })
    }

    /// An array given for a parameter that takes any bounds.
    pub(super) fn bind_open_array(
        &mut self,
        parameter: &Parameter,
        value: Operand<'_>,
        bound: &mut Bound,
    ) -> bool {
        let mode = match parameter.section {
            SectionKind::Input => Mode::Read,
            SectionKind::Output => Mode::Write,
            _ => Mode::InOut,
        };
        let value = match value {
            Operand::Written(written) if mode != Mode::Read || is_variable(written) => {
                let Some(access) = self.access(written, mode) else { return false };
                let (ty, span) = (access.ty, access.span);
                Expression { kind: ExpressionKind::Access(access), ty, span }
            }
            Operand::Written(written) => self.infer(written, None),
            Operand::Checked(value) if mode != Mode::Read => {
                self.report_no_in_out(parameter, &value);
                return false;
            }
            Operand::Checked(value) => value,
        };
        if self.is_unknown(value.ty) || !self.check_open_array(parameter, &value) {
            return false;
        }
        match (mode, value) {
            (Mode::Read, value) => bound.inputs.push((parameter.index, value)),
            (_, Expression { kind: ExpressionKind::Access(access), .. }) => {
                bound.in_outs.push((parameter.index, access));
            }
            (_, value) => {
                self.report(
                    Diagnostic::error(
                        "in-out-argument",
                        value.span,
                        format!("`{}` needs a variable", parameter.name),
                    )
                    .label("not a variable"),
                );
                return false;
            }
        }
        true
    }

    fn check_open_array(&mut self, parameter: &Parameter, value: &Expression) -> bool {
        let Type::OpenArray { dimensions, element } = *self.types.get(self.types.underlying(parameter.ty))
        else {
            return false;
        };
        let fits = match self.types.get(self.types.underlying(value.ty)) {
            Type::Array { bounds, element: own } => {
                let same = self.types.underlying(*own) == self.types.underlying(element);
                let far = exceeds_dint(bounds);
                if same && bounds.len() == usize::from(dimensions) && far {
                    self.report(
                        Diagnostic::error(
                            "open-array",
                            value.span,
                            format!(
                                "the bounds of this array are no values of DINT, so `{}` cannot take it",
                                parameter.name
                            ),
                        )
                        .label("LOWER_BOUND and UPPER_BOUND give DINT"),
                    );
                    return false;
                }
                same && bounds.len() == usize::from(dimensions)
            }
            Type::OpenArray { dimensions: own_dimensions, element: own } => {
                *own_dimensions == dimensions && self.types.underlying(*own) == self.types.underlying(element)
            }
            _ => false,
        };
        if !fits {
            let (actual, formal) = (self.type_name(value.ty), self.type_name(parameter.ty));
            let mut diagnostic = Diagnostic::error(
                "type-mismatch",
                value.span,
                format!("`{}` is {formal} and cannot take {actual}", parameter.name),
            )
            .label(actual)
            .note("arrays with the same type of elements and as many dimensions fit, whatever their bounds");
            if let Some(place) = parameter.span {
                diagnostic = diagnostic.also(place, formal);
            }
            self.report(diagnostic);
        }
        fits
    }

    /// An array of any bounds used as a whole.
    pub(super) fn report_open_value(&mut self, access: &Access) {
        let name = self.text(access.span);
        self.report(
            Diagnostic::error(
                "open-array",
                access.span,
                format!("`{name}` has any bounds and cannot be used as a whole"),
            )
            .label(self.type_name(access.ty))
            .note("use its elements, in a loop from LOWER_BOUND to UPPER_BOUND, or pass it on to another `ARRAY [*]`"),
        );
    }

    /// `LOWER_BOUND(array, dimension)`, `UPPER_BOUND(array, dimension)`.
    pub(crate) fn bound_call(&mut self, upper: bool, mut given: Vec<Given<'_>>, span: Span) -> Expression {
        let name = if upper { "`UPPER_BOUND`" } else { "`LOWER_BOUND`" };
        let Some(formal) = self.is_formal(&given) else {
            self.use_all(given);
            return self.unknown(span);
        };
        let Some(enable) = self.take_enable(&mut given, name) else {
            self.use_all(given);
            return self.unknown(span);
        };
        let Some((array, dimension)) = self.bound_operands(formal, given, name, span) else {
            return self.unknown(span);
        };
        let array = self.bounded_array(array, name);
        let dimension = self.infer_operand(dimension);
        let Some((array, dimensions)) = array else { return self.unknown(span) };
        if let BoundedArray::Fixed(bounds) = &array
            && exceeds_dint(bounds)
        {
            self.report(
                Diagnostic::error(
                    "open-array",
                    span,
                    format!("the bounds of this array are no values of DINT, which {name} gives"),
                )
                .label("the result has no room for them"),
            );
            return self.unknown(span);
        }
        if self.is_unknown(dimension.ty) {
            return dimension;
        }
        let ty = self.elementary(E::Dint);
        if let ExpressionKind::Constant(Constant::Integer(value)) = dimension.kind {
            if value < 1 || value > dimensions as i128 {
                let places = super::describe::count(dimensions, "dimension", "dimensions");
                self.report(
                    Diagnostic::error(
                        "subscript-out-of-bounds",
                        dimension.span,
                        format!("this array has no dimension {value}"),
                    )
                    .label(format!("it has {places}, counted from 1")),
                );
                return self.unknown(span);
            }
            if let BoundedArray::Fixed(bounds) = &array
                && let Some((lower, higher)) = bounds.get(value as usize - 1)
            {
                let value = i128::from(if upper { *higher } else { *lower });
                let value = Expression { kind: ExpressionKind::Constant(Constant::Integer(value)), ty, span };
                return self.controlled(enable, value, span);
            }
        }
        let kind = ExpressionKind::Bound(Box::new(ArrayBound { array, upper, dimension }));
        self.controlled(enable, Expression { kind, ty, span }, span)
    }

    /// The two operands in their order; `None` after a report.
    fn bound_operands<'t>(
        &mut self,
        formal: bool,
        given: Vec<Given<'t>>,
        name: &str,
        span: Span,
    ) -> Option<(Operand<'t>, Operand<'t>)> {
        let number = given.len();
        let mut slots: [Option<(Operand<'t>, Span)>; 2] = [None, None];
        let mut sound = true;
        for (position, argument) in given.into_iter().enumerate() {
            let (slot, value) = match argument.kind {
                GivenKind::Positional(value) => (position, value),
                GivenKind::Input { name: ident, value } => {
                    let spelling = self.text(ident.span);
                    let slot = ["ARR", "DIM"].iter().position(|known| spelling.eq_ignore_ascii_case(known));
                    let Some(slot) = slot else {
                        self.report(
                            Diagnostic::error(
                                "unknown-parameter",
                                ident.span,
                                format!("{name} has no input `{spelling}`"),
                            )
                            .label("no such parameter")
                            .note("it has `ARR`, `DIM`"),
                        );
                        self.operand(value, None);
                        sound = false;
                        continue;
                    };
                    if let Some((_, first)) = &slots[slot] {
                        let first = *first;
                        self.report_repeated(ident, first);
                        sound = false;
                        continue;
                    }
                    (slot, value)
                }
                GivenKind::Output { name: ident, target, .. } => {
                    self.report_wrong_arrow(ident, target.span, true, SectionKind::Input);
                    self.infer(target, None);
                    sound = false;
                    continue;
                }
            };
            match slots.get_mut(slot) {
                Some(free) => *free = Some((value, argument.span)),
                None => {
                    self.operand(value, None);
                }
            }
        }
        match slots {
            [Some((array, _)), Some((dimension, _))] if sound && number == 2 => Some((array, dimension)),
            slots => {
                if sound {
                    let given = if formal { "names" } else { "order" };
                    self.report(
                        Diagnostic::error(
                            "argument-count",
                            span,
                            format!("{name} takes 2 arguments, here is {number}"),
                        )
                        .label(if number < 2 { "too few" } else { "too many" })
                        .note(format!("their {given}: `ARR`, `DIM`")),
                    );
                }
                let [array, dimension] = slots;
                if let Some((array, _)) = array {
                    self.bounded_array(array, name);
                }
                if let Some((dimension, _)) = dimension {
                    self.operand(dimension, None);
                }
                None
            }
        }
    }

    /// The array whose bounds are asked for, with the number of its dimensions; `None` after a report.
    fn bounded_array(&mut self, array: Operand<'_>, name: &str) -> Option<(BoundedArray, usize)> {
        let value = match array {
            Operand::Written(written) if is_variable(written) => {
                let constant_only = std::mem::replace(&mut self.constant_only, false);
                let access = self.access(written, Mode::Read);
                self.constant_only = constant_only;
                let access = access?;
                let (ty, span) = (access.ty, access.span);
                Expression { kind: ExpressionKind::Access(access), ty, span }
            }
            array => self.operand(array, None),
        };
        match (self.types.get(self.types.underlying(value.ty)).clone(), &value.kind) {
            (Type::Unknown, _) => None,
            (Type::Array { bounds, .. }, _) => {
                let dimensions = bounds.len();
                Some((BoundedArray::Fixed(bounds), dimensions))
            }
            (
                Type::OpenArray { dimensions, .. },
                ExpressionKind::Access(Access { root: Root::Variable(id), .. }),
            ) => Some((BoundedArray::Open(*id, dimensions), usize::from(dimensions))),
            _ => {
                let type_name = self.type_name(value.ty);
                self.report(
                    Diagnostic::error(
                        "not-an-array",
                        value.span,
                        format!("{name} needs an array, this is {type_name}"),
                    )
                    .label(type_name),
                );
                None
            }
        }
    }

    /// A dimension: an integer of any type.
    fn infer_operand(&mut self, dimension: Operand<'_>) -> Expression {
        let value = self.operand(dimension, None);
        let integer = self.types.elementary_base(value.ty).filter(|kind| TypeClass::AnyInt.accepts(*kind));
        match integer {
            _ if self.is_unknown(value.ty) => value,
            Some(kind) => {
                let ty = self.elementary(kind);
                self.force(value, self.types.elementary_base(ty).unwrap_or(kind))
            }
            None => {
                let type_name = self.type_name(value.ty);
                self.report(
                    Diagnostic::error(
                        "subscript-type",
                        value.span,
                        format!("a dimension must be an integer, this is {type_name}"),
                    )
                    .label(type_name),
                );
                self.unknown(value.span)
            }
        }
    }
}

/// Whether a bound is no value of DINT.
fn exceeds_dint(bounds: &[(i64, i64)]) -> bool {
    let limits = i64::from(i32::MIN)..=i64::from(i32::MAX);
    bounds.iter().any(|(lower, upper)| !limits.contains(lower) || !limits.contains(upper))
}

//! Calls of standard functions and the operators that stand for them: choosing the overload, converting the
//! operands, evaluating constants.
//!
//! Source: IEC 61131-3:2013, 6.6.2.5, tables 21 to 35.

use std::borrow::Cow;

use latchwork_grammar::Span;
use latchwork_stdlib::{FunctionDefinition, Lowering, Resolved, ResultType, TypeClass};
use latchwork_vm::{ElementaryType as E, Family};

use super::{
    Checker,
    conversion::Goal,
    operands::{Common, NoCommon, Operand},
    text_operands::works_on_text,
    time_arithmetic::time_operation,
};
use crate::{
    constant::{self, FoldError},
    typed::{Constant, Expression, ExpressionKind},
    types::{Type, TypeId},
};

/// A standard function as called.
#[derive(Clone, Debug)]
pub(crate) struct Callee {
    /// Its row.
    pub(crate) definition: &'static FunctionDefinition,
    /// The type a typed name demands.
    pub(crate) typed: Option<E>,
    /// The source type of a conversion's name.
    pub(crate) from: Option<E>,
    /// The target type of a conversion's name.
    pub(crate) to: Option<E>,
    /// How messages call it, with quotes: `` `+` ``, `` `LIMIT` ``.
    pub(crate) shown: Cow<'static, str>,
    /// The place of the call.
    pub(crate) span: Span,
}

impl Callee {
    /// An overloaded function.
    pub(crate) fn plain(
        definition: &'static FunctionDefinition,
        shown: impl Into<Cow<'static, str>>,
        span: Span,
    ) -> Self {
        let shown = shown.into();
        Callee { definition, typed: None, from: None, to: None, shown, span }
    }

    /// A function found by its name.
    pub(crate) fn resolved(resolved: Resolved, shown: String, span: Span) -> Self {
        let Resolved { definition, typed, from, to } = resolved;
        let shown = Cow::Owned(shown);
        Callee { definition, typed, from, to, shown, span }
    }
}

impl<'a> Checker<'a> {
    /// A call with its operands in parameter order, none left out.
    pub(crate) fn standard_call(
        &mut self,
        callee: &Callee,
        operands: Vec<Operand<'_>>,
        span: Span,
        hint: Option<TypeId>,
    ) -> Expression {
        if callee.definition.is_conversion() {
            return self.conversion_call(callee, operands, span, hint);
        }
        if let (Some(operation), None) = (time_operation(callee.definition), callee.typed) {
            return self.arithmetic_call(callee, operation, operands, span, hint);
        }
        self.generic_call(callee, operands, span, hint)
    }

    /// An elementary value in another elementary type, whatever the implicit conversions are.
    pub(super) fn force(&mut self, value: Expression, to: E) -> Expression {
        let ty = self.elementary(to);
        if value.ty == ty {
            return value;
        }
        let from = self.types.elementary_base(value.ty);
        if let (ExpressionKind::Constant(known), Some(from)) = (&value.kind, from)
            && let Some(Ok(converted)) = constant::convert(known, from, to, false)
        {
            return Expression { kind: ExpressionKind::Constant(converted), ty, span: value.span };
        }
        let span = value.span;
        Expression { kind: ExpressionKind::Convert(Box::new(value)), ty, span }
    }

    pub(super) fn generic_call(
        &mut self,
        callee: &Callee,
        operands: Vec<Operand<'_>>,
        span: Span,
        hint: Option<TypeId>,
    ) -> Expression {
        let definition = callee.definition;
        let hint = match (definition.result, callee.typed) {
            (_, Some(kind)) => Some(self.elementary(kind)),
            (ResultType::Generic, None) => hint,
            _ => None,
        };
        // Generic operands together, the others each by itself, both in their order.
        let is_generic = |index| definition.parameter_kind(index).is_some_and(|parameter| parameter.generic);
        let any_generic = (0..operands.len()).any(is_generic);
        let mut generic = Vec::with_capacity(operands.len());
        // Empty while all are generic, as those of operators are; else an entry for each operand.
        let mut own: Vec<Option<Expression>> = Vec::new();
        let mut exponents = Vec::new();
        let mut failed = false;
        for (index, operand) in operands.into_iter().enumerate() {
            if is_generic(index) {
                generic.push(operand);
                if !own.is_empty() {
                    own.push(None);
                }
                continue;
            }
            own.resize(index, None);
            if any_generic && self.is_real_literal(definition, index, &operand) {
                own.push(Some(self.unknown(operand.span())));
                exponents.push((index, operand));
            } else {
                // A factor of a duration keeps all its digits.
                let hint =
                    self.is_real_literal(definition, index, &operand).then(|| self.elementary(E::Lreal));
                let value = self.own_operand(callee, index, operand, hint);
                failed |= self.is_unknown(value.ty);
                own.push(Some(value));
            }
        }
        let (mut generic, common) = self.generic_operands(generic, hint);
        let common = match common {
            Ok(common) => common,
            Err(NoCommon::Silent) if generic.is_empty() && !failed => {
                // A function without a generic type.
                let values: Vec<Expression> = own.into_iter().flatten().collect();
                return self.finish_call(callee, values, None, span);
            }
            Err(NoCommon::Silent) => return self.unknown(span),
            Err(NoCommon::Between(left, right)) => {
                self.report_no_common(callee, left, right, &generic);
                return self.unknown(span);
            }
        };
        // A real literal as exponent keeps the digits that its base has: only beside a REAL it is one.
        for (index, operand) in exponents {
            let beside = callee.typed.map_or(common, Common::Elementary);
            let kind = if beside == Common::Elementary(E::Real) { E::Real } else { E::Lreal };
            let ty = self.elementary(kind);
            let value = self.own_operand(callee, index, operand, Some(ty));
            failed |= self.is_unknown(value.ty);
            own[index] = Some(value);
        }
        if failed {
            return self.unknown(span);
        }
        let Some(common) = self.accept(callee, common, &generic) else { return self.unknown(span) };
        let as_they_are = matches!(definition.lowering, Lowering::Comparison(_)) || works_on_text(definition);
        let text = match common {
            Common::Elementary(E::String) => Some(false),
            Common::Elementary(E::Wstring) => Some(true),
            _ => None,
        };
        let target = self.common_type_id(common, &generic);
        let values = if own.is_empty() {
            // In their places, where none has to be converted.
            for index in 0..generic.len() {
                let Some(slot) = generic.get_mut(index) else { continue };
                let converted = definition.overloads.is_empty() || index == 0 || callee.typed.is_some();
                if (converted && slot.ty != target) || text.is_some() {
                    let value = std::mem::replace(slot, self.unknown(span));
                    let value =
                        self.generic_value(callee, index, value, target, text.filter(|_| as_they_are));
                    if let Some(slot) = generic.get_mut(index) {
                        *slot = value;
                    }
                }
            }
            generic
        } else {
            let mut generic = generic.into_iter();
            let mut values = Vec::with_capacity(own.len());
            for (index, value) in own.into_iter().enumerate() {
                values.push(match value {
                    Some(value) => value,
                    None => {
                        // One entry of `generic` for each `None`.
                        let Some(value) = generic.next() else { return self.unknown(span) };
                        self.generic_value(callee, index, value, target, text.filter(|_| as_they_are))
                    }
                });
            }
            values
        };
        if values.iter().any(|value| self.is_unknown(value.ty)) {
            return self.unknown(span);
        }
        self.finish_call(callee, values, Some((common, target)), span)
    }

    /// A generic operand in the type it is worked on in; `text` says that it is a text, wide or not, of any capacity.
    fn generic_value(
        &mut self,
        callee: &Callee,
        index: usize,
        value: Expression,
        target: TypeId,
        text: Option<bool>,
    ) -> Expression {
        let goal = Goal::Operand { function: &callee.shown };
        if let Some(wide) = text {
            // Texts of any capacity; a character becomes a text of its own.
            if matches!(self.types.get(self.types.underlying(value.ty)), Type::String { .. }) {
                return value;
            }
            let one = self.types.intern(Type::String { wide, capacity: 1 });
            return self.convert(value, one, &goal);
        }
        if callee.definition.overloads.is_empty() || index == 0 || callee.typed.is_some() {
            return self.convert(value, target, &goal);
        }
        value
    }

    /// Chooses the overload and the result type.
    fn finish_call(
        &mut self,
        callee: &Callee,
        mut values: Vec<Expression>,
        generic: Option<(Common, TypeId)>,
        span: Span,
    ) -> Expression {
        let definition = callee.definition;
        let mut on = match generic {
            Some((Common::Elementary(kind), _)) => Some(kind),
            Some((Common::Same(_), _)) => None,
            None => values.first().and_then(|value| self.kind_of(value.ty)),
        };
        let mut result = definition.result;
        let kinds: Option<Vec<E>> = if definition.overloads.is_empty() {
            None
        } else {
            values.iter().map(|value| self.kind_of(value.ty)).collect()
        };
        match kinds.and_then(|kinds| definition.overload(&kinds)) {
            Some(overload) => {
                result = overload.result;
                if !overload.operands.is_empty() {
                    let text = works_on_text(definition);
                    let wanted = overload.operands.iter().copied().map(Some).chain(std::iter::repeat(None));
                    values = values
                        .into_iter()
                        .zip(wanted)
                        .map(|(value, kind)| match kind.filter(|kind| !kind.is_string()) {
                            Some(E::Lint) if text => self.text_number(value),
                            Some(kind) => self.force(value, kind),
                            None => value,
                        })
                        .collect();
                    on = overload.operands.first().copied();
                }
            }
            None if definition.lowering == Lowering::Overloaded => {
                if let Some(first) = values.first() {
                    self.report_not_accepted(callee, first.ty, first.span, None);
                }
                return self.unknown(span);
            }
            None => {}
        }
        let result_type = match result {
            ResultType::Generic => match generic {
                Some((Common::Elementary(_), target)) if !values.is_empty() => Some(target),
                Some((_, target)) => Some(target),
                None => values.first().map(|value| value.ty),
            },
            ResultType::Exact(kind) => Some(self.elementary(kind)),
            ResultType::Parameter(index) => values.get(index).map(|value| value.ty),
            ResultType::Named => callee.to.map(|kind| self.elementary(kind)),
            ResultType::Text => self.text_of_all(&values),
            // No row has such a result yet.
            ResultType::Nothing => None,
        };
        let Some(result_type) = result_type else { return self.unknown(span) };
        let result_kind = self.types.elementary_base(result_type);
        self.build(callee, definition, on, result_kind, Some(result_type), values, span)
    }

    /// The typed call, or its value if all operands are known.
    #[expect(clippy::too_many_arguments, reason = "the parts of one node")]
    pub(super) fn build(
        &mut self,
        callee: &Callee,
        function: &'static FunctionDefinition,
        on: Option<E>,
        result_kind: Option<E>,
        result_type: Option<TypeId>,
        arguments: Vec<Expression>,
        span: Span,
    ) -> Expression {
        let ty = match (result_type, result_kind) {
            (Some(ty), _) => ty,
            (None, Some(kind)) => self.elementary(kind),
            (None, None) => return self.unknown(span),
        };
        if arguments.iter().any(|value| self.is_unknown(value.ty)) {
            return self.unknown(span);
        }
        if let Some(constants) = Self::constants(&arguments)
            && let Some(folded) = constant::fold(function, on, result_kind, &constants)
        {
            return match folded {
                Ok(value) => Expression { kind: ExpressionKind::Constant(value), ty, span },
                Err(error) => {
                    self.report_fold(callee, error, ty, span);
                    self.unknown(span)
                }
            };
        }
        if function.lowering == Lowering::Family(Family::Divide)
            && let Some(Expression { kind: ExpressionKind::Constant(Constant::Integer(0)), .. }) =
                arguments.get(1)
        {
            self.report_fold(callee, FoldError::DivisionByZero, ty, span);
            return self.unknown(span);
        }
        Expression { kind: ExpressionKind::Standard { function, on, arguments }, ty, span }
    }

    /// Whether an operand with a type of its own is made of number literals only, a real one among them, where LREAL
    /// fits too.
    fn is_real_literal(&self, definition: &FunctionDefinition, index: usize, operand: &Operand<'_>) -> bool {
        definition.parameter(index).is_some_and(|(_, parameter)| parameter.class.accepts(E::Lreal))
            && self.is_written_real(operand)
    }

    /// Whether an operand is made of number literals only, a real one among them.
    pub(super) fn is_written_real(&self, operand: &Operand<'_>) -> bool {
        let Operand::Written(written) = operand else { return false };
        self.is_number_only(written)
            && matches!(self.literal_arithmetic_type(written, None), Some(E::Real | E::Lreal))
    }

    /// An operand with a type of its own: the condition of SEL, the count of a shift, an exponent. The hint is for
    /// a literal where the parameter takes several types.
    fn own_operand(
        &mut self,
        callee: &Callee,
        index: usize,
        operand: Operand<'_>,
        hint: Option<TypeId>,
    ) -> Expression {
        let Some((name, parameter)) = callee.definition.parameter(index) else {
            return self.unknown(operand.span());
        };
        let goal = Goal::Input { name: &name, callee: &callee.shown, place: None };
        if let TypeClass::Exact(kind) = parameter.class {
            let ty = match kind {
                E::String => self
                    .types
                    .intern(Type::String { wide: false, capacity: super::describe::STRING_CAPACITY }),
                E::Wstring => {
                    self.types.intern(Type::String { wide: true, capacity: super::describe::STRING_CAPACITY })
                }
                _ => self.elementary(kind),
            };
            let value = self.operand(operand, Some(ty));
            return self.convert(value, ty, &goal);
        }
        let value = self.operand(operand, hint);
        if self.is_unknown(value.ty) {
            return value;
        }
        let nearest = self.types.elementary_base(value.ty).and_then(|kind| parameter.class.nearest(kind));
        match nearest {
            Some(kind) => {
                let ty = self.elementary(kind);
                self.convert(value, ty, &goal)
            }
            None => {
                self.report_not_accepted(callee, value.ty, value.span, Some((&name, parameter.class)));
                self.unknown(value.span)
            }
        }
    }

    /// Whether the function works on the common type; the type it works on.
    fn accept(&mut self, callee: &Callee, common: Common, values: &[Expression]) -> Option<Common> {
        let definition = callee.definition;
        let class = definition.generic_class()?;
        let span = values.first().map_or(callee.span, |value| value.span);
        let common_id = self.common_type_id(common, values);
        let kind = match common {
            Common::Elementary(kind) => kind,
            Common::Same(_) if callee.typed.is_some() => {
                let type_name = self.type_name(common_id);
                self.report_wrong_type_for_name(callee, type_name, span);
                return None;
            }
            Common::Same(ty) if matches!(definition.lowering, Lowering::ByteOrder { .. }) => {
                return self.accept_byte_order(callee, ty, span).then_some(common);
            }
            Common::Same(ty) => {
                let equality = matches!(
                    definition.lowering,
                    Lowering::Comparison(
                        latchwork_stdlib::ComparisonKind::Equal | latchwork_stdlib::ComparisonKind::NotEqual
                    )
                );
                let instance = self.holds_instance(ty);
                let fits = match self.types.get(ty) {
                    Type::Enumeration(_) | Type::Reference(_) | Type::Interface(_) => {
                        class == TypeClass::Any || equality
                    }
                    Type::Array { .. } | Type::Structure(_) => class == TypeClass::Any && !instance,
                    _ => false,
                };
                if fits {
                    return Some(common);
                }
                self.report_not_accepted(callee, common_id, span, None);
                return None;
            }
        };
        if let Some(typed) = callee.typed {
            if common_id != self.elementary(typed) && !latchwork_stdlib::implicitly_converts(kind, typed) {
                let type_name = self.type_name(common_id);
                self.report_wrong_type_for_name(callee, type_name, span);
                return None;
            }
            return Some(Common::Elementary(typed));
        }
        if class.accepts(kind) {
            return Some(common);
        }
        let overloaded = definition
            .overloads
            .iter()
            .any(|overload| overload.accepts.first().is_some_and(|class| class.accepts(kind)));
        if overloaded {
            return Some(common);
        }
        match class.nearest(kind) {
            Some(nearest) => Some(Common::Elementary(nearest)),
            None => {
                self.report_not_accepted(callee, common_id, span, None);
                None
            }
        }
    }
}

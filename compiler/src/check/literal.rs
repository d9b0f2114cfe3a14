//! Literals and enumeration values: the only expressions whose type depends on where they stand.
//!
//! Source: IEC 61131-3:2013, 6.3 and tables 5 to 9. An untyped integer literal takes the type of the other
//! operand or the target if its value fits, alone the smallest of INT, DINT, LINT and ULINT; a real literal is
//! LREAL beside an LREAL and REAL otherwise (our choices where the standard is silent).

use latchwork_grammar::{
    Diagnostic, Name, Span,
    literal::Literal,
    tree::{self, BinaryOperator, QualifiedName, TypePrefix, UnaryOperator},
};
use latchwork_stdlib::TypeClass;
use latchwork_vm::ElementaryType as E;

use super::{Checker, conversion::Goal};
use crate::{
    constant,
    declare::elementary,
    scope::ValueSymbol,
    typed::{Constant, Expression, ExpressionKind},
    types::{Type, TypeId},
};

/// Most characters of a text: as many as the longest string has.
const TEXT_LENGTH_MAX: usize = 32_767;

impl<'a> Checker<'a> {
    pub(super) fn value_of(&mut self, value: Constant, kind: E, span: Span) -> Expression {
        Expression { kind: ExpressionKind::Constant(value), ty: self.elementary(kind), span }
    }

    /// Whether the type of an expression depends on its place: untyped number and character literals, names of
    /// enumeration values, NULL, and arithmetic on number literals only.
    pub(crate) fn is_contextual(&self, expression: &tree::Expression) -> bool {
        let mut current = expression;
        loop {
            match &current.kind {
                tree::ExpressionKind::Literal(literal) => {
                    return match literal {
                        Literal::Integer(_) | Literal::Real { .. } => true,
                        Literal::String(text) => text.len() == 1,
                        Literal::WideString(text) => text.len() == 1,
                        _ => false,
                    };
                }
                tree::ExpressionKind::Null => return true,
                tree::ExpressionKind::Name(name) => return self.is_value_name(*name),
                tree::ExpressionKind::Parenthesized(inner) => current = inner,
                tree::ExpressionKind::Unary { operand, .. } => current = operand,
                tree::ExpressionKind::Binary { .. } => return self.is_number_only(current),
                _ => return false,
            }
        }
    }

    /// Whether an expression is made of untyped number literals and arithmetic operators only.
    pub(super) fn is_number_only(&self, expression: &tree::Expression) -> bool {
        let mut current = expression;
        loop {
            match &current.kind {
                tree::ExpressionKind::Literal(Literal::Integer(_) | Literal::Real { .. }) => return true,
                tree::ExpressionKind::Parenthesized(inner) => current = inner,
                tree::ExpressionKind::Unary {
                    operand,
                    operator: UnaryOperator::Negate | UnaryOperator::Plus,
                    ..
                } => {
                    current = operand;
                }
                tree::ExpressionKind::Binary { operator, left, right, .. } => {
                    let arithmetic = matches!(
                        operator,
                        BinaryOperator::Add
                            | BinaryOperator::Subtract
                            | BinaryOperator::Multiply
                            | BinaryOperator::Divide
                            | BinaryOperator::Modulo
                    );
                    if !arithmetic || !self.is_number_only(right) {
                        return false;
                    }
                    current = left;
                }
                _ => return false,
            }
        }
    }

    /// Whether a name stands for an enumeration value and not for a variable that hides it.
    fn is_value_name(&self, name: Name) -> bool {
        self.find_variable(name).is_none() && !self.value_candidates(name).is_empty()
    }

    /// The enumeration values of a name that are visible here, those of the unit first.
    pub(super) fn value_candidates(&self, name: Name) -> Vec<ValueSymbol> {
        let inside = self.unit.and_then(|unit| self.units[unit.0 as usize].values.get(&name));
        let outside = self.values.get(&name).into_iter().flatten().filter(|value| self.sees_value(value));
        inside.into_iter().flatten().chain(outside).copied().collect()
    }

    /// The value of an untyped literal with its sign; `hint` is the type wanted where it stands, if known.
    pub(super) fn literal(
        &mut self,
        literal: &Literal,
        negative: bool,
        span: Span,
        hint: Option<TypeId>,
    ) -> Expression {
        let wanted = hint.and_then(|hint| self.types.elementary_base(hint));
        match literal {
            Literal::Integer(digits) => {
                let value = if negative { -i128::from(*digits) } else { i128::from(*digits) };
                self.integer_literal(value, span, wanted)
            }
            Literal::Real { long, short } => {
                let (long, short) = if negative { (-long, -short) } else { (*long, *short) };
                if wanted != Some(E::Lreal) {
                    self.warn_tiny(long, span);
                }
                self.real_literal(long, short, span, wanted)
            }
            Literal::Boolean(value) => self.value_of(Constant::Bool(*value), E::Bool, span),
            Literal::String(text) => {
                if let ([code], Some(E::Char)) = (&text[..], wanted) {
                    return self.value_of(Constant::Integer(i128::from(*code)), E::Char, span);
                }
                let ty = self.string_type(false, text.len(), span);
                Expression { kind: ExpressionKind::Constant(Constant::String(text.to_vec())), ty, span }
            }
            Literal::WideString(text) => {
                if let ([code], Some(E::Wchar)) = (&text[..], wanted) {
                    return self.value_of(Constant::Integer(i128::from(*code)), E::Wchar, span);
                }
                let ty = self.string_type(true, text.len(), span);
                Expression { kind: ExpressionKind::Constant(Constant::WideString(text.to_vec())), ty, span }
            }
            Literal::Duration { nanoseconds, long } => {
                let kind = if *long { E::Ltime } else { E::Time };
                self.value_of(Constant::Time(*nanoseconds), kind, span)
            }
            Literal::Date { nanoseconds, long } => {
                let kind = if *long { E::Ldate } else { E::Date };
                self.value_of(Constant::Time(*nanoseconds), kind, span)
            }
            Literal::TimeOfDay { nanoseconds, long } => {
                let kind = if *long { E::LtimeOfDay } else { E::TimeOfDay };
                self.value_of(Constant::Time(*nanoseconds), kind, span)
            }
            Literal::DateAndTime { nanoseconds, long } => {
                let kind = if *long { E::LdateAndTime } else { E::DateAndTime };
                self.value_of(Constant::Time(*nanoseconds), kind, span)
            }
        }
    }

    /// The type of a text literal of this length.
    fn string_type(&mut self, wide: bool, length: usize, span: Span) -> TypeId {
        if length > TEXT_LENGTH_MAX {
            let message =
                format!("this text has {length} characters, a string holds at most {TEXT_LENGTH_MAX}");
            self.report(
                Diagnostic::error("string-too-long", span, message)
                    .label("too long")
                    .note("divide it into several strings"),
            );
        }
        let capacity = u16::try_from(length).unwrap_or(u16::MAX).max(1);
        self.types.intern(Type::String { wide, capacity })
    }

    fn integer_literal(&mut self, value: i128, span: Span, wanted: Option<E>) -> Expression {
        match wanted {
            Some(E::Bool) if value == 0 || value == 1 => {
                return self.value_of(Constant::Bool(value == 1), E::Bool, span);
            }
            Some(E::Real) => {
                let rounded = value as f32;
                self.warn_inexact(value, rounded as i128, span, E::Real);
                return self.value_of(Constant::Real(rounded), E::Real, span);
            }
            Some(E::Lreal) => {
                let rounded = value as f64;
                self.warn_inexact(value, rounded as i128, span, E::Lreal);
                return self.value_of(Constant::Lreal(rounded), E::Lreal, span);
            }
            Some(kind) if !TypeClass::AnyChars.accepts(kind) && has_value(kind, value) => {
                return self.value_of(Constant::Integer(value), kind, span);
            }
            _ => {}
        }
        match smallest_integer([value]) {
            Some(kind) => self.value_of(Constant::Integer(value), kind, span),
            None => {
                self.report(
                    Diagnostic::error("value-out-of-range", span, format!("no integer type holds {value}"))
                        .label("LINT goes down to -9223372036854775808, ULINT up to 18446744073709551615"),
                );
                self.unknown(span)
            }
        }
    }

    fn warn_inexact(&mut self, value: i128, stored: i128, span: Span, kind: E) {
        if value != stored {
            self.report(
                Diagnostic::warning(
                    "inexact-literal",
                    span,
                    format!("{} cannot hold {value} exactly", kind.name()),
                )
                .label(format!("becomes {stored}"))
                .note("a larger type keeps all digits, or write the rounded number"),
            );
        }
    }

    /// A number without a type in front that is below the least that REAL holds with all digits. What is below the least
    /// of LREAL, or has its type in front, the scanner has spoken of.
    fn warn_tiny(&mut self, value: f64, span: Span) {
        if value.is_normal() && value.abs() < f64::from(f32::MIN_POSITIVE) {
            self.report(
                Diagnostic::warning(
                    "inexact-literal",
                    span,
                    "this number is too small for REAL and loses digits",
                )
                .label("stored as zero or with fewer digits"),
            );
        }
    }

    fn real_literal(&mut self, long: f64, short: f32, span: Span, wanted: Option<E>) -> Expression {
        if wanted == Some(E::Lreal) {
            if long.is_finite() {
                return self.value_of(Constant::Lreal(long), E::Lreal, span);
            }
        } else if short.is_finite() {
            return self.value_of(Constant::Real(short), E::Real, span);
        }
        let kind = if wanted == Some(E::Lreal) { E::Lreal } else { E::Real };
        let mut diagnostic = Diagnostic::error(
            "value-out-of-range",
            span,
            format!("this number is too large for {}", kind.name()),
        )
        .label("too large");
        if kind == E::Real && long.is_finite() {
            diagnostic = diagnostic.note(format!("LREAL holds it: `LREAL#{}`", self.text(span)));
        }
        self.report(diagnostic);
        self.unknown(span)
    }

    /// A literal with an elementary type in front: `INT#-5`, `BOOL#1`, `CHAR#'X'`.
    pub(super) fn typed_literal(
        &mut self,
        prefix: TypePrefix,
        negative: bool,
        literal: &Literal,
        span: Span,
    ) -> Expression {
        let kind = match prefix {
            TypePrefix::Elementary(kind) => elementary(kind),
            TypePrefix::String { wide } => {
                let text = match literal {
                    Literal::String(text) if wide => {
                        Constant::WideString(text.iter().map(|code| u16::from(*code)).collect())
                    }
                    Literal::String(text) => Constant::String(text.to_vec()),
                    Literal::WideString(text) if wide => Constant::WideString(text.to_vec()),
                    _ => return self.wrong_typed_literal(if wide { E::Wstring } else { E::String }, span),
                };
                let length = match &text {
                    Constant::String(text) => text.len(),
                    Constant::WideString(text) => text.len(),
                    _ => 0,
                };
                let ty = self.string_type(wide, length, span);
                return Expression { kind: ExpressionKind::Constant(text), ty, span };
            }
        };
        let wanted = self.elementary(kind);
        match (literal, kind) {
            (Literal::Boolean(value), E::Bool) => self.value_of(Constant::Bool(*value), E::Bool, span),
            (Literal::String(text), E::Char | E::Wchar) => match &text[..] {
                [code] => self.value_of(Constant::Integer(i128::from(*code)), kind, span),
                _ => self.wrong_typed_literal(kind, span),
            },
            (Literal::WideString(text), E::Wchar) => match &text[..] {
                [code] => self.value_of(Constant::Integer(i128::from(*code)), kind, span),
                _ => self.wrong_typed_literal(kind, span),
            },
            (Literal::Integer(digits), E::Char | E::Wchar) if !negative => {
                let value = i128::from(*digits);
                match constant::integer_range(kind) {
                    Some((_, upper)) if value <= upper => self.value_of(Constant::Integer(value), kind, span),
                    _ => self.wrong_typed_literal(kind, span),
                }
            }
            (Literal::Real { long, short }, E::Real | E::Lreal) => {
                let (long, short) = if negative { (-long, -short) } else { (*long, *short) };
                self.real_literal(long, short, span, Some(kind))
            }
            (Literal::Integer(_), E::Bool | E::Real | E::Lreal) => {
                let value = self.literal(literal, negative, span, Some(wanted));
                self.convert(value, wanted, &Goal::NamedValue)
            }
            (Literal::Integer(_), _) if constant::integer_range(kind).is_some() => {
                let value = self.literal(literal, negative, span, Some(wanted));
                self.convert(value, wanted, &Goal::NamedValue)
            }
            (
                Literal::Duration { nanoseconds, .. }
                | Literal::Date { nanoseconds, .. }
                | Literal::TimeOfDay { nanoseconds, .. }
                | Literal::DateAndTime { nanoseconds, .. },
                _,
            ) if !negative && TypeClass::AnyDate.accepts(kind) | TypeClass::AnyDuration.accepts(kind) => {
                self.value_of(Constant::Time(*nanoseconds), kind, span)
            }
            _ => self.wrong_typed_literal(kind, span),
        }
    }

    fn wrong_typed_literal(&mut self, kind: E, span: Span) -> Expression {
        self.report(
            Diagnostic::error(
                "value-out-of-range",
                span,
                format!("what stands behind `#` is not a value of {}", kind.name()),
            )
            .label(format!("not a value of {}", kind.name())),
        );
        self.unknown(span)
    }

    /// `Type#Value` with a user type.
    pub(super) fn qualified_value(
        &mut self,
        type_name: &QualifiedName,
        value: &tree::Expression,
        span: Span,
    ) -> Expression {
        let ty = self.type_by_name(type_name.name);
        if self.is_unknown(ty) {
            return self.unknown(span);
        }
        let tree::ExpressionKind::Name(name) = value.kind else {
            let value = self.expression_for(value, ty, &Goal::NamedValue);
            return Expression { span, ..value };
        };
        let derived = match self.types.get(self.types.underlying(ty)) {
            Type::Enumeration(derived) | Type::NamedValues { id: derived, .. } => *derived,
            _ => {
                let shown = self.type_name(ty);
                self.report(
                    Diagnostic::error("unknown-value", span, format!("{shown} has no named values"))
                        .label("a literal is needed behind `#`"),
                );
                return self.unknown(span);
            }
        };
        let enumeration = self.types.enumeration(derived);
        if let Some((_, number)) = enumeration.values.iter().find(|(listed, _)| *listed == name) {
            let kind = ExpressionKind::Constant(Constant::Integer(*number));
            return Expression { kind, ty, span };
        }
        let names: Vec<String> =
            enumeration.values.iter().map(|(name, _)| self.spelling(*name).to_owned()).collect();
        let place = enumeration.span;
        let shown = self.type_name(ty);
        self.report(
            Diagnostic::error(
                "unknown-value",
                value.span,
                format!("{shown} has no value `{}`", self.text(value.span)),
            )
            .label("not in the list of the type")
            .also(place, format!("{shown} is declared here"))
            .note(format!("it has {}", crate::declare::listed(&names))),
        );
        self.unknown(span)
    }

    /// An enumeration value by its plain name; the wanted type decides between several.
    pub(super) fn plain_value(&mut self, name: Name, span: Span, hint: Option<TypeId>) -> Expression {
        let candidates = self.value_candidates(name);
        let wanted = hint.map(|hint| self.types.underlying(hint));
        let fitting =
            candidates.iter().find(|symbol| Some(symbol.ty) == wanted).or(match candidates.as_slice() {
                [only] => Some(only),
                _ => None,
            });
        if let Some(symbol) = fitting {
            let kind = ExpressionKind::Constant(Constant::Integer(symbol.value));
            return Expression { kind, ty: symbol.ty, span };
        }
        let spelling = self.text(span);
        let mut diagnostic = Diagnostic::error(
            "ambiguous-value",
            span,
            format!("`{spelling}` is a value of more than one enumeration"),
        )
        .label("which one?");
        let types: Vec<String> = candidates.iter().map(|symbol| self.type_name(symbol.ty)).collect();
        if let Some(first) = types.first() {
            diagnostic = diagnostic.note(format!("put its type in front: `{first}#{spelling}`"));
        }
        diagnostic = diagnostic.note(format!("it is in {}", crate::declare::listed(&types)));
        self.report(diagnostic);
        self.unknown(span)
    }

    /// The type arithmetic on number literals only works in: the wanted integer or real type if all of them
    /// are its values, otherwise the one they have alone.
    pub(super) fn literal_arithmetic_type(
        &self,
        expression: &tree::Expression,
        hint: Option<TypeId>,
    ) -> Option<E> {
        // The smallest and the greatest.
        let mut integers: Option<(i128, i128)> = None;
        let mut real = false;
        let mut pending = Vec::new();
        let mut next = Some((expression, false));
        while let Some((current, negative)) = next.take().or_else(|| pending.pop()) {
            match &current.kind {
                tree::ExpressionKind::Literal(Literal::Integer(digits)) => {
                    let value = if negative { -i128::from(*digits) } else { i128::from(*digits) };
                    let (least, most) = integers.unwrap_or((value, value));
                    integers = Some((least.min(value), most.max(value)));
                }
                tree::ExpressionKind::Literal(_) => real = true,
                tree::ExpressionKind::Parenthesized(inner) => next = Some((inner, negative)),
                tree::ExpressionKind::Unary { operand, operator, .. } => {
                    next = Some((operand, negative ^ (*operator == UnaryOperator::Negate)));
                }
                tree::ExpressionKind::Binary { left, right, .. } => {
                    next = Some((left, false));
                    pending.push((right, false));
                }
                _ => return None,
            }
        }
        let wanted = hint.and_then(|hint| self.types.elementary_base(hint));
        if real {
            return Some(if wanted == Some(E::Lreal) { E::Lreal } else { E::Real });
        }
        let fits = |kind: E| {
            TypeClass::AnyInt.accepts(kind)
                && constant::integer_range(kind).is_some_and(|(lower, upper)| {
                    integers.is_none_or(|(least, most)| least >= lower && most <= upper)
                })
        };
        wanted
            .filter(|kind| fits(*kind))
            .or_else(|| smallest_integer(integers.into_iter().flat_map(|(least, most)| [least, most])))
    }
}

/// Whether an integer or bit string type has a value.
fn has_value(kind: E, value: i128) -> bool {
    constant::integer_range(kind).is_some_and(|(lower, upper)| value >= lower && value <= upper)
}

/// The smallest of INT, DINT, LINT and ULINT that holds all values.
fn smallest_integer(values: impl IntoIterator<Item = i128> + Clone) -> Option<E> {
    let fits = |kind: &E| values.clone().into_iter().all(|value| has_value(*kind, value));
    [E::Int, E::Dint, E::Lint, E::Ulint].into_iter().find(fits)
}

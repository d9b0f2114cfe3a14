//! What is wrong with a call of a standard function or an operator, in words.

use latchwork_grammar::{Diagnostic, Span};
use latchwork_stdlib::{TypeClass, conversion};
use latchwork_vm::ElementaryType as E;

use super::{Checker, standard::Callee};
use crate::{
    constant::{self, FoldError},
    typed::{Constant, Expression, ExpressionKind},
    types::{Type, TypeId},
};

impl Checker<'_> {
    pub(super) fn report_fold(&mut self, callee: &Callee, error: FoldError, ty: TypeId, span: Span) {
        let type_name = self.type_name(ty);
        let diagnostic = match error {
            FoldError::DivisionByZero => Diagnostic::error("division-by-zero", span, "this divides by zero")
                .label("the divisor is always 0"),
            FoldError::Overflow | FoldError::Conversion => {
                let mut diagnostic = Diagnostic::error(
                    "constant-overflow",
                    span,
                    format!("the result of {} is not a value of {type_name}", callee.shown),
                )
                .label(format!("outside {type_name}"));
                let kind = self.types.elementary_base(ty);
                if let Some((lower, upper)) = kind.and_then(constant::integer_range) {
                    diagnostic = diagnostic.note(format!("{type_name} goes from {lower} to {upper}"));
                }
                if kind == Some(E::Int) && error == FoldError::Overflow {
                    diagnostic = diagnostic.note("a larger type on one operand makes room: `DINT#…`");
                }
                diagnostic
            }
            FoldError::Selector => Diagnostic::error(
                "constant-overflow",
                span,
                format!("the selector of {} chooses none of its inputs", callee.shown),
            )
            .label("K counts the inputs from 0"),
            FoldError::ShiftCount => Diagnostic::error(
                "constant-overflow",
                span,
                format!("{} cannot move bits by a negative number of places", callee.shown),
            )
            .label("N is less than 0")
            .note("the other direction is another function: `SHL` and `SHR`, `ROL` and `ROR`"),
        };
        self.report(diagnostic);
    }

    /// Why a comparison or selection does not work on a type that is not elementary.
    pub(super) fn not_elementary(&self, ty: TypeId) -> Option<&'static str> {
        match self.types.get(self.types.underlying(ty)) {
            Type::Array { .. } | Type::Structure(_) => Some("compare single elements or members"),
            Type::Enumeration(_) => {
                Some("the values of an enumeration have no order; `=` and `<>` compare them")
            }
            Type::Interface(_) => Some("interface variables can only be compared with `=` and `<>`"),
            Type::Reference(_) => Some("references can only be compared with `=` and `<>`"),
            Type::Unit(_) | Type::StandardBlock(_) => {
                Some("a function block instance has no value of its own; use one of its outputs")
            }
            _ => None,
        }
    }

    /// An operand that is not of the type in the function's name.
    pub(super) fn report_wrong_type_for_name(&mut self, callee: &Callee, operand: String, span: Span) {
        let typed = callee.typed.map_or("another type", E::name);
        let mut diagnostic = Diagnostic::error(
            "operand-types",
            span,
            format!("{} works on {typed}, not on {operand}", callee.shown),
        )
        .label(operand.clone());
        let text = operand.contains("STRING") || operand.ends_with("CHAR");
        let typed = callee.typed.filter(|_| text);
        if let Some(note) = typed.and_then(|typed| self.typed_width_note(typed, span)) {
            diagnostic = diagnostic.note(note);
        }
        self.report(diagnostic);
    }

    pub(super) fn report_not_accepted(
        &mut self,
        callee: &Callee,
        operand: TypeId,
        span: Span,
        parameter: Option<(&str, TypeClass)>,
    ) {
        let type_name = self.type_name(operand);
        let message = match parameter {
            Some((name, class)) => {
                format!("`{name}` of {} must be {}, this is {type_name}", callee.shown, class_words(class))
            }
            None => format!("{} does not work on {type_name}", callee.shown),
        };
        let mut diagnostic = Diagnostic::error("operand-types", span, message).label(type_name.clone());
        let class = callee.definition.generic_class();
        let wanted = parameter.map(|(_, class)| class).or(class);
        if let Some(note) = wanted.and_then(|class| self.conversion_note(operand, class)) {
            diagnostic = diagnostic.note(note);
        }
        if parameter.is_none() {
            match class {
                Some(
                    class @ (TypeClass::AnyMagnitude
                    | TypeClass::AnyNum
                    | TypeClass::AnyInt
                    | TypeClass::AnyBit
                    | TypeClass::AnyReal
                    | TypeClass::AnyString),
                ) => {
                    diagnostic = diagnostic.note(format!("it works on {}", class_words(class)));
                }
                Some(TypeClass::AnyElementary) => {
                    if let Some(note) = self.not_elementary(operand) {
                        diagnostic = diagnostic.note(note);
                    }
                }
                _ => {}
            }
            let text = type_name.contains("STRING");
            if callee.shown == "`+`" && text && latchwork_stdlib::function("CONCAT").is_some() {
                diagnostic = diagnostic.note("texts are joined with the function CONCAT");
            }
        }
        self.report(diagnostic);
    }

    pub(super) fn report_no_common(
        &mut self,
        callee: &Callee,
        left: TypeId,
        right: TypeId,
        values: &[Expression],
    ) {
        let (left_name, right_name) = (self.type_name(left), self.type_name(right));
        let mut diagnostic = Diagnostic::error(
            "operand-types",
            callee.span,
            format!("{} does not work on {left_name} together with {right_name}", callee.shown),
        )
        .label("the operands have no common type");
        for (ty, name) in [(left, &left_name), (right, &right_name)] {
            if let Some(value) = values.iter().find(|value| value.ty == ty) {
                diagnostic = diagnostic.also(value.span, name.clone());
            }
        }
        if let Some(note) = self.width_note(left, right, values) {
            self.report(diagnostic.note(note));
            return;
        }
        let kinds = (self.types.elementary_base(left), self.types.elementary_base(right));
        let note = match (self.types.get(left), self.types.get(right)) {
            (Type::Unit(_) | Type::StandardBlock(_), _) | (_, Type::Unit(_) | Type::StandardBlock(_)) => {
                Some("a function block instance has no value of its own; use one of its outputs".to_owned())
            }
            (Type::Enumeration(_), _) | (_, Type::Enumeration(_)) => Some(
                "values of an enumeration go together with values of the same enumeration only".to_owned(),
            ),
            _ => match kinds {
                (Some(first), Some(second)) => {
                    let bits = |kind| TypeClass::AnyBit.accepts(kind);
                    let number = |kind| TypeClass::AnyNum.accepts(kind);
                    if (bits(first) && number(second)) || (number(first) && bits(second)) {
                        let (bit, number) = if bits(first) { (first, second) } else { (second, first) };
                        self.bit_note(callee, (bit, number), values)
                    } else if number(first) && number(second) {
                        Some(format!(
                            "no type holds all values of both; convert one: `{}_TO_{}(…)` or `{}_TO_{}(…)`",
                            first.name(),
                            second.name(),
                            second.name(),
                            first.name()
                        ))
                    } else {
                        None
                    }
                }
                _ => None,
            },
        };
        if let Some(note) = note {
            diagnostic = diagnostic.note(note);
        }
        self.report(diagnostic);
    }
}

impl Checker<'_> {
    /// What to do where a bit string stands beside a number.
    fn bit_note(&self, callee: &Callee, (bit, number): (E, E), values: &[Expression]) -> Option<String> {
        let literal = values.iter().find_map(|value| match &value.kind {
            ExpressionKind::Constant(Constant::Integer(literal))
                if self.types.elementary_base(value.ty) == Some(number) =>
            {
                Some(literal)
            }
            _ => None,
        });
        let too_large =
            |literal: &i128| constant::integer_range(bit).is_none_or(|(_, upper)| *literal > upper);
        if literal.is_some_and(too_large) {
            return Some(format!("the literal has more bits than {}", bit.name()));
        }
        let works_on = |kind| callee.definition.generic_class().is_none_or(|class| class.accepts(kind));
        if bit == E::Bool && !works_on(number) {
            return Some("BOOL and numbers do not mix; ask something about the number: `… <> 0`".to_owned());
        }
        let (from, to) = if works_on(number) { (bit, number) } else { (number, bit) };
        conversion(from, to, false)?;
        Some(format!(
            "bit strings and numbers do not mix; convert one: `{}_TO_{}(…)`",
            from.name(),
            to.name()
        ))
    }

    /// The function that makes of a type the one of a class that comes nearest, for a remedy.
    fn conversion_note(&self, operand: TypeId, class: TypeClass) -> Option<String> {
        let from = self.types.elementary_base(operand)?;
        let to = match class {
            TypeClass::AnyUnsigned if from.is_signed() => unsigned_as_wide(from)?,
            TypeClass::AnyInt if from.is_real() => E::Int,
            TypeClass::AnyInt if from.is_bit() && from != E::Bool => unsigned_as_wide(from)?,
            TypeClass::AnyString if !from.is_chars() => E::String,
            _ => return None,
        };
        conversion(from, to, false)?;
        Some(format!("convert it: `{}_TO_{}(…)`", from.name(), to.name()))
    }

    /// What to do where texts or characters of one byte stand beside those of two.
    fn width_note(&self, left: TypeId, right: TypeId, values: &[Expression]) -> Option<String> {
        let (first, second) = (self.kind_of(left)?, self.kind_of(right)?);
        let wide = |kind| matches!(kind, E::Wstring | E::Wchar);
        let texts = TypeClass::AnyChars.accepts(first) && TypeClass::AnyChars.accepts(second);
        if !texts || wide(first) == wide(second) {
            return None;
        }
        let literal = values.iter().filter(|value| value.ty == left || value.ty == right).find_map(|value| {
            let written = self.text(value.span);
            written.starts_with(['\'', '"']).then(|| written.starts_with('"'))
        });
        Some(match literal {
            Some(true) => "STRING literals stand in single quotes: '…'".to_owned(),
            Some(false) => "WSTRING literals stand in double quotes: \"…\"".to_owned(),
            None => match conversion(first, second, false) {
                Some(_) => format!(
                    "texts of one width go together; convert one: `{}_TO_{}(…)`",
                    first.name(),
                    second.name()
                ),
                None => "texts of one width go together: STRING with STRING, WSTRING with WSTRING".to_owned(),
            },
        })
    }

    /// What to do where a typed name such as `LEFT_WSTRING` is given a text of the other width.
    fn typed_width_note(&self, typed: E, operand: Span) -> Option<&'static str> {
        let written = self.text(operand);
        match typed {
            E::Wstring if written.starts_with('\'') => Some("WSTRING literals stand in double quotes: \"…\""),
            E::String if written.starts_with('"') => Some("STRING literals stand in single quotes: '…'"),
            E::String | E::Wstring => Some("the name without a type takes texts of both widths"),
            _ => None,
        }
    }
}

/// The unsigned integer type of as many bits.
pub(super) fn unsigned_as_wide(kind: E) -> Option<E> {
    E::ALL.iter().copied().find(|other| other.is_unsigned() && other.size() == kind.size())
}

/// A generic type in plain words, with its name in the standard.
fn class_words(class: TypeClass) -> String {
    let words = match class {
        TypeClass::AnyInt => "an integer",
        TypeClass::AnyUnsigned => "an unsigned integer",
        TypeClass::AnyReal => "REAL or LREAL",
        TypeClass::AnyNum => "an integer or real number",
        TypeClass::AnyMagnitude => "a number or duration",
        TypeClass::AnyBit => "BOOL, BYTE, WORD, DWORD or LWORD",
        TypeClass::AnyString => "a string or a character",
        _ => return class.name().to_owned(),
    };
    format!("{words} ({})", class.name())
}

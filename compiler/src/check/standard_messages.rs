//! What is wrong with a call of a standard function or an operator, in words.

use latchwork_grammar::{Diagnostic, Span};
use latchwork_stdlib::{TypeClass, conversion};
use latchwork_vm::ElementaryType as E;

use super::{Checker, standard::Callee};
use crate::{
    constant::{self, FoldError},
    typed::Expression,
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
        self.report(
            Diagnostic::error(
                "operand-types",
                span,
                format!("{} works on {typed}, not on {operand}", callee.shown),
            )
            .label(operand),
        );
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
        if parameter.is_none() {
            match class {
                Some(
                    class @ (TypeClass::AnyMagnitude
                    | TypeClass::AnyNum
                    | TypeClass::AnyInt
                    | TypeClass::AnyBit
                    | TypeClass::AnyReal),
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
                    let target = if number(first) { (second, first) } else { (first, second) };
                    if (bits(first) && number(second)) || (number(first) && bits(second)) {
                        conversion(target.0, target.1, false).map(|_| {
                            format!(
                                "bit strings and numbers do not mix; convert one: `{}_TO_{}(…)`",
                                target.0.name(),
                                target.1.name()
                            )
                        })
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

/// A generic type in plain words, with its name in the standard.
fn class_words(class: TypeClass) -> String {
    let words = match class {
        TypeClass::AnyInt => "an integer",
        TypeClass::AnyReal => "REAL or LREAL",
        TypeClass::AnyNum => "an integer or real number",
        TypeClass::AnyMagnitude => "a number or duration",
        TypeClass::AnyBit => "BOOL, BYTE, WORD, DWORD or LWORD",
        _ => return class.name().to_owned(),
    };
    format!("{words} ({})", class.name())
}

//! From the type an expression has to the type its place wants: the value-keeping implicit conversions, and
//! the messages where there is none.
//!
//! Source: IEC 61131-3:2013, 6.4.2.6 (implicit conversion), 6.4.4 (derived types, subranges, enumerations).

use latchwork_grammar::{Diagnostic, Span};
use latchwork_stdlib::{TypeClass, conversion, implicitly_converts};
use latchwork_vm::ElementaryType as E;

use super::{Checker, operands::Common};
use crate::{
    constant,
    typed::{Constant, Expression, ExpressionKind},
    types::{Type, TypeId},
};

/// What a value is for: the second half of the messages.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Goal<'g> {
    /// Assigned to the variable at a place.
    Assignment { place: Span },
    /// The initial value of what is declared at a place.
    Initial { place: Span },
    /// An input of a call: the parameter's name and, for user units, its declaration.
    Input { name: &'g str, callee: &'g str, place: Option<Span> },
    /// The condition behind a keyword.
    Condition { keyword: &'static str },
    /// A bound, step or initial value of FOR.
    Loop { what: &'static str, place: Span },
    /// The operand of a function or operator.
    Operand { function: &'g str },
    /// A label of CASE.
    Label { selector: Span },
    /// The value of a named value.
    NamedValue,
}

impl<'a> Checker<'a> {
    /// Brings an expression to a type; reports if there is no implicit conversion. The result has exactly the
    /// type `to`, or [`Type::Unknown`] after a report.
    pub(crate) fn convert(&mut self, value: Expression, to: TypeId, goal: &Goal) -> Expression {
        if value.ty == to || self.is_unknown(value.ty) {
            return value;
        }
        if self.is_unknown(to) {
            return self.unknown(value.span);
        }
        let span = value.span;
        if let Some(address) = self.instance_as_interface(&value, to) {
            return address;
        }
        if !self.check_text_length(&value, to, goal) {
            return self.unknown(span);
        }
        match self.try_convert(value, to) {
            Ok(converted) => converted,
            Err(value) => {
                self.report_mismatch(&value, to, goal);
                self.unknown(span)
            }
        }
    }

    /// A text constant that the target cannot hold: an error where nothing runs, a warning elsewhere.
    fn check_text_length(&mut self, value: &Expression, to: TypeId, goal: &Goal) -> bool {
        let ExpressionKind::Constant(text) = &value.kind else { return true };
        let Type::String { capacity, .. } = *self.types.get(self.types.underlying(to)) else { return true };
        if fits_string(text, capacity) || !self.converts(value.ty, to) {
            return true;
        }
        let length = match text {
            Constant::String(text) => text.len(),
            Constant::WideString(text) => text.len(),
            _ => return true,
        };
        let to_name = self.type_name(to);
        let message = format!("{length} characters do not fit {to_name}");
        let place = match goal {
            Goal::Assignment { place } | Goal::Initial { place } => Some(*place),
            _ => None,
        };
        let certain = matches!(goal, Goal::Initial { .. });
        let mut diagnostic = if certain {
            Diagnostic::error("string-too-long", value.span, message).label("too long")
        } else {
            Diagnostic::warning("string-too-long", value.span, message)
                .label(format!("cut behind character {capacity} at run time"))
        };
        if let Some(place) = place {
            diagnostic = diagnostic.also(place, to_name);
        }
        self.report(diagnostic);
        !certain
    }

    /// Whether a value of one type may stand where another is wanted, whatever the value.
    pub(crate) fn converts(&self, from: TypeId, to: TypeId) -> bool {
        let (from, to) = (self.types.underlying(from), self.types.underlying(to));
        if from == to || self.is_unknown(from) || self.is_unknown(to) {
            return true;
        }
        match (self.types.get(from), self.types.get(to)) {
            (Type::NamedValues { .. }, Type::NamedValues { .. }) => false,
            (Type::String { wide, .. }, Type::String { wide: other, .. }) => wide == other,
            (_, Type::String { wide, .. }) => {
                let character = if *wide { E::Wchar } else { E::Char };
                self.types.elementary_base(from) == Some(character)
            }
            (Type::Null, Type::Reference(_)) => true,
            (Type::Unit(_), Type::Interface(_)) => false,
            (
                Type::Reference(_) | Type::Interface(_) | Type::Null,
                Type::Reference(_) | Type::Interface(_),
            ) => self.object_converts(from, to),
            _ => match (self.types.elementary_base(from), self.types.elementary_base(to)) {
                (Some(from), Some(to)) => implicitly_converts(from, to),
                _ => false,
            },
        }
    }

    fn try_convert(&mut self, value: Expression, to: TypeId) -> Result<Expression, Expression> {
        let span = value.span;
        if !self.converts(value.ty, to) {
            return Err(value);
        }
        let wrap = |value: Expression, ty: TypeId| Expression {
            kind: ExpressionKind::Convert(Box::new(value)),
            ty,
            span,
        };
        let (from_base, to_base) = (self.types.elementary_base(value.ty), self.types.elementary_base(to));
        let (from_type, to_type) = (self.types.underlying(value.ty), self.types.underlying(to));
        // Constants are converted at once.
        if let ExpressionKind::Constant(constant) = &value.kind {
            let converted = match (from_base, to_base, self.types.get(to_type)) {
                (Some(from), Some(to), _) => match constant::convert(constant, from, to, false) {
                    Some(Ok(constant)) => Some(constant),
                    _ => None,
                },
                (Some(from), None, Type::String { wide, .. }) => {
                    let string = if *wide { E::Wstring } else { E::String };
                    match constant::convert(constant, from, string, false) {
                        Some(Ok(constant)) => Some(constant),
                        _ => None,
                    }
                }
                (None, None, Type::String { capacity, .. }) => {
                    fits_string(constant, *capacity).then(|| constant.clone())
                }
                _ => Some(constant.clone()),
            };
            if let Some(converted) = converted {
                if let Type::Subrange { lower, upper, .. } = self.types.get(to_type)
                    && let Constant::Integer(number) = &converted
                    && (number < lower || number > upper)
                {
                    return Err(value);
                }
                return Ok(Expression { kind: ExpressionKind::Constant(converted), ty: to, span });
            }
        }
        if let Type::Subrange { base, lower, upper, .. } = self.types.get(to_type).clone()
            && from_type != to_type
        {
            let inside = match self.types.get(from_type) {
                Type::Subrange { lower: low, upper: high, .. } => *low >= lower && *high <= upper,
                _ => {
                    let range = from_base.and_then(constant::integer_range);
                    range.is_some_and(|(low, high)| low >= lower && high <= upper)
                }
            };
            let base = self.elementary(base);
            let value = if value.ty == base { value } else { wrap(value, base) };
            if inside {
                return Ok(wrap(value, to));
            }
            return Ok(Expression { kind: ExpressionKind::CheckRange(Box::new(value)), ty: to, span });
        }
        Ok(wrap(value, to))
    }

    /// Says why a value does not fit and what to write instead.
    fn report_mismatch(&mut self, value: &Expression, to: TypeId, goal: &Goal) {
        if self.report_out_of_range(value, to, goal) {
            return;
        }
        let from_name = self.type_name(value.ty);
        let to_name = self.type_name(to);
        let from_base = self.types.elementary_base(value.ty);
        let to_base = self.types.elementary_base(to);
        if let Goal::Condition { keyword } = goal {
            let written = self.text(value.span);
            let mut diagnostic = Diagnostic::error(
                "condition-not-boolean",
                value.span,
                format!("the condition of {keyword} must be BOOL, this is {from_name}"),
            )
            .label(from_name);
            if Some(value.ty) == self.step_type {
                diagnostic = diagnostic.note(step_note(written));
            }
            if from_base
                .is_some_and(|kind| TypeClass::AnyNum.accepts(kind) || TypeClass::AnyBit.accepts(kind))
            {
                diagnostic = diagnostic.note(format!("say what you want to know about it: `{written} <> 0`"));
            }
            self.report(diagnostic);
            return;
        }
        let (message, place) = self.goal_words(&from_name, &to_name, goal);
        let mut diagnostic = Diagnostic::error("type-mismatch", value.span, message).label(from_name.clone());
        if let Some(place) = place {
            diagnostic = diagnostic.also(place, to_name.clone());
        }
        for note in self.mismatch_notes(value, to, (from_base, to_base), goal) {
            diagnostic = diagnostic.note(note);
        }
        self.report(diagnostic);
    }

    fn goal_words(&self, from: &str, to: &str, goal: &Goal) -> (String, Option<Span>) {
        match goal {
            Goal::Assignment { place } => {
                (format!("{from} cannot be stored in `{}`, which is {to}", self.text(*place)), Some(*place))
            }
            Goal::Initial { place } => (
                format!("{from} cannot be the initial value of `{}`, which is {to}", self.text(*place)),
                Some(*place),
            ),
            Goal::Input { name, callee, place } => {
                (format!("{from} cannot be passed to `{name}` of {callee}, which is {to}"), *place)
            }
            Goal::Condition { keyword } => (format!("the condition of {keyword} must be BOOL"), None),
            Goal::Loop { what, place } => (
                format!("the {what} of this FOR must be {to} like its control variable, not {from}"),
                Some(*place),
            ),
            Goal::Operand { function } => (format!("{function} needs {to} here, not {from}"), None),
            Goal::Label { selector } => {
                (format!("a label of this CASE must be {to} like its selector, not {from}"), Some(*selector))
            }
            Goal::NamedValue => (format!("a named value must be {to} here, not {from}"), None),
        }
    }

    fn mismatch_notes(
        &self,
        value: &Expression,
        to: TypeId,
        (from_base, to_base): (Option<E>, Option<E>),
        goal: &Goal,
    ) -> Vec<String> {
        let mut notes = Vec::new();
        let written = self.text(value.span);
        if let Some(notes) = self.object_notes(value.ty, to, goal) {
            return notes;
        }
        let short = if written.len() <= 40 && !written.contains('\n') { written } else { "…" };
        if Some(value.ty) == self.step_type {
            notes.push(step_note(written));
            return notes;
        }
        match (self.types.get(self.types.underlying(value.ty)), self.types.get(self.types.underlying(to))) {
            (Type::Unit(_) | Type::StandardBlock(_), _) => {
                notes.push(
                    "a function block instance has no value of its own; read one of its outputs".to_owned(),
                );
                return notes;
            }
            (Type::Enumeration(_), Type::Enumeration(_)) => {
                notes.push(
                    "two enumerations are two types, even where their values have the same names".to_owned(),
                );
                return notes;
            }
            (Type::Enumeration(_), _) | (_, Type::Enumeration(_)) => {
                notes.push(
                    "an enumeration is no number; assign and compare values of its own list only".to_owned(),
                );
                return notes;
            }
            (Type::Array { .. }, Type::Array { .. }) => {
                notes.push("arrays match when their element types and bounds are the same".to_owned());
                return notes;
            }
            (Type::String { wide: false, .. }, Type::String { wide: true, .. })
                if written.starts_with('\'') =>
            {
                notes.push("WSTRING literals stand in double quotes: \"…\"".to_owned());
                return notes;
            }
            (Type::String { wide: true, .. }, Type::String { wide: false, .. })
                if written.starts_with('"') =>
            {
                notes.push("STRING literals stand in single quotes: '…'".to_owned());
                return notes;
            }
            (Type::Reference(_), Type::Reference(_)) => {
                notes.push("a reference keeps to the one type it was declared with".to_owned());
                return notes;
            }
            (_, Type::Reference(_)) => {
                notes.push("a reference is made with `REF(variable)`".to_owned());
                return notes;
            }
            _ => {}
        }
        let (Some(from), Some(to)) = (from_base, to_base) else {
            let kinds = (self.common_of(value.ty), self.common_of(to));
            if let (Common::Elementary(from), Common::Elementary(to)) = kinds
                && conversion(from, to, false).is_some()
            {
                notes.push(format!("convert it: `{}_TO_{}({short})`", from.name(), to.name()));
            }
            return notes;
        };
        if let (ExpressionKind::Constant(Constant::Real(number)), true) =
            (&value.kind, TypeClass::AnyInt.accepts(to))
            && number.fract() == 0.0
            && number.abs() < 1.0e9
        {
            notes.push(format!("write the integer: `{number:.0}`"));
            return notes;
        }
        if TypeClass::AnyDuration.accepts(to) && TypeClass::AnyNum.accepts(from) {
            notes.push(match &value.kind {
                ExpressionKind::Constant(Constant::Integer(number)) if *number >= 0 => {
                    format!("a duration is written with its unit: `T#{number}s`, `T#{number}ms`")
                }
                _ => format!("a number becomes a duration by multiplying: `T#1s * {short}`"),
            });
            return notes;
        }
        if TypeClass::AnyInt.accepts(from) && to == E::Bool {
            notes.push(format!("a number is not TRUE or FALSE; ask something about it: `{short} <> 0`"));
            return notes;
        }
        let (bits, integer) = (TypeClass::AnyBit, TypeClass::AnyInt);
        if from == E::Bool && TypeClass::AnyNum.accepts(to) {
            notes.push("BOOL is no number; choose one of two numbers with `SEL(condition, 0, 1)`".to_owned());
        } else if (bits.accepts(from) && integer.accepts(to)) || (integer.accepts(from) && bits.accepts(to)) {
            notes.push("bit strings and integers are different kinds of values".to_owned());
        }
        if conversion(from, to, false).is_some() {
            let how = if TypeClass::AnyReal.accepts(from) && integer.accepts(to) {
                ", which rounds to the nearest integer"
            } else if integer.accepts(to) && integer.accepts(from) {
                ", if the value always fits"
            } else {
                ""
            };
            notes.push(format!("convert it: `{}_TO_{}({short})`{how}", from.name(), to.name()));
        }
        if TypeClass::AnyReal.accepts(from) && integer.accepts(to) {
            notes.push(format!("`{}_TRUNC_{}` drops the fraction instead", from.name(), to.name()));
        }
        notes
    }

    /// A constant that the type does not have: the message names the range.
    fn report_out_of_range(&mut self, value: &Expression, to: TypeId, goal: &Goal) -> bool {
        let ExpressionKind::Constant(Constant::Integer(number)) = &value.kind else { return false };
        let number = *number;
        let to_name = self.type_name(to);
        let to_base = self.types.elementary_base(to);
        let from_is_integer =
            self.types.elementary_base(value.ty).is_some_and(|kind| TypeClass::AnyInt.accepts(kind));
        if !from_is_integer {
            return false;
        }
        let range = match self.types.get(self.types.underlying(to)) {
            Type::Subrange { lower, upper, .. } => Some((*lower, *upper)),
            _ if to_base == Some(E::Bool) => Some((0, 1)),
            _ => to_base.and_then(constant::integer_range),
        };
        let Some((lower, upper)) = range.filter(|(lower, upper)| number < *lower || number > *upper) else {
            return false;
        };
        let mut diagnostic = Diagnostic::error(
            "value-out-of-range",
            value.span,
            format!("{number} is not a value of {to_name}"),
        );
        diagnostic = if to_base == Some(E::Bool) {
            diagnostic.label("BOOL has FALSE (0) and TRUE (1) only")
        } else {
            diagnostic.label(format!("{to_name} goes from {lower} to {upper}"))
        };
        let place = match goal {
            Goal::Assignment { place } | Goal::Initial { place } | Goal::Loop { place, .. } => Some(*place),
            Goal::Input { place, .. } => *place,
            Goal::Label { selector } => Some(*selector),
            _ => None,
        };
        if let Some(place) = place {
            diagnostic = diagnostic.also(place, to_name);
        }
        self.report(diagnostic);
        true
    }
}

/// A step is named where its flag was meant.
fn step_note(written: &str) -> String {
    format!("a step is no value; `{written}.X` tells whether it is active, `{written}.T` for how long")
}

/// Whether a text constant fits a capacity.
pub(crate) fn fits_string(constant: &Constant, capacity: u16) -> bool {
    match constant {
        Constant::String(text) => text.len() <= usize::from(capacity),
        Constant::WideString(text) => text.len() <= usize::from(capacity),
        _ => true,
    }
}

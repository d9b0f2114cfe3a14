//! Calls of the conversion functions, and what to write instead where the standard has no conversion.
//!
//! Source: IEC 61131-3:2013, 6.6.2.5.2 to 6.6.2.5.7, tables 22 to 27. Texts of any length are taken; the text that a
//! conversion gives has room for every value of the source type (our choice), so that nothing is cut before it is
//! stored.

use latchwork_grammar::{Diagnostic, Span};
use latchwork_stdlib::{ConversionRule, Lowering, TypeClass, conversion, implicitly_converts};
use latchwork_vm::ElementaryType as E;

use super::{
    Checker, conversion::Goal, describe::STRING_CAPACITY, operands::Operand, standard::Callee,
    standard_messages::unsigned_as_wide,
};
use crate::{
    constant,
    typed::{Constant, Expression, ExpressionKind},
    types::{Type, TypeId},
};

impl<'a> Checker<'a> {
    /// `INT_TO_REAL`, `TO_REAL`, `REAL_TRUNC_INT`, `TRUNC`.
    pub(super) fn conversion_call(
        &mut self,
        callee: &Callee,
        operands: Vec<Operand<'_>>,
        span: Span,
        hint: Option<TypeId>,
    ) -> Expression {
        let Some(operand) = operands.into_iter().next() else { return self.unknown(span) };
        let truncate = matches!(callee.definition.lowering, Lowering::Convert { truncate: true });
        let value = match callee.from {
            Some(from) => {
                let goal = Goal::Input { name: "IN", callee: &callee.shown, place: None };
                let ty = self.elementary(from);
                let value = self.operand(operand, Some(ty));
                let ty = if from.is_string() { self.text_as_it_is(from, value.ty) } else { ty };
                self.convert(value, ty, &goal)
            }
            None => {
                // All digits of a literal, unless the conversion is there for REAL only.
                let long =
                    callee.to.is_some_and(|to| to != E::Real && conversion(E::Lreal, to, truncate).is_some());
                let hint = (long && self.is_written_real(&operand)).then(|| self.elementary(E::Lreal));
                let value = self.operand(operand, hint);
                match self.types.elementary_base(value.ty) {
                    // Out of a derived type first.
                    Some(kind) => {
                        let ty = self.elementary(kind);
                        self.convert(value, ty, &Goal::Operand { function: &callee.shown })
                    }
                    None => value,
                }
            }
        };
        if self.is_unknown(value.ty) {
            return self.unknown(span);
        }
        let from = self.kind_of(value.ty);
        let wanted = hint
            .and_then(|hint| self.types.elementary_base(hint))
            .filter(|kind| TypeClass::AnyInt.accepts(*kind));
        let to = callee.to.or(wanted).unwrap_or(if from == Some(E::Lreal) { E::Lint } else { E::Dint });
        let rule = from.and_then(|from| conversion(from, to, truncate));
        let (Some(from), Some(rule)) = (from, rule) else {
            self.report_not_converted(callee, &value, from.filter(|_| !truncate), to);
            return self.unknown(span);
        };
        if let ExpressionKind::Constant(text @ (Constant::String(_) | Constant::WideString(_))) = &value.kind
            && let Some(Err(_)) = constant::convert(text, from, to, truncate)
        {
            self.report_no_value(&value, to);
            return self.unknown(span);
        }
        let ty = match rule {
            ConversionRule::Text { capacity, .. } => {
                let own = self.text_type(value.ty).map(|(_, capacity)| capacity);
                let capacity = capacity.or(own).unwrap_or(STRING_CAPACITY);
                self.types.intern(Type::String { wide: to == E::Wstring, capacity })
            }
            _ => self.elementary(to),
        };
        self.build(callee, callee.definition, Some(from), Some(to), Some(ty), vec![value], span)
    }

    /// The type for a text operand: its own, if it is of the width wanted; a character becomes a text of its own.
    fn text_as_it_is(&mut self, wanted: E, own: TypeId) -> TypeId {
        let wide = wanted == E::Wstring;
        match self.text_type(own) {
            Some((own_width, _)) if own_width == wide => own,
            None if self.kind_of(own).is_some_and(|kind| implicitly_converts(kind, wanted)) => {
                self.types.intern(Type::String { wide, capacity: 1 })
            }
            _ => self.types.intern(Type::String { wide, capacity: STRING_CAPACITY }),
        }
    }

    /// A constant text that stands for no value of a type.
    fn report_no_value(&mut self, text: &Expression, to: E) {
        let name = to.name();
        let (message, note) = match (to, &text.kind) {
            (E::Char | E::Wchar, ExpressionKind::Constant(Constant::String(codes))) if codes.is_empty() => {
                ("this text has no first character".to_owned(), None)
            }
            (E::Char | E::Wchar, ExpressionKind::Constant(Constant::WideString(codes)))
                if codes.is_empty() =>
            {
                ("this text has no first character".to_owned(), None)
            }
            (E::Char | E::Wchar | E::String | E::Wstring, _) => (
                format!("this text has a character that {name} does not have"),
                Some(format!("{name} has the characters with the codes 0 to 255")),
            ),
            _ => {
                let like = match to {
                    E::Bool => "TRUE",
                    E::Byte | E::Word | E::Dword | E::Lword => "16#1F",
                    E::Real | E::Lreal => "-2.5",
                    E::Time => "T#1m30s",
                    E::Ltime => "LTIME#250us",
                    E::Date => "D#2024-02-29",
                    E::Ldate => "LDATE#2024-02-29",
                    E::TimeOfDay => "TOD#13:14:15",
                    E::LtimeOfDay => "LTOD#13:14:15",
                    E::DateAndTime => "DT#2024-02-29-13:14:15",
                    E::LdateAndTime => "LDT#2024-02-29-13:14:15",
                    _ if to.is_signed() => "-12",
                    _ => "12",
                };
                let note = format!("the text must be a literal of {name} within its range, such as `{like}`");
                (format!("this text is no value of {name}"), Some(note))
            }
        };
        let mut diagnostic =
            Diagnostic::error("constant-overflow", text.span, message).label("known before the program runs");
        if let Some(note) = note {
            diagnostic = diagnostic.note(note);
        }
        self.report(diagnostic);
    }

    fn report_not_converted(&mut self, callee: &Callee, value: &Expression, from: Option<E>, to: E) {
        let type_name = self.type_name(value.ty);
        let mut diagnostic = Diagnostic::error(
            "operand-types",
            value.span,
            format!("the standard has no conversion from {type_name} with {}", callee.shown),
        )
        .label(type_name);
        let note = match (from, self.types.get(self.types.underlying(value.ty))) {
            (Some(from), _) => remedy(from, to),
            (None, Type::Enumeration(_)) => Some(ENUMERATION.to_owned()),
            (None, Type::Structure(_)) => Some("convert its members one by one".to_owned()),
            (None, Type::Array { .. }) => Some("convert its elements one by one".to_owned()),
            (None, Type::Unit(_) | Type::StandardBlock(_)) => Some(
                "a function block instance has no value of its own; convert one of its outputs".to_owned(),
            ),
            (None, Type::Reference(_)) => Some("convert what it refers to: `reference^`".to_owned()),
            _ => None,
        };
        if let Some(note) = note {
            diagnostic = diagnostic.note(note);
        }
        self.report(diagnostic);
    }

    /// Reports a name of the form of a conversion for which there is none. Tells whether the name is one.
    pub(super) fn report_no_conversion(&mut self, span: Span) -> bool {
        let upper = self.text(span).to_ascii_uppercase();
        let Some((from_name, to_name)) = upper.split_once("_TO_") else { return false };
        let Some(to) = E::from_name(to_name) else { return false };
        let from = E::from_name(from_name);
        // Every name of a type is among the names.
        let user_type = self
            .names
            .find(from_name)
            .and_then(|name| self.type_symbols.get(&name))
            .and_then(|symbol| symbol.id);
        let (message, note) = match (from, user_type) {
            (Some(from), _) => (
                format!("the standard has no conversion from {} to {}", from.name(), to.name()),
                remedy(from, to),
            ),
            (None, Some(ty)) => {
                let shown = self.type_name(ty);
                let note = match self.types.get(self.types.underlying(ty)) {
                    Type::Enumeration(_) => Some(ENUMERATION.to_owned()),
                    _ if self.types.elementary_base(ty).is_some() => Some(format!(
                        "its values are those of its base type: `TO_{}` converts them",
                        to.name()
                    )),
                    _ => None,
                };
                (format!("the standard has no conversion from {shown} by that name"), note)
            }
            (None, None) => return false,
        };
        let mut diagnostic =
            Diagnostic::error("undeclared-function", span, message).label("no such function");
        if let Some(note) = note {
            diagnostic = diagnostic.note(note);
        }
        self.report(diagnostic);
        true
    }
}

const ENUMERATION: &str = "an enumeration has no numbers; choose one with CASE, or declare the type with a base and \
                           named values: `TYPE State : INT (Off := 0, On := 1); END_TYPE`";

/// What to write instead of a conversion that the standard does not have.
fn remedy(from: E, to: E) -> Option<String> {
    let number = |kind: E| kind.is_number() || kind.is_bit();
    let clock = |kind: E| matches!(kind, E::TimeOfDay | E::LtimeOfDay);
    let day = |kind: E| matches!(kind, E::Date | E::Ldate);
    let moment = |kind: E| matches!(kind, E::DateAndTime | E::LdateAndTime);
    let long = if matches!(to, E::Ltime | E::LtimeOfDay | E::LdateAndTime) { "L" } else { "" };
    Some(match (from, to) {
        _ if from.is_number() && to.is_duration() => {
            format!("a number becomes a duration by multiplying: `{long}T#1s * number`")
        }
        _ if from == E::Bool && to.is_duration() => {
            format!("choose one of two durations: `SEL(condition, {long}T#0s, {long}T#5s)`")
        }
        _ if from.is_bit() && to.is_duration() => {
            format!("a bit string becomes an integer, and that a duration by multiplying: `{long}T#1s * {0}_TO_ULINT(…)`", from.name())
        }
        _ if from.is_duration() && number(to) => {
            "compare it with another duration: `duration > T#5s`; added to TOD#00:00:00 it is a time of day with parts"
                .to_owned()
        }
        _ if number(from) && clock(to) => {
            format!("CONCAT_{long}TOD makes a time of day of hour, minute, second and millisecond")
        }
        _ if number(from) && day(to) => "CONCAT_DATE makes a date of year, month and day".to_owned(),
        _ if number(from) && moment(to) => {
            format!("CONCAT_{long}DT makes a date and time of its parts, year first")
        }
        _ if from.is_date() && number(to) => {
            let name = match from {
                E::Date | E::Ldate => "SPLIT_DATE",
                E::TimeOfDay => "SPLIT_TOD",
                E::LtimeOfDay => "SPLIT_LTOD",
                E::DateAndTime => "SPLIT_DT",
                _ => "SPLIT_LDT",
            };
            format!("{name} gives its parts as numbers")
        }
        _ if day(from) && moment(to) => {
            format!("put it together with a time of day: `CONCAT_DATE_{long}TOD(date, {long}TOD#00:00:00)`")
        }
        _ if clock(from) && moment(to) => {
            format!("put it together with a date: `CONCAT_DATE_{long}TOD(date, time_of_day)`")
        }
        _ if clock(from) && to.is_duration() => {
            "the time since midnight is a difference: `time_of_day - TOD#00:00:00`".to_owned()
        }
        _ if from.is_duration() && clock(to) => {
            format!("add it to midnight: `{long}TOD#00:00:00 + duration`")
        }
        _ if from.is_date() && to.is_duration() => {
            "the time between two dates is their difference: `date - D#1970-01-01`".to_owned()
        }
        _ if from.is_duration() && to.is_date() => {
            "add it to a date and time: `DT#1970-01-01-00:00:00 + duration`".to_owned()
        }
        _ if from.is_date() && to.is_date() => {
            "a date has no time of day and a time of day no date; DATE_AND_TIME has both".to_owned()
        }
        (E::Real | E::Lreal, E::Bool) => "ask something about the number: `number <> 0.0`".to_owned(),
        (E::Real | E::Lreal, _) if to.is_bit() => {
            let (same, integer) = if from == E::Real { ("DWORD", "DINT") } else { ("LWORD", "LINT") };
            format!(
                "its bits: `{0}_TO_{same}(…)`; its value: `{integer}_TO_{1}({0}_TO_{integer}(…))`",
                from.name(),
                to.name()
            )
        }
        (_, E::Real | E::Lreal) if from.is_bit() => {
            let integer = unsigned_as_wide(from)?.name();
            format!("its value: `{integer}_TO_{1}({0}_TO_{integer}(…))`", from.name(), to.name())
        }
        (E::Char | E::Wchar, _) | (_, E::Char | E::Wchar) => {
            let from_kind = from;
            let (character, other) = if from.is_char() { (from, to) } else { (to, from) };
            let (bits, integer) = if character == E::Char { ("BYTE", "USINT") } else { ("WORD", "UINT") };
            let (from, to) = (from.name(), to.name());
            match (character == from_kind, other.is_real()) {
                _ if !number(other) => "a character is a text: convert by way of STRING".to_owned(),
                (true, false) => format!("its code: `{bits}_TO_{to}({from}_TO_{bits}(…))`"),
                (true, true) => format!("its code: `{integer}_TO_{to}({bits}_TO_{integer}({from}_TO_{bits}(…)))`"),
                (false, false) => format!("by its code: `{bits}_TO_{to}({from}_TO_{bits}(…))`"),
                (false, true) => format!("by its code: `{bits}_TO_{to}({integer}_TO_{bits}({from}_TO_{integer}(…)))`"),
            }
        }
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whoever follows the advice finds functions that exist.
    #[test]
    fn every_conversion_that_does_not_exist_has_a_remedy_that_does() {
        let mut count = 0;
        for (from, to) in E::ALL.iter().flat_map(|from| E::ALL.iter().map(move |to| (*from, *to))) {
            if conversion(from, to, false).is_some() {
                continue;
            }
            count += 1;
            let note = remedy(from, to);
            let note = note.unwrap_or_else(|| panic!("{} to {}", from.name(), to.name()));
            let words = note.split(|c: char| !c.is_ascii_alphanumeric() && c != '_');
            for word in words.filter(|word| word.contains("_TO_") || word.starts_with("CONCAT_")) {
                assert!(
                    latchwork_stdlib::function(word).is_some(),
                    "{} to {}: {word}",
                    from.name(),
                    to.name()
                );
            }
        }
        assert!(count > 200, "{count}");
    }
}

//! What begins with a word and `#`: typed literals, durations, dates, and values of user types
//! (6.3.2 to 6.3.5, table 5 feature 9, tables 6, 8, 9).

use super::{Lexer, TokenKind, Value, number::Number};
use crate::{
    diagnostic::Diagnostic,
    keyword,
    literal::Literal,
    tree::{ElementaryType, TypePrefix},
};

/// What the word before `#` announces.
enum Prefix {
    Duration { long: bool },
    Date { long: bool },
    TimeOfDay { long: bool },
    DateAndTime { long: bool },
    Number(ElementaryType),
    Character { wide: bool },
    String { wide: bool },
    UserType,
}

fn prefix_of(word: &str) -> Prefix {
    let is = |name: &str| word.eq_ignore_ascii_case(name);
    if is("T") {
        return Prefix::Duration { long: false };
    } else if is("LT") {
        return Prefix::Duration { long: true };
    } else if is("D") {
        return Prefix::Date { long: false };
    } else if is("LD") {
        return Prefix::Date { long: true };
    } else if is("STRING") {
        return Prefix::String { wide: false };
    } else if is("WSTRING") {
        return Prefix::String { wide: true };
    }
    use ElementaryType as E;
    match keyword::elementary_type(word) {
        None => Prefix::UserType,
        Some(E::Time) => Prefix::Duration { long: false },
        Some(E::Ltime) => Prefix::Duration { long: true },
        Some(E::Date) => Prefix::Date { long: false },
        Some(E::Ldate) => Prefix::Date { long: true },
        Some(E::TimeOfDay) => Prefix::TimeOfDay { long: false },
        Some(E::LtimeOfDay) => Prefix::TimeOfDay { long: true },
        Some(E::DateAndTime) => Prefix::DateAndTime { long: false },
        Some(E::LdateAndTime) => Prefix::DateAndTime { long: true },
        Some(E::Char) => Prefix::Character { wide: false },
        Some(E::Wchar) => Prefix::Character { wide: true },
        Some(other) => Prefix::Number(other),
    }
}

/// Smallest and biggest value of an integer or bit type.
fn range_of(elementary: ElementaryType) -> Option<(i128, i128)> {
    use ElementaryType as E;
    let signed = |bits: u32| Some((-(1i128 << (bits - 1)), (1i128 << (bits - 1)) - 1));
    let unsigned = |bits: u32| Some((0, (1i128 << bits) - 1));
    match elementary {
        E::Bool => unsigned(1),
        E::Sint => signed(8),
        E::Int => signed(16),
        E::Dint => signed(32),
        E::Lint => signed(64),
        E::Usint | E::Byte | E::Char => unsigned(8),
        E::Uint | E::Word | E::Wchar => unsigned(16),
        E::Udint | E::Dword => unsigned(32),
        E::Ulint | E::Lword => unsigned(64),
        _ => None,
    }
}

fn is_bits(elementary: ElementaryType) -> bool {
    use ElementaryType as E;
    matches!(elementary, E::Bool | E::Byte | E::Word | E::Dword | E::Lword)
}

impl Lexer<'_> {
    /// Reads on behind `word`, at the `#`.
    pub(super) fn prefixed(&mut self, start: usize, word: &str) {
        self.scanner.bump(1);
        let prefix = prefix_of(word);
        match prefix {
            Prefix::Duration { long } => self.duration(start, long),
            Prefix::Date { long } => self.date_or_time(start, true, false, long),
            Prefix::TimeOfDay { long } => self.date_or_time(start, false, true, long),
            Prefix::DateAndTime { long } => self.date_or_time(start, true, true, long),
            Prefix::Number(elementary) => self.typed_number(start, word, elementary),
            Prefix::Character { wide } => self.typed_character(start, word, wide),
            Prefix::String { wide } => {
                self.typed_string(start, word, TypePrefix::String { wide }, wide, None);
            }
            Prefix::UserType => {
                self.check_identifier(start, word);
                if keyword::find(word).is_some() {
                    self.error(
                        "malformed-typed-literal",
                        start,
                        format!("`{word}` is a keyword and not the name of a type"),
                        "expected a type before `#`",
                    );
                }
                let name = self.names.intern(word);
                if matches!(self.peek(0), b' ' | b'\t') {
                    let end = self.position();
                    let blanks = self.rest().len() - self.rest().trim_start_matches([' ', '\t']).len();
                    let span = self.span(start, end);
                    let gap = self.span(end, end + blanks);
                    self.report(
                        Diagnostic::error("malformed-typed-literal", span, "no blank may stand behind `#`")
                            .label("the value follows at once")
                            .fix("remove the blank", gap, ""),
                    );
                }
                self.push(TokenKind::TypeQualifier, start, name.0);
            }
        }
    }

    fn mismatch(&mut self, start: usize, word: &str, label: &str) {
        let message = format!("`{}` is no value of type {}", self.text_of(start), word.to_ascii_uppercase());
        self.error("malformed-typed-literal", start, message, label.to_owned());
    }

    /// Numbers, bit strings and BOOL.
    fn typed_number(&mut self, start: usize, word: &str, elementary: ElementaryType) {
        let blank = self.blank_in_literal();
        let negative = self.peek(0) == b'-';
        let signed = matches!(self.peek(0), b'+' | b'-');
        if signed {
            self.scanner.bump(1);
        }
        let literal = if self.next_is_digit() {
            let digits = self.position();
            self.scanner.bump(1);
            let problems_before = self.errors;
            let number = self.scan_number(start, digits, false);
            let based = self.text.get(digits..self.position()).is_some_and(|text| text.contains('#'));
            let silent = self.errors > problems_before;
            if blank && !silent {
                self.blank_error(start, word);
            } else if signed && based && !silent {
                self.mismatch(start, word, "a number with a base has no sign");
            } else if signed
                && !silent
                && is_bits(elementary)
                && matches!(number, Number::Integer(value) if !negative || value == 0)
            {
                // Other negative numbers are outside the range.
                self.mismatch(start, word, "a bit string has no sign");
            }
            self.typed_value(start, word, elementary, negative, &number)
        } else {
            let from = self.position();
            self.take_while(|byte| byte.is_ascii_alphanumeric() || byte == b'_');
            let value = self.text.get(from..self.position()).unwrap_or("");
            match (elementary, value.to_ascii_uppercase().as_str(), signed) {
                (ElementaryType::Bool, "TRUE", false) => Literal::Boolean(true),
                (ElementaryType::Bool, "FALSE", false) => Literal::Boolean(false),
                (_, "", _) => {
                    let message = format!("a value is missing behind `{}`", self.text_of(start));
                    self.error(
                        "malformed-typed-literal",
                        start,
                        message,
                        "expected a value at once behind `#`",
                    );
                    Literal::Integer(0)
                }
                _ => {
                    self.mismatch(start, word, "expected a number");
                    Literal::Integer(0)
                }
            }
        };
        let value = Value::Typed { prefix: TypePrefix::Elementary(elementary), negative, literal };
        self.push_value(TokenKind::TypedLiteral, start, value);
    }

    fn blank_error(&mut self, start: usize, word: &str) {
        let message = format!("no blank may stand behind `{word}#`");
        self.error("malformed-typed-literal", start, message, "one literal is one word");
    }

    fn typed_value(
        &mut self,
        start: usize,
        word: &str,
        elementary: ElementaryType,
        negative: bool,
        number: &Number,
    ) -> Literal {
        let real_type = matches!(elementary, ElementaryType::Real | ElementaryType::Lreal);
        match *number {
            Number::Wrong => Literal::Integer(1),
            Number::Integer(value) if real_type => {
                let span = self.span(start, self.position());
                if self.text_of(start).matches('#').count() > 1 {
                    self.mismatch(start, word, "a real has no base");
                } else {
                    let message = format!("`{}` is written as an integer", self.text_of(start));
                    self.report(
                        Diagnostic::warning("integer-as-real", span, message)
                            .label(format!("taken as `{}.0`", self.text_of(start))),
                    );
                }
                Literal::Real { long: value as f64, short: value as f32 }
            }
            Number::Integer(value) => {
                let signed = if negative { -i128::from(value) } else { i128::from(value) };
                if let Some((least, most)) = range_of(elementary)
                    && !(least..=most).contains(&signed)
                {
                    let type_name = word.to_ascii_uppercase();
                    self.error(
                        "literal-out-of-range",
                        start,
                        format!("`{}` is outside the range of {type_name}", self.text_of(start)),
                        format!("the value is {signed}, and {type_name} holds {least} to {most}"),
                    );
                    return Literal::Integer(0);
                }
                Literal::Integer(value)
            }
            Number::Real { long, short, zero } if real_type => {
                let problems_before = self.errors;
                if elementary == ElementaryType::Real {
                    self.check_real(start, short.is_infinite(), !zero && !short.is_normal(), "REAL");
                } else {
                    self.check_real(start, long.is_infinite(), !zero && !long.is_normal(), "LREAL");
                }
                if self.errors > problems_before {
                    // It has been said; a number that fits says nothing more.
                    return Literal::Real { long: 0.0, short: 0.0 };
                }
                Literal::Real { long, short }
            }
            Number::Real { .. } => {
                self.mismatch(start, word, "this type holds integers only");
                Literal::Integer(0)
            }
        }
    }

    fn typed_character(&mut self, start: usize, word: &str, wide: bool) {
        let elementary = if wide { ElementaryType::Wchar } else { ElementaryType::Char };
        if self.next_is_digit() || matches!(self.peek(0), b'+' | b'-') {
            return self.typed_number(start, word, elementary);
        }
        self.typed_string(start, word, TypePrefix::Elementary(elementary), wide, Some(1));
    }

    fn typed_string(
        &mut self,
        start: usize,
        word: &str,
        prefix: TypePrefix,
        wide: bool,
        length: Option<usize>,
    ) {
        let blank = self.blank_in_literal();
        let opening = self.position();
        let double = self.peek(0) == b'"';
        if !double && self.peek(0) != b'\'' {
            self.take_while(|byte| byte.is_ascii_alphanumeric() || byte == b'_');
            self.mismatch(start, word, "expected a string at once behind `#`");
            let literal = Literal::String(Box::default());
            return self.push_value(
                TokenKind::TypedLiteral,
                start,
                Value::Typed { prefix, negative: false, literal },
            );
        }
        self.scanner.bump(1);
        let problems_before = self.errors;
        let characters = self.scan_string(opening, double);
        if !characters.closed {
            return self.push(TokenKind::Unreadable, start, 0);
        }
        if self.errors == problems_before {
            if blank {
                self.blank_error(start, word);
            } else if double && !wide {
                self.mismatch(start, word, "strings of single bytes are written between `'` and `'`");
            } else if length.is_some_and(|length| characters.units.len() != length) {
                let count = characters.units.len();
                self.mismatch(start, word, &format!("expected one character, found {count}"));
            }
        }
        let literal = match length {
            // What is wrong has been said; a code that fits says nothing more.
            Some(_) if self.errors > problems_before => Literal::Integer(0),
            _ => characters.literal(wide),
        };
        self.push_value(TokenKind::TypedLiteral, start, Value::Typed { prefix, negative: false, literal });
    }
}

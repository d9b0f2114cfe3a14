//! Integers, based integers and reals (6.3.2, table 5).

use super::{Lexer, TokenKind, Value};
use crate::{diagnostic::Diagnostic, literal::Literal};

/// A number as read, without type.
pub(super) enum Number {
    Integer(u64),
    /// With the text without underscores.
    Real {
        long: f64,
        short: f32,
        zero: bool,
    },
    /// Reported; stands for some integer.
    Wrong,
}

impl Lexer<'_> {
    /// A number whose first digit has been read.
    pub(super) fn number(&mut self, start: usize) {
        let after_point = self
            .out
            .tokens
            .last()
            .is_some_and(|token| token.kind == TokenKind::Dot && token.end as usize == start);
        let number = self.scan_number(start, start, after_point);
        match number {
            Number::Integer(value) => {
                self.push_value(TokenKind::IntegerLiteral, start, Value::Plain(Literal::Integer(value)));
            }
            Number::Real { long, short, zero } => {
                self.check_real(start, long.is_infinite(), !zero && !long.is_normal(), "LREAL");
                // What has been reported must not be found out of range once more.
                let (long, short) = if long.is_infinite() { (1.0, 1.0) } else { (long, short) };
                self.push_value(TokenKind::RealLiteral, start, Value::Plain(Literal::Real { long, short }));
            }
            Number::Wrong
                if self.text_of(start).bytes().any(|byte| byte.is_ascii_alphabetic())
                    && !self.text_of(start).contains(['#', '.'])
                    && !self.expects_operand() =>
            {
                // Where a name is declared or a statement begins, a name was meant.
                let name = self.names.intern(self.text_of(start));
                self.push(TokenKind::Identifier, start, name.0);
            }
            Number::Wrong => {
                self.push_value(TokenKind::IntegerLiteral, start, Value::Plain(Literal::Integer(1)));
            }
        }
    }

    /// Whether an operator or a bracket before it shows that an operand comes next.
    fn expects_operand(&self) -> bool {
        use TokenKind as T;
        self.out.tokens.last().is_some_and(|token| {
            token.kind >= T::Assign && token.kind <= T::NotEqual
                || matches!(
                    token.kind,
                    T::And | T::Or | T::Xor | T::Not | T::Mod | T::ParenthesisOpen | T::BracketOpen
                )
                || matches!(
                    token.kind,
                    T::DotDot | T::If | T::Elsif | T::While | T::Until | T::Case | T::To | T::By
                )
        })
    }

    /// Reports a real that its type cannot hold, or holds only badly.
    pub(super) fn check_real(&mut self, start: usize, too_big: bool, too_small: bool, type_name: &str) {
        if too_big {
            self.error(
                "literal-out-of-range",
                start,
                format!("`{}` is too big for {type_name}", self.text_of(start)),
                format!("beyond the range of {type_name}"),
            );
        } else if too_small {
            let span = self.span(start, self.position());
            self.report(
                Diagnostic::warning(
                    "inexact-literal",
                    span,
                    format!("`{}` is too small for {type_name} and loses digits", self.text_of(start)),
                )
                .label("stored as zero or with fewer digits"),
            );
        }
    }

    /// Reads a number of which one digit, at `digits`, has been read; `start` is where the literal begins
    /// (a type prefix may stand before the digits). `integer_only` leaves a point alone.
    pub(super) fn scan_number(&mut self, start: usize, digits: usize, integer_only: bool) -> Number {
        self.take_while(is_digit_or_underscore);
        if self.peek(0) == b'#' {
            return self.scan_based(start, digits);
        }
        let mut real = false;
        if self.peek(0) == b'.' && !integer_only {
            if self.peek(1).is_ascii_digit() {
                real = true;
                self.scanner.bump(1);
                self.take_while(is_digit_or_underscore);
            } else if self.peek(1) != b'.' && !self.peek(1).is_ascii_alphabetic() && self.peek(1) != b'%' {
                self.scanner.bump(1);
                return self.real_without_digits(start, digits);
            } else if matches!(self.peek(1), b'e' | b'E') && self.exponent_length(1) > 0 {
                let length = 1 + self.exponent_length(1);
                self.scanner.bump(length);
                return self.real_without_digits(start, digits);
            }
        }
        let exponent = self.exponent_length(0);
        if exponent > 0 {
            if !real {
                let mantissa_end = self.position();
                self.scanner.bump(exponent);
                return self.exponent_without_point(start, mantissa_end);
            }
            self.scanner.bump(exponent);
        }
        if self.peek(0).is_ascii_alphanumeric() || self.peek(0) == b'_' {
            self.take_while(|byte| byte.is_ascii_alphanumeric() || byte == b'_');
            if real && self.text_of(start).ends_with(['e', 'E']) && matches!(self.peek(0), b'+' | b'-') {
                // An exponent that ends with its sign.
                self.scanner.bump(1);
            }
            let text = self.text.get(digits..self.position()).unwrap_or("");
            self.error(
                "malformed-number",
                start,
                format!("`{text}` is neither a number nor an identifier"),
                "an identifier begins with a letter or `_`, and a number has digits only",
            );
            return Number::Wrong;
        }
        let text = self.text.get(digits..self.position()).unwrap_or("");
        if !underscores_are_single(text, 10) {
            return self.bad_underscore(start);
        }
        if real {
            let (long, short) = real_of(text);
            let zero =
                !text.split(['e', 'E']).next().unwrap_or("").bytes().any(|b| (b'1'..=b'9').contains(&b));
            return Number::Real { long, short, zero };
        }
        match integer_of(text, 10) {
            Some(value) => Number::Integer(value),
            None => self.too_many_digits(start),
        }
    }

    fn bad_underscore(&mut self, start: usize) -> Number {
        self.error(
            "malformed-number",
            start,
            format!("an underscore is misplaced in the number `{}`", self.text_of(start)),
            "a single underscore may stand between two digits",
        );
        Number::Wrong
    }

    fn too_many_digits(&mut self, start: usize) -> Number {
        self.error(
            "literal-out-of-range",
            start,
            "this integer is bigger than any integer type can hold",
            "the biggest is 18446744073709551615",
        );
        Number::Wrong
    }

    /// `16#…`: reads on at the `#`.
    fn scan_based(&mut self, start: usize, digits: usize) -> Number {
        let base_text = self.text.get(digits..self.position()).unwrap_or("").to_owned();
        self.scanner.bump(1);
        let sign = matches!(self.peek(0), b'+' | b'-') && self.peek(1).is_ascii_alphanumeric();
        if sign {
            self.scanner.bump(1);
        }
        let blank = !sign && matches!(self.peek(0), b' ' | b'\t') && {
            let rest = self.rest().trim_start_matches([' ', '\t']);
            rest.starts_with(|c: char| c.is_ascii_hexdigit())
        };
        if blank {
            self.take_while(|byte| matches!(byte, b' ' | b'\t'));
        }
        let from = self.position();
        self.take_while(|byte| byte.is_ascii_alphanumeric() || byte == b'_');
        let text = self.text.get(from..self.position()).unwrap_or("");
        let base = match base_text.as_str() {
            "2" => 2,
            "8" => 8,
            "16" => 16,
            _ => {
                self.error(
                    "malformed-number",
                    start,
                    format!("there are no numbers of base {base_text}"),
                    "the bases are `2#`, `8#` and `16#`",
                );
                return Number::Wrong;
            }
        };
        let wrong = |what: String, label: String| (what, label);
        let problem = if sign {
            Some(wrong(
                format!("no sign may stand behind `{base}#`"),
                format!("write the minus before the number: `-{base}#{text}`"),
            ))
        } else if blank {
            Some(wrong(format!("no blank may stand behind `{base}#`"), "one literal is one word".into()))
        } else if text.is_empty() {
            Some(wrong(format!("digits are missing behind `{base}#`"), "expected digits here".into()))
        } else if let Some(digit) = text.chars().find(|c| *c != '_' && !c.is_digit(base)) {
            Some(wrong(
                format!("`{digit}` is not a digit of base {base}"),
                match base {
                    2 => "digits are 0 and 1".into(),
                    8 => "digits are 0 to 7".into(),
                    _ => "digits are 0 to 9 and A to F".into(),
                },
            ))
        } else if !underscores_are_single(text, base) {
            return self.bad_underscore(start);
        } else {
            None
        };
        if let Some((message, label)) = problem {
            self.error("malformed-number", start, message, label);
            return Number::Wrong;
        }
        match integer_of(text, base) {
            Some(value) => Number::Integer(value),
            None => self.too_many_digits(start),
        }
    }

    /// Length of `E+12` at `ahead`, 0 if there is none.
    fn exponent_length(&self, ahead: usize) -> usize {
        if !matches!(self.peek(ahead), b'e' | b'E') {
            return 0;
        }
        let sign = usize::from(matches!(self.peek(ahead + 1), b'+' | b'-'));
        let digits = self
            .bytes()
            .iter()
            .skip(ahead + 1 + sign)
            .take_while(|byte| is_digit_or_underscore(**byte))
            .count();
        if digits == 0 || self.peek(ahead + 1 + sign) == b'_' { 0 } else { 1 + sign + digits }
    }

    /// `.5`, the point of which has been read.
    pub(super) fn real_without_leading_digit(&mut self, start: usize) {
        self.take_while(is_digit_or_underscore);
        let exponent = self.exponent_length(0);
        self.scanner.bump(exponent);
        let text = self.text_of(start);
        let fixed = format!("0{text}");
        self.malformed_real(start, "a digit is missing before the point", &fixed);
        let (long, short) = real_of(&fixed);
        self.push_value(TokenKind::RealLiteral, start, Value::Plain(Literal::Real { long, short }));
    }

    /// `5.` or `5.E3`, read to its end.
    fn real_without_digits(&mut self, start: usize, digits: usize) -> Number {
        let text = self.text.get(digits..self.position()).unwrap_or("");
        let fixed = text.replacen('.', ".0", 1);
        let whole = format!("{}{fixed}", self.text.get(start..digits).unwrap_or(""));
        self.malformed_real(start, "a digit is missing after the point", &whole);
        let (long, short) = real_of(&fixed);
        Number::Real { long, short, zero: true }
    }

    /// `1E3`, read to its end.
    fn exponent_without_point(&mut self, start: usize, mantissa_end: usize) -> Number {
        let fixed = format!(
            "{}.0{}",
            self.text.get(start..mantissa_end).unwrap_or(""),
            self.text.get(mantissa_end..self.position()).unwrap_or("")
        );
        self.malformed_real(start, "a number with an exponent needs a point", &fixed);
        let (long, short) = real_of(fixed.rsplit('#').next().unwrap_or(&fixed));
        Number::Real { long, short, zero: true }
    }

    fn malformed_real(&mut self, start: usize, message: &str, fixed: &str) {
        let span = self.span(start, self.position());
        self.report(
            Diagnostic::error("malformed-real", span, message)
                .label("a real has digits on both sides of its point")
                .fix(format!("write `{fixed}`"), span, fixed),
        );
    }
}

pub(super) fn is_digit_or_underscore(byte: u8) -> bool {
    byte.is_ascii_digit() || byte == b'_'
}

/// Whether each underscore stands between two digits of a base.
pub(super) fn underscores_are_single(text: &str, base: u32) -> bool {
    let bytes = text.as_bytes();
    let is_digit = |index: Option<usize>| {
        index.and_then(|index| bytes.get(index)).is_some_and(|byte| char::from(*byte).is_digit(base))
    };
    bytes
        .iter()
        .enumerate()
        .filter(|(_, byte)| **byte == b'_')
        .all(|(index, _)| is_digit(index.checked_sub(1)) && is_digit(Some(index + 1)))
}

/// The value of digits with underscores, if 64 bits hold it.
pub(super) fn integer_of(text: &str, base: u32) -> Option<u64> {
    let mut value = 0u64;
    for digit in text.chars().filter(|c| *c != '_') {
        value = value.checked_mul(u64::from(base))?.checked_add(u64::from(digit.to_digit(base)?))?;
    }
    Some(value)
}

/// Nearest LREAL and nearest REAL of a well-formed text.
fn real_of(text: &str) -> (f64, f32) {
    let plain: std::borrow::Cow<'_, str> =
        if text.contains('_') { text.replace('_', "").into() } else { text.into() };
    (plain.parse().unwrap_or(0.0), plain.parse().unwrap_or(0.0))
}

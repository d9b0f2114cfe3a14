//! Direct addresses and partial access (6.5.5, 6.4.2, tables 16 and 17).

use super::{Lexer, TokenKind, Value};
use crate::{
    diagnostic::Diagnostic,
    source::Span,
    tree::{AddressSize, Area, DirectAddress},
};

impl Lexer<'_> {
    /// What begins with `%`.
    pub(super) fn percent(&mut self, start: usize) {
        let after_operand = self.ends_operand();
        let after_point = self
            .out
            .tokens
            .last()
            .is_some_and(|token| token.kind == TokenKind::Dot && token.end as usize == start);
        let letters_start = self.position();
        self.take_while(|byte| byte.is_ascii_alphabetic());
        let letters = self.text.get(letters_start..self.position()).unwrap_or("").to_ascii_uppercase();
        if letters.is_empty() && after_operand {
            // `a % b` of other languages.
            let span = self.span(start, self.position());
            self.report(
                Diagnostic::error("foreign-operator", span, "`%` is not an operator of the standard")
                    .label("the remainder of a division is found with `MOD`")
                    .fix("write `MOD`", span, " MOD "),
            );
            return self.push(TokenKind::Mod, start, 0);
        }
        let mut characters = letters.chars();
        let first = characters.next();
        let area = match first {
            Some('I') => Some(Area::Input),
            Some('Q') => Some(Area::Output),
            Some('M') => Some(Area::Memory),
            _ => None,
        };
        let size_letter = if area.is_some() { characters.next() } else { first };
        let size = match size_letter {
            None => Some(AddressSize::Bit),
            Some('X') => Some(AddressSize::Bit),
            Some('B') => Some(AddressSize::Byte),
            Some('W') => Some(AddressSize::Word),
            Some('D') => Some(AddressSize::DoubleWord),
            Some('L') => Some(AddressSize::LongWord),
            Some(_) => None,
        };
        let numbers_start = self.position();
        let open = self.peek(0) == b'*' && area.is_some();
        if open {
            self.scanner.bump(1);
        } else {
            self.take_numbers();
        }
        let stray = self.peek(0).is_ascii_alphabetic() || self.peek(0) == b'_';
        if stray {
            self.take_while(|byte| byte.is_ascii_alphanumeric() || byte == b'_');
        }
        let numbers = self.text.get(numbers_start..self.position()).unwrap_or("");
        let path: Option<Vec<u32>> = if open {
            Some(Vec::new())
        } else {
            numbers.split('.').map(|number| number.parse::<u32>().ok()).collect()
        };
        let well_formed = !stray && characters.next().is_none() && !(area.is_none() && first.is_none());
        if let (true, Some(size), Some(path)) = (well_formed, size, path) {
            if let Some(area) = area {
                let span = Span::new(self.file, start as u32, self.position() as u32);
                let address = DirectAddress { area, size, path, span };
                return self.push_value(TokenKind::DirectAddress, start, Value::Address(Box::new(address)));
            }
            // A bit of a byte is the place of a member of a structure, behind `AT` only.
            let after_at = self.out.tokens.last().is_some_and(|token| token.kind == TokenKind::At);
            let value = match *path.as_slice() {
                [index] => Some(Value::Partial { size, index, bit: None }),
                [index, bit] if after_at && size == AddressSize::Bit => {
                    Some(Value::Partial { size, index, bit: Some(bit) })
                }
                _ => None,
            };
            if let Some(value) = value {
                return self.push_value(TokenKind::PartialAccess, start, value);
            }
        }
        self.malformed_address(start, after_point, area, size.unwrap_or(AddressSize::Bit));
    }

    /// Digits with single points between them; a final point is read only to be reported.
    fn take_numbers(&mut self) {
        loop {
            let digits = self.take_while(|byte| byte.is_ascii_digit());
            if digits == 0 || self.peek(0) != b'.' || self.peek(1) == b'.' || self.peek(1) == b'%' {
                return;
            }
            if self.peek(1).is_ascii_alphabetic() {
                return;
            }
            self.scanner.bump(1);
        }
    }

    /// Reports an address; the size, as far as it was written, stands for the type that goes with it.
    fn malformed_address(&mut self, start: usize, after_point: bool, area: Option<Area>, size: AddressSize) {
        let span = self.span(start, self.position());
        let text = self.text_of(start).to_owned();
        let problem = if after_point {
            Diagnostic::error(
                "malformed-address",
                span,
                format!("`{text}` does not name a part of a variable"),
            )
            .label("expected `%X`, `%B`, `%W` or `%D` and a number")
        } else {
            Diagnostic::error("malformed-address", span, format!("`{text}` is not an address"))
                .label("not an address")
                .note(
                    "an address is `%`, the area `I`, `Q` or `M`, the size `X`, `B`, `W`, `D` or `L`, \
                     and numbers with points between them: `%IX1.2`, `%QW3`",
                )
        };
        let after_at = self.out.tokens.last().is_some_and(|token| token.kind == TokenKind::At);
        self.report(if after_at && area.is_none() {
            problem.note("the place of a member of a structure has no area: `%B2`, and for a bit `%X3.0`")
        } else {
            problem
        });
        if after_point {
            let value = Value::Partial { size: AddressSize::Bit, index: 0, bit: None };
            return self.push_value(TokenKind::PartialAccess, start, value);
        }
        let address = DirectAddress { area: Area::Memory, size, path: vec![0], span };
        self.push_value(TokenKind::DirectAddress, start, Value::Address(Box::new(address)));
    }
}

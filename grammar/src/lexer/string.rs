//! Character strings (6.3.3, tables 6 and 7).

use super::{Lexer, TokenKind, Value, text::name_of};
use crate::{diagnostic::Diagnostic, literal::Literal};

/// A string as read.
pub(super) struct Characters {
    /// One 16-bit unit a character; below 256 in a single-byte string.
    pub units: Vec<u16>,
    /// Whether the closing quote was found.
    pub closed: bool,
}

impl Characters {
    /// The literal of a single-byte or double-byte string.
    pub(super) fn literal(&self, wide: bool) -> Literal {
        if wide {
            Literal::WideString(self.units.clone().into())
        } else {
            Literal::String(self.units.iter().map(|unit| *unit as u8).collect())
        }
    }
}

impl Lexer<'_> {
    /// A string whose opening quote has been read.
    pub(super) fn string_literal(&mut self, start: usize, wide: bool) {
        let characters = self.scan_string(start, wide);
        if characters.closed {
            let literal = characters.literal(wide);
            self.push_value(TokenKind::StringLiteral, start, Value::Plain(literal));
        } else {
            self.push(TokenKind::Unreadable, start, 0);
        }
    }

    /// Reads to the closing quote, or to the line end if there is none.
    pub(super) fn scan_string(&mut self, opening: usize, wide: bool) -> Characters {
        let quote = if wide { '"' } else { '\'' };
        let base = self.position();
        let rest = self.rest();
        let mut units = Vec::new();
        let mut characters = rest.char_indices().peekable();
        // Problems inside the string, reported only when the string is closed.
        let mut problems: Vec<Diagnostic> = Vec::new();
        while let Some((index, character)) = characters.next() {
            if character == quote {
                self.scanner.bump(index + 1);
                // One string costs few messages, however long it is.
                problems.truncate(3);
                for problem in problems {
                    self.report(problem);
                }
                return Characters { units, closed: true };
            }
            if matches!(character, '\r' | '\n') {
                break;
            }
            if character == '$' {
                let (unit, length) = dollar(rest.get(index + 1..).unwrap_or(""), wide);
                match unit {
                    Some(unit) => units.push(unit),
                    None => {
                        let end = base + index + 1 + length;
                        let span = self.span(base + index, end);
                        problems.push(self.bad_dollar(span.start as usize, end, wide));
                    }
                }
                // Skip what belongs to the `$`, but never a line end.
                let end = index + 1 + length;
                while characters.peek().is_some_and(|(next, _)| *next < end) {
                    characters.next();
                }
                continue;
            }
            let code = character as u32;
            let limit = if wide { 0xffff } else { 0xff };
            if code > limit {
                if problems.len() < 3 {
                    let span = self.span(base + index, base + index + character.len_utf8());
                    let problem = Diagnostic::error(
                        "character-out-of-range",
                        span,
                        format!("{} has the code {code} and does not fit in this string", name_of(character)),
                    );
                    problems.push(if wide {
                        problem.label("a WSTRING holds codes up to 65535")
                    } else {
                        problem
                            .label("a STRING holds codes up to 255")
                            .note("a string of the type WSTRING, written `\"…\"`, holds codes up to 65535")
                    });
                }
                continue;
            }
            units.push(code as u16);
        }
        let length = rest.find(['\r', '\n']).unwrap_or(rest.len());
        let line = rest.get(..length).unwrap_or("");
        let other = if wide { '\'' } else { '"' };
        let mut problem = Diagnostic::error(
            "unclosed-string",
            self.span(opening, base),
            "this string is not closed before the end of its line",
        )
        .label(format!("no `{quote}` follows on this line"));
        if line.contains(other) {
            problem = problem.note(format!("a string that begins with `{quote}` also ends with `{quote}`"));
        }
        if line.ends_with('$') || line.contains(&format!("${quote}")) {
            problem =
                problem.note(format!("`${quote}` stands for a quote inside the string, it does not end it"));
        }
        self.scanner.bump(length);
        self.report(problem);
        Characters { units, closed: false }
    }

    fn bad_dollar(&self, start: usize, end: usize, wide: bool) -> Diagnostic {
        let text = self.text.get(start..end).unwrap_or("$");
        let digits = if wide { "four" } else { "two" };
        let quote = if wide { '"' } else { '\'' };
        Diagnostic::error(
            "malformed-string",
            self.span(start, end),
            format!("`{text}` is no character combination of the standard"),
        )
        .label(format!("`$` needs {digits} hexadecimal digits or one of `$` `{quote}` `L` `N` `P` `R` `T`"))
        .note("a dollar sign in a string is written `$$`")
    }
}

/// The character for what follows a `$`, and how many bytes that is; no character if it is wrong.
fn dollar(rest: &str, wide: bool) -> (Option<u16>, usize) {
    let Some(first) = rest.chars().next() else { return (None, 0) };
    let quote = if wide { '"' } else { '\'' };
    let pair = match first.to_ascii_uppercase() {
        '$' => Some(0x24),
        // The standard leaves the code of a new line open: one character 10 here, which keeps LEN simple.
        'L' | 'N' => Some(10),
        'P' => Some(12),
        'R' => Some(13),
        'T' => Some(9),
        _ if first == quote => Some(quote as u16),
        _ => None,
    };
    if let Some(unit) = pair {
        return (Some(unit), 1);
    }
    let wanted = if wide { 4 } else { 2 };
    let digits = rest.bytes().take(wanted).take_while(u8::is_ascii_hexdigit).count();
    if digits == wanted {
        let unit = rest.get(..wanted).and_then(|text| u16::from_str_radix(text, 16).ok());
        return (unit, wanted);
    }
    if digits > 0 {
        return (None, digits);
    }
    if matches!(first, '\'' | '"' | '\r' | '\n') {
        // Leave a quote or a line end to end the string.
        return (None, 0);
    }
    (None, first.len_utf8())
}

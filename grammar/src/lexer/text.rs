//! Comments, pragmas, and characters that belong to no token (6.1.1, 6.1.5, 6.2, tables 1, 3, 4).

use super::{Lexer, TokenKind};
use crate::{diagnostic::Diagnostic, tree::TriviaKind};

impl<'a> Lexer<'a> {
    /// Reads on behind the opening mark `open *`; comments of the same kind nest (table 3, 3a and 3b), marks
    /// of the other kind are text.
    pub(super) fn block_comment(&mut self, start: usize, open: u8, close: u8) {
        let bytes = self.bytes();
        let mut depth = 1usize;
        let mut index = 0;
        while let Some(&byte) = bytes.get(index) {
            let next = bytes.get(index + 1).copied();
            if byte == b'*' && next == Some(close) {
                depth -= 1;
                index += 2;
                if depth == 0 {
                    self.scanner.bump(index);
                    return self.trivia(TriviaKind::BlockComment, start);
                }
            } else if byte == open && next == Some(b'*') {
                depth += 1;
                index += 2;
            } else {
                index += 1;
            }
        }
        self.scanner.bump(bytes.len());
        self.out.unread_from = Some(start as u32);
        let span = self.span(start, start + 2);
        let end = if close == b')' { "*)" } else { "*/" };
        let mut problem = Diagnostic::error("unclosed-comment", span, "this comment is never closed")
            .label(format!("no `{end}` belongs to this"))
            .note("everything up to the end of the file was taken as comment");
        if depth > 1 {
            problem = problem.note(format!(
                "comments nest: {depth} are open at the end of the file, each needs its own `{end}`"
            ));
        }
        self.report(problem);
    }

    /// Reads on behind `{`; the first `}` ends a pragma.
    pub(super) fn pragma(&mut self, start: usize) {
        let rest = self.rest();
        if let Some(length) = rest.find('}') {
            self.scanner.bump(length + 1);
            return self.trivia(TriviaKind::Pragma, start);
        }
        self.scanner.bump(rest.len());
        self.out.unread_from = Some(start as u32);
        let span = self.span(start, start + 1);
        self.report(
            Diagnostic::error("unclosed-pragma", span, "this pragma is never closed")
                .label("no `}` follows")
                .note("braces enclose pragmas only; blocks are closed by words such as `END_IF`"),
        );
    }

    /// Characters no token begins with. Neighbours are reported together; letters outside A to Z are joined
    /// with the identifier around them.
    pub(super) fn foreign_character(&mut self, error_start: usize) {
        let first = self.text.get(error_start..).and_then(|rest| rest.chars().next()).unwrap_or('\0');
        // Continue behind the first character.
        let wanted = error_start + first.len_utf8();
        if wanted > self.position() {
            self.scanner.bump(wanted - self.position());
        }
        if first.is_alphabetic() {
            return self.foreign_word(error_start);
        }
        let is_junk = |character: char| {
            (!character.is_ascii() && !character.is_alphabetic())
                || (character.is_ascii_control() && !matches!(character, '\t' | '\n' | '\r' | '\x0c'))
                || character == first
        };
        let length: usize = self.rest().chars().take_while(|c| is_junk(*c)).map(char::len_utf8).sum();
        self.scanner.bump(length);
        let span = self.span(error_start, self.position());
        let many = self.position() > wanted;
        let name = name_of(first);
        let message = if many {
            format!("characters that are not part of the language, the first is {name}")
        } else {
            format!("{name} is not a character of the language")
        };
        let mut problem = Diagnostic::error("unexpected-character", span, message).label("remove this");
        problem = match first {
            '\u{2018}' | '\u{2019}' | '\u{201a}' | '\u{201c}' | '\u{201d}' | '\u{201e}' | '`' => {
                problem.note("strings are written between plain quotes: `'…'` or `\"…\"`")
            }
            '\u{2013}' | '\u{2014}' | '\u{2212}' => problem.note("the minus sign is the hyphen `-`"),
            '\u{a0}' | '\u{2007}' | '\u{202f}' | '\u{200b}' | '\u{feff}' => {
                problem.note("it looks like a blank, but is none: type the blank again")
            }
            '\u{2264}' => problem.note("less or equal is written `<=`"),
            '\u{2265}' => problem.note("greater or equal is written `>=`"),
            '\u{2260}' => problem.note("not equal is written `<>`"),
            '}' => problem.note("blocks are closed by words such as `END_IF`, not by braces"),
            '\\' => problem.note("a comment to the end of the line begins with `//`"),
            '~' => problem.note("the complement is written `NOT`"),
            '\0' => problem.note("is this the right file? A program is plain text in UTF-8"),
            _ => problem,
        };
        self.report(problem);
    }

    /// An identifier with letters outside A to Z, read whole so that it costs one message.
    fn foreign_word(&mut self, error_start: usize) {
        let length: usize =
            self.rest().chars().take_while(|c| c.is_alphanumeric() || *c == '_').map(char::len_utf8).sum();
        self.scanner.bump(length);
        let mut start = error_start;
        if let Some(last) = self.out.tokens.last() {
            let joins = last.kind == TokenKind::Identifier || last.kind.is_keyword();
            if joins && last.end as usize == error_start {
                start = last.start as usize;
                self.first_on_line = last.first_on_line;
                self.out.tokens.pop();
            }
        }
        let word = self.text_of(start);
        let name = self.names.intern(word);
        self.push(TokenKind::Identifier, start, name.0);
        if self.foreign_words.insert(word) {
            let letter = word.chars().find(|c| !c.is_ascii()).unwrap_or('?');
            self.error(
                "unexpected-character",
                start,
                format!("{} may not stand in an identifier", name_of(letter)),
                "identifiers consist of the letters A to Z, digits and underscores",
            );
            if let Some(problem) = self.out.diagnostics.last_mut() {
                problem.notes.push("other letters may stand in comments and strings".into());
            }
        }
    }
}

/// Words for a character that may not be printable.
pub(super) fn name_of(character: char) -> String {
    let code = character as u32;
    if character.is_control()
        || character.is_whitespace()
        || (0x200b..=0x206f).contains(&code)
        || code == 0xfeff
    {
        format!("the character U+{code:04X}")
    } else {
        format!("the character `{character}`")
    }
}

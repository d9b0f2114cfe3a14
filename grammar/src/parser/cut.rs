//! Where pieces end: the words and signs that no piece of the grammar can contain.

use super::Parser;
use crate::lexer::{Token, TokenKind};

/// The end of a piece.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cut {
    /// Index behind the last token of the piece.
    pub end: usize,
    /// Whether the last token is the one the piece has to end with.
    pub terminated: bool,
}

fn kind_at(tokens: &[Token], index: usize) -> TokenKind {
    tokens.get(index).map_or(TokenKind::EndOfFile, |token| token.kind)
}

/// Whether the keyword at `index` stands where a name belongs: `IF : BOOL;`, `step := 1;`, `x.type`.
pub(super) fn used_as_name(tokens: &[Token], index: usize) -> bool {
    use TokenKind as T;
    if index > 0 && kind_at(tokens, index - 1) == T::Dot {
        return true;
    }
    match kind_at(tokens, index) {
        // `ELSE :` is a slip of its own.
        T::Else => false,
        _ => matches!(kind_at(tokens, index + 1), T::Colon | T::Assign | T::Comma | T::Dot | T::Output),
    }
}

/// Whether a program organization unit, a type section or the like begins at `index`.
pub(super) fn opens_unit(tokens: &[Token], index: usize) -> bool {
    use TokenKind as T;
    let is_opener = matches!(
        kind_at(tokens, index),
        T::Program
            | T::Function
            | T::FunctionBlock
            | T::Type
            | T::Class
            | T::Interface
            | T::Namespace
            | T::Configuration
    );
    is_opener && names_something(tokens, index)
}

/// Whether a method begins at `index`.
pub(super) fn opens_method(tokens: &[Token], index: usize) -> bool {
    kind_at(tokens, index) == TokenKind::Method && names_something(tokens, index)
}

/// Whether a step, transition or action of a chart begins at `index`.
pub(super) fn opens_part(tokens: &[Token], index: usize) -> bool {
    use TokenKind as T;
    match kind_at(tokens, index) {
        T::Step | T::InitialStep | T::Action => names_something(tokens, index),
        T::Transition if kind_at(tokens, index + 1) == T::ParenthesisOpen => {
            // `TRANSITION (PRIORITY := 1) FROM`, but not a call of something that has this word as its name.
            (index + 2..index + 8).any(|place| kind_at(tokens, place) == T::From)
        }
        T::Transition => kind_at(tokens, index + 1) == T::From || names_something(tokens, index),
        _ => false,
    }
}

/// Whether the keyword closes a step, transition or action.
pub(super) fn closes_part(kind: TokenKind) -> bool {
    use TokenKind as T;
    matches!(kind, T::EndStep | T::EndTransition | T::EndAction)
}

/// Whether a resource, task or program instance of a configuration begins at `index`.
pub(super) fn opens_item(tokens: &[Token], index: usize) -> bool {
    use TokenKind as T;
    match kind_at(tokens, index) {
        T::ProgramInstance => true,
        T::Task if kind_at(tokens, index + 1) == T::ParenthesisOpen => {
            tokens.get(index).is_some_and(|token| token.first_on_line)
        }
        T::Resource | T::Task => names_something(tokens, index),
        _ => false,
    }
}

/// Whether a keyword that opens something is followed by what it opens.
fn names_something(tokens: &[Token], index: usize) -> bool {
    if used_as_name(tokens, index) {
        return false;
    }
    let next = kind_at(tokens, index + 1);
    let at_line_start = tokens.get(index).is_some_and(|token| token.first_on_line);
    next == TokenKind::Identifier
        || is_heading_word(next)
        || at_line_start && (next.is_keyword() || next == TokenKind::EndOfFile)
}

/// Whether the keyword closes a program organization unit or what stands beside one.
pub(super) fn closes_unit(kind: TokenKind) -> bool {
    use TokenKind as T;
    matches!(
        kind,
        T::EndProgram
            | T::EndFunction
            | T::EndFunctionBlock
            | T::EndClass
            | T::EndInterface
            | T::EndNamespace
            | T::EndConfiguration
    )
}

/// Whether the keyword opens or closes a unit, or something that stands beside or directly inside one.
pub(super) fn is_unit_word(kind: TokenKind) -> bool {
    kind >= TokenKind::Program && kind <= TokenKind::EndResource
}

/// Whether the keyword can be a boundary: see [`is_boundary`].
pub(super) fn is_boundary_word(kind: TokenKind) -> bool {
    is_unit_word(kind) || kind >= TokenKind::Step && kind <= TokenKind::ProgramInstance
}

/// Index of the first token from a place on whose kind satisfies a test; the number of tokens if there is none.
pub(super) fn find_kind(tokens: &[Token], from: usize, test: impl Fn(TokenKind) -> bool) -> usize {
    let rest = tokens.get(from..).unwrap_or(&[]);
    from + rest.iter().position(|token| test(token.kind)).unwrap_or(rest.len())
}

/// Whether blocks and brackets cannot reach over the token: a unit or a part of one with a body of its own
/// begins or ends there.
pub(super) fn is_boundary(tokens: &[Token], index: usize) -> bool {
    use TokenKind as T;
    match kind_at(tokens, index) {
        // Asked of many tokens, and few are such words.
        kind if !is_boundary_word(kind) => false,
        T::EndMethod | T::EndResource => true,
        T::Method => opens_method(tokens, index),
        T::Step | T::InitialStep | T::Action | T::Transition => opens_part(tokens, index),
        T::Resource | T::Task | T::ProgramInstance => opens_item(tokens, index),
        kind => closes_unit(kind) || closes_part(kind) || opens_unit(tokens, index),
    }
}

/// Whether the keyword can stand between the keyword of a heading and the name.
pub(super) fn is_heading_word(kind: TokenKind) -> bool {
    use TokenKind as T;
    kind >= T::Abstract && kind <= T::Internal
}

/// Whether a variable section begins with the keyword.
pub(super) fn opens_section(kind: TokenKind) -> bool {
    use TokenKind as T;
    kind >= T::Var && kind <= T::VarConfig
}

/// Whether the word opens a block of statements.
pub(super) fn opens_block(kind: TokenKind) -> bool {
    use TokenKind as T;
    matches!(kind, T::If | T::Case | T::For | T::While | T::Repeat)
}

/// Whether the word closes a block of statements.
pub(super) fn closes_block(kind: TokenKind) -> bool {
    use TokenKind as T;
    matches!(kind, T::EndIf | T::EndCase | T::EndFor | T::EndWhile | T::EndRepeat)
}

/// Whether a reserved word ends any simple statement or condition before it.
pub(super) fn ends_statement(kind: TokenKind) -> bool {
    use TokenKind as T;
    opens_block(kind)
        || closes_block(kind)
        || closes_unit(kind)
        || opens_section(kind)
        || matches!(
            kind,
            T::Else
                | T::Elsif
                | T::Until
                | T::Exit
                | T::Continue
                | T::Return
                | T::EndVar
                | T::EndType
                | T::EndStruct
                | T::EndMethod
                | T::EndResource
                | T::EndStep
                | T::EndTransition
                | T::EndAction
                | T::EndOfFile
        )
}

impl Parser<'_> {
    /// The end of the simple statement at `start`: behind its semicolon, or before what cannot belong to it.
    pub(super) fn cut_statement(&self, start: usize, limit: usize) -> Cut {
        let mut depth = 0isize;
        let mut index = start;
        while index < limit {
            let kind = self.kind(index);
            if kind == TokenKind::Semicolon {
                return Cut { end: index + 1, terminated: true };
            }
            let ends =
                ends_statement(kind) && !self.used_as_name(index) || depth <= 0 && self.begins_anew(index);
            if index > start && ends {
                return Cut { end: index, terminated: false };
            }
            depth += step(kind);
            index += 1;
        }
        Cut { end: limit, terminated: false }
    }

    /// Whether something new begins at a token outside of brackets: two operands without an operator between
    /// them never stand in one statement, declaration or condition. On one line the second must show by what
    /// follows it that it begins a statement.
    pub(super) fn begins_anew(&self, index: usize) -> bool {
        use TokenKind as T;
        let kind = self.kind(index);
        let can_begin =
            matches!(kind, T::Identifier | T::This | T::Super | T::DirectAddress | T::TypeQualifier)
                || kind.is_literal();
        if !can_begin || index == 0 {
            return false;
        }
        let before = self.kind(index - 1);
        let ends = before.ends_operand() || matches!(before, T::ElementaryType | T::String | T::Wstring);
        if !ends {
            return false;
        }
        let next = self.kind(index + 1);
        self.first_on_line(index)
            || kind == T::Identifier
                && (matches!(next, T::Assign | T::Attempt)
                    || next == T::ParenthesisOpen && before == T::ParenthesisClose)
    }

    /// The end of a declaration: behind its semicolon, before what cannot belong to it, or at `limit`.
    pub(super) fn cut_declaration(&self, start: usize, limit: usize) -> Cut {
        let mut depth = 0isize;
        for index in start..limit {
            let kind = self.kind(index);
            if kind == TokenKind::Semicolon {
                return Cut { end: index + 1, terminated: true };
            }
            if index > start && depth <= 0 && self.begins_declaration(index) {
                return Cut { end: index, terminated: false };
            }
            depth += step(kind);
        }
        Cut { end: limit, terminated: false }
    }

    /// Whether the next declaration begins at a token outside of brackets.
    fn begins_declaration(&self, index: usize) -> bool {
        use TokenKind as T;
        if self.kind(index) != T::Identifier || index == 0 {
            return false;
        }
        let before = self.kind(index - 1);
        let ends = before.ends_operand()
            || matches!(
                before,
                T::ElementaryType
                    | T::String
                    | T::Wstring
                    | T::RisingEdge
                    | T::FallingEdge
                    | T::EndStruct
                    | T::ReadOnly
                    | T::ReadWrite
            );
        ends && (self.first_on_line(index) || matches!(self.kind(index + 1), T::Colon | T::At))
    }

    /// The end of the head of a block that begins at `start`: behind `THEN`, `DO`, `OF`, or before what cannot
    /// belong to a head.
    pub(super) fn cut_head(&self, start: usize, limit: usize) -> Cut {
        use TokenKind as T;
        let mut depth = 0isize;
        let mut index = start + 1;
        while index < limit {
            let kind = self.kind(index);
            if matches!(kind, T::Then | T::Do | T::Of) {
                return Cut { end: index + 1, terminated: true };
            }
            // `FOR i := 1` NEWLINE `TO …` goes on; a second statement does not belong to a head.
            let ends = kind == T::Semicolon
                || ends_statement(kind) && !self.used_as_name(index)
                || depth <= 0 && self.begins_anew(index);
            if ends {
                return Cut { end: index, terminated: false };
            }
            depth += step(kind);
            index += 1;
        }
        Cut { end: limit, terminated: false }
    }

    /// The end of the labels at `start`, if a colon shows that there are some.
    pub(super) fn cut_labels(&self, start: usize, limit: usize) -> Option<Cut> {
        use TokenKind as T;
        for index in start..limit {
            match self.kind(index) {
                T::Colon => return Some(Cut { end: index + 1, terminated: true }),
                T::Semicolon | T::Assign | T::Attempt | T::Output => return None,
                kind if ends_statement(kind) && !self.used_as_name(index) => return None,
                _ => {}
            }
        }
        None
    }

    /// Index of the bracket that closes the one at `open`, if there is one before `limit`.
    pub(super) fn matching_bracket(&self, open: usize, limit: usize) -> Option<usize> {
        /// Tokens looked through before all brackets of the file are paired: most are closed in the same line.
        const NEAR: usize = 64;
        if step(self.kind(open)) != 1 {
            return None;
        }
        let mut depth = 1;
        for index in open + 1..limit.min(open + NEAR) {
            depth += step(self.kind(index));
            if depth == 0 || is_boundary(self.tokens, index) {
                return (depth == 0).then_some(index);
            }
        }
        if limit <= open + NEAR {
            return None;
        }
        let partners = self.bracket_partners.get_or_init(|| pair_brackets(self.tokens));
        partners.get(open).map(|close| *close as usize).filter(|close| *close > open && *close < limit)
    }
}

/// For every opening bracket the index of the closing one, 0 where there is none; paired within units.
fn pair_brackets(tokens: &[Token]) -> Vec<u32> {
    let mut partners = vec![0; tokens.len()];
    let mut open: Vec<usize> = Vec::new();
    for (index, token) in tokens.iter().enumerate() {
        match step(token.kind) {
            1 => open.push(index),
            -1 => {
                if let Some(partner) = open.pop().and_then(|place| partners.get_mut(place)) {
                    *partner = index as u32;
                }
            }
            _ if is_boundary(tokens, index) => open.clear(),
            _ => {}
        }
    }
    partners
}

/// 1 for an opening bracket, -1 for a closing one.
pub(super) fn step(kind: TokenKind) -> isize {
    match kind {
        TokenKind::ParenthesisOpen | TokenKind::BracketOpen => 1,
        TokenKind::ParenthesisClose | TokenKind::BracketClose => -1,
        _ => 0,
    }
}

/// Opening minus closing brackets.
pub(super) fn balance(tokens: &[Token]) -> isize {
    tokens.iter().map(|token| step(token.kind)).sum()
}

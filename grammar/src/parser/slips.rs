//! Slips in declarations and statements that have a form of their own.

use super::{
    Parser, cut,
    piecewise::{Patient, Remedy},
    repair::{open_brackets, set_kind},
};
use crate::{
    diagnostic::{Diagnostic, Edit},
    lexer::{Token, TokenKind},
    piece::{Expected, PieceKind},
    source::Span,
};

impl Parser<'_> {
    /// Slips that have a form of their own.
    pub(super) fn special_form(
        &mut self,
        patient: &mut Patient,
        at: usize,
        kind: TokenKind,
        span: Span,
        expected: &Expected,
    ) -> Option<Remedy> {
        use TokenKind as T;
        let before = at.checked_sub(1).and_then(|before| patient.tokens.get(before)).copied();
        let before_kind = before.map(|token| token.kind);
        let declares = matches!(patient.kind, PieceKind::Variable | PieceKind::Type | PieceKind::Unit);
        let give_up = |problem: Diagnostic| Some(Remedy::GiveUp(Box::new(problem), None));

        // `STRING(20)`
        if declares && kind == T::ParenthesisOpen && matches!(before_kind, Some(T::String | T::Wstring)) {
            let close = closing_bracket(&patient.tokens, at)?;
            let close_span = patient.tokens.get(close)?.span(self.file);
            let mut problem = Diagnostic::error(
                "string-length-in-parentheses",
                span,
                "the length of a string is written in `[` `]`",
            )
            .label("expected `[`")
            .fix("write `[` and `]`", span, "[");
            if let Some(fix) = &mut problem.fix {
                fix.edits.push(Edit { span: close_span, text: "]".into() });
            }
            patient.problems.push(problem);
            set_kind(patient, at, T::BracketOpen);
            set_kind(patient, close, T::BracketClose);
            return Some(Remedy::Changed);
        }
        // `block(NOT input := value)`: NOT is for outputs, as in `NOT Q => x`
        if kind == T::Assign
            && before_kind == Some(T::Identifier)
            && let Some(negation) = at.checked_sub(2)
            && let Some(token) = patient.tokens.get(negation).copied().filter(|token| token.kind == T::Not)
            && let Some(opening) = negation.checked_sub(1).and_then(|place| patient.tokens.get(place))
            && matches!(opening.kind, T::ParenthesisOpen | T::Comma)
            && calls(patient.tokens.get(..negation).unwrap_or(&[]))
        {
            patient.problems.push(
                Diagnostic::error(
                    "unexpected-token",
                    token.span(self.file),
                    "`NOT` stands before outputs only",
                )
                .label("not before an input")
                .note("an input takes the negated value: `input := NOT value`"),
            );
            patient.tokens.remove(negation);
            return Some(Remedy::Changed);
        }
        // `x : ANY_INT`
        if declares && kind == T::GenericType {
            return give_up(
                Diagnostic::error("generic-type", span, "generic types cannot be used in declarations")
                    .label("expected a type such as `INT`")
                    .note("the generic types only describe the standard functions"),
            );
        }
        // `x INT;`
        if declares
            && expected.has(":")
            && !expected.has("+")
            && begins_type(kind)
            && before_kind == Some(T::Identifier)
        {
            let place = before.map_or(span, |token| token.span(self.file).after());
            patient.problems.push(
                Diagnostic::error("missing-colon", place, "expected `:` between the name and its type")
                    .label("expected `:` here")
                    .fix("insert `:`", place, " :"),
            );
            patient.tokens.insert(
                at,
                Token {
                    kind: T::Colon,
                    first_on_line: false,
                    start: place.start,
                    end: place.start,
                    payload: 0,
                },
            );
            return Some(Remedy::Changed);
        }
        // `x := 5;` in a variable section
        if patient.kind == PieceKind::Variable && kind == T::Assign && expected.has(":") {
            return give_up(
                Diagnostic::error("missing-type", span, "a declaration needs a type before its initial value")
                    .label("expected `:` and a type before this")
                    .note("a declaration is written `name : TYPE := value;`; statements stand behind the variable sections"),
            );
        }
        if patient.kind != PieceKind::Statement {
            return None;
        }
        // `x : INT;` among the statements
        if kind == T::Colon && before_kind == Some(T::Identifier) {
            let next = patient.tokens.get(at + 1).map(|token| token.kind);
            if next.is_some_and(|next| begins_type(next) && next != T::Identifier) {
                return give_up(
                    Diagnostic::error(
                        "declaration-in-body",
                        span,
                        "variables cannot be declared among the statements",
                    )
                    .label("this looks like a declaration")
                    .note("declarations stand between `VAR` and `END_VAR`, before the first statement"),
                );
            }
        }
        // An argument without a comma before it, or a statement behind a call that is not closed
        let next = patient.tokens.get(at + 1).map(|token| token.kind);
        let first_on_line = patient.tokens.get(at).is_some_and(|token| token.first_on_line);
        let begins_argument = kind == T::Identifier
            && (first_on_line || matches!(next, Some(T::Assign | T::Output)))
            && expected.has(",")
            && expected.has(")");
        if let (true, Some(before)) = (begins_argument, before) {
            let place = before.span(self.file).after();
            if closes_later(&patient.tokens, at) {
                patient.problems.push(
                    Diagnostic::error("unexpected-token", place, "expected `,` between two arguments")
                        .label("expected `,` here")
                        .fix("insert `,`", place, ","),
                );
                let (start, end) = (place.start, place.start);
                patient
                    .tokens
                    .insert(at, Token { kind: T::Comma, first_on_line: false, start, end, payload: 0 });
                return Some(Remedy::Changed);
            }
            let open = open_brackets(patient.tokens.get(..at).unwrap_or(&[])).pop()?;
            let problem = Diagnostic::error("unclosed-parenthesis", place, "expected `)`")
                .label("expected `)` here or before")
                .also(open.span(self.file), "to close this");
            let resume = self.original_index(patient, at);
            return Some(Remedy::GiveUp(Box::new(problem), Some(resume)));
        }
        // `a := b := c`
        let open = patient.tokens.get(..at).map_or(0, cut::balance);
        if kind == T::Assign && open == 0 && has_assignment(&patient.tokens, at) {
            return give_up(
                Diagnostic::error("chained-assignment", span, "a statement assigns once")
                    .label("a second `:=` in one statement")
                    .note("write one statement for each variable; compare with `=`"),
            );
        }
        // `s := (a := 1, b := 2)` and `a := [1, 2]`
        let list_brackets = kind == T::BracketOpen && before_kind == Some(T::Assign);
        let list_members = kind == T::Assign
            && open == 1
            && at >= 2
            && matches!(before_kind, Some(T::Identifier))
            && patient.tokens.get(at.wrapping_sub(2)).is_some_and(|token| token.kind == T::ParenthesisOpen)
            && patient.tokens.get(at.wrapping_sub(3)).is_some_and(|token| token.kind == T::Assign)
            && member_list_follows(&patient.tokens, at);
        if list_brackets || list_members {
            return give_up(
                Diagnostic::error(
                    "list-value-in-statement",
                    span,
                    "lists of values are for declarations only",
                )
                .label("not allowed in a statement")
                .note("assign the elements one by one"),
            );
        }
        None
    }
}

/// Whether a bracket that is open at `at` is closed behind it.
fn closes_later(tokens: &[Token], at: usize) -> bool {
    let mut depth = 0isize;
    tokens.iter().skip(at).any(|token| {
        depth += cut::step(token.kind);
        depth < 0
    })
}

fn closing_bracket(tokens: &[Token], open: usize) -> Option<usize> {
    let mut depth = 0isize;
    for (index, token) in tokens.iter().enumerate().skip(open) {
        depth += cut::step(token.kind);
        if depth == 0 {
            return (token.kind == TokenKind::ParenthesisClose).then_some(index);
        }
    }
    None
}

fn has_assignment(tokens: &[Token], before: usize) -> bool {
    tokens.iter().take(before).any(|token| matches!(token.kind, TokenKind::Assign | TokenKind::Attempt))
}

/// Whether the parenthesis around `at` ends the statement, or holds several members.
fn member_list_follows(tokens: &[Token], at: usize) -> bool {
    let mut depth = 0isize;
    for (index, token) in tokens.iter().enumerate().skip(at) {
        depth += cut::step(token.kind);
        if depth < 0 {
            return tokens.get(index + 1).is_none_or(|next| next.kind == TokenKind::Semicolon);
        }
        if token.kind == TokenKind::Comma {
            return true;
        }
    }
    true
}

/// Whether the innermost bracket that is open at the end is that of a call.
fn calls(tokens: &[Token]) -> bool {
    let Some(innermost) = open_brackets(tokens).pop().filter(|it| it.kind == TokenKind::ParenthesisOpen)
    else {
        return false;
    };
    let place = tokens.iter().position(|token| token.start == innermost.start);
    let callee = place.and_then(|place| place.checked_sub(1)).and_then(|place| tokens.get(place));
    callee.is_some_and(|callee| matches!(callee.kind, TokenKind::Identifier | TokenKind::BracketClose))
}

fn begins_type(kind: TokenKind) -> bool {
    use TokenKind as T;
    matches!(
        kind,
        T::ElementaryType | T::String | T::Wstring | T::Array | T::RefTo | T::Identifier | T::Struct
    )
}

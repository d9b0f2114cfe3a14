//! The commonest slips: recognised where the grammar stops, named, and put right if that is certain.

use super::{
    Parser, Said, cut,
    piecewise::{Patient, Remedy, terminator_of_head},
};
use crate::{
    diagnostic::Diagnostic,
    lexer::{Token, TokenKind},
    piece::{Expected, PieceKind},
    source::Span,
};

impl Parser<'_> {
    /// What to do about a piece that stops fitting at the token `at`.
    pub(super) fn remedy(&mut self, patient: &mut Patient, at: usize, expected: &Expected) -> Remedy {
        use TokenKind as T;
        let found = patient.tokens.get(at).copied();
        let kind = found.map_or(T::EndOfFile, |token| token.kind);
        let span = found.map_or(Span::new(self.file, 0, 0), |token| token.span(self.file));

        if let Some(remedy) = self.ends_before(patient, at, expected) {
            return remedy;
        }
        if let Some(remedy) = self.special_form(patient, at, kind, span, expected) {
            return remedy;
        }
        match kind {
            T::Assign if expected.has("=") && self.compares(patient, at) => {
                patient.problems.push(
                    Diagnostic::error(
                        "assignment-in-condition",
                        span,
                        "`:=` assigns; a comparison is written `=`",
                    )
                    .label("not allowed inside an expression")
                    .fix("write `=`", span, "="),
                );
                change(patient, at, T::Equal)
            }
            T::Equal if expected.has(":=") => {
                patient.problems.push(
                    Diagnostic::error(
                        "equals-for-assignment",
                        span,
                        "`=` compares; a value is given with `:=`",
                    )
                    .label("expected `:=`")
                    .fix("write `:=`", span, ":="),
                );
                change(patient, at, T::Assign)
            }
            T::ParenthesisClose | T::BracketClose if closes_nothing(&patient.tokens, at) => {
                let text = if kind == T::ParenthesisClose { ")" } else { "]" };
                patient.problems.push(
                    Diagnostic::error("unmatched-parenthesis", span, format!("`{text}` closes nothing"))
                        .label(format!("no bracket is open before this `{text}`"))
                        .fix(format!("remove `{text}`"), span, ""),
                );
                patient.tokens.remove(at);
                Remedy::Changed
            }
            _ if self.is_name_slip(patient, kind, expected) => {
                if self.said.insert(Said::KeywordAsName(kind)) {
                    let word = self.text.get(span.start as usize..span.end as usize).unwrap_or("");
                    patient.problems.push(
                        Diagnostic::error(
                            "keyword-as-identifier",
                            span,
                            format!("`{word}` is a keyword of the language and cannot be used as a name"),
                        )
                        .label("reserved")
                        .note("choose another name everywhere it is used"),
                    );
                }
                let word = self.text.get(span.start as usize..span.end as usize).unwrap_or("");
                let name = self.names.intern(word);
                if let Some(token) = patient.tokens.get_mut(at) {
                    token.kind = T::Identifier;
                    token.payload = name.0;
                }
                Remedy::Changed
            }
            T::Then | T::Do | T::Of | T::Semicolon | T::EndOfFile | T::EndRepeat => {
                self.missing_bracket_or_word(patient, at, kind, span, expected)
            }
            _ => Remedy::Unknown,
        }
    }

    /// A piece that is complete where something new begins lacks only its last token.
    fn ends_before(&self, patient: &Patient, at: usize, expected: &Expected) -> Option<Remedy> {
        use TokenKind as T;
        let terminator = match patient.kind {
            PieceKind::Statement
            | PieceKind::Variable
            | PieceKind::Type
            | PieceKind::StructureTail
            | PieceKind::Using
            | PieceKind::Association
            | PieceKind::Task
            | PieceKind::Instance
            | PieceKind::Access
            | PieceKind::Setting => ";",
            PieceKind::Condition | PieceKind::For => match terminator_of_head(patient.tokens.first()?.kind) {
                T::Then => "THEN",
                T::Of => "OF",
                T::EndRepeat => return None,
                _ => "DO",
            },
            _ => return None,
        };
        let token = patient.tokens.get(at)?;
        if at == 0 || !expected.has(terminator) {
            return None;
        }
        let next = patient.tokens.get(at + 1).map(|token| token.kind);
        let begins_statement = matches!(
            token.kind,
            T::Identifier | T::This | T::Super | T::DirectAddress | T::Return | T::Exit | T::Continue
        ) && (token.first_on_line
            || matches!(next, Some(T::Assign | T::Attempt | T::Dot | T::BracketOpen | T::Caret))
            || (next == Some(T::ParenthesisOpen)
                && patient.tokens.get(at - 1).is_none_or(|t| t.kind != T::Identifier)));
        let begins_declaration = token.kind == T::Identifier
            && (token.first_on_line || matches!(next, Some(T::Colon | T::Comma | T::At)));
        let begins_label =
            token.first_on_line && (token.kind.is_literal() || matches!(token.kind, T::TypeQualifier));
        let begins = match patient.kind {
            PieceKind::Statement => {
                begins_statement
                    || begins_label
                    || token.kind == T::Identifier
                        && next == Some(T::Colon)
                        && patient.tokens.get(at + 2).is_none_or(|t| t.kind != T::ElementaryType)
            }
            PieceKind::Variable
            | PieceKind::Type
            | PieceKind::StructureTail
            | PieceKind::Access
            | PieceKind::Setting => begins_declaration || token.first_on_line && token.kind == T::At,
            _ => begins_statement || begins_label,
        };
        begins.then_some(Remedy::EndsBefore(at))
    }

    /// Whether `:=` at this place was meant as a comparison.
    fn compares(&self, patient: &Patient, at: usize) -> bool {
        match patient.kind {
            PieceKind::Condition | PieceKind::Expression => true,
            PieceKind::Statement | PieceKind::For => {
                // `x := (a := b) AND c` compares, `x := (a := 1, b := 2)` lists; see `special_form`.
                patient.tokens.get(..at).is_some_and(|before| cut::balance(before) > 0)
            }
            _ => false,
        }
    }

    /// Whether a keyword stands where only a name can, and is not there for another reason.
    fn is_name_slip(&self, patient: &Patient, kind: TokenKind, expected: &Expected) -> bool {
        use TokenKind as T;
        if !kind.is_keyword() || !expected.has("identifier") || expected.has("elementary_type") {
            return false;
        }
        if !expected.has("integer_literal") {
            // Only names fit here.
            let is_heading = patient.kind == PieceKind::Unit;
            let has_a_reason =
                matches!(kind, T::EndVar | T::EndType | T::EndStruct | T::Then | T::Do | T::Of)
                    || is_heading && cut::opens_section(kind)
                    || patient.kind == PieceKind::Transition && matches!(kind, T::From | T::To);
            return !has_a_reason;
        }
        matches!(
            kind,
            T::Step
                | T::InitialStep
                | T::Transition
                | T::Action
                | T::From
                | T::Task
                | T::With
                | T::On
                | T::Class
                | T::Method
                | T::Interface
                | T::Namespace
                | T::Using
                | T::Resource
                | T::Configuration
                | T::Constant
                | T::Retain
                | T::NonRetain
                | T::ReadOnly
                | T::ReadWrite
                | T::Overlap
                | T::Extends
                | T::Implements
                | T::Abstract
                | T::Final
                | T::Override
                | T::Public
                | T::Private
                | T::Protected
                | T::Internal
                | T::Type
                | T::Struct
                | T::At
                | T::RisingEdge
                | T::FallingEdge
                | T::Program
                | T::Function
                | T::FunctionBlock
        ) || {
            // `for := 1;`, `x := if + 1`: structure words only when an operator shows that a name is meant.
            let next = patient
                .tokens
                .iter()
                .position(|token| token.kind == kind)
                .and_then(|place| patient.tokens.get(place + 1));
            matches!(patient.kind, PieceKind::Statement)
                && next.is_some_and(|next| next.kind == T::Assign)
                && !matches!(kind, T::ElementaryType | T::String | T::Wstring)
        }
    }

    /// The piece ends, but something is still open.
    fn missing_bracket_or_word(
        &mut self,
        patient: &mut Patient,
        at: usize,
        kind: TokenKind,
        span: Span,
        expected: &Expected,
    ) -> Remedy {
        use TokenKind as T;
        let before = patient.tokens.get(..at).unwrap_or(&[]);
        let last_end = before.last().map_or(span.start, |token| token.end);
        let place = Span::new(self.file, last_end, last_end);
        // A semicolon inside a list of arguments is no missing parenthesis; the closing one follows it.
        let open = if self.closes_behind(patient, at) { Vec::new() } else { open_brackets(before) };
        if let Some(innermost) = open.last() {
            let text = if innermost.kind == T::BracketOpen { "]" } else { ")" };
            if expected.has(text) {
                patient.problems.push(
                    Diagnostic::error("unclosed-parenthesis", place, format!("expected `{text}`"))
                        .label(format!("expected `{text}` here or before"))
                        .also(innermost.span(self.file), "to close this"),
                );
                // One message, however many are open.
                let closing = open.iter().map(|token| Token {
                    kind: if token.kind == T::BracketOpen { T::BracketClose } else { T::ParenthesisClose },
                    first_on_line: false,
                    start: last_end,
                    end: last_end,
                    payload: 0,
                });
                let closing: Vec<Token> = closing.rev().collect();
                patient.tokens.splice(at..at, closing);
                return Remedy::Changed;
            }
        }
        // `IF a DO`, `WHILE b THEN`
        if matches!(kind, T::Then | T::Do | T::Of)
            && matches!(patient.kind, PieceKind::Condition | PieceKind::For)
            && let Some(opening) = patient.tokens.first().map(|token| token.kind)
        {
            let wanted = terminator_of_head(opening);
            let word = match wanted {
                T::Then => "THEN",
                T::Of => "OF",
                _ => "DO",
            };
            if wanted != kind && expected.has(word) {
                let written = self.text.get(span.start as usize..span.end as usize).unwrap_or("");
                patient.problems.push(
                    Diagnostic::error(
                        "missing-keyword",
                        span,
                        format!("expected `{word}`, found `{written}`"),
                    )
                    .label(format!("expected `{word}`"))
                    .fix(format!("write `{word}`"), span, word),
                );
                return change(patient, at, wanted);
            }
        }
        Remedy::Unknown
    }

    /// Whether the brackets still open at `at` are closed behind the piece, before the next statement.
    fn closes_behind(&self, patient: &Patient, at: usize) -> bool {
        if patient.tokens.get(at).is_none_or(|token| token.kind != TokenKind::Semicolon) {
            return false;
        }
        self.call_goes_on(patient.start, patient.cut).is_some()
    }
}

pub(super) fn set_kind(patient: &mut Patient, at: usize, kind: TokenKind) {
    if let Some(token) = patient.tokens.get_mut(at) {
        token.kind = kind;
    }
}

fn change(patient: &mut Patient, at: usize, kind: TokenKind) -> Remedy {
    set_kind(patient, at, kind);
    Remedy::Changed
}

/// Whether a closing bracket has no opening one before it.
fn closes_nothing(tokens: &[Token], at: usize) -> bool {
    cut::balance(tokens.get(..at).unwrap_or(&[])) <= 0
}

/// The brackets still open at the end, outermost first.
pub(super) fn open_brackets(tokens: &[Token]) -> Vec<Token> {
    let mut open = Vec::new();
    for token in tokens {
        match cut::step(token.kind) {
            1 => open.push(*token),
            -1 => {
                open.pop();
            }
            _ => {}
        }
    }
    open
}

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
            PieceKind::Statement | PieceKind::Variable | PieceKind::Type | PieceKind::StructureTail => ";",
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
            PieceKind::Variable | PieceKind::Type | PieceKind::StructureTail => {
                begins_declaration || token.first_on_line && token.kind == T::At
            }
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

    /// Slips that have a form of their own.
    fn special_form(
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
                fix.edits.push(crate::diagnostic::Edit { span: close_span, text: "]".into() });
            }
            patient.problems.push(problem);
            set_kind(patient, at, T::BracketOpen);
            set_kind(patient, close, T::BracketClose);
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
        // `m AT %B2 : BYTE` in a structure
        if declares && kind == T::PartialAccess && before_kind == Some(T::At) {
            return give_up(
                Diagnostic::error(
                    "not-in-subset",
                    span,
                    "relative addresses in structures are not supported",
                )
                .label("an address inside the structure")
                .note("leave `AT` and the address out: members are laid out in textual order"),
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
                    || is_heading && cut::opens_section(kind);
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

fn set_kind(patient: &mut Patient, at: usize, kind: TokenKind) {
    if let Some(token) = patient.tokens.get_mut(at) {
        token.kind = kind;
    }
}

fn change(patient: &mut Patient, at: usize, kind: TokenKind) -> Remedy {
    set_kind(patient, at, kind);
    Remedy::Changed
}

fn begins_type(kind: TokenKind) -> bool {
    use TokenKind as T;
    matches!(
        kind,
        T::ElementaryType | T::String | T::Wstring | T::Array | T::RefTo | T::Identifier | T::Struct
    )
}

/// Whether a closing bracket has no opening one before it.
fn closes_nothing(tokens: &[Token], at: usize) -> bool {
    cut::balance(tokens.get(..at).unwrap_or(&[])) <= 0
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

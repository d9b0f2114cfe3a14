//! What to say when a token does not fit: the terminals of the grammar put into words.

use super::{
    Parser,
    piecewise::{Patient, terminator_of_head},
};
use crate::{
    diagnostic::Diagnostic,
    lexer::{Token, TokenKind},
    piece::{Expected, PieceKind},
    source::Span,
};

/// Longest piece of source quoted in a message, in characters.
const QUOTE_MAX: usize = 40;

impl Parser<'_> {
    /// Words for the token at an index of the file.
    pub(crate) fn found(&self, index: usize) -> String {
        if index >= self.tokens.len() {
            return "the end of the file".into();
        }
        quote(self.text(index))
    }

    /// The error for a token that does not fit, when nothing more is known about it.
    pub(super) fn word_failure(
        &self,
        patient: &Patient,
        at: usize,
        index: usize,
        expected: &Expected,
    ) -> Diagnostic {
        let wanted = words(expected, patient.kind);
        let found = if at >= patient.tokens.len() && !patient.cut.terminated && index < self.tokens.len() {
            // The piece was cut before a word that cannot belong to it.
            quote(self.text(index))
        } else {
            self.found(index)
        };
        let behind = at.checked_sub(1).and_then(|before| patient.tokens.get(before));
        let after = match behind {
            Some(token) if token.end > token.start => {
                let text = self.text.get(token.start as usize..token.end as usize).unwrap_or("");
                format!(" after {}", quote(text))
            }
            _ => String::new(),
        };
        let span = self.place_to_point_at(index);
        let wants_expression = expected.has("integer_literal") && expected.has("NOT");
        let is_alone = matches!(patient.kind, PieceKind::Constant | PieceKind::Expression);
        let found = if is_alone && index >= self.tokens.len() { "nothing".to_owned() } else { found };
        let wants_constant = patient.kind == PieceKind::Constant && expected.has("integer_literal");
        let name = if wants_constant || wants_expression && !(at == 0 && patient.kind == PieceKind::Statement)
        {
            "expected-expression"
        } else if wants_type(expected) {
            "expected-type"
        } else {
            "unexpected-token"
        };
        if wanted.is_empty() {
            let problem = Diagnostic::error(name, span, format!("{found} does not belong here"))
                .label(format!("unexpected{after}"));
            let is_value = self.kind(index) == TokenKind::TypeQualifier;
            return if is_value && index > 0 && self.kind(index - 1) == TokenKind::Dot {
                problem.note("only namespaces stand in front of a type: `plant.Mode#Auto`")
            } else {
                problem
            };
        }
        let problem = Diagnostic::error(name, span, format!("expected {wanted}, found {found}"))
            .label(format!("expected {wanted}{after}"));
        match self.kind(index) {
            TokenKind::Comma if is_integer(behind) && is_integer(patient.tokens.get(at + 1)) => {
                problem.note("a real number is written with a point: `1.5`")
            }
            TokenKind::Assign if at > 0 && (wants_expression || expected.has("=")) => {
                problem.note("`:=` assigns a value; values are compared with `=`")
            }
            TokenKind::Hash => problem.note("no blank may stand before the `#` of a literal"),
            TokenKind::ElementaryType | TokenKind::String | TokenKind::Wstring if wants_expression => problem
                .note("this is the name of a type; a conversion is a function such as `INT_TO_REAL(x)`"),
            _ => problem,
        }
    }

    /// The place of a token; behind the token before it if it stands on another line or ends the file.
    pub(crate) fn place_to_point_at(&self, index: usize) -> Span {
        if index >= self.tokens.len() || (index > 0 && self.first_on_line(index)) {
            self.behind_previous(index)
        } else {
            self.span(index)
        }
    }

    /// Reports that the last token of a piece is missing before the token at `next`.
    pub(super) fn report_missing_end(&mut self, kind: PieceKind, start: usize, next: usize) {
        if self.is_behind_unread(next) {
            return;
        }
        let place = self.behind_previous(next);
        let problem = match kind {
            PieceKind::Condition | PieceKind::For => {
                let opening = self.kind(start);
                let word = match terminator_of_head(opening) {
                    TokenKind::Then => "THEN",
                    TokenKind::Of => "OF",
                    TokenKind::EndRepeat => "END_REPEAT",
                    _ => "DO",
                };
                let of = self.text(start).to_ascii_uppercase();
                Diagnostic::error(
                    "missing-keyword",
                    place,
                    format!("expected `{word}` to end this `{of}` line"),
                )
                .label(format!("expected `{word}` here"))
                .also(self.span(start), format!("it belongs to this `{of}`"))
                .fix(format!("insert `{word}`"), place, format!(" {word}"))
            }
            PieceKind::Labels | PieceKind::PartHead => {
                let what = if kind == PieceKind::Labels { "labels" } else { "name" };
                Diagnostic::error("unexpected-token", place, format!("expected `:` after the {what}"))
                    .label("expected `:` here")
                    .fix("insert `:`", place, ":")
            }
            _ => {
                let what = match kind {
                    PieceKind::Statement => "statement",
                    PieceKind::Using => "directive",
                    PieceKind::Association => "action",
                    _ => "declaration",
                };
                Diagnostic::error("missing-semicolon", place, format!("expected `;` after this {what}"))
                    .label("expected `;` here")
                    .fix("insert `;`", place, ";")
            }
        };
        self.report(problem);
    }

    /// Takes the semicolon behind the closing word of a block, or reports that it is missing.
    pub(super) fn semicolon_behind_block(&mut self, next: usize) -> usize {
        if self.kind(next) == TokenKind::Semicolon {
            return next + 1;
        }
        if !self.is_behind_unread(next) {
            let place = self.behind_previous(next);
            let word = self.text(next.saturating_sub(1)).to_ascii_uppercase();
            let problem =
                Diagnostic::error("missing-semicolon", place, format!("expected `;` after `{word}`"))
                    .label("expected `;` here")
                    .fix("insert `;`", place, ";");
            self.report(problem);
        }
        next
    }
}

/// Source text between backquotes, shortened.
pub(crate) fn quote(text: &str) -> String {
    let mut characters = text.chars();
    let short: String = characters.by_ref().take(QUOTE_MAX).collect();
    if characters.next().is_some() { format!("`{short}…`") } else { format!("`{short}`") }
}

/// A word with its article, between backquotes.
pub(super) fn with_article(word: &str) -> String {
    let article = if word.starts_with(['A', 'E', 'I', 'O', 'U']) { "an" } else { "a" };
    format!("{article} `{word}`")
}

fn is_integer(token: Option<&Token>) -> bool {
    token.is_some_and(|token| token.kind == TokenKind::IntegerLiteral)
}

fn wants_type(expected: &Expected) -> bool {
    expected.has("ARRAY") && expected.has("elementary_type")
}

/// The terminals in words, such as "an expression" or "`)` or `,`".
fn words(expected: &Expected, kind: PieceKind) -> String {
    let mut list: Vec<String> = Vec::new();
    let wants_expression = expected.has("integer_literal") && expected.has("NOT");
    let wants_operand =
        expected.has("integer_literal") && !wants_expression && !expected.has("partial_access");
    if wants_expression {
        list.push(match kind {
            PieceKind::Statement if expected.has("RETURN") => "a statement".into(),
            PieceKind::Labels => "a label".into(),
            _ => "an expression".into(),
        });
    } else if wants_operand {
        list.push(match kind {
            PieceKind::Constant => "a literal".into(),
            PieceKind::Instruction | PieceKind::Operand => "an operand".into(),
            _ => "a literal".into(),
        });
    } else if expected.has("partial_access") && expected.has("identifier") {
        list.push("the name of a member".into());
    } else if wants_type(expected) {
        list.push("a type".into());
    } else if expected.has("il_operator") {
        list.push("an instruction".into());
    } else if expected.has("identifier") {
        list.push(match kind {
            PieceKind::Variable
            | PieceKind::Type
            | PieceKind::Unit
            | PieceKind::Bases
            | PieceKind::Using
            | PieceKind::StructureHead => "a name".into(),
            _ if expected.has("direct_address") => "a variable".into(),
            _ => "a name".into(),
        });
    } else if expected.has("direct_address") {
        list.push("an address such as `%IX0.0`".into());
    }
    let prefer = [
        ";",
        "THEN",
        "OF",
        "DO",
        "FROM",
        "ON",
        "WITH",
        "TO",
        "END_REPEAT",
        ")",
        "]",
        ",",
        ":",
        ":=",
        "=>",
        "..",
        "(",
        "[",
        "STRUCT",
        "END_STRUCT",
    ];
    if !wants_expression {
        for terminal in prefer {
            let operand_forms = matches!(terminal, "(" | "[") && !list.is_empty();
            let after_operand = matches!(terminal, "(" | "[" | ":=" | "=>" | "..")
                && expected.has("+")
                && kind != PieceKind::For;
            if expected.has(terminal) && !operand_forms && !after_operand && list.len() < 3 {
                list.push(format!("`{terminal}`"));
            }
        }
        if expected.has("+") && expected.has("AND") && list.len() < 3 {
            list.insert(0, "an operator".into());
        }
    }
    if list.is_empty() {
        let mut rest: Vec<&str> =
            expected.iter().filter(|name| !name.starts_with(|c: char| c.is_ascii_lowercase())).collect();
        rest.sort_unstable();
        rest.truncate(3);
        list = rest.into_iter().map(|name| format!("`{name}`")).collect();
    }
    match list.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}

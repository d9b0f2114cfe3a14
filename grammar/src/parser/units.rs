//! The file level: program organization units, type sections, global variables (6.6), and a clear word about
//! the constructs that are not supported.

use super::{
    Parser, Said,
    cut::{self, Cut},
};
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    piece::{Piece, PieceKind},
    tree::{Body, Declaration, ProgramUnit, UnitKind},
};

impl Parser<'_> {
    /// All declarations of the file.
    pub(super) fn declarations(&mut self) -> Vec<Declaration> {
        use TokenKind as T;
        let mut declarations = Vec::new();
        let mut index = 0;
        while index < self.tokens.len() {
            self.said.clear();
            index = match self.kind(index) {
                T::Program | T::Function | T::FunctionBlock => self.unit(index, &mut declarations),
                T::Type => {
                    let (section, next) = self.type_section(index);
                    declarations.push(Declaration::Types(section));
                    next
                }
                T::VarGlobal => {
                    let (section, next) = self.variable_section(index, self.tokens.len());
                    if let Some(section) = section {
                        declarations.push(Declaration::Globals(section));
                    }
                    next
                }
                T::Class | T::Interface | T::Namespace | T::Configuration => self.unsupported_unit(index),
                T::Using => {
                    let end = self.cut_declaration(index, self.line_end(index)).end;
                    self.not_in_subset(
                        index,
                        end,
                        "namespaces are not supported",
                        "put the declarations at file level",
                    );
                    end
                }
                T::Semicolon if index > 0 => self.semicolon_after_end(index),
                _ => self.outside_unit(index),
            };
        }
        declarations
    }

    /// Index of the first token of the next line.
    pub(super) fn line_end(&self, index: usize) -> usize {
        let mut end = index + 1;
        while end < self.tokens.len() && !self.first_on_line(end) {
            end += 1;
        }
        end
    }

    pub(super) fn not_in_subset(&mut self, start: usize, end: usize, message: &str, note: &str) {
        let span = self.span_of(start, end.max(start + 1));
        self.damaged = true;
        self.report(Diagnostic::error("not-in-subset", span, message).label("skipped").note(note.to_owned()));
    }

    /// A class, interface, namespace or configuration, skipped whole.
    fn unsupported_unit(&mut self, index: usize) -> usize {
        use TokenKind as T;
        let opening = self.kind(index);
        let (closing, message, note) = match opening {
            T::Class => (T::EndClass, "classes are not supported", "write a FUNCTION_BLOCK instead"),
            T::Interface => {
                (T::EndInterface, "interfaces are not supported", "call the function blocks directly")
            }
            T::Namespace => {
                (T::EndNamespace, "namespaces are not supported", "put the declarations at file level")
            }
            _ => (
                T::EndConfiguration,
                "configurations are not supported",
                "without one, every PROGRAM runs as one instance in a cyclic task, and VAR_GLOBAL may stand \
                 at file level",
            ),
        };
        let mut depth = 0usize;
        let mut end = index;
        while end < self.tokens.len() {
            let kind = self.kind(end);
            if kind == opening {
                depth += 1;
            } else if kind == closing {
                depth -= 1;
                if depth == 0 {
                    break;
                }
            }
            end += 1;
        }
        let end = (end + 1).min(self.tokens.len());
        self.not_in_subset(index, end, message, note);
        end
    }

    /// `;` behind `END_VAR`, `END_TYPE`, `END_FUNCTION` and the like.
    pub(super) fn semicolon_after_end(&mut self, index: usize) -> usize {
        let span = self.span(index);
        let word = self.text(index - 1);
        self.report(
            Diagnostic::error("semicolon-after-end", span, format!("no `;` stands after `{word}`"))
                .label("not allowed here")
                .fix("remove `;`", span, ""),
        );
        let mut next = index + 1;
        while self.kind(next) == TokenKind::Semicolon {
            next += 1;
        }
        next
    }

    /// Text that belongs to no unit, up to where one begins.
    fn outside_unit(&mut self, index: usize) -> usize {
        let kind = self.kind(index);
        let word = self.found(index);
        let mut end = index;
        while end < self.tokens.len() {
            let opens = cut::opens_unit(self.tokens, end);
            let opens_globals = self.kind(end) == TokenKind::VarGlobal && end > index;
            if end > index && (opens || opens_globals) {
                break;
            }
            end += 1;
            if cut::closes_unit(self.kind(end - 1)) || self.kind(end - 1) == TokenKind::EndType {
                break;
            }
        }
        if self.text(index).to_ascii_uppercase().starts_with("END_") && kind.is_keyword() {
            self.report(
                Diagnostic::error("unmatched-end", self.span(index), format!("{word} closes nothing"))
                    .label("nothing is open here"),
            );
            return index + 1;
        }
        self.report(
            Diagnostic::error("outside-unit", self.span(index), format!("{word} stands outside of any unit"))
                .label("expected `PROGRAM`, `FUNCTION_BLOCK`, `FUNCTION`, `TYPE` or `VAR_GLOBAL`")
                .note("variables and statements stand inside a unit such as `PROGRAM name … END_PROGRAM`"),
        );
        end
    }

    /// `PROGRAM`, `FUNCTION` or `FUNCTION_BLOCK` with everything up to its end.
    fn unit(&mut self, start: usize, declarations: &mut Vec<Declaration>) -> usize {
        self.damaged = false;
        self.late_sections.clear();
        let (end, next) = self.unit_end(start);
        let (heading, index) = self.unit_heading(start, end);
        let (mut sections, body_start) = self.sections(index, end);
        let body = self.body(body_start, end);
        sections.append(&mut self.late_sections);
        if let Some((kind, name, result)) = heading {
            let span = self.span_of(start, next);
            let damaged = self.damaged;
            declarations.push(Declaration::Unit(Box::new(ProgramUnit {
                kind,
                name,
                result,
                modifiers: Vec::new(),
                access: None,
                using: Vec::new(),
                extends: None,
                implements: Vec::new(),
                access_paths: Vec::new(),
                methods: Vec::new(),
                sections,
                body,
                damaged,
                span,
            })));
        }
        next
    }

    /// Where the content of a unit ends, and where to go on behind it. Reports an end that is missing.
    fn unit_end(&mut self, start: usize) -> (usize, usize) {
        use TokenKind as T;
        let opening = self.kind(start);
        let (wanted, word) = match opening {
            T::Program => (T::EndProgram, "END_PROGRAM"),
            T::Function => (T::EndFunction, "END_FUNCTION"),
            _ => (T::EndFunctionBlock, "END_FUNCTION_BLOCK"),
        };
        let opening_word = self.text(start).to_ascii_uppercase();
        let mut end = start + 1;
        while end < self.tokens.len() {
            let kind = self.kind(end);
            if kind == wanted {
                return (end, end + 1);
            }
            if cut::closes_unit(kind) {
                let written = self.text(end).to_ascii_uppercase();
                let span = self.span(end);
                self.report(
                    Diagnostic::error(
                        "unclosed-block",
                        span,
                        format!("`{opening_word}` is closed by `{word}`, not by `{written}`"),
                    )
                    .label(format!("expected `{word}`"))
                    .also(self.span(start), "the unit begins here")
                    .fix(format!("write `{word}`"), span, word),
                );
                return (end, end + 1);
            }
            if cut::opens_unit(self.tokens, end) {
                break;
            }
            end += 1;
        }
        if self.unread_from.is_none() || end < self.tokens.len() {
            let before = self.found(end);
            let place = self.behind_previous(end);
            let mut problem = Diagnostic::error(
                "unclosed-block",
                self.span(start),
                format!("this `{opening_word}` is never closed by `{word}`"),
            )
            .label(format!("no `{word}` belongs to this"))
            .also(place, format!("expected `{word}` before {before}"));
            if end >= self.tokens.len() {
                problem = problem.fix(format!("add `{word}`"), place, format!("\n{word}"));
            }
            self.report(problem);
        }
        (end, end)
    }

    /// The heading, and where the sections begin.
    #[allow(clippy::type_complexity, reason = "the three parts of a heading")]
    fn unit_heading(
        &mut self,
        start: usize,
        end: usize,
    ) -> (Option<(UnitKind, crate::tree::Ident, Option<crate::tree::TypeSpecification>)>, usize) {
        use TokenKind as T;
        let mut first = start;
        if matches!(self.kind(start + 1), T::Final | T::Abstract) && !self.first_on_line(start + 1) {
            self.not_in_subset(
                start + 1,
                start + 2,
                "`FINAL` and `ABSTRACT` are not supported",
                "leave the word out",
            );
            // The word takes the place of the keyword in the piece; see below.
            first = start + 1;
        }
        let mut index = first + 1;
        let is_name = self.kind(index) == T::Identifier
            || self.kind(index).is_keyword()
                && !cut::opens_section(self.kind(index))
                && !self.first_on_line(index);
        if index < end && is_name {
            index += 1;
        } else {
            let place = self.behind_previous(index);
            let word = self.text(start).to_ascii_uppercase();
            self.report(
                Diagnostic::error("missing-name", place, format!("expected a name after `{word}`"))
                    .label("expected a name here"),
            );
            self.damaged = true;
            return (None, index);
        }
        if self.kind(index) == T::Colon && index < end {
            let colon = index;
            index += 1;
            match self.kind(index) {
                T::Identifier | T::ElementaryType | T::String | T::Wstring | T::GenericType
                    if index < end =>
                {
                    index += 1;
                    if matches!(self.kind(index), T::BracketOpen | T::ParenthesisOpen)
                        && !self.first_on_line(index)
                    {
                        index = self.matching_bracket(index, end).map_or(index, |close| close + 1);
                    }
                }
                _ => {
                    while index < end && !self.first_on_line(index) && !cut::opens_section(self.kind(index)) {
                        index += 1;
                    }
                }
            }
            if self.kind(start) != T::Function {
                let word = self.text(start).to_ascii_uppercase();
                let span = self.span_of(colon, index);
                self.report(
                    Diagnostic::error("unexpected-token", span, format!("a `{word}` has no result type"))
                        .label("only a FUNCTION has one")
                        .fix("remove this", span, ""),
                );
                let heading = self.heading_piece(start, first, colon);
                return (heading, index);
            }
        }
        let heading = self.heading_piece(start, first, index);
        while index < end && matches!(self.kind(index), T::Extends | T::Implements | T::Using) {
            let from = index;
            index += 1;
            while index < end && matches!(self.kind(index), T::Identifier | T::Comma | T::Dot) {
                index += 1;
            }
            let word = self.text(from).to_ascii_uppercase();
            self.not_in_subset(from, index, &format!("`{word}` is not supported"), "leave the clause out");
            if self.kind(from) == T::Using && self.kind(index) == T::Semicolon {
                index += 1;
            }
        }
        if self.kind(index) == T::Semicolon && index < end {
            index = self.semicolon_after_heading(index, end);
        }
        (heading, index)
    }

    /// A `;` behind the heading: an error before a section, an empty statement before a body.
    fn semicolon_after_heading(&mut self, index: usize, end: usize) -> usize {
        let span = self.span(index);
        if index + 1 < end && cut::opens_section(self.kind(index + 1)) {
            self.report(
                Diagnostic::error("semicolon-after-end", span, "no `;` stands after the heading of a unit")
                    .label("not allowed here")
                    .fix("remove `;`", span, ""),
            );
            return index + 1;
        }
        if self.first_on_line(index) {
            return index;
        }
        self.report(
            Diagnostic::warning("empty-statement", span, "this `;` after the heading is an empty statement")
                .label("not needed")
                .fix("remove `;`", span, ""),
        );
        index + 1
    }

    #[allow(clippy::type_complexity, reason = "the three parts of a heading")]
    fn heading_piece(
        &mut self,
        start: usize,
        first: usize,
        end: usize,
    ) -> Option<(UnitKind, crate::tree::Ident, Option<crate::tree::TypeSpecification>)> {
        let piece = if first == start {
            self.piece(PieceKind::Unit, start, Cut { end, terminated: true }).0
        } else {
            // A word was skipped behind the keyword.
            let mut tokens = vec![self.token(start)];
            tokens.extend_from_slice(self.slice(first + 1, end));
            self.pieces.tokens(self.context, PieceKind::Unit, &tokens, None).ok()
        };
        match piece.map(|piece| *piece) {
            Some(Piece::Unit { kind, name, result }) => Some((kind, name, result)),
            _ => {
                self.damaged = true;
                None
            }
        }
    }

    /// The body between the sections and the end of the unit.
    fn body(&mut self, start: usize, end: usize) -> Body {
        use super::language::Language;
        match self.language(start, end) {
            Language::Nothing => Body::Empty,
            Language::StructuredText => Body::StructuredText(self.body_statements(start, end)),
            Language::InstructionList => Body::InstructionList(self.body_instructions(start, end)),
            Language::SequentialFunctionChart => {
                self.sequential_function_chart(start, end);
                Body::Empty
            }
        }
    }

    /// Reports a network of steps once, and gives it up.
    pub(super) fn sequential_function_chart(&mut self, start: usize, end: usize) {
        self.damaged = true;
        if self.said.insert(Said::SequentialFunctionChart) {
            self.not_in_subset(
                start,
                end,
                "the textual form of sequential function charts is not supported",
                "a sequence can be written in Structured Text as a CASE over the number of the step",
            );
        }
    }
}

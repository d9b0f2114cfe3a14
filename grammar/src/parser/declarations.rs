//! Variable sections and type sections (6.4.4, 6.5, tables 11 to 16), cut into declarations.

use super::{
    Parser,
    cut::{self, Cut},
};
use crate::{
    diagnostic::Diagnostic,
    direct::Reader,
    lexer::TokenKind,
    piece::{Piece, PieceKind},
    source::Span,
    tree::{
        AccessSection, InstanceSection, Qualifier, SectionKind, TypeDeclaration, TypeSection,
        TypeSpecification, TypeSpecificationKind, VariableDeclaration, VariableSection,
    },
};

/// A `VAR…` section of any kind.
pub(super) enum Section {
    Variables(VariableSection),
    /// `VAR_ACCESS`
    Access(AccessSection),
    /// `VAR_CONFIG`
    Instances(InstanceSection),
    /// Its heading could not be read.
    Missing,
}

impl Parser<'_> {
    /// A section of variables of its own; others are reported and read for their own errors.
    pub(super) fn variable_section(
        &mut self,
        start: usize,
        limit: usize,
    ) -> (Option<VariableSection>, usize) {
        if matches!(self.kind(start), TokenKind::VarAccess | TokenKind::VarConfig) {
            self.report_section_of_configuration(start);
        }
        match self.section(start, limit) {
            (Section::Variables(section), next) => (Some(section), next),
            (_, next) => (None, next),
        }
    }

    /// Reports a `VAR_ACCESS` or `VAR_CONFIG` section in a unit that has none.
    fn report_section_of_configuration(&mut self, start: usize) {
        let word = self.text(start).to_ascii_uppercase();
        self.damaged = true;
        self.report(
            Diagnostic::error(
                "misplaced-section",
                self.span(start),
                format!("a `{word}` section cannot stand here"),
            )
            .label("it belongs to a configuration")
            .note(if self.kind(start) == TokenKind::VarAccess {
                "access paths stand in a `CONFIGURATION` or in front of the body of a `PROGRAM`"
            } else {
                "places and values of instances are given between `CONFIGURATION` and `END_CONFIGURATION`"
            }),
        );
    }

    /// One `VAR…` section of any kind.
    pub(super) fn section(&mut self, start: usize, limit: usize) -> (Section, usize) {
        let mut heading_end = start + 1;
        while heading_end < limit && is_qualifier(self.kind(heading_end)) && !self.used_as_name(heading_end) {
            heading_end += 1;
        }
        let (close, closed) = self.section_end(start, heading_end, limit);
        let next = if closed { close + 1 } else { close };
        if !closed && !self.is_behind_unread(close) {
            let word = self.text(start).to_ascii_uppercase();
            let before = self.found(close);
            self.report(
                Diagnostic::error(
                    "unclosed-block",
                    self.span(start),
                    format!("this `{word}` is never closed by `END_VAR`"),
                )
                .label("no `END_VAR` belongs to this")
                .also(self.behind_previous(close), format!("expected `END_VAR` before {before}")),
            );
        }
        let keyword = self.span(start);
        let span = self.span_of(start, next);
        let section = match self.kind(start) {
            TokenKind::VarAccess => {
                self.report_qualifiers(start, heading_end);
                Section::Access(AccessSection { variables: self.access_paths(heading_end, close), span })
            }
            TokenKind::VarConfig => {
                self.report_qualifiers(start, heading_end);
                Section::Instances(InstanceSection { variables: self.settings(heading_end, close), span })
            }
            _ => {
                let heading = self.section_heading(start, heading_end);
                let variables = self.variables(heading_end, close, false);
                match heading {
                    Some((kind, qualifiers)) => {
                        Section::Variables(VariableSection { kind, qualifiers, variables, keyword, span })
                    }
                    None => Section::Missing,
                }
            }
        };
        (section, next)
    }

    /// The keyword of a section and the words behind it.
    fn section_heading(&mut self, start: usize, end: usize) -> Option<(SectionKind, Vec<(Qualifier, Span)>)> {
        if let Some((heading, _)) = self.directly(start, end, Reader::section) {
            return Some(heading);
        }
        let heading = self.piece(PieceKind::Section, start, Cut { end, terminated: true }).0;
        match heading.map(|piece| *piece) {
            Some(Piece::Section { kind, qualifiers }) => Some((kind, qualifiers)),
            _ => None,
        }
    }

    /// Reports `CONSTANT` and the like where a section has none.
    fn report_qualifiers(&mut self, start: usize, heading_end: usize) {
        if heading_end > start + 1 {
            let word = self.text(start).to_ascii_uppercase();
            let span = self.span_of(start + 1, heading_end);
            self.report(
                Diagnostic::error("unexpected-token", span, format!("a `{word}` section has no qualifier"))
                    .label("not allowed here")
                    .fix("remove this", span, ""),
            );
        }
    }

    /// Where the declarations of a section end, and whether `END_VAR` stands there.
    fn section_end(&self, start: usize, heading_end: usize, limit: usize) -> (usize, bool) {
        use TokenKind as T;
        let mut stop = start + 1;
        loop {
            stop = cut::find_kind(self.tokens, stop, TokenKind::is_keyword).min(limit);
            if stop >= limit {
                break;
            }
            let kind = self.kind(stop);
            if kind == T::EndVar {
                return (stop, true);
            }
            let statement = self.first_on_line(stop)
                && (cut::opens_block(kind)
                    || cut::closes_block(kind)
                    || matches!(kind, T::Return | T::Exit | T::Continue));
            let other = cut::opens_section(kind) || kind == T::EndType || cut::is_boundary(self.tokens, stop);
            if (statement || other) && !self.used_as_name(stop) {
                break;
            }
            stop += 1;
        }
        // No `END_VAR`: the section goes as far as the text looks like declarations.
        let mut index = heading_end;
        let is_config = self.kind(start) == T::VarConfig;
        while index < stop && self.looks_like_declaration(index, is_config) {
            index = self.cut_variable(index, stop).end;
        }
        (index, false)
    }

    fn looks_like_declaration(&self, index: usize, is_config: bool) -> bool {
        use TokenKind as T;
        match self.kind(index) {
            T::At => true,
            T::Identifier => {
                // A path such as `Station.Main.Valve` begins a line of `VAR_CONFIG`.
                let goes_on = matches!(self.kind(index + 1), T::Colon | T::Comma | T::At);
                goes_on || is_config && self.kind(index + 1) == T::Dot
            }
            kind => kind.is_keyword() && matches!(self.kind(index + 1), T::Colon | T::Comma | T::At),
        }
    }

    /// The end of a variable declaration; a structure inside it belongs to it.
    fn cut_variable(&self, start: usize, limit: usize) -> Cut {
        let plain = self.cut_declaration(start, limit);
        let Some(opening) = (start..plain.end)
            .find(|index| self.kind(*index) == TokenKind::Struct && !self.used_as_name(*index))
        else {
            return plain;
        };
        for index in opening + 1..limit {
            match self.kind(index) {
                TokenKind::EndStruct => return self.cut_declaration(index, limit),
                // A second structure: the first has no end.
                TokenKind::Struct => break,
                _ => {}
            }
        }
        plain
    }

    /// The declarations between two places of a section or structure.
    fn variables(&mut self, start: usize, end: usize, in_structure: bool) -> Vec<VariableDeclaration> {
        let mut variables = Vec::new();
        let mut index = start;
        while index < end {
            if self.kind(index) == TokenKind::Semicolon {
                index = self.stray_semicolon(index);
                continue;
            }
            if let Some((variable, next)) = self.directly(index, end, Reader::variable) {
                variables.push(variable);
                index = next;
                continue;
            }
            let cut = self.cut_variable(index, end);
            if let Some(place) = (index..cut.end).find(|place| self.kind(*place) == TokenKind::Struct)
                && !self.used_as_name(place)
            {
                self.anonymous_structure(place, cut.end);
                index = cut.end;
                continue;
            }
            let (piece, next) = self.piece(PieceKind::Variable, index, cut);
            if let Some(Piece::Variable(mut variable)) = piece.map(|piece| *piece) {
                if let (false, Some(relative)) = (in_structure, &variable.relative) {
                    self.report_relative(relative.span);
                    variable.relative = None;
                }
                variables.push(variable);
            }
            index = next;
        }
        variables.shrink_to_fit();
        variables
    }

    /// The place of a member outside of a structure, or an address that lacks its area.
    fn report_relative(&mut self, span: Span) {
        let text = self.text_of(span).to_owned();
        self.report(
            Diagnostic::error("malformed-address", span, format!("the address `{text}` has no area"))
                .label("expected `I`, `Q` or `M` behind `%`")
                .note("only a member of a structure has a place without an area, counted from its start"),
        );
    }

    pub(super) fn stray_semicolon(&mut self, index: usize) -> usize {
        let span = self.span(index);
        self.report(
            Diagnostic::error("unexpected-token", span, "expected a declaration, found `;`")
                .label("a `;` too many")
                .fix("remove `;`", span, ""),
        );
        index + 1
    }

    fn anonymous_structure(&mut self, place: usize, end: usize) {
        let close = (place..end).rev().find(|index| self.kind(*index) == TokenKind::EndStruct);
        let span = self.span_of(place, close.map_or(place + 1, |close| close + 1));
        self.damaged = true;
        self.report(
            Diagnostic::error("anonymous-structure", span, "a structure needs a name of its own")
                .label("a structure without a name")
                .note("declare it between `TYPE` and `END_TYPE`, and use its name here"),
        );
    }

    /// `TYPE … END_TYPE`, and where to go on.
    pub(super) fn type_section(&mut self, start: usize) -> (TypeSection, usize) {
        use TokenKind as T;
        let mut close = start + 1;
        let closed = loop {
            if close >= self.tokens.len() {
                break false;
            }
            let kind = self.kind(close);
            if kind == T::EndType {
                break true;
            }
            let other = cut::opens_unit(self.tokens, close)
                || (cut::opens_section(kind) || cut::closes_unit(kind)) && !self.used_as_name(close);
            if other {
                break false;
            }
            close += 1;
        };
        if !closed && !self.is_behind_unread(close) {
            let before = self.found(close);
            self.report(
                Diagnostic::error(
                    "unclosed-block",
                    self.span(start),
                    "this `TYPE` is never closed by `END_TYPE`",
                )
                .label("no `END_TYPE` belongs to this")
                .also(self.behind_previous(close), format!("expected `END_TYPE` before {before}")),
            );
        }
        let next = if closed { close + 1 } else { close };
        let mut types = Vec::new();
        let structures_are_closed = self.structures_are_closed(start + 1, close);
        let mut index = start + 1;
        while index < close {
            if self.kind(index) == T::Semicolon {
                index = self.stray_semicolon(index);
            } else if self.kind(index + 2) == T::Struct && index + 2 < close {
                index = self.structure(index, close, structures_are_closed, &mut types);
            } else {
                let cut = self.cut_declaration(index, close);
                let (piece, after) = self.piece(PieceKind::Type, index, cut);
                if let Some(Piece::Type(declaration)) = piece.map(|piece| *piece) {
                    types.push(declaration);
                }
                index = after;
            }
        }
        (TypeSection { types, span: self.span_of(start, next) }, next)
    }

    /// `name : STRUCT … END_STRUCT;`
    fn structure(
        &mut self,
        start: usize,
        limit: usize,
        all_closed: bool,
        types: &mut Vec<TypeDeclaration>,
    ) -> usize {
        use TokenKind as T;
        let mut index = start + 3;
        if self.kind(index) == T::Overlap && !self.used_as_name(index) {
            index += 1;
        }
        let (head, _) = self.piece(PieceKind::StructureHead, start, Cut { end: index, terminated: true });
        let (close, closed) = self.structure_end(index, limit, all_closed);
        if !closed && !self.is_behind_unread(close) {
            let before = self.found(close);
            self.report(
                Diagnostic::error(
                    "unclosed-block",
                    self.span(start + 2),
                    "this `STRUCT` is never closed by `END_STRUCT`",
                )
                .label("no `END_STRUCT` belongs to this")
                .also(self.behind_previous(close), format!("expected `END_STRUCT` before {before}")),
            );
        }
        let members = self.variables(index, close, true);
        let mut end = close;
        let mut initial = None;
        let mut next = close;
        if closed {
            let cut = self.cut_declaration(close, limit);
            let (tail, after) = self.piece(PieceKind::StructureTail, close, cut);
            if let Some(Piece::Initial(value)) = tail.map(|piece| *piece) {
                initial = value;
            }
            next = after;
            end = close + 1;
        }
        if let Some(Piece::StructureHead { name, overlap }) = head.map(|piece| *piece) {
            let kind = TypeSpecificationKind::Structure { overlap, members };
            let specification = TypeSpecification { kind, span: self.span_of(start + 2, end) };
            // Without the semicolon.
            let last = if self.kind(next.saturating_sub(1)) == T::Semicolon { next - 1 } else { next };
            types.push(TypeDeclaration { name, specification, initial, span: self.span_of(start, last) });
        }
        next
    }

    /// Whether every `STRUCT` between two places has its `END_STRUCT`.
    fn structures_are_closed(&self, start: usize, end: usize) -> bool {
        let mut depth = 0usize;
        for index in start..end {
            match self.kind(index) {
                TokenKind::Struct if !self.used_as_name(index) => depth += 1,
                TokenKind::EndStruct if depth == 0 => return false,
                TokenKind::EndStruct => depth -= 1,
                _ => {}
            }
        }
        depth == 0
    }

    /// Index of the `END_STRUCT` of a structure whose members begin at `start`, or where it is missing.
    fn structure_end(&self, start: usize, limit: usize, closed: bool) -> (usize, bool) {
        use TokenKind as T;
        let mut depth = 0usize;
        for index in start..limit {
            match self.kind(index) {
                T::Struct if !self.used_as_name(index) => {
                    if !closed && index >= start + 2 {
                        // `name : STRUCT` begins the next type.
                        return (index - 2, false);
                    }
                    depth += 1;
                }
                T::EndStruct if depth == 0 => return (index, true),
                T::EndStruct => depth -= 1,
                _ => {}
            }
        }
        (limit, false)
    }
}

fn is_qualifier(kind: TokenKind) -> bool {
    use TokenKind as T;
    matches!(
        kind,
        T::Constant | T::Retain | T::NonRetain | T::Public | T::Private | T::Protected | T::Internal
    )
}
